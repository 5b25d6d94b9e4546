//! What fails: a line a group, with the share, its interval as numbers and as
//! a bar with whiskers, and the rows behind each number.

use maud::{Markup, html};

use super::wanted::Wanted;
use crate::web::reviews::{By, Counted};

/// Lines of the table (own: what a browser lays out at once).
const LINES: usize = 600;
/// Groups with so many judged set the scale: the interval of a few reaches
/// anywhere (own).
const MANY: u64 = 30;

/// The table.
pub(super) fn body(wanted: &Wanted, counted: &[Counted]) -> Markup {
    let by = wanted.by();
    let several = by.len() > 1;
    let scale = scale(counted);
    let shown = &counted[..counted.len().min(LINES)];
    let groups = shown.chunk_by(|a, b| !several || a.names[0] == b.names[0]);
    // An empty column takes room that a narrow screen has not.
    let undecided = counted.iter().any(|line| line.undecided > 0);
    let what = by.last().map_or("", |by| by.word());
    html! {
        section aria-labelledby="fails" {
            h2 id="fails" { "What fails" }
            @if counted.is_empty() { p { "No row fits. Names are written as in the log, letter by letter." } }
            @else {
                p {
                    "Of what was judged, by " (by.iter().map(|by| by.word()).collect::<Vec<_>>().join(" and "))
                    ". The bar is the share that failed, the whisker where it may truly lie with 95 % (Wilson 1927)."
                }
                @if !wanted.which.verdict.is_empty() || !wanted.which.finding.is_empty() {
                    p class="banner" { "Only rows of one verdict or finding are counted here: shares of them say nothing." }
                }
                table class="fails" {
                    thead { tr {
                        th scope="col" { (what) }
                        th scope="col" class="bar" { span { "0" } span { (percent(scale)) } }
                        th scope="col" class="n" { "fail share" }
                        th scope="col" class="n" { "95 % interval" }
                        th scope="col" class="n" { "fail" }
                        @if undecided { th scope="col" class="n" { "undecided" } }
                        th scope="col" class="n" { "judged" }
                    } }
                    @for group in groups {
                        tbody {
                            @if several { (head(group)) }
                            @for line in group { (self::line(wanted, line, scale, undecided)) }
                        }
                    }
                }
                @if counted.len() > LINES {
                    p { (counted.len() - LINES) " more lines are not shown; say which with the fields above." }
                }
            }
        }
    }
}

fn head(group: &[Counted]) -> Markup {
    let failed: u64 = group.iter().map(|line| line.fail).sum();
    let judged: u64 = group.iter().map(judged).sum();
    html! {
        tr class="group" {
            th scope="rowgroup" colspan="7" {
                (group.first().map_or("", |line| named(&line.names[0])))
                span class="of" { " " (failed) " of " (judged) " failed" }
            }
        }
    }
}

fn line(wanted: &Wanted, line: &Counted, scale: f64, undecided: bool) -> Markup {
    let rows = |verdict: Option<&str>, n: u64| {
        let address = wanted.rows_of(&line.names, verdict).filter(|_| n > 0);
        let kind = verdict.unwrap_or("judged").replace('_', " ");
        let label = format!("{n} {kind}, {}: the rows", line.names.join(" "));
        html! {
            td class="n" {
                @match address {
                    Some(address) => a href=(address) aria-label=(label) { (n) },
                    None => (n),
                }
            }
        }
    };
    let name = line.names.last().map_or("", |name| named(name));
    let by = wanted.by();
    let is_date = matches!(by.last(), Some(By::Month | By::Year | By::Day));
    html! {
        tr {
            th scope="row" class=[is_date.then_some("date")] { (name.replace('_', " ")) }
            td class="bar" { @if let Some(share) = line.share { (bar(share, scale)) } }
            @match line.share {
                Some([share, from, to]) => {
                    td class="n" { (percent(share)) }
                    td class="n" { span { (bare(from)) " –" } " " span { (percent(to)) } }
                },
                None => { td class="n" { "none judged" } td {} },
            }
            (rows(Some("fail"), line.fail))
            @if undecided { (rows(Some("undecided"), line.undecided)) }
            (rows(None, judged(line)))
        }
    }
}

/// A bar with its whisker; the numbers beside it say the same.
fn bar([share, from, to]: [f64; 3], scale: f64) -> Markup {
    let at = |share: f64| format!("{:.2}%", (100.0 * share / scale).clamp(0.0, 100.0));
    let beyond = to > scale;
    html! {
        svg class="bar" aria-hidden="true" focusable="false" {
            rect class="share" x="0" y="25%" width=(at(share)) height="50%" {}
            line class="whisker" x1=(at(from)) x2=(at(to)) y1="50%" y2="50%" {}
            line class="whisker" x1=(at(from)) x2=(at(from)) y1="20%" y2="80%" {}
            @if !beyond { line class="whisker" x1=(at(to)) x2=(at(to)) y1="20%" y2="80%" {} }
        }
        @if beyond { span class="beyond" aria-hidden="true" { "›" } }
    }
}

/// What the bars are drawn to.
fn scale(counted: &[Counted]) -> f64 {
    let many = counted.iter().filter(|line| judged(line) >= MANY);
    let of = |line: &Counted| line.share.map_or(0.0, |[_, _, to]| to);
    let most = many.map(of).fold(0.0, f64::max);
    let shares = counted.iter().filter_map(|line| line.share);
    let least = shares.map(|[share, _, _]| share).fold(0.0, f64::max);
    let wanted = most.max(least).max(0.001);
    // A round number of percent.
    let steps = [
        0.001, 0.002, 0.005, 0.01, 0.015, 0.02, 0.03, 0.04, 0.06, 0.08, 0.1, 0.15, 0.2, 0.3, 0.5,
    ];
    let round = steps.into_iter().find(|step| *step >= wanted);
    round.unwrap_or(1.0)
}

fn judged(line: &Counted) -> u64 {
    line.pass + line.fail + line.undecided
}

fn percent(share: f64) -> String {
    bare(share) + " %"
}

/// In percent, without the sign.
fn bare(share: f64) -> String {
    let percent = 100.0 * share;
    match percent {
        p if p >= 10.0 => format!("{p:.0}"),
        p if p >= 1.0 => format!("{p:.1}"),
        p => format!("{p:.2}"),
    }
}

fn named(name: &str) -> &str {
    if name.is_empty() { "not named" } else { name }
}
