//! The newest rows with a verdict that are asked about, each with its last verdict.

use core::sync::atomic::AtomicU64;
use std::collections::{BTreeMap, BTreeSet};
use std::io;

use super::count::judges;
use super::filter::Filter;
use super::stages::Stages;
use crate::log::cells::recorded;
use crate::log::scan::{Gather, Line, Scan, Seen, column};
use crate::row::{Finding, Recorded, RowError, Verdict};

/// Kept beyond what is wanted, in place of rows that a later piece withdraws
/// (own: one row in five hundred is much).
const SPARE: usize = 64;

/// A row as it stands in the file, and behind it the last verdict and finding.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Kept {
    bytes: Vec<u8>,
    row: u32,
    verdict: u32,
}

impl Kept {
    /// Keeps a row; cells up to the finding were looked at.
    pub fn of(line: &Line<'_>) -> Self {
        let mut kept = Self::default();
        kept.set(line);
        kept
    }

    /// Keeps this row instead.
    pub fn set(&mut self, line: &Line<'_>) {
        let verdict = line.cell(column::VERDICT);
        let finding = line.cell(column::FINDING);
        let len = line.bytes.len() + verdict.len() + finding.len();
        self.bytes.clear();
        self.bytes.reserve_exact(len);
        for part in [line.bytes, verdict, finding] {
            self.bytes.extend(part);
        }
        (self.row, self.verdict) = (line.bytes.len() as u32, verdict.len() as u32);
    }

    /// The row with its last verdict.
    ///
    /// # Errors
    /// It does not read.
    pub fn recorded(&self) -> Result<Recorded, RowError> {
        let (row, words) = self.bytes.split_at(self.row as usize);
        let (verdict, finding) = words.split_at(self.verdict as usize);
        let word = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        let mut recorded = recorded(row)?;
        recorded.row.verdict = Verdict::from_word(&word(verdict));
        recorded.row.finding = Finding::from_word(&word(finding));
        Ok(recorded)
    }
}

/// Rows, the newest first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Newest {
    /// Each as it stands in the file, with its last verdict.
    pub lines: Vec<Kept>,
    /// How many fit that are older than the last of these.
    pub older: u64,
}

struct Rows<'q> {
    filter: &'q Filter,
    stages: &'q Stages,
    last_column: usize,
    before: u64,
    most: usize,
    fit: u64,
    kept: BTreeMap<u64, Kept>,
    back: BTreeSet<u64>,
}

/// At most `most` rows of those before the row `before`; the same rows that
/// [`super::count::Count`] counts.
///
/// # Errors
/// The disk's own.
pub fn newest(
    scan: &Scan,
    done: &AtomicU64,
    (filter, stages): (&Filter, &Stages),
    before: Option<u64>,
    most: usize,
) -> io::Result<(Newest, Seen)> {
    let make = || Rows {
        filter,
        stages,
        last_column: filter.last_column().max(column::FINDING),
        before: before.unwrap_or(u64::MAX),
        most: most + SPARE,
        fit: 0,
        kept: BTreeMap::new(),
        back: BTreeSet::new(),
    };
    let (mut rows, seen) = scan.gather(done, make)?;
    rows.drop_oldest();
    rows.kept.retain(|seq, _| !rows.back.contains(seq));
    let lines: Vec<Kept> = rows.kept.into_values().rev().take(most).collect();
    Ok((
        Newest {
            older: rows.fit.saturating_sub(lines.len() as u64),
            lines,
        },
        seen,
    ))
}

impl Rows<'_> {
    fn fits(&self, line: &Line<'_>) -> bool {
        line.seq < self.before
            && !line.cell(column::VERDICT).is_empty()
            && self.filter.holds(line)
            && self.stages.hold(line)
    }

    fn drop_oldest(&mut self) {
        while self.kept.len() > self.most {
            self.kept.pop_first();
        }
    }
}

impl Gather for Rows<'_> {
    fn last_column(&self) -> usize {
        self.last_column
    }

    fn wants(&self, event: &[u8]) -> bool {
        judges(event)
    }

    fn row(&mut self, line: &Line<'_>) {
        if !self.fits(line) {
            return;
        }
        self.fit += 1;
        let full = self.kept.len() >= self.most;
        if full
            && self
                .kept
                .first_key_value()
                .is_some_and(|(oldest, _)| line.seq < *oldest)
        {
            return;
        }
        self.back.remove(&line.seq);
        self.kept.insert(line.seq, Kept::of(line));
        self.drop_oldest();
    }

    fn take_back(&mut self, line: &Line<'_>) {
        if self.fits(line) {
            self.fit -= 1;
            self.back.insert(line.seq);
        }
    }

    fn merge(&mut self, other: Self) {
        self.fit += other.fit;
        self.kept.extend(other.kept);
        self.drop_oldest();
        self.back.extend(other.back);
    }
}
