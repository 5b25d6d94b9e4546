//! Codes and what they mean. A code that is not in its table is never guessed.

use crate::quantity::{Decimal, Unit};
use crate::reading::Flags;

use super::Refused;
use super::binary::{self, Int};
use super::field::{Place, slice};

/// Where a code stands.
#[derive(Clone, Debug)]
pub enum Code {
    /// A binary integer.
    Int(Int),
    /// Some bits, the first one counts 1, the next 2.
    Bits(Vec<u16>),
    /// Bytes of text.
    Word(i32, usize),
    /// A field of a line.
    Field(Place),
}

/// Codes and what they mean.
#[derive(Clone, Debug, Default)]
pub struct Table {
    /// Numbers, with the index of their meaning.
    pub numbers: Vec<(i64, usize)>,
    /// Words, with the index of their meaning.
    pub words: Vec<(Box<[u8]>, usize)>,
    /// The meanings.
    pub meanings: Vec<Meaning>,
}

/// What a code means.
#[derive(Clone, Debug, Default)]
pub struct Meaning {
    /// A power of ten.
    pub exponent: i8,
    /// A prefix on the display, also a power of ten.
    pub prefix: i8,
    /// The unit.
    pub unit: Option<Unit>,
    /// The number is negative.
    pub negative: bool,
    /// It is over-range.
    pub over: bool,
    /// It is no result.
    pub nothing: bool,
    /// Flags.
    pub flags: Flags,
    /// The range's full scale.
    pub full_scale: Option<Decimal>,
    /// Why such a frame is refused.
    pub reject: Option<Box<str>>,
}

impl Code {
    /// Some bits as a number.
    pub(super) fn bits(frame: &[u8], bits: &[u16]) -> Result<i64, Refused> {
        bits.iter().enumerate().try_fold(0, |number, (nth, bit)| {
            Ok(number | i64::from(binary::bit(frame, *bit)?) << nth)
        })
    }
}

impl Table {
    /// The index of what the code of this frame means.
    ///
    /// # Errors
    /// The code is not in the table.
    pub fn look_up(&self, code: &Code, frame: &[u8]) -> Result<usize, Refused> {
        match code {
            Code::Int(int) => self.number(int.read(frame)?),
            Code::Bits(bits) => self.number(Code::bits(frame, bits)?),
            Code::Word(at, length) => self.word(slice(frame, *at, *length)?),
            Code::Field(place) => self.word(place.of(frame)?),
        }
    }

    fn number(&self, code: i64) -> Result<usize, Refused> {
        self.numbers
            .iter()
            .find(|(known, _)| *known == code)
            .map(|(_, index)| *index)
            .ok_or(Refused::NoCode(code))
    }

    fn word(&self, code: &[u8]) -> Result<usize, Refused> {
        let code = code.trim_ascii();
        self.words
            .iter()
            .find(|(known, _)| **known == *code)
            .map(|(_, index)| *index)
            .ok_or(Refused::NoWord)
    }
}
