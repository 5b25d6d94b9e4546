//! A job whole: what was measured, what it was judged by, what it came to and
//! what that means. From its rows; what is not ended also from the view.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::{jobs_list, jobs_signed, marks, shell};
use crate::judge::STANDING;
use crate::report::curve::{self, Traced};
use crate::report::later::{Later, same_place, taken};
use crate::report::{
    Said, attested, blank, brief, concluded, diagnoses, limits, measures, ohms, planned,
};
use crate::row::{Event, Recorded, Row};
use crate::view::{Diagnosis, JobState, JobView, View};

/// A job's rows, and what later rows say of earlier ones.
struct Told<'a> {
    rows: &'a [Recorded],
    start: Option<&'a Recorded>,
    end: Option<&'a Recorded>,
    later: Later<'a>,
    /// The readings that values came from.
    traces: &'a BTreeMap<u64, Traced>,
    /// The job among those that are not ended.
    live: Option<&'a JobView>,
}

impl<'a> Told<'a> {
    fn of(
        name: &str,
        rows: &'a [Recorded],
        traces: &'a BTreeMap<u64, Traced>,
        view: &'a View,
    ) -> Self {
        Self {
            rows,
            start: rows.iter().find(|r| r.row.event == Event::JobStart),
            end: rows.iter().rev().find(|r| r.row.event == Event::JobEnd),
            later: Later::of(rows),
            traces,
            live: view.jobs.iter().find(|job| job.job == name),
        }
    }

    fn active(&self) -> bool {
        self.live.is_some_and(|job| job.state == JobState::Active)
    }

    /// Rows that were judged again after the job had ended, and do not pass.
    fn fallen_after(&self) -> Vec<u64> {
        let end = self
            .end
            .map(|end| self.later.fallen_after(self.rows, end.seq));
        end.unwrap_or_default()
    }

    /// Rows that were taken back after the job had ended.
    fn back_after(&self) -> Vec<u64> {
        let end = self.end.map(|end| self.later.back_after(end.seq));
        end.unwrap_or_default()
    }
}

/// The page of the job `name`; `rows` has at least one.
pub(super) fn page(
    name: &str,
    rows: &[Recorded],
    traces: &BTreeMap<u64, Traced>,
    view: &View,
    may_act: bool,
) -> Markup {
    let told = Told::of(name, rows, traces, view);
    let asset = rows.first().map_or("", |first| first.row.asset.as_str());
    let body = html! {
        div class="told" data-job=(name) data-runs=[told.live.map(|_| "")] {
            link rel="stylesheet" href="/assets/jobs.css";
            h1 { (asset) " " span class="job-name" { (name) } }
            (banners(&told, asset, view))
            (what(&told))
            (came(&told))
            (measured(&told))
            (said(&told))
            (meaning(&told))
            section aria-labelledby="cannot" {
                h2 id="cannot" { "What these tests cannot show" }
                p { (STANDING) "." }
            }
            (jobs_signed::section(rows, may_act))
            (chain(&told))
            p { a href="/jobs" { "All jobs" } }
        }
        script src="/assets/jobs.js" defer {}
    };
    shell::page(&format!("{asset}, {name}"), "/jobs", &body)
}

