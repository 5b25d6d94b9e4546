//! `review rejudge`: stored captures run again under other limits, and which
//! verdicts change.
//!
//! The engine judges, so every safety rule holds as it did: proofs, contact,
//! voltages. Nothing is written without `--write`; then each verdict that
//! changes is a row of its own beside the old one. What a job came to is
//! listed and never written: it ended as it ended.

mod again;
mod kept;
mod write;

use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};

use super::super::Fail;
use super::super::data::log_of;
use super::super::replay::changes;
use super::super::replay::limits::{Limits, talk};
use super::super::replay::rejudge::Change;
use super::super::table::{Form, Table};
use super::moment::{since, until};
use crate::clock::Clock;
use crate::disk::RealDisk;
use crate::log::Log;
use crate::log::lock::Lock;
use crate::row::Row;
use crate::stamp::Wall;
use crate::text::instead;
use again::{Again, Turned};
use kept::Kept;

/// What is judged again, by what.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Judge by the models of this catalogue, not by those that the captures carry
    #[arg(long, value_name = "F")]
    motors: Option<PathBuf>,
    /// Judge insulation by this profile
    #[arg(long, value_name = "P")]
    profile: Option<String>,
    /// Judge insulation by this condition of the profile
    #[arg(long, value_name = "C")]
    condition: Option<String>,
    /// Only rows from then on: a year, month or day (UTC), or a date with time
    #[arg(long, value_name = "D", value_parser = since)]
    since: Option<Wall>,
    /// Only rows until then: a year, month or day (UTC, itself included), or a date with time
    #[arg(long, value_name = "D", value_parser = until)]
    until: Option<Wall>,
    /// Only rows of this job
    #[arg(long, value_name = "JOB")]
    job: Option<String>,
    /// Only rows of this asset
    #[arg(long, value_name = "A")]
    asset: Option<String>,
    /// The data folder
    #[arg(long, value_name = "DIR", default_value = "stillohm-data")]
    data: PathBuf,
    /// Write each verdict that changes into the log, beside the old one
    #[arg(long, requires_all = ["reason", "tester"])]
    write: bool,
    /// Why it is judged again, for the log
    #[arg(long, value_name = "TEXT", requires = "write")]
    reason: Option<String>,
    /// Who judges it again, for the log
    #[arg(long, value_name = "NAME", requires = "write")]
    tester: Option<String>,
    #[command(flatten)]
    form: Form,
}

/// Runs the captures again and lists what comes out otherwise.
///
/// # Errors
/// No log, a name that no row has, limits that cannot be read, or a log that
/// cannot be written; exit 1 where nothing could be judged again.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let log = log_of(&args.data)?;
    let limits = Limits::open(
        args.motors.as_deref(),
        args.profile.as_deref(),
        args.condition.as_deref(),
    )?;
    for (name, words) in [("--reason", &args.reason), ("--tester", &args.tester)] {
        if words.as_ref().is_some_and(|words| words.trim().is_empty()) {
            return Err(Fail::asked(format!("{name}: expected words, found none")));
        }
    }
    if args.write && limits.is_none() {
        return Err(Fail::asked(
            "--write: expected other limits (--motors, --profile or --condition): what differs without them is for verify",
        ));
    }
    // Before anything is read: what is judged again is what is written beside.
    let lock = match args.write {
        true => Some(Lock::take(&args.data).map_err(|e| Fail::Around(e.into()))?),
        false => None,
    };
    let wanted = |row: &Row| {
        args.job.as_ref().is_none_or(|job| *job == row.job)
            && args.asset.as_ref().is_none_or(|asset| *asset == row.asset)
            && args.since.is_none_or(|since| row.recorded_at >= since)
            && args.until.is_none_or(|until| row.recorded_at < until)
    };
    let kept = Kept::read(&log, &wanted)?;
    for (flag, asked, there) in [
        ("job", &args.job, &kept.jobs),
        ("asset", &args.asset, &kept.assets),
    ] {
        if let Some(name) = asked.as_ref().filter(|name| !there.contains(*name)) {
            return Err(Fail::asked(format!(
                "--{flag} {name:?} is in no row of {}; {}",
                args.data.display(),
                instead(name, there.iter().map(String::as_str))
            )));
        }
    }
    let again = again(args, &log, &kept, limits.as_ref())?;
    // A profile says nothing of windings; a catalogue may say something of all.
    let to_ground = |row: &Row| matches!(row.test.as_str(), "ground" | "insulation" | "ratio");
    let says = |row: &Row| args.motors.is_some() || to_ground(row);
    let turned = again.turned(&kept, &says);
    let looked = list(args, &kept, &again, &turned)?;
    if lock.is_some() {
        record(args, &log, &kept, &turned)?;
    }
    match (looked, kept.judged.len()) {
        (0, 1..) => Err(Fail::No(String::from(
            "nothing could be judged again: see why above",
        ))),
        _ => Ok(()),
    }
}

