//! The motor's leads and where the clips go, drawn for a point.
//!
//! The same as the asked-for words say, clip A and clip B on the same leads. A
//! drawing knows no ground reference: what clip B holds is "ground" in it. Its
//! title says in words what it shows. Judged points that nobody measures have none.

mod grounds;
mod inside;
mod parts;
#[cfg(test)]
mod tests;
mod voltage;
mod windings;

use maud::{Markup, html};

use grounds::{contact, ground, ground_path};
use parts::{Meter, measured, picture};
use voltage::{insulation, ratio, shorted};
use windings::winding;

/// Lines of three leads, and of two.
const THREE: [u32; 3] = [62, 132, 202];
const TWO: [u32; 2] = [62, 202];

/// How the motor is wound, as far as a drawing shows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Wound {
    TwoWire,
    ThreeWire,
    ThreePhase,
    /// Not told.
    Untold,
}

/// The drawing of a point of a job; `beside` are the names of the job's points,
/// which tell how its motor is wound. For `test` there are three words beside
/// those of points: `contact`, the step in which clip B goes to a second lead,
/// `shorted`, the short to ground after a test voltage, and `disconnected`,
/// before which nothing is clipped on.
pub(super) fn among<'a>(
    test: &str,
    point: &'a str,
    beside: impl Iterator<Item = &'a str>,
) -> Markup {
    let wound = wound(core::iter::once(point).chain(beside));
    match test {
        "dead" => dead(),
        "leads" => leads(point),
        "ground_path" => ground_path(),
        "winding" | "ground" if point.starts_with("set") => html! {},
        "winding" => winding(wound, point),
        "ground" => ground(wound, point),
        "contact" => contact(wound),
        "insulation" => insulation(wound, point),
        "ratio" => ratio(wound, point),
        "shorted" => shorted(wound),
        "disconnected" => html! {},
        "sensor" => sensor(point),
        "temperature" => temperature(point),
        _ => only_clips(&format!("{test} {point}")),
    }
}

fn wound<'a>(names: impl Iterator<Item = &'a str>) -> Wound {
    let mut told = Wound::Untold;
    let mut count = 0;
    for name in names {
        count += 1;
        match name {
            "start" | "total" => return Wound::ThreeWire,
            _ if name.starts_with("line_") => return Wound::ThreePhase,
            "main" => told = Wound::TwoWire,
            _ => {}
        }
    }
    // A main winding alone may be one of two.
    if count > 1 { told } else { Wound::Untold }
}

fn plain(name: &str) -> String {
    name.replace('_', " ")
}

/// What is inside, its lines and what their leads are called.
fn motor(wound: Wound) -> (Markup, Vec<u32>, Vec<&'static str>) {
    let [top, middle, bottom] = THREE;
    match wound {
        Wound::ThreeWire => (
            html! { (inside::coil(top, middle, false)) (inside::coil(middle, bottom, false)) },
            THREE.to_vec(),
            vec!["run", "common", "start"],
        ),
        Wound::ThreePhase => (
            inside::three_lines(THREE, "3 ~"),
            THREE.to_vec(),
            vec!["line 1", "line 2", "line 3"],
        ),
        Wound::TwoWire => (
            inside::coil(TWO[0], TWO[1], false),
            TWO.to_vec(),
            vec!["lead 1", "lead 2"],
        ),
        Wound::Untold => (
            inside::coil(TWO[0], TWO[1], false),
            TWO.to_vec(),
            vec!["a lead", "a lead"],
        ),
    }
}

/// Clip A on the line `a`, clip B on the line `b`, any other lead free.
fn on_leads(inside: &Markup, lines: &[u32], names: &[&str], a: usize, b: usize) -> Markup {
    html! {
        (parts::frame())
        (inside)
        @for (at, (line, name)) in lines.iter().zip(names).enumerate() {
            @if at == a || at == b { (parts::lead(*line, name)) } @else { (parts::free(*line, name)) }
        }
        (measured(Meter::Ohms, lines[a], lines[b]))
    }
}

fn dead() -> Markup {
    let drawn = html! {
        (parts::frame())
        (inside::lock())
        @for line in TWO { (parts::free(line, "")) }
        (parts::off(90))
    };
    picture(
        "Off, locked out, proven dead, shaft at rest: clip A and clip B are on nothing yet",
        &["locked out, dead, at rest"],
        &drawn,
    )
}

fn leads(point: &str) -> Markup {
    let when = if point == "after" {
        "after the last point"
    } else {
        "before the first point"
    };
    let title = format!(
        "The leads, {when}: clip A and clip B hold each other, the motor has no clip on it"
    );
    picture(&title, &[], &parts::joined())
}

fn sensor(point: &str) -> Markup {
    let name = plain(point);
    let drawn = on_leads(
        &inside::sensor(point, TWO[0], TWO[1]),
        &TWO,
        &["a lead", "its other lead"],
        0,
        1,
    );
    let title =
        format!("Sensor {name}: clip A and clip B on its leads; ohms only, no test voltage");
    picture(&title, &[&name], &drawn)
}

fn temperature(point: &str) -> Markup {
    let name = format!("temperature: {}", plain(point));
    let drawn = html! {
        @if point == "winding" {
            (parts::frame())
            (inside::coil(TWO[0], TWO[1], true))
            (parts::path("M96 132H240"))
        }
        (inside::thermometer(254, 70))
        (parts::words(310, 150, "start", 34, "… °C"))
    };
    let title = format!(
        "{name}: type it, or read it with a meter that sends it; clip A and clip B stay off"
    );
    picture(&title, &[&name], &drawn)
}

/// What this program has no drawing of: where the clips go is in the words.
fn only_clips(name: &str) -> Markup {
    let name = plain(name);
    let drawn = html! {
        (parts::path("M200 90H262M200 204H262"))
        (measured(Meter::Ohms, 90, 204))
    };
    let title = format!("{name}: clip A and clip B where the words say");
    picture(&title, &[&name], &drawn)
}
