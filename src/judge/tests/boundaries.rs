//! Both sides of boundaries of ground and insulation, worked out by hand.
//!
//! Each of these moves when one comparison or one factor of the judge does.

use super::{Abort, Bench, GroundPath, Outcome, check, ground_path, says, words};

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

/// To a mark: 2 s before it still counts. A spot test: from 5 s on.
#[test]
fn rule_13_what_is_early_ends_2_s_before_the_mark_and_at_5_s_of_a_spot_test() {
    let at = |profile: &str, elapsed: &str, expected: &str| {
        check(
            &format!("insulation all_to_ground; shown 0.4M; temp 40; elapsed {elapsed}; {profile}"),
            expected,
        );
    };
    // 0.4 megohm is below 0.5, and not below a tenth of it.
    at(PUMP, "4.9", "undecided below_minimum");
    at(PUMP, "5", "fail below_minimum");
    // kV + 1 is 1.6 megohm at 600 V; at 40 °C the factor is 1.
    let to_60_s = "profile kv-plus-one; rated 600";
    at(to_60_s, "57.9", "undecided below_minimum");
    at(to_60_s, "58", "fail below_minimum");
    at(to_60_s, "0", "undecided below_minimum");
    // An early value within U is undecided, and told to go on.
    let within = format!("insulation all_to_ground; shown 0.6M; {PUMP}");
    says(
        &format!("{within}; elapsed 4"),
        "undecided within",
        "held 4 s only: hold to 10 s",
    );
    says_not(
        &format!("{within}; elapsed 5"),
        "undecided within",
        "hold to",
    );
    // A low voltage is no hold: nothing is early there.
    check(
        &format!("ground all_to_ground; shown 0.4M; elapsed 1; {PUMP}"),
        "fail to_ground",
    );
}

#[test]
fn rule_11_below_is_to_ground_only_where_ground_is_in_the_circuit() {
    check(
        &format!("ground between_main_start; shown 0.1M; {PUMP}"),
        "fail below_minimum",
    );
    check(
        "ground between_main_start; shown 0.1M",
        "fail below_minimum",
    );
    check(
        "insulation between_main_start; shown 0.1M",
        "fail below_minimum",
    );
    check(
        &format!("insulation all_to_ground; shown 0.1M; {PUMP}"),
        "fail below_minimum",
    );
    check("insulation all_to_ground; shown 0.1M", "fail to_ground");
}

#[test]
fn rule_13_an_unknown_temperature_leaves_the_finding_to_the_value_as_read() {
    let at = |shown: &str, expected: &str| {
        says(
            &format!("insulation all_to_ground; shown {shown}; elapsed 60; profile ieee43"),
            expected,
            "enter the winding's temperature",
        );
    };
    // Minimum 5 megohm.
    at("4.99M", "undecided below_minimum");
    at("5.00M", "undecided within");
}

#[test]
fn rule_01_a_meter_that_reads_insulation_alone_may_have_its_contact_attested() {
    let mut bench = Bench::read(&format!(
        "ground all_to_ground; open 40M; {PUMP}; contact attested"
    ));
    assert_eq!(words(&bench.judge()), "undecided contact_unproven");
    bench.meter.measures = vec![super::Measures::Insulation];
    let attested = bench.judge();
    assert_eq!(words(&attested), "pass no_fault_seen");
    assert!(attested.reason.contains("attested, not measured"));
    // A value needs no contact shown: it came through one.
    says_not(
        &format!("insulation all_to_ground; shown 80M; {PUMP}; contact attested"),
        "pass within",
        "attested",
    );
    says_not(
        &format!("insulation all_to_ground; over 2G; {PUMP}"),
        "pass above_range",
        "attested",
    );
}

#[test]
fn rule_01_a_full_scale_of_nothing_is_not_known() {
    for over in ["open 0", "over 0", "open"] {
        check(
            &format!("ground all_to_ground; {over}; {PUMP}"),
            "undecided range_suspect",
        );
    }
    // In kilohms, and with a hand on the range, as little is known.
    check(
        &format!("ground all_to_ground; open 0; above 40M; flag manual_range; {PUMP}"),
        "undecided range_suspect",
    );
}

/// What is over-range is given a resolution of a thousandth of full scale.
#[test]
fn rule_01_over_range_has_the_doubt_of_a_thousandth_of_its_full_scale() {
    let at = |full_scale: &str, expected: &str| {
        check(
            &format!("ground all_to_ground; open {full_scale}; accuracy 0 100; {PUMP}"),
            expected,
        );
    };
    // U = 2 √((100/1000)²/3 + (1/2000)²/3) = 11.5472 % of F: 0.5/(1 − 0.115472) = 0.56527 megohm.
    at("0.5652M", "undecided range_suspect");
    at("0.5653M", "pass no_fault_seen");
}

#[test]
fn rule_04_a_relative_meter_clears_no_ground() {
    for test in ["ground", "insulation"] {
        check(
            &format!("{test} all_to_ground; shown 80M; {PUMP}; flag relative"),
            "undecided unstable",
        );
        let finding = if test == "ground" {
            "to_ground"
        } else {
            "below_minimum"
        };
        check(
            &format!("{test} all_to_ground; shown 0.1M; {PUMP}; flag relative"),
            &format!("fail {finding}"),
        );
    }
}

