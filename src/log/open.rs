//! Opening the log: what is there, and what a crash left at its end.
//!
//! The tail is what follows the last row whose chain holds. Up to 1 MiB of it
//! is copied to `torn/`, synced, then cut; a kill in between repeats it. A row
//! never holds a zero byte, so zeros mark sectors that a crash left unwritten:
//! whole rows behind them belong to the same batch, which nobody was told of,
//! and go with it. A changed row without zeros behind which others hold is not
//! a tail: it stays for `verify` to name.
//! Larger damage, and a file whose header is not ours, is left as it is and a
//! new file begins. Nothing is repaired in files before the newest.

use std::io;
use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::back::backwards;
use super::cells::{cells, recorded};
use super::chain::{self, Chain, LastRow};
use super::files::{self, FileName};
use super::{Log, LogError, io_error};
use crate::bench::Checks;
use crate::disk::Disk;
use crate::row::{Event, Recorded};
use crate::stamp::Wall;

/// How much of a file's end is read at start, and the most that is moved aside.
pub const TAIL: u64 = 1024 * 1024;

/// What was found at opening.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenedLog {
    /// `seq` of the next row.
    pub next_seq: u64,
    /// The chain of the last row, 32 zeros before the first.
    pub chain: String,
    /// Which log this is, from its first `run_start`; none: it has no rows yet.
    pub log_id: Option<String>,
    /// What was wrong with it, one sentence each.
    pub repaired: Vec<String>,
    /// Rows of jobs that have no end yet, in order, as CSV lines. Only jobs
    /// of the two newest files are looked at: an older one is not gone on with.
    pub unfinished: Vec<String>,
    /// Rows of checks of meters that still count, in order, as CSV lines:
    /// those of each meter's last check, and what failed and was not made up
    /// for. All files are looked at: a meter that failed long ago still did.
    pub proved: Vec<String>,
    /// The capture that the last rows name.
    pub last_capture: Option<String>,
    /// The month of the newest file.
    pub last_month: Option<String>,
}

/// What the end of a file says.
struct Tail {
    chain: Chain,
    next_seq: u64,
    state: TailState,
}

