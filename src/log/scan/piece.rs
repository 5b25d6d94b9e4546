//! One piece of a file: read, and its rows given out.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, Read as _, Seek as _, SeekFrom};
use std::path::Path;
use std::sync::LazyLock;

use memchr::{memchr, memmem};

use super::super::chain::{self, DIGITS};
use super::cells::{Ends, column};
use super::{Gather, Line};

/// `,CHAIN\n`: what a row ends with.
const END: usize = DIGITS + 2;
/// How much is read beyond a piece for its last row; most rows are far shorter.
const BEYOND: usize = 16 * 1024;
/// A date and time with its milliseconds, `2026-11-27T01:02:03.004Z`.
const DATE: usize = 24;

static WITHDRAWN: LazyLock<memmem::Finder<'static>> =
    LazyLock::new(|| memmem::Finder::new(b"Z,withdrawn,"));

/// A stretch of a file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cut {
    pub(super) file: usize,
    /// Whether the file's first row begins it.
    pub(super) first: bool,
    pub(super) from: u64,
    pub(super) to: u64,
    /// The file's length.
    pub(super) len: u64,
}

/// A stretch in memory; its memory is used again for the next.
#[derive(Debug)]
pub(super) struct Piece {
    buffer: Vec<u8>,
    /// Bytes of the buffer that were read.
    filled: usize,
    /// Where the first row begins.
    begin: usize,
    /// Rows begin before this.
    until: usize,
    ends: Ends,
    /// Rows of this piece that it withdraws itself.
    withdrawn: BTreeSet<u64>,
    /// Rows behind this one do not count, nor what they withdraw.
    last: u64,
}

/// What was in a piece.
#[derive(Debug, Default)]
pub(super) struct Rows {
    pub(super) rows: u64,
    pub(super) withdrawn: u64,
    pub(super) odd: u64,
    pub(super) first_odd: Option<u64>,
    pub(super) numbers: Option<(u64, u64)>,
}

impl Piece {
    /// Of a log whose rows count up to this one.
    pub(super) fn until(last: u64) -> Self {
        Self {
            last,
            buffer: Vec::new(),
            filled: 0,
            begin: 0,
            until: 0,
            ends: Ends::new(),
            withdrawn: BTreeSet::new(),
        }
    }

    pub(super) fn read(&mut self, path: &Path, cut: &Cut) -> io::Result<()> {
        // A row begins at the cut if the one before it ends there.
        let before = if cut.first {
            0
        } else {
            cut.from.min(END as u64)
        };
        let wanted = (cut.to - cut.from + before) as usize;
        let mut file = File::open(path)?;
        file.seek(SeekFrom::Start(cut.from - before))?;
        self.filled = 0;
        let left = usize::try_from(cut.len - cut.from + before).unwrap_or(usize::MAX);
        self.fill(&mut file, (wanted + BEYOND).min(left))?;
        self.until = wanted.min(self.filled);
        while self.filled < left && chain::next_end(self.read_bytes(), self.until).is_none() {
            self.fill(&mut file, self.filled.saturating_mul(2).min(left))?;
        }
        self.begin = match cut.first {
            true => 0,
            false => chain::next_end(self.read_bytes(), 0).map_or(self.until, |(end, _)| end),
        };
        Ok(())
    }

    fn fill(&mut self, file: &mut File, to: usize) -> io::Result<()> {
        if self.buffer.len() < to {
            self.buffer.resize(to, 0);
        }
        while self.filled < to {
            let read = file.read(&mut self.buffer[self.filled..to])?;
            if read == 0 {
                break;
            }
            self.filled += read;
        }
        Ok(())
    }

    fn read_bytes(&self) -> &[u8] {
        &self.buffer[..self.filled]
    }

