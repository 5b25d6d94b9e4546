//! Setting up a meter: choose, listen to it live, write it down.
//!
//! What can be chosen the script asks for; the digits of a trial are its too.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use maud::{Markup, html};

use super::start::{field, number_field, text_field};
use super::{html as answer, shell};
use crate::web::routes::Api;

pub(super) async fn page(State(api): State<Api>) -> Response {
    if api.setup().is_none() {
        let body = html! {
            h1 { "Set up a meter" }
            p { "Not here: this is a demonstration with simulated meters. Start " code { "stillohm serve" } " and open this page there." }
        };
        let page = answer(shell::page("Set up a meter", "/meters", &body));
        return (StatusCode::NOT_FOUND, page).into_response();
    }
    answer(shell::page("Set up a meter", "/meters", &form()))
}

fn form() -> Markup {
    html! {
        link rel="stylesheet" href="/assets/start.css";
        h1 id="setup-name" { "Set up a meter" }
        p { "Choose, then listen: what stands below must be what the meter's own display shows. It is written to " code id="file" { "the configuration file" } ", whose comments stay." }
        noscript { p class="refused" { "This form needs scripts. Without them, write " code { "[[meter]]" } " in the configuration file." } }
        form id="setup" class="start" novalidate autocomplete="off" aria-labelledby="setup-name" {
            (text_field("name", "Name", "As it stands in the log, such as ohms-1.", true))
            (listed("port", "Port", "Choose one, or type a path, tcp:HOST:PORT or ble:ADDRESS. One by its USB serial number is found whatever its socket.", true))
            fieldset {
                legend { "Serial line" }
                (number_field("baud", "Bits a second", "As the meter's manual says; 9600 is usual.", false))
                (select("data_bits", "Data bits", &[("8", "8"), ("7", "7")]))
                (select("parity", "Parity", &[("none", "none"), ("even", "even"), ("odd", "odd")]))
                (select("stop_bits", "Stop bits", &[("1", "1"), ("2", "2")]))
            }
            (field("protocol", "How it speaks", "", true, &html! {
                select id="protocol" name="protocol" aria-required="true" aria-describedby="protocol-wrong" { option value="" { "choose one" } }
            }))
            (number_field("unit", "Unit", "Its address on a shared bus, 0 to 247; else leave it empty.", false))
            section class="trial" aria-labelledby="trial-name" {
                h2 id="trial-name" { "What it says now" }
                p class="digits" { output id="shown" aria-live="off" { "–" } }
                p id="heard" role="status" { "Not listened to yet." }
                p id="frames" {}
                p class="acts" {
                    button type="button" id="listen" { "Listen" }
                    button type="button" id="hush" hidden { "Stop listening" }
                }
            }
            (listed("bench", "Bench", "The place it stands at; the usual one is bench-1.", false))
            fieldset {
                legend { "Measures" }
                div class="either" {
                    @for (value, about) in [("ohms", "ohms"), ("insulation", "insulation, under a test voltage"), ("volts", "volts")] {
                        label { input type="checkbox" name="measures" value=(value) checked[value == "ohms"]; " " (about) }
                    }
                }
                p class="wrong" id="measures-wrong" hidden {}
            }
            (select("terminals", "Terminals", &[("2", "2: the leads are measured and subtracted"), ("4", "4: the leads do not count")]))
            fieldset id="accuracy" tabindex="-1" {
                legend { "Accuracy" }
                p class="hint" { "From the meter's manual: ± (percent of reading + counts), a range a line, the smallest first; the last may be without an end. Without it judging assumes the worst that is usual." }
                div id="ranges" { (range(1)) }
                p { button type="button" id="more" { "One more range" } }
                p class="wrong" id="accuracy-wrong" hidden {}
            }
            (number_field("over_range_above_ohms", "Over-range means more than, in ohms", "The top of its highest range, such as 40000000, when the stream does not say.", false))
            (text_field("serial_number", "Serial number", "", false))
            (text_field("certificate", "Calibration certificate", "", false))
            (text_field("calibrated_on", "Calibrated on", "Such as 2026-03-31.", false))
            (text_field("calibration_due", "Calibration due", "The last day it holds, such as 2027-03-31.", false))
            p id="refused" class="error" role="alert" tabindex="-1" {}
            button type="submit" class="first" { "Write it down" }
        }
        p id="saved" role="status" class="outcome" tabindex="-1" {}
        script src="/assets/setup.js" defer {}
    }
}

/// A field with a list to choose from, or to type beside.
fn listed(name: &str, label: &str, hint: &str, needed: bool) -> Markup {
    field(
        name,
        label,
        hint,
        needed,
        &html! {
            input type="text" id=(name) name=(name) list={ (name) "-list" } aria-required=[needed.then_some("true")]
                aria-describedby={ (name) "-hint " (name) "-wrong" } autocapitalize="off" spellcheck="false";
            datalist id={ (name) "-list" } {}
        },
    )
}

fn select(name: &str, label: &str, all: &[(&str, &str)]) -> Markup {
    field(
        name,
        label,
        "",
        false,
        &html! {
            select id=(name) name=(name) aria-describedby={ (name) "-wrong" } {
                @for (value, about) in all { option value=(value) { (about) } }
            }
        },
    )
}

/// One range of the accuracy; the script makes more of them.
fn range(number: u32) -> Markup {
    html! {
        div class="range" role="group" aria-label={ "Range " (number) } {
            @for (key, label) in [("up_to_ohms", "Up to, in ohms"), ("percent", "Percent of reading"), ("counts", "Counts")] {
                label { (label) input type="text" inputmode="decimal" data-key=(key); }
            }
        }
    }
}