#[test]
fn rule_13_a_voltage_shown_by_a_pulled_down_tester_is_no_resistance() {
    let pulled = format!("insulation all_to_ground; pulled 180 0.2M; {PUMP}");
    check(&pulled, "fail below_minimum");
    check(&format!("{pulled}; unit volt"), "undecided unstable");
}

#[test]
fn rule_01_a_value_needs_the_proof_before_alone() {
    for test in ["ground", "insulation"] {
        let case = format!("{test} all_to_ground; shown 80M; {PUMP}");
        let passes = if test == "ground" {
            "no_fault_seen"
        } else {
            "within"
        };
        check(&format!("{case}; leads before"), &format!("pass {passes}"));
        check(&format!("{case}; leads none"), "undecided leads_unproven");
    }
}

#[test]
fn each_undecided_value_says_how_to_go_on() {
    let over = format!("ground all_to_ground; open 40M; {PUMP}");
    for (more, expected, words) in [
        (
            "leads before",
            "undecided leads_unproven",
            "; join the clips",
        ),
        (
            "contact none",
            "undecided contact_unproven",
            "leave the winding clip, put the other on a second lead",
        ),
        (
            "on casing",
            "undecided ground_path_unproven",
            "read the reference to a second ground",
        ),
        (
            "shown -30M",
            "undecided null_suspect",
            "below zero: leave the meter's relative mode",
        ),
        (
            "shown 0.6M",
            "undecided within",
            "measure with a more accurate meter",
        ),
        ("shown 0.1M", "fail to_ground", "do not energize"),
        (
            "open 0",
            "undecided range_suspect",
            "configure over_range_above_ohms",
        ),
    ] {
        says(&format!("{over}; {more}"), expected, words);
    }
}

/// By hand: e^(−1245 (1/293 − 1/313)) = e^−0.271511 = 0.76223.
#[test]
fn rule_13_thermosetting_insulation_falls_below_40_too() {
    let judged = check(
        "insulation all_to_ground; shown 15.0M; elapsed 60; profile ieee43; temp 20; insulation thermosetting",
        "pass within",
    )
    .judged_ohms
    .expect("a value")
    .to_f64();
    assert!((judged / 15e6 - 0.762_23).abs() < 1e-4, "{judged}");
}

#[test]
fn rule_13_a_minimum_by_the_kilovolt_is_exact_and_its_domain_is_said() {
    // 1.2345 kV + 1 megohm.
    let minimum = super::minimum("kv-plus-one", Some(super::Volts(1234.5)), None);
    assert_eq!(minimum.map(|m| m.ohms), Ok(super::d("2234500")));
    says(
        "insulation all_to_ground; shown 80M; profile machinery; rated 1001",
        "not_judged -",
        "needs a rated voltage above 0 to 1000, found 1001",
    );
    let own = "[[profile]]\nname = \"east-ponds\"\nsource = \"hatchery rule 3 (invented)\"\nminimum = [{ megohm = 20, below_v = 1000 }]\n";
    let own = crate::limits::profile::read(own).profiles.remove(0);
    let said = |rated: f64| {
        crate::judge::insulation_minimum(&own, Some(super::Volts(rated)), None)
            .map(|m| m.ohms)
            .map_err(|e| e.to_string())
    };
    assert_eq!(said(999.9), Ok(super::d("20e6")));
    assert_eq!(
        said(1000.0),
        Err(String::from(
            "insulation profile east-ponds needs a rated voltage above 0 and below 1000, found 1000"
        ))
    );
}

#[test]
fn rule_15_it_is_said_why_a_hold_ended_early() {
    for (why, words) in [
        (Abort::Released, "let go too early"),
        (Abort::Sagged, "the voltage sagged"),
        (Abort::Silent, "nothing was read within 2 s of the mark"),
        (Abort::LeadOff, "a lead came off"),
        (Abort::Interrupted, "was interrupted"),
    ] {
        let mut bench = Bench::read(&format!("insulation all_to_ground; {PUMP}"));
        bench.take.outcome = Outcome::Aborted(why);
        let judgement = bench.judge();
        assert_eq!(super::words(&judgement), "undecided unstable");
        assert!(judgement.reason.contains(words), "{}", judgement.reason);
    }
}

#[test]
fn rule_13_the_rated_voltage_is_asked_where_a_minimum_hangs_on_it_alone() {
    let at = |name: &str, condition: Option<&str>| {
        super::minimum(name, None, condition)
            .map(|m| m.ohms)
            .map_err(|e| e.to_string())
    };
    assert_eq!(at("pump-a", Some("installed-used")), Ok(super::d("0.5e6")));
    assert_eq!(at("ieee43", Some("random-wound")), Ok(super::d("5e6")));
    assert_eq!(at("wiring", None), Ok(super::d("1e6")));
    // Below or from 1000 V, up to 50 or 1000 V, by the kilovolt.
    for (name, condition) in [
        ("ieee43", None),
        ("wiring", Some("selv")),
        ("machinery", None),
        ("kv-plus-one", None),
        ("megohm-per-kv", None),
    ] {
        let refused = at(name, condition).expect_err("no minimum without a rated voltage");
        assert!(refused.contains("needs a rated voltage"), "{refused}");
    }
}
