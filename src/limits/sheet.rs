//! A sheet as a shop writes it: which points, in which order, at which
//! voltage, and who may leave one out.

use serde::{Deserialize, Serialize};

use super::{Point, Test, words};
use crate::quantity::Volts;
use crate::text::Text;

/// The points of a job in the order they are measured. `dead` and the two
/// proofs of the leads stand around any sheet and are not written in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sheet {
    /// Its name.
    pub name: Text,
    /// What it is for.
    pub title: Text,
    /// Its points.
    pub steps: Vec<SheetStep>,
    /// What it looks for: then what was read chooses the next of its points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub search: Option<Search>,
}

words! {
    /// What a sheet looks for.
    Search {
        /// Between which places of a run a ground fault lies: its ground
        /// steps, from the panel to the motor, and `winding cable_loop`.
        FaultPlace = "fault_place",
    }
}

/// One point of a sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SheetStep {
    /// What is measured, or for `ratio`, computed. The name `all` stands for
    /// every winding, sensor or ground point that the motor has.
    pub point: Point,
    /// The test voltage; none: the profile's. Only for `insulation`.
    pub test_voltage: Option<Volts>,
    /// When a hold is read, in seconds of rising order; empty: the profile's
    /// mark. For a `ratio` the two marks it is of; empty: those of its kind.
    pub marks_s: Vec<u32>,
    /// The named set of bands, for a `ratio`.
    pub bands: Option<Text>,
    /// Who may leave it out.
    pub skip: SkipBy,
    /// What is said when it is asked for; empty: the program's own words.
    pub say: Text,
}

impl SheetStep {
    /// A step that asks for nothing of its own.
    pub fn plain(test: Test, name: &str) -> Self {
        Self {
            point: Point::new(test, name),
            test_voltage: None,
            marks_s: Vec::new(),
            bands: None,
            skip: SkipBy::Anyone,
            say: Text::default(),
        }
    }
}

words! {
    /// Who may leave a point out.
    SkipBy {
        /// Anyone, with a reason.
        Anyone = "anyone",
        /// Nobody: without it the job is ended, not finished.
        Nobody = "nobody",
    }
}

impl Search {
    /// The winding point that reads a short's loop along a cable.
    pub const LOOP: &str = "cable_loop";

    /// Whether this point of its sheet is one that the search chooses among.
    pub fn takes(self, point: &Point) -> bool {
        match self {
            Self::FaultPlace => point.test == Test::Ground || point.is(Test::Winding, Self::LOOP),
        }
    }
}
