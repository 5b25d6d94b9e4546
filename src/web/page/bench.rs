//! A bench: what its meters say, what is being measured, what to do next.

use maud::{Markup, html};

use super::{drawing, marks, scale, shell};
use crate::input::Attestation;
use crate::row::Verdict;
use crate::view::{JobState, JobView, MeterView, PointView, View};

/// The benches that there are, in the order of their meters.
pub(super) fn names(view: &View) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for meter in &view.meters {
        if !names.contains(&meter.bench) {
            names.push(meter.bench.clone());
        }
    }
    names
}

/// Where a bench's page is.
pub(super) fn address(bench: &str) -> String {
    format!("/bench/{}", marks::escaped(bench))
}

/// Which bench, where there are several.
pub(super) fn choice(names: &[String], view: &View) -> Markup {
    let body = html! {
        h1 { "Benches" }
        @if names.is_empty() {
            p { "No meter is configured. " a href="/meters/new" { "Set one up" } " on this machine." }
        }
        ul class="benches" {
            @for name in names {
                li {
                    a href=(address(name)) { (name) }
                    @for job in active(name, view) {
                        " " (job.asset) ", " (job.motor)
                    }
                }
            }
        }
    };
    shell::page("Benches", "/", &body)
}

/// The whole page of a bench.
pub(super) fn page(name: &str, view: &View) -> Markup {
    let body = html! {
        div id="bench" data-bench=(name) data-address=(address(name)) {
            div class="bench-head" {
                h1 class="bench-name" { (name) }
                (helps())
            }
            p id="line" class="line" role="alert" {}
            (watching())
            div class="said" {
                section id="meters" aria-label="Meters" {
                    @for meter in view.meters.iter().filter(|m| m.bench == name) {
                        (meter_card(meter))
                    }
                }
                section id="strip" aria-label="The last minute" {
                    canvas id="trace" width="1200" height="240" role="img" aria-label="Trace of the last minute" {}
                }
            }
            section id="ended" aria-label="The job that ended" role="status" {}
            section id="job" aria-label="The job" { (job(name, view)) }
            p class="keys" {
                "Keys: " kbd { "Enter" } " or " kbd { "Space" } " (a foot switch) does the large button, "
                kbd { "R" } " measures again, " kbd { "S" } " leaves out, " kbd { "P" } " sets aside, "
                kbd { "E" } " ends the job, " kbd { "Esc" } " goes back."
            }
        }
        script src="/assets/sound.js" defer {}
        script src="/assets/strip.js" defer {}
        script src="/assets/bench.js" defer {}
    };
    shell::page(name, "/", &body)
}

/// What a page sees that only watches; the script shows it.
fn watching() -> Markup {
    html! {
        section id="watching" class="watching" aria-label="Who works on this bench" hidden {
            p class="whose" role="status" {}
            button type="button" class="takes" { "Take over" }
            div class="sure" hidden {
                p { "Somebody's hands may be on the clips. Take over only when they know it; their page is then watching." }
                button type="button" class="yes" { "Take over now" }
                button type="button" class="keep" { "Keep watching" }
            }
            p class="failed" role="alert" {}
        }
    }
}

/// What helps while hands are on the clips; the script remembers each.
fn helps() -> Markup {
    html! {
        div class="helps" role="group" aria-label="Help by ear and by key" {
            button type="button" id="tones" aria-pressed="false" { "Tones" }
            button type="button" id="voice" aria-pressed="false" { "Voice" }
            button type="button" id="keys" aria-pressed="true" { "Keys" }
        }
    }
}

/// A meter. Its digits are the script's: they are blank until it has heard.
fn meter_card(meter: &MeterView) -> Markup {
    html! {
        article class="meter" data-meter=(meter.name) {
            h2 { (meter.name) }
            p class="digits" { output class="shown" aria-live="off" { "–" } }
            p class="age" {}
            p class="settle" {
                span class="word" { "no word yet" }
                progress max="1" value="0" aria-label={ "Settling of " (meter.name) } {}
                span class="hold" {}
            }
            p class="flags" {}
            p class="trouble" { (meter.trouble) }
        }
    }
}

