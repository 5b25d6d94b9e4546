//! A value as a person types it from a display: `22.7 kΩ`, `22.7k`, `OL`.

use std::sync::Arc;

use crate::reading::Got;

use super::{Plan, shipped, try_bytes};

/// Reads what is typed by the grammar of `text-line`; a number without a unit is ohm.
///
/// # Errors
/// Says what was expected.
pub fn typed(text: &str) -> Result<Got, String> {
    let expected = "expected a value as the display shows it, such as 22.7 kΩ, 0.5 or OL";
    if text.contains(['\n', '\r']) {
        return Err(format!("{expected}, found several lines"));
    }
    let grammar = shipped()
        .iter()
        .find(|(name, _)| *name == "text-line")
        .and_then(|(name, text)| Plan::parse(name, text).ok())
        .ok_or(expected)?;
    let plan = Arc::new(grammar);
    let (readings, _) = try_bytes(&plan, format!("{text}\n").as_bytes(), None, None);
    match readings.as_slice() {
        [reading] => Ok(reading.got),
        _ => Err(format!("{expected}, found {text:?}")),
    }
}

#[cfg(test)]
mod tests {
    use super::super::say;
    use super::*;

    #[test]
    fn what_is_typed_reads_as_shown() {
        let shown = |text: &str| typed(text).map(|got| say::shown(&got));
        assert_eq!(shown("22.7k").as_deref(), Ok("22.7 kΩ"));
        assert_eq!(shown(" 0.5ohm ").as_deref(), Ok("0.5 Ω"));
        assert_eq!(shown("OL").as_deref(), Ok("over-range"));
        for refused in ["", "12 13", "1\n2", "about 5"] {
            assert!(
                shown(refused).is_err_and(|e| e.contains("22.7 kΩ")),
                "{refused:?}"
            );
        }
    }
}
