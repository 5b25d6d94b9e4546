//! Rules 4 to 8: windings.

use super::{Bench, Outcome, check, d, judge, says};

#[test]
fn rule_04_the_null_is_subtracted_exactly() {
    // 2.6 − 0.3 is 2.3 and meets a limit of 2.3.
    let j = check(
        "winding main; shown 2.6; null 0.3; limits 1.8 2.3",
        "pass within",
    );
    assert_eq!(
        (j.judged_ohms, j.leads_ohms),
        (Some(d("2.3")), Some(d("0.3")))
    );
    check(
        "winding main; shown 2.6; null 0.3; limits 1.8 2.2",
        "fail high",
    );
    check(
        "winding main; shown 2.6; null 0.3; cable 0.47; limits 1.83 1.83",
        "pass within",
    );
}

#[test]
fn rule_04_the_null_is_refused_with_four_wires_or_a_relative_meter() {
    for refused in ["terminals 4", "flag relative"] {
        let j = check(
            &format!("winding main; shown 2.0; null 0.3; limits 1.8 2.2; {refused}"),
            "pass within",
        );
        assert_eq!((j.judged_ohms, j.leads_ohms), (Some(d("2.0")), None));
    }
}

#[test]
fn rule_04_far_below_zero_is_a_wrong_null() {
    check(
        "winding main; shown 0.1; null 0.6; limits - 2.2",
        "pass within",
    );
    check(
        "winding main; shown 0.1; null 0.7; limits - 2.2",
        "undecided null_suspect",
    );
    check("winding main; shown -0.6", "undecided null_suspect");
}

#[test]
fn rule_04_the_null_counts_in_the_uncertainty() {
    let u = |text: &str| {
        judge(&format!("winding main; shown 20.0; limits 15 25; temp 20; ref 20; terminals 4; accuracy 0 5{text}"))
            .uncertainty_ohms
            .expect("a U")
            .to_f64()
    };
    let two = |text: &str| {
        judge(&format!(
            "winding main; shown 20.0; limits 15 25; temp 20; ref 20; accuracy 0 5{text}"
        ))
        .uncertainty_ohms
        .expect("a U")
        .to_f64()
    };
    // Another range: both offsets count. The same range: they cancel.
    assert!(two("; null 0.30") > u(""));
    assert!(two("; null 0.3") < u(""));
}

#[test]
fn rule_05_corrected_to_the_reference_when_the_temperature_is_known() {
    // 1.93 × (234.5 + 25)/(234.5 + 30.5) = 1.88994…, to a thousandth of an ohm: 1.890.
    let j = check(
        "winding main; shown 4.3; null 0.3; cable 2.07; temp 30.5; ref 25; limits 1.8 2.2",
        "pass within",
    );
    assert_eq!(j.judged_ohms, Some(d("1.890")));
    for term in [
        "shown 4.3 Ω − leads 0.3 − cable 2.07 = 1.93 Ω",
        "at 25 °C 1.89 Ω",
        "limits 1.8 to 2.2 Ω",
        "simple",
    ] {
        assert!(j.reason.contains(term), "{term:?} not in {:?}", j.reason);
    }
    // Aluminium has another k: 10.00 × (228 + 20)/(228 + 70) = 8.3221….
    let j = judge(
        "winding main; shown 10.00; terminals 4; conductor aluminium; temp 70; ref 20; limits 1 20",
    );
    assert_eq!(j.judged_ohms, Some(d("8.3221")));
}

#[test]
fn rule_05_an_unknown_temperature_is_said_and_enters_u() {
    let at = |temp: &str| {
        judge(&format!(
            "winding main; shown 20.00; terminals 4; limits 18 22; guarded; ref 20{temp}"
        ))
    };
    let (known, unknown) = (at("; temp 20"), at(""));
    assert_eq!(
        (known.verdict.word(), unknown.verdict.word()),
        ("pass", "pass")
    );
    assert!(
        unknown.reason.contains("not corrected"),
        "{}",
        unknown.reason
    );
    assert_eq!(unknown.judged_ohms, Some(d("20.00")));
    // Rectangular ± 20 K of copper at 20 °C: 2 × 20/√3 / 254.5 of 20 Ω is 1.815.
    let u = unknown.uncertainty_ohms.expect("a U").to_f64();
    assert!(
        (u - (1.815_f64 * 1.815 + 0.22 * 0.22).sqrt()).abs() < 0.002,
        "{u}"
    );
    assert!(known.uncertainty_ohms.expect("a U").to_f64() < 0.5);
}

