//! A frame's readings as one line: the columns of `replay --readings` and the
//! keys of `protocols try`.

use serde_json::{Value, json};

use crate::quantity::{Decimal, Shown, Unit};
use crate::reading::{Flags, Got, Quantity, Reading};
use crate::stamp::Stamp;

/// The header of `replay --readings`.
pub(crate) const HEADER: &str =
    "seconds,meter,shown,value,unit,resolution,over_range,test_voltage_v,hold_s,flags";

/// One frame: what its display says, and the test voltage and time beside it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    at: Stamp,
    got: Got,
    flags: Flags,
    test_voltage: Option<Decimal>,
    elapsed: Option<Decimal>,
}

impl Line {
    /// The line of a frame: its main reading, else the first one it has.
    pub(crate) fn new(at: Stamp, readings: &[Reading]) -> Self {
        let of = |quantity| readings.iter().find(|r| r.quantity == quantity);
        let value = |quantity| match of(quantity).map(|r| r.got) {
            Some(Got::Value(shown)) => Some(shown.value),
            _ => None,
        };
        let main = of(Quantity::Main).or(readings.first());
        Self {
            at,
            got: main.map_or(Got::Nothing, |r| r.got),
            flags: main.map_or(Flags::NONE, |r| r.flags),
            test_voltage: value(Quantity::TestVoltage),
            elapsed: value(Quantity::Elapsed),
        }
    }

    fn shown(&self) -> Option<Shown> {
        match self.got {
            Got::Value(shown) => Some(shown),
            _ => None,
        }
    }

    fn unit(&self) -> Option<Unit> {
        match self.got {
            Got::Value(shown) => Some(shown.unit),
            Got::Over { unit, .. } => Some(unit),
            Got::Nothing => None,
        }
    }

    fn said(&self) -> String {
        match self.got {
            Got::Value(shown) => shown.to_string(),
            Got::Over { .. } => String::from("OL"),
            Got::Nothing => String::new(),
        }
    }

    /// As a JSON object; numbers stay exact, so they are text.
    pub(crate) fn json(&self, meter: &str) -> Value {
        let plain = |d: Option<Decimal>| d.map(|d| d.to_string());
        json!({
            "seconds": self.at.seconds(),
            "meter": meter,
            "shown": self.said(),
            "value": plain(self.shown().map(|s| s.value)),
            "unit": self.unit().map(Unit::word),
            "resolution": plain(self.shown().map(|s| s.resolution)),
            "over_range": matches!(self.got, Got::Over { .. }),
            "test_voltage_v": plain(self.test_voltage),
            "hold_s": plain(self.elapsed),
            "flags": self.flags.words().collect::<Vec<_>>(),
        })
    }
}
