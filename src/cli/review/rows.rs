//! The rows of a data folder's log, as questions read them.

use std::io;
use std::path::Path;

use super::super::Fail;
use super::filter::say_odd;
use crate::disk::RealDisk;
use crate::log::files::FileName;
use crate::log::scan::{Seen, column};
use crate::log::{cells, open};
use crate::row::{Event, Recorded};

/// The number of the last row; 0: there is none.
///
/// # Errors
/// The disk refuses.
pub(super) fn last_row(dir: &Path) -> Result<u64, Fail> {
    let unread = |path: &Path, e: io::Error| {
        Fail::around(format!("{}: cannot be read: {e}", path.display()))
    };
    let names = FileName::list(&RealDisk, dir).map_err(|e| unread(dir, e))?;
    for name in names.iter().rev() {
        let path = dir.join(name.to_string());
        let mut last = None;
        open::each_row(&RealDisk, &path, |line| {
            last = cells::cells(line).next().and_then(|seq| seq.parse().ok());
        })
        .map_err(|e| unread(&path, e))?;
        if let Some(last) = last {
            return Ok(last);
        }
    }
    Ok(0)
}

/// Calls `act` with each row, in the order of the log; nothing is locked.
///
/// # Errors
/// The disk refuses, or a row does not read: `verify` names it.
pub(super) fn each(dir: &Path, mut act: impl FnMut(Recorded)) -> Result<(), Fail> {
    each_needed(dir, &mut act, |_, _, _| true, |act, recorded| act(recorded))
}

/// Calls `act` with each row that is `needed` by its event and meter, in the
/// order of the log; nothing is locked. What is not as rows are is said.
///
/// # Errors
/// The disk refuses, or a row does not read: `verify` names it.
pub(super) fn each_needed<T>(
    dir: &Path,
    to: &mut T,
    mut needed: impl FnMut(&mut T, Event, &str) -> bool,
    mut act: impl FnMut(&mut T, Recorded),
) -> Result<(), Fail> {
    let unread = |path: &Path, e: io::Error| {
        Fail::around(format!("{}: cannot be read: {e}", path.display()))
    };
    let (mut seen, mut expected) = (Seen::default(), 1);
    for name in FileName::list(&RealDisk, dir).map_err(|e| unread(dir, e))? {
        let path = dir.join(name.to_string());
        let mut bad = None;
        open::each_row(&RealDisk, &path, |line| {
            let mut cells = cells::cells(line);
            let seq = cells.next().and_then(|word| word.parse().ok());
            if seq != Some(expected) {
                seen.odd += 1;
                let first = || (name.to_string(), expected);
                seen.first_odd = Some(seen.first_odd.take().unwrap_or_else(first));
            }
            expected = seq.unwrap_or(expected) + 1;
            let event = cells
                .nth(column::EVENT - 1)
                .and_then(|word| Event::from_word(&word));
            let meter = cells.nth(column::METER - column::EVENT - 1);
            // What cannot be told is read in full, and says why.
            if let (Some(event), Some(meter)) = (event, meter)
                && !needed(to, event, &meter)
            {
                return;
            }
            match cells::recorded(line) {
                Ok(recorded) => act(to, recorded),
                Err(e) => bad = bad.take().or(Some(e)),
            }
        })
        .map_err(|e| unread(&path, e))?;
        if let Some(e) = bad {
            return Err(Fail::No(format!(
                "{}: a row does not read: {e}; see which with verify",
                path.display()
            )));
        }
    }
    say_odd(&seen);
    Ok(())
}
