//! Questions over all rows of a log: which of them, grouped by what, and what of them.
//!
//! Cells are compared and grouped as they stand in the file: the log quotes a
//! cell in one way only, so equal cells are equal bytes.

pub mod aging;
pub mod count;
pub mod drift;
pub mod filter;
pub mod groups;
pub mod last;
pub mod newest;
pub mod stages;
pub mod values;
pub mod words;

use crate::log::scan::{Line, column};

/// What the reason of an imported row says first.
const IMPORTED: &[u8] = b"imported from ";
/// And where it says when it was read.
const READ_AT: &[u8] = b", read at ";

/// When an imported row says that it was read, since it was recorded later.
/// None: it was measured at the bench. Cells up to the finding were looked at.
fn imported<'a>(line: &Line<'a>) -> Option<&'a [u8]> {
    let reason = line.behind(column::FINDING);
    let reason = reason.strip_prefix(b"\"").unwrap_or(reason);
    let words = reason.strip_prefix(IMPORTED)?;
    let at = memchr::memmem::rfind(words, READ_AT)? + READ_AT.len();
    words.get(at..at + "2026-11-27T01:02:03.004Z".len())
}
