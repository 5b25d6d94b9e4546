//! A number as text: sign, digits, point, exponent, prefix and unit, or a word.
//!
//! The grammar is closed: spaces, sign, digits with one decimal mark, exponent,
//! suffix. Anything beside it is refused. The resolution is one count of the
//! last digit shown, with prefix and exponent: `+1.2345E+01` counts in 0.001.

use crate::quantity::{Decimal, EXP_MAX, EXP_MIN, Shown, Unit};
use crate::reading::{Flags, Got};

use super::{Refused, Suffix, UnitSet};

/// How a number is written.
#[derive(Clone, Debug)]
pub struct TextNumber {
    /// How prefix and unit are written.
    pub suffix: Suffix,
    /// The decimal mark.
    pub point: u8,
    /// The unit of a bare number.
    pub unit: Unit,
    /// The units that may be written.
    pub units: UnitSet,
    /// Words for more than the range shows.
    pub over: Words,
    /// Words for no result.
    pub nothing: Words,
    /// Any magnitude from here on is over-range.
    pub over_from: Option<Large>,
    /// This number is no result.
    pub nothing_at: Option<Large>,
    /// Whether `>` before a number means more than that number.
    pub beyond: bool,
}

/// A list of words, compared without case.
#[derive(Clone, Debug, Default)]
pub struct Words(Vec<Box<[u8]>>);

impl Words {
    /// The longest are tried first.
    pub fn new<'a>(words: impl IntoIterator<Item = &'a str>) -> Self {
        let mut words: Vec<Box<[u8]>> = words.into_iter().map(|w| w.as_bytes().into()).collect();
        words.sort_by_key(|w| core::cmp::Reverse(w.len()));
        Self(words)
    }

    /// Whether `text` is one of them.
    pub fn has(&self, text: &[u8]) -> bool {
        self.0.iter().any(|w| w.eq_ignore_ascii_case(text))
    }

    /// What follows the first of them that `text` begins with.
    fn strip<'t>(&self, text: &'t [u8]) -> impl Iterator<Item = &'t [u8]> {
        self.0.iter().filter_map(move |w| {
            let (head, rest) = text.split_at_checked(w.len())?;
            head.eq_ignore_ascii_case(w).then_some(rest)
        })
    }
}

/// A number that may lie beyond every [`Decimal`], such as 9.9E37.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Large {
    /// Decimal digits before the point.
    order: i32,
    /// The digits, drawn to 18 places.
    digits: u64,
}

impl Large {
    fn new(count: i64, exp: i32) -> Self {
        let mut digits = count.unsigned_abs();
        if digits == 0 {
            return Self {
                order: i32::MIN,
                digits: 0,
            };
        }
        let places = digits.ilog10() + 1;
        digits *= 10_u64.pow(18 - places.min(18));
        Self {
            order: exp.saturating_add(places as i32),
            digits,
        }
    }

    /// Reads a plain number with an exponent.
    pub fn parse(text: &str) -> Option<Self> {
        let raw = Raw::read(text.as_bytes(), b'.').ok()?;
        raw.rest.is_empty().then(|| Self::new(raw.count, raw.exp))
    }
}

/// Sign, digits and exponent, before anything is made of them.
struct Raw<'a> {
    count: i64,
    exp: i32,
    rest: &'a [u8],
}

impl<'a> Raw<'a> {
    fn read(text: &'a [u8], point: u8) -> Result<Self, Refused> {
        let (negative, mut rest) = match text {
            [b'-', rest @ ..] => (true, rest.trim_ascii_start()),
            [b'+', rest @ ..] => (false, rest.trim_ascii_start()),
            _ => (false, text),
        };
        let mut count: u64 = 0;
        let (mut places, mut seen, mut any) = (0, false, false);
        while let [byte, tail @ ..] = rest {
            let digit = byte.wrapping_sub(b'0');
            if digit < 10 {
                any = true;
                count = count * 10 + u64::from(digit);
                if count >= 1_000_000_000_000_000_000 {
                    return Err(Refused::DoesNotFit);
                }
                places += i32::from(seen);
            } else if *byte == point && !seen {
                seen = true;
            } else {
                break;
            }
            rest = tail;
        }
        if !any {
            return Err(Refused::NotANumber);
        }
        let mut exp = -places;
        if let [b'e' | b'E', tail @ ..] = rest
            && let Some((power, tail)) = exponent(tail)
        {
            exp = exp.saturating_add(power);
            rest = tail;
        }
        Ok(Self {
            count: if negative {
                -(count as i64)
            } else {
                count as i64
            },
            exp,
            rest: rest.trim_ascii_start(),
        })
    }
}

