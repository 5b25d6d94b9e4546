//! Words in lines of a width.

use super::canvas::{Canvas, Ink};

/// The lines of a text; a word wider than a line is parted. At least one.
pub(super) fn lines(canvas: &Canvas, text: &str, ink: Ink, width: f64) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if canvas.text_width(&longer, ink) <= width {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(core::mem::take(&mut line));
        }
        for c in word.chars() {
            line.push(c);
            if canvas.text_width(&line, ink) > width && line.chars().count() > 1 {
                line.pop();
                lines.push(core::mem::replace(&mut line, c.to_string()));
            }
        }
    }
    lines.push(line);
    lines
}

/// A text in one line: what does not fit is left out, and three points say so.
pub(super) fn cut(canvas: &Canvas, text: &str, ink: Ink, width: f64) -> String {
    if canvas.text_width(text, ink) <= width {
        return text.to_owned();
    }
    let mut short: String = text.to_owned();
    while short.pop().is_some() {
        let shown = format!("{}…", short.trim_end());
        if canvas.text_width(&shown, ink) <= width {
            return shown;
        }
    }
    String::new()
}
