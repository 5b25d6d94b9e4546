//! `review sign`: a reviewer's word, as a row of the log.

use std::path::PathBuf;

use serde_json::{Map, Value, json};

use super::rows::last_row;
use crate::cli::core::{Core, Said};
use crate::cli::data::log_of;
use crate::cli::options::Options;
use crate::cli::{Fail, Out};
use crate::judge::{CLEARS_NONE, clears_a_motor};
use crate::log::jobs::Kept;

/// What is signed, and by whom.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// A job such as J12, or the number of a row
    what: String,
    /// Who reviews; typed, not authenticated
    #[arg(long, value_name = "NAME")]
    tester: String,
    /// What was looked at, and what it came to
    #[arg(long, value_name = "WORDS")]
    says: String,
    /// The configuration file [default: stillohm.toml, if there is one]
    #[arg(long, value_name = "F")]
    config: Option<PathBuf>,
    /// The data folder
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
}

/// Writes a `reviewed` row.
///
/// # Errors
/// No such job or row, a job that has not ended, or it cannot be recorded.
pub(super) fn run(args: &Args) -> Result<(), Fail> {
    let options = Options {
        config: args.config.clone(),
        data: args.data.clone(),
        meters: Vec::new(),
        motors: None,
    };
    let data = options.load()?.data;
    let log = log_of(&data)?;
    let seq = match args.what.strip_prefix('J') {
        Some(number) => end_of(&Kept::of(log.clone()), number)?,
        None => args.what.parse().map_err(|_| wrong(&args.what))?,
    };
    // Before a run is opened for it: a refusal leaves no trace in the log.
    for (name, words) in [("--tester", &args.tester), ("--says", &args.says)] {
        if words.trim().is_empty() {
            return Err(Fail::asked(format!("{name}: expected words, found none")));
        }
    }
    if clears_a_motor(&args.says) {
        return Err(Fail::asked(CLEARS_NONE));
    }
    let last = last_row(&log)?;
    if seq == 0 || seq > last {
        return Err(Fail::asked(format!("no row {seq}; the last one is {last}")));
    }
    let (core, _news) = Core::reach(&options)?;
    let said = Map::from_iter([
        (String::from("seq"), json!(seq)),
        (String::from("words"), Value::from(args.says.as_str())),
        (String::from("by"), Value::from(args.tester.as_str())),
    ]);
    let signed = core.act("review", &said);
    let left = core.leave(match &signed {
        Ok(Said::Done { .. }) => "the review is signed",
        _ => "the review was refused",
    });
    match signed? {
        Said::Done { seq: Some(row), .. } => {
            let mut out = Out::new();
            out.line(format_args!(
                "row {row}: {} reviewed row {seq}: {}",
                args.tester, args.says
            ))?;
            out.flush()?;
        }
        Said::Done { seq: None, .. } => {}
        Said::Refused(why) => return Err(Fail::asked(why)),
    }
    left
}

/// The row that ends a job.
fn end_of(log: &Kept, number: &str) -> Result<u64, Fail> {
    let name = format!("J{number}");
    let number = number.parse().map_err(|_| wrong(&name))?;
    let rows = log.rows(number).map_err(super::filter::unreadable)?;
    if rows.is_empty() {
        return Err(Fail::asked(format!(
            "no job is called {name}; stillohm review count --by job lists them"
        )));
    }
    let end = rows
        .iter()
        .rfind(|row| row.row.event == crate::row::Event::JobEnd);
    let open = || {
        Fail::asked(format!(
            "{name} has not ended: a review is of what is whole"
        ))
    };
    Ok(end.ok_or_else(open)?.seq)
}

fn wrong(what: &str) -> Fail {
    Fail::asked(format!(
        "expected a job such as J12 or the number of a row, found {what:?}"
    ))
}
