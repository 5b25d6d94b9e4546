//! What rows say of rows in other pieces: each such row is read again, and what
//! its piece gave is set right.

use std::collections::{BTreeMap, BTreeSet};
use std::io;

use super::piece::{Piece, Verdict};
use super::{Gather, Scan};

/// What rows say of rows in pieces before theirs.
#[derive(Debug, Default)]
pub(super) struct Later {
    /// Those that are withdrawn.
    pub(super) withdrawn: BTreeSet<u64>,
    /// Those that may be judged again: by which, which.
    pub(super) judged: BTreeMap<u64, u64>,
}

impl Later {
    pub(super) fn append(&mut self, mut other: Self) {
        self.withdrawn.append(&mut other.withdrawn);
        self.judged.append(&mut other.judged);
    }
}

/// Finds rows by their numbers, a piece in memory at a time.
pub(super) struct Finder<'s> {
    scan: &'s Scan,
    /// Piece, its first number and its last.
    firsts: &'s [(usize, u64, u64)],
    piece: Piece,
    read: Option<usize>,
}

/// Which rows of different pieces judge which anew.
#[derive(Debug, Default)]
struct Anew {
    /// By which, which.
    of: BTreeMap<u64, u64>,
    /// Which, by which last.
    last: BTreeMap<u64, u64>,
}

impl<'s> Finder<'s> {
    pub(super) fn new(scan: &'s Scan, firsts: &'s [(usize, u64, u64)]) -> Self {
        Self {
            scan,
            firsts,
            piece: scan.piece(),
            read: None,
        }
    }

    /// Sets right what pieces gave without knowing of those behind them.
    /// Returns how many rows were withdrawn from another piece.
    pub(super) fn correct<G: Gather>(mut self, later: &Later, to: &mut G) -> io::Result<u64> {
        let gone = &later.withdrawn;
        let anew = self.anew(later)?;
        // Whatever a verdict stood for changes with it, up to the first row.
        let mut touched = BTreeSet::new();
        for row in gone.iter().chain(anew.of.keys()) {
            let mut row = *row;
            touched.insert(row);
            while let Some(of) = self.judges(row, &anew)? {
                touched.insert(of);
                row = of;
            }
        }
        let mut withdrawn = 0;
        for row in touched {
            let Some(piece) = self.at(row)? else { continue };
            let gave = piece.gives(row, &BTreeSet::new());
            withdrawn += u64::from(gone.contains(&row) && piece.holds(row));
            let stands = gave && piece.gives(row, gone) && !anew.of.contains_key(&row);
            let before = piece.verdict(row, &BTreeSet::new());
            let after = match stands {
                true => self.verdict(row, gone, &anew)?,
                false => None,
            };
            if let (Some(piece), true) = (self.at(row)?, gave) {
                match stands {
                    true => piece.amend(row, before.as_ref(), after.as_ref(), to),
                    false => piece.take_back(row, before.as_ref(), to),
                }
            }
        }
        Ok(withdrawn)
    }

    /// Which verdicts hold for rows of other pieces.
    fn anew(&mut self, later: &Later) -> io::Result<Anew> {
        let mut anew = Anew::default();
        for (by, of) in &later.judged {
            let place = match self.at(*by)? {
                Some(piece) if piece.gives(*by, &later.withdrawn) => piece.place(*by),
                _ => None,
            };
            let there = self.at(*of)?.and_then(|piece| piece.place(*of));
            if place.is_some() && place == there {
                anew.of.insert(*by, *of);
                anew.last.insert(*of, *by);
            }
        }
        Ok(anew)
    }

    /// The row that another judges anew.
    fn judges(&mut self, by: u64, anew: &Anew) -> io::Result<Option<u64>> {
        if let Some(of) = anew.of.get(&by) {
            return Ok(Some(*of));
        }
        Ok(self.at(by)?.and_then(|piece| piece.judges(by)))
    }

    /// The last verdict on a row; none: it stands as it was written.
    fn verdict(
        &mut self,
        row: u64,
        gone: &BTreeSet<u64>,
        anew: &Anew,
    ) -> io::Result<Option<Verdict>> {
        let (mut stands, mut verdict) = (row, None);
        loop {
            let by = anew.last.get(&stands).copied();
            let Some(piece) = self.at(stands)? else {
                return Ok(verdict);
            };
            let Some(by) = by.or_else(|| piece.judged_by(stands, gone)) else {
                return Ok(verdict);
            };
            stands = by;
            verdict = self.at(by)?.and_then(|piece| piece.given(by));
        }
    }

    /// The piece that would hold a row.
    fn at(&mut self, seq: u64) -> io::Result<Option<&mut Piece>> {
        let after = self.firsts.partition_point(|(_, first, _)| *first <= seq);
        let Some((at, ..)) = after.checked_sub(1).map(|at| self.firsts[at]) else {
            return Ok(None);
        };
        if self.read != Some(at) {
            let cut = &self.scan.cuts[at];
            self.piece.read(&self.scan.path(cut), cut)?;
            self.piece.note_later();
            self.read = Some(at);
        }
        Ok(Some(&mut self.piece))
    }
}
