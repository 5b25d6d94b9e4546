//! Values of the rows that are asked about, by group, in the order of the log.

use core::sync::atomic::AtomicU64;
use std::collections::BTreeMap;
use std::io;

use super::filter::Filter;
use super::groups::Groups;
use super::imported;
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
    /// When it was recorded; when it was read, of an imported one.
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

/// What becomes of imported values, which nobody saw settle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Imports {
    /// They are left out.
    Out,
    /// They stand among the others, at the time that they tell.
    In,
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
    back: BTreeMap<u64, u32>,
    imports: Imports,
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
    imports: Imports,
) -> io::Result<(ByGroup, Seen)> {
    let last_column = by.iter().copied().max().unwrap_or_default();
    let make = || Values {
        filter,
        stages,
        by,
        last_column: last_column.max(filter.last_column()).max(column::FINDING),
        key: Vec::new(),
        groups: Groups::default(),
        back: BTreeMap::new(),
        imports,
    };
    let (mut gathered, seen) = scan.gather(done, make)?;
    let mut groups = gathered.groups.sorted();
    for (_, values) in &mut groups {
        match imports {
            Imports::Out => values.sort_unstable_by_key(|value| value.seq),
            Imports::In => values.sort_unstable_by_key(|value| (value.at, value.seq)),
        }
        // What was taken back once counts once less: it may have been given again.
        values.retain(|value| {
            let back = gathered
                .back
                .get_mut(&value.seq)
                .filter(|times| **times > 0);
            back.map(|times| *times -= 1).is_none()
        });
    }
    groups.retain(|(_, values)| !values.is_empty());
    Ok((groups, seen))
}

impl Values<'_> {
    /// A value that is asked about; its group goes to `self.key`. Leads are a
    /// meter's and no motor's.
    fn value(&mut self, line: &Line<'_>) -> Option<Value> {
        if line.cell(column::TEST) == b"leads" && !self.filter.names(column::TEST) {
            return None;
        }
        let value_ohms = number(line, column::VALUE_OHMS)?;
        let read_at = imported(line);
        if read_at.is_some() && self.imports == Imports::Out {
            return None;
        }
        let at = read_at.unwrap_or_else(|| line.cell(column::RECORDED_AT));
        if !self.filter.hold_at(line, at) || !self.stages.hold(line) {
            return None;
        }
        self.key.clear();
        for (at, column) in self.by.iter().enumerate() {
            if at > 0 {
                self.key.push(b',');
            }
            self.key.extend(line.cell(*column));
        }
        Some(Value {
            seq: line.seq,
            job: job(line.cell(column::JOB)),
            at: core::str::from_utf8(at).ok().and_then(Wall::parse)?,
            judged_ohms: number(line, column::JUDGED_OHMS).unwrap_or(value_ohms),
            value_ohms,
            celsius: number(line, column::TEMPERATURE_C),
            limits: (
                number(line, column::LOWER_OHMS),
                number(line, column::UPPER_OHMS),
            ),
        })
    }
}

impl Gather for Values<'_> {
    fn last_column(&self) -> usize {
        self.last_column
    }

    fn wants(&self, event: &[u8]) -> bool {
        event == b"value"
    }

    fn row(&mut self, line: &Line<'_>) {
        if let Some(value) = self.value(line) {
            self.groups.of(&self.key, Vec::new).push(value);
        }
    }

    fn take_back(&mut self, line: &Line<'_>) {
        if self.value(line).is_some() {
            *self.back.entry(line.seq).or_default() += 1;
        }
    }

    fn merge(&mut self, other: Self) {
        let groups = &mut self.groups;
        other
            .groups
            .drain(|key, values| groups.of(key, Vec::new).extend(values));
        for (seq, times) in other.back {
            *self.back.entry(seq).or_default() += times;
        }
    }
}

/// A plain decimal of the log; none: the cell is empty.
pub(super) fn number(line: &Line<'_>, column: usize) -> Option<f64> {
    core::str::from_utf8(line.cell(column)).ok()?.parse().ok()
}
