//! Readings that a meter stored itself, and other CSV files, as rows of the log.
//!
//! A [`map::Map`] says what the columns mean; [`lines`] makes a row of each
//! line, or says why not. Such a value was never seen to settle and is never
//! judged: `not_judged`, of no job, its origin in the row. A line is known again
//! by what it says, so a second import writes nothing, one that broke off goes
//! on, and a longer export adds what is new.

pub mod lines;
pub mod map;

#[cfg(test)]
mod tests;

use std::collections::BTreeSet;
use std::io;
use std::path::Path;

use sha2::{Digest as _, Sha256};

use crate::disk::Disk;
use crate::log::files::FileName;
use crate::log::{cells, open};

/// By what a line is known again: 32 hexadecimal digits.
pub type LineId = String;

/// The lines that the log has already.
///
/// # Errors
/// The disk's own.
pub fn there<D: Disk>(disk: &D, log: &Path) -> io::Result<BTreeSet<LineId>> {
    let mut there = BTreeSet::new();
    let needle = memchr::memmem::Finder::new("\"\"import\"\":");
    for name in FileName::list(disk, log)? {
        open::each_row(disk, &log.join(name.to_string()), |line| {
            if needle.find(line).is_none() {
                return;
            }
            let note = cells::recorded(line).ok().map(|recorded| recorded.row.note);
            let note = note.and_then(|note| serde_json::from_str(&note).ok());
            let note: serde_json::Value = note.unwrap_or_default();
            if let Some(id) = note["import"]["id"].as_str() {
                there.insert(id.to_owned());
            }
        })?;
    }
    Ok(there)
}

/// 64 hexadecimal digits.
pub fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}
