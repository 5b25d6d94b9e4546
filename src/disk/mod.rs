//! The disk as log and capture see it: a trait only because tests need a double.
//!
//! What is expected of a disk, and nothing more:
//! - Appended bytes are kept once [`Disk::sync`] has returned. Before that any
//!   part of them may be there after a crash: a beginning, a beginning with
//!   zeros behind it, or nothing.
//! - What was synced never changes by itself and is never reordered.
//! - A new or removed name is kept once [`Disk::sync_dir`] has returned on its folder.
//! - [`Disk::cut`] is kept once it has returned; a crash inside leaves the old
//!   or the new length.
//! - After a failed write or sync nothing is known about the bytes since the
//!   last good one: a second sync that succeeds proves nothing. Callers must
//!   stop (a failed sync is sticky).
//!
//! What is not covered: a disk that acknowledges a sync without doing it, and
//! bits that rot. The chain shows the latter.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;

#[cfg(test)]
pub(crate) mod double;
pub mod reserve;

/// Where log and captures live.
pub trait Disk: Clone + Send + Sync {
    /// A file open for appending.
    type File: Send + Sync + core::fmt::Debug;

    /// Creates a folder and those above it, names synced.
    ///
    /// # Errors
    /// The disk's own.
    fn create_dirs(&self, dir: &Path) -> io::Result<()>;
    /// The names of the files in a folder, sorted; a missing folder has none.
    ///
    /// # Errors
    /// The disk's own.
    fn list(&self, dir: &Path) -> io::Result<Vec<String>>;
    /// At most `most` bytes of a file from an offset on.
    ///
    /// # Errors
    /// The disk's own.
    fn read(&self, path: &Path, from: u64, most: u64) -> io::Result<Vec<u8>>;
    /// The length of a file.
    ///
    /// # Errors
    /// The disk's own.
    fn len(&self, path: &Path) -> io::Result<u64>;
    /// A new, empty file.
    ///
    /// # Errors
    /// The disk's own; a file of that name exists.
    fn create(&self, path: &Path) -> io::Result<Self::File>;
    /// A file that exists, to append to.
    ///
    /// # Errors
    /// The disk's own.
    fn open(&self, path: &Path) -> io::Result<Self::File>;
    /// Appends all of `bytes`.
    ///
    /// # Errors
    /// The disk's own; then any part of `bytes` may have been written.
    fn append(&self, file: &mut Self::File, bytes: &[u8]) -> io::Result<()>;
    /// Waits until what was appended is kept.
    ///
    /// # Errors
    /// The disk's own; then nothing since the last good sync can be relied on.
    fn sync(&self, file: &Self::File) -> io::Result<()>;
    /// Waits until the names in a folder are kept.
    ///
    /// # Errors
    /// The disk's own.
    fn sync_dir(&self, dir: &Path) -> io::Result<()>;
    /// Cuts a file to a length and waits until that is kept.
    ///
    /// # Errors
    /// The disk's own.
    fn cut(&self, path: &Path, len: u64) -> io::Result<()>;
    /// Removes a file.
    ///
    /// # Errors
    /// The disk's own.
    fn remove(&self, path: &Path) -> io::Result<()>;
}

/// The disk of this machine.
#[derive(Clone, Copy, Debug, Default)]
pub struct RealDisk;

impl Disk for RealDisk {
    type File = File;

    fn create_dirs(&self, dir: &Path) -> io::Result<()> {
        if dir.is_dir() {
            return Ok(());
        }
        if let Some(parent) = dir.parent().filter(|p| !p.as_os_str().is_empty()) {
            self.create_dirs(parent)?;
        }
        match fs::create_dir(dir) {
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists && dir.is_dir() => {}
            other => other?,
        }
        self.sync_dir(dir.parent().unwrap_or(dir))
    }

    fn list(&self, dir: &Path) -> io::Result<Vec<String>> {
        let entries = match fs::read_dir(dir) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            other => other?,
        };
        let mut names = Vec::new();
        for entry in entries {
            let entry = entry?;
            // A name that is not Unicode is not one of ours.
            if let (true, Ok(name)) = (
                entry.file_type()?.is_file(),
                entry.file_name().into_string(),
            ) {
                names.push(name);
            }
        }
        names.sort();
        Ok(names)
    }

    fn read(&self, path: &Path, from: u64, most: u64) -> io::Result<Vec<u8>> {
        let mut file = File::open(path)?;
        file.seek(SeekFrom::Start(from))?;
        let mut bytes = Vec::new();
        file.take(most).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn len(&self, path: &Path) -> io::Result<u64> {
        Ok(fs::metadata(path)?.len())
    }

    fn create(&self, path: &Path) -> io::Result<File> {
        OpenOptions::new().append(true).create_new(true).open(path)
    }

    fn open(&self, path: &Path) -> io::Result<File> {
        OpenOptions::new().append(true).open(path)
    }

    fn append(&self, file: &mut File, bytes: &[u8]) -> io::Result<()> {
        file.write_all(bytes)
    }

    fn sync(&self, file: &File) -> io::Result<()> {
        file.sync_data()
    }

    fn sync_dir(&self, dir: &Path) -> io::Result<()> {
        let dir = if dir.as_os_str().is_empty() {
            Path::new(".")
        } else {
            dir
        };
        // Elsewhere a folder cannot be opened as a file; names are kept by the journal.
        if cfg!(unix) {
            File::open(dir)?.sync_all()
        } else {
            Ok(())
        }
    }

    fn cut(&self, path: &Path, len: u64) -> io::Result<()> {
        let file = OpenOptions::new().write(true).open(path)?;
        file.set_len(len)?;
        file.sync_all()
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }
}
