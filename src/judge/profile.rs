//! Profiles: the minimum, the test voltage and the mark that one gives.
//!
//! A profile is data and names its own conditions; a condition of another
//! profile is refused, since the same word elsewhere means ten times less.
//! A rated voltage of 0 gives nothing: it would halve or drop a minimum.

use core::time::Duration;

use crate::limits::Profile;
use crate::limits::profile::{MinimumLine, VoltageLine};
use crate::quantity::{Decimal, EXP_MAX, Volts};
use crate::text::Text;

/// Under this a ground or insulation value fails when no profile is named (own).
pub const FLOOR_OHMS: i64 = 500_000;

/// When an insulation value is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// At this many seconds; earlier the value has not risen.
    At(u32),
    /// A spot test: 5 to 10 s, common practice.
    Spot,
}

impl Mark {
    /// The profile's; without a profile a spot test.
    pub fn of(profile: Option<&Profile>) -> Self {
        profile.and_then(|p| p.mark_s).map_or(Self::Spot, Self::At)
    }

    /// In seconds: a spot test is read at its end, 10 s.
    pub const fn seconds(self) -> u32 {
        match self {
            Self::At(seconds) => seconds,
            Self::Spot => 10,
        }
    }
}

/// When an insulation test is read: the profile's mark, else the 10 s of a
/// spot test (common practice).
pub fn mark(profile: Option<&Profile>) -> Duration {
    Duration::from_secs(u64::from(Mark::of(profile).seconds()))
}

/// The least insulation that is allowed.
#[derive(Clone, Debug, PartialEq)]
pub struct Minimum {
    /// In ohms.
    pub ohms: Decimal,
    /// Where it comes from.
    pub source: Text,
}

/// Why there is no minimum.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MinimumError {
    /// The profile says only with which voltage to test.
    #[error("insulation profile {profile} has no minimum, only test voltages")]
    None {
        /// The profile.
        profile: Text,
    },
    /// A condition that the profile does not have.
    #[error("insulation profile {profile} has no condition {found:?}; {expected}")]
    Condition {
        /// The profile.
        profile: Text,
        /// What was named.
        found: String,
        /// What there is.
        expected: String,
    },
    /// A condition is needed.
    #[error("insulation profile {profile} needs a condition: one of {expected}")]
    NeedsCondition {
        /// The profile.
        profile: Text,
        /// What there is.
        expected: String,
    },
    /// The rated voltage is missing, or outside what the profile holds for.
    #[error(transparent)]
    RatedVoltage(#[from] RatedError),
}

/// The rated voltage is missing, is none, or lies outside what the profile holds for.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("insulation profile {profile} needs a rated voltage {expected}, found {found}")]
pub struct RatedError {
    /// The profile.
    pub profile: Text,
    /// What is allowed.
    pub expected: String,
    /// What was given.
    pub found: String,
}

/// Why there is no band of test voltages.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BandError {
    /// The profile has minima only.
    #[error("insulation profile {profile} says no test voltage")]
    None {
        /// The profile.
        profile: Text,
    },
    /// The rated voltage is missing, or outside what the profile holds for.
    #[error(transparent)]
    RatedVoltage(#[from] RatedError),
}

/// The minimum of a profile under a condition. Conditions belong to their
/// profile; one of another profile is refused.
///
/// # Errors
/// An unknown condition, a missing condition, a rated voltage that is missing
/// where the profile needs it, outside its domain, or not above 0.
pub fn insulation_minimum(
    profile: &Profile,
    rated_v: Option<Volts>,
    condition: Option<&str>,
) -> Result<Minimum, MinimumError> {
    check_condition(profile, condition)?;
    let rated = rated(profile, rated_v)?;
    let lines = || {
        profile
            .minimum
            .iter()
            .filter(|l| l.condition.as_ref().map(Text::as_str) == condition)
    };
    for line in lines() {
        let ohms = if bound(line.below_v, line.up_to_v) || !line.megohm_per_kv.is_zero() {
            let rated = rated.ok_or_else(|| missing(profile))?;
            holds(line.below_v, line.up_to_v, rated).then(|| minimum(line, rated))
        } else {
            Some(minimum(line, 0.0))
        };
        if let Some(ohms) = ohms {
            return Ok(Minimum {
                ohms,
                source: profile.source.clone(),
            });
        }
    }
    Err(outside(
        profile,
        lines().next_back().map(|l| (l.below_v, l.up_to_v)),
        rated,
    )
    .into())
}

/// A profile's band of test voltages.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VoltageBand {
    /// The least.
    pub low: Volts,
    /// The most.
    pub high: Volts,
}

