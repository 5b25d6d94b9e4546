//! What is inside the frame: coils between lines, three phases that may be
//! joined either way, sensors. Lines end at the frame, where the leads begin.

use maud::{Markup, html};

use super::parts::{heavy, path, words};

/// A coil between two lines; `now` if it is what is measured.
pub(super) fn coil(top: u32, bottom: u32, now: bool) -> Markup {
    let bumps = ((bottom - top) / 34).max(2);
    let step = f64::from(bottom - top) / f64::from(bumps);
    let bump = format!("a16 {} 0 0 1 0 {step}", step / 2.0);
    let wound = format!("M76 {top}{}", bump.repeat(bumps as usize));
    html! {
        (path(&format!("M140 {top}H76")))
        (path(&format!("M140 {bottom}H76")))
        @if now { (heavy(&wound)) } @else { (path(&wound)) }
    }
}

/// A coil with one end brought out, on the line `y`.
pub(super) fn half(y: u32) -> Markup {
    path(&format!(
        "M140 {y}H104a9 14 0 0 0 -18 0a9 14 0 0 0 -18 0a9 14 0 0 0 -18 0"
    ))
}

/// Places along a coil that are brought out.
pub(super) fn taps(top: u32, bottom: u32) -> Markup {
    let step = (bottom - top) / 4;
    html! {
        @for at in 1..4 { (path(&format!("M60 {}h16", top + at * step))) }
    }
}

/// Three lines to what nobody need know, or knows yet, how it is joined.
pub(super) fn three_lines(lines: [u32; 3], what: &str) -> Markup {
    let [top, middle, bottom] = lines;
    html! {
        (path(&format!("M140 {top}H76V{}", middle - 42)))
        (path(&format!("M140 {middle}H118")))
        (path(&format!("M140 {bottom}H76V{}", middle + 42)))
        circle cx="76" cy=(middle) r="42" {}
        (words(76, middle + 12, "middle", 34, what))
    }
}

/// A motor at the far end of a cable whose cores are the lines.
pub(super) fn cable(lines: [u32; 3]) -> Markup {
    let middle = lines[1];
    html! {
        circle cx="80" cy=(middle) r="38" {}
        (words(80, middle + 12, "middle", 34, "M"))
        rect x="118" y=(middle - 14) width="58" height="28" rx="8" {}
    }
}

/// A sensor between two lines, by its name.
pub(super) fn sensor(name: &str, top: u32, bottom: u32) -> Markup {
    let middle = u32::midpoint(top, bottom);
    let (above, below) = (middle - 30, middle + 30);
    html! {
        (path(&format!("M140 {top}H76V{above}")))
        (path(&format!("M140 {bottom}H76V{below}")))
        @if name.starts_with("thermal_switch") {
            (path(&format!("M76 {below}L54 {}M62 {above}h28", above + 8)))
        } @else if name.starts_with("leak_probe") {
            (path(&format!("M58 {above}h36M58 {below}h36")))
            (path(&format!("M76 {}q-14 20 0 22q14 -2 0 -22", middle - 12)))
        } @else {
            rect x="62" y=(above) width="28" height="60" {}
            (path(&format!("M46 {}l60 -44v-14", middle + 26)))
        }
    }
}

/// A lock on what could switch it on.
pub(super) fn lock() -> Markup {
    html! {
        rect x="48" y="146" width="64" height="54" rx="8" {}
        (path("M60 146v-20a20 20 0 0 1 40 0v20"))
        (path("M80 166v14"))
    }
}

/// A thermometer.
pub(super) fn thermometer(x: u32, y: u32) -> Markup {
    html! {
        (path(&format!("M{} {y}a14 14 0 0 1 28 0v104a26 26 0 1 1 -28 0z", x - 14)))
        circle cx=(x) cy=(y + 126) r="13" fill="currentColor" stroke="none" {}
        (path(&format!("M{x} {}v76", y + 44)))
    }
}
