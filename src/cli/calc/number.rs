//! Numbers as calculations take and give them: text in, text out.
//!
//! Taken: digits with a point and perhaps an exponent. Nothing is guessed: a
//! unit, a prefix, a decimal comma, two values are refused with what to write.

use core::fmt;

use crate::quantity::Decimal;

/// A finite number with the digits it was written with.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Number {
    text: String,
    value: f64,
}

impl Number {
    /// Reads one number; says what is wrong with it otherwise.
    pub(super) fn read(text: &str) -> Result<Self, String> {
        if !is_plain(text) {
            return Err(format!("expected {}; found {}", wanted(text), quoted(text)));
        }
        let value: f64 = text
            .parse()
            .map_err(|_| format!("expected a number; found {}", quoted(text)))?;
        if !value.is_finite() {
            return Err(format!("too large for a number: {}", quoted(text)));
        }
        let mantissa = text.split(['e', 'E']).next().unwrap_or_default();
        if value == 0.0 && mantissa.bytes().any(|b| (b'1'..=b'9').contains(&b)) {
            return Err(format!("too small for a number: {}", quoted(text)));
        }
        Ok(Self {
            text: text.to_owned(),
            value,
        })
    }

    pub(super) const fn value(&self) -> f64 {
        self.value
    }

    /// As a display could show it; none with more digits or a further exponent.
    pub(super) fn decimal(&self) -> Option<Decimal> {
        self.text.parse().ok()
    }

    /// With all its digits; none beyond 38 of them.
    pub(super) fn exact(&self) -> Option<Exact> {
        Exact::read(&self.text)
    }
}

/// Sign, digits with at most one point, exponent.
fn is_plain(text: &str) -> bool {
    let unsigned = |s: &str| s.strip_prefix(['+', '-']).unwrap_or(s).to_owned();
    let digits = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    let (mantissa, exponent) = match text.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, Some(unsigned(exponent))),
        None => (text, None),
    };
    let mantissa = unsigned(mantissa);
    let whole = mantissa.replacen('.', "", 1);
    digits(&whole) && exponent.is_none_or(|e| digits(&e))
}

/// What to write instead, by what was probably meant.
fn wanted(text: &str) -> &'static str {
    let lower = text.to_lowercase();
    let bare = lower.trim_start_matches(['+', '-']);
    if matches!(bare, "nan" | "inf" | "infinity") {
        "a finite number"
    } else if matches!(bare, "ol" | "o.l" | "o.l." | "over" | "overload" | "open") {
        "a number: over-range is no value to calculate with"
    } else if text.ends_with('%') {
        "a number without a percent sign"
    } else if text.contains(',') {
        "one number with a point as decimal mark and no commas"
    } else if text.split_whitespace().count() > 1 || text.contains(';') {
        "one number alone, without a unit"
    } else if text.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) {
        "a plain number without unit or prefix, such as 22700 or 2.27e4"
    } else {
        "a number such as 12.5 or 3e-2"
    }
}

/// What was written, short enough to read.
pub(super) fn quoted(text: &str) -> String {
    let mut short: String = text.chars().take(40).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    format!("{short:?}")
}

/// `count × 10^exp` with more digits than a display has: a sum keeps them all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Exact {
    count: i128,
    exp: i32,
}

impl Exact {
    fn read(text: &str) -> Option<Self> {
        let (mantissa, exponent) = text.split_once(['e', 'E']).unwrap_or((text, "0"));
        let exp: i32 = exponent.parse().ok()?;
        let (whole, places) = mantissa.split_once('.').unwrap_or((mantissa, ""));
        let count = format!("{whole}{places}").parse().ok()?;
        let exp = exp.checked_sub(i32::try_from(places.len()).ok()?)?;
        Some(Self { count, exp })
    }

    /// The exact difference; none when it has more than 38 digits.
    pub(super) fn minus(self, other: Self) -> Option<Self> {
        let exp = match (self.count, other.count) {
            (0, 0) => self.exp.min(other.exp).min(0),
            (0, _) => other.exp,
            (_, 0) => self.exp,
            _ => self.exp.min(other.exp),
        };
        let count = self.at(exp)?.checked_sub(other.at(exp)?)?;
        Some(Self { count, exp })
    }

    pub(super) const fn is_negative(self) -> bool {
        self.count < 0
    }

    fn at(self, exp: i32) -> Option<i128> {
        if self.count == 0 {
            return Some(0);
        }
        let up = u32::try_from(self.exp.checked_sub(exp)?).ok()?;
        10_i128.checked_pow(up)?.checked_mul(self.count)
    }
}

/// Numbers as whole counts of one decimal place, which a difference leaves
/// exact where 2.6 - 0.3 in `f64` is not; none when `f64` cannot hold them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Counts<const N: usize> {
    pub(super) of: [f64; N],
    exp: i32,
}

impl<const N: usize> Counts<N> {
    /// Sums and products of a few counts up to this stay whole in `f64`.
    const MOST: u128 = 1 << 48;

    pub(super) fn new(numbers: [&Number; N]) -> Option<Self> {
        let mut exact = [Exact { count: 0, exp: 0 }; N];
        for (exact, number) in exact.iter_mut().zip(numbers) {
            *exact = number.exact()?;
        }
        let used = exact.iter().filter(|e| e.count != 0);
        let exp = used.map(|e| e.exp).min().unwrap_or(0);
        let mut of = [0.0; N];
        for (count, exact) in of.iter_mut().zip(exact) {
            let whole = exact.at(exp)?;
            if whole.unsigned_abs() > Self::MOST {
                return None;
            }
            *count = whole as f64;
        }
        Some(Self { of, exp })
    }

