//! Rules 14 to 17: test voltages.

use core::time::Duration;

use super::{BandError, Bench, Volts, check, says, test_voltage_band, words};

const PUMP: &str = "profile pump-a; condition installed-used";

#[test]
fn rule_14_a_motor_with_electronics_is_never_judged_by_a_test_voltage() {
    for no in [
        "electronics yes",
        "electronics unknown",
        "itest forbidden",
        "itest forbidden; electronics no",
    ] {
        check(
            &format!("insulation all_to_ground; shown 80M; {PUMP}; {no}"),
            "not_judged test_forbidden",
        );
        says(
            &format!("ground all_to_ground; shown 80M; {PUMP}; {no}; volts 51"),
            "not_judged test_forbidden",
            "release now; electronics may be damaged",
        );
        check(
            &format!("ground all_to_ground; shown 80M; {PUMP}; {no}; volts 50"),
            "pass no_fault_seen",
        );
    }
    check(
        &format!(
            "insulation all_to_ground; shown 80M; {PUMP}; itest leads_joined_only; electronics unknown"
        ),
        "pass within",
    );
    check(
        &format!("insulation line_1_to_ground; shown 80M; {PUMP}; itest leads_joined_only"),
        "not_judged test_forbidden",
    );
}

#[test]
fn rule_15_a_value_at_another_voltage_is_not_judged() {
    let at = |more: &str, expected: &str| {
        check(
            &format!("insulation all_to_ground; shown 80M; {PUMP}; {more}"),
            expected,
        )
    };
    at("planned 500; volts 449.9", "not_judged wrong_test_voltage");
    at("planned 500; volts 450", "pass within");
    at("planned 500; volts 625", "pass within");
    at("planned 500; volts 625.1", "not_judged wrong_test_voltage");
    at("planned 500; volts -510", "pass within");
    at("planned 500; volts 1000", "not_judged wrong_test_voltage");
    at("planned 500; volts NaN", "not_judged wrong_test_voltage");
    at(
        "planned 500; volts 1000; max 600",
        "not_judged test_forbidden",
    );
    at("planned 1000; max 500", "not_judged test_forbidden");
    let unmeasured = at("planned 500", "pass within");
    assert!(
        unmeasured.reason.contains("voltage not measured"),
        "{}",
        unmeasured.reason
    );
    // A tester that cannot hold its voltage is below it by definition.
    check(
        &format!("insulation all_to_ground; pulled 180 0.2M; {PUMP}; planned 500; volts 180"),
        "fail below_minimum",
    );
}

#[test]
fn rule_15_the_planned_voltage_is_a_tester_step_within_the_limits() {
    let step = |name: &str, more: &str| {
        let bench = Bench::read(&format!("insulation all_to_ground{more}"));
        super::voltage_step(&super::profile(name), &bench.motor).map(|v| v.0)
    };
    // Band edges of IEEE 43-2013 Table 1.
    for (rated, volts) in [
        (999, 500.0),
        (2500, 500.0),
        (2501, 1000.0),
        (5000, 1000.0),
        (5001, 2500.0),
        (12_000, 2500.0),
        (12_001, 5000.0),
    ] {
        assert_eq!(
            step("ieee43", &format!("; rated {rated}")),
            Some(volts),
            "{rated}"
        );
    }
    assert_eq!(step("ieee43", "; max 300"), Some(250.0));
    assert_eq!(step("ieee43", "; max 40"), None);
    assert_eq!(step("pump-a", ""), Some(500.0));
    assert_eq!(step("wiring", "; rated 24"), Some(250.0));
    assert_eq!(step("ieee43", "; rated 0"), None);
}

#[test]
fn rule_15_an_aborted_hold_is_never_a_verdict() {
    check(
        &format!("insulation all_to_ground; aborted; {PUMP}"),
        "undecided unstable",
    );
    check("insulation all_to_ground; aborted", "undecided unstable");
}

#[test]
fn rule_16_a_voltage_that_is_not_the_testers_own_stops_ohms() {
    let say = |v: f64, ac: bool| {
        super::voltage_present(Volts(v), ac).map(|j| (words(&j), j.reason.contains("DANGER")))
    };
    let present = |danger| Some((String::from("undecided voltage_present"), danger));
    assert_eq!(say(2.9, true), None);
    assert_eq!(say(3.0, true), present(false));
    assert_eq!(say(24.9, true), present(false));
    assert_eq!(say(25.0, true), present(true));
    assert_eq!(say(59.9, false), present(false));
    assert_eq!(say(-60.0, false), present(true));
}

#[test]
fn rule_17_discharge_takes_four_times_the_time_under_voltage() {
    assert_eq!(
        super::discharge_time(Duration::from_secs(60)),
        Duration::from_secs(240)
    );
    assert_eq!(super::discharge_time(Duration::MAX), Duration::MAX);
}

