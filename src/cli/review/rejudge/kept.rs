//! What the log holds of verdicts: which rows are asked for, what stands of
//! each now, and which captures they came from.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::path::Path;

use super::super::super::Fail;
use super::super::rows::each;
use crate::capture::names;
use crate::row::{Event, Finding, Recorded, Row, Verdict};

/// Rows by capture and offset, as a replay meets them.
pub(super) type ByInput = BTreeMap<(String, u64), VecDeque<Recorded>>;

/// A verdict and why.
pub(super) type Found = (Option<Verdict>, Option<Finding>);

/// A row that was judged, and what stands of it.
pub(super) struct Judged {
    /// The value, or the verdict over several.
    pub(super) row: Row,
    /// The row by which the program judged it later, such as after the leads were proven.
    pub(super) later: Option<u64>,
    /// As the program judged it last.
    pub(super) first: Found,
    /// What stands now: that, or what it was judged to be again.
    pub(super) stands: Found,
}

/// What the log holds.
#[derive(Default)]
pub(super) struct Kept {
    /// By the number of the row.
    pub(super) judged: BTreeMap<u64, Judged>,
    /// Jobs that have ended.
    pub(super) ended: BTreeSet<String>,
    /// Captures that were deleted, and the row that says it.
    pub(super) expired: BTreeMap<String, u64>,
    /// All jobs and assets, for names that are mistyped.
    pub(super) jobs: BTreeSet<String>,
    pub(super) assets: BTreeSet<String>,
}

/// Which rows are asked for.
pub(super) type Wanted<'a> = &'a dyn Fn(&Row) -> bool;

/// Whether a row carries a verdict that a replay gives again.
fn has_verdict(row: &Row) -> bool {
    use Event::{Aborted, Judged, Open, OverRange, Value};
    matches!(row.event, Value | Open | OverRange | Aborted | Judged)
        && row.verdict.is_some()
        && !row.job.is_empty()
}

impl Kept {
    /// Reads the log through.
    pub(super) fn read(dir: &Path, wanted: Wanted<'_>) -> Result<Self, Fail> {
        let mut kept = Self::default();
        each(dir, |recorded| kept.follow(recorded, wanted))?;
        Ok(kept)
    }

    fn follow(&mut self, Recorded { seq, row, .. }: Recorded, wanted: Wanted<'_>) {
        for (names, name) in [(&mut self.jobs, &row.job), (&mut self.assets, &row.asset)] {
            if !name.is_empty() && !names.contains(name) {
                names.insert(name.clone());
            }
        }
        match row.event {
            Event::JobEnd => _ = self.ended.insert(row.job),
            Event::Expired => {
                if let Some((name, _)) = row.reason.split_once(": ") {
                    self.expired.insert(name.to_owned(), seq);
                }
            }
            Event::Withdrawn => {
                let of = row.of_seq;
                self.judged
                    .retain(|at, judged| Some(*at) != of && (of.is_none() || judged.later != of));
            }
            _ if has_verdict(&row) && wanted(&row) => self.verdict(seq, row),
            _ => {}
        }
    }

    fn verdict(&mut self, seq: u64, row: Row) {
        let stands = (row.verdict, row.finding);
        let of = row.of_seq.filter(|_| row.event == Event::Judged);
        let value = of.and_then(|of| self.judged.get_mut(&of));
        let same = |value: &&mut Judged| value.row.test == row.test && value.row.point == row.point;
        match value.filter(same) {
            Some(value) => {
                value.stands = stands;
                // One that was judged again has no capture: a replay does not give it.
                if !row.capture.is_empty() {
                    value.later = Some(seq);
                    value.first = stands;
                }
            }
            None => {
                let judged = Judged {
                    row,
                    later: None,
                    first: stands,
                    stands,
                };
                self.judged.insert(seq, judged);
            }
        }
    }

    /// The runs that the rows asked for came from, each by its first file's name.
    pub(super) fn runs(&self) -> BTreeSet<String> {
        let captures = self.judged.values().map(|judged| &judged.row.capture);
        let named = captures.filter_map(|name| names::run_of(name));
        named.map(|run| format!("{run}.pcapng")).collect()
    }
}

/// The rows of some runs, as a replay meets them.
pub(super) fn by_input(dir: &Path, runs: &BTreeSet<String>) -> Result<ByInput, Fail> {
    let mut rows = ByInput::new();
    let of_a_run = |name: &str| {
        let run = names::run_of(name).map(|run| format!("{run}.pcapng"));
        run.is_some_and(|run| runs.contains(&run))
    };
    each(dir, |recorded| {
        if let Some(offset) = recorded.row.capture_offset
            && of_a_run(&recorded.row.capture)
        {
            let key = (recorded.row.capture.clone(), offset);
            rows.entry(key).or_default().push_back(recorded);
        }
    })?;
    Ok(rows)
}
