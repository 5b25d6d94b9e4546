//! Patterns of the measuring itself: voltage, a held display, leads, clips,
//! ranges, the meter. They come first, because a winding that was measured
//! wrongly says nothing. Each fact: common practice, unless marked (own).

use super::facts::{Heard, cue};
use super::{Hit, Pattern, Whole};
use crate::limits::Test;
use crate::quantity::Unit;
use crate::row::{Event, Finding, Verdict};

pub(super) const PATTERNS: &[Pattern] = &[
    voltage_on_clips,
    rotor_turning,
    test_voltage_on_electronics,
    display_held,
    lead_broken,
    clip_fallen,
    leads_mixed,
    thermal_switch,
    prefix_confused,
    wrong_range,
    not_in_ohms,
    wrong_test_voltage,
    null_suspect,
    leads_unproven,
    leads_changed,
    ground_path_unproven,
    meter_too_coarse,
    battery_low,
    reading_wanders,
    temperature_missing,
];

/// What stands with a finding.
fn standing_with(whole: &Whole<'_>, name: &'static str, finding: Finding) -> Option<Hit> {
    let found = whole.facts.standing().filter(|h| h.found(finding));
    Hit::new(name, found).seen()
}

/// Voltage that is not the tester's own, at any time of the job.
fn voltage_on_clips(whole: &Whole<'_>) -> Option<Hit> {
    Hit::new("voltage_on_clips", live(whole)).seen()
}

fn live<'a>(whole: &Whole<'a>) -> impl Iterator<Item = &'a Heard> {
    let all = whole.facts.all();
    all.filter(|h| h.found(Finding::VoltagePresent))
}

/// Voltage, and values that do not stand still: a shaft that turns makes both.
fn rotor_turning(whole: &Whole<'_>) -> Option<Hit> {
    let restless: Vec<&Heard> = wandering(whole).collect();
    if live(whole).next().is_none() || restless.is_empty() {
        return None;
    }
    Hit::new("rotor_turning", live(whole).chain(restless)).seen()
}

/// A test voltage where none is allowed.
fn test_voltage_on_electronics(whole: &Whole<'_>) -> Option<Hit> {
    let all = whole.facts.all();
    let found = all.filter(|h| h.found(Finding::TestForbidden));
    Hit::new("test_voltage_forbidden", found).seen()
}

/// The meter says so; or the same digits stand where they cannot be equal.
fn display_held(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let marked = facts.standing().filter(|h| h.says(cue::HELD));
    let digits: Vec<&Heard> = facts.standing().filter(|h| has_digits(h)).collect();
    let mut frozen: Vec<&Heard> = Vec::new();
    for (at, a) in digits.iter().enumerate() {
        for b in &digits[at + 1..] {
            if a.meter == b.meter && a.shown == b.shown && cannot_be_equal(a, b) {
                frozen.extend([*a, *b]);
            }
        }
    }
    Hit::new("display_held", marked.chain(frozen)).seen()
}

/// Three digits at least: fewer are equal by chance (own).
fn has_digits(heard: &Heard) -> bool {
    let digits = heard.shown.chars().filter(char::is_ascii_digit);
    heard.ohms.is_some_and(|o| o != 0.0) && digits.skip_while(|c| *c == '0').count() >= 3
}

fn cannot_be_equal(a: &Heard, b: &Heard) -> bool {
    let winding = |h: &Heard| h.test == Some(Test::Winding);
    let sum =
        |a: &Heard, b: &Heard| a.name == "total" && matches!(b.name.as_str(), "main" | "start");
    if winding(a) && winding(b) {
        return sum(a, b) || sum(b, a);
    }
    // Leads that touch, and a dead short, do read as the leads do.
    let short = |h: &Heard| h.found(Finding::Shorted);
    (winding(a) || winding(b)) && !short(a) && !short(b)
}

/// The clips joined did not read as leads do: whatever was over-range with this meter may be the lead.
fn lead_broken(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let broken: Vec<&Heard> = facts
        .of(Test::Leads)
        .filter(|h| h.failed() && (h.found(Finding::Open) || h.found(Finding::High)))
        .collect();
    let over = facts.standing().filter(|h| {
        h.is_over() && h.test != Some(Test::Leads) && broken.iter().any(|b| b.meter == h.meter)
    });
    let over: Vec<&Heard> = over.collect();
    Hit::new("lead_broken", broken.into_iter().chain(over)).seen()
}

/// Over-range that nobody proved, and patterns that no motor can give.
fn clip_fallen(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let unproven = facts
        .standing()
        .filter(|h| h.found(Finding::ContactUnproven));
    let three: Vec<&Heard> = three(whole);
    let over = three.iter().filter(|h| h.is_over()).count();
    // Two pairs that conduct connect all three leads; none at all is more often the clips than the motor.
    let impossible = three.len() == 3 && (over == 1 || over == 3);
    let set = facts.at(Test::Winding, "set");
    let of_set = three.into_iter().chain(set).filter(|_| impossible);
    Hit::new("clip_fallen", unproven.chain(of_set)).seen()
}

/// The three windings of a default sheet, as far as they were read.
pub(super) fn three<'a>(whole: &Whole<'a>) -> Vec<&'a Heard> {
    const NAMES: [&str; 6] = ["main", "start", "total", "line_12", "line_23", "line_31"];
    let read = |name: &&str| whole.facts.at(Test::Winding, name);
    NAMES.iter().filter_map(read).collect()
}

fn with_set<'a>(whole: &Whole<'a>, name: &'static str) -> Option<Hit> {
    let set = whole.facts.at(Test::Winding, "set");
    Hit::new(name, three(whole).into_iter().chain(set)).seen()
}

