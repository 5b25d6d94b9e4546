//! Random days at the bench: what must hold whatever happens in which order.

use std::collections::BTreeMap;

use proptest::prelude::*;

use super::harness::Bench;
use super::oracles::{holds, moves_clips, still_charged};
use crate::row::{Event, Recorded, Row, Verdict};
use crate::view::JobState;

const PLANS: &[&str] = &[
    "two_wire main=1.8..2.2 profile=machinery",
    "two_wire main=1.8..2.2 profile=machinery reference=casing",
    "two_wire",
    "two_wire profile=machinery electronics=unknown",
    "three_wire main=1.8..2.2 start=5..6 profile=machinery",
    "three_phase line=1.8..2.2 profile=machinery",
    "two_wire main=1.8..2.2 profile=machinery points=tap_1:1.8..2.2,tap_2:1.8..2.2,ptc:1.8..2.2,between_main_heater",
    "two_wire main=1.8..2.2 profile=ieee43 steps=temperature/winding,ground_path/path,winding/all,ground/all,insulation/all_to_ground@60+600,ratio/pi#ieee43-f",
    "two_wire main=1.8..2.2 profile=ieee43 steps=ground_path/path,winding/main!,ground/all,insulation/all_to_ground@30+60!,ratio/dar#set-a",
    "two_wire main=1.8..2.2 profile=machinery steps=ground_path/path,winding/all,ground/all,insulation/all_to_ground,insulation/between_main_heater%1000V",
    "two_wire main=1.8..2.2 profile=ieee43 steps=ground_path/path,winding/all,ground/all,insulation/all_to_ground@60+600",
    "two_wire profile=machinery reference=casing laid=100 steps=ground_path/path,ground/panel_to_ground,ground/well_head_to_ground,ground/splice_to_ground,ground/motor_to_ground,winding/cable_loop search=fault_place",
    "two_wire main=1.8..2.2 profile=ieee43 temperature=60 points=between_main_heater steps=temperature/winding,ground_path/path,winding/all,ground/all,insulation/all_to_ground@60+600,ratio/pi#trade,insulation/between_main_heater@60!,insulation/heater_to_ground%1000V",
    "two_wire main=1.8..2.2 profile=ieee43 reference=casing steps=ground_path/path,temperature/winding,winding/all,ground/all,insulation/between_main_heater@60,insulation/all_to_ground@60+600",
    "three_phase line=1.8..2.2 profile=machinery steps=ground_path/path,winding/all,ground/all,insulation/line_1_to_ground,insulation/line_2_to_ground,insulation/line_3_to_ground",
    "two_wire main=1.8..2.2 profile=machinery steps=ground_path/path,winding/all,ground/between_main_heater,insulation/between_main_heater",
    "two_wire main=1.8..2.2 listed=no minimum=0.05",
    "two_wire main=1.8..2.2 profile=ieee43 temperature=70",
];

/// What may happen. Numbers choose; what makes no sense then is refused, which is fine.
const HAPPENINGS: &[&str] = &[
    "take 0.2",
    "take 0.01M",
    "take 0.9",
    "take 2.2",
    "take 30M",
    "take 0.2M",
    "take 1.05M",
    "take 7.4",
    "open",
    "open fs=40M",
    "open fs=1M",
    "clips on",
    "confirm dead",
    "confirm disconnected",
    "confirm stand_clear",
    "confirm both_ends",
    "confirm voltage_off",
    "confirm shorted_to_ground",
    "hold 120M 500V 12s",
    "hold 1.02M 500V 12s",
    "hold 0.4M 500V 12s",
    "hold 120M 250V 12s",
    "hold over:200G 500V 12s",
    "hold over 500V 12s",
    "hold released 500V 3s",
    "marks 500V 60s=120M 600s=300M",
    "marks 500V 60s=120M 600s=3M",
    "marks 500V 60s=120M 300s=released",
    "marks 500V 60s=over:200G 600s=over:200G",
    "marks 500V 30s=100M 60s=120M",
    "marks 500V 30s=0.1M",
    "enter ohms-1 21°C",
    "enter ohms-1 80°C",
    "enter ohms-1 50°F temperature winding",
    "redo temperature winding",
    "redo ground_path path",
    "redo insulation between_main_heater",
    "prove ohms-1 leads=0.2 100/0.1=110.0",
    "prove ohms-1 leads=0.2 100/0.1=100.2",
    "prove ohms-1 leads=0.2 1M/1=OL",
    "prove ohms-1 leads=0.2 1M/1=1.00M",
    "prove mega-1 1M/1=1.40M",
    "prove mega-1 1M/1=1.02M",
    "press 500V 5s",
    "tick 40min",
    "withdraw contact",
    "withdraw proof",
    "withdraw temperature",
    "withdraw short",
    "enter mega-1 20.0M insulation between_main_heater 500V 60s",
    "enter mega-1 0.3M insulation all_to_ground 100V 600s",
    "enter mega-1 300M insulation all_to_ground 500V 600s",
    "gap 4s",
    "gap 12s",
    "gap 12s mega-1",
    "tick 20min",
    "tick 31min",
    "skip it is late",
    "skip leads before: none at hand",
    "skip leads after: none at hand",
    "take 20",
    "take 300k",
    "redo ground all_to_ground",
    "redo ground panel_to_ground",
    "redo ground splice_to_ground",
    "skip ground well_head_to_ground: none at hand",
    "skip ground motor_to_ground: none at hand",
    "redo leads before",
    "redo leads after",
    "redo winding main",
    "redo insulation all_to_ground",
    "withdraw 3 wrong",
    "withdraw 6 wrong",
    "withdraw 9 wrong",
    "withdraw 12 wrong",
    "enter ohms-1 2.2",
    "enter ohms-1 over ground all_to_ground",
    "enter mega-1 120M insulation all_to_ground 500V 60s",
    "enter mega-1 over insulation all_to_ground 500V 60s",
    "volts 230 ac 4s",
    "volts 0.1 ac 4s",
    "park drying",
    "go-on J1",
    "start anew",
    "end",
    "restart",
];

