//! The newest value of every asset and point, with its last verdict.
//!
//! Leads are a meter's, so each meter has its own. An imported value was not
//! measured under anything that is known, and was recorded later than it was
//! read: it is never the newest.

use core::sync::atomic::AtomicU64;
use std::collections::BTreeSet;
use std::io;

use super::filter::Filter;
use super::groups::Groups;
use super::imported;
use super::newest::Kept;
use super::stages::Stages;
use crate::log::scan::{Gather, Line, Scan, Seen, column};

/// The newest row of a group.
#[derive(Clone, Debug, Default)]
struct Newest {
    seq: u64,
    row: Kept,
}

struct Last<'q> {
    filter: &'q Filter,
    stages: &'q Stages,
    last_column: usize,
    /// Withdrawn rows that a first look took for the newest.
    without: &'q BTreeSet<u64>,
    spoiled: BTreeSet<u64>,
    key: Vec<u8>,
    groups: Groups<Newest>,
    imported: i64,
}

/// The newest values.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LastValues {
    /// Of every asset, test and point, in their order.
    pub rows: Vec<Kept>,
    /// Imported values that fit, and are not among them.
    pub imported: u64,
}

/// The newest value of every asset, test and point.
///
/// # Errors
/// The disk's own.
pub fn last(
    scan: &Scan,
    done: &AtomicU64,
    filter: &Filter,
    stages: &Stages,
) -> io::Result<(LastValues, Seen)> {
    let mut without = BTreeSet::new();
    loop {
        let make = || Last {
            filter,
            stages,
            last_column: filter.last_column().max(column::FINDING),
            without: &without,
            spoiled: BTreeSet::new(),
            key: Vec::new(),
            groups: Groups::default(),
            imported: 0,
        };
        let (found, seen) = scan.gather(done, make)?;
        let newest = found.groups.sorted();
        let took = |of: &(_, Newest)| found.spoiled.contains(&of.1.seq);
        if newest.iter().any(took) {
            // What stands before a withdrawn row was not kept: look again without those.
            without = found.spoiled;
            continue;
        }
        let rows = newest.into_iter().map(|(_, newest)| newest.row).collect();
        let imported = found.imported.max(0).unsigned_abs();
        return Ok((LastValues { rows, imported }, seen));
    }
}

impl Gather for Last<'_> {
    fn last_column(&self) -> usize {
        self.last_column
    }

    fn wants(&self, event: &[u8]) -> bool {
        matches!(event, b"value" | b"open" | b"over_range")
    }

    fn row(&mut self, line: &Line<'_>) {
        if line.cell(column::ASSET).is_empty()
            || !self.filter.holds(line)
            || !self.stages.hold(line)
            || self.without.contains(&line.seq)
        {
            return;
        }
        if imported(line).is_some() {
            self.imported += 1;
            return;
        }
        self.key.clear();
        for column in [column::ASSET, column::TEST, column::POINT] {
            self.key.extend(line.cell(column));
            self.key.push(b',');
        }
        if line.cell(column::TEST) == b"leads" {
            self.key.extend(line.cell(column::METER));
        }
        let newest = self.groups.of(&self.key, Newest::default);
        if line.seq >= newest.seq {
            newest.seq = line.seq;
            newest.row.set(line);
        }
    }

    fn take_back(&mut self, line: &Line<'_>) {
        let fits = self.filter.holds(line) && self.stages.hold(line);
        self.imported -= i64::from(fits && imported(line).is_some());
        self.spoiled.insert(line.seq);
    }

    fn amend(&mut self, before: &Line<'_>, after: &Line<'_>) {
        // Another verdict may let a row through the filter, or not any more.
        match self.filter.holds(after) {
            true => self.row(after),
            false if self.filter.holds(before) => self.take_back(before),
            false => {}
        }
    }

    fn merge(&mut self, other: Self) {
        other.groups.drain(|key, newest| {
            let of = self.groups.of(key, Newest::default);
            if newest.seq >= of.seq {
                *of = newest;
            }
        });
        self.spoiled.extend(other.spoiled);
        self.imported += other.imported;
    }
}
