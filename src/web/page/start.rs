//! The start of a job: which motor, where, by whom.
//!
//! Names and values are those that [`job_plan`](crate::web::asked::job_plan)
//! reads; nothing is checked here. What a choice is called comes from the
//! program's own lists, and what is left empty is not sent.

use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use maud::{Markup, html};

use super::{bench, html as answer, not_here, shell};
use crate::catalogue::{Catalogue, sheets};
use crate::limits::profile::shipped;
use crate::limits::{
    Acceptance, Electronics, GroundReference, Kind, MeasuredAt, Profile, Sheet, Stage,
};
use crate::view::{JobState, View};
use crate::web::asked::CONNECTIONS;
use crate::web::query;
use crate::web::routes::Api;

/// What stands in the form before anything is chosen: as a job is without it.
const STAGE: Stage = Stage::Arrival;
const MEASURED_AT: MeasuredAt = MeasuredAt::Motor;
const ACCEPTANCE: Acceptance = Acceptance::Simple;

/// Before the first step. In the words of the README, section "Before any test".
const CAUTIONS: [&str; 5] = [
    "Power off, locked out, proven dead with a tester tried on a known source before and after, shafts at rest: by people licensed for it.",
    "Capacitors keep their voltage and a turning rotor makes one.",
    "An insulation tester puts hundreds of volts on the winding and leaves them there: short the winding to ground afterwards.",
    "Keep test voltages away from electronics. Where nobody knows whether there are any, say unknown.",
    "The program cannot see whether any of this was done. Local codes and licensed practice come before anything it says.",
];

pub(super) async fn page(State(api): State<Api>, uri: Uri) -> Response {
    let view = api.view();
    let names = bench::names(&view);
    let wanted = query::bench(uri.query().unwrap_or_default());
    let benches = match wanted {
        Some(name) if !names.contains(&name) => {
            return not_here(&format!("no bench is called {name}"));
        }
        Some(name) => vec![name],
        None => names,
    };
    let body = form(&benches, &view, api.catalogue());
    answer(shell::page("Start a job", "/", &body))
}

/// The whole form, for one bench or for a choice of several.
fn form(benches: &[String], view: &View, catalogue: &Catalogue) -> Markup {
    html! {
        link rel="stylesheet" href="/assets/start.css";
        h1 id="start-name" { "Start a job" @if let [only] = benches { " on " (only) } }
        @if benches.is_empty() {
            p { "No meter is configured. " a href="/meters/new" { "Set one up" } " on this machine." }
        } @else {
            (at_work(benches, view))
            noscript { p class="refused" { "This form needs scripts. Without them, start a job with the command " code { "stillohm job" } "." } }
            form id="start" class="start" novalidate autocomplete="off" aria-labelledby="start-name" {
                (bench_field(benches))
                (text_field("asset", "Asset", "The machine's own name or tag; a scanner can type it.", true))
                (motor(catalogue))
                (connection())
                (text_field("tester", "Tester", "Who measures; kept on this screen for the next job.", false))
                (choice("stage", "Stage", "When in its stay the motor is measured.", &named(Stage::ALL, Stage::word, stage), Stands::At(STAGE.word())))
                (text_field("temperature", "Temperature of the winding", "Such as 20, 20C or 68F. Unknown: leave it empty, and 20 ± 20 °C stands in the uncertainty.", false))
                (place())
                (more(catalogue))
                section aria-labelledby="before" {
                    h2 id="before" { "Before the first step" }
                    ul class="cautions" { @for caution in CAUTIONS { li { (caution) } } }
                }
                p id="refused" class="error" role="alert" tabindex="-1" {}
                button type="submit" class="first" disabled { "Start the job" }
            }
            script src="/assets/start.js" defer {}
        }
    }
}

/// Who is already there: a second job on a bench is refused.
fn at_work(benches: &[String], view: &View) -> Markup {
    let active = view.jobs.iter().filter(|j| j.state == JobState::Active);
    html! {
        @for job in active.filter(|j| benches.contains(&j.bench)) {
            p class="at-work" {
                (job.asset) " is being worked on at " a href=(bench::address(&job.bench)) { (job.bench) }
                ". Set it aside or end it before the next one starts there."
            }
        }
    }
}

fn bench_field(benches: &[String]) -> Markup {
    let option = |name: &String| {
        html! { option value=(name) data-address=(bench::address(name)) { (name) } }
    };
    match benches {
        [only] => {
            html! { input type="hidden" id="bench" name="bench" value=(only) data-address=(bench::address(only)); }
        }
        several => field(
            "bench",
            "Bench",
            "",
            true,
            &html! {
                select id="bench" name="bench" aria-describedby="bench-wrong" {
                    @for name in several { (option(name)) }
                }
            },
        ),
    }
}

