//! Strange moments: voltage, a charge, other settings, a stop, where nobody
//! expects them.

use super::dodges::{BEYOND, OVER};
use super::harness::{Bench, MEGA, check, under_voltage};
use super::words::plan;
use crate::bench::Steer;
use crate::input::{Act, JobPlan};
use crate::limits::Cable;
use crate::quantity::Celsius;
use crate::row::Event;
use crate::settle::Spec;
use crate::text::Text;

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
        .happen("start two_wire main=1.8..2.2 profile=machinery max=40")
        .expect("starts");
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

#[test]
fn rule_16_a_contact_is_not_shown_while_voltage_is_on_the_clips() {
    check(&format!(
        "{OVER}
        > volts 230 ac 4s
        value ground/all_to_ground 230 V undecided voltage_present
        ? stop
        > take 2.2
        value 2.2 Ω not_judged voltage_present
        "
    ));
}

#[test]
fn rule_16_voltage_stops_the_leads_after_a_press_too() {
    check(&format!(
        "{BEYOND}
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > volts 230 ac 4s
        value leads/after 230 V undecided voltage_present
        ? stop
        > take 0.2
        value 0.2 Ω not_judged voltage_present
        "
    ));
}

#[test]
fn rule_17_a_tenth_of_the_test_voltage_charges_and_less_does_not() {
    let asked = |volts: &str| {
        let mut bench = Bench::new();
        for line in ["proven two_wire main=1.8..2.2 profile=machinery", volts] {
            bench.happen(line).expect("goes on");
        }
        bench.asked_now()
    };
    assert_eq!(asked("press 50V 2s"), "confirm shorted_to_ground");
    assert_eq!(asked("press 49V 2s"), "winding/main ohms-1");
}

#[test]
fn rule_17_a_job_is_not_parked_under_voltage_and_its_end_says_not_discharged() {
    let mut bench = Bench::new();
    bench
        .happen("proven two_wire main=1.8..2.2 profile=machinery")
        .expect("goes on");
    bench.heard(MEGA, under_voltage(500.0));
    bench.pass(core::time::Duration::from_secs(5));
    let refused = bench.happen("park drying").expect_err("the voltage is on");
    assert!(
        refused.message.contains("voltage is on"),
        "{}",
        refused.message
    );
    bench.happen("end").expect("ends");
    let reason = &bench.rows.last().expect("a row").row.reason;
    assert!(reason.contains("NOT DISCHARGED"), "{reason}");
}

#[test]
fn a_job_with_a_cable_below_zero_or_an_impossible_temperature_does_not_begin() {
    fn cable(ohms: &str) -> Option<Cable> {
        let ohms = ohms.parse().ok()?;
        Some(Cable::of(ohms, Text::default()))
    }
    let start = |change: fn(&mut JobPlan)| {
        let mut plan = plan("two_wire main=1.8..2.2");
        change(&mut plan);
        Bench::new().act(Act::StartJob(Box::new(plan)))
    };
    assert!(start(|plan| plan.cable = cable("0")).is_ok());
    assert!(start(|plan| plan.cable = cable("-2")).is_err());
    assert!(start(|plan| plan.temperature = Some(Celsius(-20.0))).is_ok());
    for wrong in [-60.0, 250.0, f64::NAN] {
        let mut plan = plan("two_wire main=1.8..2.2");
        plan.temperature = Some(Celsius(wrong));
        let refused = Bench::new().act(Act::StartJob(Box::new(plan)));
        assert!(refused.is_err(), "{wrong}");
    }
}