    /// Gives out the rows that count. Rows before this piece that it withdraws
    /// go to `later`.
    pub(super) fn rows<G: Gather>(&mut self, to: &mut G, later: &mut BTreeSet<u64>) -> Rows {
        self.note_withdrawn();
        let last = to.last_column();
        let mut seen = Rows::default();
        let mut expected = None;
        let mut at = self.begin;
        while at < self.until {
            let rest = &self.buffer[at..self.filled];
            let number = number(rest);
            let event = number.and_then(|(_, digits)| event(rest, digits));
            let counts = number.is_some_and(|(seq, _)| seq <= self.last);
            let wanted = counts && event.is_some_and(|event| to.wants(event));
            let found = wanted && self.ends.find(rest, last);
            let from = if found { self.ends.range(last).end } else { 0 };
            let Some(end) = row_end(rest, from) else {
                // The newest file may end with a row that a crash cut short.
                break;
            };
            match number.filter(|_| event.is_some() && found == wanted) {
                Some((seq, _)) => {
                    if expected.is_some_and(|expected| expected != seq) {
                        seen.odd += 1;
                        seen.first_odd = seen.first_odd.or(expected);
                    }
                    expected = Some(seq + 1);
                    seen.rows += 1;
                    let first = seen.numbers.map_or(seq, |(first, _)| first);
                    seen.numbers = Some((first, seq));
                    if self.withdrawn.remove(&seq) {
                        seen.withdrawn += 1;
                    } else if found {
                        let bytes = &rest[..end];
                        let ends = &self.ends;
                        to.row(&Line { seq, bytes, ends });
                    }
                }
                None => {
                    seen.odd += 1;
                    seen.first_odd = seen.first_odd.or(expected).or(Some(0));
                }
            }
            at += end;
        }
        later.append(&mut self.withdrawn);
        seen
    }

    /// Which rows are withdrawn by rows of this piece.
    fn note_withdrawn(&mut self) {
        self.withdrawn.clear();
        // The last row may begin here and say further on what it is.
        let beyond = 2 * DIGITS + DATE + WITHDRAWN.needle().len();
        let begin = self.begin.min(self.until);
        let bytes = &self.buffer[begin..self.filled.min(self.until + beyond)];
        for at in WITHDRAWN.find_iter(bytes) {
            let row = memchr::memrchr(b'\n', &bytes[..at]).map_or(0, |feed| feed + 1);
            let named = &bytes[at + WITHDRAWN.needle().len()..];
            let (Some((by, digits)), Some((seq, _))) = (number(&bytes[row..]), number(named))
            else {
                continue;
            };
            // Elsewhere in a row the words are only words.
            let is_event = row + digits + DATE - 1 == at;
            if is_event && begin + row < self.until && by <= self.last {
                self.withdrawn.insert(seq);
            }
        }
    }

    /// Takes one row of this piece back, unless the piece did so itself.
    pub(super) fn take_back<G: Gather>(&mut self, wanted: u64, from: &mut G) -> bool {
        self.note_withdrawn();
        if self.withdrawn.contains(&wanted) {
            return false;
        }
        let mut at = self.begin;
        while at < self.until {
            let rest = &self.buffer[at..self.filled];
            let Some(end) = row_end(rest, 0) else {
                return false;
            };
            if let Some((seq, digits)) = number(rest)
                && seq == wanted
            {
                if event(rest, digits).is_some_and(|event| from.wants(event))
                    && self.ends.find(rest, from.last_column())
                {
                    let bytes = &rest[..end];
                    let ends = &self.ends;
                    from.take_back(&Line { seq, bytes, ends });
                }
                return true;
            }
            at += end;
        }
        false
    }
}

/// The number that a row begins with, and how many bytes it and its comma take.
fn number(row: &[u8]) -> Option<(u64, usize)> {
    let mut number = 0_u64;
    for (at, byte) in row.iter().enumerate().take(21) {
        match byte {
            b'0'..=b'9' => {
                number = number
                    .checked_mul(10)?
                    .checked_add(u64::from(byte - b'0'))?;
            }
            b',' if at > 0 => return Some((number, at + 1)),
            _ => return None,
        }
    }
    None
}

/// The event of a row whose number takes `digits` bytes.
fn event(row: &[u8], digits: usize) -> Option<&[u8]> {
    let rest = row.get(digits + DATE - 1..)?.strip_prefix(b"Z,")?;
    Some(&rest[..memchr(b',', &rest[..rest.len().min(16)])?])
}

/// Just behind the line feed that ends the row, sought from a byte that lies outside quotes.
fn row_end(row: &[u8], from: usize) -> Option<usize> {
    let mut at = from;
    loop {
        let feed = at + memchr(b'\n', &row[at..])?;
        // A line feed inside a cell has no chain before it.
        if feed > DIGITS && row[feed - DIGITS - 1] == b',' {
            return Some(feed + 1);
        }
        at = feed + 1;
    }
}

/// The columns that [`column`] names lie where rows say they do.
const _: () = assert!(column::EVENT == 2 && column::OF_SEQ == 3);