/// 4.3 shown on a range of hundredths, through 2.07 Ω of cable, at 30.5 °C.
fn through_a_cable(more: &str) -> Bench {
    let mut bench = Bench::read(&format!(
        "winding main; shown 4.3; null 0.3 0.01; cable 2.07; accuracy 0.9 3; temp 30.5; ref 25; limits 1.8 2.2{more}"
    ));
    let Outcome::Value(shown) = &mut bench.take.outcome else {
        panic!("a value");
    };
    shown.resolution = d("0.01");
    bench
}

#[test]
fn rule_06_the_terms_read_as_they_were_computed() {
    // By hand, at 25 °C each part × 259.5/265: meter 2 √((0.9 % of 4.0)²/3 + 0.01²/6) = 0.0424;
    // cable 10 % of 2.07; temperature 2 × 3.5/√3/265 of 1.93 = 0.0294; together 0.2088.
    let j = through_a_cable("; guarded").judge();
    assert_eq!(
        j.reason,
        "shown 4.3 Ω − leads 0.3 − cable 2.07 = 1.93 Ω (cable: as given, ±10 %); \
         at 25 °C 1.89 Ω (measured at 30.5 °C; copper, k 234.5 of IEEE 112); \
         U 0.21 Ω (k = 2: meter 0.04, cable 0.20, temperature 0.03); limits 1.8 to 2.2 Ω; guarded; undecided; \
         limits narrower than 2 U: most of U is the cable, measure at the splice"
    );
    let u = j.uncertainty_ohms.expect("a U").to_f64();
    assert!((u - 0.2088).abs() < 0.0002, "{u}");
    // At the splice there is no cable, and the same winding passes: √(0.0212² + 0.0288²) by hand.
    says(
        "winding main; shown 2.23; null 0.30; accuracy 0.9 3; temp 30.5; ref 25; limits 1.8 2.2; guarded",
        "pass within",
        "U 0.036 Ω",
    );
}

#[test]
fn rule_06_the_cable_counts_by_its_own_doubt() {
    let u = |doubt: &str| {
        let mut bench = through_a_cable("");
        bench.around.cable.as_mut().expect("a cable").doubt_percent = d(doubt);
        bench.judge()
    };
    let [much, little] = [u("10"), u("1")].map(|j| j.uncertainty_ohms.expect("a U").to_f64());
    assert!((much - 0.2088).abs() < 0.0002, "{much}");
    // 1 % of 2.07 is 0.0203 at 25 °C: √(0.0415² + 0.0203² + 0.0288²).
    assert!((little - 0.0544).abs() < 0.0002, "{little}");
    assert!(u("1").reason.contains("a limit lies within U") == (2.2 - 1.89 < 0.0544));
    // What one meter reads in hundredths is not what makes it doubtful: the percentage is of all that it read.
    let short = judge(
        "winding main; shown 4.30; null 0.30; cable 3.90; accuracy 1 0; temp 20; ref 20; limits 0.1 0.9",
    );
    let meter = short
        .reason
        .split("meter ")
        .nth(1)
        .and_then(|r| r.split(',').next());
    assert_eq!(meter, Some("0.05"), "{}", short.reason);
}

#[test]
fn rule_06_the_largest_part_names_the_cheapest_way() {
    let way = |text: &str, way: &str| {
        let judgement = judge(&format!("winding main; {text}; guarded; limits 19.9 20.1"));
        assert_eq!(
            judgement.verdict.word(),
            "undecided",
            "{}",
            judgement.reason
        );
        assert!(
            judgement.reason.contains(way),
            "{way:?} is not in {:?}",
            judgement.reason
        );
    };
    way(
        "shown 20.0; terminals 4",
        "temperature, enter the winding's temperature",
    );
    way(
        "shown 20.0; terminals 4; temp 20",
        "temperature, write in motors.csv at which reference_c",
    );
    way(
        "shown 20.0; terminals 4; temp 20; ref 20",
        "meter, configure the meter's accuracy",
    );
    way(
        "shown 20.0; null 0.0; temp 20; ref 20; accuracy 3 2",
        "meter, use a finer range or a four-wire meter",
    );
    way(
        "shown 20.0; terminals 4; temp 20; ref 20; accuracy 3 2",
        "meter, use a finer range or a more accurate meter",
    );
    way(
        "shown 20.00; null 0.0 1; temp 20; ref 20; accuracy 0.1 1",
        "leads, join the clips again on the range of the reading",
    );
    way(
        "shown 30.0; terminals 4; cable 10.0; temp 20; ref 20",
        "cable, measure at the splice",
    );
    // Nothing shrinks what a typed temperature leaves: the next part does.
    way(
        "shown 20.000; terminals 4; temp 20; ref 20; accuracy 0.1 1",
        "the temperature as typed, then the meter, use a finer range",
    );
}

