//! Ways around the rules by data: sheets, profiles, temperatures, typed values
//! and checks of meters that a hurried or a clever person might write.

use super::harness::Bench;
use crate::row::Verdict;

/// All of it happens.
#[track_caller]
fn day(lines: &[&str]) -> Bench {
    let mut bench = Bench::new();
    for line in lines {
        if let Err(refused) = bench.happen(line) {
            panic!("{line}: {}\n{}", refused.message, bench.reasons());
        }
    }
    bench
}

/// The verdict and finding of the last row of a point.
fn last(bench: &Bench, test: &str, point: &str) -> String {
    let of = |r: &&crate::row::Recorded| {
        r.row.test == test && r.row.point == point && r.row.verdict.is_some()
    };
    let row = bench.rows.iter().rfind(of).expect("a row");
    let finding = row.row.finding.map(|f| format!(" {f}")).unwrap_or_default();
    format!("{}{finding}", row.row.verdict.expect("a verdict"))
}

/// The reason of the job's end.
fn end(bench: &Bench) -> &str {
    &bench.rows.last().expect("a row").row.reason
}

const LEADS_AFTER: [&str; 2] = ["take 0.2", "take 0.01M"];

#[test]
fn rule_18_a_sheet_that_reads_between_windings_only_clears_no_ground() {
    // Between two windings nothing is known of the frame.
    let sheet = "steps=ground_path/path,winding/all,ground/between_main_heater,insulation/between_main_heater";
    let start = format!("proven two_wire main=1.8..2.2 profile=machinery {sheet}");
    let mut lines = vec![
        start.as_str(),
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "hold 120M 500V 12s",
        "confirm shorted_to_ground",
    ];
    lines.extend(LEADS_AFTER);
    let bench = day(&lines);
    let said = end(&bench);
    assert!(said.starts_with("incomplete"), "{said}");
    assert!(said.contains("DO NOT ENERGIZE"), "{said}");
    assert!(bench.rows[0].row.reason.contains("no ground test"));
    assert!(bench.rows[0].row.reason.contains("no insulation test"));
}

#[test]
fn rule_18_three_lines_each_to_ground_are_the_whole_winding() {
    let sheet = "steps=ground_path/path,winding/all,ground/all,insulation/line_1_to_ground,insulation/line_2_to_ground,insulation/line_3_to_ground";
    let start = format!("proven three_phase line=1.8..2.2 profile=machinery {sheet}");
    let mut lines = vec![
        start.as_str(),
        "take 2.2",
        "take 2.2",
        "take 2.2",
        "take 30M",
    ];
    lines.push("confirm disconnected");
    for _ in 0..3 {
        lines.extend([
            "confirm stand_clear",
            "hold 120M 500V 12s",
            "confirm shorted_to_ground",
        ]);
    }
    lines.extend(LEADS_AFTER);
    let said = end(&day(&lines)).to_owned();
    assert!(said.starts_with("no_fault_found"), "{said}");
    // Two of them are not.
    let two = start.replace(",insulation/line_3_to_ground", "");
    lines[0] = &two;
    let fewer: Vec<&str> = lines[..12].iter().chain(&LEADS_AFTER).copied().collect();
    let said = end(&day(&fewer)).to_owned();
    assert!(said.starts_with("incomplete"), "{said}");
    assert!(
        said.contains("DO NOT ENERGIZE: no pass of insulation"),
        "{said}"
    );
}

#[test]
fn a_winding_with_limits_that_its_sheet_leaves_out_is_missing() {
    let sheet = "steps=ground_path/path,winding/main,ground/all,insulation/all_to_ground";
    let start = format!("proven three_wire main=1.8..2.2 start=5..6 profile=machinery {sheet}");
    let mut lines = vec![
        start.as_str(),
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "hold 120M 500V 12s",
        "confirm shorted_to_ground",
    ];
    lines.extend(LEADS_AFTER);
    let said = end(&day(&lines)).to_owned();
    assert!(said.starts_with("incomplete"), "{said}");
    assert!(said.contains("winding start"), "{said}");
}

#[test]
fn rule_18_a_sheet_without_ground_and_insulation_ends_with_do_not_energize() {
    let bench = day(&[
        "proven two_wire main=1.8..2.2 profile=machinery steps=winding/all",
        "take 2.2",
        "take 0.2",
    ]);
    let said = end(&bench);
    assert!(said.starts_with("incomplete"), "{said}");
    assert!(
        said.contains("DO NOT ENERGIZE: no pass of ground and insulation"),
        "{said}"
    );
}

