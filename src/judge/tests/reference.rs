//! The tables of tests/reference: every row is either held or named with the
//! reason why it cannot be.

use super::{
    Bench, Celsius, MinimumError, Volts, check, minimum as insulation_minimum, profile,
    voltage_step,
};
use crate::judge::correction;
use crate::limits::Conductor;

const TABLE: &str = include_str!("../../../tests/reference/insulation_minimum.csv");

/// Row, profile, condition, rated volts to try.
type Covered = (
    &'static str,
    &'static str,
    Option<&'static str>,
    &'static [f64],
);

const COVERED: &[Covered] = &[
    (
        "IEEE43-FORM",
        "ieee43",
        Some("form-wound"),
        &[1000.0, 13_800.0],
    ),
    ("IEEE43-FORM", "ieee43", None, &[1000.0, 13_800.0]),
    (
        "IEEE43-RANDOM",
        "ieee43",
        Some("random-wound"),
        &[230.0, 999.9, 4160.0],
    ),
    (
        "IEEE43-RANDOM",
        "ieee43",
        Some("form-wound"),
        &[230.0, 999.9],
    ),
    ("IEEE43-RANDOM", "ieee43", None, &[230.0, 999.9]),
    (
        "IEEE43-DCARM",
        "ieee43",
        Some("dc-armature"),
        &[230.0, 1500.0],
    ),
    ("KV1-230", "kv-plus-one", None, &[230.0]),
    ("KV1-460", "ieee43", Some("before-1970"), &[460.0]),
    ("KV1-480", "kv-plus-one", None, &[480.0]),
    ("KV1-690", "ieee43", Some("field"), &[690.0]),
    ("KV1-2300", "kv-plus-one", None, &[2300.0]),
    ("KV1-2400", "ieee43", Some("before-1970"), &[2400.0]),
    ("KV1-4160", "kv-plus-one", None, &[4160.0]),
    ("KV1-13800", "kv-plus-one", None, &[13_800.0]),
    ("MEGPERKV-460", "megohm-per-kv", None, &[460.0, 1000.0]),
    ("MEGPERKV-2400", "megohm-per-kv", None, &[2400.0]),
    ("IEC60364-SELV", "wiring", Some("selv"), &[24.0, 50.0]),
    ("IEC60364-LV", "wiring", None, &[230.0, 500.0]),
    ("IEC60364-HV", "wiring", None, &[501.0]),
    ("IEC60204", "machinery", None, &[400.0, 1000.0]),
    ("PUMP-A1", "pump-a", Some("bench-unused"), &[]),
    ("PUMP-A2", "pump-a", Some("bench-used"), &[]),
    ("PUMP-A3", "pump-a", Some("installed-unused"), &[]),
    ("PUMP-A4", "pump-a", Some("installed-used"), &[]),
    ("PUMP-B1", "pump-b", Some("bench-unused"), &[]),
    ("PUMP-B2", "pump-b", Some("bench-used"), &[]),
    ("PUMP-B3", "pump-b", Some("splice"), &[]),
    ("PUMP-B4", "pump-b", Some("installed-unused"), &[]),
    ("PUMP-B5", "pump-b", Some("installed-used"), &[]),
];

const NOT_COVERED: &[(&str, &str)] = &[
    ("IEEE43-OLD", "a formula, held by the KV1 rows"),
    ("NETA-", "the table excludes rotating machinery"),
    (
        "PUMP-A5",
        "a damaged band: below the minimum of PUMP-A4 is a fail",
    ),
    (
        "PUMP-B6",
        "a damaged band: below the minimum of PUMP-B5 is a fail",
    ),
    (
        "PUMP-B7",
        "a damaged band: below the minimum of PUMP-B5 is a fail",
    ),
    (
        "PUMP-B8",
        "a damaged band: below the minimum of PUMP-B5 is a fail",
    ),
];

#[test]
fn every_row_of_the_reference_is_held_or_named() {
    let mut reader = csv::Reader::from_reader(TABLE.as_bytes());
    let mut rows = 0;
    for record in reader.records() {
        let record = record.expect("the table reads");
        let (id, minimum) = (&record[0], &record[5]);
        rows += 1;
        let covered: Vec<&Covered> = COVERED.iter().filter(|c| c.0 == id).collect();
        if covered.is_empty() {
            assert!(
                NOT_COVERED.iter().any(|(name, _)| id.starts_with(name)),
                "row {id} is neither held nor named"
            );
            continue;
        }
        let expected: f64 = minimum.parse().expect("a number of megohms");
        for (_, profile, condition, rated) in covered {
            let none = [f64::NAN];
            let rated = if rated.is_empty() { &none[..] } else { rated };
            for v in rated {
                let got =
                    insulation_minimum(profile, v.is_finite().then_some(Volts(*v)), *condition)
                        .expect("a minimum");
                assert!(
                    (got.ohms.to_f64() / 1e6 - expected).abs() < 1e-9,
                    "{id} at {v} V: {}",
                    got.ohms
                );
            }
        }
    }
    assert_eq!(rows, 41);
}

/// Just under, at and over each distinct minimum, with a meter whose U is small.
#[test]
fn each_minimum_holds_at_its_boundary() {
    for (_, profile, condition, rated) in COVERED {
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

/// Rows of insulation_temperature.csv with a factor to 40 °C: by halving and
/// by the thermosetting formulas. The other rows are definitions, trade tables
/// to 20 °C, whose outliers must not be reproduced, or examples to 20 °C.
#[test]
fn factors_to_40_meet_every_row() {
    let table = include_str!("../../../tests/reference/insulation_temperature.csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let mut held = 0;
    for record in reader.records() {
        let record = record.expect("the table reads");
        let factor = match (&record[1], &record[2]) {
            ("value" | "worked", "thermoplastic") => correction::halving,
            ("value" | "worked", "thermosetting") => {
                |t| correction::thermosetting(t).expect("inside 10 to 85 °C")
            }
            _ => continue,
        };
        let (t, expected): (f64, f64) = (
            record[3].parse().expect("a temperature"),
            record[4].parse().expect("a factor"),
        );
        let got = factor(Celsius(t));
        assert!((got / expected - 1.0).abs() < 1e-4, "{}: {got}", &record[0]);
        held += 1;
    }
    assert_eq!(held, 34, "rows with a factor to 40 °C");
}

/// Worked rows of copper_temperature.csv with the constants in use here, that
/// give both temperatures. Other constants (235, 225, 250) are other standards'.
#[test]
fn copper_and_aluminium_meet_every_worked_row() {
    let table = include_str!("../../../tests/reference/copper_temperature.csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let mut held = 0;
    for record in reader.records() {
        let record = record.expect("the table reads");
        let conductor = match (&record[1], &record[2], &record[4]) {
            ("worked", "copper", "234.5") => Conductor::Copper,
            ("worked", "aluminium", "228") => Conductor::Aluminium,
            _ => continue,
        };
        let number = |at: usize| record[at].parse::<f64>().ok();
        let (Some(r1), Some(t1), Some(t2), "ohm") = (number(5), number(6), number(8), &record[10])
        else {
            continue;
        };
        let factor =
            correction::to_reference(conductor, Celsius(t1), Celsius(t2)).expect("in the domain");
        let (expected, tolerance) = (
            number(9).expect("a value"),
            number(11).expect("a tolerance"),
        );
        assert!(
            (r1 * factor - expected).abs() <= tolerance,
            "{}: {}",
            &record[0],
            r1 * factor
        );
        held += 1;
    }
    assert_eq!(held, 5, "W01, W08, W10, W13, W14");
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
