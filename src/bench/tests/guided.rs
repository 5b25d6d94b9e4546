//! Searches: what was read chooses the next place, both ways.
//!
//! The run is panel, well head, splice, motor. machinery (IEC 60204-1) asks for
//! 1 MΩ; the ohmmeter's range ends at 40 MΩ. Four parts (three of the cable and
//! the motor) take two openings.

use super::harness::{Bench, check};

/// The shipped sheet, as a plan says it.
const RUN: &str = "steps=ground_path/path,ground/panel_to_ground,ground/well_head_to_ground,ground/splice_to_ground,ground/motor_to_ground,winding/cable_loop search=fault_place";

fn started() -> Bench {
    let mut bench = Bench::new();
    let plan = format!("proven two_wire profile=machinery reference=casing {RUN}");
    bench.happen(&plan).expect("begins");
    bench
}

fn happen(bench: &mut Bench, all: &[&str]) {
    for one in all {
        bench.happen(one).expect(one);
    }
}

/// The reason of the last row that says what was found.
fn found(bench: &Bench) -> &str {
    let set = bench.rows.iter().rfind(|r| r.row.point == "set_place");
    &set.expect("a row").row.reason
}

#[test]
fn a_fault_in_the_cable_is_found_by_two_openings() {
    check(&format!(
        "
        > proven two_wire profile=machinery reference=casing {RUN}
        ? ground/panel_to_ground ohms-1
        > take 20
        value ground/panel_to_ground 20 Ω fail to_ground
        ? ground/splice_to_ground ohms-1
        > open
        open ground/splice_to_ground over-range undecided leads_unproven
        ? second lead
        > take 3.4
        value ground/contact 3.4 Ω not_judged of 6
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        judged ground/splice_to_ground pass no_fault_seen of 6
        ? ground/well_head_to_ground ohms-1
        > take 20
        value ground/well_head_to_ground 20 Ω fail to_ground
        judged ground/set_place not_judged of 10
        job_end fault_found
        ? nothing
        "
    ));
}

#[test]
fn a_fault_in_the_motor_is_found_behind_the_last_place() {
    check(&format!(
        "
        > proven two_wire profile=machinery {RUN}
        ? ground/panel_to_ground ohms-1
        > take 20
        value ground/panel_to_ground 20 Ω fail to_ground
        ? ground/splice_to_ground ohms-1
        > take 20
        value ground/splice_to_ground 20 Ω fail to_ground
        ? ground/motor_to_ground ohms-1
        > take 20
        value ground/motor_to_ground 20 Ω fail to_ground
        judged ground/set_place not_judged of 7
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        job_end fault_found
        ? nothing
        "
    ));
}

#[test]
fn a_fallen_clip_at_an_opening_separates_nothing() {
    // The fault lies in the motor; a clip falls off at the splice and reads
    // over-range: its contact does not come, or the leads turn out broken.
    let mut bench = started();
    happen(&mut bench, &["take 20", "open", "take 30M"]);
    assert_eq!(bench.asked_now(), "second lead");
    happen(&mut bench, &["skip the clip will not hold", "take 0.2"]);
    assert!(
        found(&bench).starts_with("row 6 at splice separates nothing: contact was not shown"),
        "{}",
        bench.reasons()
    );
    let mut bench = started();
    happen(&mut bench, &["take 20", "open", "take 3.4", "open"]);
    // The leads after are over-range: the splice is measured again, on leads proven anew.
    assert_eq!(bench.asked_now(), "leads/before ohms-1");
    happen(&mut bench, &["take 0.2"]);
    assert_eq!(bench.asked_now(), "ground/splice_to_ground ohms-1");
    happen(&mut bench, &["take 20", "take 20"]);
    assert!(
        found(&bench).starts_with("the fault lies behind motor: in the motor or its own leads"),
        "{}",
        bench.reasons()
    );
}

#[test]
fn over_range_on_leads_that_nobody_proved_separates_nothing() {
    for skipped in [
        &[
            "skip leads before: none at hand",
            "skip bare metal",
            "take 20",
            "open",
        ][..],
        &[
            "take 0.2",
            "take 0.3",
            "take 20",
            "open",
            "take 3.4",
            "skip leads after: none at hand",
        ],
    ] {
        let mut bench = Bench::new();
        let plan = format!("start two_wire profile=machinery {RUN}");
        happen(&mut bench, &[&plan, "confirm dead"]);
        happen(&mut bench, skipped);
        assert!(
            found(&bench).contains("at splice separates nothing: the leads are not proven")
                && found(&bench).contains("join the clips"),
            "{}",
            bench.reasons()
        );
    }
}