/// The band of test voltages of a profile.
///
/// # Errors
/// A profile without test voltages, a rated voltage that is missing where the
/// profile needs it, outside its domain, or not above 0.
pub fn test_voltage_band(
    profile: &Profile,
    rated_v: Option<Volts>,
) -> Result<VoltageBand, BandError> {
    if profile.test_voltage.is_empty() {
        return Err(BandError::None {
            profile: profile.name.clone(),
        });
    }
    let rated = rated(profile, rated_v)?;
    for line in &profile.test_voltage {
        let band = if bound(line.below_v, line.up_to_v) || line.times.is_some() {
            let rated = rated.ok_or_else(|| missing(profile))?;
            holds(line.below_v, line.up_to_v, rated).then(|| band(line, rated))
        } else {
            Some(band(line, 0.0))
        };
        if let Some((low, high)) = band {
            if !high.is_finite() {
                break;
            }
            return Ok(VoltageBand {
                low: Volts(low),
                high: Volts(high),
            });
        }
    }
    let last = profile.test_voltage.last();
    Err(outside(profile, last.map(|l| (l.below_v, l.up_to_v)), rated).into())
}

fn check_condition(profile: &Profile, condition: Option<&str>) -> Result<(), MinimumError> {
    let known = profile.conditions();
    match condition {
        Some(word) if !known.contains(&word) => Err(MinimumError::Condition {
            profile: profile.name.clone(),
            found: word.to_owned(),
            expected: if known.is_empty() {
                String::from("it has none")
            } else {
                format!("it has {}", known.join(", "))
            },
        }),
        None if profile.needs_condition() => Err(MinimumError::NeedsCondition {
            profile: profile.name.clone(),
            expected: known.join(", "),
        }),
        _ if profile.minimum.is_empty() => Err(MinimumError::None {
            profile: profile.name.clone(),
        }),
        _ => Ok(()),
    }
}

/// The rated voltage, if one is given; one that is none is refused even where
/// the profile would not need it.
fn rated(profile: &Profile, rated_v: Option<Volts>) -> Result<Option<f64>, RatedError> {
    match rated_v {
        None => Ok(None),
        Some(Volts(v)) if v.is_finite() && v > 0.0 => Ok(Some(v)),
        Some(Volts(v)) => Err(RatedError {
            profile: profile.name.clone(),
            expected: String::from("above 0"),
            found: v.to_string(),
        }),
    }
}

fn missing(profile: &Profile) -> RatedError {
    RatedError {
        profile: profile.name.clone(),
        expected: String::from("above 0"),
        found: String::from("none"),
    }
}

fn outside(
    profile: &Profile,
    last: Option<(Option<Decimal>, Option<Decimal>)>,
    rated: Option<f64>,
) -> RatedError {
    RatedError {
        profile: profile.name.clone(),
        expected: match last {
            Some((Some(below), _)) => format!("above 0 and below {below}"),
            Some((_, Some(up_to))) => format!("above 0 to {up_to}"),
            _ => String::from("above 0"),
        },
        found: rated.map_or_else(|| String::from("none"), |v| v.to_string()),
    }
}

const fn bound(below: Option<Decimal>, up_to: Option<Decimal>) -> bool {
    below.is_some() || up_to.is_some()
}

fn holds(below: Option<Decimal>, up_to: Option<Decimal>, rated: f64) -> bool {
    below.is_none_or(|v| rated < v.to_f64()) && up_to.is_none_or(|v| rated <= v.to_f64())
}

/// megohm + kV × megohm_per_kv, exact to a milliohm; what no decimal holds
/// asks for more than any insulation has.
fn minimum(line: &MinimumLine, rated: f64) -> Decimal {
    let most = Decimal::one(EXP_MAX);
    let megohms = |m: Decimal| m.shifted(6).unwrap_or(most);
    let sum = if line.megohm_per_kv.is_zero() {
        Some(megohms(line.megohm))
    } else {
        // A megohm per kilovolt is a thousand ohms per volt.
        Decimal::rounded(line.megohm_per_kv.to_f64() * rated * 1000.0, -3)
            .and_then(|part| part.checked_add(megohms(line.megohm)))
    };
    sum.unwrap_or(most).max(megohms(line.at_least_megohm))
}

fn band(line: &VoltageLine, rated: f64) -> (f64, f64) {
    match (line.times, line.low_v, line.high_v) {
        (Some(times), _, _) => (times.to_f64() * rated, times.to_f64() * rated),
        (None, low, high) => (
            low.or(high).map_or(f64::INFINITY, Decimal::to_f64),
            high.or(low).map_or(f64::INFINITY, Decimal::to_f64),
        ),
    }
}
