//! Profiles: named sets of insulation limits, as data.
//!
//! A profile belongs to a trade or a standard and names its own conditions; a
//! condition of another profile is refused, since the same word elsewhere means
//! ten times less.

use core::time::Duration;

use crate::quantity::{Decimal, Volts};

/// Under this a ground or insulation value fails when no profile is named (own).
pub const FLOOR_OHMS: i64 = 500_000;

/// A named set of insulation limits.
#[derive(Debug)]
pub struct Profile {
    /// Its name.
    pub name: &'static str,
    /// The conditions it knows.
    pub conditions: &'static [&'static str],
    /// Whether one of them must be named.
    pub needs_condition: bool,
    /// When the value is read.
    pub mark: Mark,
    /// Whether values are corrected to 40 °C.
    pub to_40c: bool,
    /// Where it comes from.
    pub source: &'static str,
}

/// When an insulation value is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// At this many seconds; earlier the value has not risen.
    At(u64),
    /// A spot test: 5 to 10 s, common practice.
    Spot,
}

/// Every profile.
pub const PROFILES: &[Profile] = &[
    Profile {
        name: "ieee43",
        conditions: &[
            "random-wound",
            "form-wound",
            "before-1970",
            "field",
            "dc-armature",
        ],
        needs_condition: false,
        mark: Mark::At(60),
        to_40c: true,
        source: "IEEE 43-2013 Table 3 (clause 12.3)",
    },
    Profile {
        name: "kv-plus-one",
        conditions: &[],
        needs_condition: false,
        mark: Mark::At(60),
        to_40c: true,
        source: "kV + 1, the IEEE 43 formula for windings before about 1970",
    },
    Profile {
        name: "megohm-per-kv",
        conditions: &[],
        needs_condition: false,
        mark: Mark::Spot,
        to_40c: false,
        source: "one megohm per kV, at least one (common practice)",
    },
    Profile {
        name: "wiring",
        conditions: &["selv"],
        needs_condition: false,
        mark: Mark::Spot,
        to_40c: false,
        source: "IEC 60364-6:2016 Table 6.1",
    },
    Profile {
        name: "machinery",
        conditions: &[],
        needs_condition: false,
        mark: Mark::Spot,
        to_40c: false,
        source: "IEC 60204-1 clause 18.3",
    },
    Profile {
        name: "pump-a",
        conditions: &[
            "installed-used",
            "installed-unused",
            "bench-used",
            "bench-unused",
        ],
        needs_condition: true,
        mark: Mark::Spot,
        to_40c: false,
        source: "well-pump band set A (common practice)",
    },
    Profile {
        name: "pump-b",
        conditions: &[
            "installed-used",
            "installed-unused",
            "splice",
            "bench-used",
            "bench-unused",
        ],
        needs_condition: true,
        mark: Mark::Spot,
        to_40c: false,
        source: "well-pump band set B (common practice)",
    },
];

/// The profile of that name.
pub fn find(name: &str) -> Option<&'static Profile> {
    PROFILES.iter().find(|p| p.name == name)
}

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
    #[error("insulation profile {profile} has no condition {found:?}; {expected}")]
    Condition {
        /// The profile.
        profile: &'static str,
        /// What was named.
        found: String,
        /// What there is.
        expected: String,
    },
    /// A condition is needed.
    #[error("insulation profile {profile} needs a condition: one of {expected}")]
    NeedsCondition {
        /// The profile.
        profile: &'static str,
        /// What there is.
        expected: String,
    },
    /// The rated voltage is missing, or outside what the profile holds for.
    #[error("insulation profile {profile} needs a rated voltage {expected}, found {found}")]
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
    let found = find(profile).ok_or_else(|| MinimumError::Profile {
        found: profile.to_owned(),
        known: names(PROFILES.iter().map(|p| p.name)),
    })?;
    check_condition(found, condition)?;
    let rated = |most: f64, expected| rated_v_within(found.name, rated_v, most, expected);
    const ANY: &str = "above 0";
    let ohms = match (found.name, condition) {
        ("ieee43", Some("random-wound" | "dc-armature")) => megohms(5),
        ("ieee43", Some("before-1970" | "field")) | ("kv-plus-one", _) => {
            kilovolts_and(rated(f64::MAX, ANY)?, 1)
        }
        ("ieee43", _) if rated(f64::MAX, ANY)? < 1000.0 => megohms(5),
        ("ieee43", _) => megohms(100),
        ("megohm-per-kv", _) => kilovolts_and(rated(f64::MAX, ANY)?, 0).max(megohms(1)),
        ("wiring", Some(_)) => {
            rated(50.0, "above 0 to 50")?;
            Decimal::new(5, 5).unwrap_or_default()
        }
        ("wiring", None) => megohms(1),
        ("machinery", _) => {
            rated(1000.0, "above 0 to 1000")?;
            megohms(1)
        }
        (_, Some("installed-used")) => Decimal::new(5, 5).unwrap_or_default(),
        (_, Some("installed-unused" | "splice")) => megohms(2),
        (_, Some("bench-used")) => megohms(10),
        ("pump-a", _) => megohms(200),
        _ => megohms(20),
    };
    Ok(Minimum {
        ohms,
        source: found.source,
    })
}

fn check_condition(profile: &Profile, condition: Option<&str>) -> Result<(), MinimumError> {
    let expected = || names(profile.conditions.iter().copied());
    match condition {
        Some(word) if !profile.conditions.contains(&word) => Err(MinimumError::Condition {
            profile: profile.name,
            found: word.to_owned(),
            expected: if profile.conditions.is_empty() {
                String::from("it has none")
            } else {
                format!("it has {}", expected())
            },
        }),
        None if profile.needs_condition => Err(MinimumError::NeedsCondition {
            profile: profile.name,
            expected: expected(),
        }),
        _ => Ok(()),
    }
}

fn rated_v_within(
    profile: &'static str,
    rated_v: Option<Volts>,
    most: f64,
    expected: &'static str,
) -> Result<f64, MinimumError> {
    match rated_v {
        Some(Volts(v)) if v.is_finite() && v > 0.0 && v <= most => Ok(v),
        other => Err(MinimumError::RatedVoltage {
            profile,
            expected,
            found: other.map_or_else(|| String::from("none"), |v| v.0.to_string()),
        }),
    }
}

fn names<'a>(words: impl Iterator<Item = &'a str>) -> String {
    words.collect::<Vec<_>>().join(", ")
}

fn megohms(count: i64) -> Decimal {
    Decimal::new(count, 6).unwrap_or_default()
}

/// kV and `more`, in megohms, exact to a milliohm; a voltage that no decimal
/// holds asks for more than any insulation has.
fn kilovolts_and(rated_v: f64, more: i64) -> Decimal {
    Decimal::rounded(rated_v * 1000.0, -3)
        .and_then(|kv| kv.checked_add(megohms(more)))
        .unwrap_or(Decimal::one(crate::quantity::EXP_MAX))
}

/// When an insulation test is read: the profile's mark, else the 10 s of a
/// spot test (common practice).
pub fn mark(profile: Option<&str>) -> Duration {
    match profile.and_then(find).map(|p| p.mark) {
        Some(Mark::At(seconds)) => Duration::from_secs(seconds),
        Some(Mark::Spot) | None => Duration::from_secs(10),
    }
}
