//! Both sides of boundaries of ground and insulation, worked out by hand.
//!
//! Each of these moves when one comparison or one factor of the judge does.

use super::{Bench, GroundPath, check, ground_path, says};

const PUMP: &str = "profile pump-a; condition installed-used";

/// As [`says`], and the reason must not hold the words.
#[track_caller]
fn says_not(text: &str, expected: &str, saying: &str) {
    let judgement = check(text, expected);
    assert!(
        !judgement.reason.contains(saying),
        "{text}: {saying:?} in {:?}",
        judgement.reason
    );
}

#[test]
fn rule_03_a_held_display_or_volts_never_prove_ground() {
    for (text, expected) in [
        ("shown 0.2; flag frozen", "undecided ground_path_unproven"),
        ("shown 0.2; flag min", "undecided ground_path_unproven"),
        ("shown 0.2; unit volt", "undecided ground_path_unproven"),
        ("shown 0.2", "pass within"),
    ] {
        for on in ["frame", "casing", "ground_conductor"] {
            let text = format!("ground_path path; {text}; on {on}");
            check(&text, expected);
            let bench = Bench::read(&text);
            let proven = ground_path(&bench.case()).0 != GroundPath::Unproven;
            assert_eq!(proven, expected.starts_with("pass"), "{text}");
        }
    }
    says(
        "ground_path path; open; on casing",
        "undecided ground_path_unproven",
        "over-range between the two grounds",
    );
    says(
        "ground_path path; aborted; on casing",
        "undecided ground_path_unproven",
        "no steady value",
    );
}

#[test]
fn rule_11_only_a_value_that_has_u_to_spare_is_said_to() {
    let spare = "at least U above the minimum";
    says(
        &format!("insulation all_to_ground; shown 80M; {PUMP}"),
        "pass within",
        spare,
    );
    says_not(
        &format!("insulation all_to_ground; shown 0.6M; {PUMP}"),
        "undecided within",
        spare,
    );
    says_not(
        &format!("insulation all_to_ground; over 2G; {PUMP}"),
        "pass above_range",
        spare,
    );
}

#[test]
fn rule_15_the_voltage_a_motor_bears_may_be_planned_and_reached_but_not_passed() {
    let at = |case: &str, expected: &str| {
        check(
            &format!("insulation all_to_ground; {case}; {PUMP}"),
            expected,
        );
    };
    at("shown 80M; planned 500; max 500", "pass within");
    at(
        "shown 80M; planned 500; max 499",
        "not_judged test_forbidden",
    );
    at("shown 80M; planned 500; volts 520; max 520", "pass within");
    at(
        "shown 80M; planned 500; volts 521; max 520",
        "not_judged test_forbidden",
    );
    // A voltage that was pulled down to more than the motor bears was too much too.
    at(
        "pulled 520 0.2M; planned 500; max 520",
        "fail below_minimum",
    );
    at(
        "pulled 521 0.2M; planned 500; max 520",
        "not_judged test_forbidden",
    );
    says(
        &format!("insulation all_to_ground; pulled 521 0.2M; planned 500; max 520; {PUMP}"),
        "not_judged test_forbidden",
        "release now: 521 V on the clips, at most 520 V allowed",
    );
}

/// 5 megohm at 40 °C; at 80 °C it would be × 16. A tenth: 0.5 / 16 = 0.03125 megohm.
#[test]
fn rule_13_a_tenth_of_the_minimum_is_taken_at_the_best_temperature_assumed() {
    let at = |shown: &str, expected: &str| {
        check(
            &format!("insulation all_to_ground; shown {shown}; elapsed 30; profile ieee43"),
            expected,
        );
    };
    at("0.03124M", "fail below_minimum");
    at("0.03125M", "undecided below_minimum");
    at("0.3124M", "undecided below_minimum");
}

/// A tester pulled down fails only where the value and its U stay below.
#[test]
fn rule_13_pulled_down_is_a_fail_only_with_u_below_the_minimum() {
    let at = |case: &str, expected: &str| {
        check(
            &format!("insulation all_to_ground; pulled 180 {case}"),
            expected,
        );
    };
    // Minimum 1.3 megohm, U 30 %: 1.00 + 0.30 is at it, not below.
    let plain = "profile megohm-per-kv; rated 1300";
    at(&format!("0.99M; {plain}"), "fail below_minimum");
    at(&format!("1.00M; {plain}"), "undecided unstable");
    // At 20 °C × 0.25: the meter's 5 % is 2 × 5 % / √3 = 5.7735 %, the temperature's
    // ± 2 K at 6.9315 % a kelvin 2 × 13.863 % / √3 = 16.0075 %. So 5 megohm is met at
    // 5 / (0.25 × 1.057735 × 1.160075) = 16.299 megohm.
    let known = "profile ieee43; temp 20; insulation thermoplastic; accuracy 5 0; elapsed 60";
    at(&format!("16.29M; {known}"), "fail below_minimum");
    at(&format!("16.31M; {known}"), "undecided unstable");
    // Unknown, up to 80 °C × 16, U 30 %: 5 / (16 × 1.3) = 0.24038 megohm.
    let unknown = "profile ieee43; elapsed 60";
    at(&format!("0.2403M; {unknown}"), "fail below_minimum");
    at(&format!("0.2404M; {unknown}"), "undecided unstable");
}

#[test]
fn rule_19_a_u_that_rests_on_no_accuracy_is_said_to() {
    let said = "accuracy is not configured";
    let case = format!("insulation all_to_ground; shown 80M; {PUMP}");
    says(&case, "pass within", said);
    says_not(&format!("{case}; accuracy 5 2"), "pass within", said);
}
