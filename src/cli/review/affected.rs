//! `review affected`: which verdicts turn if a meter was off since a day.

use std::path::PathBuf;

use serde_json::{Value, json};

use super::super::Fail;
use super::moment::{since, until};
use super::rows::each_needed;
use crate::cli::data::log_of;
use crate::cli::table::{Form, Table};
use crate::quantity::Decimal;
use crate::review::affected::{Affected, Answer, Looking, Off, Question, Turn};
use crate::row::Verdict;
use crate::stamp::Wall;
use crate::text::instead;

/// What is asked.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The meter, by its name in the log
    #[arg(long, value_name = "NAME")]
    meter: String,
    /// From when on it was off: a year, month or day (UTC), or a date with time
    #[arg(long, value_name = "D", value_parser = since)]
    since: Wall,
    /// Until when: a year, month or day (UTC, itself included), or a date with time [default: the log's end]
    #[arg(long, value_name = "D", value_parser = until)]
    until: Option<Wall>,
    /// How it was off: "+1.2 %" or "+0.3 ohm", + where it read too high
    #[arg(long, value_name = "ERROR", allow_hyphen_values = true)]
    error: Off,
    /// List what stays as it was too
    #[arg(long)]
    all: bool,
    /// The data folder
    #[arg(long, value_name = "DIR", default_value = "stillohm-data")]
    data: PathBuf,
    #[command(flatten)]
    form: Form,
}

/// Lists the rows whose verdict turns, and those of which nothing can be said.
///
/// # Errors
/// No log, an unknown meter; exit 1 where something that passed does not any more,
/// or cannot be judged.
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
    let answer = asked(args, &question)?;
    if !answer.meters.contains(&args.meter) {
        return Err(Fail::asked(format!(
            "--meter {:?} is in no row of {}; {}",
            args.meter,
            args.data.display(),
            instead(&args.meter, answer.meters.iter().map(String::as_str))
        )));
    }
    let mut table = Table::new([
        "seq",
        "job",
        "asset",
        "test",
        "point",
        "turn",
        "verdict_then",
        "verdict_now",
        "judged_then",
        "judged_now",
        "why",
    ]);
    for row in &answer.rows {
        if args.all || row.turn != Turn::Same {
            table.row(cells(row));
        }
    }
    table.print(args.form)?;
    if answer.rows.is_empty() {
        eprintln!(
            "stillohm: no value of {} lies in this time: see which do with review last --meter",
            args.meter
        );
        return Ok(());
    }
    eprintln!("stillohm: {}", summary(&answer, &question));
    match (
        answer.passes(Turn::Worse),
        answer.passes(Turn::NotJudgeable),
    ) {
        (0, 0) => Ok(()),
        (0, open) => Err(Fail::No(format!(
            "of {open} rows that passed nothing can be said: measure them again"
        ))),
        (worse, _) => Err(Fail::No(format!(
            "{worse} rows that passed would not pass without the meter's error: measure them again"
        ))),
    }
}

/// The answer of the whole log.
fn asked(args: &Args, question: &Question) -> Result<Answer, Fail> {
    let mut looking = Looking::new(question);
    let needed = |looking: &mut Looking<'_>, event, meter: &str| {
        looking.meter(meter);
        looking.needs(event, meter)
    };
    let dir = log_of(&args.data)?;
    each_needed(&dir, &mut looking, needed, |looking, recorded| {
        looking.row(recorded)
    })?;
    Ok(looking.answer())
}

fn cells(row: &Affected) -> [Value; 11] {
    let ohms = |ohms: Option<Decimal>| json!(ohms.map(|ohms| ohms.to_string()));
    [
        json!(row.seq),
        json!(row.job),
        json!(row.asset),
        json!(row.test),
        json!(row.point),
        json!(row.turn.word()),
        json!(row.then.map(Verdict::word)),
        json!(row.now.map(Verdict::word)),
        ohms(row.judged_then),
        ohms(row.judged_now),
        json!(row.why),
    ]
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
