//! One quantity of a frame: where its number stands and what else says something about it.
//!
//! Value = number × 10^(sum of exponents). Marks are read first: what they
//! refuse or call over-range needs no digits.

use std::sync::Arc;

use crate::quantity::{Decimal, Shown, Unit};
use crate::reading::{Flags, Got};

use super::binary::{self, Digits, Float, Int};
use super::segments::Segments;
use super::table::{Code, Table};
use super::{Refused, Suffix, TextNumber};

/// A quantity of a frame, ready to be read.
#[derive(Clone, Debug)]
pub struct Field {
    /// Where the number stands.
    pub value: Value,
    /// The unit, when nothing else says it.
    pub unit: Unit,
    /// A power of ten that is always the same.
    pub exponent: i8,
    /// A power of ten from the frame.
    pub power: Option<Power>,
    /// Codes that are looked up.
    pub marks: Vec<Mark>,
    /// The range's full scale if it is always the same.
    pub full_scale: Option<Decimal>,
    /// What is over-range beside words.
    pub over: Over,
    /// Whether a float that is not a number is no result.
    pub nan: bool,
}

/// Where a number stands and how it is written.
#[derive(Clone, Debug)]
pub enum Value {
    /// Text.
    Text(Place, TextNumber),
    /// A binary integer.
    Int(Int),
    /// A binary float.
    Float(Float),
    /// Digits.
    Digits(Digits),
    /// Segments of a display.
    Segments(Segments),
}

/// A power of ten from the frame.
#[derive(Clone, Debug)]
pub enum Power {
    /// An integer, its bias included.
    Int(Int),
    /// Some bits, the first one counts 1.
    Bits(Vec<u16>),
}

/// A code and the table it is looked up in.
#[derive(Clone, Debug)]
pub struct Mark {
    /// Where the code stands.
    pub from: Code,
    /// The table.
    pub table: Arc<Table>,
}

/// What is over-range beside words.
#[derive(Clone, Copy, Debug, Default)]
pub struct Over {
    /// A count from here on.
    pub maximum: Option<i64>,
    /// A bit.
    pub bit: Option<u16>,
    /// A digit that is none.
    pub non_digit: bool,
    /// An infinite float.
    pub infinity: bool,
    /// A float from here on.
    pub float_from: Option<f64>,
}

/// Which part of a frame is text to be read.
#[derive(Clone, Debug)]
pub enum Place {
    /// All of it.
    Whole,
    /// A field between separators, counted from 0.
    Field(u8, u8),
    /// Columns: the first byte and how many.
    Columns(i32, usize),
}

impl Place {
    /// The bytes of this place.
    ///
    /// # Errors
    /// The frame has no such place.
    pub fn of<'a>(&self, frame: &'a [u8]) -> Result<&'a [u8], Refused> {
        match *self {
            Self::Whole => Ok(frame),
            Self::Field(nth, separator) => frame
                .split(|b| *b == separator)
                .nth(usize::from(nth))
                .ok_or(Refused::TooShort),
            Self::Columns(at, length) => slice(frame, at, length),
        }
    }
}

/// `length` bytes from `at`, which counts from the end when negative.
pub(super) fn slice(frame: &[u8], at: i32, length: usize) -> Result<&[u8], Refused> {
    let from = place(frame, at)?;
    frame
        .get(from..from.saturating_add(length))
        .ok_or(Refused::TooShort)
}

/// The index that `at` means, at most the length.
pub(super) fn place(frame: &[u8], at: i32) -> Result<usize, Refused> {
    let at = at as isize;
    let index = if at < 0 {
        frame.len().checked_sub(at.unsigned_abs())
    } else {
        Some(at.unsigned_abs())
    };
    index.filter(|i| *i <= frame.len()).ok_or(Refused::TooShort)
}

/// What the marks of a frame come to.
struct Said {
    exponent: i32,
    prefix: i8,
    unit: Unit,
    negative: bool,
    over: bool,
    nothing: bool,
    flags: Flags,
    full_scale: Option<Decimal>,
}

