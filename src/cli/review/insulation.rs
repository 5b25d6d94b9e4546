//! `review insulation`: how insulation changes over the years, an asset a line.

use serde_json::{Value as Json, json};

use super::filter::{Which, gone_through};
use super::values::digits;
use crate::cli::Fail;
use crate::cli::table::{Form, Table};
use crate::judge::correction::careful;
use crate::log::cells::cells;
use crate::log::scan::column;
use crate::quantity::Celsius;
use crate::review::ask::values::{Value, values};
use crate::review::stats::slope::{reaches, slope};
use crate::stamp::Wall;

const DAY: f64 = 86_400e9;
const DAYS_A_YEAR: f64 = 365.25;

/// Of which rows.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    which: Which,
    /// The minimum in megohms [default: the limit of the newest row]
    #[arg(long, value_name = "MEGOHM")]
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
/// is no number.
///
/// # Errors
/// A question that cannot be asked, a log that cannot be read.
pub(super) fn run(args: &Args) -> Result<(), Fail> {
    let scan = args.which.open()?;
    let mut filter = args.which.filter()?;
    filter.one_of(column::TEST, ["insulation"]);
    let stages = args.which.stages(&scan, false)?;
    let by = [column::ASSET, column::POINT];
    let groups = gone_through(&scan, |done| values(&scan, done, (&filter, &stages), &by))?;
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
    table.print(args.form)
}

fn row(values: &[Value], minimum: Option<f64>) -> Vec<Json> {
    let at_40 = |value: &Value| {
        let factor = careful(None, Celsius(value.celsius?));
        Some((value.at.0 as f64 / DAY, value.value_ohms * factor))
    };
    let points: Vec<(f64, f64)> = values.iter().filter_map(at_40).collect();
    let newest = points
        .last()
        .map_or(Json::Null, |(_, ohms)| digits(ohms / 1e6));
    let limit = values.last().and_then(|newest| newest.limits.0);
    let minimum = minimum.map(|megohm| megohm * 1e6).or(limit);
    let decades: Vec<_> = points
        .iter()
        .filter(|(_, ohms)| *ohms > 0.0)
        .map(|(day, ohms)| (*day, libm::log10(*ohms)))
        .collect();
    let mut cells = vec![
        json!(points.len()),
        json!(values.len() - points.len()),
        newest,
    ];
    match slope(&decades) {
        Ok(line) => {
            let a_year = |slope: f64| digits(100.0 * (libm::exp10(slope * DAYS_A_YEAR) - 1.0));
            cells.extend([line.slope, line.low, line.high].map(a_year));
        }
        Err(_) => cells.extend([Json::Null, Json::Null, Json::Null]),
    }
    cells.push(minimum.map_or(Json::Null, |ohms| digits(ohms / 1e6)));
    cells.push(json!(when(&points, minimum)));
    cells
}

/// When the minimum is reached, or why that is not said.
fn when(points: &[(f64, f64)], minimum: Option<f64>) -> String {
    let Some(minimum) = minimum else {
        return String::from("no forecast: no minimum is known; say --minimum");
    };
    let month = |day: f64| Wall((day * DAY) as i64).month();
    match reaches(points, minimum) {
        Ok(reach) => {
            let latest = reach
                .latest
                .map_or_else(|| String::from("later than can be said"), month);
            format!(
                "around {} ({} to {latest})",
                month(reach.at),
                month(reach.soonest)
            )
        }
        Err(why) => why.to_string(),
    }
}
