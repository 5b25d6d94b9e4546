//! `review count`: verdicts by group, with the share that failed and its doubt.

use serde_json::{Value, json};

use super::filter::{Which, gone_through};
use crate::cli::Fail;
use crate::cli::table::{Form, Table};
use crate::log::cells::cells;
use crate::log::scan::column;
use crate::review::ask::count::{By, Count, Tally};

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

/// A share and the 95 % interval around it: Wilson, "Probable inference, the
/// law of succession, and statistical inference", J. Am. Stat. Assoc. 22 (1927).
/// None: of nothing.
fn share(part: u64, all: u64) -> Option<[f64; 3]> {
    const Z: f64 = 1.959_963_984_540_054;
    if all == 0 {
        return None;
    }
    let (n, p) = (all as f64, part as f64 / all as f64);
    let middle = (p + Z * Z / (2.0 * n)) / (1.0 + Z * Z / n);
    let half = Z / (1.0 + Z * Z / n) * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    Some([p, (middle - half).max(0.0), (middle + half).min(1.0)])
}

#[cfg(test)]
mod tests {
    use super::*;

    // statsmodels 0.15: proportion_confint(count, nobs, method="wilson").
    #[test]
    fn a_share_has_the_interval_that_statsmodels_gives() {
        for (part, all, low, high) in [
            (0, 10, 0.0, 0.277_532_799_862_889),
            (1, 20, 0.008_881_448_800_795, 0.236_131_193_446_742),
            (50, 100, 0.403_831_530_365_996, 0.596_168_469_634_004),
            (272, 18_168, 0.013_305_289_632_090, 0.016_842_533_309_364),
        ] {
            let [_, from, to] = share(part, all).expect("of something");
            assert!(
                (from - low).abs() < 1e-9 && (to - high).abs() < 1e-9,
                "{part}/{all}: {from} {to}"
            );
        }
        assert_eq!(share(0, 0), None);
    }
}
