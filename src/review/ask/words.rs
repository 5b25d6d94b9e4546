//! Which words a column has: for a name that no row has, so that the nearest can be said.

use core::sync::atomic::AtomicU64;
use std::io;

use super::groups::Groups;
use crate::log::scan::{Gather, Line, Scan, plain};

struct Words {
    column: usize,
    words: Groups<()>,
}

/// The words of a column, in their order.
///
/// # Errors
/// The disk's own.
pub fn words(scan: &Scan, column: usize) -> io::Result<Vec<String>> {
    let make = || Words {
        column,
        words: Groups::default(),
    };
    let (found, _) = scan.gather(&AtomicU64::new(0), make)?;
    let words = found.words.sorted().into_iter();
    let words = words.map(|(raw, ())| String::from_utf8_lossy(&plain(&raw)).into_owned());
    Ok(words.filter(|word| !word.is_empty()).collect())
}

impl Gather for Words {
    fn last_column(&self) -> usize {
        self.column
    }

    fn wants(&self, _: &[u8]) -> bool {
        true
    }

    fn row(&mut self, line: &Line<'_>) {
        self.words.of(line.cell(self.column), || ());
    }

    fn take_back(&mut self, _: &Line<'_>) {}

    fn merge(&mut self, other: Self) {
        other
            .words
            .drain(|word, ()| *self.words.of(word, || ()) = ());
    }
}
