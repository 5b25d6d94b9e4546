//! Diagnosis: a job in as lines of text, names of patterns and their rows out.
//!
//! A line is one row, numbered from 1: `winding main 4.3 in 1.8..2.2 fail high`,
//! with `OL` for over-range, `@500V`, `30s`, `of 3`, `aborted`, `withdrawn 3`,
//! and words of the reason after a `:`. Each value, verdict and finding is
//! written by hand as the rules give it; patterns see only these.

use core::fmt::Write as _;

use proptest::prelude::*;

use super::*;
use crate::judge::diagnosis::{Facts, TEXTS, Whole, diagnose};
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

// Two-wire and three-wire limits below: main 1.8 to 2.2, start 6 to 7, so total 7.8 to 9.2.

#[test]
fn nothing_found_says_what_the_tests_cannot_show() {
    check(
        "",
        "winding main 2.0 in 1.8..2.2 pass within
         winding start 6.5 in 6..7 pass within
         winding total 8.5
         winding set pass within
         ground all_to_ground 50M in 1e6.. pass no_fault_seen
         insulation all_to_ground 120M in 1e6.. @500V 60s pass within",
        "nothing_found 1 2 5 6",
    );
    // Nothing measured, nothing said; one point alone clears nothing.
    check("", "", "");
    check("", "winding main 2.0 in 1.8..2.2 pass within", "");
    check("", "leads before 0.2 pass within", "");
}

#[test]
fn a_ground_test_alone_is_said_to_prove_little() {
    check(
        "",
        "winding main 2.0 in 1.8..2.2 pass within
         ground all_to_ground 50M in 1e6.. pass no_fault_seen",
        "low_voltage_only 2
         nothing_found 1 2",
    );
    check(
        "electronics",
        "winding main 2.0 in 1.8..2.2 pass within
         ground all_to_ground 50M in 1e6.. pass no_fault_seen",
        "electronics_inside 2
         nothing_found 1 2",
    );
}

#[test]
fn a_low_winding_with_low_insulation_is_burnt_and_not_two_findings() {
    check(
        "cold",
        "winding main 1.1 in 1.8..2.2 fail low
         insulation all_to_ground 0.2M in 1e6.. @500V fail below_minimum",
        "burnt_winding 1 2",
    );
    // A short to ground can hurt and is said first.
    check(
        "cold",
        "winding main 1.1 in 1.8..2.2 fail low
         ground all_to_ground 300 in 1e6.. fail to_ground",
        "winding_to_ground 2
         burnt_winding 1 2",
    );
    // Low alone is low; weak alone is weak.
    check(
        "cold",
        "winding main 1.3 in 1.8..2.2 fail low",
        "winding_low 1",
    );
    check(
        "cold",
        "winding main 2.0 in 1.8..2.2 pass within
         insulation all_to_ground 0.2M in 1e6.. @500V fail below_minimum",
        "insulation_low 2",
    );
}

#[test]
fn a_held_display_is_measured_again_before_anything_is_burnt() {
    check(
        "cold",
        "winding main 1.10 in 1.8..2.2 fail low
         winding start 6.50 in 6..7 pass within
         winding total 1.10
         winding set fail sum_mismatch
         insulation all_to_ground 0.2M in 1e6.. @500V fail below_minimum",
        "display_held 1 3
         insulation_low 5",
    );
    has(
        "display_held",
        true,
        "",
        "winding main 2.41 undecided unstable : the meter is in hold, min, max or average: not what is on the clips now",
    );
    // Three equal lines are a motor, two equal digits are chance.
    has(
        "display_held",
        false,
        "three_phase",
        "winding line_12 5.01\nwinding line_23 5.01\nwinding line_31 5.01",
    );
    has(
        "display_held",
        false,
        "",
        "winding main 2.1\nground_path path 2.1",
    );
    has(
        "display_held",
        true,
        "",
        "ground_path path 2.141\nwinding main 2.141",
    );
}

