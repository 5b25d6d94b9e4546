//! Lines of a foreign file, each as a row or with why it is none.

use std::collections::BTreeMap;

use serde_json::json;

use super::map::Map;
use super::{LineId, digest};
use crate::quantity::{Decimal, Unit};
use crate::reading::Method;
use crate::row::{Event, Row, Verdict};
use crate::stamp::Wall;
use crate::text::Text;
use crate::web::asked::shown;

/// A line that can be written.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its number in the file, from 1; the header is one.
    pub number: u64,
    /// By what it is known again.
    pub id: LineId,
    /// When the meter says that it was read.
    pub read_at: Wall,
    /// The row; `recorded_at` is when it is written.
    pub row: Row,
}

/// A line that cannot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// Its number in the file.
    pub number: u64,
    /// The header of the column, if one is to blame.
    pub column: String,
    /// Why.
    pub why: String,
}

/// What a file holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lines {
    /// What can be written, in the file's order.
    pub good: Vec<Line>,
    /// What cannot.
    pub refused: Vec<Refused>,
}

/// Where lines come from, and when and by whom they are taken over.
#[derive(Clone, Debug)]
pub struct Origin<'a> {
    /// The file's name, without its folder.
    pub file: &'a str,
    /// The text of the map.
    pub map: &'a str,
    /// Who imports.
    pub tester: &'a str,
    /// Now.
    pub at: Wall,
}

/// Reads all lines.
///
/// # Errors
/// The file has no header that the map fits, in words.
pub fn read(bytes: &[u8], map: &Map, origin: &Origin<'_>) -> Result<Lines, String> {
    if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") || bytes.contains(&0) {
        return Err(String::from(
            "expected text in UTF-8, found UTF-16 or no text: save it as CSV in UTF-8",
        ));
    }
    let text = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(map.delimiter)
        .flexible(true)
        .from_reader(text);
    let header = reader.headers().map_err(|e| e.to_string())?.clone();
    let places = places(&header, map)?;
    let (file_digest, map_digest) = (digest(bytes), digest(origin.map.as_bytes()));
    let mut lines = Lines::default();
    let mut counted = Counted {
        text,
        at: 0,
        line: 1,
    };
    let mut again: BTreeMap<String, u64> = BTreeMap::new();
    for record in reader.records() {
        let (at, made) = match record {
            Ok(record) => (
                record.position().map(csv::Position::byte),
                made(&record, header.len(), &places, map, origin),
            ),
            Err(e) => (
                e.position().map(csv::Position::byte),
                Err((
                    String::new(),
                    match e.kind() {
                        csv::ErrorKind::Utf8 { .. } => String::from(
                            "expected text in UTF-8, found other bytes: save the file as CSV in UTF-8",
                        ),
                        _ => e.to_string(),
                    },
                )),
            ),
        };
        let number = counted.up_to(at.unwrap_or_default());
        match made {
            Ok((read_at, mut row)) => {
                let said = [
                    &row.meter, &row.asset, &row.motor, &row.test, &row.point, &row.shown,
                ];
                let said = said.map(String::as_str).join("\n") + "\n" + &read_at.rfc3339();
                let nth = again.entry(said.clone()).or_default();
                *nth += 1;
                let id = digest(format!("{said}\n{nth}").as_bytes())[..32].to_owned();
                row.note = json!({ "import": {
                    "id": id, "file": origin.file, "sha256": file_digest, "line": number,
                    "map_sha256": map_digest, "read_at": read_at.rfc3339(),
                }})
                .to_string();
                row.reason = format!(
                    "imported from {} line {number}, read at {} by its own account: not seen to settle, not judged",
                    origin.file,
                    read_at.rfc3339()
                );
                lines.good.push(Line {
                    number,
                    id,
                    read_at,
                    row,
                });
            }
            Err((column, why)) => lines.refused.push(Refused {
                number,
                column,
                why,
            }),
        }
    }
    Ok(lines)
}

/// Lines counted as an editor counts them.
struct Counted<'a> {
    text: &'a [u8],
    at: usize,
    line: u64,
}

impl Counted<'_> {
    /// The line of the record that begins at a byte, or behind line ends there.
    fn up_to(&mut self, byte: u64) -> u64 {
        let from = usize::try_from(byte)
            .unwrap_or(usize::MAX)
            .min(self.text.len());
        let ends = self.text[from..]
            .iter()
            .take_while(|b| matches!(b, b'\r' | b'\n'));
        let to = from + ends.count();
        let feeds = memchr::memchr_iter(b'\n', &self.text[self.at.min(to)..to]).count();
        (self.at, self.line) = (to, self.line + feeds as u64);
        self.line
    }
}

/// Where each field stands.
fn places(header: &csv::StringRecord, map: &Map) -> Result<BTreeMap<&'static str, usize>, String> {
    let mut places = BTreeMap::new();
    for (field, name) in &map.columns {
        let mut at = header
            .iter()
            .enumerate()
            .filter(|(_, head)| head.trim() == name);
        let (Some((place, _)), None) = (at.next(), at.next()) else {
            let found: Vec<&str> = header.iter().collect();
            return Err(format!(
                "expected one column {name:?} for {field}, found {}; see delimiter and [columns] in the map",
                found.join(" | ")
            ));
        };
        places.insert(*field, place);
    }
    Ok(places)
}

