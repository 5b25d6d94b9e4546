//! Ways around the rules: what a hurried or a clever person might do at a
//! strange time, and what must not come of it.

use super::harness::{Bench, MEGA, check, under_voltage};
use crate::bench::Steer;
use crate::row::Event;
use crate::settle::Spec;

/// Up to a ground reading beyond the range whose contact is to be shown.
const OVER: &str = "
    > proven two_wire main=1.8..2.2 profile=machinery
    ? winding/main ohms-1
    > take 2.2
    value winding/main 2.2 Ω pass within
    ? ground/all_to_ground ohms-1
    > open
    open ground/all_to_ground over-range undecided leads_unproven
    ? second lead
    ";

/// The insulation test of a motor whose ground passed, beyond the range.
const BEYOND: &str = "
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
    ";

#[test]
fn rule_1_joined_clips_are_no_second_lead_of_a_winding_of_little_resistance() {
    // 0.9 Ω lies within an ohm of the 0.2 Ω that the joined clips read: a clip
    // that fell off the winding and touches the other must not show contact.
    check(
        "
        > proven two_wire main=0.6..0.8 profile=machinery
        ? winding/main ohms-1
        > take 0.9
        value winding/main 0.9 Ω pass within
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 0.2
        value ground/contact 0.2 Ω not_judged of 7
        > take 0.3
        value ground/contact 0.3 Ω not_judged of 7
        > take 0.9
        value ground/contact 0.9 Ω not_judged of 7
        ? confirm disconnected
        ",
    );
    // No winding was read: what reads as the leads do is the leads.
    check(
        "
        > proven two_wire main=0.6..0.8 profile=machinery
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 0.2
        value ground/contact 0.2 Ω not_judged of 7
        > take 0.9
        value ground/contact 0.9 Ω not_judged of 7
        ? confirm disconnected
        ",
    );
}

#[test]
fn rule_1_a_contact_that_is_withdrawn_is_shown_again() {
    check(&format!(
        "{OVER}
        > take 2.2
        value ground/contact 2.2 Ω not_judged of 7
        ? confirm disconnected
        > withdraw 8 clip A had slipped
        withdrawn ground/all_to_ground of 8
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
        "
    ));
    // After the second proof the pass rests on it too.
    check(&format!(
        "{BEYOND}
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > withdraw 11 the far end was off
        withdrawn insulation/all_to_ground of 11
        ? confirm both_ends
        > confirm both_ends
        attested insulation/all_to_ground of 10
        ? leads/after ohms-1
        > skip leads after: in a hurry
        note leads/after
        ? leads/after mega-1
        > take 0.01M
        value leads/after 0.01 MΩ pass within
        judged insulation/all_to_ground pass above_range of 10
        job_end incomplete
        ? nothing
        "
    ));
}

#[test]
fn rule_1_a_pass_falls_with_the_contact_it_rests_on_after_a_stop_too() {
    let mut bench = Bench::new();
    let before = BEYOND.lines().filter_map(|l| l.trim().strip_prefix("> "));
    for line in before.chain([
        "confirm shorted_to_ground",
        "take 0.2",
        "redo winding main",
        "enter mega-1 0.01M leads after",
    ]) {
        bench.happen(line).expect("goes on");
    }
    let insulation = |bench: &Bench| {
        let points = bench.views()[0].points.clone().into_iter();
        let mut of_test = points.filter(|p| p.test == "insulation");
        of_test
            .next()
            .map(|p| (p.state, p.verdict.map(|v| v.to_string())))
    };
    assert_eq!(insulation(&bench), Some(("done", Some("pass".to_owned()))));
    let contact = bench
        .rows
        .iter()
        .find(|r| r.row.reason.starts_with("both_ends"));
    let seq = contact.expect("attested").seq;
    for withdraw in [format!("withdraw {seq} wrong"), "restart".to_owned()] {
        bench.happen(&withdraw).expect("goes on");
        assert_eq!(
            insulation(&bench),
            Some(("due", None)),
            "{}",
            bench.reasons()
        );
    }
}

#[test]
fn a_word_that_is_withdrawn_is_asked_for_again() {
    check(&format!(
        "{BEYOND}
        > withdraw 8 the drive was still connected
        withdrawn of 8
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > withdraw 13 the short had fallen off
        withdrawn of 13
        ? confirm shorted_to_ground
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > redo insulation all_to_ground
        note insulation/all_to_ground of 10
        ? confirm disconnected
        "
    ));
}

#[test]
fn rule_2_a_voltage_that_went_on_before_the_proof_was_not_proven() {
    // Typed at once: 60 s ago the tester's leads were not proven yet.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        > enter mega-1 120M insulation all_to_ground 500V 60s
        value insulation/all_to_ground 120 MΩ undecided leads_unproven
        > confirm disconnected
        attested insulation/all_to_ground
        ? confirm stand_clear
        ",
    );
}

#[test]
fn rule_12_a_pass_that_is_to_be_measured_again_clears_nothing() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery test=forbidden
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? leads/after ohms-1
        > redo ground all_to_ground
        note ground/all_to_ground of 6
        ? ground/all_to_ground ohms-1
        > enter ohms-1 0.2 leads after
        value leads/after 0.2 Ω pass within
        > end
        job_end incomplete
        ? nothing
        ",
    );
}

#[test]
fn rule_16_a_typed_value_is_none_while_voltage_is_on_the_clips() {
    // A person's word is asked for, not a value: the voltage is there all the same.
    let mut bench = Bench::new();
    for line in [
        "proven two_wire main=1.8..2.2 profile=machinery",
        "take 2.2",
        "take 30M",
        "volts 230 ac 4s",
    ] {
        bench.happen(line).expect("goes on");
    }
    let refused = bench.happen("enter ohms-1 40M ground all_to_ground");
    let message = refused.expect_err("voltage is on the clips").message;
    assert!(message.contains("voltage is on the clips"), "{message}");
}

