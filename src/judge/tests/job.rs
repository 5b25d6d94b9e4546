//! Rules 12 and 18: what a job comes to, and the banner.

use super::{Bench, Motor, Point, PointResult, STANDING, Standing, do_not_energize, job_outcome};
use crate::limits::Test;
use crate::row::{Finding, JobOutcome, Verdict};

/// Reads `ground all_to_ground pass no_fault_seen, insulation all_to_ground due`.
fn points(text: &str) -> Vec<PointResult> {
    text.split(',')
        .map(|line| {
            let w: Vec<&str> = line.split_whitespace().collect();
            let standing = match w[2] {
                "due" => Standing::Due,
                "skipped" => Standing::Skipped,
                "attested" => Standing::Attested,
                verdict => Standing::Judged {
                    verdict: Verdict::from_word(verdict).expect("a verdict"),
                    finding: w.get(3).and_then(|f| Finding::from_word(f)),
                    proof_due: w.get(4) == Some(&"proof_due"),
                },
            };
            PointResult {
                point: Point::new(Test::from_word(w[0]).expect("a test"), w[1]),
                standing,
            }
        })
        .collect()
}

fn motor(settings: &str) -> Motor {
    Bench::read(&format!("winding main{settings}")).motor
}

#[track_caller]
fn comes_to(settings: &str, text: &str, expected: &str, saying: &str) {
    let outcome = job_outcome(&points(text), &motor(settings));
    assert_eq!(outcome.outcome.word(), expected, "{text}: {}", outcome.why);
    assert!(
        outcome.why.contains(saying),
        "{saying:?} not in {:?}",
        outcome.why
    );
}

const START: &str = "dead before attested, leads before pass within, winding main pass within";
const GROUND: &str = "ground all_to_ground pass no_fault_seen";
const INSULATION: &str = "insulation all_to_ground pass above_range";

#[test]
fn rule_12_a_job_is_complete_with_ground_and_insulation() {
    comes_to(
        "",
        &format!("{START}, {GROUND}, {INSULATION}"),
        "no_fault_found",
        "no fault found by these tests",
    );
    comes_to(
        "",
        &format!("{START}, {GROUND}"),
        "incomplete",
        "insulation not tested",
    );
    comes_to(
        "",
        &format!("{START}, {INSULATION}"),
        "incomplete",
        "ground not measured",
    );
    comes_to(
        "",
        &format!("{START}, {GROUND}, insulation all_to_ground due"),
        "incomplete",
        "insulation all_to_ground not measured",
    );
    comes_to(
        "",
        &format!("{START}, {GROUND}, insulation all_to_ground skipped"),
        "incomplete",
        "left out",
    );
}

#[test]
fn rule_12_only_electronics_or_the_catalogue_excuse_from_insulation() {
    let ground = format!("{START}, {GROUND}");
    comes_to(
        "; electronics yes",
        &ground,
        "no_fault_found",
        "insulation not tested",
    );
    comes_to(
        "; itest forbidden",
        &ground,
        "no_fault_found",
        "insulation not tested",
    );
    comes_to(
        "; electronics unknown",
        &ground,
        "incomplete",
        "nobody knows",
    );
    comes_to(
        "; itest leads_joined_only; electronics yes",
        &ground,
        "incomplete",
        "insulation not tested",
    );
}

#[test]
fn the_worst_word_wins_and_what_is_missing_is_said() {
    comes_to(
        "",
        &format!("{START}, winding start fail low, ground all_to_ground undecided leads_unproven"),
        "fault_found",
        "winding start low; missing: insulation not tested",
    );
    comes_to(
        "",
        &format!("{START}, ground all_to_ground undecided leads_unproven, {INSULATION}"),
        "undecided",
        "ground all_to_ground leads_unproven",
    );
    comes_to(
        "",
        &format!("{START}, winding start not_judged, {GROUND}, {INSULATION}"),
        "incomplete",
        "winding start not judged",
    );
    comes_to("", "dead before due", "incomplete", "winding not measured");
}

#[test]
fn bad_leads_are_no_fault_of_the_motor() {
    comes_to(
        "",
        &format!("{START}, {GROUND}, {INSULATION}, leads after fail changed"),
        "undecided",
        "leads after changed",
    );
}

