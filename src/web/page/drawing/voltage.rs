//! A test voltage: what is joined for it, and the short to ground after it.

use maud::{Markup, html};

use super::grounds::line_of;
use super::parts::{self, GROUND, Meter, measured, picture};
use super::{THREE, Wound, inside, motor, plain};

/// Two windings or lines against each other.
pub(super) fn between(both: &str, meter: Meter) -> Markup {
    let name = format!("between {}", plain(both));
    let [top, middle, bottom] = THREE;
    let tester = meter == Meter::Tester;
    let drawn = html! {
        (parts::frame())
        (inside::half(top))
        (inside::half(middle))
        (parts::lead(top, "one"))
        (parts::lead(middle, "other"))
        @if tester {
            (inside::half(bottom))
            (parts::to_ground(&[bottom], &["the rest"], None))
            (parts::dot(140, GROUND))
            (parts::path(&format!("M140 {GROUND}H236")))
            (parts::earth(176, GROUND))
            (parts::voltage(74, 224))
        }
        (measured(meter, top, middle))
    };
    if tester {
        let title = format!(
            "Insulation {name}: clip A on one, clip B on the other, every other lead joined to ground; press the tester's button, stand clear"
        );
        return picture(&title, &[&name, "stand clear"], &drawn);
    }
    let title = format!("{name}: clip A on one, clip B on the other");
    picture(&title, &[&name], &drawn)
}

pub(super) fn insulation(wound: Wound, point: &str) -> Markup {
    let lead = point.strip_suffix("_to_ground").unwrap_or(point);
    match point.strip_prefix("between_") {
        Some(both) => between(both, Meter::Tester),
        None if lead == "all" => under_voltage(
            "Insulation: clip A on all leads joined, clip B on ground; press the tester's button, stand clear",
            wound,
        ),
        None => one_under_voltage(wound, lead),
    }
}

pub(super) fn ratio(wound: Wound, point: &str) -> Markup {
    let title = format!(
        "Ratio {}, of two values of one hold: clip A on all leads joined, clip B on ground; press the tester's button, stand clear",
        plain(point)
    );
    under_voltage(&title, wound)
}

/// All leads joined against ground.
fn under_voltage(title: &str, wound: Wound) -> Markup {
    let (inside, lines, _) = motor(wound);
    let middle = THREE[1];
    let drawn = html! {
        (parts::frame())
        (inside)
        (parts::together(&lines, middle))
        (parts::label(THREE[0], "all leads joined"))
        (parts::ground())
        (parts::voltage(74, 224))
        (measured(Meter::Tester, middle, GROUND))
    };
    picture(title, &["stand clear"], &drawn)
}

/// One lead against ground and every other.
fn one_under_voltage(wound: Wound, lead: &str) -> Markup {
    let (inside, lines, names) = motor(wound);
    let name = plain(lead);
    let known = line_of(lead);
    let at = known.unwrap_or(0);
    let others: Vec<u32> = (0..lines.len())
        .filter(|n| *n != at)
        .map(|n| lines[n])
        .collect();
    let theirs: Vec<&str> = (0..lines.len())
        .filter(|n| *n != at)
        .map(|n| if known.is_some() { names[n] } else { "" })
        .collect();
    let drawn = html! {
        (parts::frame())
        (inside)
        (parts::lead(lines[at], if known.is_some() { names[at] } else { "this lead" }))
        (parts::to_ground(&others, &theirs, Some(lines[at])))
        (parts::ground())
        (parts::voltage(74, 224))
        (measured(Meter::Tester, lines[at], GROUND))
    };
    let title = format!(
        "Insulation of {name}: clip A on {name}, clip B on ground with every other lead; press the tester's button, stand clear"
    );
    let below: Vec<&str> = match known {
        Some(_) => vec!["stand clear"],
        None => vec![&name, "stand clear"],
    };
    picture(&title, &below, &drawn)
}

/// What ends a test voltage.
pub(super) fn shorted(wound: Wound) -> Markup {
    let (inside, lines, _) = motor(wound);
    let none: Vec<&str> = lines.iter().map(|_| "").collect();
    let drawn = html! {
        (parts::frame())
        (inside)
        (parts::to_ground(&lines, &none, None))
        (parts::dot(140, GROUND))
        (parts::path(&format!("M140 {GROUND}H236")))
        (parts::earth(176, GROUND))
        (parts::label(THREE[0], "all leads to ground"))
        (parts::voltage(350, 110))
    };
    picture(
        "All leads joined to ground and left so: the winding holds a charge",
        &["leave it shorted"],
        &drawn,
    )
}
