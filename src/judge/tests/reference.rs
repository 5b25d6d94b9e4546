//! Profiles at their boundaries, and what they refuse. The rows of
//! tests/reference themselves go through `calc` in tests/it/calc.

use super::{
    Bench, MinimumError, Volts, check, minimum as insulation_minimum, profile, voltage_step,
};

/// Profile, condition, rated volts to try.
type Covered = (&'static str, Option<&'static str>, &'static [f64]);

const COVERED: &[Covered] = &[
    ("ieee43", Some("form-wound"), &[1000.0, 13_800.0]),
    ("ieee43", None, &[1000.0, 13_800.0]),
    ("ieee43", Some("random-wound"), &[230.0, 999.9, 4160.0]),
    ("ieee43", Some("form-wound"), &[230.0, 999.9]),
    ("ieee43", None, &[230.0, 999.9]),
    ("ieee43", Some("dc-armature"), &[230.0, 1500.0]),
    ("kv-plus-one", None, &[230.0]),
    ("ieee43", Some("before-1970"), &[460.0]),
    ("kv-plus-one", None, &[480.0]),
    ("ieee43", Some("field"), &[690.0]),
    ("kv-plus-one", None, &[2300.0]),
    ("ieee43", Some("before-1970"), &[2400.0]),
    ("kv-plus-one", None, &[4160.0]),
    ("kv-plus-one", None, &[13_800.0]),
    ("megohm-per-kv", None, &[460.0, 1000.0]),
    ("megohm-per-kv", None, &[2400.0]),
    ("wiring", Some("selv"), &[24.0, 50.0]),
    ("wiring", None, &[230.0, 500.0]),
    ("wiring", None, &[501.0]),
    ("machinery", None, &[400.0, 1000.0]),
    ("pump-a", Some("bench-unused"), &[]),
    ("pump-a", Some("bench-used"), &[]),
    ("pump-a", Some("installed-unused"), &[]),
    ("pump-a", Some("installed-used"), &[]),
    ("pump-b", Some("bench-unused"), &[]),
    ("pump-b", Some("bench-used"), &[]),
    ("pump-b", Some("splice"), &[]),
    ("pump-b", Some("installed-unused"), &[]),
    ("pump-b", Some("installed-used"), &[]),
];

/// Just under, at and over each distinct minimum, with a meter whose U is small.
#[test]
fn each_minimum_holds_at_its_boundary() {
    for (profile, condition, rated) in COVERED {
        let rated = rated.first().copied().unwrap_or(400.0);
        let ohms = insulation_minimum(profile, Some(Volts(rated)), *condition)
            .expect("a minimum")
            .ohms;
        let named = condition.map_or(String::new(), |c| format!("; condition {c}"));
        let at = |value: i64, expected: &str| {
            check(
                &format!(
                    "insulation all_to_ground; shown {value}; elapsed 60; rated {rated}; profile {profile}{named}; accuracy 0.1 0; temp 40; electronics no"
                ),
                expected,
            );
        };
        // The temperature's own doubt enters U where the profile corrects: 16 % at most.
        let minimum = ohms.to_f64() as i64;
        at(minimum - 1000, "fail below_minimum");
        at(minimum, "undecided within");
        at(minimum + minimum / 4, "pass within");
    }
}

#[test]
fn what_a_profile_does_not_know_is_refused() {
    let refused = |profile: &str, rated: Option<f64>, condition: Option<&str>| {
        insulation_minimum(profile, rated.map(Volts), condition).expect_err("refused")
    };
    for (profile, condition) in [
        ("pump-a", "splice"),
        ("ieee43", "bench-used"),
        ("kv-plus-one", "field"),
        ("machinery", "selv"),
        ("wiring", "random-wound"),
        ("ieee43", "Random-Wound"),
    ] {
        assert!(
            matches!(
                refused(profile, Some(230.0), Some(condition)),
                MinimumError::Condition { .. }
            ),
            "{profile} {condition}"
        );
    }
    for profile in ["pump-a", "pump-b"] {
        assert!(matches!(
            refused(profile, Some(230.0), None),
            MinimumError::NeedsCondition { .. }
        ));
    }
    for (profile, rated, condition) in [
        ("ieee43", None, None),
        ("ieee43", Some(0.0), None),
        ("ieee43", Some(0.0), Some("random-wound")),
        ("wiring", Some(0.0), None),
        ("ieee43", Some(f64::NAN), None),
        ("kv-plus-one", Some(-400.0), None),
        ("machinery", Some(1000.1), None),
        ("wiring", Some(50.1), Some("selv")),
        ("megohm-per-kv", Some(f64::INFINITY), None),
    ] {
        assert!(
            matches!(
                refused(profile, rated, condition),
                MinimumError::RatedVoltage { .. }
            ),
            "{profile} {rated:?}"
        );
    }
}

/// Standard rows of insulation_test_voltage.csv: the planned step lies within
/// the band at both ends of each row.
#[test]
fn planned_voltages_lie_within_the_standard_bands() {
    let table = include_str!("../../../tests/reference/insulation_test_voltage.csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let mut held = 0;
    for record in reader.records() {
        let record = record.expect("the table reads");
        if !record[0].starts_with("IEEE43-") {
            continue;
        }
        let edge = |cell: &str, inside: f64| {
            let bare = cell.trim_end_matches(" (exclusive)");
            let v: f64 = bare.parse().ok()?;
            Some(if bare == cell { v } else { v + inside })
        };
        let (least, most): (f64, f64) = (
            record[5].parse().expect("volts"),
            record[6].parse().expect("volts"),
        );
        for rated in [
            edge(&record[2], 1.0).filter(|v| *v > 0.0),
            edge(&record[3], -1.0),
        ]
        .into_iter()
        .flatten()
        {
            let bench = Bench::read(&format!("insulation all_to_ground; rated {rated}"));
            let step = voltage_step(&profile("ieee43"), &bench.motor)
                .expect("a step")
                .0;
            assert!(
                step >= least && step <= most,
                "{} at {rated} V: {step}",
                &record[0]
            );
            held += 1;
        }
    }
    assert_eq!(held, 8);
}
