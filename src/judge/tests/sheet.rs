//! Rule 14 and the order of a sheet: what is refused before any step.

use core::time::Duration;

use super::{Bench, Test, Volts};
use crate::judge::sheet::{Against, Checked, check, ratio_marks, ratio_of, steps, windings};
use crate::limits::{Kind, Range, Sheet, SheetStep, SkipBy};
use crate::text::Text;

/// Reads `winding all, insulation all_to_ground at 500 marks 30 60, ratio dar`.
fn sheet(text: &str) -> Sheet {
    let step = |line: &str| {
        let w: Vec<&str> = line.split_whitespace().collect();
        let mut step = SheetStep::plain(Test::from_word(w[0]).expect("a test"), w[1]);
        let mut key = "";
        for word in &w[2..] {
            match (*word, key) {
                ("nobody", _) => step.skip = SkipBy::Nobody,
                ("at" | "marks", _) => key = word,
                (volts, "at") => step.test_voltage = Some(Volts(volts.parse().expect("volts"))),
                (mark, _) => step.marks_s.push(mark.parse().expect("a mark")),
            }
        }
        step
    };
    Sheet {
        name: Text::clean("ponds"),
        title: Text::default(),
        search: None,
        steps: text
            .split(',')
            .filter(|l| !l.trim().is_empty())
            .map(step)
            .collect(),
    }
}

/// On a motor set up by a line, 500 V planned and a mark of 60 s.
fn checked(motor: &str, text: &str) -> Checked {
    let bench = Bench::read(&format!("winding main{motor}"));
    check(
        &sheet(text),
        &Against {
            motor: &bench.motor,
            planned: Some(Volts(500.0)),
            mark: Duration::from_secs(60),
            tester: Some(true),
        },
    )
}

/// Nothing is refused, nothing is left out.
#[track_caller]
fn stands(motor: &str, text: &str) {
    assert_eq!(checked(motor, text), Checked::default(), "{motor} {text}");
}

/// One refusal, which holds the words.
#[track_caller]
fn refuses(motor: &str, text: &str, saying: &str) {
    let found = checked(motor, text).refusals;
    assert!(
        found.len() == 1 && found[0].contains(saying),
        "{text}: {saying:?} is not the one refusal in {found:?}"
    );
}

/// No refusal and one warning, which holds the words.
#[track_caller]
fn warns(motor: &str, text: &str, saying: &str) {
    let found = checked(motor, text);
    assert_eq!(found.refusals, [""; 0], "{text}");
    let found = found.warnings;
    assert!(
        found.len() == 1 && found[0].contains(saying),
        "{text}: {saying:?} is not the one warning in {found:?}"
    );
}

const FIRST: &str = "ground_path path, winding all, sensor all, ground all";
const LAST: &str = "insulation all_to_ground";

#[test]
fn rule_14_a_sheet_puts_no_test_voltage_on_electronics() {
    let full = format!("{FIRST}, {LAST}");
    stands("", &full);
    refuses("; electronics yes", &full, "electronics in or on the motor");
    refuses("; electronics unknown", &full, "nobody knows");
    refuses("; itest forbidden", &full, "the catalogue forbids");
    stands("; itest leads_joined_only; electronics yes", &full);
    refuses(
        "; itest leads_joined_only",
        &format!("{FIRST}, insulation line_1_to_ground"),
        "with all leads joined only",
    );
    warns(
        "",
        &format!("{FIRST}, insulation line_1_to_ground"),
        "no insulation test of the whole winding",
    );
    // Without the test there is nothing to refuse, and only an allowed one is missed.
    stands("; electronics yes", FIRST);
    warns(
        "",
        FIRST,
        "no insulation test of the whole winding (insulation all_to_ground): the job stays incomplete",
    );
}

#[test]
fn rule_14_a_sensor_never_gets_a_test_voltage() {
    refuses(
        "",
        &format!("{FIRST}, insulation ptc_to_ground"),
        "a sensor never gets a test voltage",
    );
    refuses(
        "; electronics yes",
        "ground_path path, winding all, sensor ptc at 500, ground all",
        "a sensor never gets a test voltage: delete",
    );
    refuses(
        "; electronics yes",
        "ground_path path, winding main at 500, ground all",
        "belongs to an insulation step only",
    );
}

