//! Is everything whole: the log, and the captures that its rows name.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Serialize;

use crate::capture::names::{OnDisk, digest};
use crate::capture::pcapng::{Fault, Pcapng};
use crate::disk::Disk;
use crate::log::LogError;
use crate::log::verify::{self, Expect, LogReport};
use crate::row::{Event, Recorded};

/// What was found in log and captures.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Report {
    /// Whether everything is as it was written.
    pub ok: bool,
    /// The log.
    pub log: LogReport,
    /// Captures looked at.
    pub captures: usize,
    /// What is wrong with captures.
    pub failures: Vec<String>,
    /// What is worth knowing and not wrong.
    pub remarks: Vec<String>,
}

/// What rows say of a capture.
#[derive(Debug, Default)]
struct Named {
    /// `seq` and ordinal of each row that names an input in it, in order.
    rows: Vec<(u64, u64)>,
    /// The row that says its digest, and the digest.
    ended: Option<(u64, String)>,
    /// The row that says that it was deleted.
    expired: bool,
    /// Its last row says that the run ended in order.
    run_ended: bool,
    /// What follows its last row is a new run, a row without a capture, or nothing.
    broke_off: bool,
}

/// What is in a capture file.
struct Content {
    inputs: u64,
    torn: Option<u64>,
}

/// Checks a data folder. `expect` is a `SEQ:CHAIN` kept elsewhere.
///
/// # Errors
/// The disk refuses.
pub fn verify<D: Disk>(disk: &D, data: &Path, expect: Option<Expect>) -> Result<Report, LogError> {
    let mut named: BTreeMap<String, Named> = BTreeMap::new();
    let mut before: Option<String> = None;
    let log = verify::verify(disk, &data.join("log"), expect, &mut |recorded| {
        follow(recorded, &mut before, &mut named);
    })?;
    let mut report = Report {
        ok: false,
        log,
        captures: 0,
        failures: Vec::new(),
        remarks: Vec::new(),
    };
    // Behind a bad row the log says nothing that can be relied on.
    if report.log.first_bad.is_none() {
        if let Some(last) = before.and_then(|name| named.get_mut(&name)) {
            last.broke_off = true;
        }
        for (name, named) in &named {
            capture(disk, data, name, named, &mut report);
        }
    }
    report.ok = report.log.first_bad.is_none()
        && report.log.failures.is_empty()
        && report.failures.is_empty();
    Ok(report)
}

/// Takes note of what a row says of captures.
fn follow(recorded: &Recorded, before: &mut Option<String>, named: &mut BTreeMap<String, Named>) {
    let row = &recorded.row;
    match row.event {
        Event::CaptureEnd => {
            let of = named.entry(row.reason.clone()).or_default();
            of.ended = Some((recorded.seq, row.note.clone()));
        }
        Event::Expired => {
            // The reason is `NAME: why`.
            if let Some((name, _)) = row.reason.split_once(": ") {
                named.entry(name.to_owned()).or_default().expired = true;
            }
        }
        _ => {}
    }
    let breaks_off = row.event == Event::RunStart || row.capture.is_empty();
    let last = before.take_if(|_| breaks_off);
    if let Some(last) = last.and_then(|name| named.get_mut(&name)) {
        last.broke_off = true;
    }
    if row.capture.is_empty() {
        return;
    }
    let this = named.entry(row.capture.clone()).or_default();
    this.rows
        .push((recorded.seq, row.capture_offset.unwrap_or_default()));
    this.broke_off = false;
    this.run_ended = row.event == Event::RunEnd;
    *before = Some(row.capture.clone());
}

/// Checks one capture against what the rows say of it.
fn capture<D: Disk>(disk: &D, data: &Path, name: &str, named: &Named, report: &mut Report) {
    let path = data.join("captures").join(name);
    let first = named
        .rows
        .first()
        .map_or(String::new(), |(seq, _)| format!(" (first by row {seq})"));
    if disk.len(&path).is_err() {
        if !named.expired {
            report.failures.push(format!(
                "captures/{name} is missing; rows name it{first} and none says that it was deleted"
            ));
        }
        return;
    }
    report.captures += 1;
    let content = match read(disk, &path) {
        Ok(content) => content,
        Err(fault) => {
            report.failures.push(format!("captures/{name}: {fault}"));
            return;
        }
    };
    if let Some((seq, expected)) = &named.ended {
        match digest(disk, &path) {
            Ok(found) if found == *expected => {}
            Ok(found) => report.failures.push(format!(
                "captures/{name} was changed after it was finished: row {seq} says SHA-256 {expected}, found {found}"
            )),
            Err(e) => report.failures.push(format!("captures/{name}: cannot be read: {e}")),
        }
    }
    if let Some(end) = content.torn {
        report.remarks.push(format!(
            "captures/{name}: torn by a crash behind byte {end}"
        ));
    }
    lost_evidence(name, named, content.inputs, report);
}

/// Rows whose input lies beyond the capture's end.
fn lost_evidence(name: &str, named: &Named, inputs: u64, report: &mut Report) {
    let beyond = |(_, ordinal): &(u64, u64)| *ordinal >= inputs;
    let Some(first) = named.rows.iter().position(beyond) else {
        return;
    };
    let lost = &named.rows[first..];
    let rows = match lost {
        [(seq, _)] => format!("row {seq}"),
        _ => format!("rows {} to {}", lost[0].0, lost[lost.len() - 1].0),
    };
    if lost.iter().all(beyond) && named.broke_off && !named.run_ended {
        report.remarks.push(format!(
            "captures/{name}: evidence lost in a crash: {rows} came from inputs that did not reach the disk"
        ));
    } else {
        report.failures.push(format!(
            "captures/{name} ends after {inputs} inputs; {rows} came from later ones, and no crash explains it"
        ));
    }
}

fn read<D: Disk>(disk: &D, path: &Path) -> Result<Content, Fault> {
    let mut reader = Pcapng::new(OnDisk { disk, path, at: 0 });
    let mut inputs = 0;
    while reader.next_input()?.is_some() {
        inputs += 1;
    }
    Ok(Content {
        inputs,
        torn: reader.torn(),
    })
}

/// A number of things, in words.
fn counted(count: impl core::fmt::Display, what: &str) -> String {
    let count = count.to_string();
    let s = if count == "1" { "" } else { "s" };
    format!("{count} {what}{s}")
}

impl Report {
    /// What a person reads, a line each.
    pub fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if let Some(bad) = &self.log.first_bad {
            lines.push(format!(
                "FAILED row {}: {} [{}]",
                bad.seq, bad.why, bad.file
            ));
        }
        let failures = self.log.failures.iter().chain(&self.failures);
        lines.extend(failures.map(|failure| format!("FAILED {failure}")));
        let remarks = self.log.remarks.iter().chain(&self.remarks);
        lines.extend(remarks.map(|remark| format!("note: {remark}")));
        match (&self.log.last, self.ok) {
            (Some(last), true) => lines.push(format!(
                "ok: {} and {} as written; the last row is {last}",
                counted(self.log.rows, "row"),
                counted(self.captures, "capture")
            )),
            (None, true) => lines.push(String::from("ok: the log has no rows yet")),
            (_, false) if self.log.first_bad.is_some() => lines.push(format!(
                "not ok: {} before the first fault",
                counted(self.log.rows, "whole row")
            )),
            (_, false) => lines.push(format!(
                "not ok: {} in one chain, but not what is named above",
                counted(self.log.rows, "row")
            )),
        }
        lines
    }
}