/// A sign and digits; `None` when there is no digit, so that `E` may begin a suffix.
fn exponent(text: &[u8]) -> Option<(i32, &[u8])> {
    let (negative, mut rest) = match text {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, text),
    };
    let mut power: Option<i32> = None;
    while let [byte @ b'0'..=b'9', tail @ ..] = rest {
        // Far beyond every meter, and still far from overflow.
        let next = power.unwrap_or(0) * 10 + i32::from(byte - b'0');
        power = Some(next.min(100_000));
        rest = tail;
    }
    power.map(|power| (if negative { -power } else { power }, rest))
}

/// `count × 10^exp` where the zeros that the exponent cannot hold move into the count.
fn decimal(mut count: i64, mut exp: i32) -> Result<Decimal, Refused> {
    while exp > i32::from(EXP_MAX) && count.unsigned_abs() < 100_000_000_000_000_000 && count != 0 {
        count *= 10;
        exp -= 1;
    }
    while exp < i32::from(EXP_MIN) && count % 10 == 0 && count != 0 {
        count /= 10;
        exp += 1;
    }
    if count == 0 {
        exp = exp.clamp(i32::from(EXP_MIN), i32::from(EXP_MAX));
    }
    let exp = i8::try_from(exp).map_err(|_| Refused::DoesNotFit)?;
    Decimal::new(count, exp).map_err(|_| Refused::DoesNotFit)
}

impl TextNumber {
    /// Reads one field of text.
    ///
    /// # Errors
    /// Anything beside the grammar.
    pub fn read(&self, text: &[u8]) -> Result<(Got, Flags), Refused> {
        let text = text.trim_ascii();
        if self.beyond
            && let [b'>', rest @ ..] = text
        {
            return self.beyond(rest.trim_ascii_start());
        }
        match self.number(text) {
            Err(refused) => self.word(text).ok_or(refused),
            read => read,
        }
    }

    fn number(&self, text: &[u8]) -> Result<(Got, Flags), Refused> {
        let raw = Raw::read(text, self.point)?;
        let suffix = self.suffix.read(raw.rest).ok_or(Refused::OtherUnit)?;
        let unit = suffix.unit.unwrap_or(self.unit);
        if !self.units.has(unit) {
            return Err(Refused::OtherUnit);
        }
        // 18 digits at most: a number of an everyday exponent is far from both.
        let near = |mark: Option<Large>| {
            mark.is_some_and(|m| raw.exp.saturating_add(18 + i32::from(suffix.prefix)) >= m.order)
        };
        if near(self.over_from) || near(self.nothing_at) {
            let large = Large::new(raw.count, raw.exp.saturating_add(i32::from(suffix.prefix)));
            if self.nothing_at == Some(large) {
                return Ok((Got::Nothing, suffix.flags));
            }
            if self.over_from.is_some_and(|from| large >= from) {
                let full_scale = None;
                return Ok((Got::Over { unit, full_scale }, suffix.flags));
            }
        }
        let count = raw
            .count
            .checked_mul(suffix.factor)
            .ok_or(Refused::DoesNotFit)?;
        let exp = raw.exp.saturating_add(i32::from(suffix.prefix));
        let value = decimal(count, exp)?;
        // The finest place that is kept is 10^-15: zeros behind it say nothing.
        let places = exp.max(i32::from(EXP_MIN));
        let step = decimal(suffix.factor, places)?;
        let shown = Shown {
            value,
            unit,
            resolution: step,
            prefix: if suffix.factor == 1 { suffix.prefix } else { 0 },
            full_scale: None,
        };
        Ok((Got::Value(shown), suffix.flags))
    }

    /// `> 20.0 GΩ`: more than the full scale that it names.
    fn beyond(&self, text: &[u8]) -> Result<(Got, Flags), Refused> {
        match self.number(text)? {
            (Got::Value(shown), flags) if shown.value > Decimal::ZERO => Ok((
                Got::Over {
                    unit: shown.unit,
                    full_scale: Some(shown.value),
                },
                flags,
            )),
            (over @ Got::Over { .. }, flags) => Ok((over, flags)),
            _ => Err(Refused::NotANumber),
        }
    }

    /// A word, with or without a sign before it and a suffix behind it.
    fn word(&self, text: &[u8]) -> Option<(Got, Flags)> {
        let bare = match text {
            [b'+' | b'-', rest @ ..] => rest.trim_ascii_start(),
            _ => text,
        };
        if self.nothing.has(text) || self.nothing.has(bare) {
            return Some((Got::Nothing, Flags::NONE));
        }
        self.over.strip(bare).find_map(|rest| {
            let suffix = self.suffix.read(rest.trim_ascii_start())?;
            let unit = suffix.unit.unwrap_or(self.unit);
            let full_scale = None;
            self.units
                .has(unit)
                .then_some((Got::Over { unit, full_scale }, suffix.flags))
        })
    }
}
