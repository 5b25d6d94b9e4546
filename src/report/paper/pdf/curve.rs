//! A trace on a page of a PDF: the same shapes as on the screen, in black.

use super::canvas::{Canvas, Ink, Pen};
use crate::report::curve::{Anchor, Drawing, Shape};

/// Where a drawing stands, and how large a unit of it is.
#[derive(Clone, Copy)]
struct Place {
    x: f64,
    y: f64,
    scale: f64,
}

impl Place {
    fn at(self, (x, y): (f64, f64)) -> (f64, f64) {
        (self.x + x * self.scale, self.y + y * self.scale)
    }
}

/// Draws it so wide, its top left corner there.
pub(super) fn draw(canvas: &mut Canvas, drawing: &Drawing, x: f64, y: f64, width: f64) {
    let scale = width / drawing.width;
    let place = Place { x, y, scale };
    for shape in &drawing.shapes {
        match shape {
            Shape::Path { class, d } => path(canvas, place, class, d),
            Shape::Over { x, width, height } => hatched(canvas, place, *x, *width, *height),
            Shape::Text {
                class,
                x,
                y,
                anchor,
                words,
            } => {
                let size = 12.0 * scale;
                let ink = match *class {
                    "axis" => Ink::regular(size).gray(0.25),
                    "words at-take" => Ink::bold(size),
                    _ => Ink::regular(size),
                };
                let (x, y) = place.at((*x, *y));
                let wide = canvas.text_width(words, ink);
                let x = match anchor {
                    Anchor::Start => x,
                    Anchor::Middle => x - wide / 2.0,
                    Anchor::End => x - wide,
                };
                if class.starts_with("words") {
                    // What lies behind words would make them hard to read.
                    let (top, foot) = (y - size * 0.8, y + size * 0.22);
                    let box_ = [(x, top), (x + wide, top), (x + wide, foot), (x, foot)];
                    canvas.fill(1.0, &box_);
                }
                canvas.text(x, y, ink, words);
            }
        }
    }
}

fn path(canvas: &mut Canvas, place: Place, class: &str, d: &str) {
    let lines: Vec<Vec<(f64, f64)>> = lines(d)
        .into_iter()
        .map(|line| line.into_iter().map(|p| place.at(p)).collect())
        .collect();
    if lines.is_empty() {
        return;
    }
    let pen = |width: f64, gray: f64| Pen::solid(width * place.scale, gray);
    match class {
        "take" => lines.iter().for_each(|line| canvas.fill(0.0, line)),
        "grid" => canvas.lines(pen(1.0, 0.8), &lines),
        "limit" => {
            let dash = Some((7.0 * place.scale, 4.0 * place.scale));
            canvas.lines(
                Pen {
                    dash,
                    ..pen(1.2, 0.0)
                },
                &lines,
            );
        }
        "plateau" => canvas.lines(pen(4.0, 0.0), &lines),
        "ohms" => canvas.lines(pen(1.4, 0.0), &lines),
        "volts" => canvas.lines(pen(1.4, 0.35), &lines),
        _ => canvas.lines(pen(1.0, 0.0), &lines),
    }
}

/// The band of over-range: slanted lines inside it.
fn hatched(canvas: &mut Canvas, place: Place, x: f64, width: f64, height: f64) {
    let mut lines = Vec::new();
    let mut from = x - height;
    while from < x + width {
        // A line rises from the foot to the top; its ends are cut at the sides.
        let (left, right) = (from.max(x), (from + height).min(x + width));
        if right > left {
            let y = |at: f64| height - (at - from);
            lines.push(vec![place.at((left, y(left))), place.at((right, y(right)))]);
        }
        from += 6.0;
    }
    canvas.lines(Pen::solid(1.0 * place.scale, 0.4), &lines);
}

/// The lines of a path that is made of `M L H V h l z` alone, as `curve` makes
/// them; whatever else stands there ends it.
fn lines(d: &str) -> Vec<Vec<(f64, f64)>> {
    let mut lines: Vec<Vec<(f64, f64)>> = Vec::new();
    let (mut x, mut y) = (0.0, 0.0);
    let mut rest = d;
    let mut verb = ' ';
    loop {
        rest = rest.trim_start();
        let Some(first) = rest.chars().next() else {
            return lines;
        };
        if first.is_ascii_alphabetic() {
            verb = first;
            rest = &rest[1..];
            if verb == 'z' {
                if let Some(line) = lines.last_mut() {
                    line.extend(line.first().copied());
                }
                continue;
            }
        }
        let Some(a) = number(&mut rest) else {
            return lines;
        };
        let second = matches!(verb, 'M' | 'L' | 'l').then(|| number(&mut rest));
        let b = match second {
            Some(Some(b)) => b,
            Some(None) => return lines,
            None => 0.0,
        };
        (x, y) = match verb {
            'M' | 'L' => (a, b),
            'l' => (x + a, y + b),
            'H' => (a, y),
            'h' => (x + a, y),
            'V' => (x, a),
            _ => return lines,
        };
        if verb == 'M' {
            lines.push(vec![(x, y)]);
            verb = 'L';
        } else if let Some(line) = lines.last_mut() {
            line.push((x, y));
        }
    }
}

/// The number at the head of a text, which is taken off.
fn number(rest: &mut &str) -> Option<f64> {
    let text = rest.trim_start();
    let sign = usize::from(text.starts_with('-'));
    let digits = text[sign..].find(|c: char| !c.is_ascii_digit() && c != '.');
    let end = digits.map_or(text.len(), |at| at + sign);
    let number = text[..end].parse().ok()?;
    *rest = &text[end..];
    Some(number)
}

#[cfg(test)]
mod tests {
    use super::lines;

    #[test]
    fn paths_are_read_as_the_curve_writes_them() {
        let check = |d: &str, expected: &[&[(f64, f64)]]| assert_eq!(lines(d), expected, "{d}");
        check("", &[]);
        check("M1 2L3 4.5L5 6", &[&[(1.0, 2.0), (3.0, 4.5), (5.0, 6.0)]]);
        check(
            "M1 2h0M9 9V3",
            &[&[(1.0, 2.0), (1.0, 2.0)], &[(9.0, 9.0), (9.0, 3.0)]],
        );
        check("M66 -4H394", &[&[(66.0, -4.0), (394.0, -4.0)]]);
        check(
            "M0 0l5 5-5 5-5-5z",
            &[&[(0.0, 0.0), (5.0, 5.0), (0.0, 10.0), (-5.0, 5.0), (0.0, 0.0)]],
        );
        check(
            "M0 0h12l-6 8z",
            &[&[(0.0, 0.0), (12.0, 0.0), (6.0, 8.0), (0.0, 0.0)]],
        );
        check("M1 1C2 2", &[&[(1.0, 1.0)]]);
    }
}
