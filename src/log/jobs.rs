//! Jobs as the files hold them: which there are, the newest first, and the rows of one.
//!
//! Files are searched for bytes; only lines that hold them are read as rows. A
//! line that does not read is no row here: `verify` names it.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};

use memchr::{memmem, memrchr};

use super::back::backwards;
use super::files::FileName;
use super::{cells, chain, open};
use crate::disk::{Disk, RealDisk};
use crate::row::{Event, Recorded};

/// How much is read on to count what a page does not show, in bytes (own: a
/// moment on the slowest disk).
const COUNTED: u64 = 64 << 20;
/// A file's first row stands in this much of it.
const HEAD: u64 = 64 * 1024;

/// A job of the log.
#[derive(Clone, Debug, PartialEq)]
pub struct Listed {
    /// Its first row; the job's name is `J` and its `seq`.
    pub start: Recorded,
    /// Its last row, if it has ended.
    pub end: Option<Recorded>,
}

/// Some jobs, the newest first.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Jobs {
    /// Those that are wanted.
    pub shown: Vec<Listed>,
    /// How many more fit.
    pub more: usize,
    /// Whether the log was read to its beginning; else `more` is the least there are.
    pub counted: bool,
}

/// The jobs of a log on this machine's disk.
#[derive(Clone, Debug)]
pub struct Kept {
    dir: PathBuf,
}

impl Kept {
    /// Those of the log in this folder.
    pub fn of(dir: PathBuf) -> Self {
        Self { dir }
    }

    /// As [`list`].
    ///
    /// # Errors
    /// The disk's own.
    pub fn list(
        &self,
        before: Option<u64>,
        most: usize,
        fits: impl Fn(&Listed) -> bool,
    ) -> io::Result<Jobs> {
        list(&RealDisk, &self.dir, before, most, fits)
    }

    /// As [`checks`].
    ///
    /// # Errors
    /// The disk's own.
    pub fn checks(&self, before: u64, meters: &[&str]) -> io::Result<Vec<Recorded>> {
        checks(&RealDisk, &self.dir, before, meters)
    }

    /// As [`rows`].
    ///
    /// # Errors
    /// The disk's own.
    pub fn rows(&self, number: u64) -> io::Result<Vec<Recorded>> {
        rows(&RealDisk, &self.dir, number)
    }
}

/// The number in a job's name; none: it is no job's name.
pub fn number(name: &str) -> Option<u64> {
    let digits = name.strip_prefix('J')?;
    let number: u64 = digits.parse().ok()?;
    (number.to_string() == digits).then_some(number)
}

/// At most `most` jobs that fit, of those that began before the row `before`.
///
/// # Errors
/// The disk's own.
pub fn list<D: Disk>(
    disk: &D,
    dir: &Path,
    before: Option<u64>,
    most: usize,
    fits: impl Fn(&Listed) -> bool,
) -> io::Result<Jobs> {
    let needles = [b",job_start,".as_slice(), b",job_end,"].map(memmem::Finder::new);
    let mut ends: BTreeMap<String, Recorded> = BTreeMap::new();
    let mut jobs = Jobs::default();
    let mut left = COUNTED;
    for name in FileName::list(disk, dir)?.iter().rev() {
        let enough = backwards(disk, &dir.join(name.to_string()), |lines| {
            for recorded in holding(lines, &needles).into_iter().rev() {
                let job = recorded.row.job.clone();
                if recorded.row.event == Event::JobEnd {
                    ends.insert(job, recorded);
                    continue;
                }
                let end = ends.remove(&job);
                let listed = Listed {
                    start: recorded,
                    end,
                };
                let wanted = before.is_none_or(|before| listed.start.seq < before);
                match wanted && fits(&listed) {
                    true if jobs.shown.len() < most => jobs.shown.push(listed),
                    true => jobs.more += 1,
                    false => {}
                }
            }
            if jobs.shown.len() == most {
                left = left.saturating_sub(lines.len() as u64);
            }
            (left == 0).then_some(())
        })?;
        if enough.is_some() {
            return Ok(jobs);
        }
    }
    jobs.counted = true;
    Ok(jobs)
}

/// Rows that begin or end a job, in the order of the lines.
fn holding(lines: &[u8], needles: &[memmem::Finder<'_>; 2]) -> Vec<Recorded> {
    let mut rows = lines_with(lines, needles);
    // A line that only quotes the words is none.
    rows.retain(|r| matches!(r.row.event, Event::JobStart | Event::JobEnd));
    rows
}

/// Rows of lines that hold one of these, in the order of the lines.
fn lines_with<'a, 'n: 'a>(
    lines: &[u8],
    needles: impl IntoIterator<Item = &'a memmem::Finder<'n>>,
) -> Vec<Recorded> {
    let mut begins = BTreeSet::new();
    for needle in needles {
        for at in needle.find_iter(lines) {
            begins.insert(memrchr(b'\n', &lines[..at]).map_or(0, |feed| feed + 1));
        }
    }
    let row = |begin: usize| {
        let (end, _) = chain::next_end(lines, begin)?;
        cells::recorded(&lines[begin..end]).ok()
    };
    begins.into_iter().filter_map(row).collect()
}