#[test]
fn open_on_every_pair_through_one_lead_names_the_lead() {
    let said = diagnosed(
        "three_phase cold",
        "winding line_12 OL in 4.6..5.4 fail open
         winding line_23 OL in 4.6..5.4 fail open
         winding line_31 5.0 in 4.6..5.4 pass within
         winding set fail open",
    );
    assert_eq!(names(&said), "open_on_one_lead 1 2 3 4\n");
    assert!(
        said[0].says.ends_with("the lead: line 2"),
        "{}",
        said[0].says
    );
    check(
        "cold",
        "winding main 2.0 in 1.8..2.2 pass within
         winding start OL in 6..7 fail open
         winding total OL fail open
         winding set fail open",
        "open_on_one_lead 1 2 3 4",
    );
    check(
        "cold",
        "winding main OL in 1.8..2.2 fail open",
        "winding_open 1",
    );
}

#[test]
fn a_thermal_switch_a_fallen_clip_and_a_broken_lead_come_before_an_open_winding() {
    check(
        "cold",
        "winding main OL in 1.8..2.2 fail open
         winding start OL in 6..7 fail open
         winding total 8.5
         winding set undecided open",
        "thermal_switch_open 1 2 3 4",
    );
    // One over-range of three is a slipped clip: the other two connect all leads.
    check(
        "cold",
        "winding main 2.0 in 1.8..2.2 pass within
         winding start OL in 6..7 fail open
         winding total 8.5
         winding set undecided open",
        "clip_fallen 1 2 3 4",
    );
    check(
        "three_phase cold",
        "winding line_12 OL in 4.6..5.4 fail open
         winding line_23 OL in 4.6..5.4 fail open
         winding line_31 OL in 4.6..5.4 fail open
         winding set fail open",
        "clip_fallen 1 2 3 4",
    );
    check(
        "cold",
        "winding main OL in 1.8..2.2 fail open
         leads after OL fail open",
        "lead_broken 1 2",
    );
    has(
        "lead_broken",
        false,
        "",
        "leads before 0.2 pass within\nwinding main OL in 1.8..2.2 fail open\nleads after 0.3 pass within",
    );
    has(
        "clip_fallen",
        true,
        "",
        "ground all_to_ground OL in 1e6.. undecided contact_unproven",
    );
    has(
        "leads_unproven",
        true,
        "",
        "ground all_to_ground OL in 1e6.. undecided leads_unproven",
    );
    // Judged anew by a second proof, it stands.
    has(
        "leads_unproven",
        false,
        "",
        "ground all_to_ground OL in 1e6.. undecided leads_unproven\nground all_to_ground of 1 pass no_fault_seen",
    );
}

#[test]
fn all_high_alike_is_one_thing_in_series_and_not_three_faults() {
    // Middles 2.0 and 6.5: both 1.5 above; sum short by one lead loop less.
    check(
        "cold",
        "winding main 3.5 in 1.8..2.2 fail high
         winding start 8.0 in 6..7 fail high
         winding total 10.0
         winding set fail sum_mismatch",
        "all_high_alike 1 2
         sum_mismatch 1 2 3 4",
    );
    // By the same part: heat.
    let said = diagnosed(
        "cold",
        "winding main 2.4 in 1.9..2.1 fail high\nwinding start 7.9 in 6.3..6.8 fail high",
    );
    assert_eq!(names(&said), "all_high_alike 1 2\n");
    assert!(
        said[0].says.contains("a hot winding does that"),
        "{}",
        said[0].says
    );
    // One high alone is that one.
    check(
        "cold",
        "winding main 3.5 in 1.8..2.2 fail high
         winding start 6.5 in 6..7 pass within",
        "winding_high 1",
    );
    // High by 3.0 and by 9.0: neither the same amount nor heat.
    has(
        "all_high_alike",
        false,
        "cold",
        "winding main 5.0 in 1.8..2.2 fail high\nwinding start 15.5 in 6..7 fail high",
    );
}

