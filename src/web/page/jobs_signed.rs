//! What reviewers said of a job, and where one signs it off.

use maud::{Markup, html};

use super::jobs_list::when;
use crate::row::{Event, Recorded};

/// The reviews among a job's rows, and the form where it may be signed: a job
/// that has ended, on a page that may act.
pub(super) fn section(rows: &[Recorded], may_act: bool) -> Markup {
    let said: Vec<&Recorded> = rows
        .iter()
        .filter(|r| r.row.event == Event::Reviewed)
        .collect();
    let end = rows.iter().rev().find(|r| r.row.event == Event::JobEnd);
    let form = end.filter(|_| may_act);
    html! {
        @if !said.is_empty() || form.is_some() {
            section class="reviewed" aria-labelledby="reviewed" {
                h2 id="reviewed" { "Reviewed" }
                @if said.is_empty() { p { "Nobody has signed it off." } }
                ul { @for recorded in &said { (review(recorded, end)) } }
                @if let Some(end) = form { (sign(end.seq)) }
            }
        }
    }
}

fn review(recorded: &Recorded, end: Option<&Recorded>) -> Markup {
    let row = &recorded.row;
    // Of the job's end it is of the whole job.
    let of = row.of_seq.filter(|of| end.is_none_or(|end| end.seq != *of));
    html! {
        li id={ "row-" (recorded.seq) } {
            "Reviewed by " strong { (row.tester) } " on "
            time datetime=(row.recorded_at.rfc3339()) { (when(row)) }
            @if let Some(of) = of { ", of " a href={ "#row-" (of) } { "row " (of) } }
            ": " (row.reason)
            span class="of" { " (row " (recorded.seq) ")" }
        }
    }
}

/// A script brings it to life; without one nothing is promised.
fn sign(seq: u64) -> Markup {
    html! {
        form class="sign" data-seq=(seq) hidden novalidate {
            p {
                label for="sign-by" { "Who reviews" }
                input id="sign-by" name="by" autocomplete="name" maxlength="100" required;
            }
            p {
                label for="sign-words" { "What was looked at, and what it came to" }
                textarea id="sign-words" name="words" maxlength="1000" rows="2" required {}
            }
            p class="wrong" role="alert" id="sign-wrong" {}
            p { button { "Sign off" } }
            p class="of" { "Typed, not authenticated. It is a row of the log and changes no verdict." }
        }
    }
}
