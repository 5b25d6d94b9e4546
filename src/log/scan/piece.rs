//! One piece of a file: read, and its rows given out.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, Read as _, Seek as _, SeekFrom};
use std::path::Path;

use memchr::memchr;

use super::super::chain::{self, DIGITS};
use super::cells::{Ends, column};
use super::{Gather, Later, Line, Standing};

/// `,CHAIN\n`: what a row ends with.
pub(super) const END: usize = DIGITS + 2;
/// How much is read beyond a piece for its last row; most rows are far shorter.
const BEYOND: usize = 16 * 1024;
/// A date and time with its milliseconds, `2026-11-27T01:02:03.004Z`.
const DATE: usize = 24;

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
    /// The rows, in order.
    found: Vec<Found>,
    /// Rows that this piece withdraws.
    withdrawn: BTreeSet<u64>,
    /// Rows that it may judge again: which, by which.
    judged: Vec<(u64, u64)>,
    /// Those of them that it does judge, of its own; ordered.
    anew: Vec<(u64, u64)>,
    /// Rows behind this one do not count, nor what they say of others.
    last: u64,
}

/// A row, its cells not looked at.
#[derive(Clone, Copy, Debug)]
struct Found {
    seq: u64,
    /// Where it begins, and where it ends.
    at: u32,
    end: u32,
    /// Where its event stands.
    event: (u8, u8),
    state: State,
}

/// How a row stands, as far as its piece knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// As it was written.
    Own,
    /// With a later verdict.
    Judged,
    /// It is that verdict, and counts where it was given.
    Judges,
    Withdrawn,
}

impl Found {
    fn event<'r>(&self, row: &'r [u8]) -> &'r [u8] {
        &row[self.event.0.into()..self.event.1.into()]
    }
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
            found: Vec::new(),
            withdrawn: BTreeSet::new(),
            judged: Vec::new(),
            anew: Vec::new(),
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

    /// Gives out the rows that count, each with its last verdict. What is said of
    /// rows before this piece goes to `later`.
    pub(super) fn rows<G: Gather>(&mut self, to: &mut G, later: &mut Later) -> Rows {
        let mut seen = self.look();
        self.stand();
        let last = to.last_column();
        let (mut ends, mut judges) = (Ends::new(), Ends::new());
        for found in &self.found {
            let at = found.at as usize;
            let rest = &self.buffer[at..self.filled];
            match found.state {
                State::Withdrawn => seen.withdrawn += 1,
                State::Own | State::Judged if to.wants(found.event(rest)) => {
                    let row = &rest[..found.end as usize - at];
                    if !ends.find(rest, last) || ends.range(last).end >= row.len() {
                        seen.odd += 1;
                        let first = seen.first_odd.unwrap_or(found.seq);
                        seen.first_odd = Some(first.min(found.seq));
                        continue;
                    }
                    let later = match found.state {
                        State::Judged => self.last_verdict(found.seq),
                        _ => None,
                    };
                    to.row(&Line {
                        seq: found.seq,
                        bytes: row,
                        ends: &ends,
                        later: later.and_then(|by| standing_at(self.row(by)?, &mut judges)),
                    });
                }
                State::Own | State::Judged | State::Judges => {}
            }
        }
        self.say_of_others(&seen, later);
        seen
    }

    /// Finds the rows, and what they say of others and of each other.
    fn look(&mut self) -> Rows {
        self.found.clear();
        self.withdrawn.clear();
        self.judged.clear();
        let mut taken_back = Vec::new();
        let mut seen = Rows::default();
        let mut expected = None;
        let mut at = self.begin;
        while at < self.until {
            let rest = &self.buffer[at..self.filled];
            // The newest file may end with a row that a crash cut short.
            let Some(end) = row_end(rest, 0) else { break };
            let number = number(rest);
            let event = number.and_then(|(_, digits)| event_at(&rest[..end], digits));
            if let (Some((seq, _)), Some(event)) = (number, event) {
                if expected.is_some_and(|expected| expected != seq) {
                    seen.odd += 1;
                    seen.first_odd = seen.first_odd.or(expected);
                }
                expected = Some(seq + 1);
                seen.rows += 1;
                let first = seen.numbers.map_or(seq, |(first, _)| first);
                seen.numbers = Some((first, seq));
                if seq <= self.last {
                    let found = Found {
                        seq,
                        at: at as u32,
                        end: (at + end) as u32,
                        event,
                        state: State::Own,
                    };
                    self.found.push(found);
                    let of = || number_at(&rest[usize::from(event.1) + 1..]);
                    match found.event(rest) {
                        b"withdrawn" => taken_back.extend(of()),
                        // A verdict is on an earlier row.
                        b"judged" => self
                            .judged
                            .extend(of().filter(|of| *of < seq).map(|of| (of, seq))),
                        _ => {}
                    }
                }
            } else {
                seen.odd += 1;
                seen.first_odd = seen.first_odd.or(expected).or(Some(0));
            }
            at += end;
        }
        self.withdrawn.extend(taken_back);
        // A verdict that was withdrawn stands for nothing.
        let stands = |(_, by): &(u64, u64)| !self.withdrawn.contains(by);
        self.judged.retain(stands);
        self.judged.sort_unstable();
        seen
    }

    /// Sets how each row stands. Rows of the same test and point judge anew; others
    /// are verdicts over several.
    fn stand(&mut self) {
        let (mut one, mut other) = (Ends::new(), Ends::new());
        self.anew.clear();
        let anew = self.judged.iter().filter(|(of, by)| {
            let places = self.row(*of).zip(self.row(*by));
            places.is_some_and(|(of, by)| {
                let of = place(of, &mut one);
                of.is_some() && of == place(by, &mut other)
            })
        });
        let anew: Vec<(u64, u64)> = anew.copied().collect();
        for (of, by) in &anew {
            self.set(*by, State::Judges);
            self.set(*of, State::Judged);
        }
        for seq in core::mem::take(&mut self.withdrawn) {
            self.set(seq, State::Withdrawn);
            self.withdrawn.insert(seq);
        }
        self.anew = anew;
    }

    /// The later ones outdo the earlier.
    fn set(&mut self, seq: u64, state: State) {
        if let Some(at) = self.place_of(seq)
            && !(self.found[at].state == State::Judges && state == State::Judged)
        {
            self.found[at].state = state;
        }
    }

    /// Which of the rows found has a number: they follow each other, in a log that is whole.
    fn place_of(&self, seq: u64) -> Option<usize> {
        let at = seq.checked_sub(self.found.first()?.seq)?;
        let at = usize::try_from(at).ok()?;
        if self.found.get(at).is_some_and(|found| found.seq == seq) {
            return Some(at);
        }
        self.found.iter().position(|found| found.seq == seq)
    }

    fn row(&self, seq: u64) -> Option<&[u8]> {
        let found = self.found.get(self.place_of(seq)?)?;
        Some(&self.buffer[found.at as usize..found.end as usize])
    }

    /// The row that gives the last verdict on a row, of this piece.
    fn last_verdict(&self, mut seq: u64) -> Option<u64> {
        let mut last = None;
        loop {
            let end = self.anew.partition_point(|(of, _)| *of <= seq);
            let Some((_, by)) = self.anew[..end].last().filter(|(of, _)| *of == seq) else {
                return last;
            };
            (seq, last) = (*by, Some(*by));
        }
    }

    /// What rows of this piece say of rows in others.
    fn say_of_others(&self, seen: &Rows, later: &mut Later) {
        let (first, last) = seen.numbers.unwrap_or((1, 0));
        let elsewhere = |seq: u64| !(first..=last).contains(&seq);
        for seq in &self.withdrawn {
            match elsewhere(*seq) {
                true => _ = later.withdrawn.insert(*seq),
                false => later.withdrawn_inside.push(*seq),
            }
        }
        later.inside.extend(&self.anew);
        let judged = self.judged.iter().filter(|(of, _)| elsewhere(*of));
        later.judged.extend(judged.map(|(of, by)| (*by, *of)));
    }
}

