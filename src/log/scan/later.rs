//! What rows say of rows in other pieces: what those gave is set right, each row
//! read again at the place where its number lets it be.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, Read as _, Seek as _, SeekFrom};

use super::super::chain;
use super::cells::Ends;
use super::piece::{Cut, event, number, place, row_end, standing_at};
use super::{Gather, Line, Scan};

/// Bytes around the place where a row is sought first (own: rows of a piece
/// differ in length, but their sums hardly do).
const AROUND: u64 = 24 * 1024;

/// What rows say of earlier ones.
#[derive(Debug, Default)]
pub(super) struct Later {
    /// Withdrawn rows of other pieces.
    pub(super) withdrawn: BTreeSet<u64>,
    /// Rows of other pieces that may be judged again: by which, which.
    pub(super) judged: BTreeMap<u64, u64>,
    /// Withdrawn rows of the same piece, which were not given.
    pub(super) withdrawn_inside: Vec<u64>,
    /// Rows of the same piece that were given with another's verdict: which, by
    /// which. Those that gave one were not given themselves.
    pub(super) inside: Vec<(u64, u64)>,
}

impl Later {
    pub(super) fn append(&mut self, mut other: Self) {
        self.withdrawn.append(&mut other.withdrawn);
        self.judged.append(&mut other.judged);
        self.withdrawn_inside.append(&mut other.withdrawn_inside);
        self.inside.append(&mut other.inside);
    }
}

/// Which rows judge which anew.
#[derive(Debug)]
struct Anew {
    /// Which, by which; ordered.
    by: Vec<(u64, u64)>,
    /// By which, which; ordered.
    of: Vec<(u64, u64)>,
}

impl Anew {
    fn new(mut by: Vec<(u64, u64)>) -> Self {
        by.sort_unstable();
        let mut of: Vec<(u64, u64)> = by.iter().map(|(of, by)| (*by, *of)).collect();
        of.sort_unstable();
        Self { by, of }
    }

    /// The row that another judges.
    fn judged(&self, by: u64) -> Option<u64> {
        let at = self.of.binary_search_by_key(&by, |(by, _)| *by).ok()?;
        Some(self.of[at].1)
    }

    /// The row that gives the last verdict on another, without those that are gone.
    fn last(&self, of: u64, gone: &BTreeSet<u64>) -> Option<u64> {
        let (mut stands, mut last) = (of, None);
        loop {
            let end = self.by.partition_point(|(of, _)| *of <= stands);
            let own = self.by[..end].iter().rev();
            let mut own = own.take_while(|(of, _)| *of == stands).map(|(_, by)| *by);
            let Some(by) = own.find(|by| !gone.contains(by)) else {
                return last;
            };
            (stands, last) = (by, Some(by));
        }
    }
}

/// Sets right what pieces gave without knowing of those behind them. Returns how
/// many rows were withdrawn from another piece.
pub(super) fn correct<G: Gather>(
    scan: &Scan,
    firsts: &[(usize, u64, u64)],
    mut later: Later,
    to: &mut G,
) -> io::Result<u64> {
    if later.withdrawn.is_empty() && later.judged.is_empty() {
        return Ok(0);
    }
    let mut rows = Rows::new(scan, firsts);
    let gone = &later.withdrawn;
    let beyond = rows.judging_anew(&later.judged, gone)?;
    let inside = core::mem::take(&mut later.inside);
    let (gave, stands) = (
        Anew::new(inside.clone()),
        Anew::new([inside, beyond.clone()].concat()),
    );
    later.withdrawn_inside.sort_unstable();
    // Whatever a verdict stood for changes with it, down to the first row.
    let mut touched = BTreeSet::new();
    for row in gone.iter().chain(beyond.iter().map(|(_, by)| by)) {
        let mut row = Some(*row);
        while let Some(one) = row.filter(|row| touched.insert(*row)) {
            row = stands.judged(one);
        }
    }
    let mut withdrawn = 0;
    let none = BTreeSet::new();
    for seq in touched {
        if later.withdrawn_inside.binary_search(&seq).is_ok() {
            continue;
        }
        let Some(row) = rows.row(seq)? else { continue };
        withdrawn += u64::from(gone.contains(&seq));
        if gave.judged(seq).is_some() {
            continue;
        }
        let before = match gave.last(seq, &none) {
            Some(by) => rows.row(by)?,
            None => None,
        };
        let counts = !gone.contains(&seq) && stands.judged(seq).is_none();
        let after = match stands.last(seq, gone).filter(|_| counts) {
            Some(by) => rows.row(by)?,
            None => None,
        };
        give(seq, &row, (before, after), counts, to);
    }
    Ok(withdrawn)
}