/// The rows of the job that began with the row `number`, and those of no job
/// that take one of them back or review it; none: no such job.
///
/// # Errors
/// The disk's own.
pub fn rows<D: Disk>(disk: &D, dir: &Path, number: u64) -> io::Result<Vec<Recorded>> {
    let job = format!("J{number}");
    let own = format!(",{job},");
    let needles = [own.as_bytes(), b",withdrawn,", b",reviewed,"].map(memmem::Finder::new);
    let files = FileName::list(disk, dir)?;
    let mut first = 0;
    for (at, name) in files.iter().enumerate().rev() {
        if begins_by(disk, &dir.join(name.to_string()), number)? {
            first = at;
            break;
        }
    }
    let mut rows: Vec<Recorded> = Vec::new();
    for name in &files[first..] {
        let path = dir.join(name.to_string());
        open::each_row(disk, &path, |line| {
            if needles.iter().all(|needle| needle.find(line).is_none()) {
                return;
            }
            let Ok(recorded) = cells::recorded(line) else {
                return;
            };
            let of = recorded.row.of_seq;
            let about = recorded.row.job.is_empty()
                && matches!(recorded.row.event, Event::Withdrawn | Event::Reviewed)
                && rows.iter().any(|row| Some(row.seq) == of);
            if recorded.row.job == job || about {
                rows.push(recorded);
            }
        })?;
        // Where no job began, nothing of one follows.
        if rows.is_empty() {
            break;
        }
    }
    Ok(rows)
}

/// The rows of the last check on known resistors of each of these meters, as
/// far as they stand before the row `before`, in their order.
///
/// # Errors
/// The disk's own.
pub fn checks<D: Disk>(
    disk: &D,
    dir: &Path,
    before: u64,
    meters: &[&str],
) -> io::Result<Vec<Recorded>> {
    let needle = memmem::Finder::new(b",proved,");
    let mut found: Vec<Recorded> = Vec::new();
    // Meters whose last check is found down to its first row.
    let mut whole: BTreeSet<String> = BTreeSet::new();
    for name in FileName::list(disk, dir)?.iter().rev() {
        backwards(disk, &dir.join(name.to_string()), |lines| {
            for recorded in lines_with(lines, [&needle]).into_iter().rev() {
                let row = &recorded.row;
                let wanted = row.event == Event::Proved
                    && recorded.seq < before
                    && meters.contains(&row.meter.as_str())
                    && !whole.contains(&row.meter);
                if wanted && let Some(number) = number_of_check(&row.note) {
                    if number <= 1 {
                        whole.insert(row.meter.clone());
                    }
                    found.push(recorded);
                }
            }
            (whole.len() == meters.len()).then_some(())
        })?;
        if whole.len() == meters.len() {
            break;
        }
    }
    found.reverse();
    Ok(found)
}

/// Which resistor of its check a row is of; none: of none.
fn number_of_check(note: &str) -> Option<u64> {
    let note: serde_json::Value = serde_json::from_str(note).ok()?;
    note["number"].as_u64()
}

/// Whether a file's first row has at most this number.
fn begins_by<D: Disk>(disk: &D, path: &Path, number: u64) -> io::Result<bool> {
    let bytes = disk.read(path, 0, HEAD)?;
    let first = open::rows(&bytes).next();
    let seq = first.and_then(chain::seq_of);
    Ok(seq.is_some_and(|seq| seq <= number))
}

/// A log of these rows on this machine's disk, made by the log's own writer.
#[cfg(test)]
pub(crate) fn written(dir: &Path, rows: Vec<crate::row::Row>) -> Kept {
    let (mut log, _) = super::Log::open(dir, RealDisk).expect("opens");
    log.append(rows).expect("written");
    log.sync().expect("synced");
    Kept::of(dir.to_owned())
}

#[cfg(test)]
mod tests {
    use super::super::tests::{dir, open};
    use super::*;
    use crate::disk::double::Double;
    use crate::row::Row;
    use crate::stamp::Wall;

    const OCTOBER: i64 = 1_761_000_000_000_000_000;
    const MONTH: i64 = 31 * 86_400_000_000_000;

    /// `start pump`, `end 1 pump`, `value 1`, `back 3`; `--` begins the next month.
    fn log(lines: &[&str]) -> Double {
        let disk = Double::default();
        let (mut log, _) = open(&disk);
        let mut at = OCTOBER;
        for line in lines {
            let words: Vec<&str> = line.split(' ').collect();
            let event = match words[0] {
                "--" => {
                    at += MONTH;
                    continue;
                }
                "start" => Event::JobStart,
                "end" => Event::JobEnd,
                "back" => Event::Withdrawn,
                _ => Event::Value,
            };
            let mut row = Row::new(event, Wall(at));
            match event {
                Event::JobStart => {
                    row.job = format!("J{}", log.next_seq());
                    row.asset = words[1].to_owned();
                }
                Event::Withdrawn => row.of_seq = words[1].parse().ok(),
                _ => row.job = format!("J{}", words[1]),
            }
            log.append(vec![row]).expect("written");
        }
        log.sync().expect("synced");
        disk
    }

