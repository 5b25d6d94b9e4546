//! Each rule of judging that is a matter of state, by its number.

use core::time::Duration;

use super::harness::{Bench, check};

#[test]
fn rule_1_over_range_passes_only_between_two_proofs_and_with_contact() {
    // 48 Ω is no winding of this motor, so it shows no contact; leads that
    // change by 0.7 Ω prove nothing, by 0.1 Ω they do.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 48
        value ground/contact 48 Ω not_judged of 7
        > take 2.3
        value ground/contact 2.3 Ω not_judged of 7
        ? confirm disconnected
        > skip the tester is away
        note insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.9
        value leads/after 0.9 Ω fail changed
        > take 0.3
        value leads/after 0.3 Ω pass within
        judged ground/all_to_ground pass no_fault_seen of 7
        job_end incomplete
        ? nothing
        ",
    );
}

#[test]
fn rule_1_without_contact_over_range_stays_undecided_after_the_second_proof() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > skip no second lead within reach
        note ground/contact of 7
        ? confirm disconnected
        > skip no tester
        note insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        judged ground/all_to_ground undecided contact_unproven of 7
        job_end undecided
        ? nothing
        ",
    );
}

#[test]
fn rule_1_a_person_attests_both_ends_of_a_tester() {
    // 200 GΩ full scale is far beyond 1 MΩ.
    check(
        "
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
        > hold over:200G 500V 60s
        over_range insulation/all_to_ground over-range undecided leads_unproven
        ? confirm both_ends
        > confirm both_ends
        attested insulation/all_to_ground of 10
        ? confirm shorted_to_ground
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        ? leads/after mega-1
        > take 0.01M
        value leads/after 0.01 MΩ pass within
        judged insulation/all_to_ground pass above_range of 10
        job_end no_fault_found
        ? nothing
        ",
    );
}

#[test]
fn rule_2_a_gap_of_more_than_ten_seconds_ends_the_proof() {
    // After 9 s nothing changes; after 12 s the leads and the ground reading are asked for again.
    check(
        "
        > proven two_wire profile=machinery
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω not_judged
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > gap 9s
        gap
        > gap 12s
        gap
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn rule_2_a_proof_is_at_most_half_an_hour_old() {
    // A winding needs no fresh proof; the ground reading does, and the tester's own when its turn comes.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > tick 31min
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? leads/before mega-1
        ",
    );
}

#[test]
fn rule_2_the_proof_after_comes_within_half_an_hour() {
    // 29 min after the hold it is still in time; after 31 min what waited is due again.
    let over = "
        > proven two_wire profile=machinery
        ? winding/main ohms-1
        > skip known from the day before
        note winding/main
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 2.2
        value ground/contact 2.2 Ω not_judged of 7
        ? confirm disconnected
        > skip no tester
        note insulation/all_to_ground
        ? leads/after ohms-1
        ";
    check(&format!(
        "{over}
        > tick 29min
        > take 0.2
        value leads/after 0.2 Ω pass within
        judged ground/all_to_ground pass no_fault_seen of 7
        job_end incomplete
        ? nothing
        "
    ));
    check(&format!(
        "{over}
        > tick 31min
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? ground/all_to_ground ohms-1
        "
    ));
}

#[test]
fn rule_2_another_device_is_another_proof() {
    check(
        "
        > proven two_wire profile=machinery
        ? winding/main ohms-1
        > configure another-device
        ? leads/before ohms-1
        ",
    );
}

#[test]
fn rule_3_an_unproven_ground_is_at_best_undecided_but_for_the_bare_frame() {
    // 30 MΩ would pass; a casing that was never read to a second ground is no ground.
    check(
        "
        > start two_wire profile=machinery reference=casing
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? leads/before mega-1
        > take 0.01M
        value leads/before 0.01 MΩ pass within
        ? ground_path/path ohms-1
        > skip no second ground near by
        note ground_path/path
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ undecided ground_path_unproven
        ? confirm disconnected
        ",
    );
    check(
        "
        > start two_wire profile=machinery reference=frame
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? leads/before mega-1
        > take 0.01M
        value leads/before 0.01 MΩ pass within
        ? ground_path/path ohms-1
        > skip the bare frame
        note ground_path/path
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        ",
    );
}

#[test]
fn rule_3_an_earth_path_is_enough_for_a_casing() {
    // 12 Ω through earth and water: more than metal, at most 1 kΩ.
    check(
        "
        > start two_wire profile=machinery reference=casing
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? leads/before mega-1
        > take 0.01M
        value leads/before 0.01 MΩ pass within
        ? ground_path/path ohms-1
        > take 12.2
        value ground_path/path 12.2 Ω pass within
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        ",
    );
}

#[test]
fn rule_4_the_null_is_subtracted_from_windings_and_leads_above_one_ohm_are_refused() {
    check(
        "
        > start two_wire main=1.8..2.0
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        > take 1.4
        value leads/before 1.4 Ω fail high
        > take 0.3
        value leads/before 0.3 Ω pass within
        ? leads/before mega-1
        > skip not used today
        note leads/before
        ? ground_path/path ohms-1
        > skip frame
        note ground_path/path
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn rule_8_kilohms_where_ohms_belong_are_asked_for_twice() {
    // 2.2 kΩ is a thousand times the limits: suspect at first, a fault the second time.
    check(
        "
        > proven two_wire main=1.8..2.2
        ? winding/main ohms-1
        > take 2.2k
        value winding/main 2.2 kΩ undecided range_suspect
        > take 2.2k
        value winding/main 2.2 kΩ fail range_suspect
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn rule_12_without_an_insulation_test_a_job_stays_incomplete_unless_it_must_not_have_one() {
    let job = |plan: &str, outcome: &str| {
        check(&format!(
            "
            > configure no-tester
            > start two_wire main=1.8..2.2 profile=machinery {plan}
            job_start
            ? confirm dead
            > confirm dead
            attested dead/before
            ? leads/before ohms-1
            > take 0.2
            value leads/before 0.2 Ω pass within
            ? ground_path/path ohms-1
            > take 0.3
            value ground_path/path 0.3 Ω pass within
            ? winding/main ohms-1
            > take 2.2
            value winding/main 2.2 Ω pass within
            ? ground/all_to_ground ohms-1
            > take 30M
            value ground/all_to_ground 30 MΩ pass no_fault_seen
            ? leads/after ohms-1
            > take 0.2
            value leads/after 0.2 Ω pass within
            job_end {outcome}
            ? nothing
            "
        ));
    };
    job("electronics=no", "incomplete");
    job("electronics=unknown", "incomplete");
    job("electronics=yes", "no_fault_found");
    job("test=forbidden", "no_fault_found");
}

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
        ? confirm shorted_to_ground
        ",
    );
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
