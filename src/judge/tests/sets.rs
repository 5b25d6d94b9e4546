//! Rules 7, 9 and 10: three values together.

use super::{Bench, Judgement, Part, Through, d, three_phase, three_wire, words};
use crate::limits::{Cable, Kind, Range};
use crate::text::Text;

/// `2.30 ol 4.60` as parts, four-wire so that no leads are in them.
pub(super) fn parts(bench: &Bench, values: &str) -> [Part; 3] {
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

pub(super) fn range(lower: &str, upper: &str) -> Range {
    Range {
        lower: Some(d(lower)),
        upper: Some(d(upper)),
    }
}

fn three(kind: Kind, settings: &str, values: &str) -> Judgement {
    let mut bench = Bench::read(&format!("winding main; terminals 4{settings}"));
    bench.motor.kind = kind;
    if kind == Kind::ThreeWire {
        (bench.motor.main, bench.motor.start) = (range("2.0", "3.0"), range("9.0", "12.0"));
    }
    let [a, b, c] = parts(&bench, values);
    match kind {
        Kind::ThreeWire => three_wire(&bench.motor, &a, &b, &c, Through::Nothing),
        _ => three_phase(&bench.motor, [&a, &b, &c], Through::Nothing),
    }
}

#[track_caller]
pub(super) fn wire(values: &str, expected: &str) -> Judgement {
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
pub(super) fn phase(values: &str, expected: &str) -> Judgement {
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
fn rule_09_every_order_of_three_readings_is_mixed_leads_but_the_one_that_fits() {
    let read = ["2.50", "10.00", "12.50"];
    for (order, common, run, start) in [
        // By hand: each pair leaves one lead out, main the start lead, start the run lead, total common.
        ([1, 0, 2], "common", "start", "run"),
        ([0, 2, 1], "run", "common", "start"),
        ([2, 1, 0], "start", "run", "common"),
        ([1, 2, 0], "run", "start", "common"),
        ([2, 0, 1], "start", "common", "run"),
    ] {
        let values = order.map(|at| read[at]).join(" ");
        let mixed = wire(&values, "undecided leads_mixed");
        let words = format!(
            "common is then the lead taken for {common}, run the one taken for {run}, start the one taken for {start}"
        );
        assert!(
            mixed.reason.contains(&words),
            "{values}: {words:?} is not in {}",
            mixed.reason
        );
        assert!(
            mixed.reason.contains("with main 2.50 Ω and start 10.00 Ω"),
            "{}",
            mixed.reason
        );
    }
    wire("2.50 10.00 12.50", "pass within");
}

#[test]
fn rule_09_what_fits_as_labelled_is_never_mixed() {
    // Warm by 14 %: out of the limits of its points, not another order.
    wire("3.40 13.60 17.00", "pass within");
    // Both windings within both limits: no order is better than the labels.
    let mut bench = Bench::read("winding main; terminals 4");
    (bench.motor.main, bench.motor.start) = (range("2", "12"), range("2", "12"));
    let [a, b, c] = parts(&bench, "10.00 2.50 12.50");
    let judgement = three_wire(&bench.motor, &a, &b, &c, Through::Nothing);
    assert_eq!(words(&judgement), "pass within", "{}", judgement.reason);
    // Without limits the largest must be the total, and nothing else is known.
    let plain = Bench::read("winding main; terminals 4");
    let [a, b, c] = parts(&plain, "12.50 2.50 10.00");
    assert_eq!(
        words(&three_wire(&plain.motor, &a, &b, &c, Through::Nothing)),
        "undecided leads_mixed"
    );
    let [a, b, c] = parts(&plain, "10.00 2.50 12.50");
    assert_eq!(
        words(&three_wire(&plain.motor, &a, &b, &c, Through::Nothing)),
        "pass within"
    );
}

#[test]
fn rule_09_a_clip_that_was_not_moved_or_slipped_is_no_pass() {
    // The same pair twice; a total through 0.6 Ω of a bad contact.
    wire("2.50 2.50 12.50", "fail sum_mismatch");
    wire("2.50 10.00 10.00", "fail sum_mismatch");
    wire("2.50 10.00 13.10", "fail sum_mismatch");
}

#[test]
fn rule_09_one_reading_in_kilohms_is_the_wrong_range() {
    for values in ["2.50 10.00 12500", "2500 10.00 12.50", "2.50 10000 12.50"] {
        let judgement = wire(values, "undecided range_suspect");
        assert!(
            judgement.reason.contains("range and the clips"),
            "{}",
            judgement.reason
        );
    }
}

#[test]
fn rule_09_a_winding_that_reads_nothing_is_shorted_though_the_sum_holds() {
    let bench = Bench::read("winding main; terminals 4");
    let set = |values: &str| {
        let [a, b, c] = parts(&bench, values);
        words(&three_wire(&bench.motor, &a, &b, &c, Through::Nothing))
    };
    assert_eq!(set("0.01 10.00 10.00"), "fail shorted");
    assert_eq!(set("10.00 0.00 10.00"), "fail shorted");
    assert_eq!(set("10.00 10.00 0.00"), "fail shorted");
    assert_eq!(set("0.50 10.00 10.50"), "pass within");
    // So coarse that the smaller winding could be missing.
    assert_eq!(set("1 10 11"), "undecided limits_too_narrow");
    assert_eq!(set("1.0 10.0 11.0"), "pass within");
}

#[test]
fn rule_09_a_cable_counts_once_in_the_sum() {
    let bench = Bench::read("winding main; terminals 4");
    let [a, b, c] = parts(&bench, "2.50 10.00 12.05");
    let cable = |ohms: &str| Cable::of(d(ohms), Text::clean("as given"));
    // −0.45 is more than 2 % of 12.05 and U; 10 % of 5 Ω of cable explains it.
    let set = |through: Through<'_>| words(&three_wire(&bench.motor, &a, &b, &c, through));
    assert_eq!(set(Through::Nothing), "fail sum_mismatch");
    assert_eq!(set(Through::Cable(&cable("1.00"))), "fail sum_mismatch");
    assert_eq!(set(Through::Cable(&cable("5.00"))), "pass within");
    // A cable that nobody subtracted: it counts twice in the sum and once in the total.
    assert_eq!(set(Through::Unknown), "undecided sum_mismatch");
    let [a, b, c] = parts(&bench, "2.50 10.00 12.50");
    assert_eq!(
        words(&three_wire(&bench.motor, &a, &b, &c, Through::Unknown)),
        "undecided within"
    );
    let [a, b, c] = parts(&bench, "2.50 10.00 13.50");
    assert_eq!(
        words(&three_wire(&bench.motor, &a, &b, &c, Through::Unknown)),
        "fail sum_mismatch"
    );
}

#[test]
fn rule_07_an_only_value_that_belongs_elsewhere_is_mixed_leads() {
    // Main 2 to 3, start 9 to 12, so run to start 11 to 15: what reads says which pair it is.
    wire("2.50 ol ol", "fail open");
    let hot = wire("13.50 ol ol", "undecided leads_mixed");
    assert!(
        hot.reason.contains("is that of start or total"),
        "{}",
        hot.reason
    );
    wire("10.00 ol ol", "undecided leads_mixed");
    wire("ol 2.50 ol", "undecided leads_mixed");
    wire("ol ol 2.50", "undecided leads_mixed");
    // None of them: as labelled.
    wire("5.00 ol ol", "fail open");
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
fn rule_10_a_shape_says_between_which_lines() {
    for (values, finding, words) in [
        (
            "20.00 10.00 10.00",
            "fail open",
            "the phase of a delta between lines 1 and 2 is open",
        ),
        (
            "10.00 20.00 10.00",
            "fail open",
            "the phase of a delta between lines 2 and 3 is open",
        ),
        (
            "10.00 10.00 20.00",
            "fail open",
            "the phase of a delta between lines 3 and 1 is open",
        ),
        (
            "0.00 10.00 10.00",
            "fail shorted",
            "shorted between lines 1 and 2",
        ),
        (
            "10.00 0.01 10.00",
            "fail shorted",
            "shorted between lines 2 and 3",
        ),
        (
            "10.00 10.00 0.00",
            "fail shorted",
            "shorted between lines 3 and 1",
        ),
    ] {
        let judgement = phase(values, finding);
        assert!(
            judgement.reason.contains(words),
            "{values}: {}",
            judgement.reason
        );
    }
    // Within 5 % of the shape, and not beyond it.
    phase("10.00 10.40 19.60", "fail open");
    phase("10.00 10.00 17.00", "fail unbalanced");
    // Three counts show no shape.
    phase("0.1 0.1 0.2", "fail unbalanced");
}

#[test]
fn rule_10_the_odd_phase_is_named_for_wye_and_for_delta() {
    // Wye of 5, 5 and 4 on line 2, by hand: 9, 9, 10.
    let wye = phase("9.00 9.00 10.00", "fail unbalanced");
    let words = "in wye the one on line 2 (low), in delta the one between lines 3 and 1 (high)";
    assert!(wye.reason.contains(words), "{}", wye.reason);
    // Delta of 15, 15 and 10 between 1 and 2, by hand: 10·30/40, 15·25/40 twice.
    let delta = phase("7.500 9.375 9.375", "fail unbalanced");
    let words = "in wye the one on line 3 (high), in delta the one between lines 1 and 2 (low)";
    assert!(delta.reason.contains(words), "{}", delta.reason);
    let spread = phase("9.00 10.00 11.00", "fail unbalanced");
    assert!(
        spread.reason.contains("no single phase"),
        "{}",
        spread.reason
    );
    assert!(
        !phase("10.00 10.00 10.00", "pass within")
            .reason
            .contains("phase")
    );
}

#[test]
fn rule_10_one_line_in_kilohms_is_the_wrong_range() {
    phase("10.00 10.00 10000", "undecided range_suspect");
    phase("10.00 10.00 999", "fail unbalanced");
}

#[test]
fn rule_10_a_cable_that_was_subtracted_keeps_the_doubt_of_its_cores() {
    let bench = Bench::read("winding main; terminals 4");
    let set = |values: &str, ohms: &str| {
        let [a, b, c] = parts(&bench, values);
        let cable = Cable::of(d(ohms), Text::clean("as given"));
        three_phase(&bench.motor, [&a, &b, &c], Through::Cable(&cable))
    };
    // 1.64 % by hand. The cores may differ by 1 % of 0.50 in 10.13, or of 10.00 in it.
    assert_eq!(words(&set("10.00 10.10 10.30", "0.50")), "pass within");
    let long = set("10.00 10.10 10.30", "10.00");
    assert_eq!(words(&long), "undecided unbalanced");
    assert!(
        long.reason.contains("measure at the splice"),
        "{}",
        long.reason
    );
    // The doubt of the whole cable moves the mean alone: equal stays equal.
    assert_eq!(words(&set("10.00 10.00 10.00", "10.00")), "pass within");
    assert_eq!(words(&set("10.00 10.00 12.00", "10.00")), "fail unbalanced");
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

    #[test]
    fn rule_09_mixed_leads_are_never_a_fault_and_never_a_pass(m in 2000..3000_i64, s in 9000..12000_i64, order in proptest::sample::select(vec![[1, 0, 2], [0, 2, 1], [2, 0, 1], [1, 2, 0], [2, 1, 0]])) {
        let all = [m, s, m + s];
        let values = order.map(|at: usize| format!("{}.{:03}", all[at] / 1000, all[at] % 1000)).join(" ");
        let set = three(Kind::ThreeWire, "", &values);
        proptest::prop_assert_eq!(words(&set), "undecided leads_mixed", "{}", set.reason);
    }

    #[test]
    fn rule_10_an_odd_phase_is_named_by_its_line(r in 1000..9000_i64, part in 300..900_i64, line in 0..3_usize) {
        let mut phases = [r as f64 / 100.0; 3];
        phases[line] *= part as f64 / 1000.0;
        let [a, b, c] = phases;
        let values = [a + b, b + c, c + a].map(|v| format!("{v:.3}")).join(" ");
        let set = three(Kind::ThreePhase, "", &values);
        let words = format!("in wye the one on line {} (low)", line + 1);
        proptest::prop_assert!(set.verdict != crate::row::Verdict::Pass || part > 880, "{}", set.reason);
        if set.finding == Some(crate::row::Finding::Unbalanced) {
            proptest::prop_assert!(set.reason.contains(&words), "{}", set.reason);
        }
    }

    #[test]
    fn rule_10_balance_does_not_depend_on_the_unit(a in 2000..9000_i64, off in 0..900_i64, other in 0..900_i64) {
        let set = |places: usize| {
            let unit = [100, 1000, 10_000][places - 2];
            let text = |v: i64| format!("{}.{:0places$}", v / unit, v % unit);
            let values = [a, a + a * off / 10_000, a + a * other / 10_000].map(text).join(" ");
            words(&three(Kind::ThreePhase, "", &values))
        };
        proptest::prop_assert_eq!(set(2), set(3));
        proptest::prop_assert_eq!(set(2), set(4));
    }
}
