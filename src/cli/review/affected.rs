//! `review affected`: which verdicts turn if a meter was off since a day.

use std::path::PathBuf;

use serde_json::json;

use super::super::replay::readings::quoted;
use super::super::{Fail, Out};
use super::moment::{since, until};
use super::rows::{each, log_of};
use crate::review::affected::{Affected, Answer, Off, Question, Turn, affected};
use crate::row::{Event, Recorded, Verdict};
use crate::stamp::Wall;
use crate::text::instead;

const HEADER: &str =
    "seq,job,asset,test,point,turn,verdict_then,verdict_now,judged_then,judged_now,why";

/// What is asked.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The meter, by its name in the log
    #[arg(long, value_name = "NAME")]
    meter: String,
    /// From when on it was off: a day (UTC) or a date with time
    #[arg(long, value_name = "D", value_parser = since)]
    since: Wall,
    /// Until when: a day (UTC, that day included) or a date with time [default: the log's end]
    #[arg(long, value_name = "D", value_parser = until)]
    until: Option<Wall>,
    /// How it was off: "+1.2 %" or "+0.3 ohm", above 0 where it read too high
    #[arg(long, value_name = "ERROR", allow_hyphen_values = true)]
    error: Off,
    /// List what stays as it was too
    #[arg(long)]
    all: bool,
    /// The data folder
    #[arg(long, value_name = "DIR", default_value = "stillohm-data")]
    data: PathBuf,
    /// As JSON, an object a line
    #[arg(long)]
    json: bool,
}

/// Lists the rows whose verdict turns, and those of which nothing can be said.
///
/// # Errors
/// No log, an unknown meter; exit 1 where something that passed does not any more.
#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let question = Question {
        meter: args.meter.clone(),
        since: args.since,
        until: args.until,
        off: args.error,
    };
    if question.until.is_some_and(|until| until <= question.since) {
        return Err(Fail::asked(
            "--until: expected a time after --since, found one before it",
        ));
    }
    let answer = affected(rows(args)?, &question);
    if !answer.meters.contains(&args.meter) {
        return Err(Fail::asked(format!(
            "--meter {:?} is in no row of {}; {}",
            args.meter,
            args.data.display(),
            instead(&args.meter, answer.meters.iter().map(String::as_str))
        )));
    }
    let mut out = Out::new();
    if !args.json {
        out.line(HEADER)?;
    }
    for row in &answer.rows {
        if args.all || row.turn != Turn::Same {
            write(row, args.json, &mut out)?;
        }
    }
    out.flush()?;
    eprintln!("stillohm: {}", summary(&answer, &question));
    match answer.a_pass_falls() {
        true => Err(Fail::No(String::from(
            "values that passed would not pass without the meter's error: measure them again",
        ))),
        false => Ok(()),
    }
}

/// The rows of the log that the answer needs.
fn rows(args: &Args) -> Result<Vec<Recorded>, Fail> {
    let mut rows = Vec::new();
    each(&log_of(&args.data)?, |recorded| {
        if matters(&recorded) {
            rows.push(recorded);
        }
    })?;
    Ok(rows)
}

fn matters(recorded: &Recorded) -> bool {
    use Event::{JobStart, Judged, Open, OverRange, Value, Withdrawn};
    matches!(
        recorded.row.event,
        Value | Open | OverRange | Judged | Withdrawn | JobStart
    )
}

fn write(row: &Affected, json: bool, out: &mut Out) -> Result<(), Fail> {
    let then = row.then.map(Verdict::word);
    let now = row.now.map(Verdict::word);
    if json {
        return out.line(json!({
            "seq": row.seq, "job": row.job, "asset": row.asset, "test": row.test,
            "point": row.point, "turn": row.turn.word(),
            "verdict_then": then, "verdict_now": now,
            "judged_then": row.judged_then.map(|ohms| ohms.to_string()),
            "judged_now": row.judged_now.map(|ohms| ohms.to_string()),
            "why": row.why,
        }));
    }
    let ohms = |ohms: Option<crate::quantity::Decimal>| ohms.map(|o| o.to_string());
    let cells = [
        row.seq.to_string(),
        row.job.clone(),
        row.asset.clone(),
        row.test.clone(),
        row.point.clone(),
        row.turn.word().to_owned(),
        then.unwrap_or_default().to_owned(),
        now.unwrap_or_default().to_owned(),
        ohms(row.judged_then).unwrap_or_default(),
        ohms(row.judged_now).unwrap_or_default(),
        row.why.to_owned(),
    ];
    out.line(cells.map(|cell| quoted(&cell)).join(","))
}

fn summary(answer: &Answer, question: &Question) -> String {
    format!(
        "without {} of {}: {} worse, {} better, {} as they were, {} not judgeable; a better one must be measured again before it counts",
        question.off,
        question.meter,
        answer.count(Turn::Worse),
        answer.count(Turn::Better),
        answer.count(Turn::Same),
        answer.count(Turn::NotJudgeable),
    )
}
