//! Diagnosis: a job in as lines of text, names of patterns and their rows out.
//!
//! A line is one row, numbered from 1: `winding main 4.3 in 1.8..2.2 fail high`,
//! with `OL` for over-range, `@500V`, `30s`, `of 3`, `aborted`, `withdrawn 3`,
//! and words of the reason after a `:`. Each value, verdict and finding is
//! written by hand as the rules give it; patterns see only these.

mod grounds;
mod measuring;
mod table;
mod windings;

use core::fmt::Write as _;

use super::*;
use crate::judge::diagnosis::{Facts, Whole, diagnose};
use crate::row::{Event, Row};
use crate::stamp::Wall;
use crate::view::Diagnosis;

/// What the job is: `three_phase`, `panel`, `cold` (temperature entered), `electronics`.
fn diagnosed(what: &str, job: &str) -> Vec<Diagnosis> {
    let mut motor = Motor::unlisted(
        Text::clean("HB-WP 22"),
        Kind::ThreeWire,
        Some(Volts(230.0)),
        Electronics::No,
    );
    let (mut measured_at, mut temperature) = (MeasuredAt::Motor, None);
    motor.reference_c = Some(Celsius(25.0));
    for word in what.split_whitespace() {
        match word {
            "panel" => measured_at = MeasuredAt::Panel,
            "cold" => temperature = Some(Celsius(20.0)),
            "electronics" => motor.electronics = Electronics::Unknown,
            kind => motor.kind = Kind::from_word(kind).expect("a word of the harness"),
        }
    }
    let mut facts = Facts::default();
    let lines = job.lines().map(str::trim).filter(|l| !l.is_empty());
    for (seq, line) in (1..).zip(lines) {
        facts.row(seq, &row(line));
    }
    diagnose(&Whole {
        facts: &facts,
        motor: &motor,
        measured_at,
        temperature,
        cable_known: false,
    })
}

fn row(line: &str) -> Row {
    let (line, reason) = line.split_once(" : ").unwrap_or((line, ""));
    let mut row = Row::new(Event::Value, Wall(0));
    row.reason = reason.to_owned();
    row.meter = String::from("ohms-1");
    row.method = Some(Method::Steady);
    let mut words = line.split_whitespace().peekable();
    if words.peek() == Some(&"withdrawn") {
        row.event = Event::Withdrawn;
        row.of_seq = words.nth(1).and_then(|w| w.parse().ok());
        return row;
    }
    row.test = words.next().expect("a test").to_owned();
    row.point = words.next().expect("a point").to_owned();
    if row.test == "insulation" {
        row.meter = String::from("mega-1");
    }
    if row.test == "none" {
        (row.test, row.point) = (String::new(), String::new());
    }
    if row.point == "set" {
        row.event = Event::Judged;
    }
    while let Some(word) = words.next() {
        if word == "in" {
            let (lower, upper) = words.next().and_then(|l| l.split_once("..")).expect("a..b");
            row.lower_ohms = Some(d(lower));
            row.upper_ohms = (!upper.is_empty()).then(|| d(upper));
        } else if word == "of" {
            row.event = Event::Judged;
            row.of_seq = words.next().and_then(|w| w.parse().ok());
        } else if word == "OL" {
            row.event = Event::Open;
            row.shown = String::from("over-range");
        } else if word == "aborted" {
            row.event = Event::Aborted;
        } else if let Some(volts) = word.strip_prefix('@').and_then(|w| w.strip_suffix('V')) {
            row.test_voltage_v = Some(d(volts));
        } else if let Some(verdict) = Verdict::from_word(word) {
            row.verdict = Some(verdict);
        } else if let Some(finding) = Finding::from_word(word) {
            row.finding = Some(finding);
        } else if let Some(volts) = word.strip_suffix("volts") {
            (row.value, row.unit) = (Some(d(volts)), Some(Unit::Volt));
        } else if let Some(ratio) = word.strip_suffix("ratio") {
            (row.value, row.unit) = (Some(d(ratio)), Some(Unit::Ratio));
        } else if let Some(seconds) = word.strip_suffix('s') {
            row.elapsed_s = Some(d(seconds));
        } else {
            let value = shown(word);
            row.shown = value.to_string();
            (row.value, row.unit) = (Some(value.value), Some(Unit::Ohm));
            row.value_ohms = Some(value.value);
            row.resolution_ohms = Some(value.resolution);
        }
    }
    row
}

/// The diagnosis as `name 1 2 3`, a line each, in its order.
fn names(said: &[Diagnosis]) -> String {
    let mut text = String::new();
    for diagnosis in said {
        text.push_str(&diagnosis.name);
        for row in &diagnosis.rows {
            // Writing to a String cannot fail.
            _ = write!(text, " {row}");
        }
        text.push('\n');
    }
    text
}

/// Compares the whole diagnosis.
fn check(what: &str, job: &str, expected: &str) {
    let said = diagnosed(what, job);
    for diagnosis in &said {
        complete(diagnosis);
    }
    let expected: Vec<&str> = expected
        .lines()
        .map(str::trim)
        .filter(|l| !l.is_empty())
        .collect();
    assert_eq!(names(&said).trim(), expected.join("\n"), "{what}\n{job}");
}

/// Sees that a pattern is, or is not, among what is said.
fn has(name: &str, is: bool, what: &str, job: &str) {
    let said = diagnosed(what, job);
    let found = said.iter().any(|d| d.name == name);
    assert_eq!(found, is, "{name} in:\n{}{job}", names(&said));
}

fn complete(diagnosis: &Diagnosis) {
    assert!(!diagnosis.rows.is_empty(), "{}: no row", diagnosis.name);
    let lines = diagnosis.causes.len() + diagnosis.next_checks.len();
    assert!(lines > 0, "{}: neither a cause nor a check", diagnosis.name);
    let words = format!(
        "{} {} {} {}",
        diagnosis.says,
        diagnosis.causes.join(" "),
        diagnosis.next_checks.join(" "),
        diagnosis.cautions.join(" ")
    );
    harmless(&words);
}

/// The words that must never be said of a motor.
fn harmless(words: &str) {
    let words = words.to_lowercase();
    let plain = |c: char| !c.is_alphanumeric();
    for word in [
        "good",
        "safe",
        "safely",
        "okay",
        "ok",
        "healthy",
        "perfect motor",
    ] {
        assert!(
            !words.split(plain).any(|w| w == word),
            "{word:?} in {words:?}"
        );
    }
    let orders = words.replace("do not energize", "");
    for word in [
        "energize",
        "energise",
        "power up",
        "switch on",
        "start the motor",
        "run the motor",
    ] {
        assert!(!orders.contains(word), "{word:?} in {words:?}");
    }
}