/// Places of a run behind which its fault lies.
const RUN: [&str; 3] = ["/panel_", "/well_head_", "/splice_"];

/// What a careful person would do next: so that random days get far.
fn sensible(bench: &Bench) -> String {
    let asked = bench.asked_now();
    match asked.split([' ', '/']).next() {
        Some("confirm") => asked,
        Some("second") => String::from("take 2.2"),
        Some("leads") if asked.ends_with("mega-1") => String::from("take 0.01M"),
        Some("leads") => String::from("take 0.2"),
        Some("ground_path") => String::from("take 0.4"),
        Some("winding" | "sensor") => String::from("take 2.2"),
        Some("temperature") => String::from("enter ohms-1 21°C"),
        // A run with its fault between splice and motor, or a whole motor.
        Some("ground") if !RUN.iter().any(|place| asked.contains(place)) => String::from("open"),
        Some("ground") => String::from("take 20"),
        Some("insulation") => String::from(pressed(bench, &asked)),
        Some("stop") => String::from("volts 0.1 ac 4s"),
        _ => happens(bench, "go-on J1", ""),
    }
}

/// A hold of ten minutes that rises.
const LONG: &str = "marks 500V 60s=120M 600s=300M";

/// As long as the sheet asks, at its voltage.
fn pressed(bench: &Bench, asked: &str) -> &'static str {
    let say = bench
        .views()
        .first()
        .map_or_else(String::new, |v| v.ask.say.clone());
    match asked {
        _ if say.contains("for 600 s") => LONG,
        _ if say.contains("for 60 s") => "marks 500V 30s=100M 60s=120M",
        "insulation/between_main_heater mega-1" => "hold over:200G 1000V 12s",
        _ => "hold over:200G 500V 12s",
    }
}

/// The points that need nothing more, each with its verdict.
fn done(bench: &Bench) -> BTreeMap<String, Vec<(String, Option<Verdict>)>> {
    let states = |view: crate::view::JobView| {
        let points = view.points.into_iter();
        // Leads are proven again by rule, whatever their rows say; and what is
        // undecided may wait for its contact, which a stop forgets.
        let kept = points.filter(|p| {
            p.state == "done" && p.test != "leads" && p.verdict != Some(Verdict::Undecided)
        });
        (
            view.job,
            kept.map(|p| (format!("{} {}", p.test, p.point), p.verdict))
                .collect(),
        )
    };
    bench.views().into_iter().map(states).collect()
}

/// What happens; words name the latest row of their kind.
fn happens(bench: &Bench, what: &str, plan: &str) -> String {
    let latest = |of: fn(&Row) -> bool| {
        let found = bench.rows.iter().rfind(|r| of(&r.row));
        format!("withdraw {} wrong", found.map_or(0, |r| r.seq))
    };
    match what {
        "start anew" => format!("start {plan}"),
        "go-on J1" => {
            let name = bench.views().first().map_or("J1".into(), |v| v.job.clone());
            format!("go-on {name}")
        }
        "withdraw contact" => latest(|r| r.point == "contact" || r.reason.starts_with("both_ends")),
        "withdraw proof" => latest(|r| r.test == "leads" && r.event == Event::Value),
        "withdraw temperature" => latest(|r| r.test == "temperature" && r.event == Event::Value),
        "withdraw short" => latest(|r| r.reason.starts_with("shorted_to_ground")),
        other => other.to_owned(),
    }
}

