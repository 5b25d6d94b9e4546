//! Do the captures give the log's rows again, byte for byte?
//!
//! Each run is replayed from its first file and its rows are held against those
//! of the log that name its files. Rows of the log without a capture were made
//! between runs and are no engine's. What cannot be replayed is named and counted,
//! never passed.

use std::collections::{BTreeMap, VecDeque};
use std::io;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

use serde::Serialize;

use crate::capture::{self, Pace, names};
use crate::disk::{Disk as _, RealDisk};
use crate::engine::{Engine, Output, REVISION};
use crate::input::What;
use crate::log::cells::cells;
use crate::log::files::FileName;
use crate::log::{chain, open};
use crate::row::{COLUMNS, Row};

use super::verify::counted;

/// What replaying showed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Deep {
    /// Runs that were replayed.
    pub runs: usize,
    /// Rows of the log that came out the same.
    pub same: u64,
    /// Rows of the log that were not held against a capture.
    pub not_held: u64,
    /// What is wrong.
    pub failures: Vec<String>,
    /// What is worth knowing and not wrong.
    pub remarks: Vec<String>,
}

/// Differences of one run that are named; more are counted.
const NAMED: usize = 5;

/// What a run's captures give.
struct Replayed {
    rows: VecDeque<Row>,
    /// The number of its first row.
    from: u64,
    /// The engine that made it.
    engine: u32,
    /// It ended in order; then how many rows its end gave.
    ended: Option<usize>,
}

/// Replays all runs of a data folder. `done` counts bytes of captures.
///
/// # Errors
/// The log or the folder of captures cannot be read; a capture that cannot is a failure.
pub fn deep(data: &Path, done: &AtomicU64) -> io::Result<Deep> {
    let mut deep = Deep::default();
    let folder = data.join("captures");
    let mut runs: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for name in RealDisk.list(&folder)? {
        if let Some(run) = names::run_of(&name) {
            runs.entry(run.to_owned()).or_default().push(name);
        }
    }
    let log = data.join("log");
    let firsts = first_rows(&log)?;
    let mut held = 0;
    for (run, files) in &runs {
        let first = format!("{run}.pcapng");
        if !files.contains(&first) {
            deep.remarks.push(format!(
                "captures/{first} is not there: run {run} cannot be replayed without its first file"
            ));
            continue;
        }
        match replayed(&folder.join(&first)) {
            Ok(replayed) => {
                deep.runs += 1;
                held += deep.compare(&log, &firsts, run, replayed)?;
            }
            Err(why) => deep
                .failures
                .push(format!("captures/{first}: cannot be replayed: {why}")),
        }
        for name in files {
            done.fetch_add(RealDisk.len(&folder.join(name))?, Ordering::Relaxed);
        }
    }
    let mut rows = 0;
    for (name, _) in &firsts {
        open::each_row(&RealDisk, &log.join(name.to_string()), |_| rows += 1)?;
    }
    deep.not_held = rows - held;
    Ok(deep)
}

/// The log's files and the number of the first row of each.
fn first_rows(log: &Path) -> io::Result<Vec<(FileName, u64)>> {
    let mut firsts = Vec::new();
    for name in FileName::list(&RealDisk, log)? {
        let mut first = None;
        let head = RealDisk.read(&log.join(name.to_string()), 0, open::TAIL)?;
        for line in open::rows(&head).take(1) {
            first = chain::seq_of(line);
        }
        firsts.push((name, first.unwrap_or(u64::MAX)));
    }
    Ok(firsts)
}

