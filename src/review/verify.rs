//! Is everything whole: the log, and the captures that its rows name.

use std::collections::{BTreeMap, VecDeque};
use std::path::Path;
use std::sync::atomic::AtomicU64;

use serde::Serialize;
use serde_json::Value;

use crate::capture::names::{OnDisk, digest};
use crate::capture::pcapng::{Fault, Pcapng};
use crate::disk::Disk;
use crate::log::LogError;
use crate::log::verify::{self, Expect, LogReport, Told};
use crate::row::Event;

/// What was found in log and captures.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Report {
    /// Whether everything is as it was written.
    pub ok: bool,
    /// Which log it is.
    pub log_id: Option<String>,
    /// When its first row was recorded.
    pub from: Option<String>,
    /// When its last one was.
    pub to: Option<String>,
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
    /// The rows that name an input in it, in order.
    rows: Rows,
    /// The row that says its digest, and the digest.
    ended: Option<(u64, String)>,
    /// The row that says that it was deleted.
    expired: bool,
    /// Its last row says that the run ended in order.
    run_ended: bool,
    /// What follows its last row is a new run, a row without a capture, or nothing.
    broke_off: bool,
}

/// Rows that name inputs of one capture. A batch that a crash loses is small,
/// so only the newest rows are kept one by one, and of the others the largest ordinal.
#[derive(Debug, Default)]
struct Rows {
    first: Option<u64>,
    /// Row and ordinal of the one with the largest ordinal among those before the newest.
    largest: Option<(u64, u64)>,
    last: u64,
    newest: VecDeque<(u64, u64)>,
}

impl Rows {
    /// Rows kept one by one (own: more than the queue holds at once).
    const NEWEST: usize = 1 << 14;

    fn push(&mut self, seq: u64, ordinal: u64) {
        self.first = self.first.or(Some(seq));
        self.last = seq;
        if self.newest.len() == Self::NEWEST {
            self.older();
        }
        self.newest.push_back((seq, ordinal));
    }

    /// No crash can have lost inputs of these rows.
    fn settle(&mut self) {
        while !self.newest.is_empty() {
            self.older();
        }
        self.newest.shrink_to_fit();
    }

    fn older(&mut self) {
        let oldest = self.newest.pop_front();
        let more = |(_, ordinal): &(u64, u64)| self.largest.is_none_or(|(_, most)| *ordinal > most);
        self.largest = oldest.filter(more).or(self.largest);
    }

    /// The first and last of the rows from inputs that are not there, and
    /// whether all rows after the first are such.
    fn beyond(&self, inputs: u64) -> Option<(u64, u64, bool)> {
        let beyond = |(_, ordinal): &(u64, u64)| *ordinal >= inputs;
        if let Some((seq, _)) = self.largest.filter(beyond) {
            return Some((seq, self.last, false));
        }
        let first = self.newest.iter().position(beyond)?;
        let lost = || self.newest.iter().skip(first);
        Some((self.newest[first].0, self.last, lost().all(beyond)))
    }
}

/// What is in a capture file.
struct Content {
    inputs: u64,
    torn: Option<u64>,
}

/// Checks a data folder. `expect`: rows and chains kept elsewhere. `done`
/// counts the log's bytes for whoever shows progress.
///
/// # Errors
/// The disk refuses.
pub fn verify<D: Disk>(
    disk: &D,
    data: &Path,
    expect: &[Expect],
    done: &AtomicU64,
) -> Result<Report, LogError> {
    let mut followed = Followed::default();
    let log = verify::verify(disk, &data.join("log"), expect, done, &mut |told| {
        followed.row(told);
    })?;
    let mut report = Report {
        ok: false,
        log_id: followed.log_id,
        from: followed.from,
        to: followed.to,
        log,
        captures: 0,
        failures: Vec::new(),
        remarks: Vec::new(),
    };
    // Behind a bad row the log says nothing that can be relied on.
    if report.log.first_bad.is_none() {
        if let Some(last) = followed.named.get_mut(&followed.before) {
            last.broke_off = true;
        }
        for (name, named) in &followed.named {
            capture(disk, data, name, named, &mut report);
        }
    }
    report.ok = report.log.first_bad.is_none()
        && report.log.failures.is_empty()
        && report.failures.is_empty();
    Ok(report)
}

