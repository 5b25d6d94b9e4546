//! A reading in words for people, and as a line of JSON for programs.

use serde::Serialize;

use crate::quantity::{Decimal, Unit};
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

/// A reading as one line of JSON, without the line's end.
pub fn json(reading: &Reading) -> String {
    #[derive(Serialize)]
    struct Line {
        quantity: Quantity,
        shown: String,
        value: Option<Decimal>,
        unit: Option<Unit>,
        resolution: Option<Decimal>,
        over_range: bool,
        full_scale: Option<Decimal>,
        flags: Vec<&'static str>,
    }
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
    let line = Line {
        quantity: reading.quantity,
        shown: shown(&reading.got),
        value,
        unit,
        resolution,
        over_range: matches!(reading.got, Got::Over { .. }),
        full_scale,
        flags: reading.flags.words().collect(),
    };
    serde_json::to_string(&line).unwrap_or_default()
}
