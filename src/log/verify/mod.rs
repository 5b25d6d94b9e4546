//! Is the log whole: chain, numbers, header, grammar, months, and what was moved aside.
//!
//! Files are looked at in pieces side by side ([`piece`]); what does not hold
//! there is looked at row by row ([`file`]), which says what is wrong.
//!
//! The first row that is not as it was written is named by its `seq`; what
//! follows it is not looked at, since the chain says nothing there. A torn end
//! of the newest file is what a crash leaves and no fault: nobody was told of it.

mod damage;
mod file;
mod grammar;
mod piece;
#[cfg(test)]
mod tests;

use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

use serde::Serialize;

use super::chain::{self, Chain};
use super::files::{self, FileName};
use super::open::whole_row;
use super::{LogError, cells, io_error};
use crate::disk::Disk;
use crate::row::{Event, Recorded, RowError};
use file::{Found, Rows, torn_header};
use piece::{PIECE, Place};

/// How much of a file's beginning shows what saved it.
const BEGINNING: u64 = 64 * 1024;

/// What was found.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct LogReport {
    /// Files looked at.
    pub files: usize,
    /// Rows that hold.
    pub rows: u64,
    /// `SEQ:CHAIN` of the last one: keep it elsewhere for `--expect`.
    pub last: Option<String>,
    /// The first row that does not hold.
    pub first_bad: Option<BadRow>,
    /// Other things that are wrong.
    pub failures: Vec<String>,
    /// What is worth knowing and not wrong.
    pub remarks: Vec<String>,
}

/// A row and its chain, kept elsewhere: `SEQ:CHAIN` as reports and labels print it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Expect {
    /// The row's number.
    pub seq: u64,
    /// Its chain.
    pub chain: Chain,
}

/// Why a text is not an [`Expect`].
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("expected SEQ:CHAIN, a row's number and its 32 hexadecimal digits, found {found:?}")]
pub struct ExpectError {
    /// What stands there.
    pub found: String,
}

impl core::str::FromStr for Expect {
    type Err = ExpectError;

    fn from_str(text: &str) -> Result<Self, ExpectError> {
        let wrong = || ExpectError {
            found: text.to_owned(),
        };
        let (seq, chain) = text.trim().split_once(':').ok_or_else(wrong)?;
        let chain = chain.to_ascii_lowercase();
        match (seq.parse(), Chain::parse(chain.as_bytes())) {
            (Ok(seq), Some(chain)) => Ok(Self { seq, chain }),
            _ => Err(wrong()),
        }
    }
}

/// A row that is not as it was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BadRow {
    /// Its number.
    pub seq: u64,
    /// The file it is or should be in.
    pub file: String,
    /// What is wrong with it.
    pub why: String,
}

/// A row that holds, not built.
#[derive(Clone, Copy, Debug)]
pub struct Told<'a> {
    /// Its number.
    pub seq: u64,
    /// What it says happened.
    pub event: Event,
    /// Its bytes, line feed included.
    pub line: &'a [u8],
    /// The capture it names, as it stands in the file; empty: none.
    pub capture: &'a [u8],
    /// The ordinal of its input there.
    pub offset: Option<u64>,
}

impl Told<'_> {
    /// The whole row.
    ///
    /// # Errors
    /// None: it was looked at before.
    pub fn recorded(&self) -> Result<Recorded, RowError> {
        cells::recorded(self.line)
    }

    /// Its chain.
    pub fn chain(&self) -> Option<Chain> {
        let end = self.line.len().checked_sub(1)?;
        Chain::parse(self.line.get(end - chain::DIGITS..end)?)
    }
}

/// Checks the log in `DATA/log`; each row that holds is given to `each`. `done`
/// counts bytes for whoever shows progress.
///
/// # Errors
/// The disk refuses.
pub fn verify<D: Disk>(
    disk: &D,
    dir: &Path,
    expect: &[Expect],
    done: &AtomicU64,
    each: &mut impl FnMut(&Told<'_>),
) -> Result<LogReport, LogError> {
    in_pieces(disk, dir, expect, PIECE, done, each)
}

fn in_pieces<D: Disk>(
    disk: &D,
    dir: &Path,
    expect: &[Expect],
    size: u64,
    done: &AtomicU64,
    each: &mut impl FnMut(&Told<'_>),
) -> Result<LogReport, LogError> {
    let mut report = LogReport::default();
    let mut found: Vec<Option<Chain>> = vec![None; expect.len()];
    let mut each = |told: &Told<'_>| {
        for (expect, found) in expect.iter().zip(&mut found) {
            if expect.seq == told.seq {
                *found = told.chain();
            }
        }
        each(told);
    };
    let names = FileName::list(disk, dir).map_err(io_error("list", dir))?;
    let mut log = Log {
        disk,
        dir,
        size,
        done,
        place: Place {
            at: 0,
            rows: 0,
            chain: Chain::START,
        },
    };
    for (n, name) in names.iter().enumerate() {
        let newest = n + 1 == names.len();
        report.first_bad = log.file(name, newest, &mut report.remarks, &mut each)?;
        report.files += 1;
        if report.first_bad.is_some() {
            break;
        }
    }
    report.rows = log.place.rows;
    report.last = (report.rows > 0).then(|| format!("{}:{}", report.rows, log.place.chain));
    if report.first_bad.is_none() {
        for (expect, found) in expect.iter().zip(&found) {
            report.expected(expect, found.as_ref());
        }
    }
    not_the_logs(disk, dir, &mut report)?;
    moved_aside(disk, dir, &mut report)?;
    Ok(report)
}

impl LogReport {
    /// Sets a row that was kept elsewhere beside the log's.
    fn expected(&mut self, expect: &Expect, found: Option<&Chain>) {
        let Expect { seq, chain } = expect;
        match found {
            Some(found) if found == chain => {
                self.remarks
                    .push(format!("row {seq} has the chain that was expected"));
            }
            Some(found) => self.failures.push(format!(
                "row {seq}: expected the chain {chain}, found {found}: the log was written anew up to here, or is another one"
            )),
            None => self.failures.push(format!(
                "expected row {seq}, found {} rows: the log's end was cut off, or it is another one",
                self.rows
            )),
        }
    }
}

/// A log on its way from the first row to the last.
struct Log<'a, D: Disk> {
    disk: &'a D,
    dir: &'a Path,
    /// Bytes of a piece.
    size: u64,
    done: &'a AtomicU64,
    place: Place,
}

