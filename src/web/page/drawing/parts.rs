//! What a drawing is put together from: the picture around it, clips, a meter,
//! leads, the frame, ground.
//!
//! Clip A is round in jaw and grip, clip B square, and each bears its letter, so
//! that no colour is needed. All strokes are the text's colour. Lengths are in
//! user units: 480 across, of which 300 pixels still give letters of 14.

use maud::{Markup, html};

/// Where a lead leaves the frame.
const FRAME: u32 = 140;
/// Where a clip bites.
pub(super) const TIP: u32 = 262;
/// Where a lead that carries no clip ends.
const FREE: u32 = 228;
/// Where lines to other lines turn.
const TURN: u32 = 236;
/// The line of ground.
pub(super) const GROUND: u32 = 262;
/// The picture without words below it.
const HEIGHT: u32 = 312;
/// One line of words below it, and how many letters stand on one.
const LINE: u32 = 32;
const LETTERS: usize = 34;
/// So many letters fit in any font.
const SURE: usize = 18;

/// Which clip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Clip {
    /// The round one.
    A,
    /// The square one.
    B,
}

/// What the clips lead to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Meter {
    /// An ohmmeter.
    Ohms,
    /// A tester with its button.
    Tester,
}

/// The picture with what it says in words. `below` are words under it.
pub(super) fn picture(title: &str, below: &[&str], drawn: &Markup) -> Markup {
    let lines: Vec<String> = below.iter().flat_map(|words| broken(words)).collect();
    let height = HEIGHT as usize + lines.len() * LINE as usize;
    html! {
        svg class="drawing" viewBox=(format!("0 0 480 {height}")) role="img"
            fill="none" stroke="currentColor" stroke-width="4" stroke-linecap="round" stroke-linejoin="round" {
            title { (title) }
            (drawn)
            @for (at, line) in lines.iter().enumerate() {
                text x="20" y=(HEIGHT as usize + at * LINE as usize + 20)
                    fill="currentColor" stroke="none" font-size="24"
                    textLength=[fitted(line)] lengthAdjust="spacingAndGlyphs" { (line) }
            }
        }
    }
}

/// Words as lines that fit, wherever they can be broken.
fn broken(words: &str) -> Vec<String> {
    let letters: Vec<char> = words.chars().collect();
    letters.chunks(LETTERS).map(String::from_iter).collect()
}

/// A length that holds whatever letters a long line has, and whatever the font.
fn fitted(line: &str) -> Option<usize> {
    let letters = line.chars().count();
    (letters > SURE).then_some(letters * 12)
}

/// Words at a place; `anchor` as SVG has it.
pub(super) fn words(x: u32, y: u32, anchor: &str, size: u32, say: &str) -> Markup {
    html! {
        text x=(x) y=(y) text-anchor=(anchor) fill="currentColor" stroke="none" font-size=(size) { (say) }
    }
}

pub(super) fn path(d: &str) -> Markup {
    html! { path d=(d) {} }
}

/// What is being measured.
pub(super) fn heavy(d: &str) -> Markup {
    html! { path d=(d) stroke-width="9" {} }
}

pub(super) fn dot(x: u32, y: u32) -> Markup {
    html! { circle cx=(x) cy=(y) r="6" fill="currentColor" stroke="none" {} }
}

/// A clip whose tip is at `x`, with its grip to the right, or to the left.
fn bite(clip: Clip, x: u32, y: u32, right: bool) -> Markup {
    let to = |by: i64| i64::from(x) + if right { by } else { -by };
    let y = i64::from(y);
    let jaw = |down: i64| match clip {
        Clip::A => format!(
            "M{} {}Q{} {} {} {}",
            to(42),
            y + 14 * down,
            to(4),
            y + 32 * down,
            to(0),
            y + 7 * down
        ),
        Clip::B => format!(
            "M{} {}H{}L{} {}",
            to(40),
            y + 18 * down,
            to(12),
            to(0),
            y + 7 * down
        ),
    };
    let name = match clip {
        Clip::A => "A",
        Clip::B => "B",
    };
    html! {
        path d=(jaw(-1)) {} path d=(jaw(1)) {}
        @match clip {
            Clip::A => circle cx=(to(64)) cy=(y) r="25" stroke-width="5" {},
            Clip::B => rect x=(to(64) - 24) y=(y - 24) width="48" height="48" stroke-width="5" {},
        }
        text x=(to(64)) y=(y + 11) text-anchor="middle" fill="currentColor" stroke="none"
            font-size="32" font-weight="bold" { (name) }
    }
}