/// By its model, else by what its nameplate says.
fn motor(catalogue: &Catalogue) -> Markup {
    let listed = !catalogue.is_empty();
    html! {
        fieldset id="motor-by" {
            legend { "Motor" }
            div class="either" {
                label { input type="radio" name="by" value="model" checked[listed]; " Model from the catalogue" }
                label { input type="radio" name="by" value="nameplate" checked[!listed]; " Kind and nameplate" }
            }
            div id="by-model" {
                (field("motor", "Model", if listed { "Type a part of it, then choose with the arrow keys and Enter." } else { "The catalogue is empty: motors.csv has no models yet." }, true, &html! {
                    input type="text" id="motor" name="motor" role="combobox" aria-required="true" aria-autocomplete="list"
                        aria-expanded="false" aria-controls="motor-list" aria-describedby="motor-hint motor-wrong"
                        autocapitalize="off" spellcheck="false";
                    p id="motor-found" class="found" role="status" {}
                    ul id="motor-list" role="listbox" aria-label="Models" hidden {}
                    div id="motor-chosen" class="chosen" role="status" {}
                }))
            }
            div id="by-nameplate" {
                (choice("motor.kind", "Kind", "", &named(Kind::ALL, Kind::word, kind), Stands::Needed))
                (number_field("motor.rated_v", "Rated voltage, line to line", "In volts, such as 400.", true))
                (choice("motor.electronics", "Electronics in or on it", "An insulation test is refused unless there are none.", &named(Electronics::ALL, Electronics::word, electronics), Stands::Needed))
                (text_field("motor.model", "What to call it", "As on its plate; may be left empty.", false))
            }
        }
    }
}

/// Shown by the script for a three-phase model and for one with limits of both voltages.
fn connection() -> Markup {
    let options: Vec<Named> = CONNECTIONS
        .iter()
        .map(|word| (*word, word.replace('_', " ").replace(" v", " voltage")))
        .collect();
    html! {
        div id="connected" data-three-phase=(Kind::ThreePhase) data-ends=(CONNECTIONS.join(" ")) {
            (choice("connection", "Connected for", "Only for a motor with two voltages: which of its two sets of limits holds.", &options, Stands::NotSaid))
        }
    }
}

/// Where the clips are, and what lies between them and the motor.
fn place() -> Markup {
    html! {
        fieldset {
            legend { "Measured at" }
            div class="either" id="measured_at" tabindex="-1" aria-describedby="measured_at-wrong" role="radiogroup" aria-label="Measured at" {
                @for at in MeasuredAt::ALL {
                    label { input type="radio" name="measured_at" value=(at) checked[*at == MEASURED_AT]; " " (measured_at(*at)) }
                }
            }
            (wrong("measured_at"))
            div id="cable-part" data-without=(MeasuredAt::Motor) {
                (text_field("cable", "Cable, one way", "Such as 120 m 2.5 mm2 copper 12 C, or 130 ft awg 12 stranded; join several sizes with +. Unknown: windings come out undecided.", false))
                (number_field("cable_ohms", "Or its loop as measured", "In ohms, far ends joined, the test leads taken off.", false))
                (number_field("cable_doubt_percent", "How far that may be off", "In percent; left empty: 10.", false))
            }
        }
    }
}

/// What is seldom said.
fn more(catalogue: &Catalogue) -> Markup {
    let shipped = shipped();
    let profiles: Vec<&Profile> = catalogue.profiles.iter().chain(&shipped).collect();
    let profile_names: Vec<Named> = profiles
        .iter()
        .map(|p| (p.name.as_str(), format!("{}: {}", p.name, p.source)))
        .collect();
    let shipped = sheets::shipped();
    let sheets: Vec<Named> = catalogue
        .sheets
        .iter()
        .chain(&shipped)
        .map(|s: &Sheet| (s.name.as_str(), format!("{}: {}", s.name, s.title)))
        .collect();
    html! {
        details id="more" {
            summary { "Ground reference, limits, sheet" }
            (choice("ground_reference", "Ground reference", "What the ground clip holds. Not said: the frame at the motor, else something else.", &named(GroundReference::ALL, GroundReference::word, ground_reference), Stands::NotSaid))
            (choice("acceptance", "Acceptance", "Of a winding near its limits.", &named(Acceptance::ALL, Acceptance::word, acceptance), Stands::At(ACCEPTANCE.word())))
            (choice("profile", "Insulation profile", "Not said: that of the motor. Without one, nothing passes an insulation test.", &profile_names, Stands::NotSaid))
            (field("condition", "Condition", "Which of the profile's minima holds.", false, &html! {
                select id="condition" name="condition" aria-describedby="condition-hint condition-wrong" {
                    option value="" { "not said" }
                    @for profile in profiles.iter().filter(|p| !p.conditions().is_empty()) {
                        optgroup label=(profile.name) {
                            @for condition in profile.conditions() { option value=(condition) { (condition) } }
                        }
                    }
                }
            }))
            (choice("sheet", "Sheet", "Which points, in which order. Not said: those of the motor's kind.", &sheets, Stands::NotSaid))
        }
    }
}

