//! The newest rows with a verdict that are asked about, as they stand in the file.

use core::sync::atomic::AtomicU64;
use std::collections::{BTreeMap, BTreeSet};
use std::io;

use super::count::{counts, judges};
use super::filter::Filter;
use super::stages::Stages;
use crate::log::scan::{Gather, Line, Scan, Seen, column};

/// Kept beyond what is wanted, in place of rows that a later piece withdraws
/// (own: one row in five hundred is much).
const SPARE: usize = 64;

/// Rows, the newest first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Newest {
    /// Each as it stands in the file.
    pub lines: Vec<Vec<u8>>,
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
    kept: BTreeMap<u64, Vec<u8>>,
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
    let lines: Vec<Vec<u8>> = rows.kept.into_values().rev().take(most).collect();
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
        line.seq < self.before && counts(line) && self.filter.holds(line) && self.stages.hold(line)
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
        self.kept.insert(line.seq, line.bytes.to_vec());
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