#[test]
fn a_test_voltage_comes_after_all_that_finds_a_wrong_clip() {
    for (text, missing) in [
        (
            "winding all, ground all, insulation all_to_ground",
            "ground_path path",
        ),
        (
            "ground_path path, ground all, insulation all_to_ground",
            "winding all",
        ),
        (
            "ground_path path, winding all, insulation all_to_ground",
            "ground all_to_ground",
        ),
        (
            "ground_path path, winding all, ground all, insulation all_to_ground, sensor ptc",
            "sensor all",
        ),
        (
            "ground_path path, winding main, ground all, insulation all_to_ground, winding start",
            "winding all",
        ),
    ] {
        refuses("", text, &format!("must come after {missing}"));
    }
    // Without sensors there is none to come before.
    stands(
        "",
        "ground_path path, winding all, ground all, insulation all_to_ground",
    );
}

#[test]
fn rule_15_a_sheet_names_no_voltage_that_a_motor_does_not_bear() {
    let at = |volts: &str| format!("{FIRST}, {LAST} at {volts}");
    stands("; max 500", &at("500"));
    refuses(
        "; max 499",
        &at("500"),
        "500 V is more than this motor may have: at most 499 V",
    );
    for volts in ["0", "-500", "NaN", "inf"] {
        refuses("", &at(volts), "expected a test_voltage of at least 50 V");
    }
    // 0.9 to 1.25 of 500 V planned: 450 to 625.
    warns("", &at("625"), "625 V is no usual step");
    warns("", &at("450"), "450 V is no usual step");
    warns(
        "",
        &at("250"),
        "250 V is off the profile's 500 V: a value below it is not judged",
    );
    warns(
        "",
        &at("1000"),
        "1000 V is off the profile's 500 V: it strains the winding more",
    );
}

#[test]
fn rule_13_a_hold_shorter_than_the_mark_is_said() {
    let marks = |marks: &str| format!("{FIRST}, {LAST} marks {marks}");
    stands("", &marks("60"));
    stands("", &marks("30 60"));
    warns(
        "",
        &marks("59"),
        "a hold of 59 s is shorter than the profile's 60 s",
    );
    stands("", &marks("3600"));
    for wrong in ["60 30", "60 60", "0 60", "60 3601"] {
        refuses("", &marks(wrong), "expected marks_s in rising order");
    }
    refuses(
        "; electronics yes",
        "ground_path path, winding main marks 60, ground all",
        "marks_s belong to an insulation step",
    );
}

#[test]
fn a_step_that_nobody_may_skip_must_be_measurable_here() {
    let motor = Bench::read("winding main").motor;
    let refusals = |text: &str, planned: Option<f64>, tester: Option<bool>| {
        let against = Against {
            motor: &motor,
            planned: planned.map(Volts),
            mark: Duration::from_secs(60),
            tester,
        };
        check(&sheet(&format!("{FIRST}, {text}")), &against)
            .refusals
            .join(" ")
    };
    let must = "insulation all_to_ground nobody";
    assert_eq!(refusals(must, Some(500.0), Some(true)), "");
    assert_eq!(refusals(must, Some(500.0), None), "");
    assert!(refusals(must, Some(500.0), Some(false)).contains("no meter on this bench"));
    assert!(refusals(must, None, Some(true)).contains("no test voltage can be planned"));
    assert_eq!(refusals(&format!("{must} at 500"), None, Some(true)), "");
    assert_eq!(refusals(LAST, None, Some(false)), "");
}

