//! A charged winding that a press, an end, a stop or a withdrawal might forget.

use super::harness::Bench;

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

const PROVEN: &str = "proven two_wire main=1.8..2.2 profile=machinery";

/// What is asked after a stop and going on.
#[track_caller]
fn after_a_stop(mut bench: Bench) -> String {
    bench.happen("restart").expect("stops");
    bench.happen("go-on J1").expect("goes on");
    bench.asked_now()
}

#[test]
fn rule_17_a_press_that_nobody_asked_for_is_known_after_a_stop() {
    let bench = day(&[PROVEN, "press 500V 5s"]);
    assert_eq!(bench.asked_now(), "confirm shorted_to_ground");
    // Nobody knows for how long it was on.
    assert_eq!(after_a_stop(bench), "confirm voltage_off");
    // One row says so, however often it is pressed.
    let bench = day(&[PROVEN, "press 500V 5s", "press 500V 5s"]);
    let said = |b: &Bench| {
        b.rows
            .iter()
            .filter(|r| r.row.reason.contains("nobody asked"))
            .count()
    };
    assert_eq!(said(&bench), 1, "{}", bench.reasons());
    // None for a hold that was asked for.
    let bench = day(&held("hold 120M 500V 12s"));
    assert_eq!(said(&bench), 0, "{}", bench.reasons());
}

fn held(hold: &str) -> [&str; 6] {
    [
        PROVEN,
        "take 2.2",
        "take 30M",
        "confirm disconnected",
        "confirm stand_clear",
        hold,
    ]
}

#[test]
fn rule_17_a_press_after_the_short_is_known_after_a_stop() {
    let mut lines = held("press 500V 2s").to_vec();
    // Something else is measured first, so the short is asked for.
    lines.extend([
        "redo winding main",
        "confirm shorted_to_ground",
        "tick 1min",
    ]);
    let mut bench = day(&lines);
    bench.happen("press 500V 5s").expect("pressed");
    assert_eq!(bench.asked_now(), "confirm shorted_to_ground");
    assert_eq!(after_a_stop(bench), "confirm voltage_off");
}

#[test]
fn rule_17_a_short_that_had_fallen_off_is_asked_for_again_after_its_countdown() {
    let mut lines = held("hold 120M 500V 12s").to_vec();
    lines.push("confirm shorted_to_ground");
    let short = |bench: &Bench| {
        let found = bench
            .rows
            .iter()
            .find(|r| r.row.reason.starts_with("shorted_to_ground"));
        found.expect("attested").seq
    };
    for stop in ["note on time", "restart"] {
        let mut bench = day(&lines);
        bench.happen("tick 10min").expect("passes");
        bench.happen("take 0.2").expect("leads");
        bench.happen(stop).expect(stop);
        if stop == "restart" {
            bench.happen("go-on J1").expect("goes on");
        }
        let of = short(&bench);
        bench
            .happen(&format!("withdraw {of} it had fallen off"))
            .expect("withdrawn");
        assert_eq!(
            bench.asked_now(),
            "confirm shorted_to_ground",
            "{stop}: {}",
            bench.reasons()
        );
        bench.happen("tick 10min").expect("passes");
        bench.happen("note later").expect("noted");
        assert_eq!(after_a_stop(bench), "confirm shorted_to_ground", "{stop}");
    }
}

#[test]
fn rule_17_a_job_that_is_ended_charged_leaves_the_charge_to_the_next_one() {
    let mut bench = day(&held("hold 120M 500V 12s"));
    bench.happen("end").expect("ends");
    let said = &bench.rows.last().expect("a row").row.reason;
    assert!(said.contains("NOT DISCHARGED"), "{said}");
    bench
        .happen("start two_wire main=1.8..2.2 profile=machinery")
        .expect("starts");
    assert_eq!(
        bench.asked_now(),
        "confirm voltage_off",
        "{}",
        bench.reasons()
    );
    bench.happen("restart").expect("stops");
    let name = bench.views()[0].job.clone();
    bench.happen(&format!("go-on {name}")).expect("goes on");
    assert_eq!(
        bench.asked_now(),
        "confirm voltage_off",
        "{}",
        bench.reasons()
    );
    bench.happen("confirm voltage_off").expect("off");
    bench.happen("confirm shorted_to_ground").expect("shorted");
    assert_eq!(bench.asked_now(), "confirm dead");
}

