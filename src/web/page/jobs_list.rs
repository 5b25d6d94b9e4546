//! The list of jobs: what is asked for in the address, and the page of it.

use maud::{Markup, html};

use super::{marks, shell};
use crate::log::jobs::{Jobs, Listed, number};
use crate::row::{JobOutcome, Row};
use crate::view::{JobState, JobView, View};
use crate::web::query::plain;

/// The word of a job without an end.
const NOT_ENDED: &str = "not_ended";

/// What is asked for: words that stand in each field, upper or lower case.
#[derive(Clone, Debug, Default)]
pub(super) struct Wanted {
    asset: String,
    model: String,
    tester: String,
    outcome: String,
    /// Only jobs that began before this one.
    pub(super) before: Option<u64>,
    /// What could not be read: of which field, and why.
    wrong: Vec<(String, String)>,
}

impl Wanted {
    /// Reads the query of the address; what it cannot read is said on the page.
    pub(super) fn read(query: &str) -> Self {
        let mut wanted = Self::default();
        for pair in query.split('&').filter(|pair| !pair.is_empty()) {
            let (key, said) = pair.split_once('=').unwrap_or((pair, ""));
            let Some(value) = plain(said) else {
                wanted.wrong(key, format!("expected UTF-8, found {said:?}"));
                continue;
            };
            let value = value.trim().to_owned();
            match key {
                "asset" => wanted.asset = value,
                "model" => wanted.model = value,
                "tester" => wanted.tester = value,
                "outcome" => {
                    let known = value.is_empty() || value == NOT_ENDED;
                    if !known && JobOutcome::from_word(&value).is_none() {
                        wanted.wrong(key, format!("{value:?} is no outcome; choose one"));
                    } else {
                        wanted.outcome = value;
                    }
                }
                "before" => {
                    wanted.before = number(&value);
                    if wanted.before.is_none() {
                        wanted.wrong(key, format!("expected a job such as J12, found {value:?}"));
                    }
                }
                _ => wanted.wrong(key, String::from("nothing is filtered by that")),
            }
        }
        wanted
    }

    fn wrong(&mut self, key: &str, why: String) {
        self.wrong.push((key.to_owned(), why));
    }

    /// Whether a job of the log is wanted.
    pub(super) fn fits(&self, job: &Listed) -> bool {
        let row = &job.start.row;
        let came = job.end.as_ref().map(|end| outcome(&end.row));
        self.words(&row.asset, &row.motor, &row.tester)
            && match self.outcome.as_str() {
                "" => true,
                NOT_ENDED => came.is_none(),
                word => came.flatten().is_some_and(|came| came.word() == word),
            }
    }

    fn fits_running(&self, job: &JobView) -> bool {
        self.words(&job.asset, &job.motor, &job.tester)
            && matches!(self.outcome.as_str(), "" | NOT_ENDED)
    }

    fn words(&self, asset: &str, model: &str, tester: &str) -> bool {
        let has = |all: &str, part: &str| all.to_lowercase().contains(&part.to_lowercase());
        has(asset, &self.asset) && has(model, &self.model) && has(tester, &self.tester)
    }

    fn any(&self) -> bool {
        [&self.asset, &self.model, &self.tester, &self.outcome]
            .iter()
            .any(|words| !words.is_empty())
    }

    /// The address of the jobs that began before `job`.
    fn older(&self, job: &str) -> String {
        let mut address = String::from("/jobs?");
        for (key, words) in [
            ("asset", &self.asset),
            ("model", &self.model),
            ("tester", &self.tester),
            ("outcome", &self.outcome),
        ] {
            if !words.is_empty() {
                address += &format!("{key}={}&", marks::escaped(words));
            }
        }
        address + "before=" + job
    }
}

/// What a job came to, from its last row.
fn outcome(end: &Row) -> Option<JobOutcome> {
    JobOutcome::from_word(end.reason.split(':').next()?)
}

/// The page.
pub(super) fn page(wanted: &Wanted, view: &View, found: &Jobs) -> Markup {
    let running: Vec<&JobView> = match wanted.before {
        None => view.jobs.iter().rev().collect(),
        Some(_) => Vec::new(),
    };
    let running: Vec<&JobView> = running
        .into_iter()
        .filter(|job| wanted.fits_running(job))
        .collect();
    let body = html! {
        link rel="stylesheet" href="/assets/jobs.css";
        h1 { "Jobs" }
        (form(wanted))
        @if !running.is_empty() {
            h2 { "Not ended" }
            ul class="jobs" { @for job in &running { (running_job(job)) } }
            @if !found.shown.is_empty() { h2 { "In the log" } }
        }
        @if found.shown.is_empty() && running.is_empty() {
            p { @if wanted.any() { "No job fits." } @else if wanted.before.is_some() { "No older job is in the log." } @else { "No job is in the log yet." } }
        }
        ul class="jobs" { @for job in &found.shown { (kept(job)) } }
        nav class="older" aria-label="More jobs" {
            @if let Some(last) = found.shown.last().filter(|_| found.more > 0 || !found.counted) {
                a class="button" href=(wanted.older(&last.start.row.job)) { "Older jobs" }
                " "
                @if found.counted { (found.more) " more" } @else { "at least " (found.more) " more" }
            }
            @if wanted.before.is_some() { " " a href="/jobs" { "To the newest" } }
        }
    };
    shell::page("Jobs", "/jobs", &body)
}

