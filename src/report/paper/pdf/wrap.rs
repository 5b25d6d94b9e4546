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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_text_without_words_is_one_empty_line() {
        let canvas = Canvas::new(100.0, 100.0, None);
        assert_eq!(lines(&canvas, "  ", Ink::regular(9.0), 50.0), [""]);
        assert_eq!(cut(&canvas, "", Ink::regular(9.0), 0.0), "");
    }

    proptest! {
        #[test]
        fn lines_fit_and_lose_nothing(text in "[a-zΩ鯉 .]{0,80}", width in 0.0..200.0_f64) {
            let canvas = Canvas::new(100.0, 100.0, None);
            let ink = Ink::bold(9.0);
            let found = lines(&canvas, &text, ink, width);
            let plain = |text: &str| text.split_whitespace().collect::<String>();
            prop_assert_eq!(plain(&found.concat()), plain(&text));
            for line in &found {
                let fits = canvas.text_width(line, ink) <= width;
                prop_assert!(fits || line.chars().count() <= 1, "{line:?}");
            }
            let short = cut(&canvas, &text, ink, width);
            prop_assert!(short.is_empty() || canvas.text_width(&short, ink) <= width);
        }
    }
}