fn active<'a>(bench: &'a str, view: &'a View) -> impl Iterator<Item = &'a JobView> {
    let jobs = view.jobs.iter().filter(move |job| job.bench == bench);
    jobs.filter(|job| job.state == JobState::Active)
}

/// The part that a change of the bench's jobs makes anew.
pub(super) fn job(bench: &str, view: &View) -> Markup {
    let waiting: Vec<&JobView> = view
        .jobs
        .iter()
        .filter(|job| job.bench == bench && job.state != JobState::Active)
        .collect();
    html! {
        @for job in active(bench, view) { (working(job)) }
        @if active(bench, view).next().is_none() {
            p class="ask" { "No job is on this bench." }
            p { a class="button first" href={ "/start?bench=" (address(bench).trim_start_matches("/bench/")) } { "Start a job" } }
        }
        @if !waiting.is_empty() {
            h2 { "Waiting" }
            ul class="waiting" {
                @for job in waiting {
                    li {
                        (job.asset) ", " (job.motor) ": " (waits(job)) " "
                        button type="button" data-act="go_on" data-job=(job.job) { "Go on with " (job.asset) }
                    }
                }
            }
        }
        @for tag in &view.discharging {
            p class="tag" data-until=(tag.until.seconds()) { "Keep " (tag.asset) " shorted to ground" span class="left" {} }
        }
    }
}

fn waits(job: &JobView) -> &'static str {
    match job.state {
        JobState::Parked => "set aside",
        JobState::Interrupted => "interrupted; going on proves the leads again",
        JobState::Active => "being worked on",
    }
}

/// An ask of more letters is written smaller, so that its button stays in sight.
const LONG_ASK: usize = 110;

/// A job that is being worked on.
fn working(job: &JobView) -> Markup {
    let now = job.points.iter().find(|p| p.state == "now");
    html! {
        div class="work" data-job=(job.job) {
            @for banner in &job.banners {
                p class={ "banner" @if marks::is_grave(banner) { " grave" } } role="alert" { (banner.replace('_', " ")) }
            }
            @if let Some(found) = found(job) { p class="banner found" role="alert" { (found) } }
            p class="what" { strong { (job.asset) } ", " (job.motor) @if !job.tester.is_empty() { ", " (job.tester) } }
            @if let Some(until) = job.discharge_until {
                p class="tag" data-until=(until.seconds()) { "Keep the winding shorted to ground" span class="left" {} }
            }
            @if !job.ask.cautions.is_empty() {
                ul class="cautions" aria-label="Before this step" {
                    @for caution in &job.ask.cautions { li { (caution) } }
                }
            }
            p class={ "ask" @if job.ask.say.len() > LONG_ASK { " long" } } id="ask" { (job.ask.say) }
            (acts(job))
            @if let Some(point) = now {
                div class="now" {
                    (drawing::among(drawn(job, point), &point.point, job.points.iter().map(|p| p.point.as_str())))
                    (scale::point(point))
                }
            }
            (points(job))
            p class="why" { (job.why.replace('_', " ")) }
        }
    }
}

/// What is drawn for the step of a point: its test, or a step on its way.
fn drawn<'a>(job: &JobView, point: &'a PointView) -> &'a str {
    let ask = &job.ask;
    match ask.confirm {
        Some(Attestation::ShortedToGround) => "shorted",
        // Nothing is clipped on, or pressed, before this is done.
        Some(Attestation::Disconnected) => "disconnected",
        None if point.test == "ground" && !ask.clips_on => "contact",
        _ => &point.test,
    }
}

