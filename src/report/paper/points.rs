//! Where each point of a job stands: its last value that counts, with the last
//! verdict on it.

use super::Job;
use crate::report::later::taken;
use crate::report::{brief, ohms};
use crate::row::{Event, Finding, Row, Verdict};

/// A point that was measured or judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Stands {
    /// Its test.
    pub(super) test: String,
    /// Its name in it.
    pub(super) point: String,
    /// The meter, where each has its own value.
    meter: String,
    /// What was judged, else what was shown; empty for what has no value of its own.
    pub(super) value: String,
    /// The verdict.
    pub(super) verdict: Option<Verdict>,
    /// Why.
    pub(super) finding: Option<Finding>,
}

impl Stands {
    /// Its name in words.
    pub(super) fn place(&self) -> String {
        let place = place(&self.test, &self.point);
        match self.meter.as_str() {
            "" => place,
            meter => format!("{place} ({meter})"),
        }
    }

    /// Whether it says something of the motor, and not of the leads.
    pub(super) fn is_of_motor(&self) -> bool {
        !matches!(self.test.as_str(), "leads" | "ground_path" | "dead") && self.point != "contact"
    }

    /// Verdict and finding in words.
    pub(super) fn judged(&self) -> String {
        judged(self.verdict, self.finding)
    }
}

/// A test and a point of it in words, not one of them twice.
pub(super) fn place(test: &str, point: &str) -> String {
    let words = if test.ends_with(point) {
        test.to_owned()
    } else {
        format!("{test} {point}")
    };
    words.trim().replace('_', " ")
}

/// A verdict and its finding in words: what is no pass in capitals, since there
/// is no colour on paper.
pub(super) fn judged(verdict: Option<Verdict>, finding: Option<Finding>) -> String {
    let word = match verdict {
        Some(verdict @ (Verdict::Fail | Verdict::Undecided)) => {
            verdict.word().replace('_', " ").to_uppercase()
        }
        Some(verdict) => verdict.word().replace('_', " "),
        None => String::from("no verdict"),
    };
    match finding {
        Some(finding) => format!("{word}, {}", finding.word().replace('_', " ")),
        None => word,
    }
}

/// The points of a job, in the order they were first measured.
pub(super) fn points(job: &Job) -> Vec<Stands> {
    let later = job.later();
    let mut found: Vec<Stands> = Vec::new();
    for recorded in job.rows.iter().filter(|r| !later.back.contains_key(&r.seq)) {
        let row = &recorded.row;
        let again = later.again.contains_key(&recorded.seq);
        // A verdict on a row that was taken back falls with it.
        let of_back = row.of_seq.is_some_and(|of| later.back.contains_key(&of));
        let judges = row.event == Event::Judged && !of_back;
        if !(judges || taken(row) || row.event == Event::Aborted) || again {
            continue;
        }
        let meter = if row.test == "leads" { &row.meter } else { "" };
        let same = |s: &&mut Stands| {
            s.test == row.test && s.point == row.point && (s.meter == *meter || judges)
        };
        let new = Stands {
            test: row.test.clone(),
            point: row.point.clone(),
            meter: String::from(meter),
            value: value(row),
            verdict: row.verdict,
            finding: row.finding,
        };
        match found.iter_mut().find(same) {
            // What broke off does not undo what was measured before.
            Some(_) if row.event == Event::Aborted => {}
            Some(known) => {
                let value = if judges && new.value.is_empty() {
                    core::mem::take(&mut known.value)
                } else {
                    new.value.clone()
                };
                let meter = core::mem::take(&mut known.meter);
                *known = Stands {
                    value,
                    meter,
                    ..new
                };
            }
            None => found.push(new),
        }
    }
    found
}

/// What a row says was measured: judged ohms, else as it was shown.
fn value(row: &Row) -> String {
    match (row.event, row.judged_ohms) {
        (Event::Aborted, _) => String::from("broke off"),
        // What several values come to together is no value of its own.
        (Event::Judged, _) if row.point == "set" => String::new(),
        (_, Some(judged)) => ohms(brief(judged, 4)),
        _ => row.shown.clone(),
    }
}
