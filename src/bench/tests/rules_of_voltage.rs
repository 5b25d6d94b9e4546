//! Rules 14 to 21 of judging, as far as they are a matter of state, by number.

use core::time::Duration;

use super::harness::{Bench, check};

#[test]
fn rule_14_a_forbidden_test_voltage_is_said_once_a_press() {
    check(
        "
        > proven two_wire main=1.8..2.2 electronics=unknown
        ? winding/main ohms-1
        > press 40V 2s
        > press 500V 2s
        value insulation/all_to_ground not_judged test_forbidden
        ? confirm shorted_to_ground
        > press 500V 2s
        value insulation/all_to_ground not_judged test_forbidden
        ",
    );
    // Where it is allowed nothing is said.
    check(
        "
        > proven two_wire main=1.8..2.2 electronics=no
        ? winding/main ohms-1
        > press 500V 2s
        note insulation/all_to_ground
        ? confirm shorted_to_ground
        ",
    );
}

/// No point holds what the tester put on a motor that may have no test
/// voltage, and what it did to the electronics no test here can say.
#[test]
fn rule_14_a_job_in_which_a_forbidden_voltage_reached_the_motor_is_undecided_at_best() {
    let came_to = |script: &[&str]| {
        let mut bench = Bench::new();
        bench
            .happen("proven two_wire main=1.8..2.2 electronics=yes")
            .expect("starts");
        for happens in script {
            bench.happen(happens).expect("happens");
        }
        bench.happen("end").expect("ends");
        let reason = &bench.rows.last().expect("a row").row.reason;
        reason.split(':').next().map(str::to_owned)
    };
    assert_eq!(came_to(&[]).as_deref(), Some("incomplete"));
    assert_eq!(came_to(&["press 500V 2s"]).as_deref(), Some("undecided"));
}

/// Up to the press: rows 1 to 9.
const TO_THE_PRESS: &str = "
        > proven two_wire main=1.8..2.2 profile=machinery
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
        ";

#[test]
fn rule_15_another_step_than_the_planned_one_is_no_verdict() {
    // 400 V rated: 500 V is planned; 250 V is half of it.
    check(&format!(
        "{TO_THE_PRESS}
        > hold 120M 250V 60s
        value insulation/all_to_ground 120 MΩ not_judged wrong_test_voltage
        ? confirm shorted_to_ground
        "
    ));
}

#[test]
fn rule_15_a_tester_that_sends_no_voltage_starts_with_a_persons_word() {
    check(
        "
        > configure voltage-unseen
        > proven two_wire main=1.8..2.2 profile=machinery
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
        ? confirm voltage_on
        > confirm voltage_on
        attested insulation/all_to_ground
        ? insulation/all_to_ground mega-1
        > hold 120M 500V 60s
        value insulation/all_to_ground 120 MΩ pass within
        ? confirm voltage_off
        > confirm voltage_off
        attested insulation/all_to_ground
        ? confirm shorted_to_ground
        ",
    );
}

#[test]
fn rule_15_without_a_measured_voltage_a_lost_hold_waits_for_voltage_off() {
    check(
        "
        > configure voltage-unseen
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        > confirm disconnected
        attested insulation/all_to_ground
        ? confirm stand_clear
        > confirm stand_clear
        attested insulation/all_to_ground
        ? confirm voltage_on
        > confirm voltage_on
        attested insulation/all_to_ground
        ? insulation/all_to_ground mega-1
        > hold released 500V 4s
        aborted insulation/all_to_ground
        ? confirm voltage_off
        > confirm voltage_off
        attested insulation/all_to_ground
        ? confirm voltage_on
        > confirm voltage_on
        attested insulation/all_to_ground
        ? insulation/all_to_ground mega-1
        ",
    );
}

#[test]
fn rule_15_a_hold_that_was_let_go_is_pressed_again() {
    check(&format!(
        "{TO_THE_PRESS}
        > hold released 500V 4s
        aborted insulation/all_to_ground
        > hold 120M 500V 10s
        value insulation/all_to_ground 120 MΩ pass within
        ? confirm shorted_to_ground
        "
    ));
}

