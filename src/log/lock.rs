//! One program at a time on a data folder: a locked file apart from the log.
//!
//! The lock is the system's, so it ends with the process however that ends.
//! `DATA/holder` says who has it (process id, and the daemon's address once it
//! listens), so that `job` and `enter` find the daemon. It is a file of its
//! own because Windows lets nobody read a locked one; it is never trusted for
//! locking.

use std::fs::{File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

/// The lock on a data folder; released when dropped.
#[derive(Debug)]
pub struct Lock {
    dir: PathBuf,
    /// Held open: closing it ends the lock.
    _file: File,
}

/// Why the data folder is not ours.
#[derive(Debug, thiserror::Error)]
pub enum LockError {
    /// Another process has it.
    #[error("{}: another stillohm holds this data folder ({note}); wait until it is done, or stop it first", dir.display())]
    Locked {
        /// The data folder.
        dir: PathBuf,
        /// What the holder wrote.
        note: String,
    },
    /// The disk refuses.
    #[error("{}: cannot be used as the data folder: {cause}; name a folder that can be written with --data", dir.display())]
    Io {
        /// The data folder.
        dir: PathBuf,
        /// What the system says.
        cause: io::Error,
    },
}

impl Lock {
    /// Locks a data folder, created if missing.
    ///
    /// # Errors
    /// Another process has it, or the disk refuses.
    pub fn take(dir: &Path) -> Result<Self, LockError> {
        let io = |cause| LockError::Io {
            dir: dir.to_owned(),
            cause,
        };
        std::fs::create_dir_all(dir).map_err(io)?;
        // The name must not be truncated at opening: it may be another's.
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(dir.join("lock"))
            .map_err(io)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let note = read_note(dir).unwrap_or_default();
                return Err(LockError::Locked {
                    dir: dir.to_owned(),
                    note,
                });
            }
            Err(TryLockError::Error(source)) => return Err(io(source)),
        }
        let mut lock = Self {
            dir: dir.to_owned(),
            _file: file,
        };
        lock.note(&format!("pid {}", std::process::id()))
            .map_err(io)?;
        Ok(lock)
    }

    /// Says something to whoever finds the folder locked, in place of what was said.
    ///
    /// # Errors
    /// The disk refuses.
    pub fn note(&mut self, text: &str) -> io::Result<()> {
        std::fs::write(holder(&self.dir), text)
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // What a holder said does not outlive it; the lock ends even if this fails.
        if std::fs::remove_file(holder(&self.dir)).is_err() {}
    }
}

/// What the holder of a data folder says; `None` when nobody holds it or
/// nothing is said. A killed holder's words may stay: ask [`Lock::take`] first
/// when it matters.
pub fn read_note(dir: &Path) -> Option<String> {
    let text = std::fs::read_to_string(holder(dir)).ok()?;
    Some(text).filter(|t| !t.is_empty())
}

fn holder(dir: &Path) -> PathBuf {
    dir.join("holder")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_holder_is_told_who_has_the_folder() {
        let dir = tempfile::tempdir().expect("a folder");
        let mut lock = Lock::take(dir.path()).expect("free");
        lock.note("pid 1 at 127.0.0.1:7845").expect("written");
        let refused = Lock::take(dir.path()).expect_err("held").to_string();
        assert!(refused.contains("pid 1 at 127.0.0.1:7845"), "{refused}");
        assert!(
            refused.contains(&dir.path().display().to_string()),
            "{refused}"
        );
        drop(lock);
        assert_eq!(read_note(dir.path()), None);
        Lock::take(dir.path()).expect("free again");
    }
}