#[test]
fn a_sheet_names_points_that_there_are_and_each_once() {
    for (text, saying) in [
        ("dead before", "stand around every sheet"),
        ("leads after", "stand around every sheet"),
        ("ground_path frame", "expected path, found frame"),
        (
            "temperature pond",
            "expected winding or ambient, found pond",
        ),
        ("ratio tau", "expected pi or dar, found tau"),
        ("winding set", "is judged by itself"),
        (
            "sensor ptcx",
            "expected ptc, thermal_switch or leak_probe, found ptcx",
        ),
        ("ground main", "expected all_to_ground"),
        ("winding tap_1, winding tap_1", "is there twice"),
    ] {
        let found = checked("; electronics yes", &format!("{FIRST}, {text}")).refusals;
        assert!(
            found.iter().any(|r| r.contains(saying)),
            "{text}: {saying:?} is not in {found:?}"
        );
    }
    for text in [
        "temperature winding, temperature ambient",
        "sensor ptc, sensor ptc_2, sensor leak_probe",
        "ground line_1_to_ground, ground between_main_start",
        "winding tap_1, winding tap_2",
    ] {
        stands("; electronics yes", &format!("{FIRST}, {text}"));
    }
    let empty = checked("; electronics yes", "");
    assert!(empty.refusals.concat().contains("it has no step"));
}

#[test]
fn rule_12_what_a_sheet_leaves_out_is_said() {
    let without = |text: &str, saying: &str| warns("; electronics yes", text, saying);
    without("ground_path path, ground all", "no winding is measured");
    without("ground_path path, winding all", "no ground test");
    without("winding all, ground all", "no ground_path");
}

#[test]
fn a_ratio_is_of_two_marks_of_the_hold_before_it() {
    let full = |hold: &str, ratio: &str| format!("{FIRST}, {LAST} marks {hold}, ratio {ratio}");
    stands("", &full("30 60", "dar"));
    stands("", &full("60 600", "pi"));
    stands("", &full("60 300", "pi marks 60 300"));
    refuses("", &full("60 300", "pi"), "marks_s = [60, 600]");
    refuses("", &full("60 600", "dar"), "marks_s = [30, 60]");
    refuses("", &full("60 600", "pi marks 60"), "expected two marks_s");
    refuses(
        "; electronics yes",
        &format!("{FIRST}, ratio dar"),
        "needs an insulation step before it",
    );
    let marks = |text: &str| ratio_marks(&sheet(text).steps[0]);
    assert_eq!(marks("ratio pi"), Some([60, 600]));
    assert_eq!(marks("ratio dar"), Some([30, 60]));
    assert_eq!(marks("ratio pi marks 30 90"), Some([30, 90]));
    assert_eq!(marks("winding main"), None);
    let steps = sheet(&format!(
        "{FIRST}, insulation line_1_to_ground, {LAST}, ratio dar"
    ))
    .steps;
    let of = |at: usize| ratio_of(&steps, at).map(Text::as_str);
    assert_eq!(
        [of(4), of(5), of(6)],
        [None, Some("line_1_to_ground"), Some("all_to_ground")]
    );
}

#[test]
fn all_is_what_the_motor_has_and_a_named_point_keeps_its_place() {
    let mut motor = Bench::read("winding line_12").motor;
    motor.kind = Kind::ThreePhase;
    for own in [
        "tap_1",
        "line_12_low_v",
        "line_12_high_v",
        "ptc",
        "between_1_2",
        "line_1_to_ground",
    ] {
        motor.points.push((Text::clean(own), Range::default()));
    }
    assert_eq!(windings(&motor), ["line_12", "line_23", "line_31", "tap_1"]);
    let spelled = |sheet: Option<&Sheet>| {
        let steps = steps(sheet, &motor);
        steps
            .iter()
            .map(|s| s.point.to_string())
            .collect::<Vec<_>>()
            .join(", ")
    };
    assert_eq!(
        spelled(None),
        "ground_path path, winding line_12, winding line_23, winding line_31, winding tap_1, sensor ptc, ground all_to_ground, ground between_1_2, ground line_1_to_ground, insulation all_to_ground"
    );
    assert_eq!(
        spelled(Some(&sheet(
            "winding line_31, winding all, ground all, ground between_1_2"
        ))),
        "winding line_31, winding line_12, winding line_23, winding tap_1, ground all_to_ground, ground line_1_to_ground, ground between_1_2"
    );
    for (kind, names) in [
        (Kind::TwoWire, vec!["main", "tap_1"]),
        (Kind::ThreeWire, vec!["main", "start", "total", "tap_1"]),
        (Kind::Other, vec!["tap_1"]),
    ] {
        motor.kind = kind;
        assert_eq!(windings(&motor), names);
    }
}
