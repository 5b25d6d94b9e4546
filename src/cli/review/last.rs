//! `review last`: the newest value of every asset and point.

use serde_json::json;

use super::filter::{Question, gone_through};
use crate::cli::Fail;
use crate::cli::table::Table;
use crate::review::ask::last::last;

/// Shows the newest values.
///
/// # Errors
/// A question that cannot be asked, a log that cannot be read.
#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
pub(super) fn run(args: &Question) -> Result<(), Fail> {
    let scan = args.which.open()?;
    let filter = args.which.filter()?;
    let stages = args.which.stages(&scan, false)?;
    let found = gone_through(&scan, |done| last(&scan, done, &filter, &stages))?;
    let mut table = Table::new([
        "asset",
        "model",
        "test",
        "point",
        "meter",
        "shown",
        "verdict",
        "finding",
        "recorded_at",
        "job",
        "seq",
    ]);
    for kept in found.rows {
        let Ok(recorded) = kept.recorded() else {
            continue;
        };
        let row = recorded.row;
        table.row([
            json!(row.asset),
            json!(row.motor),
            json!(row.test),
            json!(row.point),
            json!(row.meter),
            json!(row.shown),
            json!(row.verdict.map_or("", crate::row::Verdict::word)),
            json!(row.finding.map_or("", crate::row::Finding::word)),
            json!(row.recorded_at.rfc3339()),
            json!(row.job),
            json!(recorded.seq),
        ]);
    }
    if found.imported > 0 {
        eprintln!(
            "stillohm: {} imported values fit too and are left out, since nobody saw them settle; the review page lists them",
            found.imported
        );
    } else if table.is_empty() {
        args.which.nothing(&scan)?;
    }
    table.print(args.form)
}
