//! A frame's readings as one line: the columns of `replay --readings` and the
//! keys of `protocols try`.
//!
//! Lines are written into a buffer without allocating, and what stays the same
//! from line to line is written once: a long capture has millions of them.

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

    /// Whether `shown` and `value` would be written alike.
    fn shows_alike(&self, other: &Self) -> bool {
        match (self.got, other.got) {
            (Got::Value(a), Got::Value(b)) => {
                a.value.is_alike(b.value) && a.unit == b.unit && a.prefix == b.prefix
            }
            (Got::Over { .. }, Got::Over { .. }) | (Got::Nothing, Got::Nothing) => true,
            _ => false,
        }
    }

    /// Whether the cells behind them would be.
    fn ends_alike(&self, other: &Self) -> bool {
        let alike = |a: Option<Decimal>, b: Option<Decimal>| match (a, b) {
            (Some(a), Some(b)) => a.is_alike(b),
            (a, b) => a.is_none() && b.is_none(),
        };
        let resolution = |line: &Self| line.shown().map(|s| s.resolution);
        self.unit() == other.unit()
            && self.over() == other.over()
            && self.flags == other.flags
            && alike(resolution(self), resolution(other))
            && alike(self.test_voltage, other.test_voltage)
            && alike(self.elapsed, other.elapsed)
    }

    /// Appends `shown` and `value`.
    fn push_start(&self, out: &mut Vec<u8>) {
        match self.got {
            Got::Value(shown) => {
                let begin = out.len();
                push_shown(out, shown);
                out.push(b',');
                if shown.prefix == 0 {
                    // The digits are the same, up to the space before the unit.
                    let digits = out[begin..].iter().position(|b| *b == b' ');
                    out.extend_from_within(begin..begin + digits.unwrap_or(0));
                } else {
                    push_decimal(out, shown.value);
                }
            }
            Got::Over { .. } => out.extend_from_slice(b"OL,"),
            Got::Nothing => out.push(b','),
        }
        out.push(b',');
    }

    /// Appends the cells behind them, and the line's end.
    fn push_end(&self, out: &mut Vec<u8>) {
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

/// Writes lines one below the other. Most displays stand still, ranges change
/// seldom, and many frames come in one chunk: what is the same again is copied.
#[derive(Debug, Default)]
pub(crate) struct Lines {
    last: Option<Line>,
    seconds: Vec<u8>,
    start: Vec<u8>,
    end: Vec<u8>,
}

impl Lines {
    /// Appends a line; `meter` is quoted already where it has to be.
    pub(crate) fn write(&mut self, line: &Line, meter: &str, out: &mut Vec<u8>) {
        let last = self.last.as_ref();
        if last.is_none_or(|last| last.at != line.at) {
            self.seconds.clear();
            push_seconds(&mut self.seconds, line.at);
            self.seconds.push(b',');
        }
        if !last.is_some_and(|last| last.shows_alike(line)) {
            self.start.clear();
            line.push_start(&mut self.start);
        }
        if !last.is_some_and(|last| last.ends_alike(line)) {
            self.end.clear();
            line.push_end(&mut self.end);
        }
        self.last = Some(*line);
        out.extend_from_slice(&self.seconds);
        out.extend_from_slice(meter.as_bytes());
        out.push(b',');
        out.extend_from_slice(&self.start);
        out.extend_from_slice(&self.end);
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
    // From the end: 15 places and a point, up to 18 digits, a sign.
    let mut text = [0; 40];
    let mut at = text.len();
    let mut left = value.count().unsigned_abs();
    let mut put = |byte: u8| {
        at -= 1;
        text[at] = byte;
    };
    let mut digit = || {
        let digit = b'0' + (left % 10) as u8;
        left /= 10;
        (digit, left > 0)
    };
    for _ in 0..value.exp().min(0).unsigned_abs() {
        put(digit().0);
    }
    if value.exp() < 0 {
        put(b'.');
    }
    loop {
        let (digit, more) = digit();
        put(digit);
        if !more {
            break;
        }
    }
    if value.count() < 0 {
        put(b'-');
    }
    out.extend_from_slice(&text[at..]);
    if value.exp() > 0 && value.count() != 0 {
        let zeros = usize::from(value.exp().unsigned_abs());
        out.extend(core::iter::repeat_n(b'0', zeros));
    }
}

/// Seconds to the nanosecond, without zeros at the end.
fn push_seconds(out: &mut Vec<u8>, at: Stamp) {
    let (mut count, mut exp) = (at.nanos(), -9_i8);
    if count.is_multiple_of(1_000_000) {
        (count, exp) = (count / 1_000_000, -3);
    }
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
    fn each_line_is_as_if_it_were_written_alone() {
        let value = |text: &str, prefix| {
            let shown = Shown::plain(text.parse().expect("a number"), Unit::Ohm);
            Got::Value(Shown { prefix, ..shown })
        };
        let over = |unit| Got::Over {
            unit,
            full_scale: None,
        };
        let gots = [
            value("12.30", 0),
            value("12.3", 0),
            value("2270", 3),
            value("2270", 0),
            over(Unit::Ohm),
            over(Unit::Volt),
            Got::Nothing,
        ];
        let mut all = Vec::new();
        for got in gots {
            for (at, flags, elapsed) in [
                (0, Flags::NONE, None),
                (0, Flags::MIN, None),
                (7, Flags::MIN, Some("1.0")),
                (7, Flags::MIN, Some("1.00")),
            ] {
                all.push(Line {
                    at: Stamp::from_nanos(at),
                    got,
                    flags,
                    test_voltage: None,
                    elapsed: elapsed.map(|e| e.parse().expect("a number")),
                });
            }
        }
        let mut lines = Lines::default();
        for first in &all {
            for second in &all {
                lines.write(first, "m", &mut Vec::new());
                let alone = text(|out| Lines::default().write(second, "m", out));
                assert_eq!(
                    text(|out| lines.write(second, "m", out)),
                    alone,
                    "{first:?}"
                );
            }
        }
        assert_eq!(
            text(|out| lines.write(&all[2], "m", out)),
            "0.000000007,m,12.30 Ω,12.30,ohm,0.01,no,,1.0,min\n"
        );
    }

    #[test]
    fn seconds_are_exact_and_short() {
        for (nanos, expected) in [
            (0, "0"),
            (250_000_000, "0.25"),
            (1_000_000_000, "1"),
            (1_000_000_001, "1.000000001"),
            (20_000_000_000, "20"),
            (12_050_000_000, "12.05"),
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
