//! `verify`: is the log whole, and do its captures belong to it.

use std::path::{Path, PathBuf};

use super::data::log_of;
use super::progress::{size_of, watched};
use super::{Fail, Out};
use crate::disk::RealDisk;
use crate::log::verify::Expect;
use crate::review::deep::{Deep, deep};
use crate::review::verify::{self, counted};

/// What is verified.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The data folder
    #[arg(default_value = "stillohm-data")]
    data: PathBuf,
    /// The same, as other commands have it
    #[arg(long = "data", value_name = "DIR", conflicts_with = "data")]
    folder: Option<PathBuf>,
    /// A row number and its chain kept elsewhere, as `job` and reports print them; again for more
    #[arg(long, value_name = "SEQ:CHAIN")]
    expect: Vec<Expect>,
    /// Replay every capture too, and hold its rows against the log's, byte for byte
    #[arg(long)]
    deep: bool,
    /// As one JSON object
    #[arg(long)]
    json: bool,
}

/// Verifies a data folder.
///
/// # Errors
/// The data are not as they were written, or cannot be read.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let data = args.folder.as_ref().unwrap_or(&args.data);
    let bytes = size_of(&log_of(data)?);
    let watched = watched("verified", bytes, |done| {
        verify::verify(&RealDisk, data, &args.expect, done)
    });
    let report = watched
        .map_err(|e| Fail::Around(anyhow::Error::new(e).context("the data cannot be read")))?;
    let deep = match args.deep && report.log.first_bad.is_none() {
        true => Some(deeply(data)?),
        false => None,
    };
    let whole = deep.as_ref().is_none_or(|deep| deep.failures.is_empty());
    let mut out = Out::new();
    if args.json {
        let mut said = serde_json::json!(report);
        if let Some(deep) = &deep {
            said["deep"] = serde_json::json!(deep);
            said["ok"] = (report.ok && whole).into();
        }
        out.line(said)?;
    } else {
        for line in report.lines() {
            out.line(line)?;
        }
        for line in deep.iter().flat_map(lines) {
            out.line(line)?;
        }
    }
    out.flush()?;
    if report.ok && whole {
        Ok(())
    } else {
        Err(Fail::No(String::new()))
    }
}

fn deeply(data: &Path) -> Result<Deep, Fail> {
    let captures = size_of(&data.join("captures"));
    let replayed = watched("replayed", captures, |done| deep(data, done));
    replayed.map_err(|e| Fail::Around(anyhow::Error::new(e).context("the data cannot be read")))
}

/// What replaying showed, a line each.
fn lines(deep: &Deep) -> Vec<String> {
    let mut lines: Vec<String> = deep
        .failures
        .iter()
        .map(|f| format!("FAILED {f}"))
        .collect();
    lines.extend(deep.remarks.iter().map(|remark| format!("note: {remark}")));
    if deep.runs == 0 && deep.failures.is_empty() {
        lines.push(format!(
            "note: nothing was replayed: no run of this log has its capture here; {} beside",
            counted(deep.not_held, "row")
        ));
        return lines;
    }
    lines.push(format!(
        "{}: {} of {} replayed: the same, byte for byte; {} beside, which no capture here gives",
        if deep.failures.is_empty() {
            "ok"
        } else {
            "not ok"
        },
        counted(deep.same, "row"),
        counted(deep.runs, "run"),
        counted(deep.not_held, "row"),
    ));
    lines
}
