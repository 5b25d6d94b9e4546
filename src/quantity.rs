//! Exact displayed values: a count, a power of ten, a unit, a resolution.
//!
//! Sums and differences of what a display shows stay exact, so 2.6 − 0.3 is
//! 2.3 and meets a limit of 2.3. Factors that are irrational go through `f64`
//! and come back rounded half to even with [`Decimal::rounded`].

use core::cmp::Ordering;
use core::fmt;
use core::str::FromStr;

use serde::{Deserialize, Serialize};

/// The smallest power of ten a value may carry.
pub const EXP_MIN: i8 = -15;
/// The largest power of ten a value may carry.
pub const EXP_MAX: i8 = 15;
/// More digits than this is not a reading.
pub const DIGITS_MAX: u32 = 18;

/// `count × 10^exp`, exact. Equal values with different exponents are equal.
#[derive(Clone, Copy, Debug, Default)]
pub struct Decimal {
    count: i64,
    exp: i8,
}

/// Why a number is not a [`Decimal`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DecimalError {
    /// No digits, or something beside sign, digits, point and exponent.
    #[error("expected a plain decimal number such as 12.5 or -3e-2")]
    NotANumber,
    /// More than 18 digits, or an exponent outside −15 to +15.
    #[error("expected at most 18 digits and a power of ten from -15 to 15")]
    OutOfRange,
}

impl Decimal {
    /// Nothing.
    pub const ZERO: Self = Self { count: 0, exp: 0 };

    /// `count × 10^exp`.
    ///
    /// # Errors
    /// More than 18 digits, or an exponent outside −15 to +15.
    pub const fn new(count: i64, exp: i8) -> Result<Self, DecimalError> {
        if exp < EXP_MIN || exp > EXP_MAX || count.unsigned_abs() >= 1_000_000_000_000_000_000 {
            return Err(DecimalError::OutOfRange);
        }
        Ok(Self { count, exp })
    }

    /// One unit in the place `exp`: the resolution of a display. Out-of-range
    /// places are drawn to the nearest allowed one.
    pub const fn one(exp: i8) -> Self {
        let exp = if exp < EXP_MIN {
            EXP_MIN
        } else if exp > EXP_MAX {
            EXP_MAX
        } else {
            exp
        };
        Self { count: 1, exp }
    }

    /// The nearest decimal with the place `exp`, ties to even; `None` when not
    /// finite or too large for 18 digits.
    pub fn rounded(value: f64, exp: i8) -> Option<Self> {
        let scaled = if exp <= 0 {
            value * power(-exp)
        } else {
            value / power(exp)
        };
        let even = scaled.round_ties_even();
        if !even.is_finite() || even.abs() >= 1e18 {
            return None;
        }
        Self::new(even as i64, exp).ok()
    }

    /// The digits as shown, without the point.
    pub const fn count(self) -> i64 {
        self.count
    }

    /// The power of ten.
    pub const fn exp(self) -> i8 {
        self.exp
    }

    /// The value as `f64`, correctly rounded for counts below 2^53.
    pub fn to_f64(self) -> f64 {
        if self.exp < 0 {
            self.count as f64 / power(-self.exp)
        } else {
            self.count as f64 * power(self.exp)
        }
    }

    /// Whether the value is 0.
    pub const fn is_zero(self) -> bool {
        self.count == 0
    }

    /// The exact sum, or `None` when it does not fit.
    pub fn checked_add(self, other: Self) -> Option<Self> {
        let exp = self.exp.min(other.exp);
        let sum = self.scaled_to(exp)?.checked_add(other.scaled_to(exp)?)?;
        Self::new(i64::try_from(sum).ok()?, exp).ok()
    }

    /// The exact difference, or `None` when it does not fit.
    pub fn checked_sub(self, other: Self) -> Option<Self> {
        self.checked_add(Self {
            count: -other.count,
            exp: other.exp,
        })
    }

    /// The exact product with 10^`by`, or `None` when the exponent leaves its range.
    pub fn shifted(self, by: i8) -> Option<Self> {
        Self::new(self.count, self.exp.checked_add(by)?).ok()
    }

    /// Whether both are written alike: cheaper than whether they are equal,
    /// and 1.0 is not 1.00.
    pub const fn is_alike(self, other: Self) -> bool {
        self.count == other.count && self.exp == other.exp
    }

    /// The magnitude.
    pub const fn abs(self) -> Self {
        Self {
            count: self.count.abs(),
            exp: self.exp,
        }
    }

    fn scaled_to(self, exp: i8) -> Option<i128> {
        let up = u32::try_from(i32::from(self.exp) - i32::from(exp)).ok()?;
        10_i128.checked_pow(up)?.checked_mul(i128::from(self.count))
    }
}

/// 10^`exp` for `exp` from 0 to 22, each exact in `f64`.
fn power(exp: i8) -> f64 {
    const POWERS: [f64; 23] = [
        1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
        1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
    ];
    POWERS[usize::from(exp.unsigned_abs()).min(22)]
}

