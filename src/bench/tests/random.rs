//! Random days at the bench: what must hold whatever happens in which order.

use std::collections::BTreeMap;

use proptest::prelude::*;

use super::harness::Bench;
use crate::judge::correction::careful;
use crate::quantity::{Celsius, Decimal};
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
    "redo ground all_to_ground",
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
        Some("ground") => String::from("open"),
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

/// A ratio is of two values of one hold, fails nothing, and passes only as a
/// number over a least one.
fn ratio_holds(rows: &[Recorded], at: usize) -> Result<(), TestCaseError> {
    let Recorded { seq, row, .. } = &rows[at];
    prop_assert!(
        row.verdict != Some(Verdict::Fail),
        "row {seq}: a ratio fails"
    );
    let Some(number) = row.value else {
        prop_assert_eq!(row.verdict, Some(Verdict::NotJudged), "row {}", seq);
        return Ok(());
    };
    let held = |r: &Row| r.elapsed_s.map_or(0.0, Decimal::to_f64);
    let late = &rows[row.of_seq.unwrap_or(1) as usize - 1];
    let between = late.row.elapsed_s.is_some() && late.row.test == "insulation";
    prop_assert!(between, "row {seq} is of no hold");
    let marks = if row.point == "pi" {
        [60.0, 600.0]
    } else {
        [30.0, 60.0]
    };
    let began = |r: &Row| r.recorded_at.0 as f64 / 1e9 - held(r);
    let early = rows[..late.seq as usize - 1].iter().rfind(|r| {
        r.row.test == "insulation" && r.row.value_ohms.is_some() && held(&r.row) < held(&late.row)
    });
    let Some(early) = early else {
        return Err(TestCaseError::fail(format!("row {seq} has no early value")));
    };
    for (row, mark) in [(&early.row, marks[0]), (&late.row, marks[1])] {
        prop_assert!((held(row) - mark).abs() <= 2.0, "row {seq}: {mark} s");
    }
    prop_assert!(
        (began(&early.row) - began(&late.row)).abs() < 4.0,
        "row {seq}: two holds"
    );
    let broken = rows[early.seq as usize..late.seq as usize - 1]
        .iter()
        .any(|r| r.row.event == Event::Aborted || r.row.reason.starts_with("gone on"));
    prop_assert!(!broken, "row {seq}: a hold that was let go");
    let ohms = |r: &Row| r.value_ohms.map_or(0.0, Decimal::to_f64);
    let wanted = ohms(&late.row) / ohms(&early.row);
    prop_assert!(
        (number.to_f64() - wanted).abs() < 0.001,
        "row {seq}: {wanted}"
    );
    Ok(())
}

/// What a job must have come to before it may say that nothing was found.
fn cleared(rows: &[Recorded], end: &Row) -> Result<(), TestCaseError> {
    if !end.reason.starts_with("no_fault_found") {
        return Ok(());
    }
    let withdrawn = |seq: u64| {
        let names = |r: &Recorded| r.row.event == Event::Withdrawn && r.row.of_seq == Some(seq);
        rows.iter().any(names)
    };
    for test in ["winding", "ground", "insulation"] {
        let passed = rows.iter().any(|r| {
            r.row.job == end.job
                && r.row.test == test
                && r.row.verdict == Some(Verdict::Pass)
                && !withdrawn(r.seq)
        });
        prop_assert!(passed, "{}: no pass of {test}", end.job);
    }
    // Between windings nothing is known of ground.
    for test in ["ground", "insulation"] {
        let of_test = |r: &&Recorded| r.row.job == end.job && r.row.test == test;
        let whole = rows
            .iter()
            .filter(of_test)
            .any(|r| r.row.point.ends_with("_to_ground"));
        prop_assert!(whole, "{}: {} between windings only", end.job, test);
    }
    // What is there lies worse at the end of a hold than the pass before it.
    let of_job = rows
        .iter()
        .filter(|r| r.row.job == end.job && !withdrawn(r.seq));
    let mut last: BTreeMap<String, Option<Verdict>> = BTreeMap::new();
    for r in of_job.filter(|r| r.row.test == "insulation" && r.row.verdict.is_some()) {
        if r.row.verdict != Some(Verdict::NotJudged) {
            last.insert(r.row.point.clone(), r.row.verdict);
        }
    }
    for (point, verdict) in last {
        prop_assert_eq!(verdict, Some(Verdict::Pass), "{} {}", end.job, point);
    }
    Ok(())
}