/// Both ends of each profile's band: the edges of judging.md's table
/// (IEEE 43-2013 Table 1), and the profiles that multiply.
#[test]
fn rule_15_a_band_has_both_its_ends_at_every_edge() {
    let band = |name: &str, rated: f64| {
        let band = test_voltage_band(&super::profile(name), Some(Volts(rated))).expect("a band");
        (band.low.0, band.high.0)
    };
    for (rated, low, high) in [
        (230.0, 500.0, 500.0),
        (999.9, 500.0, 500.0),
        (1000.0, 500.0, 1000.0),
        (2500.0, 500.0, 1000.0),
        (2500.1, 1000.0, 2500.0),
        (5000.0, 1000.0, 2500.0),
        (5000.1, 2500.0, 5000.0),
        (12_000.0, 2500.0, 5000.0),
        (12_000.1, 5000.0, 10_000.0),
    ] {
        assert_eq!(band("ieee43", rated), (low, high), "{rated}");
        assert_eq!(band("kv-plus-one", rated), (low, high), "{rated}");
    }
    assert_eq!(band("twice", 115.0), (230.0, 230.0));
    assert_eq!(band("two-and-a-half", 115.0), (287.5, 287.5));
    assert_eq!(band("wiring", 50.0), (250.0, 250.0));
    assert_eq!(band("wiring", 50.1), (500.0, 500.0));
    assert_eq!(band("wiring", 501.0), (1000.0, 1000.0));
    assert_eq!(band("machinery", 400.0), (500.0, 500.0));
    for rated in [0.0, -230.0, f64::NAN, f64::INFINITY] {
        for name in ["ieee43", "twice", "machinery", "pump-a"] {
            let refused = test_voltage_band(&super::profile(name), Some(Volts(rated)));
            assert!(
                matches!(refused, Err(BandError::RatedVoltage(_))),
                "{name} at {rated}"
            );
        }
    }
    let unsaid = test_voltage_band(&super::profile("twice"), None);
    assert!(matches!(unsaid, Err(BandError::RatedVoltage(_))));
}

/// Rows X2-… of insulation_test_voltage.csv: twice and two and a half times,
/// and the nearest step, which their notes name for 2.25 times.
#[test]
fn rule_15_the_multiples_meet_the_reference_rows() {
    let table = include_str!("../../../tests/reference/insulation_test_voltage.csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let mut held = 0;
    for record in reader.records() {
        let record = record.expect("the table reads");
        if !record[0].starts_with("X2-") {
            continue;
        }
        let number = |at: usize| record[at].parse::<f64>().expect("a number");
        let rated = number(2);
        for (name, expected) in [("twice", number(5)), ("two-and-a-half", number(6))] {
            let band = test_voltage_band(&super::profile(name), Some(Volts(rated)));
            assert_eq!(
                band.expect("a band").low.0,
                expected,
                "{} {name}",
                &record[0]
            );
        }
        let bench = Bench::read(&format!("insulation all_to_ground; rated {rated}"));
        let step = super::voltage_step(&super::profile("twice"), &bench.motor).expect("a step");
        let named = format!("2.25 x rated is {} V", step.0);
        assert!(
            record[9].contains(&named) || record[8].contains(&named),
            "{}",
            &record[0]
        );
        held += 1;
    }
    assert_eq!(held, 8);
}

#[test]
fn rule_15_the_step_is_the_nearest_within_what_the_motor_bears() {
    let step = |name: &str, more: &str| {
        let bench = Bench::read(&format!("insulation all_to_ground; {more}"));
        super::voltage_step(&super::profile(name), &bench.motor).map(|v| v.0)
    };
    assert_eq!(step("twice", "rated 115"), Some(250.0));
    assert_eq!(step("two-and-a-half", "rated 115"), Some(250.0));
    assert_eq!(step("ieee43", "rated 115"), Some(500.0));
    assert_eq!(step("ieee43", "rated 230"), Some(500.0));
    // Of the steps inside a band the lowest: 1000 to 2500 V.
    assert_eq!(step("ieee43", "rated 4160"), Some(1000.0));
    // Never above what the motor bears, even when that is below the band.
    assert_eq!(step("ieee43", "rated 4160; max 999"), Some(500.0));
    assert_eq!(step("twice", "rated 400; max 500"), Some(500.0));
    assert_eq!(step("twice", "rated 115; max 49"), None);
    // Midway between two steps the lower: 750 V between 500 and 1000.
    assert_eq!(step("two-and-a-half", "rated 300"), Some(500.0));
    for name in ["ieee43", "twice", "machinery"] {
        assert_eq!(step(name, "rated 0"), None, "{name}");
    }
}
