//! A job in words, from its rows alone: what text and page both say of it.
//!
//! Nothing is judged here, and nothing is said that the rows do not say.

pub mod curve;
pub mod later;
pub mod paper;

use serde::Deserialize;
use serde_json::Value;

use crate::judge::STANDING;
use crate::quantity::{Decimal, prefix_symbol};
use crate::row::{Event, Row};
use crate::view::Diagnosis;

/// What a `job_start` row says was planned, a sentence a line: the motor, where
/// its limits are from, where and how it is measured, what insulation is judged
/// by. None: its note is not a job's plan.
pub fn planned(start: &Row) -> Option<Vec<String>> {
    let plan: Value = serde_json::from_str(&start.note).ok()?;
    let mut lines = Vec::new();
    let motor = &plan["motor"];
    let word = |value: &Value| match value {
        Value::String(text) => text.replace('_', " "),
        Value::Null => String::from("not given"),
        other => other.to_string(),
    };
    let volts = match &motor["rated_v"] {
        Value::Null => String::from("rated voltage not given"),
        volts => format!("rated {} V", volts.as_f64().unwrap_or_default()),
    };
    lines.push(format!(
        "{}, {volts}, electronics: {}",
        word(&motor["kind"]),
        word(&motor["electronics"])
    ));
    let listed = motor["in_catalogue"] == true;
    lines.push(
        match (listed, motor["source"].as_str().unwrap_or_default()) {
            (true, "") => String::from("limits from the catalogue"),
            (true, source) => format!("limits from the catalogue: {source}"),
            (false, _) => {
                String::from("in no catalogue: windings are compared with each other only")
            }
        },
    );
    let conditions = &plan["conditions"];
    let temperature = match &conditions["temperature"] {
        Value::Null => String::from("winding temperature not entered"),
        t => format!("winding at {t} °C"),
    };
    let cable = match &plan["cable"] {
        Value::Null => String::from("no cable subtracted"),
        Value::Object(cable) => format!("cable {} Ω there and back", word(&cable["ohms"])),
        other => format!("cable {} Ω there and back", word(other)),
    };
    lines.push(format!(
        "{}, measured at the {}, ground clip on: {}; {temperature}; {cable}",
        word(&plan["stage"]),
        word(&plan["measured_at"]),
        word(&plan["ground_reference"])
    ));
    let profile = match (&conditions["profile"], &motor["profile"]) {
        (Value::Null, Value::Null) => {
            String::from("no insulation profile: nothing above its floor is judged")
        }
        (Value::Null, own) => format!("insulation profile {}", word(own)),
        (named, _) => format!("insulation profile {}", word(named)),
    };
    let condition = match &conditions["condition"] {
        Value::Null => String::new(),
        condition => format!(", condition {}", word(condition)),
    };
    lines.push(format!(
        "{profile}{condition}; {} acceptance",
        word(&conditions["acceptance"])
    ));
    Some(lines)
}

/// A name, or that there is none.
pub fn blank(words: &str) -> &str {
    if words.is_empty() {
        "nobody named"
    } else {
        words
    }
}

/// What was attested, without the word that the program knows it by.
pub fn attested(row: &Row) -> &str {
    row.reason
        .split_once(": ")
        .map_or(row.reason.as_str(), |(_, words)| words)
}

/// Whether a row is of a measurement: a value, none, or a verdict on others.
pub fn measures(row: &Row) -> bool {
    matches!(
        row.event,
        Event::Value | Event::Open | Event::OverRange | Event::Aborted | Event::Judged
    )
}

/// The limits of a row: `4.6 to 5.4 Ω`, `min 1 MΩ`, or nothing.
pub fn limits(row: &Row) -> String {
    match (row.lower_ohms, row.upper_ohms) {
        (Some(lower), Some(upper)) => format!("{} to {}", digits(lower), ohms(upper)),
        (Some(lower), None) => format!("min {}", ohms(lower)),
        (None, Some(upper)) => format!("max {}", ohms(upper)),
        (None, None) => String::new(),
    }
}

/// A value with the prefix of its size, without needless zeros.
pub fn ohms(value: Decimal) -> String {
    let least = |exp| Decimal::new(1, exp).is_ok_and(|least| value.abs() >= least);
    let prefix = [9, 6, 3].into_iter().find(|exp| least(*exp)).unwrap_or(0);
    let symbol = prefix_symbol(prefix).unwrap_or_default();
    match value.shifted(-prefix) {
        Some(value) => format!("{} {symbol}Ω", digits(value)),
        None => format!("{value} Ω"),
    }
}

/// Rounded to so many digits: the terms have them all.
pub fn brief(value: Decimal, digits: u32) -> Decimal {
    let has = value.count().unsigned_abs().checked_ilog10().unwrap_or(0) + 1;
    let drop = i8::try_from(has.saturating_sub(digits)).unwrap_or(0);
    Decimal::rounded(value.to_f64(), value.exp().saturating_add(drop)).unwrap_or(value)
}

fn digits(value: Decimal) -> String {
    let text = value.to_string();
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A part of what a job came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// In words.
    pub words: String,
    /// Whether it must not be missed.
    pub loud: bool,
}

/// What a `job_end` row concludes, the outcome first; without the standing words.
pub fn concluded(end: &Row) -> Vec<Said> {
    let mut parts = Vec::new();
    // The standing words hold a divider of their own; they have a place of their own too.
    let own = |part: &&str| !STANDING.split("; ").any(|s| s == *part);
    for part in end.reason.split("; ").filter(own) {
        let words = match part.split_once(':') {
            Some((outcome, why)) if parts.is_empty() => {
                format!("{}:{why}", outcome.replace('_', " "))
            }
            _ => part.to_owned(),
        };
        parts.push(Said {
            words,
            loud: is_loud(part),
        });
    }
    parts
}

/// Whether a part of an outcome must not be missed.
pub fn is_loud(part: &str) -> bool {
    [
        "DO NOT ENERGIZE",
        "NOT DISCHARGED",
        "keep the winding shorted",
    ]
    .into_iter()
    .any(|words| part.starts_with(words))
}

/// The part of a `job_end` row's note that is read here.
#[derive(Deserialize)]
struct EndNote {
    diagnosis: Vec<Diagnosis>,
}

/// The diagnosis that a `job_end` row carries; empty if it has none.
pub fn diagnoses(end: &Row) -> Vec<Diagnosis> {
    let note = serde_json::from_str::<EndNote>(&end.note);
    note.map(|note| note.diagnosis).unwrap_or_default()
}
