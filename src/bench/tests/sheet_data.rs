//! Sheets as data: points of a motor's own, sensors, temperatures, and what is refused.
//!
//! Each rule both ways. Values are worked out by hand beside each script.

use super::harness::{Bench, check};

#[test]
fn points_of_the_catalogue_come_after_the_windings_and_pairs_are_compared() {
    // Leads 0.2 Ω: 1.0, 1.0, 1.0 are equal; 40 Ω of a sensor is within its limits.
    // Limits for one connection are no point.
    check(
        "
        > proven other points=pair_1_4:0.9..1.1,pair_2_5:0.9..1.1,pair_3_6:0.9..1.1,line_low_v:1..2,ptc:30..50
        ? winding/pair_1_4 ohms-1
        > take 1.20
        value winding/pair_1_4 1.20 Ω pass within
        ? winding/pair_2_5 ohms-1
        > take 1.20
        value winding/pair_2_5 1.20 Ω pass within
        ? winding/pair_3_6 ohms-1
        > take 1.20
        value winding/pair_3_6 1.20 Ω pass within
        judged winding/set_pair pass within of 8
        ? sensor/ptc ohms-1
        > take 40.0
        value sensor/ptc 40.0 Ω pass within
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn a_pair_that_lies_off_its_like_fails_their_set() {
    // After 0.2 Ω: 1.00, 1.00, 1.30; mean 1.10, 0.20 off: 18 %.
    check(
        "
        > proven other points=pair_1_4:0.9..1.4,pair_2_5:0.9..1.4,pair_3_6:0.9..1.4
        ? winding/pair_1_4 ohms-1
        > take 1.20
        value winding/pair_1_4 1.20 Ω pass within
        ? winding/pair_2_5 ohms-1
        > take 1.20
        value winding/pair_2_5 1.20 Ω pass within
        ? winding/pair_3_6 ohms-1
        > take 1.50
        value winding/pair_3_6 1.50 Ω pass within
        judged winding/set_pair fail unbalanced of 8
        ? ground/all_to_ground ohms-1
        > end
        job_end fault_found
        ? nothing
        ",
    );
}

#[test]
fn taps_in_reversed_order_are_mixed_leads() {
    check(
        "
        > proven two_wire main=1.8..2.2 points=tap_1:2..9,tap_2:2..9
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? winding/tap_1 ohms-1
        > take 8.2
        value winding/tap_1 8.2 Ω pass within
        ? winding/tap_2 ohms-1
        > take 3.2
        value winding/tap_2 3.2 Ω pass within
        judged winding/set_tap undecided leads_mixed of 8
        ? ground/all_to_ground ohms-1
        > redo winding tap_1
        note winding/tap_1 of 7
        ? winding/tap_1 ohms-1
        > take 3.2
        value winding/tap_1 3.2 Ω pass within
        judged winding/set_tap pass within of 11
        ? ground/all_to_ground ohms-1
        > redo winding tap_2
        note winding/tap_2 of 8
        ? winding/tap_2 ohms-1
        > take 8.2
        value winding/tap_2 8.2 Ω pass within
        judged winding/set_tap pass within of 14
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn what_a_sheet_lets_nobody_leave_out_is_not_left_out() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery steps=ground_path/path,winding/main!,ground/all
        ? winding/main ohms-1
        > skip no time
        refused: the job's sheet lets nobody leave this out; end the job instead
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > skip no time
        note ground/all_to_ground
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        job_end incomplete
        ? nothing
        ",
    );
}

#[test]
fn a_sheet_that_could_do_harm_begins_no_job() {
    let usual = "ground_path/path,winding/all,ground/all";
    for (plan, why) in [
        (
            format!("two_wire electronics=yes steps={usual},insulation/all_to_ground"),
            "there are electronics in or on the motor: a test voltage destroys them",
        ),
        (
            format!("two_wire test=forbidden steps={usual},insulation/all_to_ground"),
            "the catalogue forbids an insulation test of this motor",
        ),
        (
            String::from(
                "two_wire steps=ground_path/path,winding/all,insulation/all_to_ground,ground/all",
            ),
            "must come after ground all_to_ground",
        ),
        (
            String::from("two_wire steps=winding/all,ground/all,insulation/all_to_ground"),
            "must come after ground_path path",
        ),
        (
            format!("two_wire max=500 steps={usual},insulation/all_to_ground%1000V"),
            "1000 V is more than this motor may have: at most 500 V",
        ),
        (
            format!("two_wire steps={usual},sensor/ptc%500V"),
            "a sensor never gets a test voltage",
        ),
        (
            format!("two_wire steps={usual},insulation/ptc_to_ground"),
            "a sensor never gets a test voltage",
        ),
        (
            format!("two_wire steps={usual},insulation/all_to_ground@60,ratio/pi#trade"),
            "needs an insulation step before it with marks_s = [60, 600]",
        ),
        (
            format!("two_wire steps={usual},winding/main,winding/main"),
            "winding main: is there twice",
        ),
        (
            format!("two_wire test=leads_joined_only steps={usual},insulation/between_a_b"),
            "with all leads joined only",
        ),
    ] {
        let mut bench = Bench::new();
        let refused = bench.happen(&format!("start {plan}")).expect_err(&plan);
        assert!(refused.message.contains(why), "{plan}: {}", refused.message);
        assert!(bench.rows.is_empty(), "{plan}");
    }
    let mut bench = Bench::new();
    bench.happen("configure no-tester").expect("configures");
    let kept = format!("start two_wire steps={usual},insulation/all_to_ground!");
    let refused = bench.happen(&kept).expect_err("refused");
    assert!(
        refused.message.contains("no meter on this bench"),
        "{}",
        refused.message
    );
    let may = kept.trim_end_matches('!');
    bench.happen(may).expect("may be left out, so it begins");
}

#[test]
fn what_a_sheet_leaves_out_is_noted_where_the_job_begins() {
    let mut bench = Bench::new();
    bench
        .happen("start two_wire profile=ieee43 steps=ground_path/path,winding/all,ground/all,insulation/all_to_ground@30%250V")
        .expect("begins");
    let reason = &bench.rows[0].row.reason;
    assert!(reason.starts_with("sheet round; "), "{reason}");
    assert!(
        reason.contains("250 V is off the profile's 500 V: a value below it is not judged"),
        "{reason}"
    );
    assert!(
        reason.contains("a hold of 30 s is shorter than the profile's 60 s"),
        "{reason}"
    );
}

#[test]
fn rule_15_a_sheet_with_less_voltage_than_the_profile_clears_nothing() {
    let sheet = "steps=ground_path/path,winding/all,ground/all,insulation/all_to_ground%";
    for (volts, wanted) in [
        ("250V", "not_judged wrong_test_voltage"),
        ("1000V", "pass within"),
    ] {
        check(&format!(
            "
            > proven two_wire main=1.8..2.2 profile=machinery {sheet}{volts}
            ? winding/main ohms-1
            > take 2.2
            value winding/main 2.2 Ω pass within
            ? ground/all_to_ground ohms-1
            > take 30M
            value ground/all_to_ground 30 MΩ pass no_fault_seen
            ? confirm disconnected
            > confirm disconnected
            attested insulation/all_to_ground
            ? confirm stand_clear
            > confirm stand_clear
            attested insulation/all_to_ground
            ? insulation/all_to_ground mega-1
            > hold 120M {volts} 12s
            value insulation/all_to_ground 120 MΩ {wanted}
            ? confirm shorted_to_ground
            "
        ));
    }
}

#[test]
fn clips_are_not_moved_to_another_point_while_the_winding_is_charged() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery steps=ground_path/path,winding/all,ground/all,insulation/all_to_ground,insulation/between_main_heater
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        > confirm disconnected
        attested insulation/all_to_ground
        ? confirm stand_clear
        > confirm stand_clear
        attested insulation/all_to_ground
        ? insulation/all_to_ground mega-1
        > hold 120M 500V 12s
        value insulation/all_to_ground 120 MΩ pass within
        ? confirm shorted_to_ground
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? confirm stand_clear
        > confirm stand_clear
        attested insulation/between_main_heater
        ? insulation/between_main_heater mega-1
        > hold 120M 500V 12s
        value insulation/between_main_heater 120 MΩ pass within
        ? confirm shorted_to_ground
        ",
    );
}

