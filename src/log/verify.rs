//! Is the log whole: chain, numbers, header, grammar, months, and what was moved aside.
//!
//! The first row that is not as it was written is named by its `seq`; what
//! follows it is not looked at, since the chain says nothing there. A torn end
//! of the newest file is what a crash leaves and no fault: nobody was told of it.

use std::path::Path;

use serde::Serialize;

use super::cells;
use super::chain::{self, Chain, DIGITS};
use super::files::{self, FileName};
use super::open::{TAIL, whole_row};
use super::{LogError, io_error};
use crate::disk::Disk;
use crate::row::Recorded;

/// Zeros that a crash leaves end where a sector ends.
const SECTOR: usize = 512;

/// What was found.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct LogReport {
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

/// Checks the log in `DATA/log`; each row that holds is given to `each`.
///
/// # Errors
/// The disk refuses.
pub fn verify<D: Disk>(
    disk: &D,
    dir: &Path,
    expect: Option<Expect>,
    each: &mut impl FnMut(&Recorded),
) -> Result<LogReport, LogError> {
    let mut report = LogReport::default();
    let mut chain = Chain::START;
    let mut expected_chain = None;
    let names = FileName::list(disk, dir).map_err(io_error("list", dir))?;
    for (n, name) in names.iter().enumerate() {
        let path = dir.join(name.to_string());
        let bytes = disk
            .read(&path, 0, u64::MAX)
            .map_err(io_error("read", &path))?;
        let mut file = Checked {
            name,
            bytes: &bytes,
            newest: n + 1 == names.len(),
        };
        let bad = file.check(&mut report, &mut chain, &mut |recorded| {
            if expect.is_some_and(|e| e.seq == recorded.seq) {
                expected_chain = Some(recorded.chain.clone());
            }
            each(recorded);
        });
        if bad.is_some() {
            report.first_bad = bad;
            break;
        }
    }
    report.last = (report.rows > 0).then(|| format!("{}:{chain}", report.rows));
    if let (Some(Expect { seq, chain: wanted }), None) = (expect, &report.first_bad) {
        match expected_chain {
            Some(found) if found == wanted.as_str() => {
                report.remarks.push(format!("row {seq} has the chain that was expected"));
            }
            Some(found) => report.failures.push(format!(
                "row {seq}: expected the chain {wanted}, found {found}: the log was written anew up to here, or is another one"
            )),
            None => report.failures.push(format!(
                "expected row {seq}, found {} rows: the log's end was cut off, or it is another one",
                report.rows
            )),
        }
    }
    moved_aside(disk, dir, &mut report)?;
    Ok(report)
}

/// A file being checked.
struct Checked<'a> {
    name: &'a FileName,
    bytes: &'a [u8],
    newest: bool,
}

impl Checked<'_> {
    fn check(
        &mut self,
        report: &mut LogReport,
        chain: &mut Chain,
        each: &mut impl FnMut(&Recorded),
    ) -> Option<BadRow> {
        let header = files::header();
        let Some(body) = self.bytes.strip_prefix(header.as_bytes()) else {
            if self.newest && torn_header(self.bytes, header.as_bytes()) {
                report
                    .remarks
                    .push(format!("{}: a crash came before its first row", self.name));
                return None;
            }
            let why = format!(
                "the file's first line is not the log's header{}",
                self.hints()
            );
            return Some(self.bad(report.rows + 1, why));
        };
        let mut at = 0;
        while at < body.len() {
            let seq = report.rows + 1;
            let Some((end, next)) = chain::holding(body, at, chain) else {
                let rest = &body[at..];
                if self.newest && torn(rest, header.len() + at, chain) {
                    report.remarks.push(format!(
                        "{}: the last {} bytes are not a whole row: a crash cut them short before anybody was told of them; the next start moves them aside",
                        self.name,
                        rest.len()
                    ));
                    return None;
                }
                let (seq, why) = diagnose(rest, seq);
                return Some(self.bad(seq, format!("{why}{}", self.hints())));
            };
            match self.read(&body[at..end], seq) {
                Ok(recorded) => each(&recorded),
                Err(why) => return Some(self.bad(seq, why)),
            }
            report.rows = seq;
            (at, *chain) = (end, next);
        }
        None
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

    fn bad(&self, seq: u64, why: String) -> BadRow {
        BadRow {
            seq,
            file: self.name.to_string(),
            why,
        }
    }

    /// What a spreadsheet or editor left behind when it saved the file.
    fn hints(&self) -> String {
        let text = String::from_utf8_lossy(&self.bytes[..self.bytes.len().min(64 * 1024)]);
        let mut signs = Vec::new();
        if text.starts_with('\u{feff}') {
            signs.push("a byte-order mark at its start");
        }
        if text.contains("\r\n") {
            signs.push("line ends of carriage return and line feed");
        }
        if text.starts_with("seq;") || text.starts_with("\u{feff}seq;") {
            signs.push("semicolons between cells");
        }
        if text.trim_start_matches('\u{feff}').starts_with("\"seq\"") {
            signs.push("quotes around every cell");
        }
        if text.lines().any(decimal_comma) {
            signs.push("commas as decimal marks");
        }
        match signs.is_empty() {
            true => String::new(),
            false => format!(
                " (the file has {}: it was saved by a spreadsheet or editor; take it back from a copy)",
                signs.join(", ")
            ),
        }
    }
}

/// Whether a line holds a cell such as `"12,5"` or, between semicolons, `12,5`.
fn decimal_comma(line: &str) -> bool {
    let number = |cell: &str| {
        cell.split_once(',').is_some_and(|(a, b)| {
            [a, b]
                .iter()
                .all(|d| !d.is_empty() && d.bytes().all(|b| b.is_ascii_digit()))
        })
    };
    line.split('"').skip(1).step_by(2).any(number)
        || (line.contains(';') && line.split(';').any(number))
}

fn torn_header(bytes: &[u8], header: &[u8]) -> bool {
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
        Some(seq) if seq > expected => (
            expected,
            format!("it is missing: row {seq} follows row {}", expected - 1),
        ),
        Some(seq) => (seq, format!("it stands where row {expected} should be")),
        None => (
            expected,
            String::from("what stands in its place is not a row"),
        ),
    }
}

/// Names what starts after a crash moved aside. A whole row among it was not
/// torn but changed.
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
