//! Profiles and bands from TOML, each number with the digits that were written.
//!
//! Read from the parsed document itself: a float of it still has its text, so
//! 1.25 never becomes the nearest binary number. Each mistake has its line and
//! column; what holds one is left out and the rest is read.

use core::ops::Range;

use ::toml::Spanned;
use ::toml::de::{DeTable, DeValue};

use super::{Bands, MinimumLine, Profile, RatioKind, VoltageLine, check};
use crate::quantity::Decimal;
use crate::text::{Text, instead};

/// The file that comes with the program.
const EMBEDDED: &str = include_str!("../profiles.toml");

/// What a file of profiles holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Read {
    /// The profiles without a mistake.
    pub profiles: Vec<Profile>,
    /// The bands without a mistake.
    pub bands: Vec<Bands>,
    /// The mistakes, in the order of the file.
    pub wrong: Vec<Wrong>,
}

/// A mistake and its place.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Wrong {
    /// From 1.
    pub line: usize,
    /// In characters, from 1.
    pub column: usize,
    /// What was expected, what was found, what to write.
    pub message: String,
}

/// Reads a shop's own file. A name that is shipped may not be used again.
pub fn read(text: &str) -> Read {
    document(text, &embedded())
}

/// What comes with the program.
pub(super) fn embedded() -> Read {
    document(EMBEDDED, &Read::default())
}

fn document(text: &str, shipped: &Read) -> Read {
    let mut desk = Desk {
        text,
        wrong: Vec::new(),
    };
    let document = match DeTable::parse(text) {
        Ok(document) => document,
        Err(e) => {
            desk.wrong(&e.span().unwrap_or(0..0), e.message());
            return Read {
                wrong: desk.wrong,
                ..Read::default()
            };
        }
    };
    let table = document.get_ref();
    desk.known(table, &["profile", "bands"]);
    let mut read = Read::default();
    for (at, table) in desk.tables(table, "profile") {
        let before = desk.wrong.len();
        let profile = desk.profile(&at, table);
        if let Some(profile) = profile.filter(|_| desk.wrong.len() == before) {
            let old = |all: &[Profile]| all.iter().any(|p| p.name == profile.name);
            let place = desk.place_of(table, "name", &at);
            if desk.is_new(
                &place,
                &profile.name,
                old(&shipped.profiles),
                old(&read.profiles),
            ) {
                read.profiles.push(profile);
            }
        }
    }
    for (at, table) in desk.tables(table, "bands") {
        let before = desk.wrong.len();
        let bands = desk.bands(&at, table);
        if let Some(bands) = bands.filter(|_| desk.wrong.len() == before) {
            let old = |all: &[Bands]| all.iter().any(|b| b.name == bands.name);
            let place = desk.place_of(table, "name", &at);
            if desk.is_new(&place, &bands.name, old(&shipped.bands), old(&read.bands)) {
                read.bands.push(bands);
            }
        }
    }
    desk.wrong.sort();
    read.wrong = desk.wrong;
    read
}

struct Desk<'a> {
    text: &'a str,
    wrong: Vec<Wrong>,
}

