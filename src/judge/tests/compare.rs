//! Comparing with what the asset read before: both ways, and never over the limits.

use super::{Bench, Judgement, d, words};
use crate::limits::{Conductor, Earlier, Point, Test, Was};
use crate::quantity::{Celsius, Volts};
use crate::row::Finding;
use crate::text::Text;

/// A case with what it was before: ohms, U, then `temp 20`, `volts 500`, `held 60`, `cable 2`.
pub(super) fn compared(text: &str, was: &str) -> Judgement {
    let mut bench = Bench::read(text);
    let mut items = was.split(';').map(str::trim);
    let (ohms, u) = items
        .next()
        .and_then(|first| first.split_once(' '))
        .expect("ohms and U");
    let mut then = Was {
        point: Point::new(Test::Winding, "main"),
        seq: 12,
        ohms: d(ohms),
        u: d(u),
        temperature: None,
        test_voltage: None,
        held_s: None,
        cable: None,
        conductor: Conductor::Copper,
    };
    then.point = bench.point.clone();
    for item in items {
        let (key, value) = item.split_once(' ').expect("a key and a number");
        match key {
            "temp" => then.temperature = Some(Celsius(value.parse().expect("a number"))),
            "volts" => then.test_voltage = Some(Volts(value.parse().expect("a number"))),
            "held" => then.held_s = Some(d(value)),
            "cable" => then.cable = Some(d(value)),
            other => panic!("no key {other}"),
        }
    }
    bench.around.was = Some(Earlier {
        job: Text::clean("J12"),
        recorded_at: Text::clean("2026-03-01T09:30:00.000Z"),
        was: then,
    });
    bench.judge()
}

#[track_caller]
fn check(text: &str, was: &str, expected: &str, saying: &str) {
    let judgement = compared(text, was);
    assert_eq!(words(&judgement), expected, "{}", judgement.reason);
    assert!(
        judgement.reason.contains(saying),
        "{saying:?} is not in {:?}",
        judgement.reason
    );
}

/// Four wires, 0.1 % of accuracy: the doubt is that of the temperatures.
const FOUR: &str = "winding main; terminals 4; accuracy 0.1 0; limits 2.0 3.0";

#[test]
fn a_winding_that_moved_at_the_same_temperature_has_changed_and_keeps_its_verdict() {
    // 2.52 / 2.31 = 1.0909. U: two temperatures of ± 2 K in 254.5 K, each
    // 2·2/√3/254.5 = 0.91 %, together 1.28 % of 2.31 = 0.030; the meter's are small.
    check(
        &format!("{FOUR}; shown 2.52; temp 20"),
        "2.31 0.003; temp 20",
        "pass changed",
        "was 2.31 Ω in J12 on 2026-03-01, now 2.52 Ω at the same temperature: 9.09 % more than then, changed (3 % or U 0.03 Ω allowed)",
    );
    check(
        &format!("{FOUR}; shown 2.33; temp 20"),
        "2.31 0.003; temp 20",
        "pass within",
        "not changed beyond doubt",
    );
    check(
        &format!("{FOUR}; shown 2.10; temp 20"),
        "2.31 0.003; temp 20",
        "pass changed",
        "less than before points to shorted turns",
    );
}

#[test]
fn three_percent_is_the_edge_when_u_is_smaller() {
    // 3 % of 2.310 is 0.0693: 2.379 is 0.069 more, 2.380 is 0.070 more.
    let at = |shown: &str| {
        words(&compared(
            &format!("{FOUR}; shown {shown}; temp 20"),
            "2.310 0.003; temp 20",
        ))
    };
    assert_eq!(at("2.379"), "pass within");
    assert_eq!(at("2.380"), "pass changed");
    assert_eq!(at("2.241"), "pass within");
    assert_eq!(at("2.240"), "pass changed");
}