type Why = (String, String);

/// A line's time and its row.
fn made(
    record: &csv::StringRecord,
    columns: usize,
    places: &BTreeMap<&'static str, usize>,
    map: &Map,
    origin: &Origin<'_>,
) -> Result<(Wall, Row), Why> {
    if record.len() != columns {
        let why = format!("expected {columns} cells, found {}", record.len());
        return Err((String::new(), why));
    }
    let name = |field: &str| map.columns.get(field).cloned().unwrap_or_default();
    let cell = |field: &str| match places.get(field) {
        Some(place) => record.get(*place).unwrap_or_default().trim(),
        None => map.always.get(field).map_or("", String::as_str),
    };
    let text = |field: &'static str| {
        let text = Text::new(cell(field)).map_err(|e| (name(field), e.to_string()))?;
        Ok::<_, Why>(text.to_string())
    };
    let read_at = map
        .when(cell("read_at"))
        .map_err(|why| (name("read_at"), why))?;
    if read_at > origin.at {
        let why = format!(
            "expected a time that has passed, found {}",
            read_at.rfc3339()
        );
        return Err((name("read_at"), why));
    }
    let words = value_words(cell("shown"), cell("unit"), map.decimal);
    let words = words.map_err(|why| (name("shown"), why))?;
    let value = shown(&words).map_err(|why| (name("shown"), why))?;
    let in_ohms = [
        "winding",
        "ground",
        "ground_path",
        "insulation",
        "leads",
        "sensor",
    ];
    let test = cell("test");
    if let Some(unit) = value.map(|value| value.unit)
        && unit != Unit::Ohm
        && in_ohms.contains(&test)
    {
        let why = format!("expected ohms, as test {test} is read in, found {words:?}");
        return Err((name("shown"), why));
    }
    let mut row = Row::new(Event::Open, origin.at);
    row.meter = text("meter")?;
    row.asset = text("asset")?;
    row.motor = text("motor")?;
    row.test = text("test")?;
    row.point = text("point")?;
    row.tester = origin.tester.to_owned();
    row.shown = Text::new(&words)
        .map_err(|e| (name("shown"), e.to_string()))?
        .to_string();
    let number = |field: &'static str| {
        let digits = plain(cell(field), map.decimal).map_err(|why| (name(field), why))?;
        if digits.is_empty() {
            return Ok(None);
        }
        let number = digits.parse::<Decimal>().map(Some);
        number.map_err(|e| {
            (
                name(field),
                format!("expected a plain number, found {digits:?} ({e})"),
            )
        })
    };
    row.temperature_c = number("temperature_c")?;
    row.test_voltage_v = number("test_voltage_v")?;
    row.elapsed_s = number("elapsed_s")?;
    row.method = Some(Method::Manual);
    row.verdict = Some(Verdict::NotJudged);
    if let Some(value) = value {
        row.event = Event::Value;
        (row.value, row.unit) = (Some(value.value), Some(value.unit));
        if value.unit == Unit::Ohm {
            row.value_ohms = Some(value.value);
            row.resolution_ohms = Some(value.resolution);
        }
        too_long(value.value).map_err(|why| (name("shown"), why))?;
    }
    Ok((read_at, row))
}

/// A number with a point for its decimals. Where the comma is that sign, points
/// divide thousands only, and only a comma behind them shows that: `12.345`
/// alone could be either, and is refused.
fn plain(words: &str, decimal: char) -> Result<String, String> {
    if decimal != ',' {
        return Ok(words.to_owned());
    }
    let end = words
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | '+' | '-')))
        .unwrap_or(words.len());
    let (number, rest) = words.split_at(end);
    let (whole, part) = number.split_once(',').unwrap_or((number, ""));
    let mut groups = whole.split('.');
    let first = groups.next().unwrap_or_default();
    let short = first.trim_start_matches(['+', '-']).len();
    let thousands = (1..=3).contains(&short) && groups.all(|group| group.len() == 3);
    let shown = number.contains(',') && thousands && !part.contains('.');
    if number.contains('.') && !shown {
        return Err(format!(
            "expected a comma before decimals, and points only before each three digits in front of one, found {words:?}; see decimal in the map"
        ));
    }
    Ok(format!(
        "{}{rest}",
        number.replace('.', "").replacen(',', ".", 1)
    ))
}

/// A value as on a display, with a point: `22,7` and `kΩ` are `22.7 kΩ`.
fn value_words(shown: &str, unit: &str, decimal: char) -> Result<String, String> {
    let mut words = plain(shown, decimal)?;
    if !unit.is_empty()
        && words
            .chars()
            .next()
            .is_some_and(|c| c.is_ascii_digit() || matches!(c, '-' | '.'))
    {
        words = format!("{words} {unit}");
    }
    Ok(words)
}

/// The log's decimals hold 18 digits.
fn too_long(value: Decimal) -> Result<(), String> {
    let digits = value.to_string().bytes().filter(u8::is_ascii_digit).count();
    match digits > 18 {
        true => Err(format!("expected at most 18 digits, found {digits}")),
        false => Ok(()),
    }
}
