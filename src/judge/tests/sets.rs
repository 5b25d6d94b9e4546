//! Rules 7, 9 and 10: three values together.

use super::{Bench, Judgement, Part, Through, d, three_phase, three_wire, words};
use crate::limits::{Kind, Range};

/// `2.30 ol 4.60` as parts, four-wire so that no leads are in them.
fn parts(bench: &Bench, values: &str) -> [Part; 3] {
    let mut parts = values.split_whitespace().map(|v| {
        let mut one = bench.clone();
        let text = if v == "ol" {
            "winding main; open"
        } else {
            &format!("winding main; shown {v}")
        };
        one.take = Bench::read(text).take;
        Part::new(&one.meter, &one.take, &one.judge()).expect("a value or over-range")
    });
    [(); 3].map(|()| parts.next().expect("three values"))
}

fn three(kind: Kind, settings: &str, values: &str) -> Judgement {
    let mut bench = Bench::read(&format!("winding main; terminals 4{settings}"));
    bench.motor.kind = kind;
    if kind == Kind::ThreeWire {
        let range = |lower: &str, upper: &str| Range {
            lower: Some(d(lower)),
            upper: Some(d(upper)),
        };
        (bench.motor.main, bench.motor.start) = (range("2.0", "3.0"), range("9.0", "12.0"));
    }
    let [a, b, c] = parts(&bench, values);
    match kind {
        Kind::ThreeWire => three_wire(&bench.motor, &a, &b, &c, Through::Nothing),
        _ => three_phase(&bench.motor, [&a, &b, &c], Through::Nothing),
    }
}

#[track_caller]
fn wire(values: &str, expected: &str) -> Judgement {
    let judgement = three(Kind::ThreeWire, "", values);
    assert_eq!(
        words(&judgement),
        expected,
        "{values}: {}",
        judgement.reason
    );
    judgement
}

#[track_caller]
fn phase(values: &str, expected: &str) -> Judgement {
    let judgement = three(Kind::ThreePhase, "", values);
    assert_eq!(
        words(&judgement),
        expected,
        "{values}: {}",
        judgement.reason
    );
    judgement
}

#[test]
fn rule_09_main_and_start_make_the_total() {
    let good = wire("2.50 10.00 12.50", "pass within");
    assert_eq!(good.judged_ohms, Some(d("0.00")));
    // 2 % of 12.7 is 0.254: a little over is a mismatch.
    wire("2.50 10.00 12.70", "pass within");
    wire("2.50 10.00 12.80", "fail sum_mismatch");
    wire("2.50 10.00 12.20", "fail sum_mismatch");
}

#[test]
fn rule_09_mixed_leads_are_not_two_faults() {
    let mixed = wire("10.00 2.50 12.50", "undecided leads_mixed");
    assert!(mixed.reason.contains("not two faults"), "{}", mixed.reason);
    wire("12.50 10.00 2.50", "undecided leads_mixed");
    wire("2.50 12.50 10.00", "undecided leads_mixed");
    // Out of limits whichever way they are swapped: not mixed, the points say what is wrong.
    wire("5.00 10.00 15.00", "pass within");
}

#[test]
fn rule_09_leads_left_in_may_explain_a_mismatch() {
    let mut bench = Bench::read("winding main");
    bench.motor.kind = Kind::ThreeWire;
    // Each value holds the same 0.4 ohm of leads: the sum counts it twice, the total once.
    let [a, b, c] = parts(&bench, "2.90 10.40 12.90");
    assert_eq!(
        words(&three_wire(&bench.motor, &a, &b, &c, Through::Nothing)),
        "undecided sum_mismatch"
    );
}

#[test]
fn rule_07_a_thermal_switch_may_be_open() {
    let hot = wire("ol ol 12.50", "undecided open");
    assert!(
        hot.reason.contains("let it cool and repeat"),
        "{}",
        hot.reason
    );
    wire("ol 10.00 ol", "fail open");
    wire("2.50 ol ol", "fail open");
    wire("ol ol ol", "fail open");
    // Two pairs that conduct connect all three leads.
    wire("2.50 10.00 ol", "undecided open");
    wire("ol 10.00 12.50", "undecided open");
}

#[test]
fn rule_10_unbalance_to_2_percent_passes_and_above_5_fails() {
    phase("10.00 10.00 10.00", "pass within");
    phase("10.00 10.10 10.20", "pass within");
    phase("10.00 10.00 10.40", "undecided unbalanced");
    phase("10.00 10.00 10.70", "undecided unbalanced");
    phase("10.00 10.00 10.90", "fail unbalanced");
    // 10.00 10.00 10.30: 60/30.3 = 1.980 %, U 0.047 %: within its own uncertainty of 2 %.
    phase("10.00 10.00 10.30", "undecided unbalanced");
    assert_eq!(
        words(&three(Kind::ThreePhase, "", "10.000 10.000 10.300")),
        "pass within"
    );
}