#[test]
fn a_warm_winding_has_not_changed_when_both_temperatures_are_known() {
    // 2.31 (234.5 + 60) / (234.5 + 20) = 2.6731.
    let warm = format!("{FOUR}; shown 2.67; temp 60");
    check(&warm, "2.31 0.003; temp 20", "pass within", "2.673");
    // At the same number but at one temperature it has: 15.6 % more.
    let same = format!("{FOUR}; shown 2.67; temp 20");
    check(&same, "2.31 0.003; temp 20", "pass changed", "15.6 % more");
    // And a short that hides behind heat shows: 2.31 at 60 °C should be 2.67.
    let hidden = format!("{FOUR}; shown 2.31; temp 60");
    check(&hidden, "2.31 0.003; temp 20", "pass changed", "less");
}

#[test]
fn temperatures_that_nobody_knows_widen_what_is_allowed() {
    // One known at 20: ± 20 K, 2·20/√3/254.5 = 9.07 % of 2.31 = 0.21.
    let at = |shown: &str, temp: &str, was: &str| {
        words(&compared(&format!("{FOUR}; shown {shown}{temp}"), was))
    };
    assert_eq!(at("2.52", "; temp 20", "2.31 0.003"), "pass changed");
    assert_eq!(at("2.51", "; temp 20", "2.31 0.003"), "pass within");
    // Neither known: √2 times as much, 0.296.
    assert_eq!(at("2.60", "", "2.31 0.003"), "pass within");
    assert_eq!(at("2.61", "", "2.31 0.003"), "pass changed");
    // Known at 60 then: up to 60 K apart, 27.2 % of it.
    assert_eq!(at("1.95", "", "2.67 0.003; temp 60"), "fail low");
    assert_eq!(at("2.01", "", "2.67 0.003; temp 60"), "pass within");
}

#[test]
fn limits_keep_their_word_and_the_reason_mentions_the_change() {
    check(
        &format!("{FOUR}; shown 1.90; temp 20"),
        "2.31 0.003; temp 20",
        "fail low",
        "17.7 % less than then, changed",
    );
    check(
        &format!("{FOUR}; shown 3.30; temp 20"),
        "3.29 0.003; temp 20",
        "fail high",
        "not changed beyond doubt",
    );
    check(
        "winding main; terminals 4; accuracy 0.1 0; shown 2.52; temp 20",
        "2.31 0.003; temp 20",
        "not_judged changed",
        "no limits to judge it by",
    );
    check(
        &format!("{FOUR}; open"),
        "2.31 0.003",
        "fail open",
        "was 2.31 Ω in J12 on 2026-03-01, now over-range",
    );
}

#[test]
fn a_coarse_meter_has_no_change_that_its_doubt_explains() {
    // 0.1 Ω a count, accuracy not configured: 1 % and 2 counts = 0.22.
    check(
        "winding main; terminals 4; limits 2.0 3.0; shown 2.5; temp 20",
        "2.3 0.22; temp 20",
        "pass within",
        "not changed beyond doubt",
    );
}

#[test]
fn leads_that_are_in_it_are_no_change() {
    // Both windings are 20 Ω; now with leads of 0.9 Ω that nobody subtracted.
    check(
        "winding main; accuracy 0.1 0; limits 15 30; shown 20.90; temp 20",
        "20.00 0.01; temp 20",
        "pass within",
        "the leads are in it",
    );
}

#[test]
fn the_same_cable_is_subtracted_on_both_sides() {
    // 6.31 through a cable of 4: 2.31. Another resistance entered for the same cable now.
    check(
        &format!("{FOUR}; shown 6.31; temp 20; cable 3.8"),
        "2.31 0.003; temp 20; cable 4",
        "pass within",
        "now 2.31 Ω",
    );
}

#[test]
fn a_reading_that_is_not_what_is_on_the_clips_is_not_compared() {
    for line in [
        "winding main; terminals 4; limits 2 3; shown 2.9; flag frozen",
        "winding main; terminals 4; limits 2 3; shown 2.9k",
        "winding main; terminals 4; limits 2 3; shown 2.9; flag live",
        "insulation all_to_ground; electronics yes; shown 1M; volts 500",
        "insulation all_to_ground; profile pump-a; condition installed-used; planned 500; volts 1000; shown 1M",
    ] {
        let judgement = compared(line, "2.31 0.003; temp 20; volts 1000");
        assert_ne!(judgement.finding, Some(Finding::Changed), "{line}");
        assert!(!judgement.reason.contains("J12"), "{}", judgement.reason);
    }
}