#[test]
fn a_temperature_in_the_sheet_is_what_is_judged_by_after_it() {
    // Typed 50 °F is 10 °C exactly; ohms and what no winding has are refused.
    let mut bench = Bench::new();
    bench
        .happen("proven two_wire main=1.8..2.2 profile=ieee43 steps=temperature/ambient,temperature/winding,ground_path/path,winding/all,ground/all,insulation/all_to_ground")
        .expect("begins");
    assert_eq!(bench.asked_now(), "temperature/ambient ");
    bench.happen("enter ohms-1 90°F").expect("typed");
    assert_eq!(bench.asked_now(), "temperature/winding ");
    for wrong in ["12", "300°C"] {
        let refused = bench
            .happen(&format!("enter ohms-1 {wrong}"))
            .expect_err(wrong);
        assert!(
            refused.message.contains("expected a temperature"),
            "{}",
            refused.message
        );
    }
    bench
        .happen("take 2.2 on ohms-1")
        .expect("taken by no point");
    assert_eq!(bench.asked_now(), "temperature/winding ");
    bench.happen("enter ohms-1 50°F").expect("typed");
    for happens in [
        "take 0.3",
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "hold 120M 500V 60s",
    ] {
        bench.happen(happens).expect(happens);
    }
    let row = &bench.rows.last().expect("a row").row;
    // At 10 °C a reading counts an eighth at 40 °C: 15 MΩ (halving each 10 K).
    assert_eq!(
        row.judged_ohms.map(|o| o.to_f64()),
        Some(15e6),
        "{}",
        bench.reasons()
    );
    assert_eq!(row.temperature_c.map(|t| t.to_f64()), Some(10.0));
}