fn replayed(first: &Path) -> Result<Replayed, String> {
    let mut engine = Engine::new();
    let mut output = Output::default();
    let mut replayed = Replayed {
        rows: VecDeque::new(),
        from: 0,
        engine: REVISION,
        ended: None,
    };
    let mut inputs = capture::read(first, Pace::AtOnce).map_err(|e| e.to_string())?;
    for input in inputs.by_ref() {
        let input = input.map_err(|e| e.to_string())?;
        match &input.what {
            What::Begin(begin) if replayed.from == 0 => {
                (replayed.from, replayed.engine) = (begin.next_seq, begin.engine);
            }
            _ => {}
        }
        engine
            .input(&input, &mut output)
            .map_err(|e| e.to_string())?;
        output.outcomes.clear();
        if matches!(input.what, What::End { .. }) {
            replayed.ended = Some(output.rows.len());
        }
        replayed.rows.extend(output.rows.drain(..));
    }
    match replayed.from {
        0 => Err(String::from(
            "it does not begin as a run of this program does",
        )),
        _ => Ok(replayed),
    }
}

impl Deep {
    /// Holds a run's rows against the log's. Returns how many of the log's were held.
    fn compare(
        &mut self,
        log: &Path,
        firsts: &[(FileName, u64)],
        run: &str,
        mut replayed: Replayed,
    ) -> io::Result<u64> {
        let from = replayed.from;
        let start = firsts
            .partition_point(|(_, first)| *first <= from)
            .saturating_sub(1);
        let (mut held, mut other, mut line) = (0_u64, Vec::new(), String::new());
        let mut without = 0_u64;
        for (name, first) in &firsts[start..] {
            // What a run wrote stands together; later files begin after it.
            if *first > from + held + without + 1 && held > 0 && replayed.rows.is_empty() {
                break;
            }
            open::each_row(&RealDisk, &log.join(name.to_string()), |bytes| {
                let Some(seq) = chain::seq_of(bytes).filter(|seq| *seq >= from) else {
                    return;
                };
                let mut cells = cells(bytes);
                let capture = cells.nth(COLUMNS.len() - 4).unwrap_or_default();
                if names::run_of(&capture) != Some(run) {
                    without += u64::from(capture.is_empty());
                    return;
                }
                let Some(row) = replayed.rows.pop_front() else {
                    other.push(format!(
                        "row {seq} of run {run} is not what its captures give: they end before it"
                    ));
                    return;
                };
                held += 1;
                line.clear();
                row.write(seq, &mut line);
                if !bytes.starts_with(line.as_bytes()) {
                    other.push(differs(seq, bytes, &line));
                }
            })?;
        }
        self.same += held - other.len().min(held as usize) as u64;
        // A crash may lose the last batch, which nobody was told of; after an
        // end in order that is the end alone.
        let crashed = replayed
            .ended
            .is_none_or(|rows| replayed.rows.len() <= rows);
        if !replayed.rows.is_empty() {
            let more = counted(replayed.rows.len(), "row");
            let said = format!("run {run}: its captures give {more} more than the log has");
            match crashed {
                true => self.remarks.push(format!(
                    "{said}: a crash came before they were written, or they were cut off"
                )),
                false => self.failures.push(said),
            }
        }
        self.say(run, replayed.engine, other);
        Ok(held)
    }

    fn say(&mut self, run: &str, engine: u32, other: Vec<String>) {
        if other.is_empty() {
            return;
        }
        if engine != REVISION {
            self.remarks.push(format!(
                "run {run} was made by engine revision {engine}; by {REVISION} {} of its rows come out otherwise: see replay --changes",
                other.len()
            ));
            return;
        }
        let more = other.len().saturating_sub(NAMED);
        self.failures.extend(other.into_iter().take(NAMED));
        if more > 0 {
            let more = counted(more, "row");
            self.failures
                .push(format!("run {run}: {more} more come out otherwise"));
        }
    }
}

/// The first cell in which a row of the log and a replayed one differ.
fn differs(seq: u64, log: &[u8], replayed: &str) -> String {
    let pairs = cells(log).zip(cells(replayed.as_bytes()));
    let mut named = COLUMNS.iter().zip(pairs);
    match named.find(|(_, (there, here))| there != here) {
        Some((column, (there, here))) => format!(
            "row {seq}: replaying its capture gives another {column}: the log has {there:?}, the capture gives {here:?}"
        ),
        None => format!("row {seq}: replaying its capture gives other bytes"),
    }
}