#[test]
fn rule_16_voltage_on_the_clips_stops_ohm_tests_until_three_seconds_below() {
    // 2.9 V never counts; 230 V after 3 s; 2 s below are too short, 3 s are enough.
    check(
        "
        > proven two_wire main=1.8..2.2
        ? winding/main ohms-1
        > volts 2.9 ac 10s
        > volts 230 ac 2.5s
        > volts 0.1 ac 1s
        > volts 230 ac 3s
        value winding/main 230 V undecided voltage_present
        ? stop
        > take 2.2
        value 2.2 Ω not_judged voltage_present
        > volts 0.1 ac 2s
        > volts 12 ac 1s
        > volts 0.1 ac 3s
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn rule_16_a_person_proves_it_dead_where_the_meter_was_taken_away() {
    check(
        "
        > proven two_wire main=1.8..2.2
        ? winding/main ohms-1
        > volts 230 ac 4s
        value winding/main 230 V undecided voltage_present
        ? stop
        > confirm dead
        attested dead/before
        ? winding/main ohms-1
        > volts 230 ac 3s
        value winding/main 230 V undecided voltage_present
        ? stop
        ",
    );
}

#[test]
fn rule_16_voltage_that_stands_is_said_in_the_next_job_too() {
    check(
        "
        > proven two_wire main=1.8..2.2
        ? winding/main ohms-1
        > volts 12 dc 3s
        value winding/main 12 V undecided voltage_present
        ? stop
        > end
        job_end incomplete
        ? nothing
        > start two_wire asset=blower-2
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? stop
        > volts 12 dc 1s
        value leads/before 12 V undecided voltage_present
        ",
    );
}

#[test]
fn rule_16_while_it_is_proven_dead_voltage_is_what_is_looked_for() {
    // The tester is tried on a known source; what still stands when the first ohm test is asked for stops it.
    check(
        "
        > start two_wire main=1.8..2.2
        job_start
        ? confirm dead
        > volts 230 ac 5s
        > volts 0.1 ac 5s
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        ",
    );
    check(
        "
        > start two_wire main=1.8..2.2
        job_start
        ? confirm dead
        > volts 230 ac 5s
        > confirm dead
        attested dead/before
        ? stop
        > volts 230 ac 1s
        value leads/before 230 V undecided voltage_present
        ",
    );
}

#[test]
fn rule_16_the_hazard_wording_begins_at_25_v_ac_and_60_v_dc() {
    let reason = |volts: &str| {
        let mut bench = Bench::new();
        bench.happen("proven two_wire").expect("starts");
        bench.happen(&format!("volts {volts} 4s")).expect("heard");
        bench.rows.last().expect("a row").row.reason.clone()
    };
    for harmful in ["25 ac", "60 dc", "0.0 live"] {
        assert!(
            reason(harmful).contains("DANGER"),
            "{harmful}: {}",
            reason(harmful)
        );
    }
    for other in ["24.9 ac", "59.9 dc"] {
        assert!(
            !reason(other).contains("DANGER"),
            "{other}: {}",
            reason(other)
        );
    }
}

#[test]
fn rule_17_the_winding_stays_shorted_for_four_times_the_time_on_aborted_runs_included() {
    // 4 s let go and 60 s held: 64 s on, 256 s shorted.
    let mut bench = Bench::new();
    for line in TO_THE_PRESS
        .lines()
        .filter_map(|l| l.trim().strip_prefix("> "))
    {
        bench.happen(line).expect(line);
    }
    bench.happen("hold released 500V 4s").expect("let go");
    bench.happen("hold 120M 500V 60s").expect("held");
    bench.happen("confirm shorted_to_ground").expect("asked");
    let until = bench.views()[0].discharge_until.expect("a countdown");
    assert_eq!(until.since(bench.at), Duration::from_secs(256));
    // The asset carries it on after the job; its bench is free for another.
    bench.happen("take 0.2").expect("leads after");
    bench.happen("take 0.01M").expect("leads after");
    assert!(bench.views().is_empty(), "the job has ended");
    let refused = bench.happen("start two_wire").expect_err("still shorted");
    assert!(refused.message.contains("being discharged"), "{refused}");
    bench
        .happen("start two_wire asset=blower-2")
        .expect("the bench is free");
    bench.happen("end").expect("ends");
    bench.happen("tick 256s").expect("time passes");
    bench
        .happen("start two_wire")
        .expect("the countdown is over");
}

#[test]
fn rule_17_a_typed_time_counts_though_the_word_that_it_is_on_came_late() {
    // 60 s by the tester's own clock, typed 5 s after "voltage on": 60 s on, and 3 s until it is off.
    let mut bench = Bench::new();
    bench.happen("configure voltage-unseen").expect("set");
    for line in [
        "proven two_wire main=1.8..2.2 profile=machinery",
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "confirm voltage_on",
        "tick 5s",
        "enter mega-1 120M insulation all_to_ground 500V 60s",
        "tick 3s",
        "confirm voltage_off",
        "confirm shorted_to_ground",
    ] {
        bench.happen(line).expect(line);
    }
    let until = bench.views()[0].discharge_until.expect("a countdown");
    assert_eq!(until.since(bench.at), Duration::from_secs(4 * 63));
}

#[test]
fn rule_17_time_of_which_nobody_knows_counts_as_on() {
    // The stream is lost under voltage for 100 s before the person says that it is off.
    let mut bench = Bench::new();
    for line in TO_THE_PRESS
        .lines()
        .filter_map(|l| l.trim().strip_prefix("> "))
    {
        bench.happen(line).expect(line);
    }
    bench.heard(super::harness::MEGA, super::harness::under_voltage(500.0));
    bench.happen("gap 100s mega-1").expect("lost");
    bench.happen("confirm voltage_off").expect("any time");
    bench
        .happen("skip no more")
        .expect_err("a charged winding is not left");
    bench
        .happen("skip insulation all_to_ground: no more")
        .expect("left out");
    bench.happen("confirm shorted_to_ground").expect("asked");
    let until = bench.views()[0].discharge_until.expect("a countdown");
    assert_eq!(until.since(bench.at), Duration::from_secs(400));
}

#[test]
fn rule_18_a_ground_fault_says_do_not_energize_at_once_and_at_the_end() {
    let mut bench = Bench::new();
    bench
        .happen("proven two_wire main=1.8..2.2")
        .expect("starts");
    bench.happen("take 2.2").expect("winding");
    assert!(
        bench.views()[0].banners.is_empty(),
        "{:?}",
        bench.views()[0].banners
    );
    bench.happen("take 0.2M").expect("ground");
    let row = &bench.rows.last().expect("a row").row;
    assert!(
        row.reason.to_lowercase().contains("do not energize"),
        "{}",
        row.reason
    );
    let view = &bench.views()[0];
    assert!(
        view.banners[0].starts_with("DO NOT ENERGIZE"),
        "{:?}",
        view.banners
    );
    bench.happen("end").expect("ends");
    let row = &bench.rows.last().expect("a row").row;
    assert!(
        row.reason.starts_with("fault_found: ") && row.reason.contains("DO NOT ENERGIZE"),
        "{}",
        row.reason
    );
    assert!(
        row.reason
            .contains("a normal winding does not clear a motor"),
        "{}",
        row.reason
    );
}

#[test]
fn rule_18_while_the_second_proof_is_due_it_says_not_proven_yet() {
    let mut bench = Bench::new();
    bench
        .happen("proven two_wire main=1.8..2.2 profile=machinery")
        .expect("starts");
    bench.happen("take 2.2").expect("winding");
    bench.happen("open").expect("ground");
    let view = &bench.views()[0];
    assert!(
        view.banners[0].contains("NOT PROVEN YET"),
        "{:?}",
        view.banners
    );
}

#[test]
fn rule_19_a_display_that_may_be_held_unseen_is_seen_to_change_once_a_job() {
    check(
        "
        > configure held-unseen
        > start two_wire main=1.8..2.2
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? confirm display_follows
        > take 0.2
        value 0.2 Ω not_judged
        > confirm display_follows
        attested leads/before
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? leads/before mega-1
        ",
    );
}

#[test]
fn rule_20_an_overdue_calibration_blocks_a_pass_where_it_is_required() {
    let mut bench = Bench::new();
    for line in TO_THE_PRESS
        .lines()
        .filter_map(|l| l.trim().strip_prefix("> "))
    {
        bench.happen(line).expect(line);
    }
    bench.happen("configure overdue").expect("a setting");
    assert!(
        bench.views()[0]
            .banners
            .iter()
            .any(|b| b.contains("mega-1: calibration is overdue")),
        "{:?}",
        bench.views()[0].banners
    );
    bench.happen("hold 120M 500V 60s").expect("held");
    let row = &bench.rows.last().expect("a row").row;
    assert_eq!(
        row.verdict,
        Some(crate::row::Verdict::Undecided),
        "{}",
        row.reason
    );
}

#[test]
fn rule_21_a_typed_value_obeys_the_same_rules() {
    // Typed over-range waits for contact and the second proof as a streamed one does;
    // a typed value of another meter is refused.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > enter ohms-1 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > enter mega-1 30M
        refused: ground all_to_ground is measured with ohms-1, found mega-1; a value of another meter has other leads and another accuracy
        > enter ohms-1 over
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > enter ohms-1 2.2
        value ground/contact 2.2 Ω not_judged of 7
        ? confirm disconnected
        > enter ohms-1 0.9M insulation all_to_ground 500V 60s
        refused: insulation all_to_ground is measured with mega-1, found ohms-1; a value of another meter has other leads and another accuracy
        > enter mega-1 0.9M insulation all_to_ground 500V 60s
        value insulation/all_to_ground 0.9 MΩ fail below_minimum
        ? confirm shorted_to_ground
        ",
    );
    // Rule 14 for a typed value: it is on no point of the sheet and is said all the same.
    check(
        "
        > proven two_wire main=1.8..2.2 electronics=yes
        ? winding/main ohms-1
        > enter mega-1 120M insulation all_to_ground 500V 60s
        value insulation/all_to_ground 120 MΩ not_judged test_forbidden
        ? confirm shorted_to_ground
        ",
    );
}
