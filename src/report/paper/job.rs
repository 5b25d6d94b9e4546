//! A job as paper knows it: its rows, its traces, the meters that measured.

use std::collections::BTreeMap;
use std::time::Duration;

use serde_json::Value;

use crate::meter::Meter;
use crate::quantity::Decimal;
use crate::report::curve::Traced;
use crate::report::later::Later;
use crate::report::{concluded, measures};
use crate::row::{Event, JobOutcome, Recorded, Row};
use crate::stamp::Wall;

/// What is printed of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Its name.
    pub name: String,
    /// Its rows, and those that take one back or review it; at least one.
    pub rows: Vec<Recorded>,
    /// The readings that values came from, by the numbers of their rows.
    pub traces: BTreeMap<u64, Traced>,
    /// Meters as they were set when it began.
    pub meters: Vec<Meter>,
    /// The rows of each meter's last check on known resistors before it ended.
    pub checks: Vec<Recorded>,
    /// Why the log does not vouch for its rows; none: it holds up to them.
    pub unsound: Option<String>,
}

impl Job {
    pub(super) fn asset(&self) -> &str {
        self.rows.first().map_or("", |r| r.row.asset.as_str())
    }

    pub(super) fn motor(&self) -> &str {
        self.rows.first().map_or("", |r| r.row.motor.as_str())
    }

    pub(super) fn tester(&self) -> &str {
        self.rows.first().map_or("", |r| r.row.tester.as_str())
    }

    pub(super) fn begun(&self) -> Wall {
        self.rows.first().map_or(Wall(0), |r| r.row.recorded_at)
    }

    pub(super) fn start(&self) -> Option<&Row> {
        let start = self.rows.iter().find(|r| r.row.event == Event::JobStart);
        start.map(|r| &r.row)
    }

    pub(super) fn end(&self) -> Option<&Recorded> {
        let mut back = self.rows.iter().rev();
        back.find(|r| r.row.event == Event::JobEnd)
    }

