//! Pieces of a file, checked side by side: a row's chain needs only the text of
//! the chain before it, and that stands in the file.
//!
//! A piece that holds in every way is taken over if it begins where the one
//! before it ended. Any other is looked at row by row, in [`super::file`]: only
//! there is said what is wrong.

use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::super::chain::{self, Chain, DIGITS};
use super::super::scan::Ends;
use super::super::{LogError, io_error};
use super::Told;
use super::grammar::{Glance, glance};
use crate::disk::Disk;

/// Bytes of a piece (own: it stays in a core's cache).
pub(super) const PIECE: u64 = 1 << 20;
/// Pieces that are in memory at once, for each thread.
const AHEAD: usize = 6;
/// `,CHAIN\n`: what a row ends with.
const END: u64 = DIGITS as u64 + 2;
/// How much is read beyond a piece for its last row.
const BEYOND: u64 = 16 * 1024;

/// A stretch of a file; rows that begin in it are its own.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cut {
    pub(super) from: u64,
    pub(super) to: u64,
}

/// Where one is in the log: the next row's place, number, and the chain before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) at: u64,
    pub(super) rows: u64,
    pub(super) chain: Chain,
}

/// A piece that was looked at.
#[derive(Debug)]
pub(super) struct Piece {
    bytes: Vec<u8>,
    rows: Vec<(usize, Glance)>,
    /// Where it begins; none: no row begins in it, or one does not hold.
    begins: Option<Place>,
    /// Where the next one begins.
    pub(super) ends: Place,
}

impl Piece {
    /// Whether every row holds, and follows what comes before.
    pub(super) fn follows(&self, place: Place) -> bool {
        self.begins == Some(place)
    }

    /// Gives out its rows.
    pub(super) fn each(&self, each: &mut impl FnMut(&Told<'_>)) {
        for (at, glance) in &self.rows {
            let line = &self.bytes[*at..at + glance.len];
            each(&Told {
                seq: glance.seq,
                event: glance.event,
                line,
                capture: &line[glance.capture.clone()],
                offset: glance.offset,
            });
        }
    }
}

/// As many pieces from a place on as are looked at side by side.
pub(super) fn cuts(from: u64, len: u64, size: u64, threads: usize) -> Vec<Cut> {
    let mut cuts = Vec::new();
    let mut at = from;
    while at < len && cuts.len() < threads * AHEAD {
        let to = len.min(at + size);
        cuts.push(Cut { from: at, to });
        at = to;
    }
    cuts
}

/// Looks at all of them, in their order.
pub(super) fn look<D: Disk>(
    disk: &D,
    (path, month): (&Path, &str),
    place: Place,
    cuts: &[Cut],
    threads: usize,
) -> Result<Vec<Piece>, LogError> {
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, Result<Piece, LogError>)>> = Mutex::new(Vec::new());
    let work = || loop {
        let at = next.fetch_add(1, Ordering::Relaxed);
        let Some(cut) = cuts.get(at) else { return };
        let first = (at == 0).then_some(place);
        let piece = one(disk, path, month.as_bytes(), *cut, first);
        let mut done = done
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        done.push((at, piece));
    };
    std::thread::scope(|scope| {
        for _ in 1..threads.min(cuts.len()) {
            scope.spawn(work);
        }
        work();
    });
    let mut done = done
        .into_inner()
        .unwrap_or_else(std::sync::PoisonError::into_inner);
    done.sort_by_key(|(at, _)| *at);
    done.into_iter().map(|(_, piece)| piece).collect()
}

/// Looks at one. `first`: the place where it begins, if that is known; else
/// the row before says its chain, and its first row its number.
fn one<D: Disk>(
    disk: &D,
    path: &Path,
    month: &[u8],
    cut: Cut,
    first: Option<Place>,
) -> Result<Piece, LogError> {
    let before = if first.is_some() {
        0
    } else {
        cut.from.min(END)
    };
    let base = cut.from - before;
    let read = |most| disk.read(path, base, most).map_err(io_error("read", path));
    let bytes = read(cut.to - base + BEYOND)?;
    let mut piece = Piece {
        bytes,
        rows: Vec::new(),
        begins: None,
        ends: Place {
            at: cut.to,
            rows: 0,
            chain: Chain::START,
        },
    };
    let begins = first.or_else(|| {
        let (end, chain) = chain::next_end(&piece.bytes, 0)?;
        let seq = chain::seq_of(&piece.bytes[end..])?;
        Some(Place {
            at: base + end as u64,
            rows: seq.checked_sub(1)?,
            chain,
        })
    });
    if let Some(place) = begins
        && let Some(ends) = piece.hold(place, base, cut.to, month)
    {
        (piece.begins, piece.ends) = (begins, ends);
    }
    Ok(piece)
}

impl Piece {
    /// Where the next piece begins, if every row up to there holds.
    fn hold(&mut self, begins: Place, base: u64, to: u64, month: &[u8]) -> Option<Place> {
        let from = usize::try_from(begins.at - base).ok()?;
        // A row that is cut off here, or is not UTF-8, does not end in what is left.
        let valid = match core::str::from_utf8(&self.bytes[from..]) {
            Ok(text) => from + text.len(),
            Err(e) => from + e.valid_up_to(),
        };
        let (bytes, rows) = (&self.bytes[..valid], &mut self.rows);
        let mut ends = Ends::new();
        let (mut at, mut place) = (from, begins);
        while place.at < to {
            let glance = glance(&bytes[at..], &mut ends, month)?;
            let end = at + glance.len;
            let chain = place.chain.next(&bytes[at..end - DIGITS - 1]);
            let written = Chain::parse(&bytes[end - DIGITS - 1..end - 1])?;
            if chain != written || glance.seq != place.rows + 1 {
                return None;
            }
            rows.push((at, glance));
            at = end;
            place = Place {
                at: base + at as u64,
                rows: place.rows + 1,
                chain,
            };
        }
        Some(place)
    }
}
