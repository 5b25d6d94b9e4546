//! A label in a PDF.

use super::canvas::{Canvas, Ink, Pen};
use super::{MM, flow, wrap};
use crate::report::paper::{Shop, Tag};

const LEFT: f64 = 4.0 * MM;
/// The side of the code.
const CODE: f64 = 27.0 * MM;

/// Draws it over the whole page.
pub(super) fn draw(canvas: &mut Canvas, tag: &Tag, shop: &Shop) {
    let right = canvas.width - LEFT;
    // Beside the code.
    let beside = right - if tag.seal.is_some() { CODE } else { 0.0 };
    let foot = foot(canvas, tag, shop);
    let mut y = 3.5 * MM;
    let asset = wrap::cut(canvas, &tag.asset, Ink::bold(15.0), beside - LEFT);
    y += 13.0;
    canvas.text(LEFT, y, Ink::bold(15.0), &asset);
    y += 3.0;
    y = words(canvas, &tag.under, Ink::regular(7.5), y, beside, foot);
    y += 1.5 * MM;
    let inside = 1.5 * MM;
    let room = beside - LEFT - 2.0 * inside;
    let large = Ink::bold(13.0);
    let ink = if canvas.text_width(&tag.outcome, large) <= room {
        large
    } else {
        Ink::bold(10.5)
    };
    let lines = wrap::lines(canvas, &tag.outcome, ink, room);
    let high = lines.len() as f64 * ink.size * 1.2 + 1.2 * MM;
    canvas.outline(Pen::solid(1.8, 0.0), LEFT, y, beside - LEFT, high);
    for (at, line) in lines.iter().enumerate() {
        let base = y + 0.6 * MM + (at + 1) as f64 * ink.size * 1.2 - ink.size * 0.28;
        canvas.text(LEFT + inside, base, ink, line);
    }
    y += high + 0.8 * MM;
    for said in [Some(&tag.why), tag.short.as_ref()].into_iter().flatten() {
        // Below the code there is room to the edge.
        let until = if y > CODE + 2.0 * MM { right } else { beside };
        y = words(canvas, said, Ink::bold(7.5), y, until, foot);
    }
    y += 0.8 * MM;
    values(canvas, tag, y, (beside, right), foot);
    if let Some(seal) = &tag.seal {
        let x = canvas.width - CODE - 2.0 * MM;
        flow::code(canvas, &seal.qr, x, 2.0 * MM, CODE);
    }
}

/// Lines below `y` down to `foot` at most; where the next one goes.
fn words(canvas: &mut Canvas, text: &str, ink: Ink, y: f64, right: f64, foot: f64) -> f64 {
    let leading = ink.size * 1.25;
    let mut y = y;
    if text.is_empty() {
        return y;
    }
    for line in wrap::lines(canvas, text, ink, right - LEFT) {
        if y + leading > foot {
            break;
        }
        y += leading;
        canvas.text(LEFT, y - ink.size * 0.28, ink, &line);
    }
    y
}

/// The values, as far as there is room; what is left out is said.
fn values(canvas: &mut Canvas, tag: &Tag, y: f64, (beside, right): (f64, f64), foot: f64) {
    let ink = Ink::regular(7.0);
    let leading = ink.size * 1.25;
    let room = ((foot - y) / leading).max(0.0) as usize;
    let all = tag.values.len();
    for (at, value) in tag.values.iter().take(room).enumerate() {
        let base = y + (at + 1) as f64 * leading;
        let cut = at + 1 == room && all > room;
        let said = if cut { "more: see the report" } else { value };
        // Below the code there is room to the edge.
        let until = if base - leading > CODE + 2.0 * MM {
            right
        } else {
            beside
        };
        let said = wrap::cut(canvas, said, ink, until - LEFT);
        canvas.text(LEFT, base - ink.size * 0.28, ink, &said);
    }
}

/// What stands at the foot of it; where that begins.
fn foot(canvas: &mut Canvas, tag: &Tag, shop: &Shop) -> f64 {
    let width = canvas.width - 2.0 * LEFT;
    let small = Ink::regular(5.5);
    let mut said: Vec<(Ink, String)> = Vec::new();
    if let Some(seal) = &tag.seal {
        said.push((Ink::bold(7.0), seal.text.clone()));
    }
    if !shop.name.is_empty() {
        said.push((small, shop.name.clone()));
    }
    let standing = wrap::lines(canvas, &tag.standing, small, width);
    said.extend(standing.into_iter().map(|line| (small, line)));
    let high: f64 = said.iter().map(|(ink, _)| ink.size * 1.25).sum();
    let top = canvas.height - 2.5 * MM - high;
    let mut y = top;
    for (ink, words) in said {
        y += ink.size * 1.25;
        let words = wrap::cut(canvas, &words, ink, width);
        canvas.text(LEFT, y - ink.size * 0.28, ink, &words);
    }
    top - 1.0 * MM
}