#[test]
fn rule_09_the_set_speaks_for_mixed_leads_and_a_thermal_switch() {
    let rest = format!("{GROUND}, {INSULATION}");
    comes_to(
        "",
        &format!(
            "winding main fail high, winding start fail low, winding total not_judged, winding set undecided leads_mixed, {rest}"
        ),
        "undecided",
        "leads_mixed",
    );
    comes_to(
        "",
        &format!(
            "winding main fail open, winding start fail open, winding total not_judged, winding set undecided open, {rest}"
        ),
        "undecided",
        "winding set open",
    );
    comes_to(
        "",
        &format!(
            "winding main fail low, winding start fail open, winding total not_judged, winding set undecided open, {rest}"
        ),
        "fault_found",
        "winding main low",
    );
    comes_to(
        "",
        &format!(
            "winding line_12 fail open, winding line_23 pass within, winding line_31 pass within, winding set undecided open, {rest}"
        ),
        "undecided",
        "winding set open",
    );
    // The total has no limits of its own: the set judges it.
    comes_to(
        "",
        &format!(
            "winding main pass within, winding start pass within, winding total not_judged, winding set pass within, {rest}"
        ),
        "no_fault_found",
        "",
    );
}

#[test]
fn rule_18_do_not_energize_at_once_on_a_fault_to_ground() {
    let banner = |text: &str, ended| do_not_energize(&points(text), ended);
    let failed = banner("ground all_to_ground fail to_ground", false).expect("a banner");
    assert!(failed.starts_with("DO NOT ENERGIZE"), "{failed}");
    assert_eq!(banner("winding main fail low", false), None);
    let due = banner(
        "ground all_to_ground undecided leads_unproven proof_due",
        false,
    );
    assert_eq!(
        due.as_deref(),
        Some("NOT PROVEN YET: join the clips when asked")
    );
}

#[test]
fn rule_18_do_not_energize_at_the_end_without_both_passes() {
    let banner = |text: &str| do_not_energize(&points(text), true);
    assert_eq!(banner(&format!("{GROUND}, {INSULATION}")), None);
    for lacking in [
        GROUND.to_owned(),
        INSULATION.to_owned(),
        String::from("winding main pass within"),
        format!("{GROUND}, insulation all_to_ground undecided leads_unproven proof_due"),
        format!("{GROUND}, insulation all_to_ground skipped"),
        format!("{GROUND}, {INSULATION}, insulation between_main_start not_judged"),
    ] {
        let said = banner(&lacking).expect("a banner");
        assert!(said.starts_with("DO NOT ENERGIZE"), "{lacking}: {said}");
    }
}

#[test]
fn nothing_ever_says_good_or_safe() {
    for outcome in JobOutcome::ALL {
        assert!(!outcome.word().contains("good") && !outcome.word().contains("safe"));
    }
    let why = job_outcome(
        &points(&format!("{START}, {GROUND}, {INSULATION}")),
        &motor(""),
    )
    .why;
    for words in [why.as_str(), STANDING] {
        assert!(
            !words.contains("good") && !words.contains("safe"),
            "{words}"
        );
    }
}

#[test]
fn rule_09_the_set_speaks_for_its_own_three_values_alone() {
    for of_another in [
        "winding tap_1 fail low",
        "sensor ptc fail high",
        "insulation between_main_start fail below_minimum",
    ] {
        comes_to(
            "",
            &format!(
                "{START}, {of_another}, winding set undecided leads_mixed, {GROUND}, {INSULATION}"
            ),
            "fault_found",
            "",
        );
    }
}

#[test]
fn rule_12_only_the_total_may_be_left_to_the_set() {
    for needed in ["winding main", "winding start", "sensor ptc"] {
        comes_to(
            "",
            &format!(
                "{START}, {needed} not_judged, winding set pass within, {GROUND}, {INSULATION}"
            ),
            "incomplete",
            &format!("{needed} not judged"),
        );
    }
    for (set, expected) in [
        ("winding set pass within", "no_fault_found"),
        ("winding set not_judged", "incomplete"),
    ] {
        comes_to(
            "",
            &format!("{START}, winding total not_judged, {set}, {GROUND}, {INSULATION}"),
            expected,
            "",
        );
    }
}
