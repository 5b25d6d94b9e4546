//! A frame's readings as one line: the columns of `replay --readings` and the
//! keys of `protocols try`.
//!
//! Lines are written into a buffer without allocating: a long capture has
//! millions of them.

use serde_json::{Value, json};

use crate::quantity::{Decimal, Shown, Unit, prefix_symbol};
use crate::reading::{Flags, Got, Quantity, Reading};
use crate::stamp::Stamp;

/// The header of `replay --readings`.
pub(crate) const HEADER: &str =
    "seconds,meter,shown,value,unit,resolution,over_range,test_voltage_v,hold_s,flags\n";

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
        let mut line = Self {
            at,
            got: Got::Nothing,
            flags: Flags::NONE,
            test_voltage: None,
            elapsed: None,
        };
        let mut main = None;
        for reading in readings {
            let value = match reading.got {
                Got::Value(shown) => Some(shown.value),
                _ => None,
            };
            match reading.quantity {
                Quantity::Main => main = Some(reading),
                Quantity::TestVoltage => line.test_voltage = value,
                Quantity::Elapsed => line.elapsed = value,
                _ => {}
            }
        }
        if let Some(reading) = main.or(readings.first()) {
            line.got = reading.got;
            line.flags = reading.flags;
        }
        line
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

    fn over(&self) -> bool {
        matches!(self.got, Got::Over { .. })
    }

    /// Appends the line; `meter` is quoted already where it has to be.
    pub(crate) fn write(&self, meter: &str, out: &mut Vec<u8>) {
        push_seconds(out, self.at);
        out.push(b',');
        out.extend_from_slice(meter.as_bytes());
        out.push(b',');
        match self.got {
            Got::Value(shown) => push_shown(out, shown),
            Got::Over { .. } => out.extend_from_slice(b"OL"),
            Got::Nothing => {}
        }
        out.push(b',');
        push_some(out, self.shown().map(|s| s.value));
        out.extend_from_slice(self.unit().map_or("", Unit::word).as_bytes());
        out.push(b',');
        push_some(out, self.shown().map(|s| s.resolution));
        out.extend_from_slice(if self.over() { b"yes," } else { b"no," });
        push_some(out, self.test_voltage);
        push_some(out, self.elapsed);
        for (at, word) in self.flags.words().enumerate() {
            if at > 0 {
                out.push(b' ');
            }
            out.extend_from_slice(word.as_bytes());
        }
        out.push(b'\n');
    }

    /// As a JSON object; numbers stay exact, so they are text.
    pub(crate) fn json(&self, meter: &str) -> Value {
        let plain = |d: Option<Decimal>| d.map(|d| d.to_string());
        let mut shown = Vec::new();
        match self.got {
            Got::Value(value) => push_shown(&mut shown, value),
            Got::Over { .. } => shown.extend_from_slice(b"OL"),
            Got::Nothing => {}
        }
        json!({
            "seconds": self.at.seconds(),
            "meter": meter,
            "shown": String::from_utf8_lossy(&shown),
            "value": plain(self.shown().map(|s| s.value)),
            "unit": self.unit().map(Unit::word),
            "resolution": plain(self.shown().map(|s| s.resolution)),
            "over_range": self.over(),
            "test_voltage_v": plain(self.test_voltage),
            "hold_s": plain(self.elapsed),
            "flags": self.flags.words().collect::<Vec<_>>(),
        })
    }
}

/// A cell with its comma, empty for none.
fn push_some(out: &mut Vec<u8>, value: Option<Decimal>) {
    if let Some(value) = value {
        push_decimal(out, value);
    }
    out.push(b',');
}

/// As [`Shown`] displays itself.
fn push_shown(out: &mut Vec<u8>, shown: Shown) {
    let symbol = prefix_symbol(shown.prefix);
    match (symbol, shown.value.shifted(-shown.prefix)) {
        (Some(symbol), Some(digits)) => {
            push_decimal(out, digits);
            out.push(b' ');
            out.extend_from_slice(symbol.as_bytes());
        }
        _ => {
            push_decimal(out, shown.value);
            out.push(b' ');
        }
    }
    out.extend_from_slice(shown.unit.symbol().as_bytes());
}

/// As [`Decimal`] displays itself.
fn push_decimal(out: &mut Vec<u8>, value: Decimal) {
    if value.count() < 0 {
        out.push(b'-');
    }
    // 18 digits, or 15 places behind a point and one digit before it.
    let mut digits = [b'0'; 24];
    let mut at = digits.len();
    let mut left = value.count().unsigned_abs();
    while left > 0 {
        at -= 1;
        digits[at] = b'0' + (left % 10) as u8;
        left /= 10;
    }
    let places = usize::from(value.exp().min(0).unsigned_abs());
    let point = digits.len() - places;
    let first = at.min(point - 1);
    out.extend_from_slice(&digits[first..point]);
    if places > 0 {
        out.push(b'.');
        out.extend_from_slice(&digits[point..]);
    } else if value.count() != 0 {
        out.extend(core::iter::repeat_n(
            b'0',
            usize::from(value.exp().unsigned_abs()),
        ));
    }
}

/// Seconds to the nanosecond, without zeros at the end.
fn push_seconds(out: &mut Vec<u8>, at: Stamp) {
    let (mut count, mut exp) = (at.nanos(), -9_i8);
    while exp < 0 && count.is_multiple_of(10) {
        count /= 10;
        exp += 1;
    }
    // A stamp of more than 18 digits is 31 years into a run.
    let seconds = Decimal::new(i64::try_from(count).unwrap_or(i64::MAX), exp);
    push_decimal(out, seconds.unwrap_or_default());
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn text(write: impl FnOnce(&mut Vec<u8>)) -> String {
        let mut out = Vec::new();
        write(&mut out);
        String::from_utf8(out).expect("text")
    }

    #[test]
    fn seconds_are_exact_and_short() {
        for (nanos, expected) in [
            (0, "0"),
            (250_000_000, "0.25"),
            (1_000_000_000, "1"),
            (1_000_000_001, "1.000000001"),
            (20_000_000_000, "20"),
        ] {
            assert_eq!(
                text(|out| push_seconds(out, Stamp::from_nanos(nanos))),
                expected
            );
        }
    }

    proptest! {
        #[test]
        fn numbers_are_written_as_they_display(count in -999_999_999_999_999_999i64..=999_999_999_999_999_999, small in -2_000i64..2_000, exp in -15i8..=15, prefix in prop::sample::select(vec![-3i8, 0, 3, 6])) {
            for count in [count, small] {
                let value = Decimal::new(count, exp).expect("in range");
                prop_assert_eq!(text(|out| push_decimal(out, value)), value.to_string());
                let shown = Shown { prefix, ..Shown::plain(value, Unit::Ohm) };
                prop_assert_eq!(text(|out| push_shown(out, shown)), shown.to_string());
            }
        }
    }
}
