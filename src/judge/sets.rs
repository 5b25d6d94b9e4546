//! Sets: what holds over three values of one motor.

use super::Judgement;
use crate::limits::Motor;
use crate::meter::Meter;
use crate::quantity::Decimal;
use crate::reading::Take;
use crate::row::{Row, Verdict};

/// One of three values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// In ohms after leads and cable; none: over-range.
    pub ohms: Option<Decimal>,
    /// One count of the range shown.
    pub resolution: Decimal,
    /// U of the meter and the null alone (k = 2), in ohms.
    pub u: f64,
    /// Whether the leads were subtracted, or need not be.
    pub leads_out: bool,
}

impl Part {
    /// From a take and its judgement; none when it is neither value nor over-range.
    pub fn new(meter: &Meter, take: &Take, judgement: &Judgement) -> Option<Self> {
        let _ = (meter, take, judgement);
        None
    }

    /// From a row of the log (`value` or `open`), for jobs that go on after a stop.
    pub fn from_row(meter: &Meter, row: &Row) -> Option<Self> {
        let _ = (meter, row);
        None
    }
}

/// The `set` of a three-wire motor: common–run, common–start, run–start.
pub fn three_wire(motor: &Motor, main: &Part, start: &Part, total: &Part) -> Judgement {
    let _ = (motor, main, start, total);
    Judgement::bare(Verdict::Undecided, None, "not judged yet")
}

/// The `set` of a three-phase motor: lines 1–2, 2–3, 3–1. `cable_in`: a
/// cable is in and was not subtracted, which hides unbalance.
pub fn three_phase(motor: &Motor, lines: [&Part; 3], cable_in: bool) -> Judgement {
    let _ = (motor, lines, cable_in);
    Judgement::bare(Verdict::Undecided, None, "not judged yet")
}