impl Ord for Decimal {
    fn cmp(&self, other: &Self) -> Ordering {
        let exp = self.exp.min(other.exp);
        match (self.scaled_to(exp), other.scaled_to(exp)) {
            (Some(a), Some(b)) => a.cmp(&b),
            // Only a value of at least 10^20 counts of the other's place overflows: its sign decides.
            (None, _) => self.count.cmp(&0),
            (_, None) => 0.cmp(&other.count),
        }
    }
}

impl PartialOrd for Decimal {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Decimal {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Decimal {}

/// Plain decimal without an exponent, with the trailing zeros the display shows.
impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digits = self.count.unsigned_abs();
        let sign = if self.count < 0 { "-" } else { "" };
        if self.exp >= 0 {
            let zeros = if digits == 0 {
                0
            } else {
                usize::from(self.exp.unsigned_abs())
            };
            return write!(f, "{sign}{digits}{:0<zeros$}", "");
        }
        let places = usize::from(self.exp.unsigned_abs());
        let unit = 10_u64.pow(u32::from(self.exp.unsigned_abs()));
        write!(f, "{sign}{}.{:0places$}", digits / unit, digits % unit)
    }
}

/// A plain decimal or one with an exponent; the point is the decimal mark.
impl FromStr for Decimal {
    type Err = DecimalError;

    fn from_str(text: &str) -> Result<Self, DecimalError> {
        let (mantissa, exponent) = match text.split_once(['e', 'E']) {
            Some((mantissa, exponent)) => {
                let digits = exponent.strip_prefix(['+', '-']).unwrap_or(exponent);
                if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
                    return Err(DecimalError::NotANumber);
                }
                (
                    mantissa,
                    exponent
                        .parse::<i16>()
                        .map_err(|_| DecimalError::OutOfRange)?,
                )
            }
            None => (text, 0),
        };
        let (negative, digits) = match mantissa.as_bytes().first() {
            Some(b'-') => (true, &mantissa[1..]),
            Some(b'+') => (false, &mantissa[1..]),
            _ => (false, mantissa),
        };
        let mut count: i64 = 0;
        let mut places: i16 = 0;
        let (mut point, mut any) = (false, false);
        for byte in digits.bytes() {
            match byte {
                b'0'..=b'9' => {
                    any = true;
                    count = count
                        .checked_mul(10)
                        .and_then(|c| c.checked_add(i64::from(byte - b'0')))
                        .ok_or(DecimalError::OutOfRange)?;
                    places += i16::from(point);
                }
                b'.' if !point => point = true,
                _ => return Err(DecimalError::NotANumber),
            }
        }
        if !any {
            return Err(DecimalError::NotANumber);
        }
        let mut exp = exponent
            .checked_sub(places)
            .ok_or(DecimalError::OutOfRange)?;
        // Zeros that the exponent's range cannot hold move into the count: 5e17 is exact.
        while exp > i16::from(EXP_MAX) && count.unsigned_abs() < 100_000_000_000_000_000 {
            count *= 10;
            exp -= 1;
        }
        while exp < i16::from(EXP_MIN) && count % 10 == 0 && count != 0 {
            count /= 10;
            exp += 1;
        }
        let exp = i8::try_from(exp).map_err(|_| DecimalError::OutOfRange)?;
        Self::new(if negative { -count } else { count }, exp)
    }
}

/// As text that gives the same count and exponent again: 22.7 kΩ is `227e2`,
/// since 22700 would be other digits on a display.
impl Serialize for Decimal {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.exp > 0 {
            return serializer.collect_str(&format_args!("{}e{}", self.count, self.exp));
        }
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Decimal {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = std::borrow::Cow::<'de, str>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// What a quantity is measured in; prefixes live in the exponent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[expect(missing_docs, reason = "each name is its own unit")]
pub enum Unit {
    Ohm,
    Volt,
    Ampere,
    Siemens,
    Celsius,
    Fahrenheit,
    Second,
    Percent,
    /// A ratio without a unit.
    Ratio,
}

impl Unit {
    /// The word the log uses.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Ohm => "ohm",
            Self::Volt => "volt",
            Self::Ampere => "ampere",
            Self::Siemens => "siemens",
            Self::Celsius => "celsius",
            Self::Fahrenheit => "fahrenheit",
            Self::Second => "second",
            Self::Percent => "percent",
            Self::Ratio => "ratio",
        }
    }

    /// The symbol a display uses.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Ohm => "Ω",
            Self::Volt => "V",
            Self::Ampere => "A",
            Self::Siemens => "S",
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::Second => "s",
            Self::Percent => "%",
            Self::Ratio => "",
        }
    }
}

/// A value as a display shows it: exact, in base units, with one count of the
/// range shown, the display's own prefix, and the range's full scale if known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shown {
    /// The value in base units (22.7 kΩ is 227 × 10^2 ohm).
    pub value: Decimal,
    /// Its unit.
    pub unit: Unit,
    /// One count of the range shown, in base units.
    pub resolution: Decimal,
    /// Power of ten of the prefix on the display: 3 for kΩ.
    pub prefix: i8,
    /// The largest value of the range shown, in base units.
    pub full_scale: Option<Decimal>,
}

