//! Decoding: the bytes of one whole frame to a number, over-range or no result.
//!
//! Nothing here guesses: a byte that does not fit its place is a refusal with
//! its reason. Nothing here allocates.

mod field;
mod number;
mod suffix;

pub use field::{Field, Place, Value};
pub use number::{Large, TextNumber, Words};
pub use suffix::{Suffix, UnitSet};

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
}
