//! Ground with an ohmmeter's low voltage: its own proof, a lead to it, the
//! contact that is shown afterwards.

use maud::{Markup, html};

use super::parts::{self, GROUND, Meter, measured, picture};
use super::voltage::between;
use super::{THREE, Wound, inside, motor, plain};

pub(super) fn ground_path() -> Markup {
    let [top, _, bottom] = THREE;
    let drawn = html! {
        (parts::frame())
        (parts::dot(140, top))
        (parts::lead(top, "ground used"))
        (parts::path(&format!("M170 {bottom}H262")))
        (parts::earth(176, bottom))
        (parts::label(bottom, "second ground"))
        (measured(Meter::Ohms, top, bottom))
    };
    picture(
        "Ground path: clip A on the ground in use, such as the bare frame; clip B on a second ground, such as the ground conductor",
        &[],
        &drawn,
    )
}

/// Where a run may be opened, as the sheets that come with the program name it.
const PLACES: [&str; 3] = ["panel", "well_head", "splice"];

/// With an ohmmeter's low voltage: one lead, since its winding is to be seen
/// from a second one in the next step.
pub(super) fn ground(wound: Wound, point: &str) -> Markup {
    if let Some(both) = point.strip_prefix("between_") {
        return between(both, Meter::Ohms);
    }
    let lead = point.strip_suffix("_to_ground").unwrap_or(point);
    if PLACES.contains(&lead) {
        return at_place(lead);
    }
    let (inside, lines, mut names) = motor(wound);
    let (title, at, below) = match line_of(lead) {
        Some(line) => (
            format!(
                "{} to ground: clip A on {}, clip B on ground",
                plain(lead),
                plain(lead)
            ),
            line,
            None,
        ),
        None if matches!(lead, "all" | "motor") => {
            names.fill("");
            names[0] = "a lead";
            let title = "Winding to ground: clip A on a winding lead, clip B on ground";
            (String::from(title), 0, None)
        }
        None => {
            names = vec!["this lead", "", ""];
            let name = plain(lead);
            (
                format!("{name} to ground: clip A on {name}, clip B on ground"),
                0,
                Some(name),
            )
        }
    };
    let drawn = html! {
        (parts::frame())
        (inside)
        @for (n, (line, name)) in lines.iter().zip(&names).enumerate() {
            @if n == at { (parts::lead(*line, name)) } @else { (parts::free(*line, name)) }
        }
        (parts::ground())
        (measured(Meter::Ohms, lines[at], GROUND))
    };
    let below: Vec<&str> = below.iter().map(String::as_str).collect();
    picture(&title, &below, &drawn)
}

/// Which of three lines a lead is.
pub(super) fn line_of(lead: &str) -> Option<usize> {
    ["line_1", "line_2", "line_3"]
        .iter()
        .position(|line| *line == lead)
}

/// Where a run is open: the cores apart, one measured towards the motor.
fn at_place(place: &str) -> Markup {
    let [top, middle, bottom] = THREE;
    let drawn = html! {
        (parts::path("M20 262H262"))
        (parts::earth(176, GROUND))
        (parts::label(GROUND, "ground"))
        (inside::cable(THREE))
        (parts::path(&format!("M176 {middle}L196 {top}H262")))
        (parts::path(&format!("M176 {middle}H228M176 {middle}L196 {bottom}H228")))
        (parts::label(top, "a core"))
        circle cx="235" cy=(middle) r="7" {}
        circle cx="235" cy=(bottom) r="7" {}
        (measured(Meter::Ohms, top, GROUND))
    };
    let place = plain(place);
    let title = format!(
        "At the {place}, towards the motor: clip A on a core, the others apart, clip B on ground"
    );
    picture(&title, &[&format!("at the {place}")], &drawn)
}

/// The winding clip stays, the other leaves ground for a second lead.
pub(super) fn contact(wound: Wound) -> Markup {
    let (inside, lines, mut names) = motor(wound);
    (names[0], names[1]) = ("a lead", "second lead");
    let drawn = html! {
        (parts::frame())
        (inside)
        (parts::lead(lines[0], names[0]))
        (parts::lead(lines[1], names[1]))
        @for line in &lines[2..] { (parts::free(*line, "")) }
        (parts::dot(140, GROUND))
        (parts::path(&format!("M140 {GROUND}H{}", parts::TIP - 30)))
        (parts::earth(176, GROUND))
        path d=(format!("M250 {GROUND}Q276 {} 264 {}m-8 14l8 -14l12 10", GROUND - 10, lines[1] + 30)) stroke-dasharray="10 9" {}
        (measured(Meter::Ohms, lines[0], lines[1]))
    };
    picture(
        "Contact: clip A stays on the winding lead; move clip B from ground to a second lead of that winding",
        &[],
        &drawn,
    )
}