#[test]
fn a_cold_baseline_makes_the_winding_its_own_thermometer_for_information() {
    // (234.5 + 20) · 2.52/2.31 − 234.5 = 43.1 °C; ± 2 K of then alone is
    // 0.91 % of 277.6 K, 2.5 K, the meters' 0.2 % add little.
    check(
        &format!("{FOUR}; ref 20; shown 2.52"),
        "2.31 0.003; temp 20",
        "pass changed",
        "the winding is at 43 °C ± 3 K; for information, not used",
    );
    let with = compared(
        &format!("{FOUR}; ref 20; shown 2.52"),
        "2.31 0.003; temp 20",
    );
    let without = super::judge(&format!("{FOUR}; ref 20; shown 2.52"));
    assert_eq!(with.judged_ohms, without.judged_ohms);
    assert_eq!(with.uncertainty_ohms, without.uncertainty_ohms);
    // (254.5) · 4.8/2.31 − 234.5 = 294 °C.
    check(
        "winding main; terminals 4; accuracy 0.1 0; shown 4.80",
        "2.31 0.003; temp 20",
        "not_judged changed",
        "no temperature of a winding explains it",
    );
    // A known temperature needs no thermometer.
    let known = compared(
        &format!("{FOUR}; shown 2.33; temp 20"),
        "2.31 0.003; temp 20",
    );
    assert!(
        !known.reason.contains("for information"),
        "{}",
        known.reason
    );
}

const PUMP: &str = "insulation all_to_ground; profile pump-a; condition installed-used";

#[test]
fn insulation_below_a_third_at_the_same_voltage_has_changed() {
    let now = |more: &str| format!("{PUMP}; planned 500; {more}");
    let then = "90e6 1e6; temp 20; volts 500; held 10";
    check(
        &now("shown 29M; temp 25; volts 510; elapsed 10"),
        then,
        "pass changed",
        "was 90 MΩ in J12 on 2026-03-01, now 29 MΩ: below a third of it, changed",
    );
    check(
        &now("shown 30M; temp 25; volts 510; elapsed 10"),
        then,
        "pass within",
        "not below a third of it",
    );
    check(
        &now("shown 300M; temp 25; volts 510; elapsed 10"),
        then,
        "pass within",
        "not below a third of it",
    );
    check(
        &now("shown 0.3M; temp 25; volts 510; elapsed 10"),
        then,
        "fail below_minimum",
        "below a third of it, changed",
    );
    check(
        "insulation all_to_ground; shown 20M; temp 25; volts 510; elapsed 10",
        then,
        "not_judged changed",
        "no insulation profile",
    );
}

#[test]
fn insulation_that_cannot_be_compared_is_only_said() {
    let now = |more: &str| format!("{PUMP}; shown 9M; {more}");
    let then = "90e6 1e6; temp 20; volts 500; held 10";
    for (more, was, saying) in [
        (
            "temp 31; volts 500; elapsed 10",
            then,
            "more than 10 K apart",
        ),
        (
            "volts 500; elapsed 10",
            then,
            "temperatures are not both known",
        ),
        (
            "temp 20; volts 1000; elapsed 10",
            then,
            "the test voltage is another",
        ),
        (
            "temp 20; volts 440; elapsed 10",
            then,
            "the test voltage is another",
        ),
        (
            "temp 20; elapsed 10",
            then,
            "test voltages are not both known",
        ),
        (
            "temp 20; volts 500; elapsed 10",
            "90e6 1e6; temp 20; volts 500; held 60",
            "on for another time",
        ),
    ] {
        check(&now(more), was, "pass within", saying);
    }
}

#[test]
fn without_an_earlier_value_nothing_is_said() {
    let judgement = super::judge(&format!("{FOUR}; shown 2.52; temp 20"));
    assert_eq!(words(&judgement), "pass within");
    assert!(!judgement.reason.contains("than then"));
}

