//! Test voltages: which may be used, which was, and what must follow it.
//!
//! Stillohm never commands a voltage; it says what to set and notices what came.

use core::time::Duration;

use super::Judgement;
use super::profile::test_voltage_band;
use crate::limits::{Electronics, InsulationTest, Motor, Profile};
use crate::quantity::Volts;
use crate::row::{Finding, Verdict};

/// The voltages that insulation testers have.
pub const STEPS: [f64; 8] = [50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0, 5000.0, 10_000.0];
/// The least that is planned at any rated voltage: 500 V (IEEE 43-2013, table 1).
const LEAST_PLANNED: f64 = 500.0;
/// A tester's voltage may lie this far below what was set …
const LEAST: f64 = 0.9;
/// … and this far above: 1.25 is IEC 61557-2's most without load.
const MOST: f64 = 1.25;

/// How an insulation test may be done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Allowance {
    /// As the sheet says.
    Any,
    /// Only with all leads joined: `all_to_ground` and nothing else.
    LeadsJoinedOnly,
}

/// Why a test voltage may not be put on.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{reason}")]
pub struct Forbidden {
    /// Always `test_forbidden`.
    pub finding: Finding,
    /// Why, and what would change it.
    pub reason: &'static str,
}

/// Whether a test voltage may be put on this motor, before any step: forbidden
/// goes before leads joined only, that before electronics yes or unknown, that
/// before allowed.
///
/// # Errors
/// The catalogue forbids it, or there are or may be electronics.
pub fn may_insulation_test(motor: &Motor) -> Result<Allowance, Forbidden> {
    let reason = match (motor.insulation_test, motor.electronics) {
        (InsulationTest::Forbidden, _) => "the catalogue forbids an insulation test of this motor",
        (InsulationTest::LeadsJoinedOnly, _) => return Ok(Allowance::LeadsJoinedOnly),
        (InsulationTest::Allowed, Electronics::No) => return Ok(Allowance::Any),
        (InsulationTest::Allowed, Electronics::Yes) => {
            "there are electronics in or on the motor: a test voltage destroys them"
        }
        (InsulationTest::Allowed, Electronics::Unknown) => {
            "nobody knows whether there are electronics in or on the motor: find out, then begin a new job"
        }
    };
    Err(Forbidden {
        finding: Finding::TestForbidden,
        reason,
    })
}

/// More than 50 V on a motor that may have no test voltage: `test_forbidden`,
/// with "release now; electronics may be damaged". For each sample.
pub fn forbidden_voltage(motor: &Motor, measured: Volts) -> Option<Judgement> {
    let forbidden = may_insulation_test(motor).err()?;
    (measured.0.abs() > 50.0).then(|| {
        Judgement::bare(
            Verdict::NotJudged,
            Some(Finding::TestForbidden),
            format!(
                "release now; electronics may be damaged: {} V on the clips, and {}",
                measured.0, forbidden.reason
            ),
        )
    })
}

/// The planned test voltage: the tester step nearest to the profile's band
/// within `max_test_v`; of the steps inside the band the lowest, since a higher
/// one only strains more (own). None: the profile says no voltage, the rated
/// voltage is unknown or 0, or no step is allowed.
pub fn voltage_step(profile: &Profile, motor: &Motor) -> Option<Volts> {
    let band = test_voltage_band(profile, motor.rated_v).ok()?;
    let most = motor.max_test_v.map_or(f64::INFINITY, |v| v.0);
    let away = |step: f64| (band.low.0 - step).max(step - band.high.0).max(0.0);
    STEPS
        .into_iter()
        .filter(|step| *step <= most)
        .min_by(|a, b| away(*a).total_cmp(&away(*b)))
        .map(Volts)
}

/// What a value at a sheet's own voltage is held against. Less than the
/// profile's proves less; where none can be planned, the least of any rated
/// voltage stands in, as far as the motor may have it.
pub fn judged_by(own: Option<Volts>, usual: Option<Volts>, motor: &Motor) -> Option<Volts> {
    let own = own.or(usual)?;
    let most = motor.max_test_v.map_or(f64::INFINITY, |v| v.0);
    let least = usual.map_or(LEAST_PLANNED.min(most), |v| v.0);
    Some(Volts(own.0.max(least)))
}

/// Whether the test voltage is not the planned one: outside 0.9 to 1.25 of it
/// is `wrong_test_voltage`, above `max_test_v` is `test_forbidden`.
pub fn check_test_voltage(planned: Volts, measured: Volts, motor: &Motor) -> Option<Finding> {
    // Some testers put the negative pole on the winding.
    let measured = measured.0.abs();
    // Written so that a voltage that is no number is not the planned one.
    let within = measured >= LEAST * planned.0 && measured <= MOST * planned.0;
    if motor.max_test_v.is_some_and(|most| measured > most.0) {
        Some(Finding::TestForbidden)
    } else if within {
        None
    } else {
        Some(Finding::WrongTestVoltage)
    }
}

/// A voltage that is not the tester's own (the 3 s are the caller's): from 3 V
/// `voltage_present`; from 25 V AC or 60 V DC with the hazard wording.
pub fn voltage_present(measured: Volts, ac: bool) -> Option<Judgement> {
    let volts = measured.0.abs();
    if volts < 3.0 {
        return None;
    }
    let kind = if ac { "AC" } else { "DC" };
    let hazard = if volts >= if ac { 25.0 } else { 60.0 } {
        "DANGER, this voltage can kill: touch nothing, take the clips off by their insulation; "
    } else {
        ""
    };
    Some(Judgement::bare(
        Verdict::Undecided,
        Some(Finding::VoltagePresent),
        format!(
            "{hazard}{volts} V {kind} on the clips that is not the tester's own: find where it comes from, lock it out and prove the motor dead again"
        ),
    ))
}

/// How long the winding stays shorted to ground: four times the time under
/// voltage (IEEE 43-2013, four times the charging time).
pub fn discharge_time(on: Duration) -> Duration {
    on.saturating_mul(4)
}