#[test]
fn a_point_that_differs_on_repeat_is_a_joint_before_a_winding() {
    check(
        "cold",
        "winding main 3.4 in 1.8..2.2 fail high
         winding main 2.9 in 1.8..2.2 fail high",
        "differs_on_repeat 1 2",
    );
    check(
        "cold",
        "winding main OL in 1.8..2.2 fail open
         winding main 2.0 in 1.8..2.2 pass within",
        "differs_on_repeat 1 2",
    );
    // A joint does not explain a low winding.
    check(
        "cold",
        "winding main 3.4 in 1.8..2.2 fail high
         winding main 1.2 in 1.8..2.2 fail low",
        "differs_on_repeat 1
         winding_low 2",
    );
    // Withdrawn is gone; a count is noise; another range is no joint.
    has(
        "differs_on_repeat",
        false,
        "",
        "winding main 3.4 in 1.8..2.2 fail high\nwithdrawn 1\nwinding main 2.0 in 1.8..2.2 pass within",
    );
    has(
        "differs_on_repeat",
        false,
        "",
        "winding main 2.01 in 1.8..2.2 pass within\nwinding main 2.03 in 1.8..2.2 pass within",
    );
    has(
        "differs_on_repeat",
        false,
        "",
        "winding main 22k in 1.8..2.2 undecided range_suspect\nwinding main 2.0 in 1.8..2.2 pass within",
    );
}

#[test]
fn one_factor_on_all_windings_is_the_connection() {
    check(
        "three_phase cold",
        "winding line_12 10.0 in 4.6..5.4 fail high
         winding line_23 10.1 in 4.6..5.4 fail high
         winding line_31 9.9 in 4.6..5.4 fail high
         winding set pass within",
        "wrong_connection 1 2 3
         all_high_alike 1 2 3",
    );
    let said = diagnosed(
        "cold",
        "winding main 0.5 in 1.8..2.2 fail low\nwinding start 1.6 in 6..7 fail low",
    );
    assert_eq!(names(&said), "wrong_connection 1 2\n");
    assert!(said[0].says.contains("a quarter"), "{}", said[0].says);
    // One of two at half is not a connection.
    check(
        "cold",
        "winding main 1.0 in 1.8..2.2 fail low
         winding start 6.5 in 6..7 pass within",
        "winding_low 1",
    );
}

#[test]
fn shapes_of_three_lines_are_told_apart() {
    check(
        "three_phase cold",
        "winding line_12 5.00 in 4.6..5.4 pass within
         winding line_23 5.02 in 4.6..5.4 pass within
         winding line_31 10.00 in 4.6..5.4 fail high
         winding set fail open",
        "open_delta_phase 1 2 3 4",
    );
    check(
        "three_phase cold",
        "winding line_12 5.00 in 4.6..5.4 pass within
         winding line_23 5.90 in 4.6..5.4 fail high
         winding line_31 5.92 in 4.6..5.4 fail high
         winding set fail unbalanced",
        "one_line_high 1 2 3 4",
    );
    check(
        "three_phase cold",
        "winding line_12 4.97 in 4.6..5.4 pass within
         winding line_23 4.20 in 4.6..5.4 fail low
         winding line_31 4.19 in 4.6..5.4 fail low
         winding set fail unbalanced",
        "turns_shorted 1 2 3 4",
    );
    check(
        "three_phase cold",
        "winding line_12 0.02 in 4.6..5.4 fail shorted
         winding line_23 5.00 in 4.6..5.4 pass within
         winding line_31 5.02 in 4.6..5.4 pass within
         winding set fail shorted",
        "winding_shorted 1 4",
    );
    // Three that all differ have no shape.
    check(
        "three_phase cold",
        "winding line_12 4.7
         winding line_23 5.0
         winding line_31 5.3
         winding set fail unbalanced",
        "unbalanced 4",
    );
}

#[test]
fn mixed_leads_are_not_two_faults() {
    check(
        "cold",
        "winding main 6.5 in 1.8..2.2 fail high
         winding start 2.0 in 6..7 fail low
         winding total 8.5
         winding set undecided leads_mixed",
        "leads_mixed 1 2 3 4",
    );
}