#[test]
fn rule_10_the_catalogue_may_set_another_limit() {
    let mut bench = Bench::read("winding main; terminals 4");
    bench.motor.unbalance_max_percent = Some(d("3.5"));
    let [a, b, c] = parts(&bench, "10.00 10.00 10.40");
    assert_eq!(
        words(&three_phase(&bench.motor, [&a, &b, &c], Through::Nothing)),
        "pass within"
    );
}

#[test]
fn rule_10_equal_within_one_count_passes_with_a_note_if_counts_permit() {
    let note = phase("1.1 1.1 1.2", "pass within");
    assert!(note.reason.contains("within one count"), "{}", note.reason);
    // One count of 0.1 in 0.5: U is 9 %.
    phase("0.5 0.5 0.6", "undecided limits_too_narrow");
}

#[test]
fn rule_10_shapes_are_named() {
    // KINDS of three_phase_identities.csv: an open delta phase shows no over-range anywhere.
    let open_delta = phase("10.00 10.00 20.00", "fail open");
    assert!(open_delta.reason.contains("delta"), "{}", open_delta.reason);
    phase("0.00 10.00 10.00", "fail shorted");
    phase("0.00 0.00 0.00", "fail shorted");
    let line = phase("ol 10.00 ol", "fail open");
    assert!(line.reason.contains("line 1"), "{}", line.reason);
    assert!(phase("ol ol 10.00", "fail open").reason.contains("line 2"));
    assert!(phase("10.00 ol ol", "fail open").reason.contains("line 3"));
    phase("ol ol ol", "fail open");
    phase("ol 10.00 10.00", "undecided open");
}

#[test]
fn rule_10_a_cable_left_in_hides_unbalance() {
    let bench = Bench::read("winding main; terminals 4");
    let [a, b, c] = parts(&bench, "10.00 10.00 10.00");
    let judgement = three_phase(&bench.motor, [&a, &b, &c], Through::Unknown);
    assert_eq!(words(&judgement), "undecided within");
    assert!(judgement.reason.contains("hides unbalance"));
}

#[test]
fn a_row_gives_the_same_part_as_its_take() {
    let bench = Bench::read("winding main; shown 2.80; null 0.30; limits 2 3");
    let judgement = bench.judge();
    let from_take = Part::new(&bench.meter, &bench.take, &judgement);
    let mut row = crate::row::Row::new(crate::row::Event::Value, crate::stamp::Wall(0));
    row.value_ohms = Some(d("2.80"));
    row.resolution_ohms = Some(d("0.01"));
    row.leads_ohms = judgement.leads_ohms;
    assert_eq!(from_take, Part::from_row(&bench.meter, &row));
    assert_eq!(from_take.and_then(|p| p.ohms), Some(d("2.50")));
}

proptest::proptest! {
    #[test]
    fn rule_09_a_sum_that_holds_passes_and_one_that_does_not_never_does(m in 100..5000_i64, s in 100..5000_i64, off in 60..400_i64, less in proptest::bool::ANY) {
        let bench = Bench::read("winding main; terminals 4");
        let text = |hundredths: i64| format!("{}.{:02}", hundredths / 100, hundredths % 100);
        let set = |total: i64| {
            let [a, b, c] = parts(&bench, &format!("{} {} {}", text(m), text(s), text(total)));
            three_wire(&bench.motor, &a, &b, &c, Through::Nothing)
        };
        let fits = set(m + s);
        proptest::prop_assert_eq!(words(&fits), "pass within", "{}", fits.reason);
        // At least 6 % off: three times what is allowed of the total.
        let wrong = (m + s) * off / 1000 + 10;
        let off = set(if less { m + s - wrong } else { m + s + wrong });
        proptest::prop_assert!(off.verdict != crate::row::Verdict::Pass, "{}", off.reason);
    }

    #[test]
    fn rule_10_shorted_turns_in_one_phase_never_pass(r in 1000..9000_i64, part in 100..900_i64, delta in proptest::bool::ANY) {
        // A wye phase of 10 to 90 % of the others, or a delta phase; by the circuit's own laws.
        let (a, b) = (r as f64 / 100.0, r as f64 / 100.0 * part as f64 / 1000.0);
        let lines = if delta {
            let across = |x: f64, y: f64, z: f64| x * (y + z) / (x + y + z);
            [across(a, a, b), across(a, b, a), across(b, a, a)]
        } else {
            [a + b, a + a, a + b]
        };
        let worst = lines.iter().fold(0.0_f64, |w, v| w.max((v / (lines.iter().sum::<f64>() / 3.0) - 1.0).abs()));
        let bench = Bench::read("winding main; terminals 4");
        let [x, y, z] = parts(&bench, &lines.map(|v| format!("{v:.2}")).join(" "));
        let judgement = three_phase(&bench.motor, [&x, &y, &z], Through::Nothing);
        if worst > 0.025 {
            proptest::prop_assert!(judgement.verdict != crate::row::Verdict::Pass, "{}", judgement.reason);
        }
        if worst > 0.06 {
            proptest::prop_assert_eq!(judgement.verdict, crate::row::Verdict::Fail, "{}", judgement.reason);
        }
    }
}
