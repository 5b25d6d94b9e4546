//! Profiles: named sets of insulation limits, as data.

use core::time::Duration;

use crate::quantity::{Decimal, Volts};

/// The least insulation that is allowed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Minimum {
    /// In ohms.
    pub ohms: Decimal,
    /// Where it comes from.
    pub source: &'static str,
}

/// Why there is no minimum.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MinimumError {
    /// Not a profile.
    #[error("no insulation profile {found:?}; known: {known}")]
    Profile {
        /// What was named.
        found: String,
        /// What there is.
        known: String,
    },
    /// A condition that the profile does not have.
    #[error("profile {profile} has no condition {found:?}; {expected}")]
    Condition {
        /// The profile.
        profile: &'static str,
        /// What was named.
        found: String,
        /// What there is.
        expected: String,
    },
    /// A condition is needed.
    #[error("profile {profile} needs a condition: one of {expected}")]
    NeedsCondition {
        /// The profile.
        profile: &'static str,
        /// What there is.
        expected: String,
    },
    /// The rated voltage is missing, or outside what the profile holds for.
    #[error("profile {profile} needs a rated voltage {expected}, found {found}")]
    RatedVoltage {
        /// The profile.
        profile: &'static str,
        /// What is allowed.
        expected: &'static str,
        /// What was given.
        found: String,
    },
}

/// The minimum of a profile under a condition. Conditions belong to their
/// profile; one of another profile is refused.
///
/// # Errors
/// An unknown profile or condition, a missing condition, a rated voltage that
/// is missing where the profile needs it or outside its domain.
pub fn insulation_minimum(
    profile: &str,
    rated_v: Option<Volts>,
    condition: Option<&str>,
) -> Result<Minimum, MinimumError> {
    let _ = (rated_v, condition);
    Err(MinimumError::Profile {
        found: profile.to_owned(),
        known: String::new(),
    })
}

/// When an insulation test is read: the profile's mark, else the 10 s of a
/// spot test (common practice).
pub fn mark(profile: Option<&str>) -> Duration {
    let _ = profile;
    Duration::from_secs(10)
}
