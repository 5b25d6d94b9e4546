//! What a report prints of a job, gathered from the log and the captures.

use core::sync::atomic::AtomicU64;
use std::io;
use std::path::{Path, PathBuf};

use super::trace;
use crate::capture::{self, Pace, names};
use crate::disk::RealDisk;
use crate::input::What;
use crate::log::jobs::{Kept, number};
use crate::log::verify::{self, BadRow};
use crate::meter::Meter;
use crate::report::curve::is_taken;
use crate::report::paper::Job;
use crate::row::{Event, Recorded};
use crate::text::nearest;

/// Jobs whose names are looked through for those like a wrong one (own).
const LIKE: usize = 2000;

/// Why a job cannot be printed.
#[derive(Debug, thiserror::Error)]
pub enum GatherError {
    /// There is no such job.
    #[error("{}: expected a job of this log, found none called {name}{}", dir.display(), hint(like))]
    Unknown {
        /// The log's folder.
        dir: PathBuf,
        /// As asked for.
        name: String,
        /// Jobs that there are, the likeliest first.
        like: Vec<String>,
    },
    /// The log cannot be read.
    #[error("{}: the log cannot be read", dir.display())]
    Log {
        /// Its folder.
        dir: PathBuf,
        /// Why.
        source: io::Error,
    },
}

fn hint(like: &[String]) -> String {
    match like {
        [] => String::from("; it has no jobs"),
        like => format!("; there is {}", like.join(", ")),
    }
}

/// The jobs of these names, each once, from a data folder.
///
/// # Errors
/// A name that no job has; a log that cannot be read.
pub fn jobs(data: &Path, names: &[String]) -> Result<Vec<Job>, GatherError> {
    let mut found: Vec<Job> = Vec::new();
    for name in names {
        if !found.iter().any(|job| job.name == *name) {
            found.push(job(data, name)?);
        }
    }
    let bad = first_bad(data)?;
    for job in &mut found {
        let last = job.rows.last().map_or(0, |r| r.seq);
        if let Some(bad) = bad.as_ref().filter(|bad| bad.seq <= last) {
            job.unsound = Some(format!(
                "the log does not hold from row {} on, nothing here is vouched for: see stillohm verify",
                bad.seq
            ));
        }
    }
    Ok(found)
}

/// The first row of the log that is not as it was written.
fn first_bad(data: &Path) -> Result<Option<BadRow>, GatherError> {
    let dir = data.join("log");
    let done = AtomicU64::new(0);
    match verify::verify(&RealDisk, &dir, &[], &done, &mut |_| ()) {
        Ok(report) => Ok(report.first_bad),
        Err(e) => Err(GatherError::Log {
            dir,
            source: io::Error::other(e),
        }),
    }
}

fn job(data: &Path, name: &str) -> Result<Job, GatherError> {
    let dir = data.join("log");
    let kept = Kept::of(dir.clone());
    let unread = |source| GatherError::Log {
        dir: dir.clone(),
        source,
    };
    let rows = match number(name) {
        Some(number) => kept.rows(number).map_err(unread)?,
        None => Vec::new(),
    };
    if rows.is_empty() {
        let like = like(&kept, name).map_err(unread)?;
        return Err(GatherError::Unknown {
            dir,
            name: name.to_owned(),
            like,
        });
    }
    let captures = data.join("captures");
    let taken: Vec<&Recorded> = rows.iter().filter(|r| is_taken(&r.row)).collect();
    let traces = trace::read(&captures, &taken);
    let meters = meters(&captures, &rows);
    let end = rows.iter().rev().find(|r| r.row.event == Event::JobEnd);
    let before = end.or(rows.last()).map_or(0, |r| r.seq);
    let mut measured: Vec<&str> = taken.iter().map(|r| r.row.meter.as_str()).collect();
    measured.sort_unstable();
    measured.dedup();
    let checks = kept.checks(before, &measured).map_err(unread)?;
    Ok(Job {
        name: name.to_owned(),
        rows,
        traces,
        meters,
        checks,
        unsound: None,
    })
}

/// Jobs that may have been meant: alike in name, else of an asset of that name,
/// else the newest.
fn like(kept: &Kept, name: &str) -> io::Result<Vec<String>> {
    let jobs = kept.list(None, LIKE, |_| true)?.shown;
    let said = |start: &Recorded| format!("{} ({})", start.row.job, start.row.asset);
    let starts = || jobs.iter().map(|job| &job.start);
    let alike = nearest(name, starts().map(|start| start.row.job.as_str()));
    let of_asset = starts().filter(|start| start.row.asset.eq_ignore_ascii_case(name));
    let mut found: Vec<String> = of_asset.map(said).collect();
    if found.is_empty() {
        let by_name = |job: &str| starts().find(|start| start.row.job == job).map(said);
        found = alike.into_iter().filter_map(by_name).collect();
    }
    if found.is_empty() {
        found = starts().map(said).collect();
    }
    found.truncate(5);
    Ok(found)
}

/// The meters as the captures' beginnings set them: the last word of each name.
fn meters(captures: &Path, rows: &[Recorded]) -> Vec<Meter> {
    let mut files: Vec<&str> = Vec::new();
    for name in rows.iter().map(|r| r.row.capture.as_str()) {
        // The name is from the log, which anybody may have written.
        let ours = names::began(name).is_some() && !name.contains(['/', '\\', ':']);
        if ours && !files.contains(&name) {
            files.push(name);
        }
    }
    let mut meters: Vec<Meter> = Vec::new();
    for name in files {
        let Ok(mut inputs) = capture::read(&captures.join(name), Pace::AtOnce) else {
            continue;
        };
        if let Some(Ok(input)) = inputs.next()
            && let What::Begin(begin) = input.what
        {
            for meter in begin.settings.meters {
                meters.retain(|known| known.name != meter.name);
                meters.push(meter);
            }
        }
    }
    meters
}