/// Takes a row back as it was given, and gives it with its last verdict.
fn give<G: Gather>(
    seq: u64,
    row: &[u8],
    (before, after): (Option<Vec<u8>>, Option<Vec<u8>>),
    counts: bool,
    to: &mut G,
) {
    let (mut ends, mut was, mut is) = (Ends::new(), Ends::new(), Ends::new());
    if !event(row).is_some_and(|event| to.wants(event)) || !ends.find(row, to.last_column()) {
        return;
    }
    let line = |later| Line {
        seq,
        bytes: row,
        ends: &ends,
        later,
    };
    let before = line(before.as_deref().and_then(|by| standing_at(by, &mut was)));
    match counts {
        true => to.amend(
            &before,
            &line(after.as_deref().and_then(|by| standing_at(by, &mut is))),
        ),
        false => to.take_back(&before),
    }
}

/// Finds rows by their numbers.
struct Rows<'s> {
    scan: &'s Scan,
    /// Piece, its first number and its last.
    firsts: &'s [(usize, u64, u64)],
    file: Option<(usize, File)>,
    window: Vec<u8>,
}

impl<'s> Rows<'s> {
    fn new(scan: &'s Scan, firsts: &'s [(usize, u64, u64)]) -> Self {
        Self {
            scan,
            firsts,
            file: None,
            window: Vec::new(),
        }
    }

    /// Which rows of other pieces are judged anew, by which: those of the same
    /// test and point, as inside a piece.
    fn judging_anew(
        &mut self,
        judged: &BTreeMap<u64, u64>,
        gone: &BTreeSet<u64>,
    ) -> io::Result<Vec<(u64, u64)>> {
        let mut anew = Vec::new();
        for (by, of) in judged.iter().filter(|(by, _)| !gone.contains(by)) {
            let (Some(one), Some(other)) = (self.row(*by)?, self.row(*of)?) else {
                continue;
            };
            let (mut a, mut b) = (Ends::new(), Ends::new());
            let place_of = place(&one, &mut a);
            if place_of.is_some() && place_of == place(&other, &mut b) {
                anew.push((*of, *by));
            }
        }
        Ok(anew)
    }

    /// A row of the log; none: it is not where its number would have it.
    fn row(&mut self, seq: u64) -> io::Result<Option<Vec<u8>>> {
        let after = self.firsts.partition_point(|(_, first, _)| *first <= seq);
        let Some((at, first, last)) = after.checked_sub(1).map(|at| self.firsts[at]) else {
            return Ok(None);
        };
        if seq > last {
            return Ok(None);
        }
        let cut = self.scan.cuts[at];
        let share = (seq - first) as f64 / (last - first + 1) as f64;
        let near = cut.from + ((cut.to - cut.from) as f64 * share) as u64;
        for (from, to) in [
            (near.saturating_sub(AROUND).max(cut.from), near + AROUND),
            (cut.from, cut.to + AROUND),
            (cut.from, u64::MAX),
        ] {
            self.read(&cut, from, to.min(cut.len))?;
            if let Some(row) = find(&self.window, cut.first && from == cut.from, seq) {
                return Ok(Some(row.to_vec()));
            }
        }
        Ok(None)
    }

    /// Reads a stretch of a file, and what is needed before it to know where a row begins.
    fn read(&mut self, cut: &Cut, from: u64, to: u64) -> io::Result<()> {
        if self.file.as_ref().is_none_or(|(file, _)| *file != cut.file) {
            self.file = Some((cut.file, File::open(self.scan.path(cut))?));
        }
        let Some((_, file)) = &mut self.file else {
            return Ok(());
        };
        let before = match cut.first && from == cut.from {
            true => 0,
            false => from.min(super::piece::END as u64),
        };
        file.seek(SeekFrom::Start(from - before))?;
        self.window.clear();
        file.take(to - from + before)
            .read_to_end(&mut self.window)?;
        Ok(())
    }
}

/// The row of a number, in bytes that begin with a row or within one.
fn find(bytes: &[u8], begins: bool, seq: u64) -> Option<&[u8]> {
    let mut at = match begins {
        true => 0,
        false => chain::next_end(bytes, 0)?.0,
    };
    loop {
        let rest = &bytes[at..];
        let end = row_end(rest, 0)?;
        match number(rest) {
            Some((number, _)) if number == seq => return Some(&rest[..end]),
            Some((number, _)) if number > seq => return None,
            _ => at += end,
        }
    }
}
