//! One quantity of a frame: where its number stands and what else says something about it.

use crate::quantity::Unit;
use crate::reading::{Flags, Got};

use super::{Refused, TextNumber};

/// A quantity of a frame, ready to be read.
#[derive(Clone, Debug)]
pub struct Field {
    /// Where the number stands.
    pub value: Value,
    /// The unit of a bare number.
    pub unit: Unit,
}

/// Where a number stands and how it is written.
#[derive(Clone, Debug)]
pub enum Value {
    /// Text.
    Text(Place, TextNumber),
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

impl Field {
    /// Reads it from a frame.
    ///
    /// # Errors
    /// Anything that does not fit its place.
    pub fn read(&self, frame: &[u8]) -> Result<(Got, Flags), Refused> {
        match &self.value {
            Value::Text(place, number) => number.read(place.of(frame)?),
        }
    }
}
