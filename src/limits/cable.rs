//! A cable between the clips and the motor: its loop resistance and its doubt.

use serde::{Deserialize, Serialize};

use crate::quantity::Decimal;
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
        }
    }

    /// U of it (k = 2), in ohms.
    pub fn u(&self) -> f64 {
        self.ohms.to_f64().abs() * self.doubt_percent.to_f64().abs() / 100.0
    }
}