/// Meter 2 √((5 × 0.01)²/3 + 0.005²/3) = 0.0580; a null to 0.1, 2 √(0.5²/3 + 0.05²/3) =
/// 0.5802; two temperatures 1.283 % of 2.31 = 0.0296; together 0.5839 Ω.
#[test]
fn the_doubt_of_a_null_of_another_range_is_in_the_comparison() {
    check(
        "winding main; shown 2.52; null 0.2 0.1; accuracy 0 5; temp 20; limits 2.0 3.0",
        "2.31 0.003; temp 20",
        "pass within",
        "now 2.32 Ω at the same temperature: 0.433 % more than then, not changed beyond doubt (3 % or U 0.584 Ω allowed)",
    );
}

/// 0.500 × 294.5/254.5 = 0.5786; temperatures 1.199 % of 2.673 = 0.0321; meter 0.0065.
#[test]
fn the_doubt_of_then_grows_with_the_temperature() {
    check(
        &format!("{FOUR}; shown 2.67; temp 60"),
        "2.31 0.500; temp 20",
        "pass within",
        "U 0.58 Ω allowed",
    );
}

#[test]
fn it_is_said_how_the_temperatures_compare() {
    let reason = |temp: &str, was: &str| compared(&format!("{FOUR}; shown 2.95{temp}"), was).reason;
    let (as_read, same) = ("now 2.95 Ω as read", "at the same temperature");
    let enter = "enter the winding's temperature, which may explain it";
    let unknown = reason("", "2.31 0.003");
    assert!(
        unknown.contains(as_read) && unknown.contains(enter),
        "{unknown}"
    );
    assert!(!unknown.contains(same), "{unknown}");
    let alike = reason("; temp 20", "2.31 0.003; temp 20");
    assert!(
        alike.contains(same) && !alike.contains("as read"),
        "{alike}"
    );
    assert!(!alike.contains(enter), "{alike}");
    let warmer = reason("; temp 30", "2.31 0.003; temp 20");
    assert!(
        !warmer.contains(same) && !warmer.contains("as read"),
        "{warmer}"
    );
}

/// 254.5 × 2.20/2.00 − 234.5 = 45.45 °C. Then 5 %, now 2 √((5 % of 2.20)²/3 + 0.005²/3) =
/// 0.1271 Ω or 5.78 %, ± 2 K 0.907 %: 7.696 % of 279.95 K is 21.5 K.
#[test]
fn a_winding_as_a_thermometer_has_the_doubt_of_both_readings() {
    check(
        "winding main; terminals 4; accuracy 5 0; limits 2.0 3.0; shown 2.20",
        "2.00 0.10; temp 20",
        "pass within",
        "the winding is at 45 °C ± 22 K",
    );
    let nothing = compared(&format!("{FOUR}; shown 0.00"), "2.00 0.10; temp 20");
    assert_eq!(words(&nothing), "fail shorted");
    assert!(
        !nothing.reason.contains("temperature of a winding"),
        "{}",
        nothing.reason
    );
}

#[test]
fn a_tester_pulled_down_is_compared_at_the_voltage_it_reached() {
    let pulled = "insulation all_to_ground; pulled 490 1.0M; elapsed 60; temp 20; profile pump-a; condition installed-used";
    let was = "5.0e6 1e6; volts 500; held 60; temp 20";
    check(
        pulled,
        was,
        "undecided unstable",
        "below a third of it, changed; moisture, dirt or ageing",
    );
    // A voltage that it shows is no resistance.
    let volts = compared(&format!("{pulled}; unit volt"), was);
    assert!(!volts.reason.contains("was 5"), "{}", volts.reason);
}

/// 3 % of 100 is 3, more than the U of two temperatures, 1.283 %.
#[test]
fn moved_by_three_percent_is_not_moved_by_more() {
    let at = |shown: &str| {
        words(&compared(
            &format!(
                "winding main; terminals 4; accuracy 0.1 0; limits 90 110; shown {shown}; temp 20"
            ),
            "100.0 0.003; temp 20",
        ))
    };
    assert_eq!([at("103.0"), at("103.1")], ["pass within", "pass changed"]);
    assert_eq!([at("97.0"), at("96.9")], ["pass within", "pass changed"]);
}