fn banners(told: &Told<'_>, asset: &str, view: &View) -> Markup {
    let ended = told.end.map(|end| concluded(&end.row)).unwrap_or_default();
    let named = |seqs: Vec<u64>| {
        let rows: Vec<String> = seqs.iter().map(|seq| format!("row {seq}")).collect();
        rows.join(", ")
    };
    let (back, fallen) = (named(told.back_after()), named(told.fallen_after()));
    html! {
        @for Said { words, .. } in ended.iter().filter(|said| said.loud) {
            p class={ "banner" @if marks::is_grave(words) { " grave" } } { (words.replace('_', " ")) }
        }
        @if told.end.is_none() {
            p class="banner" { "NOT ENDED: nothing is concluded, DO NOT ENERGIZE on its account" }
        }
        @if !back.is_empty() {
            p class="banner" {
                "Withdrawn after the job had ended: " (back)
                ". What it came to stands as it was concluded then; measure again before relying on it."
            }
        }
        @if !fallen.is_empty() {
            p class="banner grave" {
                "DO NOT ENERGIZE: judged again after the job had ended, and not passed: " (fallen)
                ". What it came to was concluded by other limits."
            }
        }
        @if let Some(job) = told.live {
            @for banner in &job.banners {
                p class={ "banner" @if marks::is_grave(banner) { " grave" } } { (banner.replace('_', " ")) }
            }
            @if let Some(until) = job.discharge_until { (shorted(asset, until.seconds() - view.at.seconds())) }
        }
        @for tag in view.discharging.iter().filter(|tag| tag.asset == asset) {
            (shorted(asset, tag.until.seconds() - view.at.seconds()))
        }
    }
}

fn shorted(asset: &str, seconds: f64) -> Markup {
    html! {
        @if seconds > 0.0 {
            p class="banner" { "Keep the winding of " (asset) " shorted to ground: " (format!("{:.0}", seconds.ceil())) " s more when this page was asked for" }
        }
    }
}

fn what(told: &Told<'_>) -> Markup {
    let Some(first) = told.rows.first().map(|r| &r.row) else {
        return html! {};
    };
    let plan = told.start.and_then(|start| planned(&start.row));
    let dead = told.rows.iter().find(|r| {
        r.row.event == Event::Attested
            && r.row.test == "dead"
            && !told.later.back.contains_key(&r.seq)
    });
    html! {
        section aria-labelledby="what" {
            h2 id="what" { "What, who, when" }
            dl class="facts" {
                dt { "Motor" } dd { (first.motor) }
                dt { "Tested by" } dd { (blank(&first.tester)) }
                dt { "Bench" } dd { (first.bench) }
                dt { "Begun" } dd { (time(first)) }
                dt { "Ended" }
                dd { @match told.end { Some(end) => (time(&end.row)), None => (state(told)) } }
            }
            @match plan {
                Some(lines) => ul { @for line in lines { li { (line) } } },
                None => p { "What was planned cannot be read from the row that began it." },
            }
            @match dead {
                Some(row) => p { "Attested in " (link(row.seq)) ": " (attested(&row.row)) "." },
                None => p class="banner" { "Nobody attested that the motor was off, locked out and proven dead" },
            }
            p { "Who may test, and how, is for local code and licensed people to say." }
        }
    }
}

fn time(row: &Row) -> Markup {
    html! { time datetime=(row.recorded_at.rfc3339()) { (row.recorded_at.rfc3339().replace('T', " ").replace('Z', " UTC")) } }
}

