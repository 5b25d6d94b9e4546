//! Fields of a JSON object, each looked at once; what is missing, wrong or
//! unknown is gathered.

use serde::Serialize;
use serde_json::{Map, Value};

use super::Wrong;
use crate::quantity::{Decimal, DecimalError};
use crate::text::{Text, instead};

/// A field that is there and wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Field {
    /// Its name.
    pub field: String,
    /// What was expected, what was found.
    pub message: String,
}

pub(super) struct Fields<'a> {
    said: &'a Map<String, Value>,
    known: Vec<&'static str>,
    missing: Vec<String>,
    wrong: Vec<Field>,
    prefix: String,
}

impl<'a> Fields<'a> {
    pub(super) fn new(said: &'a Map<String, Value>) -> Self {
        Self {
            said,
            known: Vec::new(),
            missing: Vec::new(),
            wrong: Vec::new(),
            prefix: String::new(),
        }
    }

    /// The fields of an object inside: named with what it is in.
    pub(super) fn inside(said: &'a Map<String, Value>, prefix: impl Into<String>) -> Self {
        let mut fields = Self::new(said);
        fields.prefix = prefix.into();
        fields
    }

    /// Takes over what another one gathered.
    pub(super) fn join(&mut self, mut other: Fields<'_>) {
        other.unknown();
        self.missing.append(&mut other.missing);
        self.wrong.append(&mut other.wrong);
    }

    /// Whether anything is said there.
    pub(super) fn there(&self, key: &str) -> bool {
        self.said.get(key).is_some_and(|value| !value.is_null())
    }

    /// A field's value; null is as good as absent.
    pub(super) fn get(&mut self, key: &'static str) -> Option<&'a Value> {
        self.known.push(key);
        self.said.get(key).filter(|value| !value.is_null())
    }

    pub(super) fn miss(&mut self, key: &str) {
        self.missing.push(format!("{}{key}", self.prefix));
    }

    pub(super) fn wrong(&mut self, key: &str, message: impl Into<String>) {
        self.wrong.push(Field {
            field: format!("{}{key}", self.prefix),
            message: message.into(),
        });
    }

    /// Reads a field that is needed.
    pub(super) fn need<T>(
        &mut self,
        key: &'static str,
        read: impl FnOnce(&mut Self, &'static str) -> Option<T>,
    ) -> Option<T> {
        let there = self
            .said
            .get(key)
            .is_some_and(|value| !value.is_null() && *value != "");
        if !there {
            self.known.push(key);
            self.miss(key);
            return None;
        }
        read(self, key)
    }

    /// Any text, unchecked.
    pub(super) fn words(&mut self, key: &'static str) -> Option<String> {
        match self.get(key)? {
            Value::String(words) => Some(words.clone()),
            other => {
                self.wrong(key, format!("expected text, found {other}"));
                None
            }
        }
    }

    /// Checked text; an empty one is none.
    pub(super) fn text(&mut self, key: &'static str) -> Option<Text> {
        let words = self.words(key).filter(|words| !words.trim().is_empty())?;
        let checked = Text::new(words.trim());
        checked.map_err(|e| self.wrong(key, e.to_string())).ok()
    }

    /// A plain number, as a number or as text.
    pub(super) fn number(&mut self, key: &'static str) -> Option<Decimal> {
        let value = self.get(key)?;
        let words = match value {
            Value::Number(number) => number.to_string(),
            Value::String(words) => words.trim().to_owned(),
            other => {
                self.wrong(key, format!("expected a number, found {other}"));
                return None;
            }
        };
        let number = words.parse();
        number.map_err(|e| self.wrong(key, plain(&words, e))).ok()
    }

    /// A whole number from 0.
    pub(super) fn whole(&mut self, key: &'static str) -> Option<u64> {
        let value = self.get(key)?;
        let number = value.as_u64();
        if number.is_none() {
            self.wrong(key, format!("expected a whole number, found {value}"));
        }
        number
    }

    /// One word of a closed set.
    pub(super) fn choice<T: Copy>(
        &mut self,
        key: &'static str,
        all: &[T],
        word: impl Fn(T) -> &'static str + Copy,
    ) -> Option<T> {
        let words = self.words(key)?;
        let found = all.iter().copied().find(|one| word(*one) == words);
        if found.is_none() {
            let instead = instead(&words, all.iter().map(|one| word(*one)));
            self.wrong(key, format!("{words:?} is unknown; {instead}"));
        }
        found
    }

    fn unknown(&mut self) {
        for key in self.said.keys() {
            if !self.known.contains(&key.as_str()) {
                let instead = instead(key, self.known.iter().copied());
                self.wrong.push(Field {
                    field: format!("{}{key}", self.prefix),
                    message: format!("unknown field; {instead}"),
                });
            }
        }
    }

    /// The result, if nothing is missing, wrong or unknown.
    pub(super) fn done<T>(mut self, result: Option<T>) -> Result<T, Wrong> {
        self.unknown();
        match result {
            Some(result) if self.missing.is_empty() && self.wrong.is_empty() => Ok(result),
            _ => Err(Wrong::Fields {
                missing: self.missing,
                wrong: self.wrong,
            }),
        }
    }
}

/// What to write instead of something that is not a plain number.
fn plain(words: &str, error: DecimalError) -> String {
    let end = words.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '+' | '-')));
    let (digits, rest) = words.split_at(end.unwrap_or(words.len()));
    let unit = matches!(
        rest.trim(),
        "V" | "v"
            | "volt"
            | "volts"
            | "ohm"
            | "ohms"
            | "Ohm"
            | "Ω"
            | "%"
            | "m"
            | "s"
            | "mm2"
            | "mm²"
    );
    match digits.parse::<Decimal>() {
        Ok(number) if unit => {
            format!("{error}, found {words:?}; write {number} without its unit")
        }
        _ => format!("{error}, found {words:?}"),
    }
}