#[test]
fn what_nobody_may_leave_out_is_missing_when_the_job_is_ended() {
    for (kept, words) in [
        (
            "temperature/winding!,ground_path/path,winding/all,ground/all",
            "temperature winding not measured",
        ),
        (
            "ground_path/path!,winding/all,ground/all",
            "ground_path path not measured",
        ),
        (
            "ground_path/path,winding/main!,ground/all",
            "winding main not measured",
        ),
        (
            "ground_path/path,winding/all,ground/all!",
            "ground all_to_ground not measured",
        ),
    ] {
        let start = format!("start two_wire main=1.8..2.2 profile=machinery steps={kept}");
        let mut bench = day(&[&start, "confirm dead"]);
        let point = words.trim_end_matches(" not measured");
        for around in [format!("skip {point}: late"), format!("skip {}", "late")] {
            // The leads may be left out; the kept point never is.
            _ = bench.happen(&around);
        }
        bench.happen("end").expect("ends");
        let said = end(&bench);
        assert!(said.starts_with("incomplete"), "{said}");
        assert!(said.contains(words), "{said}");
        assert!(said.contains("DO NOT ENERGIZE"), "{said}");
    }
}

#[test]
fn rule_15_a_few_volts_of_a_sheet_are_no_insulation_test() {
    // Nothing can be planned without a rated voltage: 5 V would stand alone.
    let steps = "steps=ground_path/path,winding/all,ground/all,insulation/all_to_ground";
    for plan in ["rated=no", "max=40", ""] {
        let start = format!("start two_wire main=1.8..2.2 profile=machinery {plan} {steps}%5V");
        let refused = Bench::new().happen(&start).expect_err("refused");
        assert!(
            refused
                .message
                .contains("expected a test_voltage of at least 50 V"),
            "{}",
            refused.message
        );
    }
    // And 250 V are less than any rated voltage asks for (IEEE 43: 500 V below 1000 V).
    for (volts, wanted) in [
        ("250V", "not_judged wrong_test_voltage"),
        ("500V", "pass within"),
    ] {
        let start = format!("proven two_wire main=1.8..2.2 minimum=1 rated=no {steps}%{volts}");
        let hold = format!("hold 120M {volts} 12s");
        let bench = day(&[
            &start,
            "take 2.2",
            "take 30M",
            "confirm disconnected",
            "confirm stand_clear",
            &hold,
        ]);
        assert_eq!(
            last(&bench, "insulation", "all_to_ground"),
            wanted,
            "{volts}"
        );
    }
}

const WARM: &str = "proven two_wire main=1.8..2.2 profile=ieee43 steps=ground_path/path,temperature/winding,winding/all,ground/all,insulation/all_to_ground";

#[test]
fn rule_13_a_temperature_from_before_the_motor_was_set_aside_is_not_the_one_now() {
    // Read at 80 °C, then cooled overnight: 2 MΩ cold are 0.35 MΩ at 40 °C,
    // and by the old temperature 32 MΩ.
    let cold = [
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "hold 2.00M 500V 60s",
    ];
    for (aside, again) in [
        ("park cooling", false),
        ("restart", false),
        ("park cooling", true),
    ] {
        let mut bench = day(&[WARM, "enter ohms-1 80°C"]);
        for line in [aside, "tick 600min", "go-on J1"] {
            bench.happen(line).expect(line);
        }
        assert_eq!(bench.asked_now(), "leads/before ohms-1");
        bench.happen("take 0.2").expect("proven");
        assert_eq!(bench.asked_now(), "temperature/winding ", "{aside}");
        if again {
            bench.happen("enter ohms-1 15°C").expect("typed");
        } else {
            bench.happen("skip nobody is here").expect("left out");
        }
        for line in cold {
            if bench.asked_now() == "leads/before mega-1" {
                bench.happen("take 0.01M").expect("proven");
            }
            bench.happen(line).expect(line);
        }
        let wanted = if again {
            "fail below_minimum"
        } else {
            "undecided below_minimum"
        };
        assert_eq!(
            last(&bench, "insulation", "all_to_ground"),
            wanted,
            "{}",
            bench.reasons()
        );
    }
}

