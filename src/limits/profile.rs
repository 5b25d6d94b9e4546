//! Profiles and bands as data: a shop adds its own beside those that are shipped.
//!
//! A profile belongs to a trade or a standard: its minima, its conditions, its
//! test voltages, when a value is read. The shipped ones are the file
//! `profiles.toml` beside this one, read by the same reader as a shop's own.
//! Nothing is judged here.

mod check;
mod read;
pub mod toml;

use serde::{Deserialize, Serialize};

use super::words;
use crate::quantity::Decimal;
use crate::text::Text;

pub use read::{Read, Wrong, read};

/// A named set of insulation limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Profile {
    /// Its name.
    pub name: Text,
    /// The standard with its clause, or `common practice`.
    pub source: Text,
    /// When the value is read, in seconds; none: a spot test of 5 to 10 s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark_s: Option<u32>,
    /// The temperature that values are corrected to: 40 or none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub correct_to_c: Option<u32>,
    /// The least that is allowed: the first line that holds.
    #[serde(default)]
    pub minimum: Vec<MinimumLine>,
    /// The test voltage: the first line that holds.
    #[serde(default)]
    pub test_voltage: Vec<VoltageLine>,
}

impl Profile {
    /// The conditions it knows, in the order of its lines.
    pub fn conditions(&self) -> Vec<&str> {
        let mut known: Vec<&str> = Vec::new();
        for condition in self.minimum.iter().filter_map(|l| l.condition.as_ref()) {
            if !known.contains(&condition.as_str()) {
                known.push(condition.as_str());
            }
        }
        known
    }

    /// Whether it can be judged by, as the reader of files asks too.
    ///
    /// # Errors
    /// The key that is wrong, with what was expected.
    pub fn check(&self) -> Result<(), String> {
        check::profile(self)
            .and_then(|()| self.minimum.iter().try_for_each(check::minimum))
            .and_then(|()| self.test_voltage.iter().try_for_each(check::voltage))
            .map_err(|(_, why)| why)
    }

    /// Whether one of them must be named: no line holds without.
    pub fn needs_condition(&self) -> bool {
        !self.minimum.is_empty() && self.minimum.iter().all(|line| line.condition.is_some())
    }
}

/// One line of a profile's minima: megohm + kV × megohm_per_kv, at least at_least_megohm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MinimumLine {
    /// The condition it holds under; none: without one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub condition: Option<Text>,
    /// Rated voltages below this; none: any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below_v: Option<Decimal>,
    /// Rated voltages up to and with this; none: any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub up_to_v: Option<Decimal>,
    /// Megohms.
    #[serde(default)]
    pub megohm: Decimal,
    /// Megohms for each kilovolt of the rated voltage.
    #[serde(default)]
    pub megohm_per_kv: Decimal,
    /// But at least so many megohms.
    #[serde(default)]
    pub at_least_megohm: Decimal,
}

/// One line of a profile's test voltages: a band, or times the rated voltage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VoltageLine {
    /// Rated voltages below this; none: any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below_v: Option<Decimal>,
    /// Rated voltages up to and with this; none: any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub up_to_v: Option<Decimal>,
    /// The band's low end in volts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low_v: Option<Decimal>,
    /// The band's high end in volts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high_v: Option<Decimal>,
    /// Instead of a band: so many times the rated voltage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub times: Option<Decimal>,
}

words! {
    /// Which two insulation values a ratio is of.
    RatioKind {
        /// Polarization index: 10 min over 1 min.
        Pi = "pi",
        /// Dielectric absorption ratio: 60 s over 30 s.
        Dar = "dar",
    }
}

/// A named set of bands for a ratio of two insulation values.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bands {
    /// Its name.
    pub name: Text,
    /// Which ratio.
    pub kind: RatioKind,
    /// The standard with its clause, or `common practice`.
    pub source: Text,
    /// The boundaries in rising order; a boundary belongs to the band above.
    #[serde(default)]
    pub bounds: Vec<Decimal>,
    /// Instead of bands: the least that is within.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minimum: Option<Decimal>,
}

/// The profiles that come with the program.
pub fn shipped() -> Vec<Profile> {
    read::embedded().profiles
}

/// The bands that come with the program.
pub fn shipped_bands() -> Vec<Bands> {
    read::embedded().bands
}

/// The profile of that name.
pub fn find<'a>(profiles: &'a [Profile], name: &str) -> Option<&'a Profile> {
    profiles.iter().find(|p| p.name.as_str() == name)
}

#[cfg(test)]
mod tests;
