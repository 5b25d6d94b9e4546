//! What later rows of a job say of earlier ones: taken back, measured again,
//! judged again.

use std::collections::BTreeMap;

use crate::row::{Event, Recorded, Row, Verdict};

/// Earlier rows by their numbers, each with what came of it.
#[derive(Clone, Debug, Default)]
pub struct Later<'a> {
    /// The row that took a row back.
    pub back: BTreeMap<u64, &'a Recorded>,
    /// The row that measured the same place again.
    pub again: BTreeMap<u64, u64>,
    /// The row that judged a row anew.
    pub judged: BTreeMap<u64, u64>,
}

impl<'a> Later<'a> {
    /// From the rows of one job, in order.
    pub fn of(rows: &'a [Recorded]) -> Self {
        let mut later = Self::default();
        let mut last: BTreeMap<(&str, &str, &str), u64> = BTreeMap::new();
        for recorded in rows {
            let (seq, row) = (recorded.seq, &recorded.row);
            match (row.event, row.of_seq) {
                (Event::Withdrawn, Some(of)) => _ = later.back.insert(of, recorded),
                (Event::Judged, Some(of)) if same_place(rows, of, row) => {
                    _ = later.judged.insert(of, seq);
                }
                _ if taken(row) => {
                    let place = (row.test.as_str(), row.point.as_str(), row.meter.as_str());
                    if let Some(before) = last.insert(place, seq) {
                        later.again.insert(before, seq);
                    }
                }
                _ => {}
            }
        }
        let Self { back, judged, .. } = &mut later;
        judged.retain(|_, by| !back.contains_key(by));
        later
    }

    /// Whether a row still counts: not taken back, and not measured again.
    pub fn counts(&self, seq: u64) -> bool {
        !self.back.contains_key(&seq) && !self.again.contains_key(&seq)
    }

    /// Rows that were judged again after the row `end` and do not pass: what
    /// was concluded there does not stand.
    pub fn fallen_after(&self, rows: &[Recorded], end: u64) -> Vec<u64> {
        let falls = |by: u64| {
            let by = rows.iter().find(|r| r.seq == by);
            by.is_none_or(|by| by.row.verdict != Some(Verdict::Pass))
        };
        let again = self
            .judged
            .iter()
            .filter(|(_, by)| **by > end && falls(**by));
        again.map(|(of, _)| *of).collect()
    }

    /// Rows that were taken back after the row `end`.
    pub fn back_after(&self, end: u64) -> Vec<u64> {
        let back = self.back.iter().filter(|(_, by)| by.seq > end);
        back.map(|(of, _)| *of).collect()
    }
}

/// Whether the row `of` is of the place of `row`: then it is judged anew, else
/// it only completes the set that is judged.
pub fn same_place(rows: &[Recorded], of: u64, row: &Row) -> bool {
    let place = |other: &Row| other.test == row.test && other.point == row.point;
    rows.iter().any(|r| r.seq == of && place(&r.row))
}

/// Whether a row is a value, or none where one was looked for.
pub fn taken(row: &Row) -> bool {
    matches!(row.event, Event::Value | Event::Open | Event::OverRange)
}