#[test]
fn a_wrong_range_comes_before_a_winding_and_the_same_again_is_a_resistor() {
    check(
        "cold",
        "winding main 22k in 1.8..2.2 undecided range_suspect",
        "wrong_range 1",
    );
    check(
        "cold",
        "winding main 2.03k in 1.8..2.2 undecided range_suspect",
        "prefix_confused 1",
    );
    // 150 kΩ twice within a hundredth: a bleed resistor, not the range.
    check(
        "cold",
        "winding main 150.1k in 1.8..2.2 undecided range_suspect
         winding main 150.3k in 1.8..2.2 fail range_suspect",
        "bleed_resistor 1 2",
    );
    check(
        "cold",
        "winding main 150k in 1.8..2.2 undecided range_suspect
         winding main 390k in 1.8..2.2 fail range_suspect",
        "wrong_range 2",
    );
    // The same at 5 V and at 500 V; wet insulation does not do that.
    has(
        "bleed_resistor",
        true,
        "",
        "ground all_to_ground 470k in 1e6.. fail to_ground\ninsulation all_to_ground 468k in 1e6.. @500V fail below_minimum",
    );
    has(
        "bleed_resistor",
        false,
        "",
        "ground all_to_ground 470k in 1e6.. fail to_ground\ninsulation all_to_ground 90k in 1e6.. @500V fail below_minimum",
    );
    // A real short stays one, however steady.
    has(
        "winding_to_ground",
        true,
        "",
        "ground all_to_ground 12.00k in 1e6.. fail to_ground\nground all_to_ground 12.01k in 1e6.. fail to_ground",
    );
}

#[test]
fn voltage_comes_first_and_with_wandering_values_is_a_turning_rotor() {
    check(
        "cold",
        "none none 12.1volts not_judged voltage_present
         winding main 1.1 in 1.8..2.2 fail low
         insulation all_to_ground 0.2M in 1e6.. @500V fail below_minimum",
        "voltage_on_clips 1
         burnt_winding 2 3",
    );
    check(
        "cold",
        "winding main 4volts not_judged voltage_present
         winding start 6.5 undecided unstable",
        "rotor_turning 1 2
         voltage_on_clips 1
         reading_wanders 2",
    );
    has(
        "rotor_turning",
        false,
        "",
        "winding main 2.0 undecided unstable",
    );
}

#[test]
fn insulation_tells_where_and_how_it_is_weak() {
    has(
        "tester_pulled_down",
        true,
        "",
        "insulation all_to_ground 0.3M in 1e6.. @210V undecided unstable : the tester cannot hold its voltage: 210 V reached",
    );
    has(
        "reading_wanders",
        false,
        "",
        "insulation all_to_ground 0.3M in 1e6.. @210V undecided unstable : the tester cannot hold its voltage: 210 V reached",
    );
    check(
        "",
        "ground all_to_ground OL in 1e6.. pass no_fault_seen
         insulation all_to_ground 0.3M in 1e6.. @500V fail below_minimum",
        "shows_at_test_voltage 1 2",
    );
    check(
        "",
        "ground all_to_ground 1.2M in 2e6.. fail to_ground
         insulation all_to_ground 200M in 1e6.. @500V pass within",
        "hands_or_damp 1 2",
    );
    check(
        "",
        "insulation cable_to_ground 0.4M in 1e6.. @500V fail below_minimum
         insulation motor_to_ground 80M in 1e6.. @500V pass within",
        "cable_not_motor 1 2",
    );
    check(
        "",
        "insulation cable_to_ground 90M in 1e6.. @500V pass within
         insulation motor_to_ground 0.3M in 1e6.. @500V fail below_minimum",
        "motor_not_cable 1 2",
    );
    check(
        "",
        "insulation all_to_ground 0.4M in 1e6.. @500V fail below_minimum
         insulation all_to_ground 5M in 1e6.. @500V pass within",
        "wet_surface 1 2",
    );
    has(
        "wet_surface",
        false,
        "",
        "insulation all_to_ground 0.4M in 1e6.. @500V fail below_minimum\ninsulation all_to_ground 0.5M in 1e6.. @500V fail below_minimum",
    );
    has("insulation_falls", true, "", "ratio dar 0.8ratio");
    has("insulation_falls", false, "", "ratio dar 1.3ratio");
    has(
        "insulation_falls",
        true,
        "",
        "insulation all_to_ground 9M @500V 60s pass within\ninsulation all_to_ground 3M @1000V 60s pass within",
    );
    has(
        "polarity_matters",
        true,
        "",
        "ground all_to_ground 3M in 1e6.. pass no_fault_seen\nground all_to_ground_swapped 0.9M in 1e6.. fail to_ground",
    );
    has(
        "polarity_matters",
        false,
        "",
        "ground all_to_ground 3.0M in 1e6.. pass no_fault_seen\nground all_to_ground_swapped 2.9M in 1e6.. pass no_fault_seen",
    );
    has(
        "temperature_missing",
        true,
        "",
        "insulation all_to_ground 8M @500V 60s undecided within : enter the winding's temperature",
    );
    has(
        "temperature_missing",
        false,
        "cold",
        "insulation all_to_ground 8M @500V 60s undecided within : enter the winding's temperature",
    );
}