/// Test and point of a row, with the comma between.
pub(super) fn place<'r>(row: &'r [u8], ends: &mut Ends) -> Option<&'r [u8]> {
    let found = ends.find(row, column::POINT);
    found.then(|| &row[ends.range(column::TEST).start..ends.range(column::POINT).end])
}

/// The verdict of a row and its finding.
pub(super) fn standing_at<'r>(row: &'r [u8], ends: &mut Ends) -> Option<Standing<'r>> {
    let found = ends.find(row, column::FINDING);
    found.then(|| Standing {
        verdict: &row[ends.range(column::VERDICT)],
        finding: &row[ends.range(column::FINDING)],
    })
}

/// The number that a row begins with, and how many bytes it and its comma take.
pub(super) fn number(row: &[u8]) -> Option<(u64, usize)> {
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

/// The number that a row begins with.
fn number_at(row: &[u8]) -> Option<u64> {
    number(row).map(|(number, _)| number)
}

/// The event of a row.
pub(super) fn event(row: &[u8]) -> Option<&[u8]> {
    let (_, digits) = number(row)?;
    let (from, to) = event_at(row, digits)?;
    Some(&row[from.into()..to.into()])
}

/// Where the event stands of a row whose number takes `digits` bytes.
fn event_at(row: &[u8], digits: usize) -> Option<(u8, u8)> {
    let from = digits + DATE - 1;
    let rest = row.get(from..)?.strip_prefix(b"Z,")?;
    let len = memchr(b',', &rest[..rest.len().min(16)])?;
    Some(((from + 2) as u8, (from + 2 + len) as u8))
}

/// Just behind the line feed that ends the row, sought from a byte that lies outside quotes.
pub(super) fn row_end(row: &[u8], from: usize) -> Option<usize> {
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
const _: () =
    assert!(column::EVENT == 2 && column::OF_SEQ == 3 && column::TEST + 1 == column::POINT);