    /// What so many counts are, rounded once.
    pub(super) fn value(&self, counts: f64) -> f64 {
        format!("{counts:e}")
            .split_once('e')
            .and_then(|(digits, exp)| {
                let exp = exp.parse::<i32>().ok()? + self.exp;
                format!("{digits}e{exp}").parse().ok()
            })
            .unwrap_or(f64::NAN)
    }
}

impl fmt::Display for Exact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let places = usize::try_from(-i64::from(self.exp)).unwrap_or(0);
        if self.count == 0 {
            return f.write_str("0");
        }
        if self.exp == 0 {
            return write!(f, "{}", self.count);
        }
        if self.exp > 0 || places > 40 {
            return write!(f, "{}e{}", self.count, self.exp);
        }
        let digits = format!("{:0>1$}", self.count.unsigned_abs(), places + 1);
        let (whole, after) = digits.split_at(digits.len() - places);
        let sign = if self.count < 0 { "-" } else { "" };
        write!(f, "{sign}{whole}.{after}")
    }
}

/// A result with every digit it has, an exponent where many zeros would stand.
pub(super) fn written(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 {
        String::from("0")
    } else if (1e-6..1e15).contains(&size) {
        format!("{value}")
    } else {
        format!("{value:e}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn plain_numbers_are_taken() {
        for (text, value) in [
            ("0", 0.0),
            ("-12.50", -12.5),
            ("+.5", 0.5),
            ("5.", 5.0),
            ("2.27e4", 22_700.0),
            ("1E-9", 1e-9),
            ("-0", 0.0),
            ("0e999", 0.0),
        ] {
            assert_eq!(Number::read(text).map(|n| n.value()), Ok(value), "{text}");
        }
    }

    #[test]
    fn everything_else_is_refused_with_what_to_write() {
        for (text, words) in [
            ("NaN", "finite"),
            ("-inf", "finite"),
            ("Infinity", "finite"),
            ("1e999", "too large"),
            ("1e-999", "too small"),
            ("OL", "over-range"),
            ("O.L", "over-range"),
            ("5 %", "percent sign"),
            ("5%", "percent sign"),
            ("1,5", "point as decimal mark"),
            ("1,000", "no commas"),
            ("1 2", "one number"),
            ("1;2", "one number"),
            ("2.2 ohm", "one number alone, without a unit"),
            ("2.2k", "without unit"),
            ("22kΩ", "without unit"),
            ("1_000", "without unit"),
            ("0x10", "without unit"),
            ("1e", "without unit"),
            ("1.2.3", "without unit"),
            ("--5", "without unit"),
            ("-", "without unit"),
            ("٣", "a number such as"),
            ("−5", "a number such as"),
            ("abc", "a number such as"),
        ] {
            let error = Number::read(text).expect_err(text);
            assert!(error.contains(words), "{text}: {error}");
        }
    }

    #[test]
    fn differences_keep_their_digits() {
        let check = |a: &str, b: &str, expected: &str| {
            let exact = |t: &str| Number::read(t).expect(t).exact();
            let got = exact(a).zip(exact(b)).and_then(|(a, b)| a.minus(b));
            assert_eq!(
                got.map(|e| e.to_string()),
                Some(expected.to_owned()),
                "{a} - {b}"
            );
        };
        check("2.6", "0.3", "2.3");
        check(
            "1.2345678901234567",
            "0.0000000000000001",
            "1.2345678901234566",
        );
        check("0.3", "0.30", "0");
        check("1e20", "0", "1e20");
        check("0.05", "1", "-0.95");
        check("-0.05", "0", "-0.05");
        check("0", "1e-20", "-0.00000000000000000001");
        check("3e-300", "1e-300", "2e-300");
        let far = Exact { count: 1, exp: 300 };
        assert_eq!(far.minus(Exact { count: 1, exp: 0 }), None);
    }

    #[test]
    fn small_results_keep_their_digits() {
        for (value, text) in [
            (0.0, "0"),
            (-0.0, "0"),
            (1.25, "1.25"),
            (3.0, "3"),
            (1.234_567_891_23e-9, "1.23456789123e-9"),
            (1.5e300, "1.5e300"),
            (0.000_123_456_789_123, "0.000123456789123"),
        ] {
            assert_eq!(written(value), text);
        }
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back(value in proptest::num::f64::NORMAL) {
            prop_assert_eq!(Number::read(&written(value)).map(|n| n.value()), Ok(value));
        }

        #[test]
        fn exact_differences_are_those_of_the_judge(a in -1_000_000i64..1_000_000, b in -1_000_000i64..1_000_000, e in -6i8..6, f in -6i8..6) {
            let d = |count, exp| Decimal::new(count, exp).expect("in range");
            let exact = |count: i64, exp: i8| Exact { count: i128::from(count), exp: i32::from(exp) };
            let judge = d(a, e).checked_sub(d(b, f)).expect("fits");
            let here: Decimal = exact(a, e).minus(exact(b, f)).expect("fits").to_string().parse().expect("fits");
            prop_assert_eq!(judge, here);
        }
    }
}
