//! Jobs without an end, rebuilt from their rows after a stop.
//!
//! What was proven or attested for the moment is gone; what a charge needs is
//! counted from the rows, and time of which nobody knows counts as on.

use core::time::Duration;

use crate::input::Attestation;
use crate::row::{Event, Recorded, Row};
use crate::stamp::Wall;
use crate::text::Text;
use crate::view::JobState;

use super::discharge::PRESSED;
use super::job::Job;
use super::{Now, Out, start};

/// The jobs of these rows that have no end, in the order they began. One whose
/// first row does not read is not dropped silently: a row says so.
pub(super) fn jobs(rows: &[Recorded], now: &Now<'_>, out: &mut Out) -> Vec<Job> {
    let mut jobs: Vec<(Job, Charged)> = Vec::new();
    let mut unread: Vec<(u64, &Row, serde_json::Error)> = Vec::new();
    for Recorded { seq, row, .. } in rows {
        if row.event == Event::JobStart {
            match start::from_row(row) {
                Ok(job) => jobs.push((job, Charged::default())),
                Err(why) => unread.push((*seq, row, why)),
            }
            continue;
        }
        if row.event == Event::JobEnd {
            jobs.retain(|(job, _)| job.name != row.job);
            unread.retain(|(_, start, _)| start.job != row.job);
            continue;
        }
        if let Some((job, charged)) = jobs.iter_mut().find(|(job, _)| job.name == row.job) {
            job.apply(*seq, row);
            charged.row(*seq, row);
            words(job, *seq, row);
        }
    }
    for (seq, start, why) in unread {
        let mut row = Row::new(Event::Gap, now.wall);
        (row.of_seq, row.bench) = (Some(seq), start.bench.clone());
        (row.job, row.asset) = (start.job.clone(), start.asset.clone());
        row.reason = format!(
            "job {} has no end and cannot be gone on with: row {seq} should hold its plan as JSON in note, found {why}; its winding may be charged: short it to ground, then begin a new job",
            start.job
        );
        out.row(row);
    }
    jobs.into_iter()
        .map(|(mut job, charged)| {
            job.state = JobState::Interrupted;
            job.set_aside();
            charged.leave(&mut job, now);
            job.refresh(now);
            job
        })
        .collect()
}

/// A person's word can be withdrawn after a stop too.
fn words(job: &mut Job, seq: u64, row: &Row) {
    let word = row.reason.split([':', ';']).next().unwrap_or_default();
    match (row.event, Attestation::from_word(word)) {
        (Event::Attested, Some(what)) => {
            let about = Text::clean(&row.meter);
            job.live.words.insert(seq, (what, about));
        }
        (Event::Withdrawn, _) => _ = row.of_seq.and_then(|of| job.live.words.remove(&of)),
        _ => {}
    }
}

/// What the rows of a job say about the charge in its winding.
#[derive(Debug, Default)]
struct Charged {
    /// Time on that is known, in milliseconds.
    known: u64,
    /// Since when it may be on without a word that it is off.
    since: Option<Wall>,
    /// When a short was confirmed.
    shorted: Option<Wall>,
    /// The rows that say a short, and those that say off.
    said: (Vec<u64>, Vec<u64>),
    /// When the last row was written: the program ran until then at least.
    last: Wall,
}

impl Charged {
    fn row(&mut self, seq: u64, row: &Row) {
        self.last = row.recorded_at;
        let insulation = row.test == "insulation";
        let held = row
            .elapsed_s
            .map_or(0, |s| (s.to_f64() * 1000.0).max(0.0) as u64);
        match row.event {
            Event::Attested if row.reason.starts_with("stand_clear") => {
                self.since.get_or_insert(row.recorded_at);
            }
            Event::Attested if row.reason.starts_with("voltage_on") => {
                self.since.get_or_insert(row.recorded_at);
                self.shorted = None;
            }
            // The row says how long it was on in all.
            Event::Attested if row.reason.starts_with("voltage_off") => {
                (self.known, self.since) = (held, None);
                self.said.1.push(seq);
            }
            Event::Attested if row.reason.starts_with("shorted_to_ground") => {
                (self.known, self.since) = (held, None);
                self.shorted = Some(row.recorded_at);
                self.said.0.push(seq);
            }
            Event::Note if row.reason.starts_with(PRESSED) => {
                self.known = self.known.saturating_add(held);
                self.since.get_or_insert(row.recorded_at);
                self.shorted = None;
            }
            // A word that was taken back.
            Event::Withdrawn if row.of_seq.is_some_and(|of| self.said.0.contains(&of)) => {
                self.shorted = None;
            }
            Event::Withdrawn if row.of_seq.is_some_and(|of| self.said.1.contains(&of)) => {
                self.since.get_or_insert(row.recorded_at);
                self.shorted = None;
            }
            Event::Value | Event::OverRange | Event::Aborted if insulation => {
                self.shorted = None;
                if self.since.is_none() && held == 0 {
                    self.since = Some(row.recorded_at);
                } else if self.since.is_none() {
                    self.known = self.known.saturating_add(held);
                }
            }
            _ => {}
        }
    }

    /// Leaves the charge with the job.
    fn leave(&self, job: &mut Job, now: &Now<'_>) {
        let known = Duration::from_millis(self.known);
        let charge = &mut job.live.charge;
        if let Some(since) = self.since {
            let away = u64::try_from(now.wall.0.saturating_sub(since.0)).unwrap_or(0);
            charge.unknown(now.at, known.saturating_add(Duration::from_nanos(away)));
            return;
        }
        // A countdown that ran out while rows were still written is over; any other starts over.
        let over = self
            .shorted
            .is_some_and(|at| at.plus(known.saturating_mul(4)) <= self.last);
        if over {
            charge.discharged(known);
        } else {
            charge.known(known);
        }
    }
}