#[test]
fn rule_13_a_plans_temperature_does_not_outlast_a_night_either() {
    let mut bench = day(&[
        "proven two_wire main=1.8..2.2 profile=ieee43 temperature=80",
        "park cooling",
        "tick 600min",
        "go-on J1",
    ]);
    assert_eq!(
        bench.asked_now(),
        "temperature/winding ",
        "{}",
        bench.reasons()
    );
    bench.happen("restart").expect("stops");
    bench.happen("go-on J1").expect("goes on");
    assert_eq!(
        bench.asked_now(),
        "temperature/winding ",
        "{}",
        bench.reasons()
    );
    bench.happen("enter ohms-1 15°C").expect("typed");
    bench.happen("take 0.2").expect("proven");
    for line in [
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
    ] {
        if bench.asked_now() == "leads/before mega-1" {
            bench.happen("take 0.01M").expect("proven");
        }
        bench.happen(line).expect(line);
    }
    bench.happen("hold 2.00M 500V 60s").expect("held");
    assert_eq!(
        last(&bench, "insulation", "all_to_ground"),
        "fail below_minimum"
    );
    // A short pause changes nothing.
    let bench = day(&[
        "proven two_wire main=1.8..2.2 profile=ieee43 temperature=80",
        "park lunch",
        "tick 20min",
        "go-on J1",
        "take 0.2",
    ]);
    assert_eq!(bench.asked_now(), "winding/main ohms-1");
}

#[test]
fn rule_13_a_temperature_that_is_read_again_does_not_bring_back_the_plans() {
    let start = format!("{WARM} temperature=80");
    let bench = day(&[
        &start,
        "enter ohms-1 15°C",
        "redo temperature winding",
        "skip it is late",
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "hold 2.00M 500V 60s",
    ]);
    let found = last(&bench, "insulation", "all_to_ground");
    assert!(
        found.starts_with("undecided"),
        "{found}\n{}",
        bench.reasons()
    );
}

#[test]
fn a_temperature_that_was_replaced_and_is_withdrawn_takes_along_what_rests_on_it() {
    let mut bench = day(&[WARM, "enter ohms-1 80°C"]);
    let hot = bench.rows.last().expect("a row").seq;
    for line in [
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "hold 2.00M 500V 60s",
        "confirm shorted_to_ground",
    ] {
        bench.happen(line).expect(line);
    }
    assert_eq!(last(&bench, "insulation", "all_to_ground"), "pass within");
    bench
        .happen("redo temperature winding")
        .expect("asked again");
    bench.happen("enter ohms-1 15°C").expect("typed");
    for happens in [
        format!("withdraw {hot} it was the oven's"),
        String::from("restart"),
    ] {
        bench.happen(&happens).expect("goes on");
        let view = &bench.views()[0];
        let point = view
            .points
            .iter()
            .find(|p| p.test == "insulation")
            .expect("a point");
        assert_eq!(point.verdict, None, "{happens}\n{}", bench.reasons());
    }
}

#[test]
fn rule_20_a_ratio_does_not_pass_on_a_blocked_meter() {
    let bench = day(&[
        "prove mega-1 1M/1=1.4M",
        "proven two_wire main=1.8..2.2 profile=ieee43 steps=ground_path/path,winding/all,ground/all,insulation/all_to_ground@60+600,ratio/pi#ieee43-f",
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "marks 500V 60s=120M 600s=300M",
    ]);
    assert_eq!(
        last(&bench, "insulation", "all_to_ground"),
        "undecided within"
    );
    assert!(
        last(&bench, "ratio", "pi").starts_with("undecided"),
        "{}",
        bench.reasons()
    );
}

#[test]
fn rule_20_a_ground_is_not_proven_with_a_blocked_meter() {
    // The reference of an insulation test with the other meter rests on it.
    let bench = day(&[
        "prove ohms-1 leads=0.2 100/0.1=110.0",
        "proven two_wire main=1.8..2.2 profile=machinery reference=casing",
    ]);
    assert_eq!(
        last(&bench, "ground_path", "path"),
        "undecided ground_path_unproven"
    );
}

#[test]
fn rule_20_over_range_on_a_known_resistor_is_made_up_for_near_it_only() {
    // A range that always reads over-range looks like perfect insulation.
    let over = "prove ohms-1 leads=0.2 1M/1=OL";
    let start = "proven two_wire main=1.8..2.2 profile=machinery";
    let winding = |checks: &[&str]| {
        let mut lines = checks.to_vec();
        lines.extend([start, "take 2.2"]);
        last(&day(&lines), "winding", "main")
    };
    assert_eq!(
        winding(&[over, "prove ohms-1 leads=0.2 100/0.1=100.2"]),
        "undecided within"
    );
    assert_eq!(
        winding(&[over, "prove ohms-1 leads=0.2 1M/1=1.00M"]),
        "pass within"
    );
}