#[test]
fn rule_17_a_time_that_nobody_held_breaks_nothing() {
    let mut bench = day(&[PROVEN, "take 2.2", "take 30M"]);
    for _ in 0..3 {
        let held = "enter mega-1 120M insulation all_to_ground 500V 18e18s";
        let refused = bench.happen(held).expect_err("refused");
        assert!(refused.message.contains("seconds"), "{}", refused.message);
        bench
            .happen("enter mega-1 120M insulation all_to_ground 500V -5s")
            .expect_err("refused");
    }
}

#[test]
fn rule_17_a_typed_press_after_the_short_counts_although_one_before_was_heard() {
    // The value of the heard one was not asked for: no point had it.
    let bench = day(&[
        PROVEN,
        "press 500V 5s",
        "confirm shorted_to_ground",
        "enter mega-1 0.3M insulation all_to_ground 100V 600s",
    ]);
    assert_eq!(
        bench.asked_now(),
        "confirm shorted_to_ground",
        "{}",
        bench.reasons()
    );
}

#[test]
fn no_clip_is_moved_to_a_second_lead_on_a_charged_winding() {
    let mut bench = day(&[PROVEN, "take 2.2", "open"]);
    assert_eq!(bench.asked_now(), "second lead");
    bench.happen("press 500V 5s").expect("pressed");
    assert_eq!(bench.asked_now(), "confirm shorted_to_ground");
    bench.happen("take 2.2").expect("not asked for");
    assert_eq!(bench.asked_now(), "confirm shorted_to_ground");
    bench.happen("confirm shorted_to_ground").expect("shorted");
    // Whether the winding clip stayed nobody knows.
    assert_eq!(bench.asked_now(), "ground/all_to_ground ohms-1");
}

#[test]
fn rule_17_no_second_job_begins_on_a_winding_that_a_job_set_aside_left_charged() {
    let mut bench = day(&[PROVEN, "press 500V 5s", "restart"]);
    let start = "start two_wire main=1.8..2.2 profile=machinery";
    let refused = bench.happen(start).expect_err("refused").message;
    assert!(refused.contains("charged"), "{refused}");
    bench
        .happen(&format!("{start} asset=blower-7"))
        .expect("another one");
}

#[test]
fn rule_17_no_other_job_is_gone_on_with_while_one_set_aside_left_the_winding_charged() {
    let first = ["proven two_wire main=1.8..2.2 profile=machinery", "park"];
    let second = ["press 500V 5s", "park"];
    let mut bench = day(&[&first[..], &[PROVEN], &second[..]].concat());
    let refused = bench.happen("go-on J1").expect_err("refused").message;
    assert!(refused.contains("set aside"), "{refused}");
    let own = bench.views()[1].job.clone();
    bench.happen(&format!("go-on {own}")).expect("its own");
    assert_eq!(
        bench.asked_now(),
        "confirm shorted_to_ground",
        "{}",
        bench.reasons()
    );
}

#[test]
fn rule_17_going_on_with_a_job_takes_over_what_another_job_of_its_asset_left() {
    let first = ["proven two_wire main=1.8..2.2 profile=machinery", "park"];
    let second = ["press 500V 5s", "end", "go-on J1"];
    let charged = [&first[..], &[PROVEN], &second[..]].concat();
    let bench = day(&charged);
    assert_eq!(
        bench.asked_now(),
        "confirm voltage_off",
        "{}",
        bench.reasons()
    );
    // Nothing is left by one that never pressed.
    let calm = [&first[..], &[PROVEN, "end", "go-on J1"]].concat();
    assert_ne!(day(&calm).asked_now(), "confirm voltage_off");
}
