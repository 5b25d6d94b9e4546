//! Test voltages: which may be used, which was, and what must follow it.
//!
//! Stillohm never commands a voltage; it says what to set and notices what came.

use core::time::Duration;

use super::{Judgement, profile};
use crate::limits::{Electronics, InsulationTest, Motor};
use crate::quantity::Volts;
use crate::row::{Finding, Verdict};

/// The voltages that insulation testers have.
pub const STEPS: [f64; 8] = [50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0, 5000.0, 10_000.0];
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

/// The planned test voltage: a tester step within the profile's band and
/// `max_test_v`, the lowest that serves, since a higher one only strains more
/// (own). None: the rated voltage is unknown, or no step is allowed.
pub fn voltage_step(profile: Option<&str>, motor: &Motor) -> Option<Volts> {
    let wanted = band(profile, motor.rated_v)?;
    let most = motor.max_test_v.map_or(f64::INFINITY, |v| v.0);
    STEPS
        .into_iter()
        .filter(|step| *step <= most)
        .min_by(|a, b| (a - wanted).abs().total_cmp(&(b - wanted).abs()))
        .map(Volts)
}

/// The low end of the profile's band of test voltages.
fn band(profile: Option<&str>, rated_v: Option<Volts>) -> Option<f64> {
    let rated = rated_v.map(|v| v.0).filter(|v| v.is_finite() && *v > 0.0);
    match profile.and_then(profile::find).map(|p| p.name) {
        // IEC 60204-1 clause 18.3: 500 V.
        Some("machinery") => Some(500.0),
        // The handbooks' tester (common practice).
        Some("pump-a" | "pump-b") => Some(500.0),
        // IEC 60364-6 Table 6.1.
        Some("wiring") => rated.map(|v| match v {
            v if v <= 50.0 => 250.0,
            v if v <= 500.0 => 500.0,
            _ => 1000.0,
        }),
        // IEEE 43-2013 Table 1.
        _ => rated.map(|v| match v {
            v if v <= 2500.0 => 500.0,
            v if v <= 5000.0 => 1000.0,
            v if v <= 12_000.0 => 2500.0,
            _ => 5000.0,
        }),
    }
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