#[test]
fn a_wet_end_is_dried_and_a_touching_clip_looked_at_before_either_is_believed() {
    // 300 kΩ may be the surface of the end; 0.2 Ω is what joined clips read.
    let mut bench = started();
    happen(&mut bench, &["take 300k"]);
    assert_eq!(bench.asked_now(), "ground/panel_to_ground ohms-1");
    let ask = bench.views()[0].ask.clone();
    assert!(ask.say.contains("clean and dry the ends"), "{}", ask.say);
    happen(&mut bench, &["take 300k"]);
    assert_eq!(bench.asked_now(), "ground/splice_to_ground ohms-1");
    happen(&mut bench, &["take 0.2"]);
    let ask = bench.views()[0].ask.clone();
    assert!(ask.say.contains("clips that touch"), "{}", ask.say);
    assert_eq!(ask.point, "splice_to_ground");
    // They touched: dried and apart it is whole.
    happen(&mut bench, &["take 30M"]);
    assert_eq!(bench.asked_now(), "ground/well_head_to_ground ohms-1");
}

#[test]
fn each_opening_is_asked_for_with_its_cautions() {
    let mut bench = started();
    happen(&mut bench, &["take 20"]);
    let ask = bench.views()[0].ask.clone();
    assert!(
        ask.say.starts_with("Open at splice, clean and dry the ends; measure from there towards the motor: the fault lies behind panel, the motor included. Clip A on a core"),
        "{}",
        ask.say
    );
    let cautions = ask.cautions.join("; ");
    for caution in [
        "discharge the cable to ground first",
        "locked out and proven dead again",
        "nobody stands at the other end",
    ] {
        assert!(cautions.contains(caution), "{cautions}");
    }
    assert!(
        bench.views()[0]
            .banners
            .iter()
            .any(|b| b.starts_with("DO NOT ENERGIZE"))
    );
}

#[test]
fn a_place_that_cannot_be_opened_is_no_place_of_the_run() {
    // Of panel, well head and motor the middle is the well head.
    check(&format!(
        "
        > proven two_wire profile=machinery {RUN}
        ? ground/panel_to_ground ohms-1
        > take 20
        value ground/panel_to_ground 20 Ω fail to_ground
        ? ground/splice_to_ground ohms-1
        > skip it is under water
        note ground/splice_to_ground
        ? ground/well_head_to_ground ohms-1
        > skip the nut is rusted
        note ground/well_head_to_ground
        ? ground/motor_to_ground ohms-1
        > take 30M
        value ground/motor_to_ground 30 MΩ pass no_fault_seen
        judged ground/set_place not_judged of 8
        ? leads/after ohms-1
        "
    ));
    let mut bench = started();
    happen(
        &mut bench,
        &["take 20", "take 20", "skip the pump is down the well"],
    );
    let said = found(&bench);
    assert!(
        said.starts_with(
            "the fault lies behind splice: in the motor, its own leads or what is between"
        ),
        "{said}"
    );
    assert!(said.ends_with("read in rows 5, 6"), "{said}");
}

#[test]
fn a_whole_run_and_readings_that_contradict_find_nothing() {
    let mut bench = started();
    happen(&mut bench, &["take 30M"]);
    assert!(
        found(&bench).starts_with("the whole run reads above"),
        "{}",
        bench.reasons()
    );
    assert_eq!(bench.asked_now(), "leads/after ohms-1");
    // A fault seen from the splice, and none from the panel that looks through it.
    let mut bench = started();
    happen(
        &mut bench,
        &[
            "take 20",
            "take 20",
            "redo ground panel_to_ground",
            "take 30M",
        ],
    );
    assert!(
        found(&bench).starts_with("the reading at panel contradicts"),
        "{}",
        bench.reasons()
    );
}

#[test]
fn what_was_found_is_taken_back_with_what_it_rests_on() {
    check(&format!(
        "
        > proven two_wire profile=machinery {RUN}
        ? ground/panel_to_ground ohms-1
        > take 20
        value ground/panel_to_ground 20 Ω fail to_ground
        ? ground/splice_to_ground ohms-1
        > take 20
        value ground/splice_to_ground 20 Ω fail to_ground
        ? ground/motor_to_ground ohms-1
        > take 20
        value ground/motor_to_ground 20 Ω fail to_ground
        judged ground/set_place not_judged of 7
        ? leads/after ohms-1
        > withdraw 8 wrong
        refused: what was found follows from its readings; withdraw the one that is wrong
        > withdraw 7 the clip was on the splice
        withdrawn ground/motor_to_ground of 7
        withdrawn ground/set_place of 8
        ? ground/motor_to_ground ohms-1
        > take 30M
        value ground/motor_to_ground 30 MΩ pass no_fault_seen
        judged ground/set_place not_judged of 11
        ? leads/after ohms-1
        "
    ));
}

