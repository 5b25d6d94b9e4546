//! What a person asks for in the middle of a job, and what is refused.

use super::harness::{Bench, OHMS, check, under_voltage};
use crate::bench::{Benches, Steer};
use crate::quantity::Volts;
use crate::settle::{Reset, Spec};
use crate::view::JobState;

#[test]
fn a_point_is_redone_and_the_latest_counts() {
    check(
        "
        > proven two_wire main=1.8..2.2
        ? winding/main ohms-1
        > take 9.2
        value winding/main 9.2 Ω fail high
        ? ground/all_to_ground ohms-1
        > redo winding main
        note winding/main of 6
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn a_ground_whose_clip_fell_is_read_anew_before_its_contact() {
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
        > redo ground all_to_ground
        note ground/all_to_ground of 7
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 2.2
        value ground/contact 2.2 Ω not_judged of 9
        ? confirm disconnected
        > skip the tester is away
        note insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        judged ground/all_to_ground pass no_fault_seen of 9
        job_end incomplete
        ? nothing
        ",
    );
}

#[test]
fn a_point_is_left_out_only_with_a_reason_and_dead_never() {
    check(
        "
        > start two_wire
        job_start
        ? confirm dead
        > skip in a hurry
        refused: proving it dead cannot be left out; end the job instead
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        > skip winding main: no access to lead 2
        note winding/main
        > skip
        refused: a point is left out only with a reason; say why
        > skip winding start: none
        refused: no point winding start on this sheet; its points are: dead before, leads before, leads before, ground_path path, winding main, ground all_to_ground, insulation all_to_ground, leads after, leads after
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? leads/before mega-1
        > take 0.01M
        value leads/before 0.01 MΩ pass within
        ? ground_path/path ohms-1
        > take 0.3
        value ground_path/path 0.3 Ω pass within
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn leads_that_are_left_out_leave_a_ground_reading_undecided() {
    // Rules 1 and 5: nothing was subtracted from 2.2 Ω, which may be 1.2 Ω; over-range may be a lead.
    check(
        "
        > configure no-tester
        > start two_wire main=1.8..2.2 profile=machinery
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        > skip the clips do not reach each other
        note leads/before
        ? ground_path/path ohms-1
        > skip frame
        note ground_path/path
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω undecided leads_unproven
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        job_end undecided
        ? nothing
        ",
    );
}

#[test]
fn a_withdrawn_row_takes_what_rests_on_it_along() {
    // Row 3 are the leads before of ohms-1: the ground path, the winding and the ground reading rest on them.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > withdraw 6 clips were on lead 3
        withdrawn winding/main of 6
        ? winding/main ohms-1
        > take 2.1
        value winding/main 2.1 Ω pass within
        ? ground/all_to_ground ohms-1
        > withdraw 3 the wrong leads
        withdrawn leads/before of 3
        withdrawn ground_path/path of 5
        withdrawn winding/main of 8
        ? leads/before ohms-1
        > withdraw 99 why not
        refused: no row 99; the last one is 11
        > withdraw 8
        refused: a row is withdrawn only with a reason; say why
        > review 8 looked at
        refused: a review is signed with a name; say who reviews
        > review 99 looked at
        refused: no row 99; the last one is 11
        ",
    );
}

#[test]
fn a_parked_job_leaves_its_bench_and_proves_its_leads_again() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > start two_wire
        refused: bench bench-1 has job J1 (pump 3, east pond); park or end it first
        > park drying
        note
        ? parked
        > take 2.2
        value 2.2 Ω not_judged
        > start three_phase asset=blower-2
        job_start
        ? confirm dead
        > go-on J1
        refused: bench bench-1 has job J9 (blower-2); park or end it first
        > end
        job_end incomplete
        ? parked
        > skip dry now
        refused: job J1 is set aside; go on with it first
        > go-on J1
        note
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > go-on J1
        refused: job J1 is not set aside
        ",
    );
}