#[test]
fn each_finding_about_the_measuring_has_its_pattern() {
    for (finding, name) in [
        ("null_suspect", "null_suspect"),
        ("limits_too_narrow", "meter_too_coarse"),
        ("leads_unproven", "leads_unproven"),
        ("unstable", "reading_wanders"),
        ("changed", "changed_since"),
    ] {
        has(
            name,
            true,
            "",
            &format!("winding main 2.0 undecided {finding}"),
        );
        has(name, false, "", "winding main 2.0 in 1.8..2.2 pass within");
    }
    for (finding, name) in [
        ("ground_path_unproven", "ground_path_unproven"),
        ("wrong_test_voltage", "wrong_test_voltage"),
        ("test_forbidden", "test_voltage_forbidden"),
    ] {
        has(
            name,
            true,
            "",
            &format!("insulation all_to_ground 80M @500V undecided {finding}"),
        );
        has(
            name,
            false,
            "",
            "insulation all_to_ground 80M @500V pass within",
        );
    }
    has(
        "leads_changed",
        true,
        "",
        "leads before 0.2 pass within\nleads after 1.4 fail changed",
    );
    has(
        "leads_changed",
        false,
        "",
        "leads before 0.2 pass within\nleads after 0.3 pass within",
    );
    has("not_in_ohms", true, "", "none none 2.1volts not_judged");
    has(
        "not_in_ohms",
        false,
        "",
        "none none 2.1volts not_judged\nwinding main 2.0 pass within",
    );
    has(
        "battery_low",
        true,
        "",
        "insulation all_to_ground 80M @500V undecided unstable : the tester's battery is low",
    );
    has(
        "battery_low",
        false,
        "",
        "insulation all_to_ground 80M @500V undecided unstable",
    );
    has("sensor_circuit", true, "", "sensor ptc OL fail open");
    has("sensor_circuit", false, "", "sensor ptc 120 not_judged");
    // A hold that was let go and repeated wanders no more.
    has(
        "reading_wanders",
        true,
        "",
        "insulation all_to_ground aborted",
    );
    has(
        "reading_wanders",
        false,
        "",
        "insulation all_to_ground aborted\ninsulation all_to_ground 80M @500V pass within",
    );
}

