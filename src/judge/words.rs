//! Words: how exact numbers and terms are put into a reason.
//!
//! A reason is a line of terms with `; ` between them, the numbers as a display
//! shows them, and at its end what to do. Nothing here decides anything.

use core::fmt::{self, Write as _};

use crate::quantity::{Decimal, prefix_symbol};

/// Why a value of this meter that would pass does not (rule 20).
pub(super) fn blocked(around: &super::Around) -> &'static str {
    if around.meter_failed {
        "the meter failed its last check on a known resistor, which blocks passes: check it again until it holds, or use another meter"
    } else {
        "the meter's calibration is overdue, which blocks passes here: have it calibrated, or use another meter"
    }
}

/// Why an ohm reading counts for nothing (rule 16).
pub(super) const LIVE: &str = "the meter says that voltage is on the clips: take them off by their insulation, find where it comes from, prove the motor dead again";

/// A reason under construction.
#[derive(Debug)]
pub(super) struct Terms {
    said: String,
    notes: String,
}

impl Terms {
    pub(super) fn new() -> Self {
        Self {
            said: String::with_capacity(256),
            notes: String::new(),
        }
    }

    /// Appends a term.
    pub(super) fn term(&mut self, words: fmt::Arguments<'_>) {
        append(&mut self.said, words);
    }

    /// Appends words without a separator.
    pub(super) fn more(&mut self, words: fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        _ = self.said.write_fmt(words);
    }

    /// Keeps words for the end, behind the verdict: why, and what to do.
    pub(super) fn note(&mut self, words: fmt::Arguments<'_>) {
        append(&mut self.notes, words);
    }

    pub(super) fn done(mut self) -> String {
        if !self.notes.is_empty() {
            append(&mut self.said, format_args!("{}", self.notes));
        }
        self.said
    }
}

fn append(to: &mut String, words: fmt::Arguments<'_>) {
    if !to.is_empty() {
        to.push_str("; ");
    }
    _ = to.write_fmt(words);
}

/// Ohms with the prefix that suits their size: `22.7 kΩ`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ohm(pub(super) Decimal);

impl fmt::Display for Ohm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let prefix = prefix_of(self.0);
        let symbol = prefix_symbol(prefix).unwrap_or_default();
        write!(f, "{} {symbol}Ω", In(self.0, prefix))
    }
}

/// Digits in a given prefix, without the unit and without needless zeros.
#[derive(Clone, Copy, Debug)]
pub(super) struct In(pub(super) Decimal, pub(super) i8);

impl fmt::Display for In {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0.shifted(-self.1) {
            // Zeros that only the prefix brings are not the display's.
            Some(digits) if self.1 != 0 => write!(f, "{}", trimmed(digits)),
            Some(digits) => write!(f, "{digits}"),
            None => write!(f, "{}", self.0),
        }
    }
}

/// The prefix in which a value of this size is read.
pub(super) fn prefix_of(value: Decimal) -> i8 {
    const STEPS: [(i64, i8, i8); 3] = [(1, 9, 9), (1, 6, 6), (1, 3, 3)];
    STEPS
        .into_iter()
        .find(|(count, exp, _)| Decimal::new(*count, *exp).is_ok_and(|least| value.abs() >= least))
        .map_or(0, |(_, _, prefix)| prefix)
}

/// Without the zeros that a computation left behind the point.
pub(super) fn trimmed(value: Decimal) -> Decimal {
    let (mut count, mut exp) = (value.count(), value.exp());
    while count != 0 && count % 10 == 0 && exp < 0 {
        count /= 10;
        exp += 1;
    }
    Decimal::new(count, exp).unwrap_or(value)
}

/// A computed value for people: three digits are enough for a doubt.
pub(super) fn brief(value: f64) -> Decimal {
    let mut exp = -3;
    let mut size = value.abs();
    while size >= 1.0 && exp < 15 {
        size /= 10.0;
        exp += 1;
    }
    Decimal::rounded(value, exp).map_or(Decimal::ZERO, trimmed)
}

/// The place of the second digit of a doubt: two are enough (JCGM 100, 7.2.6).
pub(super) fn second_digit(doubt: f64) -> i8 {
    let mut place = crate::quantity::EXP_MAX;
    let mut least = 1e16;
    while place > crate::quantity::EXP_MIN && doubt < least {
        place -= 1;
        least /= 10.0;
    }
    place
}

/// A value at a place, or at a finer one where it would else seem to lie on
/// the other side of a limit, or on it.
pub(super) fn beside(value: Decimal, place: i8, limits: [Option<Decimal>; 2]) -> Decimal {
    let mut place = place;
    while place > value.exp() {
        let Some(rounded) = Decimal::rounded(value.to_f64(), place) else {
            return value;
        };
        let alike = |limit: &Decimal| rounded.cmp(limit) == value.cmp(limit);
        if limits.iter().flatten().all(alike) {
            return rounded;
        }
        place -= 1;
    }
    value
}

/// The exact sum where it fits in 18 digits, else the nearest that does.
pub(super) fn plus(a: Decimal, b: Decimal) -> Decimal {
    a.checked_add(b).unwrap_or_else(|| {
        let mut exp = a.exp().max(b.exp());
        loop {
            match Decimal::rounded(a.to_f64() + b.to_f64(), exp) {
                Some(sum) => return sum,
                None if exp < crate::quantity::EXP_MAX => exp += 1,
                None => return a,
            }
        }
    })
}

/// The exact difference where it fits in 18 digits, else the nearest that does.
pub(super) fn minus(a: Decimal, b: Decimal) -> Decimal {
    match Decimal::new(-b.count(), b.exp()) {
        Ok(negative) => plus(a, negative),
        Err(_) => a,
    }
}

/// A computed value at a hundredth of the resolution, ties to even; coarser
/// only when that would need more than 18 digits.
pub(super) fn hundredth(value: f64, resolution: Decimal) -> Decimal {
    let mut exp = resolution
        .exp()
        .saturating_sub(2)
        .max(crate::quantity::EXP_MIN);
    loop {
        match Decimal::rounded(value, exp) {
            Some(rounded) => return rounded,
            None if exp < crate::quantity::EXP_MAX => exp += 1,
            // Not finite: no resistance is this large, and none passes with such a doubt.
            None => return Decimal::new(999_999_999_999_999_999, 15).unwrap_or(Decimal::ZERO),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn d(text: &str) -> Decimal {
        text.parse().expect("a decimal")
    }

    #[test]
    fn ohms_read_with_the_prefix_of_their_size() {
        assert_eq!(Ohm(d("4.30")).to_string(), "4.30 Ω");
        assert_eq!(Ohm(d("227e2")).to_string(), "22.7 kΩ");
        assert_eq!(Ohm(d("5e6")).to_string(), "5 MΩ");
    }

    #[test]
    fn differences_beyond_eighteen_digits_stay_near() {
        assert_eq!(minus(d("2.6"), d("0.3")), d("2.3"));
        assert_eq!(minus(d("9e17"), d("1e-15")), d("9e17"));
        assert_eq!(
            plus(d("999999999999999999"), d("1")),
            Decimal::new(1000, 15).expect("in range")
        );
    }

    #[test]
    fn computed_values_end_at_a_hundredth_of_the_resolution() {
        assert_eq!(hundredth(1.234_567, d("0.1")), d("1.235"));
        assert_eq!(hundredth(0.000_5, d("0.1")), d("0"));
        assert!(hundredth(f64::INFINITY, d("0.1")) > d("1e15"));
    }
}
