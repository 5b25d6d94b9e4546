//! How many verdicts of each kind, by group.

use core::ops::AddAssign;

use super::filter::Filter;
use super::groups::Groups;
use super::stages::Stages;
use crate::log::scan::{Gather, Line, column};

/// What rows are grouped by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// A cell.
    Column(usize),
    /// The beginning of the date: 4 bytes a year, 7 a month, 10 a day.
    Date(usize),
    /// The stage that the job began with.
    Stage,
}

/// Verdicts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[expect(missing_docs, reason = "each field counts the verdict of its name")]
pub struct Tally {
    pub pass: u64,
    pub fail: u64,
    pub undecided: u64,
    pub not_judged: u64,
}

impl Tally {
    /// Those that were judged.
    pub const fn judged(&self) -> u64 {
        self.pass + self.fail + self.undecided
    }

    fn of(&mut self, verdict: &[u8]) -> Option<&mut u64> {
        Some(match verdict {
            b"pass" => &mut self.pass,
            b"fail" => &mut self.fail,
            b"undecided" => &mut self.undecided,
            b"not_judged" => &mut self.not_judged,
            _ => return None,
        })
    }
}

impl AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.pass += other.pass;
        self.fail += other.fail;
        self.undecided += other.undecided;
        self.not_judged += other.not_judged;
    }
}

/// Counts verdicts: of each row the last one given, in the row's own month.
#[derive(Clone, Debug)]
pub struct Count<'q> {
    filter: &'q Filter,
    by: &'q [By],
    stages: &'q Stages,
    last_column: usize,
    key: Vec<u8>,
    groups: Groups<Tally>,
}

impl<'q> Count<'q> {
    /// Of the rows that `filter` lets through, by `by`, in this order.
    pub fn new(filter: &'q Filter, by: &'q [By], stages: &'q Stages) -> Self {
        let of = |by: &By| match by {
            By::Column(column) => *column,
            By::Date(_) | By::Stage => column::JOB,
        };
        let by_last = by.iter().map(of).max().unwrap_or_default();
        Self {
            filter,
            by,
            stages,
            last_column: filter.last_column().max(by_last).max(column::FINDING),
            key: Vec::new(),
            groups: Groups::default(),
        }
    }

    /// Each group's cells, as they stand in the file with commas between, and its verdicts.
    pub fn sorted(self) -> Vec<(Vec<u8>, Tally)> {
        let counted = |(_, tally): &(_, Tally)| *tally != Tally::default();
        self.groups.sorted().into_iter().filter(counted).collect()
    }

    /// The row's group and which of its verdicts it adds to.
    fn place(&mut self, line: &Line<'_>) -> Option<&mut u64> {
        let verdict = line.cell(column::VERDICT);
        if line.cell(column::VERDICT).is_empty()
            || !self.filter.holds(line)
            || !self.stages.hold(line)
        {
            return None;
        }
        self.key.clear();
        for (at, by) in self.by.iter().enumerate() {
            if at > 0 {
                self.key.push(b',');
            }
            match by {
                By::Column(column) => self.key.extend(line.cell(*column)),
                By::Date(length) => {
                    let date = line.cell(column::RECORDED_AT);
                    self.key.extend(&date[..date.len().min(*length)]);
                }
                By::Stage => self.key.extend(self.stages.of(line).as_bytes()),
            }
        }
        self.groups.of(&self.key, Tally::default).of(verdict)
    }
}

/// Events that a verdict may come with.
pub(super) fn judges(event: &[u8]) -> bool {
    matches!(
        event,
        b"value" | b"open" | b"over_range" | b"aborted" | b"judged"
    )
}

impl Gather for Count<'_> {
    fn last_column(&self) -> usize {
        self.last_column
    }

    fn wants(&self, event: &[u8]) -> bool {
        judges(event)
    }

    fn row(&mut self, line: &Line<'_>) {
        if let Some(count) = self.place(line) {
            *count += 1;
        }
    }

    fn take_back(&mut self, line: &Line<'_>) {
        if let Some(count) = self.place(line) {
            *count -= 1;
        }
    }

    fn merge(&mut self, other: Self) {
        other
            .groups
            .drain(|key, tally| *self.groups.of(key, Tally::default) += tally);
    }
}