/// The leads as the log alone tells: when each meter's were last proven, when it was last silent.
#[derive(Default)]
struct Leads {
    proven: BTreeMap<String, i64>,
}

impl Leads {
    fn row(&mut self, row: &Row) {
        match row.event {
            Event::Value
                if row.method.is_some() && row.test == "leads" && row.point == "before" =>
            {
                if row.verdict == Some(Verdict::Pass) {
                    self.proven.insert(row.meter.clone(), row.recorded_at.0);
                } else {
                    self.proven.remove(&row.meter);
                }
            }
            Event::Gap if row.reason.contains("12.0 s") => _ = self.proven.remove(&row.meter),
            Event::Note
                if row.reason.starts_with("parked") || row.reason.starts_with("gone on") =>
            {
                self.proven.clear();
            }
            _ => {}
        }
    }

    fn fresh(&self, row: &Row) -> bool {
        self.proven.get(&row.meter).is_some_and(|at| {
            let held = row.elapsed_s.map_or(0.0, Decimal::to_f64);
            let age = (row.recorded_at.0 - at) as f64 / 1e9 - held;
            age <= 1800.0
        })
    }
}

/// The winding's temperature as the rows alone tell it; the plan's until one was read.
#[derive(Default)]
struct Heat {
    plan: Option<f64>,
    read: Option<(u64, Option<f64>)>,
    last: i64,
}

impl Heat {
    fn row(&mut self, seq: u64, row: &Row) {
        let quiet = [Event::Note, Event::Withdrawn, Event::Gap].contains(&row.event);
        let mine = row.test == "temperature" && row.point == "winding";
        match row.event {
            Event::Value if mine => {
                self.read = Some((seq, row.temperature_c.map(Decimal::to_f64)));
            }
            Event::Note if mine => self.read = self.read.map(|(seq, _)| (seq, None)),
            Event::Note if row.reason.starts_with("gone on") => {
                if row.recorded_at.0 - self.last > 1_800_000_000_000 {
                    self.plan = None;
                    self.read = self.read.map(|(seq, _)| (seq, None));
                }
            }
            Event::Withdrawn if self.read.map(|r| r.0) == row.of_seq => self.read = None,
            _ => {}
        }
        if !quiet {
            self.last = row.recorded_at.0;
        }
    }

    /// What a reading is multiplied by to bring it to 40 °C; as read where nobody knows.
    fn factor(&self) -> f64 {
        let known = self.read.map_or(self.plan, |(_, read)| read);
        known.map_or(1.0, |t| careful(None, Celsius(t)))
    }
}

