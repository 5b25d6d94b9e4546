//! Verdicts that were come to again, as rows of their own: through the log's
//! writer, under its lock, beside the old rows, which stay.
//!
//! Such a row names no capture in its columns: those name the input that made
//! a row, and this one was made by a person's word. Which input the verdict
//! rests on stands in the note.

use serde_json::json;

use super::again::Turned;
use super::kept::{Found, Kept};
use crate::engine::REVISION;
use crate::row::{Event, Row};
use crate::stamp::Wall;

/// What was judged by, and who says why.
pub(super) struct By<'a> {
    /// The limits, in words.
    pub(super) limits: &'a str,
    /// The same for a machine.
    pub(super) named: serde_json::Value,
    pub(super) tester: &'a str,
    pub(super) reason: &'a str,
    pub(super) at: Wall,
}

/// The row that says a verdict; none: there is nothing to say, or its job goes
/// on, and a job that goes on is judged by its own limits.
pub(super) fn row(turned: &Turned, kept: &Kept, by: &By<'_>) -> Option<Row> {
    let before = &kept.judged.get(&turned.seq)?.row;
    let after = turned.row.as_ref()?;
    if !kept.ended.contains(&before.job) {
        return None;
    }
    let now = (after.verdict, after.finding);
    let mut row = Row::new(Event::Judged, by.at);
    row.of_seq = Some(turned.seq);
    row.tester = by.tester.to_owned();
    for (cell, from) in [
        (&mut row.bench, &before.bench),
        (&mut row.meter, &before.meter),
        (&mut row.protocol, &before.protocol),
        (&mut row.job, &before.job),
        (&mut row.asset, &before.asset),
        (&mut row.motor, &before.motor),
        (&mut row.test, &before.test),
        (&mut row.point, &before.point),
        (&mut row.limits_from, &after.limits_from),
    ] {
        cell.clone_from(from);
    }
    if row.limits_from.is_empty() {
        by.limits.clone_into(&mut row.limits_from);
    }
    row.leads_ohms = after.leads_ohms;
    row.cable_ohms = after.cable_ohms;
    row.judged_ohms = after.judged_ohms;
    row.lower_ohms = after.lower_ohms;
    row.upper_ohms = after.upper_ohms;
    row.acceptance = after.acceptance;
    row.uncertainty_ohms = after.uncertainty_ohms;
    (row.verdict, row.finding) = now;
    row.reason = format!(
        "re-judged by {}: {} → {}; {}; {}",
        by.limits,
        said(turned.before),
        said(now),
        by.reason,
        after.reason
    );
    let note = json!({ "rejudged": {
        "by": by.named, "engine": REVISION,
        "capture": after.capture, "capture_offset": after.capture_offset,
    }});
    row.note = note.to_string();
    Some(row)
}

/// A verdict and its finding, as people read them.
pub(super) fn said((verdict, finding): Found) -> String {
    match (verdict, finding) {
        (None, _) => String::from("nothing"),
        (Some(verdict), None) => verdict.word().to_owned(),
        (Some(verdict), Some(finding)) => format!("{} {}", verdict.word(), finding.word()),
    }
}
