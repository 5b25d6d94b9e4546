//! `review values`: how values lie against their limits, a line a model and point.

use serde_json::{Value as Json, json};

use super::filter::{Question, gone_through};
use crate::cli::Fail;
use crate::cli::table::Table;
use crate::log::cells::cells;
use crate::log::scan::column;
use crate::review::ask::values::{Imports, Value, values};
use crate::review::stats::spread::spread;

/// Prints a line a model, test and point. Values are as they were judged, in
/// ohms; limits are those of the newest row.
///
/// # Errors
/// A question that cannot be asked, a log that cannot be read.
pub(super) fn run(args: &Question) -> Result<(), Fail> {
    let scan = args.which.open()?;
    let filter = args.which.filter()?;
    let stages = args.which.stages(&scan, false)?;
    let by = [column::MOTOR, column::TEST, column::POINT];
    let groups = gone_through(&scan, |done| {
        values(&scan, done, (&filter, &stages), &by, Imports::Out)
    })?;
    let mut table = Table::new([
        "model",
        "test",
        "point",
        "n",
        "min",
        "quarter",
        "median",
        "three_quarters",
        "max",
        "robust_sigma",
        "lower",
        "upper",
        "below",
        "within",
        "above",
    ]);
    for (key, values) in &groups {
        let names = cells(key).map(|cell| json!(cell)).take(by.len());
        table.row(names.chain(row(values)));
    }
    if table.is_empty() {
        args.which.nothing(&scan)?;
    }
    table.print(args.form)
}

fn row(values: &[Value]) -> Vec<Json> {
    let limits = values.last().map_or((None, None), |newest| newest.limits);
    let ohms: Vec<f64> = values.iter().map(|value| value.judged_ohms).collect();
    let Ok(found) = spread(&ohms, limits) else {
        return vec![Json::Null; 12];
    };
    let mut cells = vec![json!(found.n)];
    for number in [
        found.min,
        found.lower_quartile,
        found.median,
        found.upper_quartile,
        found.max,
    ] {
        cells.push(digits(number));
    }
    cells.push(digits(found.robust_sigma));
    cells.extend([limits.0, limits.1].map(|limit| limit.map_or(Json::Null, digits)));
    match found.against {
        Some(against) => {
            cells.extend([against.below, against.within, against.above].map(|n| json!(n)))
        }
        None => cells.extend([Json::Null, Json::Null, Json::Null]),
    }
    cells
}

/// Five digits: a figure over many values, not a reading.
pub(super) fn digits(number: f64) -> Json {
    let text = format!("{number:.4e}");
    json!(text.parse::<f64>().unwrap_or(number))
}
