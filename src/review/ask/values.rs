//! Values of the rows that are asked about, by group, in the order of the log.

use core::sync::atomic::AtomicU64;
use std::io;

use super::filter::Filter;
use super::groups::Groups;
use super::stages::{Stages, job};
use crate::log::scan::{Gather, Line, Scan, Seen, column};
use crate::stamp::Wall;

/// One value, as numbers for statistics; the exact digits stand in the log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Value {
    /// Its row.
    pub seq: u64,
    /// The number in its job's name; none: of no job.
    pub job: Option<u64>,
    /// When it was recorded.
    pub at: Wall,
    /// As it was judged, in ohms; as it was read where nothing was judged.
    pub judged_ohms: f64,
    /// As it was read, in ohms.
    pub value_ohms: f64,
    /// The winding's temperature, if the row has one.
    pub celsius: Option<f64>,
    /// The limits that it was judged by, in ohms.
    pub limits: (Option<f64>, Option<f64>),
}

/// Values of each group, by the group's cells as they stand in the file.
pub type ByGroup = Vec<(Vec<u8>, Vec<Value>)>;

struct Values<'q> {
    filter: &'q Filter,
    stages: &'q Stages,
    by: &'q [usize],
    last_column: usize,
    key: Vec<u8>,
    groups: Groups<Vec<Value>>,
    back: Vec<u64>,
}

/// The values in ohms of each group, cells of the group as they stand in the
/// file with commas between.
///
/// # Errors
/// The disk's own.
pub fn values(
    scan: &Scan,
    done: &AtomicU64,
    (filter, stages): (&Filter, &Stages),
    by: &[usize],
) -> io::Result<(ByGroup, Seen)> {
    let last_column = by.iter().copied().max().unwrap_or_default();
    let make = || Values {
        filter,
        stages,
        by,
        last_column: last_column
            .max(filter.last_column())
            .max(column::UPPER_OHMS),
        key: Vec::new(),
        groups: Groups::default(),
        back: Vec::new(),
    };
    let (mut gathered, seen) = scan.gather(done, make)?;
    gathered.back.sort_unstable();
    let mut groups = gathered.groups.sorted();
    for (_, values) in &mut groups {
        values.retain(|value| gathered.back.binary_search(&value.seq).is_err());
        values.sort_unstable_by_key(|value| value.seq);
    }
    groups.retain(|(_, values)| !values.is_empty());
    Ok((groups, seen))
}

impl Gather for Values<'_> {
    fn last_column(&self) -> usize {
        self.last_column
    }

    fn wants(&self, event: &[u8]) -> bool {
        event == b"value"
    }

    fn row(&mut self, line: &Line<'_>) {
        let Some(value_ohms) = number(line, column::VALUE_OHMS) else {
            return;
        };
        if !self.filter.holds(line) || !self.stages.hold(line) {
            return;
        }
        self.key.clear();
        for (at, column) in self.by.iter().enumerate() {
            if at > 0 {
                self.key.push(b',');
            }
            self.key.extend(line.cell(*column));
        }
        let at = core::str::from_utf8(line.cell(column::RECORDED_AT)).ok();
        let Some(at) = at.and_then(Wall::parse) else {
            return;
        };
        let value = Value {
            seq: line.seq,
            job: job(line.cell(column::JOB)),
            at,
            judged_ohms: number(line, column::JUDGED_OHMS).unwrap_or(value_ohms),
            value_ohms,
            celsius: number(line, column::TEMPERATURE_C),
            limits: (
                number(line, column::LOWER_OHMS),
                number(line, column::UPPER_OHMS),
            ),
        };
        self.groups.of(&self.key, Vec::new).push(value);
    }

    fn take_back(&mut self, line: &Line<'_>) {
        self.back.push(line.seq);
    }

    fn merge(&mut self, other: Self) {
        let groups = &mut self.groups;
        other
            .groups
            .drain(|key, values| groups.of(key, Vec::new).extend(values));
        self.back.extend(other.back);
    }
}

/// A plain decimal of the log; none: the cell is empty.
pub(super) fn number(line: &Line<'_>, column: usize) -> Option<f64> {
    core::str::from_utf8(line.cell(column)).ok()?.parse().ok()
}
