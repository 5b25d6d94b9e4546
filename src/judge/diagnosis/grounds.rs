//! Patterns over ground, insulation and sensors. Each fact: common practice,
//! unless it is marked (own). No pattern here takes a fault back: one that
//! offers another cause says what must be measured before it is believed.

use super::facts::{Heard, cue};
use super::{Hit, Pattern, Whole};
use crate::limits::Test;
use crate::row::{Finding, Verdict};

pub(super) const PATTERNS: &[Pattern] = &[
    winding_to_ground,
    bleed_resistor,
    polarity,
    cable_not_motor,
    motor_not_cable,
    wet_surface,
    falls,
    shows_at_test_voltage,
    hands_or_damp,
    pulled_down,
    electronics,
    sensor_circuit,
    insulation_low,
    low_voltage_only,
];

/// Up to this a path to ground is a short, not weak insulation (own; the
/// trade says near zero to a few kilohms).
const SHORT_OHMS: f64 = 20e3;

fn below(heard: &Heard) -> bool {
    heard.found(Finding::ToGround) || heard.found(Finding::BelowMinimum)
}

/// Next to nothing from winding to ground.
fn winding_to_ground(whole: &Whole<'_>) -> Option<Hit> {
    let found = whole.facts.to_ground();
    let short = found.filter(|h| h.failed() && h.ohms.is_some_and(|o| o <= SHORT_OHMS));
    Hit::new("winding_to_ground", short).seen()
}

/// Between 10 kΩ and 10 MΩ, where a resistor across a capacitor or a filter to
/// ground lies, and the same again: within a hundredth on a second take, or
/// within a twentieth at two voltages that differ tenfold (own). Wet or weak
/// insulation does neither.
fn bleed_resistor(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let mut rows: Vec<&Heard> = Vec::new();
    for heard in facts.standing().filter(|h| is_resistor(whole, h)) {
        rows.extend(facts.takes(heard).filter(|h| h.ohms.is_some()));
    }
    let at = |test| facts.of(test).filter(|h| between(h) && below(h));
    for low in at(Test::Ground) {
        let same = at(Test::Insulation).filter(|h| h.name == low.name && near(h, low, 0.05));
        for high in same {
            rows.extend([low, high]);
        }
    }
    Hit::new("bleed_resistor", rows).seen()
}

/// Whether a point that is not what it should be read the same value again.
pub(super) fn is_resistor(whole: &Whole<'_>, heard: &Heard) -> bool {
    let suspect = heard.found(Finding::RangeSuspect) && heard.test == Some(Test::Winding);
    if !between(heard) || !(suspect || below(heard)) {
        return false;
    }
    let mut earlier = whole.facts.takes(heard).filter(|h| h.seq < heard.seq);
    earlier.any(|h| h.ohms.is_some() && near(h, heard, 0.01))
}

fn between(heard: &Heard) -> bool {
    heard.ohms.is_some_and(|o| (10e3..=10e6).contains(&o))
}

fn near(a: &Heard, b: &Heard, part: f64) -> bool {
    match (a.ohms, b.ohms) {
        (Some(a), Some(b)) => (a - b).abs() <= part * a.max(b),
        _ => false,
    }
}

/// A point and the same with the leads swapped, more than a fifth apart (own):
/// a wet path makes a voltage of its own.
fn polarity(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let mut rows: Vec<&Heard> = Vec::new();
    for swapped in facts.standing() {
        let plain = swapped.name.strip_suffix("_swapped").zip(swapped.test);
        let Some(plain) = plain.and_then(|(name, test)| facts.at(test, name)) else {
            continue;
        };
        let differ = swapped.ohms.is_some() && plain.ohms.is_some() && !near(swapped, plain, 0.2);
        // One beyond the range and one that reads differ too.
        if differ || swapped.is_over() != plain.is_over() {
            rows.extend([plain, swapped]);
        }
    }
    Hit::new("polarity_matters", rows).seen()
}

/// Low through the cable, while the motor alone is not.
fn cable_not_motor(whole: &Whole<'_>) -> Option<Hit> {
    one_end(whole, "cable_not_motor", through_cable, of_motor)
}

/// Low at the motor, while the cable alone is not.
fn motor_not_cable(whole: &Whole<'_>) -> Option<Hit> {
    one_end(whole, "motor_not_cable", of_motor, of_cable)
}

fn one_end(
    whole: &Whole<'_>,
    name: &'static str,
    weak: fn(&Heard) -> bool,
    sound: fn(&Heard) -> bool,
) -> Option<Hit> {
    let facts = whole.facts;
    let low: Vec<&Heard> = facts
        .to_ground()
        .filter(|h| weak(h) && h.failed())
        .collect();
    let high: Vec<&Heard> = facts
        .to_ground()
        .filter(|h| sound(h) && h.passed())
        .collect();
    if low.is_empty() || high.is_empty() {
        return None;
    }
    Hit::new(name, low.into_iter().chain(high)).seen()
}

fn named(heard: &Heard, words: &[&str]) -> bool {
    words
        .iter()
        .any(|w| heard.name.split('_').any(|part| part == *w))
}

fn of_cable(heard: &Heard) -> bool {
    named(heard, &["cable"]) && !named(heard, &["motor"])
}

fn through_cable(heard: &Heard) -> bool {
    named(heard, &["cable", "panel", "head"])
}

fn of_motor(heard: &Heard) -> bool {
    named(heard, &["motor"]) && !named(heard, &["cable", "panel", "head"])
}