impl<D: Disk> Log<'_, D> {
    /// Checks one file: the first row that does not hold, if there is one.
    fn file(
        &mut self,
        name: &FileName,
        newest: bool,
        remarks: &mut Vec<String>,
        each: &mut impl FnMut(&Told<'_>),
    ) -> Result<Option<BadRow>, LogError> {
        let path = self.dir.join(name.to_string());
        let read = |from, most| {
            let read = self.disk.read(&path, from, most);
            read.map_err(io_error("read", &path))
        };
        let len = self.disk.len(&path).map_err(io_error("read", &path))?;
        let header = files::header();
        let beginning = read(0, BEGINNING)?;
        let mut rows = Rows {
            name,
            newest,
            place: Place {
                at: header.len() as u64,
                ..self.place
            },
        };
        if !beginning.starts_with(header.as_bytes()) {
            if newest && torn_header(&beginning, header.as_bytes()) {
                remarks.push(format!("{name}: a crash came before its first row"));
                return Ok(None);
            }
            let why = "the file's first line is not the log's header";
            let why = format!("{why}{}", damage::hints(&beginning));
            return Ok(Some(rows.bad(rows.place.rows + 1, why)));
        }
        let threads = std::thread::available_parallelism().map_or(1, core::num::NonZero::get);
        while rows.place.at < len {
            let before = rows.place.at;
            let cuts = piece::cuts(before, len, self.size, threads);
            let of = (path.as_path(), name.month.as_str());
            for piece in piece::look(self.disk, of, rows.place, &cuts, threads)? {
                if !piece.follows(rows.place) {
                    break;
                }
                piece.each(each);
                rows.place = piece.ends;
            }
            let window = match rows.place.at == before {
                true => read(before, file::WINDOW)?,
                false => Vec::new(),
            };
            match rows.look(&window, each) {
                Found::Hold => {}
                Found::Torn(bytes) => {
                    remarks.push(format!(
                        "{name}: the last {bytes} bytes are not a whole row: a crash cut them short before anybody was told of them; the next start moves them aside"
                    ));
                    break;
                }
                Found::Bad { mut bad, changed } => {
                    if changed {
                        bad.why += &damage::hints(&beginning);
                    }
                    self.place = rows.place;
                    return Ok(Some(bad));
                }
            }
            self.done
                .fetch_add(rows.place.at - before, Ordering::Relaxed);
        }
        self.place = rows.place;
        Ok(None)
    }
}

/// Names what starts after a crash moved aside. A whole row among it was not
/// torn but changed.
/// Tables beside the log's files that are none of them, such as a copy that
/// somebody edited.
fn not_the_logs<D: Disk>(disk: &D, dir: &Path, report: &mut LogReport) -> Result<(), LogError> {
    let is_table = |name: &str| {
        let ending = name
            .rsplit_once('.')
            .map(|(_, ending)| ending.to_lowercase());
        matches!(
            ending.as_deref(),
            Some("csv" | "xlsx" | "xls" | "ods" | "numbers")
        )
    };
    let names = disk.list(dir).map_err(io_error("list", dir))?;
    let strangers = names
        .iter()
        .filter(|name| is_table(name) && FileName::parse(name).is_none());
    report.remarks.extend(
        strangers.map(|name| format!("{name} is no file of this log and was not looked at")),
    );
    Ok(())
}

fn moved_aside<D: Disk>(disk: &D, dir: &Path, report: &mut LogReport) -> Result<(), LogError> {
    let torn = dir.join("torn");
    for name in disk.list(&torn).map_err(io_error("list", &torn))? {
        let path = torn.join(&name);
        let bytes = disk
            .read(&path, 0, u64::MAX)
            .map_err(io_error("read", &path))?;
        if whole_row(&bytes) {
            let seq = chain::seq_of(&bytes).unwrap_or_default();
            report.failures.push(format!(
                "torn/{name} begins with a whole row {seq} whose chain does not hold: it was changed, not cut short by a crash"
            ));
        } else {
            report.remarks.push(format!(
                "torn/{name}: {} bytes that a crash cut short, moved aside at a start",
                bytes.len()
            ));
        }
    }
    Ok(())
}
