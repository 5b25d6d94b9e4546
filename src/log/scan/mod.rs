//! The whole log gone through once, a piece at a time, on every core.
//!
//! A *piece* is the rows that begin in a stretch of a file. A row is not built:
//! a [`Line`] knows where its cells lie. What was withdrawn is left out, and a
//! row that was judged again stands with its last verdict, in its own place and
//! time, also where the later row stands in another piece: so nothing counts
//! twice, and nothing as it was first thought. Whether the log is whole is not asked
//! here (`verify` asks it); what cannot be a row, and a number out of order, is
//! counted and named, never guessed at.
//!
//! Never here: a file held whole, an answer that depends on which thread read what.

mod cells;
mod later;
mod piece;
#[cfg(test)]
mod tests;

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};

use super::files::{self, FileName};
use crate::disk::{Disk as _, RealDisk};
pub(super) use cells::Ends;
pub use cells::column;
use later::Later;
use piece::{Cut, Piece};

/// Bytes of a piece (own: it and its rows stay in a core's cache).
const PIECE: u64 = 1 << 20;

/// A row, not built.
#[derive(Clone, Copy, Debug)]
pub struct Line<'a> {
    /// Its number.
    pub seq: u64,
    /// Its bytes, line feed included: as it was written, whatever came later.
    pub bytes: &'a [u8],
    ends: &'a Ends,
    later: Option<Standing<'a>>,
}

/// A later verdict on a row, and its finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Standing<'a> {
    verdict: &'a [u8],
    finding: &'a [u8],
}

impl<'a> Line<'a> {
    /// A cell as it stands in the file, its quotes with it; only up to the last
    /// column that was asked for. Verdict and finding are the last ones given.
    pub fn cell(&self, column: usize) -> &'a [u8] {
        match (column, self.later) {
            (column::VERDICT, Some(later)) => later.verdict,
            (column::FINDING, Some(later)) => later.finding,
            _ => &self.bytes[self.ends.range(column)],
        }
    }

    /// What stands behind a cell and its comma, as it was written.
    pub fn behind(&self, column: usize) -> &'a [u8] {
        let from = self.ends.range(column).end + 1;
        self.bytes.get(from..).unwrap_or_default()
    }
}

/// A cell without its quotes.
pub fn plain(raw: &[u8]) -> std::borrow::Cow<'_, [u8]> {
    let Some(inside) = raw.strip_prefix(b"\"") else {
        return raw.into();
    };
    let inside = inside.strip_suffix(b"\"").unwrap_or(inside);
    let mut cell = Vec::with_capacity(inside.len());
    let mut quoted = false;
    for byte in inside {
        quoted = *byte == b'"' && !quoted;
        if !quoted {
            cell.push(*byte);
        }
    }
    cell.into()
}

/// What is gathered from rows, by each thread for itself.
pub trait Gather: Send {
    /// The last column that is looked at.
    fn last_column(&self) -> usize;
    /// Whether rows of an event are looked at.
    fn wants(&self, event: &[u8]) -> bool;
    /// A row that counts.
    fn row(&mut self, line: &Line<'_>);
    /// A row that was given before does not count, or not as it was given.
    fn take_back(&mut self, line: &Line<'_>);
    /// A row that was given before stands with another verdict.
    fn amend(&mut self, before: &Line<'_>, after: &Line<'_>) {
        self.take_back(before);
        self.row(after);
    }
    /// What another thread gathered.
    fn merge(&mut self, other: Self);
}

/// How a log was gone through.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// Rows.
    pub rows: u64,
    /// Rows that were withdrawn.
    pub withdrawn: u64,
    /// Lines that are not rows, and rows that do not follow the one before.
    pub odd: u64,
    /// Where the first of those stands: file and number that was expected.
    pub first_odd: Option<(String, u64)>,
}

/// The files of a log, cut into pieces.
#[derive(Debug)]
pub struct Scan {
    dir: PathBuf,
    names: Vec<FileName>,
    cuts: Vec<Cut>,
    /// All bytes.
    pub bytes: u64,
    beside: Option<Beside>,
}

/// How a log is gone through that is being written by the same program.
#[derive(Clone, Debug)]
pub struct Beside {
    /// The last row that counts: those behind it may still be lost. None: all count.
    pub last: Option<u64>,
    /// Set by whoever does not want the answer any more.
    pub stop: Arc<AtomicBool>,
}

impl Scan {
    /// Looks at which files there are in `DATA/log`.
    ///
    /// # Errors
    /// The disk's own.
    pub fn open(dir: &Path) -> io::Result<Self> {
        Self::cut(dir, PIECE)
    }

    fn cut(dir: &Path, size: u64) -> io::Result<Self> {
        let names = FileName::list(&RealDisk, dir)?;
        let mut cuts = Vec::new();
        let mut bytes = 0;
        for (file, name) in names.iter().enumerate() {
            let path = dir.join(name.to_string());
            let len = RealDisk.len(&path).map_err(named(&path))?;
            bytes += len;
            let header = files::header();
            let first = RealDisk.read(&path, 0, header.len() as u64);
            let first = first.map_err(named(&path))? == header.as_bytes();
            let begin = if first { header.len() as u64 } else { 0 };
            let mut from = begin;
            while from < len {
                let to = len.min(from + size);
                cuts.push(Cut {
                    file,
                    first: from == begin,
                    from,
                    to,
                    len,
                });
                from = to;
            }
        }
        Ok(Self {
            dir: dir.to_owned(),
            names,
            cuts,
            bytes,
            beside: None,
        })
    }