#[test]
fn rule_06_a_value_is_never_printed_on_the_other_side_of_a_limit() {
    // 2.2004 meets 2.20 with U 0.2: two digits of U would print it as 2.20, which passes.
    says(
        "winding main; shown 2.2004; terminals 4; temp 20; ref 20; limits 1.8 2.2; accuracy 8 0",
        "fail high",
        "at 20 °C 2.2004 Ω",
    );
    says(
        "winding main; shown 2.1996; terminals 4; temp 20; ref 20; limits 1.8 2.2; accuracy 8 0",
        "pass within",
        "at 20 °C 2.1996 Ω",
    );
}

#[test]
fn rule_04_a_cable_too_long_is_no_shorted_winding_until_its_doubt_is_out() {
    // 2.00 − 2.07 is −0.07 ± 0.21: a winding of nothing, behind a cable.
    says(
        "winding main; shown 2.00; terminals 4; cable 2.07; limits 1.8 2.2",
        "fail shorted",
        "a dead short",
    );
    // −0.30 ± 0.21 is no resistance at all: the cable is not this one.
    check(
        "winding main; shown 1.77; terminals 4; cable 2.07; limits 1.8 2.2",
        "undecided null_suspect",
    );
}

#[test]
fn rule_05_a_cable_that_was_not_subtracted_clears_nothing() {
    says(
        "winding main; shown 2.3; null 0.3; panel; limits 1.8 2.2",
        "undecided within",
        "measure at the splice",
    );
    check(
        "winding main; shown 4.3; null 0.3; panel; limits 1.8 2.2",
        "undecided high",
    );
    check(
        "winding main; shown 2.0; null 0.3; panel; limits 1.8 2.2",
        "fail low",
    );
    check(
        "winding main; shown 4.3; null 0.3; panel; cable 2.07; limits 1.8 2.2",
        "pass within",
    );
}

#[test]
fn rule_05_leads_that_were_not_subtracted_clear_no_low_winding() {
    check(
        "winding main; shown 2.0; limits 1.8 2.2",
        "undecided leads_unproven",
    );
    check(
        "winding main; shown 2.5; limits 1.8 2.2",
        "undecided leads_unproven",
    );
    check("winding main; shown 3.5; limits 1.8 2.2", "fail high");
    check("winding main; shown 1.7; limits 1.8 2.2", "fail low");
    check("winding main; shown 120.5; limits 100 140", "pass within");
}

#[test]
fn rule_06_simple_passes_at_the_limit_and_guarded_does_not() {
    let near =
        "winding main; shown 21.9; terminals 4; temp 20; ref 20; limits 18 22; accuracy 0.5 1";
    says(near, "pass within", "a limit lies within U");
    check(&format!("{near}; guarded"), "undecided within");
    let inside = near.replace("21.9", "20.0");
    check(&format!("{inside}; guarded"), "pass within");
    let out = near.replace("21.9", "22.1");
    check(&out, "fail high");
    check(&format!("{out}; guarded"), "undecided high");
    check(
        &format!("{}; guarded", near.replace("21.9", "25.0")),
        "fail high",
    );
}

#[test]
fn rule_06_limits_narrower_than_2u_are_named() {
    let narrow = "winding main; shown 2.0; terminals 4; temp 20; ref 20; limits 1.9 2.1";
    says(
        narrow,
        "pass within",
        "limits narrower than 2 U: most of U is the meter, configure",
    );
    says(
        &format!("{narrow}; guarded"),
        "undecided limits_too_narrow",
        "most of U is the meter",
    );
    says(
        "winding main; shown 200.0; terminals 4; ref 20; limits 190 210; guarded; accuracy 0.1 1",
        "undecided limits_too_narrow",
        "most of U is the temperature, enter the winding's temperature",
    );
}

#[test]
fn rule_07_a_little_out_is_out_and_the_finding_says_where_to_look() {
    says(
        "winding main; shown 17.9; terminals 4; limits 18 22",
        "fail low",
        "shorted turns",
    );
    says(
        "winding main; shown 22.1; terminals 4; limits 18 22",
        "fail high",
        "a joint",
    );
    says(
        "winding main; open; limits 18 22",
        "fail open",
        "open winding",
    );
    check("winding main; open", "fail open");
    check("winding tap_1; open", "not_judged open");
}

