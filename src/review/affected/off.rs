//! By how much a meter was off: in percent of what it read, or in ohms.

use core::fmt;
use core::str::FromStr;

use crate::quantity::{Decimal, EXP_MIN};

/// How a meter was off. Above 0 it read too high.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Off {
    /// `+1.2 %`: it read 1.2 % more than there was.
    Percent(Decimal),
    /// `+0.3 ohm`: it read 0.3 ohm more than there was.
    Ohms(Decimal),
}

/// Why words are no error of a meter.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum OffError {
    /// They do not read.
    #[error(
        "expected an error with its sign and unit, such as \"+1.2 %\" or \"-0.3 ohm\", + where the meter read too high, found {0:?}"
    )]
    Unread(String),
    /// Nothing follows from it.
    #[error("expected an error other than 0")]
    Zero,
    /// Less than nothing would have been read.
    #[error(
        "expected more than -100 %, found {0} %: no meter reads less than nothing of what is there"
    )]
    AllOfIt(Decimal),
}

impl FromStr for Off {
    type Err = OffError;

    fn from_str(words: &str) -> Result<Self, OffError> {
        let unread = || OffError::Unread(words.to_owned());
        let trimmed = words.trim();
        let end = trimmed
            .find(|c: char| {
                !(c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | ',' | '\u{2212}'))
            })
            .ok_or_else(unread)?;
        let (number, unit) = trimmed.split_at(end);
        let number = number.replace('\u{2212}', "-");
        // A comma divides here as a point does: an error has no thousands.
        let number = number.replacen(',', ".", 1);
        // Without a sign nobody knows which way the meter was off.
        if !number.starts_with(['+', '-']) {
            return Err(unread());
        }
        let number: Decimal = number.parse().map_err(|_| unread())?;
        if number.is_zero() {
            return Err(OffError::Zero);
        }
        match unit.trim() {
            "%" | "percent" => {
                let all = Decimal::new(-100, 0).unwrap_or_default();
                match number > all {
                    true => Ok(Self::Percent(number)),
                    false => Err(OffError::AllOfIt(number)),
                }
            }
            unit => {
                let power = ohms(unit).ok_or_else(unread)?;
                let value = number.shifted(power).ok_or_else(unread)?;
                Ok(Self::Ohms(value))
            }
        }
    }
}

/// The power of ten of a unit of resistance.
fn ohms(unit: &str) -> Option<i8> {
    let bare = ["ohms", "ohm", "Ω", "Ω"]
        .into_iter()
        .find_map(|name| unit.strip_suffix(name))?;
    match bare {
        "" => Some(0),
        "m" => Some(-3),
        "k" => Some(3),
        "M" => Some(6),
        _ => None,
    }
}

impl Off {
    /// What a meter would have read without its error, to a hundredth of a count.
    pub fn without(self, read: Decimal, resolution: Decimal) -> Decimal {
        match self {
            Self::Ohms(ohms) => read.checked_sub(ohms).unwrap_or(read),
            Self::Percent(percent) => {
                let true_value = read.to_f64() / (1.0 + percent.to_f64() / 100.0);
                let place = resolution.exp().saturating_sub(2).max(EXP_MIN);
                Decimal::rounded(true_value, place).unwrap_or(read)
            }
        }
    }
}

/// As it was typed: `+1.2 %`.
impl fmt::Display for Off {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (number, unit) = match self {
            Self::Percent(percent) => (percent, "%"),
            Self::Ohms(ohms) => (ohms, "ohm"),
        };
        let sign = if *number > Decimal::ZERO { "+" } else { "" };
        write!(f, "{sign}{number} {unit}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_read_as_people_type_them() {
        for (words, read) in [
            ("+1.2 %", "+1.2 %"),
            ("-0.5%", "-0.5 %"),
            ("\u{2212}0.3 ohm", "-0.3 ohm"),
            ("+0.3Ω", "+0.3 ohm"),
            ("+200 mohm", "+0.200 ohm"),
            ("-2kΩ", "-2000 ohm"),
            ("+3 percent", "+3 %"),
            ("+1,2 %", "+1.2 %"),
        ] {
            let off: Off = words.parse().expect(words);
            assert_eq!(off.to_string(), read);
        }
        for words in [
            "1.2 %", "+1.2", "+ %", "+1,2,5 %", "+1.2,5 %", "+1 V", "+1 Gohm", "", "%",
        ] {
            let refused = words.parse::<Off>();
            assert_eq!(refused, Err(OffError::Unread(words.to_owned())));
        }
        assert_eq!("+0 %".parse::<Off>(), Err(OffError::Zero));
        assert!(matches!("-100 %".parse::<Off>(), Err(OffError::AllOfIt(_))));
    }

    /// By hand: a meter that reads 2 % too high shows 5.10 for 5.00.
    #[test]
    fn what_was_there_is_what_was_read_without_the_error() {
        let d = |text: &str| text.parse::<Decimal>().expect("a number");
        let off = |words: &str| words.parse::<Off>().expect("an error");
        assert_eq!(off("+2 %").without(d("5.10"), d("0.01")), d("5"));
        assert_eq!(off("-20 %").without(d("4"), d("0.1")), d("5"));
        assert_eq!(off("+0.3 ohm").without(d("2.6"), d("0.1")), d("2.3"));
        assert_eq!(off("-0.3 ohm").without(d("2.6"), d("0.1")), d("2.9"));
    }
}