#[test]
fn a_cable_left_in_hides_and_raises_but_never_lowers() {
    check(
        "panel cold",
        "winding main 3.5 in 1.8..2.2 undecided high",
        "cable_left_in 1",
    );
    check(
        "panel cold",
        "winding main 1.2 in 1.8..2.2 fail low",
        "winding_low 1",
    );
    check(
        "panel three_phase cold",
        "winding line_12 5.0 in 4.6..5.4 undecided within
         winding line_23 5.0 in 4.6..5.4 undecided within
         winding line_31 5.0 in 4.6..5.4 undecided within
         winding set undecided within",
        "cable_left_in 1 2 3 4
         unbalance_hidden 4",
    );
    has(
        "cable_left_in",
        false,
        "",
        "winding main 3.5 in 1.8..2.2 fail high",
    );
}

#[test]
fn a_temperature_that_nobody_entered_is_kept_in_mind_near_the_limits() {
    check(
        "",
        "winding main 2.4 in 1.8..2.2 fail high",
        "winding_high 1
         temperature_may_explain 1",
    );
    has(
        "temperature_may_explain",
        false,
        "",
        "winding main 3.4 in 1.8..2.2 fail high",
    );
    has(
        "temperature_may_explain",
        false,
        "cold",
        "winding main 2.4 in 1.8..2.2 fail high",
    );
}

/// The words that patterns look for in a reason are those that the rules write.
#[test]
fn the_rules_write_the_words_that_patterns_look_for() {
    let reason = |text: &str, change: fn(&mut Bench)| {
        let mut bench = Bench::read(text);
        change(&mut bench);
        value(&bench.case()).reason
    };
    let held = |b: &mut Bench| b.take.flags = Flags::FROZEN;
    for point in [
        "winding main; shown 2.0; limits 1.8 2.2",
        "ground all_to_ground; shown 2M",
    ] {
        let said = reason(point, held);
        assert!(said.contains("in hold, min, max or average"), "{said}");
    }
    let said = reason("insulation all_to_ground; shown 2M", |b| {
        b.take.flags = Flags::LOW_BATTERY;
    });
    assert!(said.contains("battery is low"), "{said}");
    let said = reason("insulation all_to_ground; shown 2M", |b| {
        b.take.outcome = Outcome::PulledDown {
            last: None,
            reached: Volts(210.0),
        };
    });
    assert!(said.contains("cannot hold its voltage"), "{said}");
    // IEEE 43: 5 MΩ at 40 °C; 20 MΩ at −10 to 80 °C is between the worst and the best of it.
    let said = reason("insulation all_to_ground; shown 20M", |b| {
        b.around.profile = Some(profile("ieee43"));
        b.motor.rated_v = Some(Volts(400.0));
        b.take.elapsed = Some(Duration::from_secs(60));
    });
    assert!(said.contains("enter the winding's temperature"), "{said}");
}

