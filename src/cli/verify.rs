//! `verify`: is the log whole, and do its captures belong to it.

use std::path::PathBuf;

use super::progress::{size_of, watched};
use super::{Fail, Out};
use crate::disk::RealDisk;
use crate::log::verify::Expect;
use crate::review::verify;

/// What is verified.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The data folder
    #[arg(default_value = "stillohm-data")]
    data: PathBuf,
    /// A row number and its chain kept elsewhere, as `job` and reports print them; again for more
    #[arg(long, value_name = "SEQ:CHAIN")]
    expect: Vec<Expect>,
    /// As one JSON object
    #[arg(long)]
    json: bool,
}

/// Verifies a data folder.
///
/// # Errors
/// The data are not as they were written, or cannot be read.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    if !args.data.join("log").is_dir() {
        return Err(Fail::asked(format!(
            "{}: expected a data folder with a log in it, found none",
            args.data.display()
        )));
    }
    let bytes = size_of(&args.data.join("log"));
    let watched = watched("verified", bytes, |done| {
        verify::verify(&RealDisk, &args.data, &args.expect, done)
    });
    let report = watched
        .map_err(|e| Fail::Around(anyhow::Error::new(e).context("the data cannot be read")))?;
    let mut out = Out::new();
    if args.json {
        out.line(serde_json::json!(report))?;
    } else {
        for line in report.lines() {
            out.line(line)?;
        }
    }
    out.flush()?;
    if report.ok {
        Ok(())
    } else {
        Err(Fail::No(String::new()))
    }
}
