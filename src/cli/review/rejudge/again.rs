//! The captures run again, and what each row comes to.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::super::super::Fail;
use super::super::super::replay::limits::{Limits, talk};
use super::super::super::replay::rejudge::{Before, Change, Rejudge};
use super::kept::{ByInput, Found, Judged, Kept};
use crate::capture::{self, Pace, names};
use crate::engine::REVISION;
use crate::input::What;
use crate::row::{Event, Row};

/// What the captures gave, by the numbers of the log's rows.
#[derive(Default)]
pub(super) struct Again {
    /// The row after of each row before.
    rows: BTreeMap<u64, Row>,
    /// Rows that have none after.
    gone: BTreeSet<u64>,
    /// Later verdicts on a row that had none before.
    fresh: BTreeMap<u64, Row>,
    why: BTreeMap<u64, String>,
    /// Job ends that come out otherwise, and rows that were none before.
    pub(super) beside: Vec<Change>,
    /// Captures that were not gone through to their end, and why.
    broken: BTreeMap<String, String>,
    /// Jobs that came to their end.
    ended: BTreeSet<String>,
}

/// A row whose verdict or finding comes out otherwise.
pub(super) struct Turned {
    pub(super) seq: u64,
    pub(super) before: Found,
    /// The row after; none: it would not have been made.
    pub(super) row: Option<Row>,
    pub(super) why: String,
}

impl Again {
    /// Runs a run's captures again, from its first file on.
    pub(super) fn run(&mut self, dir: &Path, first: &str, limits: Option<&Limits>, rows: ByInput) {
        if let Err(why) = self.through(&dir.join(first), limits, rows) {
            self.broken.insert(first.to_owned(), why);
        }
    }

    fn through(
        &mut self,
        path: &Path,
        limits: Option<&Limits>,
        rows: ByInput,
    ) -> Result<(), String> {
        if !path.is_file() {
            return Err(String::from("it is missing"));
        }
        let mut inputs = capture::read(path, Pace::AtOnce).map_err(|e| e.to_string())?;
        let mut both = Rejudge::new(limits, Before::Log(rows));
        let mut other_engine = None;
        for input in inputs.by_ref() {
            let input = input.map_err(|e| e.to_string())?;
            if let What::Begin(begin) = &input.what {
                other_engine = (begin.engine != REVISION)
                    .then(|| format!("engine revision {} → {REVISION}", begin.engine));
                both.otherwise(other_engine.clone().unwrap_or_else(|| {
                    String::from(
                        "the log has it otherwise under the same engine revision: verify the log",
                    )
                }));
            }
            let step = both.step(&input).map_err(said)?;
            step.missing.iter().for_each(|words| talk(words));
            let ends = step.rows.iter().filter(|row| row.event == Event::JobEnd);
            self.ended.extend(ends.map(|row| row.job.clone()));
            for (seq, at) in step.pairs {
                if let Some(row) = step.rows.get(at).filter(|row| row.verdict.is_some()) {
                    self.rows.insert(seq, row.clone());
                }
            }
            for mut change in step.changes {
                if let (Some(engine), true) = (&other_engine, limits.is_some()) {
                    change.why = format!("{}; {engine}", change.why);
                }
                self.change(change);
            }
        }
        if let Some((path, end)) = inputs.torn().last() {
            return Err(format!(
                "{} was torn by a crash behind byte {end}, or cut there",
                path.file_name().unwrap_or_default().display()
            ));
        }
        let rest = both.finish();
        rest.into_iter().for_each(|change| self.change(change));
        Ok(())
    }

    fn change(&mut self, change: Change) {
        if let Some(seq) = change.seq {
            self.why.insert(seq, change.why.clone());
        }
        let judged = |row: &Row| row.event == Event::Judged;
        match (change.seq, change.of, &change.row) {
            _ if change.test == "job_end" => self.beside.push(change),
            (Some(seq), _, None) => _ = self.gone.insert(seq),
            (Some(_), _, Some(_)) => {}
            (None, Some(of), Some(row)) if judged(row) => {
                self.why.entry(of).or_insert(change.why);
                self.fresh.insert(of, row.as_ref().clone());
            }
            (None, ..) => self.beside.push(change),
        }
    }