    pub(super) fn later(&self) -> Later<'_> {
        Later::of(&self.rows)
    }

    /// The stage of the motor's way that it belongs to.
    pub(super) fn stage(&self) -> String {
        let plan = self.start().map(|start| start.note.as_str());
        let plan = plan.and_then(|note| serde_json::from_str::<Value>(note).ok());
        let stage = plan.and_then(|plan| plan["stage"].as_str().map(|s| s.replace('_', " ")));
        stage.unwrap_or_else(|| String::from("stage not given"))
    }

    /// What it came to; none: it has no end that says so.
    pub(super) fn outcome(&self) -> Option<JobOutcome> {
        let (word, _) = self.end()?.row.reason.split_once(':')?;
        JobOutcome::from_word(word)
    }

    /// Rows that were taken back after it had ended.
    pub(super) fn back_after(&self) -> Vec<u64> {
        let end = self.end().map(|end| self.later().back_after(end.seq));
        end.unwrap_or_default()
    }

    /// Rows that were judged again after it had ended, and do not pass.
    pub(super) fn fallen_after(&self) -> Vec<u64> {
        let end = self
            .end()
            .map(|end| self.later().fallen_after(&self.rows, end.seq));
        end.unwrap_or_default()
    }

    /// Why what it came to does not stand any more.
    pub(super) fn overtaken(&self) -> Option<String> {
        let (back, fallen) = (self.back_after(), self.fallen_after());
        if !back.is_empty() {
            return Some(format!(
                "{} withdrawn after the job had ended, measure again",
                rows(&back)
            ));
        }
        (!fallen.is_empty()).then(|| {
            format!(
                "{} judged again after the job had ended, and not passed",
                rows(&fallen)
            )
        })
    }

    /// What it came to, in a line.
    pub(super) fn came(&self) -> String {
        match (self.outcome(), self.end()) {
            (Some(JobOutcome::NoFaultFound), _) => String::from("no fault found by these tests"),
            (Some(outcome), _) => outcome.word().replace('_', " "),
            (None, Some(_)) => String::from("its end does not say what it came to"),
            (None, None) => String::from("not ended, nothing is concluded"),
        }
    }

    /// Why its motor must not be energized on account of these rows; none only
    /// for a whole job that found no fault.
    pub(super) fn warning(&self) -> Option<String> {
        if let Some(why) = &self.unsound {
            return Some(format!("DO NOT ENERGIZE: {why}"));
        }
        if let Some(why) = self.overtaken() {
            return Some(format!("DO NOT ENERGIZE: {why}"));
        }
        let ended = self.end().map(|end| concluded(&end.row));
        let own = ended
            .into_iter()
            .flatten()
            .find(|said| said.words.starts_with("DO NOT ENERGIZE"));
        match (own, self.outcome()) {
            (Some(own), _) => Some(own.words.replace('_', " ")),
            (None, Some(JobOutcome::NoFaultFound)) => None,
            (None, _) => Some(format!("DO NOT ENERGIZE: {}", self.came())),
        }
    }

    /// Everything that must not be missed.
    pub(super) fn loud(&self) -> Vec<String> {
        self.warning().into_iter().chain(self.short()).collect()
    }

    /// What a test voltage left behind: that nobody confirmed a short to
    /// ground, or until when it has to stay.
    pub(super) fn short(&self) -> Option<String> {
        let ended = self.end().map(|end| concluded(&end.row));
        let charged = ended
            .into_iter()
            .flatten()
            .find(|said| said.words.starts_with("NOT DISCHARGED"));
        if let Some(charged) = charged {
            return Some(charged.words);
        }
        if self.end().is_none() && self.is_charged() {
            return Some(String::from(
                "NOT DISCHARGED: the winding was under test voltage and no short to ground was confirmed",
            ));
        }
        let until = self.shorted_until()?;
        Some(format!(
            "Keep the winding shorted to ground until {}",
            // Not a moment too early.
            when(until.plus(Duration::from_millis(999)))
        ))
    }

    /// Whether the last word on a test voltage is that it was on.
    fn is_charged(&self) -> bool {
        let on = |r: &&Recorded| {
            let volts = r.row.test_voltage_v.map_or(0.0, Decimal::to_f64);
            volts >= 1.0 || is_shorted(&r.row)
        };
        let last = self.rows.iter().rev().find(on);
        last.is_some_and(|r| !is_shorted(&r.row))
    }

    /// Until when the winding is to stay shorted after a test voltage, by the
    /// last word of its rows.
    pub(super) fn shorted_until(&self) -> Option<Wall> {
        let later = self.later();
        let asked = |r: &Recorded| {
            let seconds = match r.row.event {
                Event::Attested => between(&r.row.reason, KEEP, " s"),
                Event::JobEnd => between(&r.row.reason, "keep the winding shorted for ", " s more"),
                _ => None,
            }?;
            Some(r.row.recorded_at.plus(Duration::from_secs(seconds)))
        };
        let rows = self.rows.iter().filter(|r| later.counts(r.seq));
        rows.filter_map(asked).max()
    }

    /// `SEQ:CHAIN` of its last row, which may be a review after its end; none: no
    /// row has a chain.
    pub(super) fn seal(&self) -> Option<String> {
        let last = self.rows.last()?;
        (!last.chain.is_empty()).then(|| format!("{}:{}", last.seq, last.chain))
    }

    /// The names of the meters that measured, in the order they began.
    pub(super) fn measured_by(&self) -> Vec<&str> {
        let mut names: Vec<&str> = Vec::new();
        for r in self.rows.iter().filter(|r| measures(&r.row)) {
            let meter = r.row.meter.as_str();
            if !meter.is_empty() && !names.contains(&meter) {
                names.push(meter);
            }
        }
        names
    }
}

/// Whether somebody confirmed a short to ground.
fn is_shorted(row: &Row) -> bool {
    row.event == Event::Attested && row.reason.contains(KEEP)
}

/// What a row that confirms a short to ground says behind that.
const KEEP: &str = "keep it shorted for ";

/// The whole number between two words.
fn between(text: &str, before: &str, after: &str) -> Option<u64> {
    let (_, rest) = text.rsplit_once(before)?;
    let (number, _) = rest.split_once(after)?;
    number.parse().ok()
}

/// `row 5`, `rows 5, 7`.
pub(super) fn rows(seqs: &[u64]) -> String {
    let numbers: Vec<String> = seqs.iter().map(u64::to_string).collect();
    let word = if seqs.len() == 1 { "row" } else { "rows" };
    format!("{word} {}", numbers.join(", "))
}

/// A moment to the second, in UTC.
pub(super) fn when(at: Wall) -> String {
    let text = at.rfc3339().replace('T', " ");
    format!("{} UTC", text.get(..19).unwrap_or_default())
}

/// A day, in UTC.
pub(super) fn day(at: Wall) -> String {
    at.rfc3339().get(..10).unwrap_or_default().to_owned()
}
