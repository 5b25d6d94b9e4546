//! `review insulation`: how insulation changes over the years, an asset a line.

use serde_json::{Value as Json, json};

use super::filter::{Which, gone_through};
use super::values::digits;
use crate::cli::Fail;
use crate::cli::table::{Form, Table};
use crate::log::cells::cells;
use crate::log::scan::column;
use crate::review::ask::aging::{Aging, percent_a_year};
use crate::review::ask::values::{Imports, Value, values};

/// Of which rows.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    which: Which,
    /// The minimum in megohms [default: the limit of the newest row]
    #[arg(long, value_name = "MEGOHM", value_parser = megohms)]
    minimum: Option<f64>,
    #[command(flatten)]
    form: Form,
}

/// Prints a line an asset and point: the newest value at 40 °C, what it changes
/// a year with 95 % doubt, and when it reaches the minimum where that can be said.
///
/// Values at 40 °C are those of the log's readings times the careful factor
/// (IEEE 43-2013 clause 6.3, the smaller of both where the insulation's kind is
/// not known). A value without a temperature is left out and counted; over-range
/// is no number. Imported values stand at the time that they tell.
///
/// # Errors
/// A question that cannot be asked, a log that cannot be read.
pub(super) fn run(args: &Args) -> Result<(), Fail> {
    let scan = args.which.open()?;
    let mut filter = args.which.filter()?;
    filter.one_of(column::TEST, ["insulation"]);
    let stages = args.which.stages(&scan, false)?;
    let by = [column::ASSET, column::POINT];
    let groups = gone_through(&scan, |done| {
        values(&scan, done, (&filter, &stages), &by, Imports::In)
    })?;
    let mut table = Table::new([
        "asset",
        "point",
        "n",
        "no_temperature",
        "newest_mohm_at_40",
        "percent_a_year",
        "from",
        "to",
        "minimum_mohm",
        "reaches_the_minimum",
    ]);
    for (key, values) in groups.iter().filter(|(key, _)| !key.starts_with(b",")) {
        let names = cells(key).map(|cell| json!(cell)).take(by.len());
        table.row(names.chain(row(values, args.minimum)));
    }
    if table.is_empty() {
        args.which.nothing(&scan)?;
    }
    table.print(args.form)
}

fn megohms(words: &str) -> Result<f64, String> {
    let number = words.parse().ok();
    let megohms = number.filter(|megohms: &f64| megohms.is_finite() && *megohms > 0.0);
    megohms.ok_or_else(|| format!("expected megohms above 0, found {words}"))
}

fn row(values: &[Value], minimum: Option<f64>) -> Vec<Json> {
    let aging = Aging::of(values, minimum.map(|megohm| megohm * 1e6));
    let newest = aging.points.last();
    let mut cells = vec![
        json!(aging.points.len()),
        json!(aging.no_temperature),
        newest.map_or(Json::Null, |(_, ohms)| digits(ohms / 1e6)),
    ];
    match aging.line {
        Some(line) => {
            let slopes = [line.slope, line.low, line.high];
            cells.extend(slopes.map(|slope| digits(percent_a_year(slope))));
        }
        None => cells.extend([Json::Null, Json::Null, Json::Null]),
    }
    cells.push(aging.minimum.map_or(Json::Null, |ohms| digits(ohms / 1e6)));
    let forecast = match aging.minimum {
        None => aging.forecast + "; say --minimum",
        Some(_) => aging.forecast,
    };
    cells.push(json!(forecast));
    cells
}