/// What was found to be wrong, so far.
fn found(job: &JobView) -> Option<String> {
    let failed = job
        .points
        .iter()
        .filter(|p| p.verdict == Some(Verdict::Fail));
    let said: Vec<String> = failed
        .map(|point| match point.finding {
            Some(finding) => format!("{} {}", name(point), words(finding.word())),
            None => name(point),
        })
        .collect();
    (!said.is_empty()).then(|| format!("Fault found: {}", said.join(", ")))
}

/// The one obvious next action, and what else can be done.
fn acts(job: &JobView) -> Markup {
    let ask = &job.ask;
    let nothing_left = ask.confirm.is_none() && !ask.clips_on && ask.point.is_empty();
    html! {
        div class="acts" {
            @if let Some(what) = ask.confirm {
                button type="button" class="first" data-act="confirm" data-what=(what.word()) data-key="Enter" {
                    "Done: " (done(what)) kbd aria-hidden="true" { "Enter" }
                }
            }
            @if ask.clips_on {
                button type="button" class=[ask.confirm.is_none().then_some("first")] data-act="clips_on" data-key="Enter" {
                    "The clips are on" @if ask.confirm.is_none() { kbd aria-hidden="true" { "Enter" } }
                }
            }
            button type="button" data-act="redo" data-key="r" { "Measure again" kbd aria-hidden="true" { "R" } }
            button type="button" data-act="skip" data-reason="true" data-key="s" { "Leave out" kbd aria-hidden="true" { "S" } }
            button type="button" data-act="park" data-reason="true" data-key="p" { "Set aside" kbd aria-hidden="true" { "P" } }
            button type="button" class=[nothing_left.then_some("first")] data-act="end" data-key="e" {
                "End the job" kbd aria-hidden="true" { @if nothing_left { "Enter" } @else { "E" } }
            }
        }
    }
}

/// What a person has done, in their words.
fn done(what: Attestation) -> &'static str {
    match what {
        Attestation::Dead => "proven dead",
        Attestation::Disconnected => "all disconnected",
        Attestation::StandClear => "everyone stands clear",
        Attestation::VoltageOn => "voltage on",
        Attestation::VoltageOff => "voltage off",
        Attestation::BothEnds => "both clips are right",
        Attestation::ShortedToGround => "shorted to ground",
        Attestation::DisplayFollows => "the display changes",
    }
}

fn points(job: &JobView) -> Markup {
    html! {
        table class="points" {
            caption { "Points" }
            thead { tr { th scope="col" { "Point" } th scope="col" { "Shown" } th scope="col" { "Limits" } th scope="col" { "Verdict" } } }
            tbody {
                @for point in &job.points {
                    tr class=(point.state) aria-current=[(point.state == "now").then_some("step")] data-seq=[point.seq] {
                        th scope="row" { (name_among(point, &job.points)) }
                        td { (point.shown.replace(' ', "\u{a0}")) }
                        td { (scale::limits(point)) }
                        td title=(point.reason) { (verdict(point)) }
                    }
                }
            }
        }
    }
}

fn name(point: &PointView) -> String {
    format!("{} {}", point.test, point.point).replace('_', " ")
}

/// With its meter, where two meters have a point of this name.
fn name_among(point: &PointView, points: &[PointView]) -> String {
    let alike = |other: &&PointView| (&other.test, &other.point) == (&point.test, &point.point);
    match points.iter().filter(alike).count() > 1 && !point.meter.is_empty() {
        true => format!("{}, {}", name(point), point.meter),
        false => name(point),
    }
}

fn words(word: &str) -> String {
    word.replace('_', " ")
}

/// The verdict with its mark, and why in one word.
fn verdict(point: &PointView) -> Markup {
    match point.verdict {
        Some(verdict) => marks::verdict(verdict, point.finding),
        None if point.state == "skipped" => html! { span class="skipped" { "left out" } },
        None if point.state == "done" => html! { "done" },
        None => html! {},
    }
}