#[test]
fn rule_20_a_check_of_a_meter_is_not_withdrawn() {
    let mut bench = day(&["prove ohms-1 leads=0.2 100/0.1=110.0"]);
    let failed = bench.rows.last().expect("a row").seq;
    let refused = bench.happen(&format!("withdraw {failed} wrong resistor"));
    let message = refused.expect_err("refused").message;
    assert!(message.contains("check"), "{message}");
    bench
        .happen("prove ohms-1 leads=0.2 100/0.1=100.2")
        .expect("held");
    let held = bench.rows.last().expect("a row").seq;
    bench
        .happen(&format!("withdraw {held} wrong resistor"))
        .expect_err("refused");
}

#[test]
fn rule_13_a_later_mark_at_another_voltage_takes_the_pass_before_it() {
    // The tester sags to 100 V on a winding that breaks down by ten minutes.
    let mut bench = day(&[
        "proven two_wire main=1.8..2.2 profile=ieee43 steps=ground_path/path,winding/all,ground/all,insulation/all_to_ground@60+600",
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "marks 500V 60s=120M",
    ]);
    bench
        .happen("enter mega-1 0.3M insulation all_to_ground 100V 600s")
        .expect("typed");
    let view = &bench.views()[0];
    let point = view
        .points
        .iter()
        .find(|p| p.test == "insulation")
        .expect("a point");
    assert_ne!(point.verdict, Some(Verdict::Pass), "{}", bench.reasons());
}

#[test]
fn no_profile_begins_a_job_that_its_own_file_could_not_hold() {
    for minimum in ["0", "0.01", "200000"] {
        let start = format!("start two_wire main=1.8..2.2 minimum={minimum}");
        let refused = Bench::new().happen(&start).expect_err(minimum);
        assert!(refused.message.contains("megohm"), "{}", refused.message);
    }
}

#[test]
fn no_profile_lowers_the_floor_of_the_ground_test_of_an_unlisted_motor() {
    for (motor, wanted) in [
        ("listed=no minimum=0.05", "fail to_ground"),
        ("listed=yes minimum=0.05", "pass no_fault_seen"),
    ] {
        let start = format!("proven two_wire main=1.8..2.2 {motor}");
        let bench = day(&[&start, "take 2.2", "take 0.200M"]);
        assert_eq!(
            last(&bench, "ground", "all_to_ground"),
            wanted,
            "{}",
            bench.reasons()
        );
    }
    let bench = day(&[
        "proven two_wire main=1.8..2.2 listed=no minimum=0.05",
        "take 2.2",
        "take 0.600M",
    ]);
    assert_eq!(
        last(&bench, "ground", "all_to_ground"),
        "pass no_fault_seen"
    );
}

#[test]
fn rule_5_a_cable_of_no_ohms_is_no_cable() {
    let at = |cable: &str| {
        let start =
            format!("proven two_wire main=1.8..2.2 profile=machinery measured=panel {cable}");
        last(&day(&[&start, "take 2.2"]), "winding", "main")
    };
    assert_eq!(at(""), "undecided within");
    assert_eq!(at("cable=0"), "undecided within");
    assert_eq!(at("cable=0.05"), "pass within");
}

#[test]
fn a_cable_that_no_motor_hangs_on_clears_no_winding() {
    // More than was read: below zero, never within.
    let start = "proven two_wire main=1.8..2.2 profile=machinery measured=panel cable=1e9";
    let found = last(&day(&[start, "take 2.2"]), "winding", "main");
    assert!(!found.starts_with("pass"), "{found}");
}

#[test]
fn a_test_voltage_is_typed_for_an_insulation_point_only() {
    let mut bench = day(&[
        "configure one-meter-for-all",
        "proven two_wire main=1.8..2.2 profile=machinery",
        "take 2.2",
    ]);
    let refused = bench.happen("enter ohms-1 30M ground all_to_ground 500V 60s");
    let message = refused.expect_err("refused").message;
    assert!(message.contains("insulation"), "{message}");
}

#[test]
fn rule_1_a_typed_range_is_not_beyond_what_the_meter_has() {
    use crate::input::{Act, Entered};
    use crate::limits::{Point, Test};
    use crate::text::Text;
    let mut bench = day(&[
        "proven two_wire main=1.8..2.2 profile=machinery",
        "take 2.2",
    ]);
    let entered = |full_scale: &str| {
        Act::Enter(Box::new(Entered {
            job: Some(Text::clean("J1")),
            point: Some(Point::new(Test::Ground, "all_to_ground")),
            meter: Text::clean("ohms-1"),
            shown: None,
            full_scale: full_scale.parse().ok(),
            test_voltage: None,
            elapsed_s: None,
        }))
    };
    let message = bench.act(entered("2e11")).expect_err("refused").message;
    assert!(message.contains("up to 40000000 of ohms-1"), "{message}");
    bench.act(entered("4e6")).expect("a range of the meter");
}
