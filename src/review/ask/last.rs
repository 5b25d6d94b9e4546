//! The newest value of every asset and point.

use core::sync::atomic::AtomicU64;
use std::collections::BTreeSet;
use std::io;

use super::filter::Filter;
use super::groups::Groups;
use super::stages::Stages;
use crate::log::scan::{Gather, Line, Scan, Seen, column};

/// The newest row of a group.
#[derive(Clone, Debug, Default)]
struct Newest {
    seq: u64,
    /// The row as it stands in the file.
    line: Vec<u8>,
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
}

/// The newest value of every asset, test and point, in their order: each row
/// as it stands in the file.
///
/// # Errors
/// The disk's own.
pub fn last(
    scan: &Scan,
    done: &AtomicU64,
    filter: &Filter,
    stages: &Stages,
) -> io::Result<(Vec<Vec<u8>>, Seen)> {
    let mut without = BTreeSet::new();
    loop {
        let make = || Last {
            filter,
            stages,
            last_column: filter.last_column().max(column::POINT),
            without: &without,
            spoiled: BTreeSet::new(),
            key: Vec::new(),
            groups: Groups::default(),
        };
        let (found, seen) = scan.gather(done, make)?;
        let newest = found.groups.sorted();
        let took = |of: &(_, Newest)| found.spoiled.contains(&of.1.seq);
        if newest.iter().any(took) {
            // What stands before a withdrawn row was not kept: look again without those.
            without = found.spoiled;
            continue;
        }
        let lines = newest.into_iter().map(|(_, newest)| newest.line);
        return Ok((lines.collect(), seen));
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
        self.key.clear();
        for column in [column::ASSET, column::TEST, column::POINT] {
            self.key.extend(line.cell(column));
            self.key.push(b',');
        }
        let newest = self.groups.of(&self.key, Newest::default);
        if line.seq >= newest.seq {
            newest.seq = line.seq;
            newest.line.clear();
            newest.line.extend(line.bytes);
        }
    }

    fn take_back(&mut self, line: &Line<'_>) {
        self.spoiled.insert(line.seq);
    }

    fn merge(&mut self, other: Self) {
        other.groups.drain(|key, newest| {
            let of = self.groups.of(key, Newest::default);
            if newest.seq >= of.seq {
                *of = newest;
            }
        });
        self.spoiled.extend(other.spoiled);
    }
}