/// As many days as the environment asks for, but not fewer.
fn at_least(cases: u32) -> ProptestConfig {
    let config = ProptestConfig::default();
    let cases = config.cases.max(cases);
    ProptestConfig { cases, ..config }
}

proptest! {
    #![proptest_config(at_least(400))]

    #[test]
    fn nothing_is_cleared_that_was_not_proven(
        plan in 0..PLANS.len(),
        day in proptest::collection::vec((0..HAPPENINGS.len(), 0..4u8), 10..70),
    ) {
        let mut bench = Bench::new();
        bench.happen(&format!("start {}", PLANS[plan])).expect("starts");
        let mut charged = false;
        for (which, sense) in day {
            let next = if sense == 0 {
                happens(&bench, HAPPENINGS[which], PLANS[plan])
            } else {
                // One hold in three falls until its last mark.
                match (sensible(&bench).as_str(), sense) {
                    (LONG, 1) => String::from("marks 500V 60s=120M 600s=3M"),
                    (next, _) => next.to_owned(),
                }
            };
            // A refusal is an answer; it must leave no row.
            let before = bench.rows.len();
            let active = bench.views().iter().any(|v| v.state == JobState::Active);
            let done = bench.happen(&next);
            if done.is_err() {
                prop_assert_eq!(bench.rows.len(), before, "{} was refused", next);
            }
            charged = still_charged(charged, &bench, before, (&next, active, done.is_ok()));
            let moved = moves_clips(&bench.asked_now());
            prop_assert!(!charged || !moved, "after {}: {}\n{}", next, bench.asked_now(), bench.reasons());
            for Recorded { seq, row, .. } in &bench.rows[before..] {
                let left = row.event == Event::JobEnd && charged;
                let said = row.reason.contains("NOT DISCHARGED");
                prop_assert!(!left || said, "row {} forgets a charge\n{}", seq, bench.reasons());
            }
        }
        holds(&bench.rows).map_err(|e| TestCaseError::fail(format!("{e}\n{}", bench.reasons())))?;
        let before = done(&bench);
        bench.restart();
        prop_assert_eq!(before, done(&bench), "\n{}", bench.reasons());
    }
}

#[test]
fn random_days_do_reach_a_pass() {
    // Else the property above would hold of nothing. Of the sheets with a
    // ratio the insulation value is a number and passes at once.
    for (plan, second_proofs, ratios) in [(0, 2, 0), (6, 3, 0), (7, 1, 1), (8, 1, 1), (9, 3, 0)] {
        let mut bench = Bench::new();
        bench
            .happen(&format!("start {}", PLANS[plan]))
            .expect("starts");
        for _ in 0..60 {
            if bench.views().is_empty() {
                break;
            }
            let next = sensible(&bench);
            _ = bench.happen(&next);
        }
        let judged = |test: &str| {
            let passes = bench.rows.iter().filter(|r| {
                r.row.event == Event::Judged
                    && (r.row.test == "ratio") == (test == "ratio")
                    && r.row.test != "winding"
                    && (r.row.verdict == Some(Verdict::Pass) || test == "ratio")
            });
            passes.count()
        };
        let found = (judged("others"), judged("ratio"));
        assert_eq!(found, (second_proofs, ratios), "{}", bench.reasons());
        assert!(bench.views().is_empty(), "{}", bench.reasons());
        let last = &bench.rows.last().expect("a row").row;
        assert!(
            last.reason.starts_with("no_fault_found"),
            "{}",
            bench.reasons()
        );
        holds(&bench.rows).expect("holds");
    }
}

#[test]
fn random_days_do_find_a_place() {
    let mut bench = Bench::new();
    let mut searches = PLANS.iter().filter(|plan| plan.contains("laid="));
    let plan = searches.next().expect("a plan that searches");
    bench.happen(&format!("start {plan}")).expect("starts");
    while !bench.views().is_empty() {
        let next = sensible(&bench);
        bench.happen(&next).expect("sensible");
    }
    let of = |r: &Recorded| {
        r.row
            .reason
            .starts_with("the fault lies between splice and motor")
    };
    assert!(bench.rows.iter().any(of), "{}", bench.reasons());
    holds(&bench.rows).expect("holds");
}
