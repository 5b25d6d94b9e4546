//! The folder that the log is in.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::Fail;

/// The folder of the log in a data folder.
///
/// # Errors
/// There is none (exit 2), or it cannot be looked into (exit 3).
pub(crate) fn log_of(data: &Path) -> Result<PathBuf, Fail> {
    let dir = data.join("log");
    match std::fs::read_dir(&dir) {
        Ok(_) => Ok(dir),
        Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {
            Err(Fail::asked(format!(
                "{}: expected a data folder with a log in it, found none; name it with --data",
                data.display()
            )))
        }
        Err(e) => Err(Fail::around(format!(
            "{}: cannot be looked into: {e}",
            dir.display()
        ))),
    }
}