fn again(args: &Args, log: &Path, kept: &Kept, limits: Option<&Limits>) -> Result<Again, Fail> {
    let mut again = Again::default();
    let runs = kept.runs();
    let mut rows = kept::by_input(log, &runs)?;
    let captures = args.data.join("captures");
    let watched = std::io::stderr().is_terminal();
    for (at, run) in runs.iter().enumerate() {
        if watched {
            talk(&format!("{run}, {} of {}", at + 1, runs.len()));
        }
        // Names sort by run, so what belongs to this one stands together.
        let stem = run.trim_end_matches(".pcapng");
        let of_run = rows
            .extract_if(.., |(name, _), _| {
                crate::capture::names::run_of(name) == Some(stem)
            })
            .collect();
        again.run(&captures, run, limits, of_run);
    }
    Ok(again)
}

/// Lists what comes out otherwise; says what was not looked at. Returns how many
/// rows were.
fn list(args: &Args, kept: &Kept, again: &Again, turned: &[Turned]) -> Result<usize, Fail> {
    let mut table = Table::new(changes::HEADER.split(','));
    for turned in turned {
        table.row(cells(turned, kept));
    }
    let jobs = |job: &str| kept.judged.values().any(|judged| judged.row.job == job);
    for change in again.beside.iter().filter(|change| jobs(&change.job)) {
        table.row(changes::cells(change));
    }
    table.print(args.form)?;
    let (looked, missed) = again.looked(kept);
    let mut left = 0;
    for (capture, rows, why) in &missed {
        left += rows;
        talk(&format!(
            "captures/{capture}: {rows} rows not looked at: {why}"
        ));
    }
    talk(&format!(
        "{looked} judged rows looked at, {} come out otherwise, {left} not looked at",
        turned.len()
    ));
    Ok(looked)
}

/// As `replay --changes` has it.
fn cells(turned: &Turned, kept: &Kept) -> Vec<Value> {
    let words = |(verdict, finding): kept::Found| {
        (
            verdict.map_or("", |v| v.word()).to_owned(),
            finding.map_or("", |f| f.word()).to_owned(),
        )
    };
    let mut change = Change {
        seq: Some(turned.seq),
        before: words(turned.before),
        why: turned.why.clone(),
        ..Change::default()
    };
    let after = turned.row.as_ref();
    change.after = words(after.map_or((None, None), |row| (row.verdict, row.finding)));
    if let Some(judged) = kept.judged.get(&turned.seq) {
        let row = &judged.row;
        for (cell, from) in [
            (&mut change.job, &row.job),
            (&mut change.asset, &row.asset),
            (&mut change.motor, &row.motor),
            (&mut change.test, &row.test),
            (&mut change.point, &row.point),
            (&mut change.shown, &row.shown),
        ] {
            cell.clone_from(from);
        }
    }
    changes::cells(&change)
}

/// Writes the verdicts that changed, and says each row's number and chain.
fn record(args: &Args, dir: &Path, kept: &Kept, turned: &[Turned]) -> Result<(), Fail> {
    let (limits, named) = by(args)?;
    let by = write::By {
        limits: &limits,
        named,
        tester: args.tester.as_deref().unwrap_or_default(),
        reason: args.reason.as_deref().unwrap_or_default(),
        at: Clock::start().wall(),
    };
    let rows: Vec<Row> = turned
        .iter()
        .filter_map(|turned| write::row(turned, kept, &by))
        .collect();
    let left = turned.len() - rows.len();
    if left > 0 {
        talk(&format!(
            "{left} of them not written: there is no row of them after, or their job has not ended"
        ));
    }
    let (mut log, opened) = Log::open(dir, RealDisk).map_err(|e| Fail::Around(e.into()))?;
    opened.repaired.iter().for_each(|words| talk(words));
    let written = log.append(rows).map_err(|e| Fail::Around(e.into()))?;
    // Nothing is said to be written before it is on the disk.
    log.sync().map_err(|e| Fail::Around(e.into()))?;
    for recorded in &written {
        talk(&format!(
            "row {} judged again as {}:{}",
            recorded.row.of_seq.unwrap_or_default(),
            recorded.seq,
            recorded.chain
        ));
    }
    Ok(())
}

/// The limits in words, and for a machine: a catalogue by its name and digest,
/// since a file of that name may say something else tomorrow.
fn by(args: &Args) -> Result<(String, Value), Fail> {
    let mut words = Vec::new();
    let mut named = json!({ "profile": args.profile, "condition": args.condition });
    if let Some(path) = &args.motors {
        let bytes = std::fs::read(path)
            .map_err(|e| Fail::asked(format!("{}: cannot be read: {e}", path.display())))?;
        let digest: String = Sha256::digest(&bytes)
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        words.push(format!("{name} (SHA-256 {})", &digest[..12]));
        named["motors"] = json!({ "name": name, "sha256": digest });
    }
    words.extend(args.profile.iter().map(|name| format!("profile {name}")));
    words.extend(
        args.condition
            .iter()
            .map(|name| format!("condition {name}")),
    );
    Ok((words.join(", "), named))
}