impl Field {
    /// Reads it from a frame.
    ///
    /// # Errors
    /// Anything that does not fit its place.
    pub fn read(&self, frame: &[u8]) -> Result<(Got, Flags), Refused> {
        if self.marks.is_empty()
            && let Value::Text(place, number) = &self.value
        {
            let (got, flags) = number.read(place.of(frame)?)?;
            return if self.exponent == 0 && self.power.is_none() && self.full_scale.is_none() {
                Ok((got, flags))
            } else {
                let said = self.said(frame)?;
                Ok((finish(got, &said, number.suffix == Suffix::None)?, flags))
            };
        }
        let said = self.said(frame)?;
        if said.nothing {
            return Ok((Got::Nothing, said.flags));
        }
        let over = Got::Over {
            unit: said.unit,
            full_scale: said.full_scale,
        };
        if said.over {
            return Ok((over, said.flags));
        }
        let decimal = match &self.value {
            Value::Text(place, number) => {
                let (got, flags) = number.read(place.of(frame)?)?;
                let bare = number.suffix == Suffix::None;
                return Ok((finish(got, &said, bare)?, said.flags.with(flags)));
            }
            Value::Int(int) => Some(count(int.read(frame)?)?),
            Value::Digits(digits) => digits.read(frame)?.map(count).transpose()?,
            Value::Segments(segments) => segments.read(frame)?,
            Value::Float(float) => {
                let value = float.read(frame)?;
                if value.is_nan() {
                    return if self.nan {
                        Ok((Got::Nothing, said.flags))
                    } else {
                        Err(Refused::NotANumber)
                    };
                }
                let large = self.over.float_from.is_some_and(|from| value.abs() >= from);
                if large || value.is_infinite() && self.over.infinity {
                    return Ok((over, said.flags));
                }
                Some(float.shown(value)?)
            }
        };
        let Some(value) = decimal else {
            return if self.over.non_digit {
                Ok((over, said.flags))
            } else {
                Err(Refused::NotANumber)
            };
        };
        if self.over.maximum.is_some_and(|max| value.count() >= max) {
            return Ok((over, said.flags));
        }
        let shown = Shown {
            value,
            unit: said.unit,
            resolution: Decimal::one(value.exp()),
            prefix: 0,
            full_scale: None,
        };
        Ok((finish(Got::Value(shown), &said, true)?, said.flags))
    }

    /// Why a frame is refused, in the words of the description where it has some.
    pub fn why(&self, refused: Refused) -> Option<&str> {
        let Refused::Rejected(mark, meaning) = refused else {
            return None;
        };
        let table = &self.marks.get(mark)?.table;
        table.meanings.get(meaning)?.reject.as_deref()
    }

    fn said(&self, frame: &[u8]) -> Result<Said, Refused> {
        let mut said = Said {
            exponent: i32::from(self.exponent),
            prefix: 0,
            unit: self.unit,
            negative: false,
            over: match self.over.bit {
                Some(bit) => binary::bit(frame, bit)?,
                None => false,
            },
            nothing: false,
            flags: Flags::NONE,
            full_scale: self.full_scale,
        };
        match &self.power {
            None => {}
            Some(Power::Int(int)) => {
                let power = i32::try_from(int.read(frame)?).map_err(|_| Refused::DoesNotFit)?;
                said.exponent = said.exponent.saturating_add(power);
            }
            Some(Power::Bits(bits)) => {
                let power = Code::bits(frame, bits)?;
                said.exponent = said.exponent.saturating_add(power as i32);
            }
        }
        for (nth, mark) in self.marks.iter().enumerate() {
            let index = mark.table.look_up(&mark.from, frame)?;
            let meaning = mark.table.meanings.get(index).ok_or(Refused::NoWord)?;
            if meaning.reject.is_some() {
                return Err(Refused::Rejected(nth, index));
            }
            let power = i32::from(meaning.exponent) + i32::from(meaning.prefix);
            said.exponent = said.exponent.saturating_add(power);
            said.prefix = said.prefix.saturating_add(meaning.prefix);
            said.unit = meaning.unit.unwrap_or(said.unit);
            said.negative |= meaning.negative;
            said.over |= meaning.over;
            said.nothing |= meaning.nothing;
            said.flags = said.flags.with(meaning.flags);
            said.full_scale = meaning.full_scale.or(said.full_scale);
        }
        Ok(said)
    }
}

fn count(count: i64) -> Result<Decimal, Refused> {
    Decimal::new(count, 0).map_err(|_| Refused::DoesNotFit)
}

/// Puts what marks say on a number; the unit too, when the number has none of its own.
fn finish(got: Got, said: &Said, bare: bool) -> Result<Got, Refused> {
    let Got::Value(mut shown) = got else {
        return Ok(match got {
            Got::Over { unit, full_scale } => Got::Over {
                unit: if bare { said.unit } else { unit },
                full_scale: full_scale.or(said.full_scale),
            },
            got => got,
        });
    };
    let by = i8::try_from(said.exponent).map_err(|_| Refused::DoesNotFit)?;
    let shift = |value: Decimal| value.shifted(by).ok_or(Refused::DoesNotFit);
    shown.value = shift(shown.value)?;
    shown.resolution = shift(shown.resolution)?;
    if said.negative {
        shown.value = Decimal::ZERO
            .shifted(shown.value.exp())
            .and_then(|zero| zero.checked_sub(shown.value))
            .ok_or(Refused::DoesNotFit)?;
    }
    if bare {
        shown.unit = said.unit;
    }
    shown.prefix = shown.prefix.saturating_add(said.prefix);
    shown.full_scale = shown.full_scale.or(said.full_scale);
    Ok(Got::Value(shown))
}
