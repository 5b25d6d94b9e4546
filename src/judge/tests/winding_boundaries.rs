//! Both sides of boundaries of windings, worked out by hand.
//!
//! Not configured, a meter's U is 1 % of the value and two counts: 0.4 Ω at 20.0 Ω.

use super::{Bench, check, d, judge, says};
use crate::limits::Kind;

#[track_caller]
fn says_not(text: &str, expected: &str, saying: &str) {
    let judgement = check(text, expected);
    assert!(
        !judgement.reason.contains(saying),
        "{text}: {saying:?} in {:?}",
        judgement.reason
    );
}

/// A sensor has no doubt of temperature, so that its U is exact.
#[test]
fn rule_06_a_limit_exactly_u_away_does_not_lie_within_it() {
    let at = |limits: &str, expected: &str| {
        check(
            &format!("sensor ptc; shown 20.0; terminals 4; guarded; limits {limits}"),
            expected,
        );
    };
    at("19.60 22", "pass within");
    at("19.61 22", "undecided within");
    at("18 20.40", "pass within");
    at("18 20.39", "undecided within");
    // 0.8 Ω wide is 2 U, not narrower.
    at("19.6 20.40", "pass within");
    at("19.6 20.39", "undecided limits_too_narrow");
}

#[test]
fn rule_04_leads_of_one_ohm_decide_to_the_count_what_may_be_hidden() {
    let at = |shown: &str, limits: &str, expected: &str| {
        check(
            &format!("winding main; shown {shown}; limits {limits}"),
            expected,
        );
    };
    // At the limit as read, it may be 1 Ω below it.
    at("1.8", "1.8 3.9", "undecided leads_unproven");
    at("1.7", "1.8 3.9", "fail low");
    at("2.7", "1.8 3.9", "undecided leads_unproven");
    at("2.8", "1.8 3.9", "pass within");
    // Above, it may be within until 1 Ω less is above too.
    at("2.3", "1.8 2.2", "undecided leads_unproven");
    at("3.2", "1.8 2.2", "undecided leads_unproven");
    at("3.3", "1.8 2.2", "fail high");
}

#[test]
fn rule_05_at_the_panel_a_value_at_the_limit_is_within() {
    let at = |shown: &str, expected: &str| {
        check(
            &format!("winding main; shown {shown}; null 0.3; panel; limits 1.8 2.2"),
            expected,
        );
    };
    at("2.0", "fail low");
    at("2.1", "undecided within");
    at("2.5", "undecided within");
    at("2.6", "undecided high");
}

#[test]
fn rule_07_a_range_that_just_reaches_the_limits_shows_an_open_winding() {
    check(
        "winding main; open 2199; limits 1800 2200",
        "undecided range_suspect",
    );
    check("winding main; open 2200; limits 1800 2200", "fail open");
    // A winding has to conduct whatever its limits say; a tap may be open above a lower one.
    check("winding main; open; limits 18 -", "fail open");
    check(
        "winding tap_1; open; limits 18 -",
        "undecided contact_unproven",
    );
}

/// U of a cable is 10 % of it: 0.20 Ω, more than the meter's.
#[test]
fn rule_07_a_short_needs_limits_above_twice_the_doubt() {
    let at = |shown: &str, limits: &str, expected: &str| {
        check(
            &format!("winding main; shown {shown}; terminals 4; cable 2.00; limits {limits}"),
            expected,
        );
    };
    at("2.20", "0.41 0.9", "fail shorted");
    at("2.20", "0.40 0.9", "fail low");
    at("2.21", "0.41 0.9", "fail low");
}

#[test]
fn rule_10_of_connections_that_fit_the_nearest_to_the_middle_is_named() {
    let at = |shown: &str, words: &str| {
        let mut bench = Bench::read(&format!(
            "winding line_12; shown {shown}; terminals 4; temp 20; ref 20; limits 10 30"
        ));
        bench.motor.kind = Kind::ThreePhase;
        let judgement = bench.judge();
        assert!(judgement.reason.contains(words), "{}", judgement.reason);
    };
    // The middle is 20: 60 is 30, 20 or 15 of it; 44 is 22, 14.7 or 11; 80 is 40, 26.7 or 20.
    at("60.0", "about three times the limits");
    at("44.0", "about twice the limits");
    at("80.0", "about four times the limits");
    // 9.0 is 18, 27 or 36; 6.0 is 12, 18 or 24; 4.5 is 9, 13.5 or 18.
    at("9.0", "about half the limits");
    at("6.0", "about a third of the limits");
    at("4.5", "about a quarter of the limits");
}

#[test]
fn rule_07_only_a_winding_is_explained_as_one() {
    let words = "points to";
    says("winding main; open; limits 18 22", "fail open", words);
    says_not("sensor ptc; open; limits 20 250", "fail open", words);
    says_not("winding tap_1; open", "not_judged open", words);
    says_not(
        "winding main; shown 20.0; terminals 4; limits 18 22",
        "pass within",
        words,
    );
}

#[test]
fn rule_05_what_was_not_corrected_is_said_of_windings_alone() {
    let words = "not corrected for temperature";
    says(
        "winding main; shown 20.0; terminals 4; limits 18 22",
        "pass within",
        words,
    );
    says_not(
        "sensor ptc; shown 120.0; limits 20 250",
        "pass within",
        words,
    );
}

#[test]
fn the_limits_and_their_source_go_with_the_judgement() {
    let with = judge("winding main; shown 20.0; terminals 4; limits 18 22");
    assert_eq!(
        (with.lower_ohms, with.upper_ohms),
        (Some(d("18")), Some(d("22")))
    );
    assert_eq!(with.limits_from, "hatchery list 2 (invented)");
    assert!(with.acceptance.is_some());
    let without = judge("winding main; shown 20.0; terminals 4");
    assert_eq!((without.lower_ohms, without.upper_ohms), (None, None));
    assert_eq!(without.limits_from, "");
    assert_eq!(without.acceptance, None);
}

#[test]
fn a_difference_is_shown_where_something_was_subtracted() {
    says(
        "winding main; shown 2.6; null 0.3; limits 1.8 2.3",
        "pass within",
        "shown 2.6 Ω − leads 0.3 = 2.3 Ω;",
    );
    says(
        "winding main; shown 2.6; terminals 4; cable 0.3; limits 1.8 2.3",
        "pass within",
        "shown 2.6 Ω − cable 0.3 = 2.3 Ω (cable",
    );
    says(
        "winding main; shown 2.2; terminals 4; limits 1.8 2.3",
        "pass within",
        "shown 2.2 Ω;",
    );
}

#[test]
fn rule_07_an_open_winding_says_its_limits_and_whether_the_leads_are_proven() {
    let (limits, leads) = ("limits 18 to 22 Ω", "the leads are not proven");
    says("winding main; open; limits 18 22", "fail open", limits);
    says_not("winding main; open", "fail open", "limits");
    says("winding main; open; leads none", "fail open", leads);
    says_not("winding main; open; leads before", "fail open", leads);
}
