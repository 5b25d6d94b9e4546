//! One piece of a file: read, and its rows given out.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, Read as _, Seek as _, SeekFrom};
use std::path::Path;
use std::sync::LazyLock;

use memchr::{memchr, memmem};

use super::super::chain::{self, DIGITS};
use super::cells::{Ends, column};
use super::{Gather, Later, Line, Standing};

/// `,CHAIN\n`: what a row ends with.
const END: usize = DIGITS + 2;
/// How much is read beyond a piece for its last row; most rows are far shorter.
const BEYOND: usize = 16 * 1024;
/// A date and time with its milliseconds, `2026-11-27T01:02:03.004Z`.
const DATE: usize = 24;

static JUDGED: LazyLock<memmem::Finder<'static>> =
    LazyLock::new(|| memmem::Finder::new(b"Z,judged,"));
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
    /// Rows that this piece withdraws.
    withdrawn: BTreeSet<u64>,
    /// Rows that it may judge again: which, and where the row that does begins.
    judged: Vec<(u64, usize)>,
    /// Rows behind this one do not count, nor what they say of others.
    last: u64,
}

/// A verdict on an earlier row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Verdict {
    verdict: Vec<u8>,
    finding: Vec<u8>,
}

impl Verdict {
    fn as_standing(&self) -> Standing<'_> {
        Standing {
            verdict: &self.verdict,
            finding: &self.finding,
        }
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
            withdrawn: BTreeSet::new(),
            judged: Vec::new(),
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
        self.note_later();
        let last = to.last_column();
        let mut ends = Ends::new();
        let mut judges = Ends::new();
        // Rows that gave a verdict to one of this piece: they count there.
        let mut used = BTreeSet::new();
        let mut seen = Rows::default();
        let mut expected = None;
        let (mut at, mut next) = (self.begin, 0);
        while at < self.until {
            let rest = &self.buffer[at..self.filled];
            let number = number(rest);
            let event = number.and_then(|(_, digits)| event(rest, digits));
            let counts = number.is_some_and(|(seq, _)| seq <= self.last);
            let wanted = counts && event.is_some_and(|event| to.wants(event));
            let found = wanted && ends.find(rest, last);
            let from = if found { ends.range(last).end } else { 0 };
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
                    while self.judged.get(next).is_some_and(|(of, _)| *of < seq) {
                        next += 1;
                    }
                    let judged = self.judged.get(next).is_some_and(|(of, _)| *of == seq);
                    let later = if judged {
                        used.extend(self.judging(seq, at));
                        self.last_verdict(seq, at, &BTreeSet::new())
                    } else {
                        None
                    };
                    if self.withdrawn.contains(&seq) {
                        seen.withdrawn += 1;
                    } else if found && !used.contains(&at) {
                        let later = later
                            .and_then(|by| standing_at(&self.buffer[by..self.filled], &mut judges));
                        to.row(&Line {
                            seq,
                            bytes: &rest[..end],
                            ends: &ends,
                            later,
                        });
                    }
                }
                None => {
                    seen.odd += 1;
                    seen.first_odd = seen.first_odd.or(expected).or(Some(0));
                }
            }
            at += end;
        }
        let (first, end) = seen
            .numbers
            .map_or((u64::MAX, 0), |(first, last)| (first, last + 1));
        let elsewhere = |seq: u64| !(first..end).contains(&seq);
        let gone = self.withdrawn.iter().filter(|seq| elsewhere(**seq));
        later.withdrawn.extend(gone);
        for (of, by) in self.judged.iter().filter(|(of, _)| elsewhere(*of)) {
            let by = number(&self.buffer[*by..]);
            later.judged.extend(by.map(|(by, _)| (by, *of)));
        }
        seen
    }

    /// What rows of this piece say of others, and of each other.
    pub(super) fn note_later(&mut self) {
        let (mut withdrawn, mut judged) = (BTreeSet::new(), Vec::new());
        self.each(&WITHDRAWN, |_, _, of| _ = withdrawn.insert(of));
        // A verdict is on an earlier row, and one that was withdrawn stands for nothing.
        self.each(&JUDGED, |row, by, of| {
            judged.extend((of < by).then_some((of, row, by)))
        });
        judged.retain(|(_, _, by)| !withdrawn.contains(by));
        self.judged.clear();
        self.judged
            .extend(judged.iter().map(|(of, row, _)| (*of, *row)));
        self.judged.sort_unstable();
        self.withdrawn = withdrawn;
    }

    /// Rows of an event that name another: where each begins, its number, and which it names.
    fn each(&self, event: &memmem::Finder<'_>, mut act: impl FnMut(usize, u64, u64)) {
        // The last row may begin here and say further on what it is.
        let beyond = 2 * DIGITS + DATE + event.needle().len();
        let begin = self.begin.min(self.until);
        let bytes = &self.buffer[begin..self.filled.min(self.until + beyond)];
        for at in event.find_iter(bytes) {
            let row = memchr::memrchr(b'\n', &bytes[..at]).map_or(0, |feed| feed + 1);
            let named = &bytes[at + event.needle().len()..];
            let (Some((by, digits)), Some((of, _))) = (number(&bytes[row..]), number(named)) else {
                continue;
            };
            // Elsewhere in a row the words are only words.
            let is_event = row + digits + DATE - 1 == at;
            if is_event && begin + row < self.until && by <= self.last {
                act(begin + row, by, of);
            }
        }
    }

    /// Where the rows begin that judge the row `seq` at `at` anew, in the log's
    /// order: those of the same test and point. Others are verdicts over several.
    fn judging(&self, seq: u64, at: usize) -> Vec<usize> {
        let mut ends = Ends::new();
        let own = place(&self.buffer[at..self.filled], &mut ends);
        let first = self.judged.partition_point(|(of, _)| *of < seq);
        let by = self.judged[first..].iter().take_while(|(of, _)| *of == seq);
        by.map(|(_, by)| *by)
            .filter(|by| own.is_some() && place(&self.buffer[*by..self.filled], &mut ends) == own)
            .collect()
    }

    /// Where the row begins that gives the last verdict on a row, of this piece.
    fn last_verdict(&self, seq: u64, at: usize, gone: &BTreeSet<u64>) -> Option<usize> {
        let (mut seq, mut at, mut last) = (seq, at, None);
        loop {
            let by = self.judging(seq, at).into_iter().rev().find_map(|by| {
                let (number, _) = number(&self.buffer[by..])?;
                (!gone.contains(&number)).then_some((number, by))
            });
            let Some((number, by)) = by else {
                return last;
            };
            (seq, at, last) = (number, by, Some(by));
        }
    }

    /// Whether the row `seq` is there.
    pub(super) fn holds(&self, seq: u64) -> bool {
        self.find(seq).is_some() && !self.withdrawn.contains(&seq)
    }

    /// Whether the row `seq` counts by itself, as far as this piece knows.
    pub(super) fn gives(&self, seq: u64, gone: &BTreeSet<u64>) -> bool {
        self.holds(seq) && !gone.contains(&seq) && self.judges(seq).is_none()
    }

    /// The row of this piece that the row `seq` judges anew.
    pub(super) fn judges(&self, seq: u64) -> Option<u64> {
        let (at, _) = self.find(seq)?;
        let (of, _) = self.judged.iter().find(|(_, by)| *by == at)?;
        let (there, _) = self.find(*of)?;
        self.judging(*of, there).contains(&at).then_some(*of)
    }

    /// The last row of this piece that judges the row `seq` anew.
    pub(super) fn judged_by(&self, seq: u64, gone: &BTreeSet<u64>) -> Option<u64> {
        let (at, _) = self.find(seq)?;
        let by = self.judging(seq, at).into_iter().rev();
        by.filter_map(|by| number(&self.buffer[by..]))
            .map(|(by, _)| by)
            .find(|by| !gone.contains(by))
    }

    /// The last verdict on the row `seq`, as far as this piece knows; none: its own.
    pub(super) fn verdict(&self, seq: u64, gone: &BTreeSet<u64>) -> Option<Verdict> {
        let (at, _) = self.find(seq)?;
        self.verdict_at(self.last_verdict(seq, at, gone)?)
    }

    /// The verdict that the row `seq` gives.
    pub(super) fn given(&self, seq: u64) -> Option<Verdict> {
        self.find(seq).and_then(|(at, _)| self.verdict_at(at))
    }

    fn verdict_at(&self, at: usize) -> Option<Verdict> {
        let standing = standing_at(&self.buffer[at..self.filled], &mut Ends::new())?;
        Some(Verdict {
            verdict: standing.verdict.to_vec(),
            finding: standing.finding.to_vec(),
        })
    }

    /// Test and point of the row `seq`, as they stand in the file.
    pub(super) fn place(&self, seq: u64) -> Option<Vec<u8>> {
        let (at, _) = self.find(seq)?;
        place(&self.buffer[at..self.filled], &mut Ends::new()).map(<[u8]>::to_vec)
    }

    /// The row `seq`, which was given with a verdict, does not count.
    pub(super) fn take_back<G: Gather>(&self, seq: u64, was: Option<&Verdict>, from: &mut G) {
        if let (Some((row, ends)), true) =
            (self.row(seq, from.last_column()), self.wanted(seq, from))
        {
            from.take_back(&line(seq, row, &ends, was));
        }
    }

    /// The row `seq` stands with another verdict than it was given with.
    pub(super) fn amend<G: Gather>(
        &self,
        seq: u64,
        was: Option<&Verdict>,
        is: Option<&Verdict>,
        of: &mut G,
    ) {
        if let (Some((row, ends)), true) = (self.row(seq, of.last_column()), self.wanted(seq, of)) {
            of.amend(&line(seq, row, &ends, was), &line(seq, row, &ends, is));
        }
    }

    fn row(&self, seq: u64, last: usize) -> Option<(&[u8], Ends)> {
        let (at, len) = self.find(seq)?;
        let row = &self.buffer[at..at + len];
        let mut ends = Ends::new();
        ends.find(row, last).then_some((row, ends))
    }

    fn wanted<G: Gather>(&self, seq: u64, by: &G) -> bool {
        let row = self.find(seq).map(|(at, _)| &self.buffer[at..self.filled]);
        let event = row.and_then(|row| event(row, number(row)?.1));
        event.is_some_and(|event| by.wants(event))
    }

    /// Where a row of this piece begins, and its length.
    fn find(&self, seq: u64) -> Option<(usize, usize)> {
        let mut at = self.begin;
        while at < self.until {
            let rest = &self.buffer[at..self.filled];
            let end = row_end(rest, 0)?;
            if number(rest).is_some_and(|(number, _)| number == seq) {
                return Some((at, end));
            }
            at += end;
        }
        None
    }
}

fn line<'a>(seq: u64, bytes: &'a [u8], ends: &'a Ends, later: Option<&'a Verdict>) -> Line<'a> {
    Line {
        seq,
        bytes,
        ends,
        later: later.map(Verdict::as_standing),
    }
}

/// Test and point of a row, with the comma between.
fn place<'r>(row: &'r [u8], ends: &mut Ends) -> Option<&'r [u8]> {
    let found = ends.find(row, column::POINT);
    found.then(|| &row[ends.range(column::TEST).start..ends.range(column::POINT).end])
}

/// The verdict of a row and its finding.
fn standing_at<'r>(row: &'r [u8], ends: &mut Ends) -> Option<Standing<'r>> {
    let found = ends.find(row, column::FINDING);
    found.then(|| Standing {
        verdict: &row[ends.range(column::VERDICT)],
        finding: &row[ends.range(column::FINDING)],
    })
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
const _: () =
    assert!(column::EVENT == 2 && column::OF_SEQ == 3 && column::TEST + 1 == column::POINT);