#[test]
fn rule_07_over_range_below_the_limits_is_the_wrong_range() {
    check(
        "winding main; open 400; limits 1800 2200",
        "undecided range_suspect",
    );
    check("winding main; open 4000; limits 1800 2200", "fail open");
}

#[test]
fn rule_07_a_dead_short_may_be_clips_that_touch() {
    says(
        "winding main; shown 0.3; null 0.3; limits 18 22",
        "fail shorted",
        "clips do not touch",
    );
    check(
        "winding main; shown 0.3; null 0.2; limits 0.1 0.5",
        "pass within",
    );
    // Five counts below zero are still nothing, six are a null that does not belong here (rule 4).
    check(
        "winding main; shown 0.25; null 0.30; limits 18 22; accuracy 0.5 2",
        "fail shorted",
    );
    check(
        "winding main; shown 0.24; null 0.30; limits 18 22; accuracy 0.5 2",
        "undecided null_suspect",
    );
}

#[test]
fn rule_08_kilohms_where_ohms_are_expected_are_a_wrong_range_first() {
    says(
        "winding main; shown 20.0k; limits 18 22",
        "undecided range_suspect",
        "check the meter's range",
    );
    check(
        "winding main; shown 20.0k; limits 18 22; again",
        "fail range_suspect",
    );
    check(
        "winding main; shown 1.0k; limits 40 50",
        "undecided range_suspect",
    );
    check("winding main; shown 0.999k; limits 40 49.9", "fail high");
    check("winding main; shown 20.0k; limits 1100 1200", "fail high");
    check("winding main; shown 20.0k", "not_judged -");
}

#[test]
fn rule_10_another_connection_is_the_nearest_that_fits() {
    for (shown, words) in [
        ("80.0", "about four times the limits"),
        ("5.0", "about a quarter of the limits"),
        ("60.0", "about three times the limits"),
        ("6.7", "about a third of the limits"),
    ] {
        let text = format!("winding line_12; shown {shown}; terminals 4; limits 18 22");
        says(
            &text,
            if shown.parse::<f64>().expect("a number") > 20.0 {
                "fail high"
            } else {
                "fail low"
            },
            words,
        );
    }
    // Fifty percent more is none of them; inside the limits nothing is said.
    for shown in ["30.0", "20.0"] {
        let judgement = judge(&format!(
            "winding line_12; shown {shown}; terminals 4; limits 18 22"
        ));
        assert!(
            !judgement.reason.contains("the limits: check"),
            "{}",
            judgement.reason
        );
    }
    // Only three phases are wired in wye or delta.
    let mut bench = Bench::read("winding main; shown 60.0; terminals 4; limits 18 22");
    bench.motor.kind = crate::limits::Kind::TwoWire;
    let reason = bench.judge().reason;
    assert!(!reason.contains("three times"), "{reason}");
}

#[test]
fn rule_10_twice_or_half_the_limits_points_to_the_connection() {
    says(
        "winding line_12; shown 40.0; terminals 4; limits 18 22",
        "fail high",
        "about twice the limits",
    );
    says(
        "winding line_12; shown 10.0; terminals 4; limits 18 22",
        "fail low",
        "about half the limits",
    );
}

#[test]
fn rule_19_a_held_display_is_not_what_is_on_the_clips() {
    for flag in ["frozen", "min", "max", "avg"] {
        check(
            &format!("winding main; shown 20.0; terminals 4; limits 18 22; flag {flag}"),
            "undecided unstable",
        );
    }
    check(
        "winding main; shown 20.0; unit volt; limits 18 22",
        "undecided range_suspect",
    );
    check("winding main; aborted; limits 18 22", "undecided unstable");
    check(
        "winding main; pulled 120; limits 18 22",
        "undecided unstable",
    );
}

#[test]
fn rule_20_a_blocked_meter_passes_nothing() {
    says(
        "winding main; shown 20.0; terminals 4; limits 18 22; blocked",
        "undecided within",
        "calibration is overdue",
    );
    check(
        "winding main; shown 30.0; terminals 4; limits 18 22; blocked",
        "fail high",
    );
}

#[test]
fn a_sensor_is_judged_only_by_a_range_of_its_own() {
    check("sensor ptc; shown 120.0", "not_judged -");
    check("sensor ptc; shown 120.0; limits 20 250", "pass within");
    check("sensor ptc; open; limits 20 250", "fail open");
    check(
        "sensor leak_probe; open; limits 100000 -",
        "undecided contact_unproven",
    );
}