#[test]
fn a_search_goes_on_after_a_stop_where_it_was() {
    let steps = ["take 300k", "take 300k", "take 20", "take 20"];
    for stop in 0..steps.len() {
        let mut bench = started();
        happen(&mut bench, &steps[..stop]);
        let asked = bench.asked_now();
        happen(&mut bench, &["restart", "go-on J1", "take 0.2"]);
        assert_eq!(bench.asked_now(), asked, "after {stop}");
        happen(&mut bench, &steps[stop..]);
        assert!(
            found(&bench).starts_with("the fault lies behind motor"),
            "{}",
            bench.reasons()
        );
    }
}

#[test]
fn without_a_minimum_nothing_tells_whole_from_faulty() {
    let mut bench = Bench::new();
    for (plan, why) in [
        (String::new(), "name an insulation profile"),
        (String::from("profile=pump-a"), "condition"),
    ] {
        let refused = bench
            .happen(&format!("start two_wire {plan} {RUN}"))
            .expect_err("refused");
        assert!(refused.message.contains(why), "{}", refused.message);
    }
    let refused = bench
        .happen("start two_wire profile=machinery steps=ground/all,ground/panel_to_ground search=fault_place")
        .expect_err("refused");
    assert!(
        refused.message.contains("named such as panel_to_ground"),
        "{}",
        refused.message
    );
}

#[test]
fn metres_to_a_short_are_said_where_the_cable_is_known() {
    // Leads 0.2 Ω: 1.0 − 0.2 = 0.8 Ω of 2/(58·2.5) Ω a metre is 58 m.
    check(&format!(
        "
        > proven two_wire profile=machinery laid=100 {RUN}
        ? ground/panel_to_ground ohms-1
        > take 20
        value ground/panel_to_ground 20 Ω fail to_ground
        ? ground/splice_to_ground ohms-1
        > take 30M
        value ground/splice_to_ground 30 MΩ pass no_fault_seen
        ? ground/well_head_to_ground ohms-1
        > take 20
        value ground/well_head_to_ground 20 Ω fail to_ground
        ? winding/cable_loop ohms-1
        > take 1.00
        value winding/cable_loop 1.00 Ω not_judged
        judged ground/set_place not_judged of 8
        ? leads/after ohms-1
        > end
        job_end fault_found
        ? nothing
        "
    ));
    let to_loop = ["take 20", "take 30M", "take 20"];
    let begun = |more: &str| {
        let mut bench = Bench::new();
        let plan = format!("proven two_wire profile=machinery laid=100 {more} {RUN}");
        bench.happen(&plan).expect("begins");
        happen(&mut bench, &to_loop);
        bench
    };
    let mut bench = begun("");
    let ask = bench.views()[0].ask.clone();
    assert!(
        ask.say
            .starts_with("At panel, open at splice: clip A on the core that is shorted"),
        "{}",
        ask.say
    );
    assert!(
        ask.cautions.join(" ").contains("discharge the cable"),
        "{:?}",
        ask.cautions
    );
    happen(&mut bench, &["take 1.00"]);
    let said = found(&bench);
    for part in [
        "the fault lies between well_head and splice",
        "row 8: 0.80 Ω there and back is at most 58 m of cable, ± ",
        "a short with a resistance of its own lies nearer",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    // It is no short of two cores: nothing is worked out, and nothing is open.
    let mut bench = begun("");
    happen(&mut bench, &["open"]);
    assert!(
        found(&bench).contains("no short between these two cores"),
        "{}",
        bench.reasons()
    );
    assert!(
        bench.views()[0]
            .diagnosis
            .iter()
            .all(|d| d.name != "winding_open")
    );
    let mut bench = begun("");
    happen(&mut bench, &["skip shorted to the pipe"]);
    assert!(
        !found(&bench).contains("there and back"),
        "{}",
        bench.reasons()
    );
    // A leak of 300 kΩ is no loop, and in the motor there is no cable.
    for no_loop in [
        &[
            "take 300k",
            "take 300k",
            "take 30M",
            "take 300k",
            "take 300k",
        ][..],
        &["take 20", "take 20", "take 20"],
    ] {
        let mut bench = Bench::new();
        let plan = format!("proven two_wire profile=machinery laid=100 {RUN}");
        happen(&mut bench, &[&plan]);
        happen(&mut bench, no_loop);
        assert!(
            found(&bench).starts_with("the fault lies"),
            "{}",
            bench.reasons()
        );
        assert!(
            !found(&bench).contains("there and back"),
            "{}",
            bench.reasons()
        );
    }
}
