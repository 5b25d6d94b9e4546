//! What this asset read before, at the same place: to be compared with, never to judge by.

use serde::{Deserialize, Serialize};

use super::{Conductor, Point};
use crate::quantity::{Celsius, Decimal, Volts};
use crate::text::Text;

/// The values of the last finished job of an asset at one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Baseline {
    /// That job.
    pub job: Text,
    /// When it was recorded, RFC 3339.
    pub recorded_at: Text,
    /// Its values.
    pub values: Vec<Was>,
}

/// One earlier value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Was {
    /// Where it was measured.
    pub point: Point,
    /// Its row.
    pub seq: u64,
    /// In ohms, after leads and cable, as read (not corrected for temperature).
    pub ohms: Decimal,
    /// U of it (k = 2), in ohms, without the parts of the temperature and the cable.
    pub u: Decimal,
    /// The winding's temperature then, if it was known.
    pub temperature: Option<Celsius>,
    /// The test voltage, for insulation.
    pub test_voltage: Option<Volts>,
    /// How long the voltage was on, in seconds, for insulation.
    #[serde(default)]
    pub held_s: Option<Decimal>,
    /// What was subtracted for the cable: at the same place it hangs there still.
    #[serde(default)]
    pub cable: Option<Decimal>,
    /// What the winding is made of.
    pub conductor: Conductor,
}

/// One earlier value with the job that it is of.
#[derive(Clone, Debug, PartialEq)]
pub struct Earlier {
    /// That job.
    pub job: Text,
    /// When it was recorded, RFC 3339.
    pub recorded_at: Text,
    /// The value.
    pub was: Was,
}

impl Baseline {
    /// The earlier value of a point.
    pub fn of(&self, point: &Point) -> Option<Earlier> {
        let was = self.values.iter().find(|was| was.point == *point)?;
        Some(Earlier {
            job: self.job.clone(),
            recorded_at: self.recorded_at.clone(),
            was: was.clone(),
        })
    }
}
