//! Judging: from a taken value to a verdict that shows its terms.
//!
//! Pure functions of a [`Case`]. A fact of the trade carries its source beside
//! the line that uses it. No path here clears a ground that was not proven.

pub mod absorption;
mod acceptance;
mod bar;
pub mod circuit;
mod compare;
pub mod conductor;
pub mod conformity;
pub mod correction;
pub mod fault_place;
pub mod diagnosis;
pub mod ground;
pub mod guide;
pub mod insulation;
pub mod job;
pub mod lead_finder;
pub mod lead_groups;
pub mod leads;
mod mixed;
pub mod pairs;
pub mod profile;
pub mod proof;
pub mod prove;
pub mod ratio;
pub mod sets;
mod shape;
pub mod sheet;
pub mod table;
pub mod uncertainty;
pub mod voltage;
pub mod winding;
mod words;

#[cfg(test)]
mod tests;

use core::time::Duration;

pub use job::{
    CLEARS_NONE, Outcome, PointResult, STANDING, Standing, clears_a_motor, do_not_energize,
    job_outcome,
};
pub use leads::{Leads, leads_after, leads_before};
pub use profile::{
    BandError, Mark, Minimum, MinimumError, VoltageBand, insulation_minimum, mark,
    test_voltage_band,
};
pub use proof::{ground_path, proof_due, proven_after};
pub use ratio::{Banded, RatioError, ratio};
pub use sets::{Part, Through, three_phase, three_wire};
pub use voltage::{
    Allowance, Forbidden, check_test_voltage, discharge_time, forbidden_voltage, judged_by,
    may_insulation_test, voltage_present, voltage_step,
};

use crate::limits::{
    Acceptance, Cable, Earlier, GroundReference, MeasuredAt, Motor, Point, Profile, Test,
};
use crate::meter::Meter;
use crate::quantity::{Celsius, Decimal, Volts};
use crate::reading::Take;
use crate::row::{Finding, Verdict};

/// Everything that one value is judged by.
#[derive(Clone, Debug)]
pub struct Case<'a> {
    /// Where it was measured.
    pub point: &'a Point,
    /// The motor.
    pub motor: &'a Motor,
    /// The meter.
    pub meter: &'a Meter,
    /// What was taken.
    pub take: &'a Take,
    /// What is known around it.
    pub around: &'a Around,
}

/// What is known around a value.
#[derive(Clone, Debug, PartialEq)]
pub struct Around {
    /// How near a limit may still pass.
    pub acceptance: Acceptance,
    /// The profile of insulation limits, if one is named.
    pub profile: Option<Profile>,
    /// The profile's condition.
    pub condition: Option<String>,
    /// Where the clips are.
    pub measured_at: MeasuredAt,
    /// What the ground clip holds.
    pub ground_reference: GroundReference,
    /// The winding's temperature.
    pub temperature: Option<Celsius>,
    /// The cable, there and back.
    pub cable: Option<Cable>,
    /// What this point read before, in an earlier job of this asset at this place.
    pub was: Option<Earlier>,
    /// The leads' resistance with this meter, and the range it was read on.
    pub null: Option<Null>,
    /// Whether the leads were proven before, and after.
    pub leads: LeadProof,
    /// Whether the contact of this ground or insulation reading was shown.
    pub contact: Contact,
    /// Whether the ground reference was shown to be ground.
    pub ground_path: GroundPath,
    /// The test voltage planned, for an insulation test.
    pub planned_v: Option<Volts>,
    /// The mark planned, for an insulation test.
    pub mark: Option<Duration>,
    /// Whether the meter's calibration is overdue, or its last proof failed, and passes are blocked by it.
    pub meter_blocked: bool,
    /// Whether that is because its last check on known resistors failed.
    pub meter_failed: bool,
    /// Whether this point was out by range before in this job (kilohms where ohms are expected).
    pub range_suspect_before: bool,
}

/// The resistance of the leads, read with the clips joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Null {
    /// In ohms.
    pub ohms: Decimal,
    /// One count of the range it was read on.
    pub resolution: Decimal,
}

/// How far the leads are proven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LeadProof {
    /// Not at all, or the proof ended.
    Unproven,
    /// Before, with the same meter and leads; the one after is due.
    Before,
    /// Before and after.
    BeforeAndAfter,
}

/// How contact was shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contact {
    /// Not.
    Unproven,
    /// The winding clip stayed and a second lead of that winding read.
    SecondLead,
    /// The person attests both ends.
    Attested,
}

/// How far the ground reference is proven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GroundPath {
    /// Not measured, or measured too high.
    Unproven,
    /// Metal to metal: within 1 Ω beyond the null.
    Metal,
    /// Through earth or water: within 1 kΩ; enough for insulation.
    Earth,
}

/// What a value is judged to be, with its terms.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// The verdict.
    pub verdict: Verdict,
    /// The finding.
    pub finding: Option<Finding>,
    /// The terms, and what to do next, in words.
    pub reason: String,
    /// What was subtracted for the leads.
    pub leads_ohms: Option<Decimal>,
    /// What was subtracted for the cable.
    pub cable_ohms: Option<Decimal>,
    /// What met the limits.
    pub judged_ohms: Option<Decimal>,
    /// The lower limit.
    pub lower_ohms: Option<Decimal>,
    /// The upper limit.
    pub upper_ohms: Option<Decimal>,
    /// Where the limits come from.
    pub limits_from: String,
    /// How near a limit could pass.
    pub acceptance: Option<Acceptance>,
    /// U, k = 2.
    pub uncertainty_ohms: Option<Decimal>,
}

impl Judgement {
    /// A judgement without numbers.
    pub fn bare(verdict: Verdict, finding: Option<Finding>, reason: impl Into<String>) -> Self {
        Self {
            verdict,
            finding,
            reason: reason.into(),
            leads_ohms: None,
            cable_ohms: None,
            judged_ohms: None,
            lower_ohms: None,
            upper_ohms: None,
            limits_from: String::new(),
            acceptance: None,
            uncertainty_ohms: None,
        }
    }
}

/// Judges one taken value by the rules of its test. `leads after` is held
/// against the null in [`Around`]; what holds over several values is in
/// [`three_wire`] and [`three_phase`].
pub fn value(case: &Case<'_>) -> Judgement {
    compare::with_earlier(case, by_its_limits(case))
}

fn by_its_limits(case: &Case<'_>) -> Judgement {
    match case.point.test {
        Test::Winding => winding::winding(case),
        Test::Sensor => winding::sensor(case),
        Test::Ground => ground::ground(case),
        Test::Insulation => insulation::insulation(case),
        Test::GroundPath => ground_path(case).1,
        Test::Leads if case.point.name.as_str() == "after" => {
            leads_after(case.meter, case.take, case.around.null.map(|n| n.ohms)).judgement
        }
        Test::Leads => leads_before(case.meter, case.take).judgement,
        Test::Dead | Test::Ratio | Test::Temperature => Judgement::bare(
            Verdict::NotJudged,
            None,
            "logged as it is: nothing to judge it by",
        ),
    }
}