fn holds(rows: &[Recorded]) -> Result<(), TestCaseError> {
    let mut leads = Leads::default();
    let mut heat = Heat::default();
    for (at, Recorded { seq, row, .. }) in rows.iter().enumerate() {
        prop_assert_eq!(*seq, at as u64 + 1);
        if let Some(of) = row.of_seq {
            prop_assert!(of >= 1 && of < *seq, "row {seq} names {of}");
        }
        leads.row(row);
        if row.event == Event::JobStart {
            let plan = row.temperature_c.map(Decimal::to_f64);
            let (last, read) = (row.recorded_at.0, None);
            heat = Heat { plan, read, last };
        }
        heat.row(*seq, row);
        let measured = ["ground_path", "winding", "ground", "insulation", "ratio"];
        if measured.contains(&row.test.as_str()) && row.verdict == Some(Verdict::Pass) {
            let unfit = super::prove::blocked(&rows[..at], &row.meter);
            prop_assert!(!unfit, "row {seq} passes on a blocked meter");
        }
        if row.test == "ratio" && row.event == Event::Judged {
            ratio_holds(rows, at)?;
        }
        if row.event == Event::JobEnd {
            cleared(&rows[..at], row)?;
            let to_ground =
                row.reason.contains("DO NOT ENERGIZE") && !row.reason.contains("no pass of");
            let fault = row.reason.starts_with("fault_found") || to_ground;
            let calm = row.note.contains("nothing_found");
            prop_assert!(
                !(fault && calm),
                "row {seq}: the diagnosis knows of no fault"
            );
        }
        let to_ground = matches!(row.test.as_str(), "ground" | "insulation");
        if !to_ground || row.verdict != Some(Verdict::Pass) {
            continue;
        }
        match row.event {
            Event::Value => {
                prop_assert!(leads.fresh(row), "row {seq} passes on unproven leads");
                if row.limits_from.contains("IEEE 43") {
                    let (now, read) = (row.judged_ohms, row.value_ohms);
                    let by = now.zip(read).map_or(0.0, |(j, v)| j.to_f64() / v.to_f64());
                    let wanted = heat.factor();
                    let near = (by - wanted).abs() < 0.01 * wanted;
                    prop_assert!(near, "row {seq} is brought to 40 °C by {by}, not {wanted}");
                }
                let (value, u, least) = (row.judged_ohms, row.uncertainty_ohms, row.lower_ohms);
                let clear = value.zip(u).and_then(|(v, u)| v.checked_sub(u));
                prop_assert!(
                    clear >= least && least.is_some(),
                    "row {seq} passes within U"
                );
            }
            Event::Judged => {
                let first = &rows[row.of_seq.unwrap_or(1) as usize - 1];
                prop_assert!(matches!(first.row.event, Event::Open | Event::OverRange));
                prop_assert_eq!(first.row.verdict, Some(Verdict::Undecided));
                let between = &rows[first.seq as usize..at];
                let after = between.iter().any(|r| {
                    r.row.test == "leads"
                        && r.row.point == "after"
                        && r.row.meter == row.meter
                        && r.row.verdict == Some(Verdict::Pass)
                });
                let contact = between.iter().any(|r| {
                    r.row.of_seq == Some(first.seq)
                        && (r.row.point == "contact" && r.row.event == Event::Value
                            || r.row.reason.starts_with("both_ends"))
                });
                let whole = between.iter().all(|r| {
                    r.row.event != Event::Gap
                        || r.row.meter != row.meter
                        || !r.row.reason.contains("12.0 s")
                });
                prop_assert!(
                    after && contact && whole,
                    "row {seq}: {after} {contact} {whole}"
                );
            }
            other => prop_assert!(false, "row {seq}: {other} passes over-range at once"),
        }
    }
    Ok(())
}

/// The points that need nothing more, each with its verdict.
fn done(bench: &Bench) -> BTreeMap<String, Vec<(String, Option<Verdict>)>> {
    let states = |view: crate::view::JobView| {
        let points = view.points.into_iter();
        // Leads are proven again by rule, whatever their rows say.
        let kept = points.filter(|p| p.state == "done" && p.test != "leads");
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

/// Whether the winding is charged and not shorted, by what was done to it.
fn still_charged(
    before: bool,
    bench: &Bench,
    from: usize,
    (next, active, done): (&str, bool, bool),
) -> bool {
    let rows = &bench.rows[from..];
    let is = |what: &str| next.starts_with(what);
    let typed = is("enter mega-1") && next.contains(" insulation ") && done && active;
    let pressed = active && (is("hold") || is("marks") || is("press"));
    let shorts = |seq: Option<u64>| {
        bench
            .rows
            .iter()
            .any(|r| Some(r.seq) == seq && r.row.reason.starts_with("shorted_to_ground"))
    };
    let fell = rows
        .iter()
        .any(|r| r.row.event == Event::Withdrawn && shorts(r.row.of_seq))
        && !bench.views().is_empty();
    let shorted = rows
        .iter()
        .any(|r| r.row.reason.starts_with("shorted_to_ground"));
    // Without a job a stop leaves nothing but the log.
    let forgotten = next == "restart" && bench.views().is_empty();
    (before || typed || pressed || fell) && !shorted && !forgotten
}

/// Whether an ask moves clips on the winding, or says that nothing is left.
fn moves_clips(asked: &str) -> bool {
    let ohms = [
        "winding",
        "ground",
        "sensor",
        "leads",
        "ground_path",
        "second",
    ];
    let first = asked.split([' ', '/']).next().unwrap_or_default();
    ohms.contains(&first)
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
