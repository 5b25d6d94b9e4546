//! A file row by row: what is wrong with the first row that does not hold.
//!
//! Only here is anything said of a row; [`super::piece`] says no more than that
//! all is well.

use super::super::cells;
use super::super::chain::{self, Chain, DIGITS};
use super::super::files::FileName;
use super::super::open::TAIL;
use super::piece::Place;
use super::{BadRow, Told};
use crate::row::Recorded;

/// Zeros that a crash leaves end where a sector ends.
const SECTOR: usize = 512;
/// How much is looked at row by row before pieces are tried again, in bytes.
pub(super) const STEP: u64 = 1 << 20;
/// How much is read for that: a torn end is never longer than [`TAIL`].
pub(super) const WINDOW: u64 = STEP + TAIL + 1;

/// What rows come to.
#[derive(Debug)]
pub(super) enum Found {
    /// All of them hold.
    Hold,
    /// The file ends with bytes that a crash cut short.
    Torn(usize),
    /// One does not hold. `changed`: its bytes are not those that were written.
    Bad { bad: BadRow, changed: bool },
}

/// A file, and where one is in it.
pub(super) struct Rows<'a> {
    pub(super) name: &'a FileName,
    /// Nothing follows it.
    pub(super) newest: bool,
    pub(super) place: Place,
}

impl Rows<'_> {
    /// Goes through what begins within [`STEP`] bytes; `bytes` are those from
    /// the place on, at most [`WINDOW`].
    pub(super) fn look(&mut self, bytes: &[u8], each: &mut impl FnMut(&Told<'_>)) -> Found {
        let mut at = 0;
        while at < bytes.len() && (at as u64) < STEP {
            let seq = self.place.rows + 1;
            let Some((end, chain)) = chain::holding(bytes, at, &self.place.chain) else {
                let rest = &bytes[at..];
                if self.newest && torn(rest, self.place.at as usize, &self.place.chain) {
                    return Found::Torn(rest.len());
                }
                let (seq, why) = diagnose(rest, seq);
                return Found::Bad {
                    bad: self.bad(seq, why),
                    changed: true,
                };
            };
            let line = &bytes[at..end];
            match self.read(line, seq) {
                Ok(recorded) => each(&Told {
                    seq,
                    event: recorded.row.event,
                    line,
                    capture: recorded.row.capture.as_bytes(),
                    offset: recorded.row.capture_offset,
                }),
                Err(why) => {
                    return Found::Bad {
                        bad: self.bad(seq, why),
                        changed: false,
                    };
                }
            }
            self.place = Place {
                at: self.place.at + (end - at) as u64,
                rows: seq,
                chain,
            };
            at = end;
        }
        Found::Hold
    }

    /// A row whose chain holds must still read, carry its number and belong in this month.
    fn read(&self, line: &[u8], seq: u64) -> Result<Recorded, String> {
        core::str::from_utf8(line).map_err(|_| String::from("it is not UTF-8"))?;
        let recorded = cells::recorded(line).map_err(|e| e.to_string())?;
        if recorded.seq != seq {
            return Err(format!("expected the number {seq}, found {}", recorded.seq));
        }
        let month = recorded.row.recorded_at.month();
        if month > self.name.month {
            return Err(format!(
                "it is of {month} and stands in a file of {}",
                self.name.month
            ));
        }
        Ok(recorded)
    }

    pub(super) fn bad(&self, seq: u64, why: String) -> BadRow {
        BadRow {
            seq,
            file: self.name.to_string(),
            why,
        }
    }
}

/// Whether a file's bytes are a beginning of its header that a crash cut short.
pub(super) fn torn_header(bytes: &[u8], header: &[u8]) -> bool {
    let written = bytes.iter().position(|b| *b == 0).unwrap_or(bytes.len());
    header.starts_with(&bytes[..written]) && bytes[written..].iter().all(|b| *b == 0)
}

/// Whether bytes that follow a good row are what a crash leaves: a beginning
/// of a row, or zeros in place of whole sectors. A row that is whole and does
/// not hold is not.
fn torn(rest: &[u8], offset: usize, before: &Chain) -> bool {
    if rest.len() as u64 > TAIL {
        return false;
    }
    let zero = rest.iter().position(|b| *b == 0);
    let written = &rest[..zero.unwrap_or(rest.len())];
    if chain::next_end(written, 0).is_some() {
        return false;
    }
    if let Some(zero) = zero {
        let after = rest[zero..].iter().position(|b| *b != 0).map(|n| zero + n);
        return after.is_none_or(|end| (offset + end).is_multiple_of(SECTOR));
    }
    // A whole row of which only the line feed was changed is not torn.
    if let Some((_, line)) = rest.split_last().filter(|(_, line)| line.len() > DIGITS) {
        let (row, digits) = line.split_at(line.len() - DIGITS);
        if Chain::parse(digits) == Some(before.next(row)) {
            return false;
        }
    }
    let open_quote = rest.iter().filter(|b| **b == b'"').count() % 2 == 1;
    open_quote || rest.last() != Some(&b'\n')
}

/// Which row is the bad one, and why, from the bytes where a row should begin.
fn diagnose(rest: &[u8], expected: u64) -> (u64, String) {
    let changed = (
        expected,
        String::from("its chain does not hold: this row was changed after it was written"),
    );
    let end = chain::next_end(rest, 0).map_or(rest.len(), |(end, _)| end);
    let second = chain::seq_of(&rest[end..]);
    match chain::seq_of(rest) {
        Some(seq) if seq == expected => changed,
        // The row behind it carries the right number, so only this number was changed.
        _ if second == Some(expected + 1) => changed,
        Some(seq) if seq > expected => (expected, missing(expected, seq)),
        Some(seq) => (seq, format!("it stands where row {expected} should be")),
        None => (
            expected,
            String::from("what stands in its place is not a row"),
        ),
    }
}

/// Which rows are missing before the row `seq`.
fn missing(expected: u64, seq: u64) -> String {
    let gone = match (expected, seq - expected) {
        (1, 1) => String::from("it is missing: the log begins"),
        (1, _) => format!("rows 1 to {} are missing: the log begins", seq - 1),
        (_, 1) => String::from("it is missing"),
        _ => format!("rows {expected} to {} are missing", seq - 1),
    };
    match expected {
        1 => format!("{gone} with row {seq}"),
        _ => format!("{gone}: row {seq} follows row {}", expected - 1),
    }
}