    /// The rows that come out otherwise, in the order of the log. A verdict that
    /// was come to again before stands where these limits say nothing of its test.
    pub(super) fn turned(&self, kept: &Kept, says: &dyn Fn(&Row) -> bool) -> Vec<Turned> {
        let mut turned = Vec::new();
        for (seq, judged) in &kept.judged {
            if !self.looked_at(*seq, judged) {
                continue;
            }
            let row = self.after(*seq, judged.later);
            let now = row.map_or((None, None), |row| (row.verdict, row.finding));
            let as_it_was = now == judged.first && !says(&judged.row);
            if now != judged.stands && !as_it_was {
                turned.push(Turned {
                    seq: *seq,
                    before: judged.stands,
                    row: row.cloned(),
                    why: self.why(*seq, judged.later),
                });
            }
        }
        turned
    }

    /// The reason of the row that decides after; of the one before, where that is gone.
    fn why(&self, seq: u64, later: Option<u64>) -> String {
        let of_later = later.and_then(|later| self.why.get(&later));
        let by_later = later.is_some_and(|later| self.rows.contains_key(&later));
        let (first, second) = match by_later {
            true => (of_later, self.why.get(&seq)),
            false => (self.why.get(&seq), of_later),
        };
        let words = first.or(second).cloned();
        words.unwrap_or_else(|| String::from("it was judged again by other limits before"))
    }

    /// The row that a row's verdict stands in after.
    fn after(&self, seq: u64, later: Option<u64>) -> Option<&Row> {
        let by_later = later.and_then(|later| self.rows.get(&later));
        let of_same_point = |row: &&Row| {
            let value = self.rows.get(&seq);
            value.is_some_and(|value| value.test == row.test && value.point == row.point)
        };
        let fresh = self.fresh.get(&seq).filter(of_same_point);
        by_later.or(fresh).or_else(|| self.rows.get(&seq))
    }

    /// Whether a row was judged with all that it was judged with: where a capture
    /// breaks off, what was still to come of its job is not known.
    fn looked_at(&self, seq: u64, judged: &Judged) -> bool {
        let came = |seq: &u64| self.rows.contains_key(seq) || self.gone.contains(seq);
        let row = &judged.row;
        let broken = || self.why_broken(&row.capture).is_some();
        let whole = || self.ended.contains(&row.job) || !broken();
        came(&seq) && judged.later.as_ref().is_none_or(came) && whole()
    }

    /// The first capture of a run that breaks off, and why.
    fn why_broken(&self, capture: &str) -> Option<(String, &str)> {
        let first = format!("{}.pcapng", names::run_of(capture)?);
        let why = self.broken.get(&first)?;
        Some((first, why))
    }

    /// How many of the rows were looked at, and the others by capture: how
    /// many, and why.
    pub(super) fn looked(&self, kept: &Kept) -> (usize, Vec<(String, usize, String)>) {
        let mut looked = 0;
        let mut missed: BTreeMap<&str, usize> = BTreeMap::new();
        for (seq, judged) in &kept.judged {
            match self.looked_at(*seq, judged) {
                true => looked += 1,
                false => *missed.entry(&judged.row.capture).or_default() += 1,
            }
        }
        let missed = missed
            .into_iter()
            .map(|(capture, rows)| (capture.to_owned(), rows, self.why_missed(capture, kept)));
        (looked, missed.collect())
    }

    fn why_missed(&self, capture: &str, kept: &Kept) -> String {
        if capture.is_empty() {
            return String::from("their rows name no capture");
        }
        if let Some(row) = kept.expired.get(capture) {
            return format!("it was deleted, as row {row} says");
        }
        match self.why_broken(capture) {
            Some((first, why)) if first == capture => why.to_owned(),
            Some((first, why)) => format!("its run could not be followed to it: {first}: {why}"),
            None => String::from(
                "it ends before them or before what judged them, or a file of its run before it is missing",
            ),
        }
    }
}

/// A failure's words.
fn said(fail: Fail) -> String {
    match fail {
        Fail::No(words) => words,
        Fail::Asked(e) | Fail::Around(e) => format!("{e:#}"),
        Fail::Gone => String::from("stdout is gone"),
    }
}
