//! The words of a script: rows, values, points and plans as text.

use core::time::Duration;

use crate::input::{Entered, JobPlan};
use crate::limits::profile::MinimumLine;
use crate::limits::{
    Acceptance, Cable, Electronics, GroundReference, InsulationTest, Kind, MeasuredAt, Motor,
    Point, Profile, Range, Sheet, SheetStep, SkipBy, Stage, Test,
};
use crate::quantity::{Celsius, Decimal, Ohms, Shown, Unit, Volts};
use crate::reading::{Flags, Method, Outcome, Take};
use crate::row::{Event, Recorded, Row};
use crate::stamp::Stamp;
use crate::text::Text;

pub(super) fn recorded(seq: u64, row: Row) -> Recorded {
    Recorded {
        seq,
        row,
        chain: String::from("00"),
    }
}

/// A row in few words.
pub(super) fn row_text(r: &Recorded) -> String {
    let row = &r.row;
    let mut words = vec![row.event.to_string()];
    if !row.test.is_empty() {
        words.push(format!("{}/{}", row.test, row.point));
    }
    if !row.shown.is_empty() {
        words.push(row.shown.clone());
    }
    words.extend(row.verdict.map(|v| v.to_string()));
    words.extend(row.finding.map(|f| f.to_string()));
    words.extend(row.of_seq.map(|of| format!("of {of}")));
    if row.event == Event::JobEnd {
        words.extend(row.reason.split(':').next().map(str::to_owned));
    }
    words.join(" ")
}

pub(super) fn steady(at: Stamp, outcome: Outcome) -> Take {
    Take {
        at,
        outcome,
        method: Method::Steady,
        samples: 12,
        window: Duration::from_millis(1500),
        spread: Ohms(0.0),
        elapsed: None,
        test_voltage: None,
        leakage: None,
        temperature: None,
        flags: Flags::NONE,
    }
}

/// `12`, `0.2`, `12M`, `4.7k` in ohms; `5V` in volts.
pub(super) fn shown_of(text: &str) -> Shown {
    for (unit, suffix) in [(Unit::Celsius, "°C"), (Unit::Fahrenheit, "°F")] {
        if let Some(degrees) = text.strip_suffix(suffix) {
            return Shown::plain(degrees.parse().expect("degrees"), unit);
        }
    }
    if let Some(volts) = text.strip_suffix('V') {
        return Shown::plain(volts.parse().expect("volts"), Unit::Volt);
    }
    let (digits, prefix) = match text.chars().last() {
        Some('k') => (&text[..text.len() - 1], 3),
        Some('M') => (&text[..text.len() - 1], 6),
        Some('G') => (&text[..text.len() - 1], 9),
        _ => (text, 0),
    };
    let value: Decimal = digits.parse().expect("a number");
    let value = value.shifted(prefix).expect("in range");
    Shown {
        prefix,
        ..Shown::plain(value, Unit::Ohm)
    }
}

pub(super) fn ohms(text: &str) -> Decimal {
    shown_of(text).value
}

pub(super) fn time(text: &str) -> Duration {
    match text.strip_suffix("min") {
        Some(minutes) => Duration::from_secs(60 * minutes.parse::<u64>().expect("minutes")),
        None => Duration::from_secs_f64(text.trim_end_matches('s').parse().expect("seconds")),
    }
}

pub(super) fn point(text: &str) -> Point {
    let (test, name) = text.split_once(' ').expect("TEST POINT");
    Point::new(Test::from_word(test).expect("a test"), name)
}

/// `enter ohms-1 4.3`, `enter mega-1 over insulation all_to_ground 500V 60s`.
pub(super) fn entered(rest: &str, job: Text) -> Entered {
    let words: Vec<&str> = rest.split(' ').collect();
    Entered {
        job: (job.as_str() != "J0").then_some(job),
        point: words
            .get(3)
            .map(|name| Point::new(Test::from_word(words[2]).expect("a test"), name)),
        meter: Text::clean(words[0]),
        shown: (words[1] != "over").then(|| shown_of(words[1])),
        full_scale: None,
        test_voltage: words
            .get(4)
            .map(|v| Volts(v.trim_end_matches('V').parse().expect("volts"))),
        elapsed_s: words
            .get(5)
            .map(|s| s.trim_end_matches('s').parse().expect("seconds")),
    }
}

pub(super) fn range(text: &str) -> Range {
    let (lower, upper) = text.split_once("..").expect("LOWER..UPPER");
    Range {
        lower: lower.parse().ok(),
        upper: upper.parse().ok(),
    }
}

