//! Windings: lead to lead, one clip moving at a time.

use maud::{Markup, html};

use super::parts::{self, Meter, measured, picture};
use super::{THREE, TWO, Wound, inside, on_leads, plain};

pub(super) fn winding(wound: Wound, point: &str) -> Markup {
    let [top, middle, bottom] = THREE;
    let draw = |title: &str, inside: &Markup, names: [&str; 3], a: usize, b: usize| {
        let drawn = on_leads(inside, &THREE, &names, a, b);
        picture(title, &[], &drawn)
    };
    let windings = |run: bool, start: bool| {
        html! { (inside::coil(top, middle, run)) (inside::coil(middle, bottom, start)) }
    };
    let wires = ["run", "common", "start"];
    let lines = ["line 1", "line 2", "line 3"];
    let phases = inside::three_lines(THREE, "3 ~");
    match (wound, point) {
        (Wound::ThreeWire, "main") => draw(
            "Main winding: clip A on common, clip B on run; start stays free",
            &windings(true, false),
            wires,
            1,
            0,
        ),
        (Wound::ThreeWire, "start") => draw(
            "Start winding: clip A on common, clip B on start; run stays free",
            &windings(false, true),
            wires,
            1,
            2,
        ),
        (Wound::ThreeWire, "total") => draw(
            "Both windings in a row: clip A on run, clip B on start; common stays free",
            &windings(true, true),
            wires,
            0,
            2,
        ),
        (_, "line_12") => draw(
            "Line to line: clip A on line 1, clip B on line 2; line 3 stays free",
            &phases,
            lines,
            0,
            1,
        ),
        (_, "line_23") => draw(
            "Line to line: clip A on line 3, clip B on line 2; line 1 stays free",
            &phases,
            lines,
            2,
            1,
        ),
        (_, "line_31") => draw(
            "Line to line: clip A on line 3, clip B on line 1; line 2 stays free",
            &phases,
            lines,
            2,
            0,
        ),
        (Wound::TwoWire, "main") => two(
            "The winding: clip A on lead 1, clip B on lead 2",
            ["lead 1", "lead 2"],
            false,
            &[],
        ),
        (_, "main") => two(
            "Main winding: clip A on lead 1 or common, clip B on lead 2 or run",
            ["1 or common", "2 or run"],
            false,
            &[],
        ),
        (_, "cable_loop") => cable_loop(),
        _ => numbered(point),
    }
}

/// One winding with both ends out.
fn two(title: &str, names: [&str; 2], tapped: bool, below: &[&str]) -> Markup {
    let inside = html! {
        (inside::coil(TWO[0], TWO[1], true))
        @if tapped { (inside::taps(TWO[0], TWO[1])) }
    };
    picture(title, below, &on_leads(&inside, &TWO, &names, 0, 1))
}

/// A pair of leads by number, else the ends of whatever the point is called.
fn numbered(point: &str) -> Markup {
    let name = plain(point);
    if let Some((a, b)) = of_three(point) {
        let title = format!("Three leads in any order: clip A on lead {a}, clip B on lead {b}");
        let names = ["lead 1", "lead 2", "lead 3"];
        let drawn = on_leads(
            &inside::three_lines(THREE, "?"),
            &THREE,
            &names,
            a - 1,
            b - 1,
        );
        return picture(&title, &[], &drawn);
    }
    if let Some((a, b)) = point.strip_prefix("pair_").and_then(two_numbers) {
        let title = format!("A pair of leads: clip A on lead {a}, clip B on lead {b}");
        let (a, b) = (format!("lead {a}"), format!("lead {b}"));
        return two(&title, [&a, &b], false, &[]);
    }
    let title = format!("{name}: clip A and clip B on its ends");
    two(
        &title,
        ["one end", "other end"],
        point.starts_with("tap"),
        &[&name],
    )
}

/// Two numbers of at most three digits: what fits over a lead.
fn two_numbers(rest: &str) -> Option<(&str, &str)> {
    let (a, b) = rest.split_once('_')?;
    let number = |n: &str| (1..=3).contains(&n.len()) && n.bytes().all(|d| d.is_ascii_digit());
    (number(a) && number(b)).then_some((a, b))
}

/// `lead_3_1`: two different ones of three leads.
fn of_three(point: &str) -> Option<(usize, usize)> {
    let (a, b) = two_numbers(point.strip_prefix("lead_")?)?;
    let (a, b): (usize, usize) = (a.parse().ok()?, b.parse().ok()?);
    let one = 1..=3;
    (one.contains(&a) && one.contains(&b) && a != b).then_some((a, b))
}

/// A short along a cable, from one end of it.
fn cable_loop() -> Markup {
    let [top, bottom] = TWO;
    let drawn = html! {
        (parts::path(&format!("M20 {top}H262M20 {bottom}H262")))
        (parts::path(&format!("M60 {top}v40l-14 14l28 14l-28 14l14 14v44")))
        (parts::label(top, "shorted"))
        (measured(Meter::Ohms, top, bottom))
    };
    picture(
        "The loop of a short in a cable: clip A on the core that is shorted, clip B on what it is shorted to",
        &["the cable's end"],
        &drawn,
    )
}
