//! Test voltages: which may be used, which was, and what must follow it.

use core::time::Duration;

use super::Judgement;
use crate::limits::Motor;
use crate::quantity::Volts;
use crate::row::Finding;

/// The voltages that insulation testers have.
pub const STEPS: [f64; 8] = [50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0, 5000.0, 10_000.0];

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
    let _ = motor;
    Err(Forbidden {
        finding: Finding::TestForbidden,
        reason: "not judged yet",
    })
}

/// More than 50 V on a motor that may have no test voltage: `test_forbidden`,
/// with "release now; electronics may be damaged". For each sample.
pub fn forbidden_voltage(motor: &Motor, measured: Volts) -> Option<Judgement> {
    let _ = (motor, measured);
    None
}

/// The planned test voltage: a tester step within the profile's band and
/// `max_test_v`. None: the rated voltage is unknown, or no step is allowed.
pub fn voltage_step(profile: Option<&str>, motor: &Motor) -> Option<Volts> {
    let _ = (profile, motor);
    None
}

/// Whether the test voltage is not the planned one: outside 0.9 to 1.25 of it
/// is `wrong_test_voltage`, above `max_test_v` is `test_forbidden`.
pub fn check_test_voltage(planned: Volts, measured: Volts, motor: &Motor) -> Option<Finding> {
    let _ = (planned, measured, motor);
    None
}

/// A voltage that is not the tester's own (the 3 s are the caller's): from 3 V
/// `voltage_present`; from 25 V AC or 60 V DC with the hazard wording.
pub fn voltage_present(measured: Volts, ac: bool) -> Option<Judgement> {
    let _ = (measured, ac);
    None
}

/// How long the winding stays shorted to ground: four times the time under voltage.
pub fn discharge_time(on: Duration) -> Duration {
    on.saturating_mul(4)
}
