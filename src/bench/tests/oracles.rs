//! What must hold of any day at the bench, told anew from its rows alone: what
//! passed rests on proofs, on a temperature of now and on a meter that is not
//! blocked; a charge is discharged before a clip moves; nothing is cleared by halves.

use std::collections::BTreeMap;

use proptest::prelude::*;

use super::harness::Bench;
use crate::judge::correction::careful;
use crate::quantity::{Celsius, Decimal};
use crate::row::{Event, Recorded, Row, Verdict};

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

/// A place is named only between a reading that failed and one that passed
/// with its proofs, as they stand in the log; and it clears nothing.
fn place_holds(rows: &[Recorded], at: usize) -> Result<(), TestCaseError> {
    let row = &rows[at].row;
    prop_assert!(
        matches!(row.verdict, Some(Verdict::NotJudged | Verdict::Undecided)),
        "{}",
        row.reason
    );
    let Some(lies) = row.reason.strip_prefix("the fault lies ") else {
        prop_assert_eq!(row.verdict, Some(Verdict::Undecided));
        return Ok(());
    };
    let stands = |place: &str| {
        let name = format!("{place}_to_ground");
        let mut last = None;
        for r in rows[..at].iter().filter(|r| r.row.job == row.job) {
            if r.row.point == name && r.row.event == Event::Withdrawn {
                last = None;
            } else if r.row.point == name && r.row.verdict.is_some() {
                last = r.row.verdict;
            }
        }
        last
    };
    let words: Vec<&str> = lies.split([' ', ';', ':']).collect();
    prop_assert_eq!(stands(words[1]), Some(Verdict::Fail), "{}", row.reason);
    if words[0] == "between" {
        prop_assert_eq!(stands(words[3]), Some(Verdict::Pass), "{}", row.reason);
    }
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
            Event::Note
                if row.reason.starts_with("gone on")
                    && row.recorded_at.0 - self.last > 1_800_000_000_000 =>
            {
                self.plan = None;
                self.read = self.read.map(|(seq, _)| (seq, None));
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

pub(super) fn holds(rows: &[Recorded]) -> Result<(), TestCaseError> {
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
        if row.point == "set_place" && row.event == Event::Judged {
            place_holds(rows, at)?;
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

/// Whether the winding is charged and not shorted, by what was done to it.
pub(super) fn still_charged(
    before: bool,
    bench: &Bench,
    from: usize,
    (next, active, done): (&str, bool, bool),
) -> bool {
    let rows = &bench.rows[from..];
    let is = |what: &str| next.starts_with(what);
    let typed = is("enter mega-1") && next.contains(" insulation ") && done && active;
    let pressed = active && (is("hold") || is("marks") || is("press"));
    // Once, and of a job that has no end.
    let shorts = |seq: Option<u64>| {
        let open = bench.views();
        bench.rows.iter().any(|r| {
            Some(r.seq) == seq
                && r.row.reason.starts_with("shorted_to_ground")
                && open.iter().any(|v| v.job == r.row.job)
        })
    };
    let first = |of: Option<u64>| {
        let gone = |r: &&Recorded| r.row.event == Event::Withdrawn && r.row.of_seq == of;
        bench.rows.iter().filter(gone).count() == 1
    };
    let fell = rows
        .iter()
        .any(|r| r.row.event == Event::Withdrawn && shorts(r.row.of_seq) && first(r.row.of_seq));
    let shorted = rows
        .iter()
        .any(|r| r.row.reason.starts_with("shorted_to_ground"));
    // Without a job a stop leaves nothing but the log.
    let forgotten = next == "restart" && bench.views().is_empty();
    (before || typed || pressed || fell) && !shorted && !forgotten
}

/// Whether an ask moves clips on the winding, or says that nothing is left.
pub(super) fn moves_clips(asked: &str) -> bool {
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
