//! Decoding: the bytes of one whole frame to a number, over-range or no result.
//!
//! Nothing here guesses: a byte that does not fit its place is a refusal with
//! its reason. Nothing here allocates.

mod binary;
mod checksum;
mod described;
mod field;
mod number;
mod prepare;
mod segments;
mod suffix;
mod table;

pub use binary::{Digits, Float, Int, Order};
pub use checksum::{Check, Crc, Sum};
pub use described::{Described, described};
pub use field::{Field, Mark, Over, Place, Power, Value};
pub use number::{Large, TextNumber, Words};
pub use prepare::{Prepare, prepare};
pub use segments::Segments;
pub use suffix::{Suffix, UnitSet};
pub use table::{Code, Meaning, Table};

/// Why a frame gives no reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// Not text of the expected form.
    #[error("expected a number, found something else")]
    NotANumber,
    /// More than 18 digits, or beyond 10^±15.
    #[error("expected at most 18 digits and a power of ten from -15 to 15")]
    DoesNotFit,
    /// The frame ends before the place of a value.
    #[error("expected more bytes or fields than the frame has")]
    TooShort,
    /// A unit or prefix that is not known or not expected here.
    #[error("expected a unit that the description names, found another")]
    OtherUnit,
    /// A code that is not in its table.
    #[error("code {0} is not in its table")]
    NoCode(i64),
    /// A word that is not in its table.
    #[error("a word is not in its table")]
    NoWord,
    /// A code that the description refuses.
    /// The places of mark and meaning.
    #[error("the description refuses a frame with this code")]
    Rejected(usize, usize),
}

#[cfg(test)]
mod tests;
