//! The rows of a data folder's log, as questions read them.

use std::io;
use std::path::{Path, PathBuf};

use super::super::Fail;
use crate::disk::RealDisk;
use crate::log::files::FileName;
use crate::log::{cells, open};
use crate::row::Recorded;

/// The folder of the log in a data folder.
///
/// # Errors
/// There is none.
pub(super) fn log_of(data: &Path) -> Result<PathBuf, Fail> {
    let dir = data.join("log");
    if dir.is_dir() {
        return Ok(dir);
    }
    Err(Fail::asked(format!(
        "{}: expected a data folder with a log in it, found none",
        data.display()
    )))
}

/// Calls `act` with each row, in the order of the log; nothing is locked.
///
/// # Errors
/// The disk refuses, or a row does not read: `verify` names it.
pub(super) fn each(dir: &Path, mut act: impl FnMut(Recorded)) -> Result<(), Fail> {
    let unread = |path: &Path, e: io::Error| {
        Fail::around(format!("{}: cannot be read: {e}", path.display()))
    };
    for name in FileName::list(&RealDisk, dir).map_err(|e| unread(dir, e))? {
        let path = dir.join(name.to_string());
        let mut bad = None;
        open::each_row(&RealDisk, &path, |line| match cells::recorded(line) {
            Ok(recorded) => act(recorded),
            Err(e) => bad = bad.take().or(Some(e)),
        })
        .map_err(|e| unread(&path, e))?;
        if let Some(e) = bad {
            return Err(Fail::No(format!(
                "{}: a row does not read: {e}; see which with verify",
                path.display()
            )));
        }
    }
    Ok(())
}
