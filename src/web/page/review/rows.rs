//! The rows behind a number, each with the way to its job and its trace.

use std::collections::BTreeSet;

use maud::{Markup, html};

use super::super::{jobs_list, marks};
use super::wanted::Wanted;
use crate::row::{Event, Recorded};
use crate::web::reviews::Rows;

/// The list, the newest first.
pub(super) fn body(wanted: &Wanted, rows: &Rows) -> Markup {
    html! {
        section aria-labelledby="rows" {
            h2 id="rows" { "Rows, the newest first" }
            @if rows.rows.is_empty() { p { "No row fits. Names are written as in the log, letter by letter." } }
            @else {
                table class="rows" {
                    thead { tr {
                        th scope="col" { "asset" }
                        th scope="col" { "point" }
                        th scope="col" { "shown" }
                        th scope="col" { "verdict" }
                        th scope="col" { "job and trace" }
                    } }
                    tbody { @for row in &rows.rows { (line(row)) } }
                }
            }
            nav class="older" aria-label="More rows" {
                @if let Some(last) = rows.rows.last().filter(|_| rows.older > 0) {
                    a class="button" href=(wanted.with("/review/rows", &[("before", &last.seq.to_string())])) { "Older rows" }
                    " " (rows.older) " more"
                }
                @if wanted.before.is_some() { " " a href=(wanted.at("/review/rows")) { "To the newest" } }
            }
            (captures(&rows.rows))
        }
    }
}

fn line(recorded: &Recorded) -> Markup {
    let (seq, row) = (recorded.seq, &recorded.row);
    let point = format!("{} {}", row.test, row.point);
    let shown = match row.event {
        Event::Aborted => "aborted",
        Event::Judged if row.shown.is_empty() => "judged",
        _ => row.shown.as_str(),
    };
    html! {
        tr {
            th scope="row" { (row.asset) span class="of" { " " (row.motor) } }
            td { (point.trim().replace('_', " ")) }
            td class="number" { (shown) }
            td { @if let Some(verdict) = row.verdict { (marks::verdict(verdict, row.finding)) } }
            td {
                @if row.job.is_empty() { "row " (seq) }
                @else { a href={ "/jobs/" (row.job) "#row-" (seq) } { (row.job) ", row " (seq) } }
                span class="of" { " " time datetime=(row.recorded_at.rfc3339()) { (jobs_list::when(row)) } }
            }
        }
    }
}

/// How to see why each was taken when it was.
fn captures(rows: &[Recorded]) -> Markup {
    let names: BTreeSet<&str> = rows.iter().map(|r| r.row.capture.as_str()).collect();
    let names: Vec<&str> = names.into_iter().filter(|name| !name.is_empty()).collect();
    html! {
        @if !names.is_empty() {
            details {
                summary { "Why the program took them when it did" }
                p { "In the data folder, on the command line; a line a change, with what was waited for:" }
                ul {
                    @for name in names.iter().rev().take(20) {
                        li { code { "stillohm replay captures/" (name) " --why" } }
                    }
                }
            }
        }
    }
}