impl Desk<'_> {
    fn wrong(&mut self, at: &Range<usize>, message: impl Into<String>) {
        let before = self.text.get(..at.start).unwrap_or(self.text);
        let start = before.rfind('\n').map_or(0, |end| end + 1);
        self.wrong.push(Wrong {
            line: before.matches('\n').count() + 1,
            column: before[start..].chars().count() + 1,
            message: message.into(),
        });
    }

    fn is_new(&mut self, at: &Range<usize>, name: &Text, shipped: bool, twice: bool) -> bool {
        if shipped {
            self.wrong(
                at,
                format!(
                    "{:?} comes with the program and may not be written anew; choose another name",
                    name.as_str()
                ),
            );
        } else if twice {
            self.wrong(at, format!("{:?} is already in this file: which of the two holds cannot be told; delete one", name.as_str()));
        }
        !shipped && !twice
    }

    fn profile(&mut self, at: &Range<usize>, table: &DeTable<'_>) -> Option<Profile> {
        let before = self.wrong.len();
        self.known(
            table,
            &[
                "name",
                "source",
                "mark_s",
                "correct_to_c",
                "minimum",
                "test_voltage",
            ],
        );
        let name = self.need(
            at,
            table,
            "name",
            "write a short name such as \"east-ponds\"",
        );
        let source = self.need(at, table, "source", SOURCE);
        let profile = Profile {
            mark_s: self.whole(table, "mark_s"),
            correct_to_c: self.whole(table, "correct_to_c"),
            minimum: self
                .tables(table, "minimum")
                .into_iter()
                .filter_map(|(at, line)| self.minimum(&at, line))
                .collect(),
            test_voltage: self
                .tables(table, "test_voltage")
                .into_iter()
                .filter_map(|(at, line)| self.voltage(&at, line))
                .collect(),
            name: name?,
            source: source?,
        };
        // What follows from a mistake that was said is not said again.
        if self.wrong.len() == before
            && let Err((key, message)) = check::profile(&profile)
        {
            let place = self.place_of(table, key, at);
            self.wrong(&place, message);
        }
        Some(profile)
    }

    fn minimum(&mut self, at: &Range<usize>, table: &DeTable<'_>) -> Option<MinimumLine> {
        let before = self.wrong.len();
        self.known(
            table,
            &[
                "condition",
                "below_v",
                "up_to_v",
                "megohm",
                "megohm_per_kv",
                "at_least_megohm",
            ],
        );
        let line = MinimumLine {
            condition: self.words(table, "condition"),
            below_v: self.number(table, "below_v"),
            up_to_v: self.number(table, "up_to_v"),
            megohm: self.number(table, "megohm").unwrap_or_default(),
            megohm_per_kv: self.number(table, "megohm_per_kv").unwrap_or_default(),
            at_least_megohm: self.number(table, "at_least_megohm").unwrap_or_default(),
        };
        if self.wrong.len() > before {
            return None;
        }
        if let Err((key, message)) = check::minimum(&line) {
            let place = self.place_of(table, key, at);
            self.wrong(&place, message);
            return None;
        }
        Some(line)
    }

    fn voltage(&mut self, at: &Range<usize>, table: &DeTable<'_>) -> Option<VoltageLine> {
        let before = self.wrong.len();
        self.known(table, &["below_v", "up_to_v", "low_v", "high_v", "times"]);
        let line = VoltageLine {
            below_v: self.number(table, "below_v"),
            up_to_v: self.number(table, "up_to_v"),
            low_v: self.number(table, "low_v"),
            high_v: self.number(table, "high_v"),
            times: self.number(table, "times"),
        };
        if self.wrong.len() > before {
            return None;
        }
        if let Err((key, message)) = check::voltage(&line) {
            let place = self.place_of(table, key, at);
            self.wrong(&place, message);
            return None;
        }
        Some(line)
    }

    fn bands(&mut self, at: &Range<usize>, table: &DeTable<'_>) -> Option<Bands> {
        let before = self.wrong.len();
        self.known(table, &["name", "kind", "source", "bounds", "minimum"]);
        let name = self.need(
            at,
            table,
            "name",
            "write a short name such as \"east-ponds\"",
        );
        let source = self.need(at, table, "source", SOURCE);
        let kind = self.need(at, table, "kind", "write \"pi\" or \"dar\"");
        let kind = kind.and_then(|word| {
            let found = RatioKind::from_word(word.as_str());
            if found.is_none() {
                let instead = instead(word.as_str(), RatioKind::ALL.iter().map(|k| k.word()));
                let place = self.place_of(table, "kind", at);
                self.wrong(
                    &place,
                    format!("kind: {:?} is unknown; {instead}", word.as_str()),
                );
            }
            found
        });
        let bands = Bands {
            bounds: self.numbers(table, "bounds"),
            minimum: self.number(table, "minimum"),
            name: name?,
            source: source?,
            kind: kind?,
        };
        if self.wrong.len() == before
            && let Err((key, message)) = check::bands(&bands)
        {
            let place = self.place_of(table, key, at);
            self.wrong(&place, message);
        }
        Some(bands)
    }

    /// Names the keys that mean nothing here.
    fn known(&mut self, table: &DeTable<'_>, known: &[&str]) {
        for (key, _) in table {
            let name: &str = key.get_ref();
            if !known.contains(&name) {
                let instead = instead(name, known.iter().copied());
                self.wrong(&key.span(), format!("unknown key {name:?}; {instead}"));
            }
        }
    }

    fn place_of(&self, table: &DeTable<'_>, key: &str, whole: &Range<usize>) -> Range<usize> {
        get(table, key).map_or_else(|| whole.clone(), Spanned::span)
    }

    fn need(
        &mut self,
        at: &Range<usize>,
        table: &DeTable<'_>,
        key: &str,
        write: &str,
    ) -> Option<Text> {
        let before = self.wrong.len();
        let words = self.words(table, key);
        if words.is_none() && self.wrong.len() == before {
            let place = self.place_of(table, key, at);
            self.wrong(&place, format!("{key} is missing: {write}"));
        }
        words
    }

    /// Checked words; empty ones are none.
    fn words(&mut self, table: &DeTable<'_>, key: &str) -> Option<Text> {
        let value = get(table, key)?;
        let DeValue::String(words) = value.get_ref() else {
            self.wrong(
                &value.span(),
                format!("{key}: expected words in quotes, found {}", kind(value)),
            );
            return None;
        };
        match Text::new(words.trim()) {
            Ok(text) => Some(text).filter(|t| !t.as_str().is_empty()),
            Err(e) => {
                self.wrong(&value.span(), format!("{key}: {e}"));
                None
            }
        }
    }

    fn number(&mut self, table: &DeTable<'_>, key: &str) -> Option<Decimal> {
        let value = get(table, key)?;
        self.decimal(value, key)
    }

    fn numbers(&mut self, table: &DeTable<'_>, key: &str) -> Vec<Decimal> {
        match get(table, key).map(|value| (value.get_ref(), value)) {
            None => Vec::new(),
            Some((DeValue::Array(all), _)) => all
                .iter()
                .filter_map(|one| self.decimal(one, key))
                .collect(),
            Some((_, value)) => {
                self.wrong(
                    &value.span(),
                    format!(
                        "{key}: expected numbers such as [1, 2, 4], found {}",
                        kind(value)
                    ),
                );
                Vec::new()
            }
        }
    }

    /// A number with the digits as written, bare or in quotes.
    fn decimal(&mut self, value: &Spanned<DeValue<'_>>, key: &str) -> Option<Decimal> {
        let digits = match value.get_ref() {
            DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str(),
            DeValue::Float(float) => float.as_str(),
            DeValue::String(words) => words.as_ref(),
            _ => {
                self.wrong(
                    &value.span(),
                    format!("{key}: expected a number, found {}", kind(value)),
                );
                return None;
            }
        };
        let number = digits.parse();
        number
            .map_err(|e| self.wrong(&value.span(), format!("{key}: {e}, found {digits:?}")))
            .ok()
    }

    fn whole(&mut self, table: &DeTable<'_>, key: &str) -> Option<u32> {
        let value = get(table, key)?;
        let number = match value.get_ref() {
            DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str().parse().ok(),
            _ => None,
        };
        if number.is_none() {
            self.wrong(
                &value.span(),
                format!(
                    "{key}: expected a whole number such as 60, found {}",
                    kind(value)
                ),
            );
        }
        number
    }

    /// The tables of an array, each with its place.
    fn tables<'t, 'd>(
        &mut self,
        table: &'t DeTable<'d>,
        key: &str,
    ) -> Vec<(Range<usize>, &'t DeTable<'d>)> {
        let Some(value) = get(table, key) else {
            return Vec::new();
        };
        let all = match value.get_ref() {
            DeValue::Array(all) => &all[..],
            _ => core::slice::from_ref(value),
        };
        let mut tables = Vec::new();
        for one in all {
            match one.get_ref() {
                DeValue::Table(table) => tables.push((one.span(), table)),
                _ => self.wrong(
                    &one.span(),
                    format!("{key}: expected {{ key = value }}, found {}", kind(one)),
                ),
            }
        }
        tables
    }
}

const SOURCE: &str = "write the standard with its clause, or \"common practice\"; a limit that nobody can trace is not printed";

fn get<'t, 'd>(table: &'t DeTable<'d>, key: &str) -> Option<&'t Spanned<DeValue<'d>>> {
    table
        .iter()
        .find(|(k, _)| k.get_ref() == key)
        .map(|(_, v)| v)
}

fn kind(value: &Spanned<DeValue<'_>>) -> &'static str {
    match value.get_ref() {
        DeValue::String(_) => "words",
        DeValue::Integer(_) | DeValue::Float(_) => "a number of another kind",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