enum TailState {
    /// Ends with a whole row or the header.
    Whole,
    /// What follows this offset is torn.
    Torn(u64),
    /// Not to be touched, and why.
    Damaged(&'static str),
}

impl<D: Disk> Log<D> {
    /// Opens the log in `DATA/log`, created if missing, and repairs its tail.
    ///
    /// # Errors
    /// The disk refuses: never taken for a broken tail.
    pub fn open(dir: &Path, disk: D) -> Result<(Self, OpenedLog), LogError> {
        disk.create_dirs(dir).map_err(io_error("create", dir))?;
        let files = FileName::list(&disk, dir).map_err(io_error("list", dir))?;
        let tail = tail(&disk, dir, &files)?;
        let mut repaired = Vec::new();
        let mut headless = false;
        if let Some(newest) = files.last() {
            match &tail.state {
                TailState::Whole => {
                    let path = dir.join(newest.to_string());
                    headless = disk.len(&path).map_err(io_error("read", &path))? == 0;
                }
                TailState::Torn(from) => {
                    let last = tail.next_seq - 1;
                    repaired.push(move_aside(&disk, dir, newest, *from, last)?);
                    headless = *from == 0;
                }
                TailState::Damaged(why) => {
                    repaired.push(format!(
                        "{newest}: {why}; it was left as it is and a new file begins"
                    ));
                }
            }
        }
        let opened = OpenedLog {
            next_seq: tail.next_seq,
            chain: tail.chain.to_string(),
            repaired,
            last_month: files.last().map(|f| f.month.clone()),
            ..recent(&disk, dir, &files)?
        };
        let begin_new = matches!(tail.state, TailState::Damaged(_));
        // Opened now, so that a file that cannot be written stops the start and not the first row.
        let file = match files.last().filter(|_| !begin_new) {
            Some(newest) => {
                let path = dir.join(newest.to_string());
                Some(disk.open(&path).map_err(io_error("open", &path))?)
            }
            None => None,
        };
        let log = Self {
            disk,
            dir: dir.to_owned(),
            newest: files.last().cloned(),
            file,
            begin_new,
            headless,
            new_name: false,
            next_seq: tail.next_seq,
            chain: tail.chain,
            buffer: String::new(),
            broken: None,
        };
        Ok((log, opened))
    }
}

/// What the newest of `files` ends with; asks the files before it only when it
/// holds no row that can be checked alone.
fn tail<D: Disk>(disk: &D, dir: &Path, files: &[FileName]) -> Result<Tail, LogError> {
    let Some((newest, before)) = files.split_last() else {
        return Ok(Tail {
            chain: Chain::START,
            next_seq: 1,
            state: TailState::Whole,
        });
    };
    let path = dir.join(newest.to_string());
    let read = io_error("read", &path);
    let len = disk.len(&path).map_err(io_error("read", &path))?;
    let from = len.saturating_sub(TAIL);
    let bytes = disk.read(&path, from, u64::MAX).map_err(read)?;
    let header = files::header();
    let begin = if from == 0 { header.len() } else { 0 };
    if from == 0 && !bytes.starts_with(header.as_bytes()) {
        let earlier = tail(disk, dir, before)?;
        let torn = bytes.iter().position(|b| *b == 0).unwrap_or(bytes.len());
        let state = if bytes.is_empty() {
            TailState::Whole
        } else if header.as_bytes().starts_with(&bytes[..torn]) {
            TailState::Torn(0)
        } else {
            return damaged(
                disk,
                &path,
                earlier,
                "its first line is not the log's header",
            );
        };
        return Ok(Tail { state, ..earlier });
    }
    let body = &bytes[begin..];
    let written = &body[..body.iter().position(|b| *b == 0).unwrap_or(body.len())];
    if let Some(last) = chain::last_holding(written, None) {
        return Ok(after(body, from + begin as u64, last));
    }
    let earlier = tail(disk, dir, before)?;
    if from > 0 {
        let why = "no row in its last 1 MiB follows the one before it";
        return damaged(disk, &path, earlier, why);
    }
    if let Some(last) = chain::last_holding(written, Some(&earlier.chain)) {
        return Ok(after(body, begin as u64, last));
    }
    let state = if body.is_empty() {
        TailState::Whole
    } else if whole_row(body) {
        let why = "its first row does not follow the last row of the file before it";
        return damaged(disk, &path, earlier, why);
    } else {
        TailState::Torn(begin as u64)
    };
    Ok(Tail { state, ..earlier })
}

fn after(body: &[u8], offset: u64, last: LastRow) -> Tail {
    let seq = chain::seq_of(&body[last.begin..]).unwrap_or_default();
    let state = if last.end == body.len() {
        TailState::Whole
    } else {
        TailState::Torn(offset + last.end as u64)
    };
    Tail {
        chain: last.chain,
        next_seq: seq + 1,
        state,
    }
}

/// Whether the bytes begin with a line that reads as a row, whatever its chain.
pub(super) fn whole_row(bytes: &[u8]) -> bool {
    let Some((end, _)) = chain::next_end(bytes, 0) else {
        return false;
    };
    recorded(&bytes[..end]).is_ok()
}

/// Copies what follows `from` to `torn/`, then cuts it off.
fn move_aside<D: Disk>(
    disk: &D,
    dir: &Path,
    name: &FileName,
    from: u64,
    last_seq: u64,
) -> Result<String, LogError> {
    let path = dir.join(name.to_string());
    let bytes = disk
        .read(&path, from, u64::MAX)
        .map_err(io_error("read", &path))?;
    let torn = dir.join("torn");
    disk.create_dirs(&torn).map_err(io_error("create", &torn))?;
    let copy = free_name(disk, &torn, name, from, &bytes)?;
    let target = torn.join(&copy);
    let mut file = disk.create(&target).map_err(io_error("create", &target))?;
    disk.append(&mut file, &bytes)
        .map_err(io_error("write", &target))?;
    disk.sync(&file).map_err(io_error("sync", &target))?;
    disk.sync_dir(&torn)
        .map_err(io_error("sync the folder", &torn))?;
    disk.cut(&path, from).map_err(io_error("cut", &path))?;
    Ok(format!(
        "{name}: the {} bytes after row {last_seq} were not a whole row of the chain and were moved to torn/{copy}",
        bytes.len()
    ))
}

/// A name in `torn/`. A copy that a kill left half made is removed and made again.
fn free_name<D: Disk>(
    disk: &D,
    torn: &Path,
    name: &FileName,
    from: u64,
    bytes: &[u8],
) -> Result<String, LogError> {
    let there = disk.list(torn).map_err(io_error("list", torn))?;
    let mut copy = format!("{name}.{from}");
    let mut part = 1;
    while there.contains(&copy) {
        let path = torn.join(&copy);
        let old = disk
            .read(&path, 0, u64::MAX)
            .map_err(io_error("read", &path))?;
        if bytes.starts_with(&old) {
            disk.remove(&path).map_err(io_error("remove", &path))?;
            break;
        }
        part += 1;
        copy = format!("{name}.{from}-{part}");
    }
    Ok(copy)
}

/// After damage the count goes on behind the highest number that can be seen,
/// so that no number is given twice; the chain goes on from the last one there.
fn damaged<D: Disk>(
    disk: &D,
    path: &Path,
    earlier: Tail,
    why: &'static str,
) -> Result<Tail, LogError> {
    let mut tail = Tail {
        state: TailState::Damaged(why),
        ..earlier
    };
    let bytes = disk
        .read(path, 0, u64::MAX)
        .map_err(io_error("read", path))?;
    for line in bytes.split(|b| *b == b'\n') {
        let mut cells = cells(line);
        let seq = cells.next().and_then(|c| c.parse::<u64>().ok());
        let dated = cells.next().is_some_and(|c| Wall::parse(&c).is_some());
        if let (Some(seq), true) = (seq, dated) {
            tail.next_seq = tail.next_seq.max(seq.saturating_add(1));
        }
    }
    let mut at = 0;
    while let Some((end, chain)) = chain::next_end(&bytes, at) {
        tail.chain = chain;
        at = end;
    }
    Ok(tail)
}

/// The note of a `run_start` row, as far as the log needs it.
#[derive(Deserialize)]
struct RunNote {
    log: String,
}

/// The log's id, if this row is a `run_start`.
fn log_id(line: &[u8]) -> Option<String> {
    memchr::memmem::find(line, b",run_start,")?;
    let row = recorded(line).ok()?.row;
    if row.event != Event::RunStart {
        return None;
    }
    let note: RunNote = serde_json::from_str(&row.note).ok()?;
    Some(note.log)
}

/// The capture that the last row which names one names. A run's first row
/// names its own, so little is read, unless rows without one came since:
/// imported ones may be many.
fn last_capture<D: Disk>(
    disk: &D,
    dir: &Path,
    files: &[FileName],
) -> Result<Option<String>, LogError> {
    for name in files.iter().rev() {
        let path = dir.join(name.to_string());
        let found = backwards(disk, &path, |lines| {
            let (mut at, mut last) = (0, None);
            while let Some((end, _)) = chain::next_end(lines, at) {
                // The header stands before the first row and is no cell of it.
                let line = lines[at..end].strip_prefix(files::header().as_bytes());
                let capture = recorded(line.unwrap_or(&lines[at..end])).map(|r| r.row.capture);
                last = capture.ok().filter(|c| !c.is_empty()).or(last);
                at = end;
            }
            last
        });
        if let Some(capture) = found.map_err(io_error("read", &path))? {
            return Ok(Some(capture));
        }
    }
    Ok(None)
}

/// The log's id, rows of unfinished jobs and of checks that count, and the last capture.
fn recent<D: Disk>(disk: &D, dir: &Path, files: &[FileName]) -> Result<OpenedLog, LogError> {
    let mut jobs: Vec<(String, String)> = Vec::new();
    let mut id = None;
    let mut proved = Proved::default();
    let (older, newest) = files.split_at(files.len().saturating_sub(2));
    for name in older {
        let path: PathBuf = dir.join(name.to_string());
        each_row(disk, &path, |line| {
            id = id.take().or_else(|| log_id(line));
            proved.follow(line);
        })
        .map_err(io_error("read", &path))?;
    }
    for name in newest {
        let path: PathBuf = dir.join(name.to_string());
        each_row(disk, &path, |line| {
            id = id.take().or_else(|| log_id(line));
            follow_job(line, &mut jobs);
            proved.follow(line);
        })
        .map_err(io_error("read", &path))?;
    }
    Ok(OpenedLog {
        next_seq: 1,
        chain: String::new(),
        log_id: id,
        repaired: Vec::new(),
        unfinished: jobs.into_iter().map(|(_, line)| line).collect(),
        proved: proved.lines.into_iter().map(|(_, line)| line).collect(),
        last_capture: last_capture(disk, dir, files)?,
        last_month: None,
    })
}

/// Calls `act` with each row of a file, which is never in memory as a whole:
/// a month of many meters is larger than anything else the program holds.
pub(crate) fn each_row<D: Disk>(
    disk: &D,
    path: &Path,
    mut act: impl FnMut(&[u8]),
) -> io::Result<()> {
    let (mut held, mut offset, mut in_header) = (Vec::new(), 0, true);
    loop {
        let piece = disk.read(path, offset, TAIL)?;
        if piece.is_empty() {
            return Ok(());
        }
        offset += piece.len() as u64;
        held.extend_from_slice(&piece);
        let mut at = 0;
        if in_header && let Some(feed) = memchr::memchr(b'\n', &held) {
            at = feed + 1;
            in_header = false;
        }
        while !in_header && let Some((end, _)) = chain::next_end(&held, at) {
            act(&held[at..end]);
            at = end;
        }
        held.drain(..at);
    }
}

/// Keeps the rows of jobs that have begun and not ended.
fn follow_job(line: &[u8], jobs: &mut Vec<(String, String)>) {
    let mut cells = cells(line).skip(2);
    let Some(event) = cells.next() else { return };
    if jobs.is_empty() && event != "job_start" {
        return;
    }
    let Some(job) = cells.nth(4).filter(|j| !j.is_empty()) else {
        return;
    };
    match event.as_ref() {
        "job_end" => jobs.retain(|(open, _)| *open != job),
        "job_start" => {}
        _ if !jobs.iter().any(|(open, _)| *open == job) => return,
        _ => {}
    }
    if event != "job_end" {
        let text = String::from_utf8_lossy(line);
        jobs.push((job.into_owned(), text.trim_end_matches('\n').to_owned()));
    }
}

/// Rows of checks of meters, as far as they still count.
#[derive(Default)]
struct Proved {
    checks: Checks,
    lines: Vec<(u64, String)>,
}

impl Proved {
    fn follow(&mut self, line: &[u8]) {
        // Nearly no row is one: looking for the word costs least.
        if memchr::memmem::find(line, b",proved,").is_none() {
            return;
        }
        let Ok(Recorded { seq, row, .. }) = recorded(line) else {
            return;
        };
        self.checks.apply(seq, &row);
        let text = String::from_utf8_lossy(line);
        self.lines
            .push((seq, text.trim_end_matches('\n').to_owned()));
        self.lines.retain(|(seq, _)| self.checks.counts(*seq));
    }
}

/// The rows of a file, its header left out.
pub(crate) fn rows(bytes: &[u8]) -> impl Iterator<Item = &[u8]> {
    let mut at = bytes
        .iter()
        .position(|b| *b == b'\n')
        .map_or(bytes.len(), |feed| feed + 1);
    core::iter::from_fn(move || {
        let begin = at;
        let (end, _) = chain::next_end(bytes, begin)?;
        at = end;
        Some(&bytes[begin..end])
    })
}