    /// The same, beside other work: a core is left to it.
    #[must_use]
    pub fn beside(self, beside: Beside) -> Self {
        Self {
            beside: Some(beside),
            ..self
        }
    }

    /// Goes through all rows. `done` counts bytes for whoever shows progress.
    ///
    /// # Errors
    /// The disk's own; [`io::ErrorKind::Interrupted`] where it was stopped.
    pub fn gather<G: Gather>(
        &self,
        done: &AtomicU64,
        make: impl Fn() -> G + Sync,
    ) -> io::Result<(G, Seen)> {
        let cores = std::thread::available_parallelism().map_or(1, core::num::NonZero::get);
        let threads = match self.beside {
            Some(_) => cores.saturating_sub(1).max(1),
            None => cores,
        };
        let next = AtomicUsize::new(0);
        let parts = std::thread::scope(|scope| {
            let work = || self.some(&next, done, make());
            let threads: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
            let join = |thread: std::thread::ScopedJoinHandle<'_, _>| {
                thread
                    .join()
                    .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            };
            threads
                .into_iter()
                .map(join)
                .collect::<io::Result<Vec<Part<G>>>>()
        })?;
        self.joined(parts, make())
    }

    /// What one thread takes.
    fn some<G: Gather>(
        &self,
        next: &AtomicUsize,
        done: &AtomicU64,
        gathered: G,
    ) -> io::Result<Part<G>> {
        let mut part = Part {
            gathered,
            firsts: Vec::new(),
            seen: Seen::default(),
            odd: Vec::new(),
            later: Later::default(),
        };
        let mut piece = self.piece();
        loop {
            if self.is_stopped() {
                return Err(io::ErrorKind::Interrupted.into());
            }
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(cut) = self.cuts.get(at) else {
                return Ok(part);
            };
            let path = self.path(cut);
            piece.read(&path, cut).map_err(named(&path))?;
            part.take(at, &mut piece);
            done.fetch_add(cut.to - cut.from, Ordering::Relaxed);
        }
    }

    /// The threads' parts as one, with what pieces say of rows before theirs.
    fn joined<G: Gather>(&self, parts: Vec<Part<G>>, mut gathered: G) -> io::Result<(G, Seen)> {
        let mut seen = Seen::default();
        let (mut firsts, mut odd, mut later) = (Vec::new(), Vec::new(), Later::default());
        for part in parts {
            gathered.merge(part.gathered);
            seen.rows += part.seen.rows;
            seen.withdrawn += part.seen.withdrawn;
            seen.odd += part.seen.odd;
            firsts.extend(part.firsts);
            odd.extend(part.odd);
            later.append(part.later);
        }
        firsts.sort_unstable();
        seen.withdrawn += later::correct(self, &firsts, later, &mut gathered)?;
        // Where a piece begins another number than the one before it ended with.
        let mut expected = 1;
        for (at, first, last) in &firsts {
            if *first != expected {
                seen.odd += 1;
                odd.push((*at, expected));
            }
            expected = last + 1;
        }
        let first_odd = odd.into_iter().min();
        seen.first_odd =
            first_odd.map(|(at, seq)| (self.names[self.cuts[at].file].to_string(), seq));
        Ok((gathered, seen))
    }

    fn piece(&self) -> Piece {
        let last = self.beside.as_ref().and_then(|beside| beside.last);
        Piece::until(last.unwrap_or(u64::MAX))
    }

    fn is_stopped(&self) -> bool {
        let beside = self.beside.as_ref();
        beside.is_some_and(|beside| beside.stop.load(Ordering::Relaxed))
    }

    fn path(&self, cut: &Cut) -> PathBuf {
        self.dir.join(self.names[cut.file].to_string())
    }
}

/// A disk's refusal with the file's name before it.
fn named(path: &Path) -> impl Fn(io::Error) -> io::Error {
    let name = path.display().to_string();
    move |e| io::Error::new(e.kind(), format!("{name}: {e}"))
}

/// What one thread gathered.
struct Part<G> {
    gathered: G,
    /// Piece, its first number and its last.
    firsts: Vec<(usize, u64, u64)>,
    seen: Seen,
    /// Piece and the number that was expected.
    odd: Vec<(usize, u64)>,
    later: Later,
}

impl<G: Gather> Part<G> {
    fn take(&mut self, at: usize, piece: &mut Piece) {
        let seen = piece.rows(&mut self.gathered, &mut self.later);
        self.seen.rows += seen.rows;
        self.seen.withdrawn += seen.withdrawn;
        self.seen.odd += seen.odd;
        if let Some(expected) = seen.first_odd {
            self.odd.push((at, expected));
        }
        if let Some((first, last)) = seen.numbers {
            self.firsts.push((at, first, last));
        }
    }
}