/// Both clips on their lines, and the meter that they lead to.
pub(super) fn measured(meter: Meter, a: u32, b: u32) -> Markup {
    let middle = u32::midpoint(a, b);
    let half = (a.max(b) - a.min(b)) / 2 + 38;
    // A tester has a button too.
    let half = if meter == Meter::Tester {
        half.max(84)
    } else {
        half
    };
    let (top, bottom) = (middle - half, middle + half);
    html! {
        @for (clip, y) in [(Clip::A, a), (Clip::B, b)] {
            (dot(TIP, y))
            (bite(clip, TIP, y, true))
            (path(&format!("M{} {y}H396", TIP + 90)))
        }
        rect x="396" y=(top) width="72" height=(bottom - top) rx="10" {}
        @match meter {
            Meter::Ohms => (words(432, middle + 12, "middle", 34, "Ω")),
            Meter::Tester => {
                (words(432, middle - 22, "middle", 28, "MΩ"))
                circle cx="432" cy=(middle + 18) r="18" {}
                circle cx="432" cy=(middle + 18) r="9" fill="currentColor" stroke="none" {}
                (words(432, middle + 64, "middle", 22, "press"))
            },
        }
    }
}

/// Both clips that hold each other.
pub(super) fn joined() -> Markup {
    html! {
        (bite(Clip::A, 238, 90, false))
        (bite(Clip::B, 242, 90, true))
        (dot(240, 90))
        (path("M148 90H90V232H196"))
        (path("M330 90H390V232H284"))
        rect x="196" y="194" width="88" height="76" rx="10" {}
        (words(240, 244, "middle", 34, "Ω"))
    }
}

/// Both clips, held by nothing, at `y` and 84 below.
pub(super) fn off(y: u32) -> Markup {
    html! {
        (bite(Clip::A, TIP + 50, y, true))
        (bite(Clip::B, TIP + 50, y + 84, true))
    }
}

/// The motor's frame.
pub(super) fn frame() -> Markup {
    html! { rect x="20" y="22" width="120" height="272" rx="18" {} }
}

/// A lead from inside to its clip.
pub(super) fn lead(y: u32, name: &str) -> Markup {
    html! {
        (path(&format!("M{FRAME} {y}H{TIP}")))
        (label(y, name))
    }
}

/// A lead that nothing is on.
pub(super) fn free(y: u32, name: &str) -> Markup {
    html! {
        (path(&format!("M{FRAME} {y}H{FREE}")))
        circle cx=(FREE + 7) cy=(y) r="7" {}
        (label(y, name))
    }
}

/// Words over a lead: over the clip's jaws too where they are long.
pub(super) fn label(y: u32, name: &str) -> Markup {
    let up = if name.chars().count() > 8 { 30 } else { 12 };
    words(150, y - up, "start", 22, name)
}

/// Leads joined, and one line from there to the clip on the line `to`.
pub(super) fn together(from: &[u32], to: u32) -> Markup {
    html! {
        @for y in from { (path(&format!("M{FRAME} {y}H200L{TURN} {to}"))) }
        (path(&format!("M{TURN} {to}H{TIP}")))
        (dot(TURN, to))
    }
}

/// Leads joined to ground; their line hops over the lead `over`, which is not joined.
pub(super) fn to_ground(from: &[u32], names: &[&str], over: Option<u32>) -> Markup {
    let down = |y: u32| match over {
        Some(over) if over > y => format!("V{}a11 11 0 0 1 0 22V{GROUND}", over - 11),
        _ => format!("V{GROUND}"),
    };
    html! {
        @for (y, name) in from.iter().zip(names) {
            (path(&format!("M{FRAME} {y}H{TURN}{}", down(*y))))
            (dot(TURN, *y))
            (label(*y, name))
        }
        (dot(TURN, GROUND))
    }
}

/// The line from the frame to the ground clip, with the sign of ground.
pub(super) fn ground() -> Markup {
    html! {
        (dot(FRAME, GROUND))
        (path(&format!("M{FRAME} {GROUND}H{TIP}")))
        (earth(176, GROUND))
        (label(GROUND, "ground"))
    }
}

/// The sign of ground, hanging from a line.
pub(super) fn earth(x: u32, y: u32) -> Markup {
    path(&format!("M{x} {y}v16m-18 0h36m-29 9h22m-15 9h8",))
}

/// The sign of voltage.
pub(super) fn voltage(x: u32, y: u32) -> Markup {
    html! {
        (path(&format!("M{x} {y}l30 52h-60z")))
        path d=(format!("M{} {}l-11 17h12l-7 13", x + 5, y + 17)) stroke-width="4" {}
    }
}
