//! The committer: inputs to the capture, rows to the log, both synced, then acknowledged.
//!
//! Order of a batch: inputs are written, then rows, then both files are synced
//! at the same time, and only then are the rows given back. What a crash can
//! leave:
//! - inputs without their rows: the next run never counted those rows;
//! - rows without their inputs, when the log reached the disk and the capture
//!   did not: only in the last batch, which nobody was told of. `verify` calls
//!   it evidence lost in a crash. A batch with a `run_end` syncs its capture
//!   first, so behind an orderly end no evidence is ever missing.
//!
//! Inputs that made no row are written at once and synced with the next rows
//! or after a second: a crash of the machine may lose that second of them, a
//! crash of the program loses nothing that was written.

use core::time::Duration;

use crate::capture;
use crate::disk::Disk;
use crate::input::{Finished, Input};
use crate::log::{Log, LogError};
use crate::row::{Event, Recorded, Row};
use crate::stamp::Stamp;

#[cfg(test)]
mod tests;

/// Inputs without rows are synced after this.
const LAZY: Duration = Duration::from_secs(1);

/// The log and the capture of a run.
#[derive(Debug)]
pub struct Committer<D: Disk> {
    log: Log<D>,
    capture: Option<capture::Writer<D>>,
    /// When the capture was last synced, and whether it was written to since.
    synced: Stamp,
    unsynced: bool,
}

/// What became of a batch.
#[derive(Debug, Default)]
pub struct Committed {
    /// The rows, now on the disk.
    pub recorded: Vec<Recorded>,
    /// The capture failed in this batch and is written no more: feed
    /// `What::CaptureFailed` with these words.
    pub capture_failed: Option<String>,
}

impl<D: Disk> Committer<D> {
    /// A committer that goes on with an opened log; no capture yet.
    pub fn new(log: Log<D>) -> Self {
        Self {
            log,
            capture: None,
            synced: Stamp::ZERO,
            unsynced: false,
        }
    }

    /// The log: its `next_seq` and chain go into each `Begin`.
    pub fn log(&self) -> &Log<D> {
        &self.log
    }

    /// The capture, while it can be written.
    pub fn capture(&self) -> Option<&capture::Writer<D>> {
        self.capture.as_ref()
    }

    /// Goes on in this capture file: the next input committed must be its `Begin`.
    pub fn start_capture(&mut self, writer: capture::Writer<D>) {
        self.capture = Some(writer);
        self.unsynced = true;
    }

    /// Ends the capture file and says its digest, for the next `Begin`; `None`
    /// when there is none to end.
    ///
    /// # Errors
    /// The disk refuses: the file has no digest; go on with a new one.
    pub fn finish_capture(&mut self) -> std::io::Result<Option<Finished>> {
        self.unsynced = false;
        self.capture.take().map(capture::Writer::finish).transpose()
    }

    /// Puts a batch on the disk. The rows are drained and come back recorded.
    ///
    /// # Errors
    /// The log cannot be written: no row of this batch is recorded as far as
    /// anybody may be told, and every later call fails as well.
    pub fn commit(&mut self, inputs: &[Input], rows: &mut Vec<Row>) -> Result<Committed, LogError> {
        let mut capture_failed = self.write_capture(inputs);
        let now = inputs.last().map_or(self.synced, |input| input.at);
        // A `run_end` row says that nothing is missing: its capture is synced before it is written.
        let last = rows.iter().any(|row| row.event == Event::RunEnd);
        if let (true, Some(capture)) = (last, &self.capture) {
            capture_failed = capture
                .sync()
                .err()
                .map(|e| failure("sync", capture.name(), &e));
            self.settled(now, &capture_failed);
        }
        if self.capture.is_none() {
            for row in rows.iter_mut() {
                row.capture.clear();
                row.capture_offset = None;
            }
        }
        if rows.is_empty() {
            let due = self.unsynced && now.since(self.synced) >= LAZY;
            if let (true, Some(capture)) = (due, &self.capture) {
                capture_failed = capture
                    .sync()
                    .err()
                    .map(|e| failure("sync", capture.name(), &e));
                self.settled(now, &capture_failed);
            }
            return Ok(Committed {
                recorded: Vec::new(),
                capture_failed,
            });
        }
        let recorded = self.log.append(core::mem::take(rows))?;
        let Some(capture) = self.capture.as_ref().filter(|_| self.unsynced) else {
            self.log.sync()?;
            return Ok(Committed {
                recorded,
                capture_failed,
            });
        };
        let log = &mut self.log;
        let (capture_synced, log_synced) = std::thread::scope(|scope| {
            let other = scope.spawn(|| capture.sync());
            let log_synced = log.sync();
            let joined = other.join().unwrap_or_else(|_| {
                Err(std::io::Error::other(
                    "the thread that syncs the capture panicked",
                ))
            });
            (joined, log_synced)
        });
        capture_failed = capture_synced
            .err()
            .map(|e| failure("sync", capture.name(), &e));
        self.settled(now, &capture_failed);
        log_synced?;
        Ok(Committed {
            recorded,
            capture_failed,
        })
    }

    /// Syncs what is written, at the end of a run.
    ///
    /// # Errors
    /// The log cannot be written.
    pub fn close(mut self) -> Result<Option<String>, LogError> {
        let failed = match &self.capture {
            Some(capture) if self.unsynced => capture
                .sync()
                .err()
                .map(|e| failure("sync", capture.name(), &e)),
            _ => None,
        };
        self.log.sync()?;
        Ok(failed)
    }

    /// Writes inputs; when that fails, the capture is written no more.
    fn write_capture(&mut self, inputs: &[Input]) -> Option<String> {
        let capture = self.capture.as_mut().filter(|_| !inputs.is_empty())?;
        self.unsynced = true;
        let failed = capture.append(inputs).err();
        let failed = failed.map(|e| failure("write", capture.name(), &e));
        if failed.is_some() {
            self.capture = None;
            self.unsynced = false;
        }
        failed
    }

    fn settled(&mut self, now: Stamp, failed: &Option<String>) {
        self.synced = now;
        self.unsynced = false;
        if failed.is_some() {
            self.capture = None;
        }
    }
}

fn failure(doing: &str, name: &str, source: &std::io::Error) -> String {
    format!("cannot {doing} captures/{name}: {source}")
}
