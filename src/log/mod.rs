//! The log: append-only month files of rows, each chained to the one before.
//!
//! One writer ([`lock`] sees to it). A row is acknowledged by the caller only
//! after [`Log::sync`]. What is expected of the disk stands in [`crate::disk`].
//!
//! Never here: a row deleted or changed, a file rewritten, a month gone back
//! to, a broken tail cut before it was copied, an I/O error taken for a broken
//! tail, a second try after a failed write or sync.

use std::io;
use std::path::{Path, PathBuf};

use crate::disk::Disk;
use crate::row::{Recorded, Row};

pub mod back;
pub mod cells;
pub mod chain;
pub mod files;
pub mod jobs;
pub mod lock;
pub mod open;
pub mod scan;
pub mod verify;

#[cfg(test)]
mod tests;

use chain::Chain;
use files::FileName;
pub use open::OpenedLog;

/// The log, open for appending.
#[derive(Debug)]
pub struct Log<D: Disk> {
    disk: D,
    dir: PathBuf,
    /// The newest file's name; the next row goes into it or a later one.
    newest: Option<FileName>,
    /// The newest file; none while a new one is needed.
    file: Option<D::File>,
    /// The newest file was found damaged or a later month begins: a new one is needed.
    begin_new: bool,
    /// The newest file has no header yet.
    headless: bool,
    /// A name in the folder is not synced yet.
    new_name: bool,
    next_seq: u64,
    chain: Chain,
    buffer: String,
    broken: Option<String>,
}

/// Why the log cannot go on.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// The disk refused.
    #[error("{}: cannot {doing}: {cause}{}", path.display(), hint(cause))]
    Io {
        /// What was tried.
        doing: &'static str,
        /// On which file.
        path: PathBuf,
        /// What the system says.
        cause: io::Error,
    },
    /// A write or sync failed before; nothing is taken until a restart.
    #[error("the log stopped at an earlier failure and takes nothing until a restart: {first}")]
    Broken {
        /// The first failure.
        first: String,
    },
}

impl LogError {
    /// Whether the disk is full: then the reserve may be given back.
    pub fn disk_full(&self) -> bool {
        matches!(self, Self::Io { cause, .. } if crate::disk::reserve::full(cause))
    }
}

/// What a spreadsheet that has the file open answers on Windows (ERROR_SHARING_VIOLATION).
const HELD_OPEN: i32 = 32;

fn hint(cause: &io::Error) -> &'static str {
    let held_open = cfg!(windows) && cause.raw_os_error() == Some(HELD_OPEN);
    match cause.kind() {
        _ if held_open => {
            "; a spreadsheet or another program has it open: close it there, then start again"
        }
        _ if crate::disk::reserve::full(cause) => "; make room on the disk, then start again",
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
            "; the folder and its files must be writable for this user"
        }
        _ => "",
    }
}

pub(crate) fn io_error(doing: &'static str, path: &Path) -> impl FnOnce(io::Error) -> LogError {
    let path = path.to_owned();
    move |cause| LogError::Io { doing, path, cause }
}

impl<D: Disk> Log<D> {
    /// `seq` of the next row.
    pub fn next_seq(&self) -> u64 {
        self.next_seq
    }

    /// The chain of the last row, 32 zeros before the first.
    pub fn chain(&self) -> &str {
        self.chain.as_str()
    }

    /// Writes rows and gives them their `seq` and chain. They are on the disk
    /// only after [`Log::sync`].
    ///
    /// # Errors
    /// The disk refuses; from then on every call fails.
    pub fn append(&mut self, rows: Vec<Row>) -> Result<Vec<Recorded>, LogError> {
        self.alive()?;
        let written = self.try_append(rows);
        self.sticky(written)
    }

    /// Waits until all rows written are kept.
    ///
    /// # Errors
    /// The disk refuses; from then on every call fails.
    pub fn sync(&mut self) -> Result<(), LogError> {
        self.alive()?;
        let synced = self.try_sync();
        self.sticky(synced)
    }

    fn alive(&self) -> Result<(), LogError> {
        match &self.broken {
            Some(first) => Err(LogError::Broken {
                first: first.clone(),
            }),
            None => Ok(()),
        }
    }

    fn sticky<T>(&mut self, result: Result<T, LogError>) -> Result<T, LogError> {
        if let Err(e) = &result {
            self.broken = Some(e.to_string());
        }
        result
    }

    fn try_append(&mut self, rows: Vec<Row>) -> Result<Vec<Recorded>, LogError> {
        let mut recorded = Vec::with_capacity(rows.len());
        self.buffer.clear();
        for row in rows {
            self.file_for(&row)?;
            let begin = self.buffer.len();
            let seq = self.next_seq;
            row.write(seq, &mut self.buffer);
            self.chain = self.chain.next(&self.buffer.as_bytes()[begin..]);
            self.next_seq += 1;
            let chain = self.chain.as_str().to_owned();
            self.buffer.push_str(&chain);
            self.buffer.push('\n');
            recorded.push(Recorded { seq, row, chain });
        }
        self.write_out()?;
        Ok(recorded)
    }

    /// Makes the newest file the one that `row` belongs into: a later month
    /// begins a file, an earlier one stays in the newest.
    fn file_for(&mut self, row: &Row) -> Result<(), LogError> {
        let month = row.recorded_at.month();
        let wanted = match &self.newest {
            Some(newest) if month <= newest.month && !self.begin_new => return Ok(()),
            Some(newest) if month <= newest.month => FileName {
                month: newest.month.clone(),
                part: newest.part + 1,
            },
            _ => FileName { month, part: 1 },
        };
        // The file before it must be whole on the disk before a later one exists.
        self.write_out()?;
        self.try_sync()?;
        let path = self.dir.join(wanted.to_string());
        self.file = Some(self.disk.create(&path).map_err(io_error("create", &path))?);
        self.newest = Some(wanted);
        self.begin_new = false;
        self.headless = true;
        self.new_name = true;
        Ok(())
    }

    fn write_out(&mut self) -> Result<(), LogError> {
        let (Some(file), false) = (&mut self.file, self.buffer.is_empty()) else {
            return Ok(());
        };
        if self.headless {
            self.buffer.insert_str(0, &files::header());
            self.headless = false;
        }
        let written = self.disk.append(file, self.buffer.as_bytes());
        self.buffer.clear();
        written.map_err(|cause| LogError::Io {
            doing: "write",
            path: self.path(),
            cause,
        })
    }

    fn try_sync(&mut self) -> Result<(), LogError> {
        if let Some(file) = &self.file {
            let synced = self.disk.sync(file);
            synced.map_err(|cause| LogError::Io {
                doing: "sync",
                path: self.path(),
                cause,
            })?;
        }
        if self.new_name {
            self.disk
                .sync_dir(&self.dir)
                .map_err(io_error("sync the folder", &self.dir))?;
            self.new_name = false;
        }
        Ok(())
    }

    fn path(&self) -> PathBuf {
        match &self.newest {
            Some(name) => self.dir.join(name.to_string()),
            None => self.dir.clone(),
        }
    }
}