impl Shown {
    /// A value whose last digit is one count and which carries no prefix.
    pub const fn plain(value: Decimal, unit: Unit) -> Self {
        Self {
            value,
            unit,
            resolution: Decimal::one(value.exp),
            prefix: 0,
            full_scale: None,
        }
    }
}

/// As a person reads it from the display: `22.7 kΩ`.
impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let symbol = prefix_symbol(self.prefix);
        match (symbol, self.value.shifted(-self.prefix)) {
            (Some(prefix), Some(digits)) => write!(f, "{digits} {prefix}{}", self.unit.symbol()),
            _ => write!(f, "{} {}", self.value, self.unit.symbol()),
        }
    }
}

/// The letter of a power of ten, where there is one.
pub const fn prefix_symbol(power: i8) -> Option<&'static str> {
    Some(match power {
        -12 => "p",
        -9 => "n",
        -6 => "µ",
        -3 => "m",
        0 => "",
        3 => "k",
        6 => "M",
        9 => "G",
        12 => "T",
        _ => return None,
    })
}

macro_rules! newtype {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);
    };
}

newtype!(/// Resistance in ohms.
    Ohms);
newtype!(/// Voltage in volts.
    Volts);
newtype!(/// Temperature in degrees Celsius.
    Celsius);
newtype!(/// Current in amperes.
    Amperes);

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn d(text: &str) -> Decimal {
        text.parse().expect("a decimal")
    }

    #[test]
    fn differences_of_displayed_values_are_exact() {
        assert_eq!(d("2.6").checked_sub(d("0.3")), Some(d("2.3")));
        assert_eq!(
            d("2.6").checked_sub(d("0.3")).expect("fits").to_string(),
            "2.3"
        );
    }

    #[test]
    fn text_keeps_the_zeros_a_display_shows() {
        for text in [
            "0",
            "12.30",
            "-0.050",
            "22700",
            "0.000000000000001",
            "999999999999999999",
        ] {
            assert_eq!(d(text).to_string(), text);
        }
        assert_eq!(d("2.27e4").to_string(), "22700");
        assert_eq!(d("5e17").to_string(), "500000000000000000");
        assert_eq!(d("0e15").to_string(), "0");
    }

    #[test]
    fn what_is_not_a_number_is_refused() {
        for text in [
            "", ".", "-", "1,5", "1.2.3", "OL", "1e", "1e+", "nan", " 1", "1 ", "e5",
        ] {
            assert_eq!(
                text.parse::<Decimal>(),
                Err(DecimalError::NotANumber),
                "{text:?}"
            );
        }
        for text in ["1000000000000000000", "1e-16", "1e99", "1e99999"] {
            assert_eq!(
                text.parse::<Decimal>(),
                Err(DecimalError::OutOfRange),
                "{text:?}"
            );
        }
    }

    #[test]
    fn a_display_reads_with_its_prefix() {
        let mut shown = Shown::plain(Decimal::new(227, 2).expect("in range"), Unit::Ohm);
        shown.prefix = 3;
        assert_eq!(shown.to_string(), "22.7 kΩ");
    }

    proptest! {
        #[test]
        fn order_agrees_with_exact_integers(a in -999_999i64..999_999, b in -999_999i64..999_999, e in -15i8..=15, f in -15i8..=15) {
            let (x, y) = (Decimal::new(a, e).expect("in range"), Decimal::new(b, f).expect("in range"));
            let wide = |c: i64, e: i8| i128::from(c) * 10_i128.pow(u32::from((e + 15).unsigned_abs()));
            prop_assert_eq!(x.cmp(&y), wide(a, e).cmp(&wide(b, f)));
        }

        #[test]
        fn extreme_counts_and_exponents_keep_their_order(a in any::<i64>(), b in any::<i64>(), e in -15i8..=15, f in -15i8..=15) {
            let limit = 1_000_000_000_000_000_000;
            let (x, y) = (Decimal::new(a % limit, e).expect("in range"), Decimal::new(b % limit, f).expect("in range"));
            prop_assert_eq!(x.cmp(&y), y.cmp(&x).reverse());
            if x.to_f64() > y.to_f64() * 1.000_001 && y.to_f64() >= 0.0 { prop_assert_eq!(x.cmp(&y), Ordering::Greater); }
        }

        #[test]
        fn stored_digits_come_back_as_they_were(count in -999_999i64..999_999, exp in -15i8..=15) {
            let value = Decimal::new(count, exp).expect("in range");
            let stored = serde_json::to_string(&value).expect("text");
            let back: Decimal = serde_json::from_str(&stored).expect("reads back");
            prop_assert_eq!((back.count(), back.exp()), (count, exp));
        }

        #[test]
        fn text_reads_back(count in -999_999_999_999_999_999i64..=999_999_999_999_999_999, exp in -15i8..=0) {
            let value = Decimal::new(count, exp).expect("in range");
            let back: Decimal = value.to_string().parse().expect("reads back");
            prop_assert_eq!((back.count(), back.exp()), (count, exp));
        }
    }
}