    #[track_caller]
    fn lists(disk: &Double, before: Option<u64>, most: usize, expected: &str) {
        let fits = |job: &Listed| job.start.row.asset != "fan";
        let jobs = list(disk, &dir(), before, most, fits).expect("reads");
        let mut said: Vec<String> = Vec::new();
        for job in &jobs.shown {
            let end = job.end.as_ref().map_or(0, |end| end.seq);
            said.push(format!("{} {end}", job.start.row.job));
        }
        said.push(format!("{} more", jobs.more));
        assert_eq!(said.join(", "), expected);
        assert!(jobs.counted);
    }

    #[test]
    fn jobs_come_newest_first_across_months_a_page_at_a_time() {
        let disk = log(&[
            "start pump",
            "end 1",
            "start mill",
            "--",
            "end 3",
            "start fan",
            "start well",
            "end 5",
            "start pump",
        ]);
        lists(&disk, None, 9, "J8 0, J6 0, J3 4, J1 2, 0 more");
        lists(&disk, None, 2, "J8 0, J6 0, 2 more");
        lists(&disk, Some(6), 1, "J3 4, 1 more");
        lists(&disk, Some(1), 9, "0 more");
    }

    #[test]
    fn a_row_that_only_quotes_a_start_is_no_job() {
        let disk = Double::default();
        let (mut log, _) = open(&disk);
        let mut row = Row::new(Event::Note, Wall(OCTOBER));
        row.note = String::from("1,x,job_start,,,J1,");
        log.append(vec![row]).expect("written");
        log.sync().expect("synced");
        lists(&disk, None, 9, "0 more");
    }

    #[track_caller]
    fn holds(disk: &Double, number: u64, expected: &[u64]) {
        let rows = rows(disk, &dir(), number).expect("reads");
        let seqs: Vec<u64> = rows.iter().map(|row| row.seq).collect();
        assert_eq!(seqs, expected, "J{number}");
    }

    #[test]
    fn a_job_has_its_rows_and_what_took_them_back_later() {
        let disk = log(&[
            "start pump",
            "value 1",
            "start mill",
            "value 3",
            "--",
            "value 1",
            "end 1",
            "back 2",
            "back 4",
            "--",
            "start pump",
            "back 5",
        ]);
        holds(&disk, 1, &[1, 2, 5, 6, 7, 10]);
        holds(&disk, 3, &[3, 4, 8]);
        holds(&disk, 9, &[9]);
        holds(&disk, 2, &[]);
        holds(&disk, 99, &[]);
        holds(&disk, 0, &[]);
    }

    #[test]
    fn a_file_that_cannot_be_read_is_an_error_and_not_an_empty_list() {
        let disk = log(&["start pump", "--", "start mill"]);
        let names = FileName::list(&disk, &dir()).expect("lists");
        disk.unreadable(&dir().join(names[0].to_string()));
        assert!(list(&disk, &dir(), None, 9, |_| true).is_err());
        assert!(rows(&disk, &dir(), 1).is_err());
    }

    #[test]
    fn the_last_check_of_each_meter_before_a_row_is_found_whole_across_months() {
        let disk = Double::default();
        let (mut log, _) = open(&disk);
        let mut at = OCTOBER;
        let mut check = |meter: &str, numbers: &[u64]| {
            at += MONTH / 2;
            for number in numbers {
                let mut row = Row::new(Event::Proved, Wall(at));
                row.meter = meter.to_owned();
                row.note = format!("{{\"number\":{number},\"known_ohms\":\"10\"}}");
                log.append(vec![row]).expect("written");
            }
        };
        check("ohms-1", &[1, 2, 3]);
        check("megs-1", &[1]);
        check("ohms-1", &[1, 2]);
        check("ohms-2", &[1]);
        check("ohms-1", &[1]);
        log.sync().expect("synced");
        let found = |before: u64, meters: &[&str]| {
            let rows = checks(&disk, &dir(), before, meters).expect("reads");
            rows.iter().map(|row| row.seq).collect::<Vec<_>>()
        };
        assert_eq!(found(99, &["ohms-1", "megs-1"]), [4, 8]);
        assert_eq!(found(8, &["ohms-1", "megs-1"]), [4, 5, 6]);
        assert_eq!(found(5, &["ohms-1"]), [1, 2, 3]);
        assert!(found(4, &["megs-1"]).is_empty());
        assert!(found(99, &["ohms-9"]).is_empty() && found(99, &[]).is_empty());
    }
}
