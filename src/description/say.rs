//! A reading in words for people, and as a line of JSON for programs.

use crate::quantity::Decimal;
use crate::reading::{Got, Quantity, Reading};

/// The word of a quantity, as descriptions write it.
pub const fn quantity_word(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Main => "main",
        Quantity::TestVoltage => "test_voltage",
        Quantity::Elapsed => "elapsed",
        Quantity::Leakage => "leakage",
        Quantity::Temperature => "temperature",
        Quantity::Battery => "battery",
    }
}

/// `main 123.45 ohm`, as examples write it.
///
/// A resolution that the digits do not show, the full scale and the flags follow:
/// `main 22700 ohm by 100`, `main over ohm of 20000000`, `main nothing frozen`.
pub fn line(reading: &Reading) -> String {
    let mut words = vec![quantity_word(reading.quantity).to_owned()];
    match reading.got {
        Got::Value(shown) => {
            words.push(format!("{} {}", shown.value, shown.unit.word()));
            let last = Decimal::one(shown.value.exp().min(0));
            if shown.resolution != last {
                words.push(format!("by {}", shown.resolution));
            }
            if let Some(full_scale) = shown.full_scale {
                words.push(format!("of {full_scale}"));
            }
        }
        Got::Over { unit, full_scale } => {
            words.push(format!("over {}", unit.word()));
            if let Some(full_scale) = full_scale {
                words.push(format!("of {full_scale}"));
            }
        }
        Got::Nothing => words.push(String::from("nothing")),
    }
    words.extend(reading.flags.words().map(str::to_owned));
    words.join(" ")
}

/// What the display shows: `22.7 kΩ`, `over-range`, or `no result`.
pub fn shown(got: &Got) -> String {
    match got {
        Got::Value(shown) => shown.to_string(),
        Got::Over { .. } => String::from("over-range"),
        Got::Nothing => String::from("no result"),
    }
}

/// A reading as one line of JSON, without the line's end. Numbers are exact,
/// with the zeros that the display shows.
pub fn json(reading: &Reading) -> String {
    let (value, unit, resolution, full_scale) = match reading.got {
        Got::Value(s) => (
            Some(s.value),
            Some(s.unit),
            Some(s.resolution),
            s.full_scale,
        ),
        Got::Over { unit, full_scale } => (None, Some(unit), None, full_scale),
        Got::Nothing => (None, None, None, None),
    };
    let number = |n: Option<Decimal>| n.map_or(String::from("null"), |n| n.to_string());
    let word = |w: &str| format!("\"{w}\"");
    let flags: Vec<String> = reading.flags.words().map(word).collect();
    // Nothing here needs escaping: words of closed sets, digits, and symbols of units.
    format!(
        r#"{{"quantity":{},"shown":{},"value":{},"unit":{},"resolution":{},"over_range":{},"full_scale":{},"flags":[{}]}}"#,
        word(quantity_word(reading.quantity)),
        word(&shown(&reading.got)),
        number(value),
        unit.map_or(String::from("null"), |unit| word(unit.word())),
        number(resolution),
        matches!(reading.got, Got::Over { .. }),
        number(full_scale),
        flags.join(","),
    )
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::super::{Plan, shipped, try_bytes, try_hex};
    use super::*;

    fn said(name: &str, text: &str) -> Vec<(String, String)> {
        let (_, toml) = shipped().iter().find(|(n, _)| *n == name).expect("shipped");
        let plan = Arc::new(Plan::parse(name, toml).expect("it compiles"));
        let (readings, bad) = try_bytes(&plan, text.as_bytes(), None, None);
        assert!(bad.is_empty(), "{bad:?}");
        readings.iter().map(|r| (line(r), json(r))).collect()
    }

    #[test]
    fn a_reading_is_said_in_words_and_as_json() {
        let expected = [
            (
                "main 22700 ohm by 100",
                r#"{"quantity":"main","shown":"22.7 kΩ","value":22700,"unit":"ohm","resolution":100,"over_range":false,"full_scale":null,"flags":[]}"#,
            ),
            (
                "main 230.1 volt ac",
                r#"{"quantity":"main","shown":"230.1 V","value":230.1,"unit":"volt","resolution":0.1,"over_range":false,"full_scale":null,"flags":["ac"]}"#,
            ),
            (
                "main over ohm of 20000000000",
                r#"{"quantity":"main","shown":"over-range","value":null,"unit":"ohm","resolution":null,"over_range":true,"full_scale":20000000000,"flags":[]}"#,
            ),
            (
                "main nothing",
                r#"{"quantity":"main","shown":"no result","value":null,"unit":null,"resolution":null,"over_range":false,"full_scale":null,"flags":[]}"#,
            ),
        ];
        let found = said("text-line", "22.7 kΩ\n230.1 VAC\n>20.0 GΩ\n9.91E37\n");
        assert_eq!(found.len(), expected.len());
        for (found, (line, json)) in found.iter().zip(expected) {
            let parsed: Result<serde_json::Value, _> = serde_json::from_str(&found.1);
            assert!(parsed.is_ok_and(|p| p.is_object()), "{}", found.1);
            assert_eq!((found.0.as_str(), found.1.as_str()), (line, json));
        }
    }

    #[test]
    fn bytes_typed_as_hex_are_tried() {
        let (name, toml) = shipped()
            .iter()
            .find(|(n, _)| *n == "modbus-rtu-float")
            .expect("shipped");
        let plan = Arc::new(Plan::parse(name, toml).expect("it compiles"));
        let tried = try_hex(&plan, "07 03 04 3F 00 00 00 90 27", Some(7)).expect("hex");
        assert_eq!(
            tried.0.iter().map(line).collect::<Vec<_>>(),
            ["main 0.5000 ohm"]
        );
        let tried = try_hex(&plan, "07 03 04 3F 00 00 00 90 27", None).expect("hex");
        assert_eq!(tried.0.len(), 1, "the unit is the one that answers");
        let (readings, bad) = try_hex(&plan, "07 03 04 3F 00 00 00 90 27", Some(1)).expect("hex");
        assert!(readings.is_empty() && bad.len() == 1, "{bad:?}");
        assert!(try_hex(&plan, "07 0", None).is_err_and(|e| e.contains("alone")));
    }
}