/// `tap_1:2..3`, or `tap_1` without limits.
fn own_point(text: &str) -> (Text, Range) {
    let (name, limits) = text.split_once(':').unwrap_or((text, ".."));
    (Text::clean(name), range(limits))
}

/// `winding/all`, `insulation/all_to_ground@60+600%500V!`, `ratio/pi#trade`.
/// `!`: nobody may leave it out.
fn sheet_step(text: &str) -> SheetStep {
    let kept = text.ends_with('!');
    let text = text.trim_end_matches('!');
    let (text, volts) = match text.split_once('%') {
        Some((text, volts)) => (text, volts.trim_end_matches('V').parse().ok().map(Volts)),
        None => (text, None),
    };
    let (text, bands) = match text.split_once('#') {
        Some((text, bands)) => (text, Some(Text::clean(bands))),
        None => (text, None),
    };
    let (text, marks) = text.split_once('@').unwrap_or((text, ""));
    let (test, name) = text.split_once('/').expect("TEST/POINT");
    SheetStep {
        test_voltage: volts,
        marks_s: marks.split('+').filter_map(|m| m.parse().ok()).collect(),
        bands,
        skip: if kept { SkipBy::Nobody } else { SkipBy::Anyone },
        ..SheetStep::plain(Test::from_word(test).expect("a test"), name)
    }
}

fn own_profile(megohm: &str) -> Profile {
    Profile {
        name: Text::clean("east-ponds"),
        source: Text::clean("invented"),
        mark_s: None,
        correct_to_c: None,
        minimum: vec![MinimumLine {
            condition: None,
            below_v: None,
            up_to_v: None,
            megohm: megohm.parse().expect("megohm"),
            megohm_per_kv: Decimal::ZERO,
            at_least_megohm: Decimal::ZERO,
        }],
        test_voltage: Vec::new(),
    }
}

/// A pump of the hatchery (invented), as `start` describes it.
pub(super) fn plan(text: &str) -> JobPlan {
    let mut words = text.split(' ').filter(|w| !w.is_empty());
    let kind = Kind::from_word(words.next().expect("a kind")).expect("a kind");
    let mut motor = Motor::unlisted(
        Text::clean("RUNNEL-4"),
        kind,
        Some(Volts(400.0)),
        Electronics::No,
    );
    motor.in_catalogue = true;
    motor.source = Text::clean("invented");
    let mut plan = JobPlan {
        bench: None,
        motor,
        asset: Text::clean("pump 3, east pond"),
        tester: Text::clean("Ada"),
        stage: Stage::Arrival,
        measured_at: MeasuredAt::Motor,
        ground_reference: GroundReference::Frame,
        temperature: Some(Celsius(20.0)),
        cable: None,
        limits: None,
        bands: Vec::new(),
        sheet: None,
        baseline: None,
        acceptance: Acceptance::Simple,
        profile: None,
        condition: None,
    };
    for word in words {
        let (key, value) = word.split_once('=').expect("KEY=VALUE");
        match key {
            "main" => plan.motor.main = range(value),
            "start" => plan.motor.start = range(value),
            "line" => plan.motor.line = range(value),
            "profile" => plan.profile = Some(Text::clean(value)),
            "condition" => plan.condition = Some(Text::clean(value)),
            "electronics" => {
                plan.motor.electronics = Electronics::from_word(value).expect("electronics");
            }
            "test" => {
                plan.motor.insulation_test = InsulationTest::from_word(value).expect("a word");
            }
            "reference" => {
                plan.ground_reference = GroundReference::from_word(value).expect("a reference");
            }
            "max" => plan.motor.max_test_v = Some(Volts(value.parse().expect("volts"))),
            "points" => plan.motor.points = value.split(',').map(own_point).collect(),
            "temperature" => plan.temperature = value.parse().ok().map(Celsius),
            "cable" => {
                let ohms = value.parse().expect("ohms");
                plan.cable = Some(Cable::of(ohms, Text::clean("loop as given")));
            }
            // A profile of one's own, with this minimum in megohm at any voltage.
            "minimum" => plan.limits = Some(Box::new(own_profile(value))),
            "listed" => plan.motor.in_catalogue = value == "yes",
            "rated" => plan.motor.rated_v = value.parse().ok().map(Volts),
            "measured" => {
                plan.measured_at = MeasuredAt::from_word(value).expect("a place");
            }
            "steps" => {
                plan.sheet = Some(Box::new(Sheet {
                    name: Text::clean("round"),
                    title: Text::clean("round"),
                    steps: value.split(',').map(sheet_step).collect(),
                }));
            }
            "bench" => plan.bench = Some(Text::clean(value)),
            "asset" => plan.asset = Text::clean(value),
            other => panic!("no such key: {other}"),
        }
    }
    plan
}