/// Three values that fit after a swap of leads.
fn leads_mixed(whole: &Whole<'_>) -> Option<Hit> {
    let set = whole.facts.at(Test::Winding, "set")?;
    if !set.found(Finding::LeadsMixed) {
        return None;
    }
    with_set(whole, "leads_mixed")
}

/// Both pairs of common over-range while run to start reads.
fn thermal_switch(whole: &Whole<'_>) -> Option<Hit> {
    let at = |name| whole.facts.at(Test::Winding, name);
    let (main, start, total) = (at("main")?, at("start")?, at("total")?);
    if !(main.is_over() && start.is_over() && total.ohms.is_some()) {
        return None;
    }
    with_set(whole, "thermal_switch_open")
}

/// A value that fits its limits with another prefix.
fn prefix_confused(whole: &Whole<'_>) -> Option<Hit> {
    let found = whole.facts.of(Test::Winding).filter(|h| fits_shifted(h));
    Hit::new("prefix_confused", found).seen()
}

fn fits_shifted(heard: &Heard) -> bool {
    let suspect = heard.found(Finding::RangeSuspect)
        || heard.found(Finding::Shorted)
        || heard.found(Finding::Low);
    let (Some(value), Some(lower), Some(upper)) = (heard.ohms, heard.lower, heard.upper) else {
        return false;
    };
    let fits = |by: f64| value * by >= 0.9 * lower && value * by <= 1.1 * upper;
    suspect && [1e-3, 1e-6, 1e3].into_iter().any(fits)
}

/// Kilohms where ohms belong, or a range that does not reach.
fn wrong_range(whole: &Whole<'_>) -> Option<Hit> {
    let found = whole.facts.standing().filter(|h| {
        h.found(Finding::RangeSuspect) && !fits_shifted(h) && !super::grounds::is_resistor(whole, h)
    });
    Hit::new("wrong_range", found).seen()
}

/// A value in volts or anything else, and none in ohms after it.
fn not_in_ohms(whole: &Whole<'_>) -> Option<Hit> {
    let all: Vec<&Heard> = whole.facts.all().collect();
    let other = |h: &Heard| {
        h.unit.is_some_and(|u| u != Unit::Ohm) && h.finding.is_none() && h.test != Some(Test::Ratio)
    };
    let found = all.iter().enumerate().filter(|(at, h)| {
        let later = || {
            all[at + 1..]
                .iter()
                .any(|l| l.meter == h.meter && l.ohms.is_some())
        };
        other(h) && !later()
    });
    let found: Vec<&Heard> = found
        .map(|(_, h)| *h)
        .filter(|h| {
            h.test
                .is_none_or(|t| t != Test::Temperature && t != Test::Sensor)
        })
        .collect();
    Hit::new("not_in_ohms", found).seen()
}

fn wrong_test_voltage(whole: &Whole<'_>) -> Option<Hit> {
    standing_with(whole, "wrong_test_voltage", Finding::WrongTestVoltage)
}

fn null_suspect(whole: &Whole<'_>) -> Option<Hit> {
    standing_with(whole, "null_suspect", Finding::NullSuspect)
}

fn leads_unproven(whole: &Whole<'_>) -> Option<Hit> {
    standing_with(whole, "leads_unproven", Finding::LeadsUnproven)
}

/// The clips joined read otherwise after than before.
fn leads_changed(whole: &Whole<'_>) -> Option<Hit> {
    let facts = whole.facts;
    let after = facts.of(Test::Leads).filter(|h| h.found(Finding::Changed));
    let after: Vec<&Heard> = after.collect();
    let before = facts
        .of(Test::Leads)
        .filter(|h| h.name == "before" && after.iter().any(|a| a.meter == h.meter));
    let before: Vec<&Heard> = before.filter(|_| !after.is_empty()).collect();
    Hit::new("leads_changed", after.into_iter().chain(before)).seen()
}

fn ground_path_unproven(whole: &Whole<'_>) -> Option<Hit> {
    standing_with(whole, "ground_path_unproven", Finding::GroundPathUnproven)
}

fn meter_too_coarse(whole: &Whole<'_>) -> Option<Hit> {
    standing_with(whole, "meter_too_coarse", Finding::LimitsTooNarrow)
}

fn battery_low(whole: &Whole<'_>) -> Option<Hit> {
    let found = whole.facts.standing().filter(|h| h.says(cue::BATTERY));
    Hit::new("battery_low", found).seen()
}

/// Values that did not stand still, for no reason named elsewhere.
fn reading_wanders(whole: &Whole<'_>) -> Option<Hit> {
    Hit::new("reading_wanders", wandering(whole)).seen()
}

fn wandering<'a>(whole: &Whole<'a>) -> impl Iterator<Item = &'a Heard> {
    let facts = whole.facts;
    let named = |h: &Heard| {
        [cue::HELD, cue::PULLED_DOWN, cue::BATTERY]
            .iter()
            .any(|c| h.says(c))
    };
    // A hold that was let go counts only while its point has no value after it.
    let open = move |h: &Heard| match (h.event, h.test) {
        (Event::Aborted, Some(test)) => facts.at(test, &h.name).is_none_or(|l| l.seq < h.seq),
        _ => false,
    };
    let unstable = facts.standing().filter(|h| h.found(Finding::Unstable));
    unstable
        .chain(facts.all().filter(move |h| open(h)))
        .filter(move |h| !named(h))
}

/// Nothing decides but a temperature that nobody entered.
fn temperature_missing(whole: &Whole<'_>) -> Option<Hit> {
    if whole.temperature.is_some() {
        return None;
    }
    let found = whole
        .facts
        .to_ground()
        .filter(|h| h.verdict == Some(Verdict::Undecided) && h.says(cue::TEMPERATURE));
    Hit::new("temperature_missing", found).seen()
}
