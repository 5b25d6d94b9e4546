//! Meters and how they are: what each says, whether it is there, what of it
//! was understood, and what jobs say of its accuracy and calibration.
//!
//! What stands in `data-field` the script keeps alive. Digits are the script's
//! alone: they are blank until it has heard.

use std::time::Duration;

use axum::extract::State;
use axum::response::Response;
use maud::{Markup, html};

use super::bench::address;
use super::{html as answer, shell};
use crate::view::{MeterView, View};
use crate::web::routes::Api;

pub(super) async fn list(State(api): State<Api>) -> Response {
    answer(page(&api.view()))
}

fn page(view: &View) -> Markup {
    let body = html! {
        h1 { "Meters" }
        p { a class="button" href="/meters/new" { "Set up a meter" } }
        p id="changed" role="status" hidden { "Other meters are there now. " a href="/meters" { "Show them" } }
        @if view.meters.is_empty() { p { "No meter is configured." } }
        div class="meter-list" {
            @for meter in &view.meters { (card(meter, view)) }
        }
        script src="/assets/meters.js" defer {}
    };
    shell::page("Meters", "/meters", &body)
}

fn card(meter: &MeterView, view: &View) -> Markup {
    let state = if meter.connected {
        "● connected"
    } else {
        "✗ not connected"
    };
    let age = meter.shown_at.map_or_else(
        || String::from("never"),
        |shown_at| ago(view.at.since(shown_at)),
    );
    let last_bad = match meter.last_bad.as_str() {
        "" => "none yet",
        why => why,
    };
    html! {
        article class="meter-state" data-meter=(meter.name) {
            h2 { (meter.name) }
            dl {
                (line("Shown", &html! { span data-field="shown" { "–" } }))
                (line("Last reading", &html! { span data-field="age" { (age) } }))
                (line("State", &html! {
                    span data-field="state" { (state) }
                    div data-field="trouble" { (meter.trouble) }
                }))
                (line("Bench", &html! { a href=(address(&meter.bench)) data-field="bench" { (meter.bench) } }))
                (line("Port", &html! { span data-field="port" { (meter.port) } }))
                (line("Description", &html! { span data-field="protocol" { (meter.protocol) } }))
                (line("Frames", &html! {
                    span data-field="good" { (meter.good_frames) } " understood, "
                    span data-field="bad" { (meter.bad_frames) } " refused"
                }))
                (line("Last refused", &html! {
                    span data-field="last_bad" { (last_bad) }
                    div { code data-field="last_bad_bytes" { (meter.last_bad_bytes) } }
                }))
                (line("Battery", &html! { span data-field="battery" { (battery(meter)) } }))
                (line("Accuracy and calibration", &html! {
                    @if meter.calibration.is_empty() { "not configured" } @else { (meter.calibration) }
                }))
                (line("What is said of it", &html! { span data-field="notes" { (notes(meter, view)) } }))
            }
        }
    }
}

fn battery(meter: &MeterView) -> String {
    meter.battery_percent.map_or_else(
        || String::from("it does not say"),
        |percent| format!("{percent:.0} %"),
    )
}

fn line(name: &str, what: &Markup) -> Markup {
    html! { div { dt { (name) } dd { (what) } } }
}

/// How long ago, in whole units.
fn ago(age: Duration) -> String {
    match age.as_secs() {
        s @ 0..60 => format!("{s} s ago"),
        s @ 60..3600 => format!("{} min ago", s / 60),
        s => format!("{} h ago", s / 3600),
    }
}