/// A value as it is sent, and what it is called.
type Named<'a> = (&'a str, String);

/// What a choice stands at before anybody chose.
#[derive(Clone, Copy)]
enum Stands {
    /// At this word.
    At(&'static str),
    /// At nothing, which is said so; nothing is sent.
    NotSaid,
    /// At nothing, and one must be chosen.
    Needed,
}

fn named<T: Copy>(
    all: &[T],
    word: impl Fn(T) -> &'static str,
    called: impl Fn(T) -> &'static str,
) -> Vec<Named<'static>> {
    all.iter()
        .map(|one| (word(*one), called(*one).to_owned()))
        .collect()
}

/// A choice from a list.
fn choice(name: &str, label: &str, hint: &str, all: &[Named<'_>], stands: Stands) -> Markup {
    let needed = matches!(stands, Stands::Needed);
    field(
        name,
        label,
        hint,
        needed,
        &html! {
            select id=(name) name=(name) aria-required=[needed.then_some("true")] aria-describedby=(described(name, hint)) {
                @match stands {
                    Stands::At(_) => {}
                    Stands::NotSaid => { option value="" { "not said" } }
                    Stands::Needed => { option value="" { "choose one" } }
                }
                @for (value, called) in all {
                    option value=(value) selected[matches!(stands, Stands::At(word) if word == *value)] { (called) }
                }
            }
        },
    )
}

pub(super) fn text_field(name: &str, label: &str, hint: &str, needed: bool) -> Markup {
    field(
        name,
        label,
        hint,
        needed,
        &html! {
            input type="text" id=(name) name=(name) aria-required=[needed.then_some("true")]
                aria-describedby=(described(name, hint)) autocapitalize="off" spellcheck="false";
        },
    )
}

/// Numbers stay text: what was typed is judged whole, unit and all.
pub(super) fn number_field(name: &str, label: &str, hint: &str, needed: bool) -> Markup {
    field(
        name,
        label,
        hint,
        needed,
        &html! {
            input type="text" inputmode="decimal" id=(name) name=(name) aria-required=[needed.then_some("true")] aria-describedby=(described(name, hint));
        },
    )
}

/// A label, the control, its hint, and the place of its message.
pub(super) fn field(name: &str, label: &str, hint: &str, needed: bool, control: &Markup) -> Markup {
    html! {
        div class="field" {
            label for=(name) { (label) @if needed { " (needed)" } }
            @if !hint.is_empty() { p class="hint" id={ (name) "-hint" } { (hint) } }
            (control)
            (wrong(name))
        }
    }
}

/// Where the message of a field goes.
fn wrong(name: &str) -> Markup {
    html! { p class="wrong" id={ (name) "-wrong" } hidden {} }
}

fn described(name: &str, hint: &str) -> String {
    if hint.is_empty() {
        return format!("{name}-wrong");
    }
    format!("{name}-hint {name}-wrong")
}

fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::TwoWire => "two-wire: one winding",
        Kind::ThreeWire => "three-wire: common, run, start",
        Kind::ThreePhase => "three-phase",
        Kind::Other => "other",
    }
}

fn electronics(electronics: Electronics) -> &'static str {
    match electronics {
        Electronics::Yes => "yes",
        Electronics::No => "no",
        Electronics::Unknown => "unknown",
    }
}

fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Arrival => "on arrival",
        Stage::Dried => "after drying",
        Stage::Repaired => "after repair",
        Stage::Leaving => "before it leaves",
    }
}

fn measured_at(at: MeasuredAt) -> &'static str {
    match at {
        MeasuredAt::Motor => "the motor's own leads",
        MeasuredAt::Splice => "the splice",
        MeasuredAt::Panel => "the panel",
    }
}

fn ground_reference(reference: GroundReference) -> &'static str {
    match reference {
        GroundReference::Frame => "the bare frame",
        GroundReference::GroundConductor => "the ground conductor of the cable",
        GroundReference::MetalPipe => "a metal drop pipe",
        GroundReference::Casing => "the well casing",
        GroundReference::Other => "something else",
    }
}

fn acceptance(acceptance: Acceptance) -> &'static str {
    match acceptance {
        Acceptance::Simple => "simple: the value itself decides",
        Acceptance::Guarded => "guarded: undecided within U of a limit",
    }
}

#[cfg(test)]
#[path = "start_tests.rs"]
mod tests;