#[test]
fn an_interrupted_job_keeps_its_values_and_proves_its_leads_again() {
    // What waited for a proof is asked for again; what was judged stays.
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
        > restart
        ? interrupted
        > take 4.4
        value 4.4 Ω not_judged
        > go-on J1
        note
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn an_interrupted_job_has_the_plan_it_began_with() {
    let mut bench = Bench::new();
    let plan = "three_phase line=4.9..6.5 profile=pump-a condition=installed-used reference=casing";
    bench.happen(&format!("start {plan}")).expect("starts");
    let before = bench.benches.jobs[0].clone();
    bench.happen("restart").expect("stops");
    let after = &bench.benches.jobs[0];
    // The plan named no bench; the rebuilt one names the bench it got.
    let mut plan = before.plan;
    plan.bench = Some(after.bench.clone());
    assert_eq!(after.plan, plan);
    assert_eq!((&after.name, &after.meters), (&before.name, &before.meters));
}

#[test]
fn a_word_bears_the_name_of_who_gave_it() {
    let mut bench = Bench::new();
    bench.happen("start two_wire").expect("starts");
    let command = crate::input::Command {
        id: 7,
        by: Some(crate::text::Text::clean("Bo")),
        act: crate::input::Act::Confirm {
            job: crate::text::Text::clean("J1"),
            what: crate::input::Attestation::Dead,
        },
    };
    bench
        .with(|benches, now, out| benches.command(now, &command, out))
        .expect("asked");
    let testers: Vec<&str> = bench.rows.iter().map(|r| r.row.tester.as_str()).collect();
    assert_eq!(testers, ["Ada", "Bo"]);
}

#[test]
fn a_discharge_that_was_interrupted_starts_over() {
    let mut bench = charged();
    bench.happen("confirm shorted_to_ground").expect("asked");
    bench.happen("tick 100s").expect("time");
    bench.happen("restart").expect("stops");
    bench.happen("go-on J1").expect("goes on");
    // Before anything else the short is confirmed anew, for the whole time.
    bench.happen("take 0.2").expect("is kept");
    bench.happen("confirm shorted_to_ground").expect("asked");
    let until = bench.views()[0].discharge_until.expect("a countdown");
    assert_eq!(until.since(bench.at).as_secs(), 240);
}

#[test]
fn a_stop_under_voltage_counts_as_on_until_a_person_says_off() {
    let mut bench = charged();
    bench.heard(super::harness::MEGA, under_voltage(500.0));
    bench.happen("restart").expect("stops");
    bench.happen("tick 100s").expect("time");
    bench.happen("go-on J1").expect("goes on");
    bench
        .happen("confirm shorted_to_ground")
        .expect_err("first off");
    bench.happen("confirm voltage_off").expect("asked");
    bench.happen("confirm shorted_to_ground").expect("asked");
    let until = bench.views()[0].discharge_until.expect("a countdown");
    // 60 s of the hold and 100 s since.
    assert_eq!(until.since(bench.at).as_secs(), 640);
}

/// A job whose insulation was held for 60 s.
fn charged() -> Bench {
    let mut bench = Bench::new();
    for line in [
        "proven two_wire main=1.8..2.2 profile=machinery",
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        "hold 120M 500V 60s",
    ] {
        bench.happen(line).expect(line);
    }
    bench
}

#[test]
fn only_what_is_asked_is_confirmed() {
    check(
        "
        > start two_wire
        job_start
        ? confirm dead
        > confirm stand_clear
        refused: stand_clear is not what is asked now; asked is: Confirm: off, locked out, proven dead, shaft at rest.
        > clips on
        refused: \"clips on\" is no answer now; asked is: Confirm: off, locked out, proven dead, shaft at rest.
        > take 4.3
        value 4.3 Ω not_judged
        > take 30M on mega-1
        value 30 MΩ not_judged
        ",
    );
}

#[test]
fn a_job_needs_a_bench_an_ohmmeter_and_a_profile_that_exists() {
    check(
        "
        > start two_wire bench=bench-9
        refused: no bench \"bench-9\"; the benches are: bench-1
        > configure no-ohms
        > start two_wire
        refused: no meter on bench bench-1 measures ohms; say so with measures = [\"ohms\"] of a meter of this bench
        > end
        refused: no job \"J0\" without an end; the jobs are: none
        > again ohms-9
        refused: no meter \"ohms-9\"; the meters are: ohms-1, mega-1
        ",
    );
    let mut bench = Bench::new();
    for wrong in [
        "profile=no-such",
        "profile=machinery condition=in-well",
        "condition=in-well",
    ] {
        let refused = bench.happen(&format!("start two_wire {wrong}"));
        assert!(refused.is_err(), "{wrong}");
    }
    assert!(bench.rows.is_empty(), "a refusal leaves no row");
}

#[test]
fn without_a_job_a_value_is_logged_and_over_range_is_not() {
    check(
        "
        > take 12.5k
        value 12.5 kΩ not_judged
        > take 3.2V
        value 3.2 V not_judged
        > open
        > enter ohms-1 4.7
        value 4.7 Ω not_judged
        ",
    );
    let mut bench = Bench::new();
    bench.happen("take 12.5k").expect("taken");
    bench.happen("take 3.2V").expect("taken");
    let (ohms, volts) = (&bench.rows[0].row, &bench.rows[1].row);
    assert_eq!(
        ohms.value_ohms.map(|v| v.to_string()).as_deref(),
        Some("12500")
    );
    assert_eq!(
        ohms.resolution_ohms.map(|v| v.to_string()).as_deref(),
        Some("100")
    );
    assert_eq!(
        (ohms.meter.as_str(), ohms.protocol.as_str()),
        ("ohms-1", "text-line")
    );
    assert_eq!((volts.value_ohms, volts.resolution_ohms), (None, None));
    assert_eq!(volts.value.map(|v| v.to_string()).as_deref(), Some("3.2"));
}

#[test]
fn each_bench_has_its_own_job() {
    // A value of bench 2 belongs to its job and to no other.
    check(
        "
        > configure two-benches
        > start two_wire
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        > start two_wire bench=bench-2 asset=blower-2
        job_start
        > take 0.4 on ohms-2
        value 0.4 Ω not_judged
        > take 0.2 on ohms-1
        value leads/before 0.2 Ω pass within
        ? leads/before mega-1
        ",
    );
}

#[test]
fn settling_waits_for_a_hold_while_one_is_asked_for() {
    let mut bench = Bench::new();
    for line in [
        "proven two_wire main=1.8..2.2 profile=machinery",
        "take 2.2",
        "take 30M",
        "confirm disconnected",
    ] {
        bench.happen(line).expect(line);
    }
    assert!(bench.steer.is_empty(), "{:?}", bench.steer);
    bench.happen("confirm stand_clear").expect("asked");
    match bench.steer.as_slice() {
        [(super::harness::MEGA, Steer::Respec(Spec::Hold(hold)))] => {
            assert_eq!(hold.nominal, Volts(500.0));
            assert!(hold.voltage_measured);
            assert_eq!(hold.marks.len(), 1);
        }
        other => panic!("{other:?}"),
    }
    bench.steer.clear();
    bench.happen("hold 120M 500V 60s").expect("held");
    // What stands while the button is let go is no other value: the hold stays.
    assert!(bench.steer.is_empty(), "{:?}", bench.steer);
    bench.happen("redo winding main").expect("redone");
    bench.happen("confirm shorted_to_ground").expect("first");
    bench.happen("clips on").expect("an answer");
    assert_eq!(
        bench.steer,
        [(OHMS, Steer::Reset(Reset::Again)), (OHMS, Steer::ClipsOn)]
    );
    bench.steer.clear();
    bench.happen("take 2.2").expect("winding");
    bench.happen("take 0.2").expect("leads after of ohms-1");
    assert_eq!(
        bench.steer,
        [(super::harness::MEGA, Steer::Respec(Benches::idle_spec()))]
    );
}

#[test]
fn what_a_job_looks_like() {
    let mut bench = Bench::new();
    bench
        .happen("proven two_wire main=1.8..2.2 profile=machinery")
        .expect("starts");
    let view = &bench.views()[0];
    assert_eq!((view.job.as_str(), view.state), ("J1", JobState::Active));
    let states: Vec<String> = view
        .points
        .iter()
        .map(|p| format!("{} {} {}", p.test, p.point, p.state))
        .collect();
    assert_eq!(
        states,
        [
            "dead before done",
            "leads before done",
            "leads before done",
            "ground_path path done",
            "winding main now",
            "ground all_to_ground due",
            "insulation all_to_ground due",
            "leads after due",
            "leads after due",
        ]
    );
    assert_eq!(view.points[4].limits, "1.8 to 2.2");
    assert_eq!(view.ask.say, "Clip A on lead 1, clip B on lead 2.");
}

#[test]
fn what_is_said_never_clears_a_motor() {
    // Every word of a whole job: asks, cautions, banners, reasons.
    let mut bench = charged();
    let mut said = String::new();
    for line in ["confirm shorted_to_ground", "take 0.2", "take 0.01M"] {
        for view in bench.views() {
            said.push_str(&format!("{:?} {:?} {}\n", view.ask, view.banners, view.why));
        }
        bench.happen(line).expect(line);
    }
    said.push_str(&bench.reasons());
    let said = said.to_lowercase();
    for word in ["safe", " good", "energize it", "may be energized"] {
        assert!(!said.contains(word), "{word:?} in {said}");
    }
}

/// A review is printed beside the verdicts.
#[test]
fn a_review_clears_no_motor() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > review 2 seen, it is safe to energize
        refused: a review clears no motor: say what was looked at and found, not that it may be energized
        ",
    );
}