fn form(wanted: &Wanted) -> Markup {
    let field = |key: &'static str, label: &str, words: &str| {
        html! {
            p {
                label for={ "filter-" (key) } { (label) }
                input id={ "filter-" (key) } name=(key) value=(words) autocomplete="off" maxlength="200"
                    aria-describedby=[why(wanted, key).is_some().then(|| format!("wrong-{key}"))];
                (wrong(wanted, key))
            }
        }
    };
    let chosen = |word: &str| wanted.outcome == word;
    html! {
        form class="filter" method="get" action="/jobs" aria-label="Which jobs" {
            (field("asset", "Asset", &wanted.asset))
            (field("model", "Model", &wanted.model))
            (field("tester", "Tester", &wanted.tester))
            p {
                label for="filter-outcome" { "Outcome" }
                select id="filter-outcome" name="outcome"
                    aria-describedby=[why(wanted, "outcome").is_some().then_some("wrong-outcome")] {
                    option value="" selected[chosen("")] { "any" }
                    @for outcome in JobOutcome::ALL {
                        option value=(outcome.word()) selected[chosen(outcome.word())] { (outcome.word().replace('_', " ")) }
                    }
                    option value=(NOT_ENDED) selected[chosen(NOT_ENDED)] { "not ended" }
                }
                (wrong(wanted, "outcome"))
            }
            p class="go" {
                button { "Show these" }
                @if wanted.any() { " " a href="/jobs" { "All jobs" } }
            }
            @for (key, why) in wanted.wrong.iter().filter(|(key, _)| !FIELDS.contains(&key.as_str())) {
                p class="wrong" role="alert" { (key) ": " (why) }
            }
        }
    }
}

const FIELDS: [&str; 4] = ["asset", "model", "tester", "outcome"];

fn why<'a>(wanted: &'a Wanted, field: &str) -> Option<&'a str> {
    let found = wanted.wrong.iter().find(|(key, _)| key == field);
    found.map(|(_, why)| why.as_str())
}

fn wrong(wanted: &Wanted, field: &str) -> Markup {
    html! {
        @if let Some(why) = why(wanted, field) {
            span class="wrong" role="alert" id={ "wrong-" (field) } { (why) }
        }
    }
}

fn kept(job: &Listed) -> Markup {
    let row = &job.start.row;
    let came = match &job.end {
        Some(end) => match outcome(&end.row) {
            Some(outcome) => came(outcome),
            None => html! { (end.row.reason) },
        },
        None => html! { span class="not-ended" { span aria-hidden="true" { "▸ " } "not ended" } },
    };
    let begun = html! { time datetime=(row.recorded_at.rfc3339()) { (when(row)) } };
    line(
        &row.job,
        [&row.asset, &row.motor, &row.tester],
        &begun,
        &came,
    )
}

fn running_job(job: &JobView) -> Markup {
    let state = match job.state {
        JobState::Active => "being worked on",
        JobState::Parked => "set aside",
        JobState::Interrupted => "interrupted",
    };
    let came = html! { span class="not-ended" { span aria-hidden="true" { "▸ " } (state) } };
    let at = html! { (job.bench) };
    line(&job.job, [&job.asset, &job.motor, &job.tester], &at, &came)
}

fn line(job: &str, [asset, motor, tester]: [&str; 3], when: &Markup, came: &Markup) -> Markup {
    html! {
        li {
            a href={ "/jobs/" (job) } { strong { (asset) } " " span class="job-name" { (job) } }
            span { (motor) }
            span class="came" { (came) }
            span class="by" { (tester) }
            span class="when" { (when) }
        }
    }
}

/// An outcome with a mark of its own, so that colour is never alone.
pub(super) fn came(outcome: JobOutcome) -> Markup {
    let (class, mark) = match outcome {
        JobOutcome::FaultFound => ("fail", "✗"),
        JobOutcome::Undecided => ("undecided", "?"),
        JobOutcome::Incomplete => ("not-judged", "…"),
        JobOutcome::NoFaultFound => ("pass", "✓"),
    };
    html! { span class=(class) { span aria-hidden="true" { (mark) " " } (outcome.word().replace('_', " ")) } }
}

/// When a row was recorded, to the minute.
pub(super) fn when(row: &Row) -> String {
    let at = row.recorded_at.rfc3339();
    let at = at.get(..16).unwrap_or(&at);
    at.replace('T', " ") + " UTC"
}
