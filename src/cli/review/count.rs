//! `review count`: verdicts by group, with the share that failed and its doubt.

use serde_json::{Value, json};

use super::filter::{Which, gone_through};
use crate::cli::Fail;
use crate::cli::table::{Form, Table};
use crate::log::cells::cells;
use crate::log::scan::column;
use crate::review::ask::count::{By, Count, Tally};
use crate::review::stats::share::share;

/// What is counted.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Grouped by these, in this order
    #[arg(
        long,
        value_delimiter = ',',
        value_name = "A,B",
        default_value = "model,month"
    )]
    by: Vec<Group>,
    #[command(flatten)]
    which: Which,
    #[command(flatten)]
    form: Form,
}

/// What rows are grouped by.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum Group {
    Model,
    Month,
    Day,
    Year,
    Asset,
    Job,
    Stage,
    Tester,
    Meter,
    Bench,
    Test,
    Point,
    Verdict,
    Finding,
}

impl Group {
    fn by(self) -> By {
        match self {
            Self::Model => By::Column(column::MOTOR),
            Self::Asset => By::Column(column::ASSET),
            Self::Job => By::Column(column::JOB),
            Self::Tester => By::Column(column::TESTER),
            Self::Meter => By::Column(column::METER),
            Self::Bench => By::Column(column::BENCH),
            Self::Test => By::Column(column::TEST),
            Self::Point => By::Column(column::POINT),
            Self::Verdict => By::Column(column::VERDICT),
            Self::Finding => By::Column(column::FINDING),
            Self::Year => By::Date(4),
            Self::Month => By::Date(7),
            Self::Day => By::Date(10),
            Self::Stage => By::Stage,
        }
    }
}

/// Counts verdicts.
///
/// # Errors
/// A question that cannot be asked, a log that cannot be read.
pub(super) fn run(args: &Args) -> Result<(), Fail> {
    let scan = args.which.open()?;
    let filter = args.which.filter()?;
    let by: Vec<By> = args.by.iter().map(|group| group.by()).collect();
    let stages = args.which.stages(&scan, by.contains(&By::Stage))?;
    let make = || Count::new(&filter, &by, &stages);
    let counted = gone_through(&scan, |done| scan.gather(done, make))?;
    let names: Vec<String> = args.by.iter().map(word).collect();
    let numbers = [
        "pass",
        "fail",
        "undecided",
        "not_judged",
        "fail_percent",
        "from",
        "to",
    ];
    let mut table = Table::new(names.iter().map(String::as_str).chain(numbers));
    for (key, tally) in counted.sorted() {
        let groups = cells(&key).map(|cell| json!(cell)).take(by.len());
        table.row(groups.chain(row(&tally)));
    }
    if table.is_empty() {
        args.which.nothing(&scan)?;
    }
    table.print(args.form)
}

fn word(group: &Group) -> String {
    use clap::ValueEnum as _;
    let value = group.to_possible_value();
    value.map_or_else(String::new, |value| value.get_name().to_owned())
}

fn row(tally: &Tally) -> Vec<Value> {
    let mut cells = vec![
        json!(tally.pass),
        json!(tally.fail),
        json!(tally.undecided),
        json!(tally.not_judged),
    ];
    match share(tally.fail, tally.judged()) {
        Some(share) => cells.extend(share.map(|share| json!(percent(share)))),
        None => cells.extend([Value::Null, Value::Null, Value::Null]),
    }
    cells
}

fn percent(share: f64) -> f64 {
    (share * 10_000.0).round() / 100.0
}