/// Every row of the trade's list has its place: the id, ours, and words of
/// ours that answer its cell.
#[test]
fn each_row_of_the_trade_list_is_covered() {
    const PLACES: [(&str, &str, &[&str]); 29] = [
        (
            "W-LOW",
            "winding_low",
            &[
                "shorted turns",
                "compare with the other phases",
                "clears no motor",
            ],
        ),
        (
            "W-HIGH",
            "winding_high",
            &[
                "poor splice",
                "subtract the cable",
                "the joint, not the winding",
            ],
        ),
        (
            "W-OPEN",
            "winding_open",
            &["broken wire", "cool", "1 : 1 : 2"],
        ),
        (
            "W-SHORT",
            "winding_shorted",
            &["jumper", "cable and motor apart", "four"],
        ),
        (
            "W-UNBAL",
            "unbalanced",
            &["bad joint", "by one lead and repeat", "cable is subtracted"],
        ),
        (
            "W-MIXED",
            "leads_mixed",
            &[
                "crossed",
                "highest of the three pairs is run to start",
                "burns",
            ],
        ),
        (
            "W-SUM",
            "sum_mismatch",
            &["poor contact", "control off", "one loop too many"],
        ),
        (
            "G-SHORT",
            "winding_to_ground",
            &["burnt", "each conductor", "do not energize"],
        ),
        (
            "G-LOW",
            "insulation_low",
            &["moisture", "40 °c", "band for installed"],
        ),
        (
            "G-FALL",
            "insulation_falls",
            &["wet insulation", "lower voltage", "do not raise"],
        ),
        (
            "G-HIGHOK",
            "leads_unproven",
            &[
                "clips",
                "bare metal",
                "more than the range, never as a number",
            ],
        ),
        (
            "G-OHMMETER",
            "low_voltage_only",
            &["insulation tester", "few volts", "is real"],
        ),
        (
            "M-WANDER",
            "reading_wanders",
            &["loose clip", "stop the shaft", "volts first"],
        ),
        (
            "M-FINGERS",
            "hands_or_damp",
            &["fingers", "hands off the metal", "never touch the leads"],
        ),
        (
            "M-LEADS",
            "all_high_alike",
            &["leads not subtracted", "four wires", "dirty clips"],
        ),
        (
            "M-PREFIX",
            "prefix_confused",
            &["missed", "its prefix", "mega"],
        ),
        (
            "M-CONTROL",
            "bleed_resistor",
            &[
                "control box",
                "both ends of the cable",
                "capacitor through a resistor",
            ],
        ),
        (
            "M-TEMP",
            "temperature_may_explain",
            &["0.39 %", "enter it", "in the sun"],
        ),
        (
            "M-CABLE",
            "cable_left_in",
            &["there and back", "counts both ways", "aluminium"],
        ),
        (
            "S-ELECTRONIC",
            "electronics_inside",
            &["ask the maker", "never put an insulation tester"],
        ),
        (
            "S-LOTO",
            "voltage_on_clips",
            &[
                "isolate, lock and tag",
                "try the start control",
                "no isolation",
            ],
        ),
        (
            "S-DEAD",
            "voltage_on_clips",
            &["known live source", "try it again", "ruin the meter"],
        ),
        (
            "S-DISCHARGE",
            "insulation_low",
            &["four times", "nothing is left", "charge come back"],
        ),
        (
            "S-WAIT",
            "insulation_falls",
            &["discharge fully before any repeat"],
        ),
        (
            "S-BADGROUND",
            "winding_to_ground",
            &[
                "repair before any power",
                "do not take the ground off",
                "protective device",
            ],
        ),
        (
            "S-BARRIER",
            "insulation_low",
            &["keep people away", "cover bare ends", "jump"],
        ),
        ("S-EX", "insulation_low", &["gas", "permit", "spark"]),
        (
            "S-LOCAL",
            "insulation_low",
            &["local code", "maker", "qualified person decides"],
        ),
        (
            "G-LOW",
            "insulation_low",
            &["lightning", "warm winding", "surface"],
        ),
    ];
    let text = include_str!("../../../tests/reference/diagnosis_trade.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let ids: Vec<String> = reader
        .records()
        .map(|r| r.expect("a row")[0].to_owned())
        .collect();
    assert_eq!(ids.len(), 28, "the list changed: {ids:?}");
    for id in &ids {
        assert!(
            PLACES.iter().any(|(known, ..)| known == id),
            "{id} has no place"
        );
    }
    for (id, name, words) in PLACES {
        assert!(ids.iter().any(|i| i == id), "{id} is not in the list");
        let meaning = TEXTS
            .iter()
            .find(|t| t.name == name)
            .expect("a name of the table");
        let ours = [meaning.causes, meaning.next_checks, meaning.cautions]
            .concat()
            .join(" ");
        let ours = format!("{} {ours}", meaning.says).to_lowercase();
        for word in words {
            assert!(ours.contains(word), "{id}: {name} does not say {word:?}");
        }
        // In our own words: no cell of the list stands in ours.
        assert!(!meaning.source.is_empty(), "{name} has no source");
    }
}

#[test]
fn no_text_of_the_table_is_copied_or_forbidden_and_names_are_there_once() {
    let text = include_str!("../../../tests/reference/diagnosis_trade.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let cells: Vec<String> = reader
        .records()
        .flat_map(|r| {
            r.expect("a row")
                .iter()
                .skip(4)
                .take(3)
                .map(str::to_lowercase)
                .collect::<Vec<_>>()
        })
        .flat_map(|cell| {
            cell.split([';', '.'])
                .map(|s| s.trim().to_owned())
                .collect::<Vec<_>>()
        })
        .filter(|s| s.split_whitespace().count() >= 8)
        .collect();
    assert!(cells.len() > 20, "{cells:?}");
    for (at, meaning) in TEXTS.iter().enumerate() {
        let lines = [
            meaning.causes,
            meaning.next_checks,
            meaning.cautions,
            &[meaning.says],
        ]
        .concat();
        for line in lines {
            harmless(line);
            for cell in &cells {
                assert!(
                    !line.to_lowercase().contains(cell.as_str()),
                    "{}: copied {cell:?}",
                    meaning.name
                );
            }
        }
        assert!(
            TEXTS[..at].iter().all(|t| t.name != meaning.name),
            "{}",
            meaning.name
        );
        assert!(
            TEXTS[..at]
                .iter()
                .all(|t| t.class <= meaning.class || t.class == meaning.class),
            "{} stands out of rank",
            meaning.name
        );
        assert!(
            meaning.cautions.iter().any(|c| c.contains("local code")),
            "{}",
            meaning.name
        );
    }
}

prop_compose! {
    fn a_line()(
        place in prop::sample::select(vec!["leads before", "leads after", "ground_path path", "winding main", "winding start", "winding total", "winding line_12", "winding line_23", "winding line_31", "winding set", "ground all_to_ground", "ground all_to_ground_swapped", "insulation all_to_ground", "insulation motor_to_ground", "insulation cable_to_ground", "sensor ptc", "ratio dar"]),
        value in prop::sample::select(vec!["0.2", "2.0", "2.00", "6.5", "8.5", "1.1", "150k", "2.0k", "0.3M", "80M", "OL", "aborted", "4volts", "0.8ratio"]),
        limits in prop::sample::select(vec!["", "in 1.8..2.2", "in 6..7", "in 1e6.."]),
        verdict in prop::sample::select(Verdict::ALL.to_vec()),
        finding in prop::sample::select(Finding::ALL.to_vec()),
    ) -> String {
        format!("{place} {value} {limits} {verdict} {finding}")
    }
}

proptest! {
    /// Whatever the rows say, what is made of them rests on rows, leads
    /// somewhere, and never says what must not be said.
    #[test]
    fn whatever_a_job_reads_nothing_forbidden_is_said(
        lines in prop::collection::vec(a_line(), 0..14),
        what in prop::sample::select(vec!["", "three_phase", "panel", "panel three_phase cold", "electronics"]),
    ) {
        let said = diagnosed(what, &lines.join("\n"));
        for diagnosis in &said {
            complete(diagnosis);
            prop_assert!(diagnosis.rows.iter().all(|r| (1..=lines.len() as u64).contains(r)));
        }
        let failed = lines.iter().filter(|l| l.contains(" fail ")).any(|l| l.starts_with("winding") || l.starts_with("ground ") || l.starts_with("insulation"));
        if failed {
            let standing_fail = diagnosed_fail(what, &lines);
            prop_assert!(!standing_fail || said.iter().all(|d| d.name != "nothing_found"), "{}", names(&said));
        }
    }
}

/// Whether the last row of some motor point failed.
fn diagnosed_fail(_: &str, lines: &[String]) -> bool {
    let place = |l: &str| l.split(' ').take(2).collect::<Vec<_>>().join(" ");
    let counts = |l: &&String| !l.contains("aborted");
    let mut last: Vec<(String, bool)> = Vec::new();
    for line in lines.iter().filter(counts) {
        last.retain(|(p, _)| *p != place(line));
        last.push((place(line), line.contains(" fail ")));
    }
    last.iter().any(|(p, fail)| {
        *fail
            && p != "winding set"
            && (p.starts_with("winding") || p.starts_with("ground ") || p.starts_with("insulation"))
    })
}