fn state(told: &Told<'_>) -> &'static str {
    match told.live.map(|job| job.state) {
        Some(JobState::Active) => "no; it is being worked on",
        Some(JobState::Parked) => "no; it is set aside",
        Some(JobState::Interrupted) => "no; it was interrupted",
        None => "no; nobody works on it any more",
    }
}

fn came(told: &Told<'_>) -> Markup {
    html! {
        section aria-labelledby="came" {
            h2 id="came" { "What it came to" }
            @if let Some(end) = told.end {
                @for (at, Said { words, loud }) in concluded(&end.row).into_iter().enumerate() {
                    p class=[(at == 0).then_some("outcome")] {
                        @if loud { strong { (words.replace('_', " ")) } } @else { (words.replace('_', " ")) }
                    }
                }
            } @else if let Some(job) = told.live {
                p class="outcome" { "If it ended now: " (jobs_list::came(job.outcome)) }
                p { (job.why.replace('_', " ")) }
                @if told.active() { p { a class="button" href=(super::bench::address(&job.bench)) { "To its bench" } } }
            } @else {
                p { "Nothing is concluded: it has no end." }
            }
        }
    }
}

fn measured(told: &Told<'_>) -> Markup {
    let points: Vec<&Recorded> = told.rows.iter().filter(|r| measures(&r.row)).collect();
    html! {
        section aria-labelledby="measured" {
            h2 id="measured" { "What was measured" }
            @if points.is_empty() { p { "Nothing." } }
            @for recorded in points { (point(told, recorded)) }
        }
    }
}

fn place(row: &Row) -> String {
    format!("{} {}", row.test, row.point)
        .trim()
        .replace('_', " ")
}

fn point(told: &Told<'_>, recorded: &Recorded) -> Markup {
    let (seq, row) = (recorded.seq, &recorded.row);
    let back = told.later.back.get(&seq);
    let again = told.later.again.get(&seq);
    let counts = back.is_none() && again.is_none();
    let shown = match row.event {
        Event::Aborted => "aborted",
        _ => row.shown.as_str(),
    };
    let limits = limits(row);
    html! {
        article id={ "row-" (seq) } class=(if counts { "point" } else { "point past" }) {
            h3 { (place(row)) }
            p class="verdict" { (verdict(row)) }
            @if let Some(by) = back {
                p class="mark" { span aria-hidden="true" { "⊘ " } "Withdrawn in " (link(by.seq)) ": " (by.row.reason) }
            }
            @if let Some(later) = again {
                p class="mark" { span aria-hidden="true" { "↻ " } "Measured again in " (link(*later)) }
            }
            @if let Some(later) = told.later.judged.get(&seq) {
                p class="mark" { span aria-hidden="true" { "→ " } "Judged again in " (link(*later)) }
            }
            @if let Some(of) = row.of_seq.filter(|_| row.event == Event::Judged) {
                p class="mark" {
                    @if same_place(told.rows, of, row) { "Judges " (link(of)) " with what came after it" }
                    @else { "Judges values together, up to " (link(of)) }
                }
            }
            dl class="facts" {
                @if !shown.is_empty() { dt { "Shown" } dd class="number" { (shown) } }
                @if let Some(judged) = row.judged_ohms { dt { "Judged" } dd class="number" { (ohms(brief(judged, 5))) } }
                @if !limits.is_empty() { dt { "Limits" } dd { (limits) @if !row.limits_from.is_empty() { " (" (row.limits_from) ")" } } }
                @if let Some(u) = row.uncertainty_ohms { dt { "Uncertainty" } dd { (ohms(brief(u, 3))) } }
                @if let Some(volts) = row.test_voltage_v { dt { "Test voltage" } dd { (volts) " V" } }
                @if let Some(held) = row.elapsed_s { dt { "Held" } dd { (held) " s" } }
                @if !row.meter.is_empty() { dt { "Meter" } dd { (row.meter) } }
                dt { "Row" } dd { (seq) ", " (time(row)) }
            }
            div class="why" {
                (trace(told, recorded))
                @if !row.reason.is_empty() { p class="terms" { (row.reason) } }
                @if !row.note.is_empty() { p class="terms" { (row.note) } }
                @if counts && taken(row) { (acts(told, seq, row)) }
            }
        }
    }
}

/// The readings that a value came from, or why they are not shown.
fn trace(told: &Told<'_>, recorded: &Recorded) -> Markup {
    html! {
        @match told.traces.get(&recorded.seq) {
            Some(Ok(trace)) => div class="trace" { (curve::svg(trace, recorded, told.rows)) },
            Some(Err(none)) => p class="trace" { (none.words()) },
            None => {}
        }
    }
}

/// Buttons that a script brings to life; without one nothing is promised.
fn acts(told: &Told<'_>, seq: u64, row: &Row) -> Markup {
    let place = place(row);
    html! {
        p class="acts" hidden {
            button type="button" data-withdraw=(seq) data-ask={ "Why row " (seq) ", " (place) ", is withdrawn" } { "Withdraw row " (seq) }
            @if told.active() {
                " "
                button type="button" data-redo={ (row.test) " " (row.point) } data-ask={ "Why " (place) " is measured again" } { "Measure " (place) " again" }
            }
        }
    }
}

/// The verdict with its mark, or that there is none.
fn verdict(row: &Row) -> Markup {
    match row.verdict {
        Some(verdict) => marks::verdict(verdict, row.finding),
        None => html! { span class="not-judged" { "no verdict" } },
    }
}

fn link(seq: u64) -> Markup {
    html! { a href={ "#row-" (seq) } { "row " (seq) } }
}

/// What persons said, what was left out or repeated, and what is missing.
fn said(told: &Told<'_>) -> Markup {
    let spoken: Vec<&Recorded> = told
        .rows
        .iter()
        .filter(|r| {
            let elsewhere = [Event::JobStart, Event::JobEnd, Event::Reviewed];
            !measures(&r.row) && !elsewhere.contains(&r.row.event)
        })
        .collect();
    html! {
        @if !spoken.is_empty() {
            section aria-labelledby="said" {
                h2 id="said" { "What was said, left out or missing" }
                ul class="said" {
                    @for recorded in spoken { (word(told, recorded)) }
                }
            }
        }
    }
}

fn word(told: &Told<'_>, recorded: &Recorded) -> Markup {
    let (seq, row) = (recorded.seq, &recorded.row);
    let words = match row.event {
        Event::Attested => attested(row),
        _ => row.reason.as_str(),
    };
    let place = place(row);
    html! {
        li id={ "row-" (seq) } {
            "Row " (seq) ": " (row.event.word().replace('_', " "))
            @if let Some(of) = row.of_seq { " of " (link(of)) }
            @if !place.is_empty() { ", " (place) }
            @if !row.meter.is_empty() { ", " (row.meter) }
            @if !words.is_empty() { ": " (words) }
            @if !row.note.is_empty() { ": " (row.note) }
            @if let Some(by) = told.later.back.get(&seq) {
                span class="mark" { " ⊘ withdrawn in " (link(by.seq)) }
            }
        }
    }
}

fn meaning(told: &Told<'_>) -> Markup {
    let found: Vec<Diagnosis> = match (told.end, told.live) {
        (Some(end), _) => diagnoses(&end.row),
        (None, Some(job)) => job.diagnosis.clone(),
        (None, None) => Vec::new(),
    };
    html! {
        @if !found.is_empty() {
            section aria-labelledby="meaning" {
                h2 id="meaning" { @if told.end.is_some() { "What it may mean" } @else { "What it may mean so far" } }
                @for diagnosis in &found { (pattern(diagnosis)) }
            }
        }
    }
}

fn pattern(diagnosis: &Diagnosis) -> Markup {
    html! {
        article class="pattern" {
            h3 { (diagnosis.says) }
            p {
                "From "
                @for (at, row) in diagnosis.rows.iter().enumerate() { @if at > 0 { ", " } (link(*row)) }
                " (" (diagnosis.source) ")"
            }
            @for (title, lines) in [
                ("May be", &diagnosis.causes),
                ("Check next", &diagnosis.next_checks),
                ("Mind", &diagnosis.cautions),
            ] {
                @if !lines.is_empty() {
                    h4 { (title) }
                    ul { @for line in lines { li { (line) } } }
                }
            }
        }
    }
}

fn chain(told: &Told<'_>) -> Markup {
    html! {
        section aria-labelledby="chain" {
            h2 id="chain" { "Its end in the log" }
            @match told.end {
                Some(end) => p {
                    code class="chain" { (end.seq) ":" (end.chain) }
                    br;
                    "Written down elsewhere, it shows later whether any row up to it was changed."
                },
                None => p { "It has no end yet." },
            }
        }
    }
}
