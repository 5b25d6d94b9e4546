//! A cable between the clips and the motor: its loop resistance and its doubt.

use serde::{Deserialize, Serialize};

use super::Conductor;
use crate::quantity::{Celsius, Decimal};
use crate::text::Text;

/// The cable that a winding is read through, there and back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cable {
    /// Ohms there and back; 0 or more.
    pub ohms: Decimal,
    /// How far that may be off, in percent either way: U itself (k = 2), not
    /// the half-width of a rectangular distribution.
    pub doubt_percent: Decimal,
    /// What it was computed from, or `measured loop`, in words.
    pub from: Text,
    /// How it lies, where it was said and is of one size from end to end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid: Option<Laid>,
}

/// A cable of one size, for the way to a short in it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Laid {
    /// How long it is, in metres.
    pub metres: f64,
    /// The area of a core in square millimetres.
    pub mm2: f64,
    /// Its metal.
    pub material: Conductor,
    /// Whether a core is several wires laid together.
    pub stranded: bool,
    /// How warm it is; none: nobody said.
    pub at: Option<Celsius>,
}

impl Cable {
    /// 10 % (own): tables, lengths and temperatures of installed cables are rarely better known.
    pub const DOUBT_PERCENT: i64 = 10;

    /// A loop of so many ohms with the usual doubt.
    pub fn of(ohms: Decimal, from: Text) -> Self {
        Self {
            ohms,
            doubt_percent: Decimal::new(Self::DOUBT_PERCENT, 0).unwrap_or_default(),
            from,
            laid: None,
        }
    }

    /// U of it (k = 2), in ohms.
    pub fn u(&self) -> f64 {
        self.ohms.to_f64().abs() * self.doubt_percent.to_f64().abs() / 100.0
    }
}