#[test]
fn rule_21_a_typed_value_waits_until_the_motor_is_proven_dead() {
    check(
        "
        > start two_wire main=1.8..2.2 profile=machinery
        job_start
        ? confirm dead
        > enter ohms-1 30M ground all_to_ground
        refused: ground all_to_ground is measured on a motor that is proven dead; confirm that first
        ",
    );
}

#[test]
fn rule_15_a_typed_insulation_value_says_its_test_voltage() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > enter mega-1 120M insulation all_to_ground
        refused: an insulation value needs its test voltage, as read or as set; type it too
        ",
    );
}

#[test]
fn rule_17_a_hold_of_unknown_time_is_on_until_a_person_says_off() {
    let typed = |bench: &str, verdict: &str| {
        check(&format!(
            "
            > proven two_wire main=1.8..2.2 profile=machinery
            ? winding/main ohms-1
            > enter mega-1 0.1M insulation all_to_ground {bench}
            value insulation/all_to_ground 0.1 MΩ {verdict} below_minimum
            ? confirm voltage_off
            > restart
            ? interrupted
            > go-on J1
            note
            ? confirm voltage_off
            "
        ));
    };
    typed("500V", "fail");
    typed("500V 0s", "undecided");
}

#[test]
fn rule_17_the_negative_pole_on_the_winding_charges_it_too() {
    let mut bench = Bench::new();
    bench
        .happen("proven two_wire main=1.8..2.2 profile=machinery")
        .expect("goes on");
    bench.heard(MEGA, under_voltage(-500.0));
    bench.pass(core::time::Duration::from_secs(5));
    bench.heard(MEGA, under_voltage(0.0));
    assert_eq!(bench.asked_now(), "confirm shorted_to_ground");
}

#[test]
fn rule_15_where_no_test_voltage_can_be_planned_no_typed_one_is_judged() {
    let mut bench = Bench::new();
    bench
        .happen("start two_wire main=1.8..2.2 profile=machinery")
        .expect("starts");
    bench.benches.jobs[0].plan.motor.max_test_v = Some(crate::quantity::Volts(40.0));
    let refused = bench.happen("enter mega-1 120M insulation all_to_ground 30V 60s");
    let message = refused.expect_err("nothing is planned").message;
    assert!(
        message.contains("no test voltage can be planned"),
        "{message}"
    );
}

#[test]
fn rule_16_no_press_is_asked_for_while_foreign_voltage_is_on_the_clips() {
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
        > volts 230 ac 4s
        value insulation/all_to_ground 230 V undecided voltage_present
        ? stop
        > enter mega-1 120M insulation all_to_ground 500V 60s
        refused: Stop: voltage is on the clips. Take them off, find where it comes from, confirm that it is dead.
        > confirm dead
        attested dead/before
        ? confirm disconnected
        ",
    );
}

#[test]
fn other_settings_end_proofs_and_holds() {
    // A hold that was waited for is waited for again: a meter settles anew.
    let mut bench = Bench::new();
    for line in [
        "proven two_wire main=1.8..2.2 profile=machinery",
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
    ] {
        bench.happen(line).expect("goes on");
    }
    bench.steer.clear();
    bench.with(|benches, now, out| benches.changed(now, out));
    assert_eq!(bench.asked_now(), "leads/before mega-1");
    bench.happen("take 0.01M").expect("goes on");
    let hold = |s: &&(_, Steer)| matches!(s.1, Steer::Respec(Spec::Hold(_)));
    assert_eq!(
        bench.steer.iter().filter(hold).count(),
        1,
        "{:?}",
        bench.steer
    );
}

#[test]
fn a_job_begins_with_everything_that_it_is_judged_by() {
    let mut bench = Bench::new();
    bench
        .happen(
            "start two_wire main=1.8..2.2 profile=pump-a condition=installed-used reference=casing",
        )
        .expect("starts");
    let note: serde_json::Value = serde_json::from_str(&bench.rows[0].row.note).expect("JSON");
    for key in [
        "stage",
        "measured_at",
        "ground_reference",
        "cable",
        "conditions",
        "motor",
        "meters",
    ] {
        assert!(note.get(key).is_some(), "{key} is not in {note}");
    }
    assert_eq!(note["stage"], "arrival");
    assert_eq!(note["ground_reference"], "casing");
    let conditions = &note["conditions"];
    assert_eq!(conditions["profile"], "pump-a");
    assert_eq!(conditions["condition"], "installed-used");
    for key in ["temperature", "acceptance"] {
        assert!(conditions.get(key).is_some(), "{key} is not in {note}");
    }
}

#[test]
fn a_job_whose_first_row_does_not_read_is_said_to_be_lost() {
    let mut bench = Bench::new();
    bench
        .happen("start two_wire main=1.8..2.2")
        .expect("starts");
    bench.happen("confirm dead").expect("attested");
    bench.rows[0].row.note = String::from("{\"stage\":\"arrival\"");
    bench.happen("restart").expect("stops");
    assert!(bench.views().is_empty());
    let last = &bench.rows.last().expect("a row").row;
    assert_eq!(
        (last.event, last.job.as_str(), last.of_seq),
        (Event::Gap, "J1", Some(1))
    );
    assert!(
        last.reason.contains("row 1 should hold its plan"),
        "{}",
        last.reason
    );
    // An end makes it no business of anybody's.
    bench.rows[1].row.event = Event::JobEnd;
    let rows = bench.rows.len();
    bench.happen("restart").expect("stops");
    assert_eq!(bench.rows.len(), rows);
}