/// What rows say of captures and of the log itself.
#[derive(Debug, Default)]
struct Followed {
    named: BTreeMap<String, Named>,
    /// The capture that the row before named; empty: none.
    before: String,
    log_id: Option<String>,
    from: Option<String>,
    to: Option<String>,
}

impl Followed {
    /// Takes note of a row.
    fn row(&mut self, told: &Told<'_>) {
        self.date(told.line);
        let capture = core::str::from_utf8(told.capture).unwrap_or_default();
        if matches!(
            told.event,
            Event::CaptureEnd | Event::Expired | Event::RunStart
        ) {
            self.special(told);
        }
        if told.event == Event::RunStart || capture != self.before {
            let breaks_off = told.event == Event::RunStart || capture.is_empty();
            if let Some(last) = self.named.get_mut(&self.before) {
                last.broke_off |= breaks_off;
                if last.run_ended || !last.broke_off {
                    last.rows.settle();
                }
            }
            self.before.clear();
            self.before.push_str(capture);
            if !capture.is_empty() {
                self.named.entry(capture.to_owned()).or_default().broke_off = false;
            }
        }
        // Names of captures have nothing that is quoted, so the cell is the name.
        if let Some(this) = self.named.get_mut(&self.before) {
            this.rows.push(told.seq, told.offset.unwrap_or_default());
            this.run_ended = told.event == Event::RunEnd;
        }
    }

    fn special(&mut self, told: &Told<'_>) {
        let Ok(recorded) = told.recorded() else {
            return;
        };
        let row = recorded.row;
        match row.event {
            Event::CaptureEnd => {
                let of = self.named.entry(row.reason).or_default();
                of.ended = Some((told.seq, row.note));
            }
            Event::Expired => {
                // The reason is `NAME: why`.
                if let Some((name, _)) = row.reason.split_once(": ") {
                    self.named.entry(name.to_owned()).or_default().expired = true;
                }
            }
            _ => {
                let note: Option<Value> = serde_json::from_str(&row.note).ok();
                let id = note.and_then(|note| Some(note["log"].as_str()?.to_owned()));
                self.log_id = self.log_id.take().or(id);
            }
        }
    }

    /// When the first and the last row were recorded.
    fn date(&mut self, line: &[u8]) {
        let date = line.split(|b| *b == b',').nth(1).unwrap_or_default();
        let date = core::str::from_utf8(date).unwrap_or_default();
        match &mut self.to {
            Some(to) => {
                to.clear();
                to.push_str(date);
            }
            None => {
                self.from = Some(date.to_owned());
                self.to = Some(date.to_owned());
            }
        }
    }
}

/// Checks one capture against what the rows say of it.
fn capture<D: Disk>(disk: &D, data: &Path, name: &str, named: &Named, report: &mut Report) {
    let path = data.join("captures").join(name);
    let first = named
        .rows
        .first
        .map_or(String::new(), |seq| format!(" (first by row {seq})"));
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
    let Some((first, last, all)) = named.rows.beyond(inputs) else {
        return;
    };
    let rows = match first == last {
        true => format!("row {first}"),
        false => format!("rows {first} to {last}"),
    };
    if all && named.broke_off && !named.run_ended {
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
pub(crate) fn counted(count: impl core::fmt::Display, what: &str) -> String {
    let count = count.to_string();
    let s = if count == "1" { "" } else { "s" };
    format!("{count} {what}{s}")
}

impl Report {
    /// What was checked, and what that cannot show: for whoever relies on it.
    fn checked(&self) -> [String; 3] {
        let or = |words: &Option<String>| words.clone().unwrap_or_else(|| String::from("not told"));
        [
            format!(
                "checked: log {}, {}, rows 1 to {} recorded from {} to {}",
                or(&self.log_id),
                counted(self.log.files, "file"),
                self.log.rows,
                or(&self.from),
                or(&self.to)
            ),
            String::from(
                "checked: each row's chain, number, month and cells; each capture that rows name: there, whole, and of the SHA-256 that a later row keeps",
            ),
            String::from(
                "a chain does not show: that all of it was written anew, or rows cut off its end (keep SEQ:CHAIN elsewhere, then --expect shows it); who was at the bench, since names are typed; that the clock was right; that the motor was the one named",
            ),
        ]
    }

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
            (Some(last), true) => {
                lines.push(format!(
                    "ok: {} and {} as written; the last row is {last}",
                    counted(self.log.rows, "row"),
                    counted(self.captures, "capture")
                ));
                lines.extend(self.checked());
            }
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