/// The same point three times higher on a later take (own): what was dried or
/// cleaned in between was the path.
fn wet_surface(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let mut rows: Vec<&Heard> = Vec::new();
    for heard in facts.to_ground() {
        let weak = facts.takes(heard).filter(|h| h.seq < heard.seq && below(h));
        let weak: Vec<&Heard> = weak.collect();
        let risen = |h: &&Heard| match (h.ohms, heard.ohms) {
            (Some(was), Some(is)) => is >= 3.0 * was,
            (Some(_), None) => heard.is_over(),
            _ => false,
        };
        if weak.iter().any(risen) {
            rows.extend(weak);
            rows.push(heard);
        }
    }
    Hit::new("wet_surface", rows).seen()
}

/// A ratio below one, a later mark that is lower, or a higher voltage that
/// reads under half of a lower one (own).
fn falls(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let ratio = facts
        .of(Test::Ratio)
        .filter(|h| h.value.is_some_and(|v| v < 1.0));
    let mut rows: Vec<&Heard> = ratio.collect();
    for heard in facts.of(Test::Insulation) {
        for earlier in facts.takes(heard).filter(|h| h.seq < heard.seq) {
            let (Some(was), Some(is)) = (earlier.ohms, heard.ohms) else {
                continue;
            };
            let held_longer = earlier
                .elapsed
                .zip(heard.elapsed)
                .is_some_and(|(a, b)| b >= 2.0 * a);
            let higher = earlier
                .test_voltage
                .zip(heard.test_voltage)
                .is_some_and(|(a, b)| b >= 1.5 * a);
            if (held_longer && !higher && is < 0.9 * was) || (higher && is < 0.5 * was) {
                rows.extend([earlier, heard]);
            }
        }
    }
    Hit::new("insulation_falls", rows).seen()
}

/// An ohmmeter saw nothing and the tester did.
fn shows_at_test_voltage(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let ground: Vec<&Heard> = facts.of(Test::Ground).filter(|h| h.passed()).collect();
    let weak = facts
        .of(Test::Insulation)
        .filter(|h| h.failed() && below(h));
    let weak: Vec<&Heard> = weak
        .filter(|w| ground.iter().any(|g| g.name == w.name))
        .collect();
    if weak.is_empty() {
        return None;
    }
    Hit::new("shows_at_test_voltage", ground.into_iter().chain(weak)).seen()
}

/// An ohmmeter reads what a body or a damp surface is, 50 kΩ to 5 MΩ (own),
/// and the tester saw none of it.
fn hands_or_damp(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let low = facts
        .of(Test::Ground)
        .filter(|h| below(h) && h.ohms.is_some_and(|o| (50e3..=5e6).contains(&o)));
    let low: Vec<&Heard> = low.collect();
    let high: Vec<&Heard> = facts.of(Test::Insulation).filter(|h| h.passed()).collect();
    if low.is_empty() || high.is_empty() {
        return None;
    }
    Hit::new("hands_or_damp", low.into_iter().chain(high)).seen()
}

/// The tester could not keep its voltage up.
fn pulled_down(whole: &Whole<'_>) -> Option<Hit> {
    let found = whole.facts.standing().filter(|h| h.says(cue::PULLED_DOWN));
    Hit::new("tester_pulled_down", found).seen()
}

/// Electronics, or nobody knows: what was read at low voltage is all there is.
fn electronics(whole: &Whole<'_>) -> Option<Hit> {
    if !whole.has_electronics() {
        return None;
    }
    let found: Vec<&Heard> = whole.facts.of(Test::Ground).collect();
    let read = if found.is_empty() {
        whole.facts.of(Test::Winding).collect()
    } else {
        found
    };
    Hit::new("electronics_inside", read).seen()
}

/// A sensor out of its range, or open.
fn sensor_circuit(whole: &Whole<'_>) -> Option<Hit> {
    let sensors = whole.facts.of(Test::Sensor);
    let odd = sensors.filter(|h| h.failed() || h.is_over() || h.found(Finding::Open));
    Hit::new("sensor_circuit", odd).seen()
}

/// Weak insulation that nothing special explains.
fn insulation_low(whole: &Whole<'_>) -> Option<Hit> {
    let weak = whole.facts.to_ground().filter(|h| {
        let near = h.verdict == Some(Verdict::Undecided) && h.found(Finding::Within);
        (below(h) || near && !h.says(cue::TEMPERATURE))
            && h.ohms.is_none_or(|o| o > SHORT_OHMS || !h.failed())
    });
    Hit::new("insulation_low", weak).seen()
}

/// A low voltage saw nothing, and nothing else looked.
fn low_voltage_only(whole: &Whole<'_>) -> Option<Hit> {
    if whole.facts.of(Test::Insulation).next().is_some() || whole.has_electronics() {
        return None;
    }
    let ground = whole.facts.of(Test::Ground).filter(|h| h.passed());
    Hit::new("low_voltage_only", ground).seen()
}

/// What is said when no pattern was seen: after a winding and a ground or
/// insulation test passed, never before.
pub(super) fn nothing_found(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let passed = |h: &&Heard| h.passed();
    let motors = facts.of(Test::Winding).chain(facts.to_ground());
    if motors
        .filter(|h| h.verdict.is_some())
        .any(|h| h.verdict == Some(Verdict::Fail) || h.verdict == Some(Verdict::Undecided))
    {
        return None;
    }
    let windings: Vec<&Heard> = facts.of(Test::Winding).filter(passed).collect();
    let grounds: Vec<&Heard> = facts.to_ground().filter(passed).collect();
    if windings.is_empty() || grounds.is_empty() {
        return None;
    }
    Hit::new("nothing_found", windings.into_iter().chain(grounds)).seen()
}
