//! A profile or bands as a file's text, to be copied and changed.
//!
//! What is written here reads back as the same data.

use core::fmt::{Display, Write as _};

use super::{Bands, Profile};
use crate::text::Text;

/// A profile as text.
pub fn profile(profile: &Profile) -> String {
    let mut text = String::from("[[profile]]\n");
    let head = [
        entry("name", Some(quoted(&profile.name))),
        entry("source", Some(quoted(&profile.source))),
        entry("mark_s", profile.mark_s),
        entry("correct_to_c", profile.correct_to_c),
    ];
    for entry in head.into_iter().flatten() {
        // Writing to a String cannot fail.
        _ = writeln!(text, "{entry}");
    }
    let minimum: Vec<String> = profile
        .minimum
        .iter()
        .map(|line| {
            inline([
                entry("condition", line.condition.as_ref().map(quoted)),
                entry("below_v", line.below_v),
                entry("up_to_v", line.up_to_v),
                entry("megohm", Some(line.megohm).filter(|m| !m.is_zero())),
                entry(
                    "megohm_per_kv",
                    Some(line.megohm_per_kv).filter(|m| !m.is_zero()),
                ),
                entry(
                    "at_least_megohm",
                    Some(line.at_least_megohm).filter(|m| !m.is_zero()),
                ),
            ])
        })
        .collect();
    let voltage: Vec<String> = profile
        .test_voltage
        .iter()
        .map(|line| {
            inline([
                entry("below_v", line.below_v),
                entry("up_to_v", line.up_to_v),
                entry("low_v", line.low_v),
                entry("high_v", line.high_v),
                entry("times", line.times),
            ])
        })
        .collect();
    for (key, lines) in [("minimum", minimum), ("test_voltage", voltage)] {
        if !lines.is_empty() {
            _ = writeln!(text, "{key} = [\n    {},\n]", lines.join(",\n    "));
        }
    }
    text
}

/// Bands as text.
pub fn bands(bands: &Bands) -> String {
    let bounds: Vec<String> = bands.bounds.iter().map(ToString::to_string).collect();
    let bounds = (!bounds.is_empty()).then(|| format!("[{}]", bounds.join(", ")));
    let mut text = String::from("[[bands]]\n");
    let head = [
        entry("name", Some(quoted(&bands.name))),
        entry("kind", Some(format_args!("\"{}\"", bands.kind))),
        entry("source", Some(quoted(&bands.source))),
        entry("bounds", bounds),
        entry("minimum", bands.minimum),
    ];
    for entry in head.into_iter().flatten() {
        _ = writeln!(text, "{entry}");
    }
    text
}

fn entry(key: &str, value: Option<impl Display>) -> Option<String> {
    value.map(|value| format!("{key} = {value}"))
}

fn inline<const N: usize>(entries: [Option<String>; N]) -> String {
    let entries: Vec<String> = entries.into_iter().flatten().collect();
    format!("{{ {} }}", entries.join(", "))
}

/// Checked text holds no control characters: only quotes and backslashes need care.
fn quoted(text: &Text) -> String {
    let inside = text.as_str().replace('\\', "\\\\").replace('"', "\\\"");
    format!("\"{inside}\"")
}