/// What jobs say of it all the time, and what a check asks for now.
fn notes(meter: &MeterView, view: &View) -> String {
    let mut said: Vec<String> = Vec::new();
    let banners = view.jobs.iter().flat_map(|job| &job.banners);
    for banner in banners {
        let own = banner.strip_prefix(&meter.name);
        if let Some(words) = own.and_then(|rest| rest.strip_prefix(": "))
            && !said.iter().any(|s| s == words)
        {
            said.push(words.to_owned());
        }
    }
    let checked = view.proving.iter().filter(|p| p.meter == meter.name);
    said.extend(checked.map(|p| format!("being checked: {}", p.say)));
    if said.is_empty() {
        return String::from("nothing is said of it now");
    }
    said.join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stamp::Stamp;
    use crate::view::Proving;

    fn meter(name: &str) -> MeterView {
        MeterView {
            name: name.to_owned(),
            bench: String::from("north tank"),
            protocol: String::from("perch-2"),
            port: String::from("usb 1-3"),
            calibration: String::from("± 0.5 % + 2 counts; certificate 2026-118; due 2027-03-31"),
            connected: true,
            trouble: String::new(),
            shown: String::from("4.21 Ω"),
            shown_at: Some(Stamp::from_seconds(10.0)),
            flags: Vec::new(),
            settle: "steady",
            progress: 0.0,
            hold: None,
            ohms: Some(4.21),
            over_range: false,
            test_volts: None,
            good_frames: 812,
            bad_frames: 3,
            last_bad: String::from("checksum: expected 5a, found 5b"),
            last_bad_bytes: String::new(),
            battery_percent: None,
        }
    }

    fn at(seconds: f64, meters: Vec<MeterView>) -> View {
        View {
            at: Stamp::from_seconds(seconds),
            meters,
            ..View::default()
        }
    }

    #[track_caller]
    fn check(view: &View, expected: &[&str]) {
        let drawn = page(view).0;
        for words in expected {
            assert!(drawn.contains(words), "{words} in {drawn}");
        }
    }

    #[test]
    fn a_meter_says_where_it_is_and_what_was_understood() {
        check(
            &at(13.9, vec![meter("perch")]),
            &[
                "± 0.5 % + 2 counts; certificate 2026-118; due 2027-03-31",
                "<h2>perch</h2>",
                r#"<a href="/bench/north%20tank" data-field="bench">north tank</a>"#,
                r#"<span data-field="port">usb 1-3</span>"#,
                r#"<span data-field="protocol">perch-2</span>"#,
                r#"<span data-field="state">● connected</span>"#,
                r#"<span data-field="age">3 s ago</span>"#,
                r#"<span data-field="good">812</span> understood"#,
                r#"<span data-field="bad">3</span> refused"#,
                r#"<span data-field="last_bad">checksum: expected 5a, found 5b</span>"#,
                r#"<span data-field="notes">nothing is said of it now</span>"#,
            ],
        );
    }

    #[test]
    fn a_meter_that_is_not_there_says_why() {
        let mut lost = meter("perch");
        (lost.connected, lost.shown_at) = (false, None);
        lost.trouble = String::from("no such port");
        lost.last_bad.clear();
        check(
            &at(1.0, vec![lost]),
            &[
                "✗ not connected</span><div data-field=\"trouble\">no such port</div>",
                r#"<span data-field="age">never</span>"#,
                r#"<span data-field="last_bad">none yet</span>"#,
            ],
        );
    }

    #[test]
    fn digits_are_blank_until_the_script_has_heard() {
        let drawn = page(&at(10.0, vec![meter("perch")])).0;
        assert!(drawn.contains(r#"<span data-field="shown">–</span>"#));
        assert!(!drawn.contains("4.21"), "{drawn}");
    }

    #[test]
    fn a_check_is_said_of_its_own_meter_only() {
        let mut view = at(10.0, vec![meter("perch"), meter("roach")]);
        view.proving.push(Proving {
            meter: String::from("roach"),
            say: String::from("Clip A and clip B on 100 Ω."),
        });
        check(
            &view,
            &[
                "being checked: Clip A and clip B on 100 Ω.",
                "nothing is said of it now",
            ],
        );
    }

    #[test]
    fn names_are_text_and_nothing_else() {
        let name = r#""><script>alert(1)</script>"#;
        let mut hostile = meter(name);
        for field in [
            &mut hostile.bench,
            &mut hostile.port,
            &mut hostile.protocol,
            &mut hostile.trouble,
            &mut hostile.last_bad,
        ] {
            *field = name.to_owned();
        }
        let drawn = page(&at(10.0, vec![hostile])).0;
        assert!(!drawn.contains("<script>alert"), "{drawn}");
        assert!(
            drawn.contains("<h2>&quot;&gt;&lt;script&gt;alert(1)&lt;/script&gt;</h2>"),
            "{drawn}"
        );
        assert!(
            drawn.contains(r#"href="/bench/%22%3E%3Cscript%3Ealert%281%29%3C%2Fscript%3E""#),
            "{drawn}"
        );
    }

    #[test]
    fn ages_are_whole() {
        for (seconds, expected) in [
            (0, "0 s ago"),
            (59, "59 s ago"),
            (60, "1 min ago"),
            (3599, "59 min ago"),
            (7200, "2 h ago"),
        ] {
            assert_eq!(ago(Duration::from_secs(seconds)), expected);
        }
    }
}
