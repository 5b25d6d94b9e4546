//! How insulation changes over the years, of one asset and point.

use super::values::Value;
use crate::judge::correction::careful;
use crate::quantity::Celsius;
use crate::review::stats::slope::{Slope, reaches, slope};
use crate::stamp::Wall;

/// Nanoseconds of a day.
const DAY: f64 = 86_400e9;
const DAYS_A_YEAR: f64 = 365.25;

/// Insulation over time.
#[derive(Clone, Debug, PartialEq)]
pub struct Aging {
    /// Days since 1970 and ohms at 40 °C: the reading times the careful factor
    /// (IEEE 43-2013 clause 6.3, the smaller of both where the insulation's
    /// kind is not known).
    pub points: Vec<(f64, f64)>,
    /// Values without a temperature: they are left out.
    pub no_temperature: usize,
    /// In ohms: as asked, else the limit of the newest row that has one.
    pub minimum: Option<f64>,
    /// Through log10 of the ohms over days, where there is a line.
    pub line: Option<Slope>,
    /// When the minimum is reached, or why that is not said.
    pub forecast: String,
}

/// A moment as days since 1970.
pub fn days(at: Wall) -> f64 {
    at.0 as f64 / DAY
}

/// What a slope of log10 over days comes to in a year, in percent.
pub fn percent_a_year(slope: f64) -> f64 {
    100.0 * (libm::exp10(slope * DAYS_A_YEAR) - 1.0)
}

impl Aging {
    /// Of values in the order of the log. Over-range is no number: it is not among them.
    pub fn of(values: &[Value], minimum: Option<f64>) -> Self {
        let at_40 = |value: &Value| {
            let factor = careful(None, Celsius(value.celsius?));
            Some((days(value.at), value.value_ohms * factor))
        };
        let points: Vec<(f64, f64)> = values.iter().filter_map(at_40).collect();
        let decades: Vec<_> = points
            .iter()
            .filter(|(_, ohms)| *ohms > 0.0)
            .map(|(day, ohms)| (*day, libm::log10(*ohms)))
            .collect();
        let limits = values.iter().rev().filter_map(|value| value.limits.0);
        let minimum = minimum.or(limits.into_iter().next());
        Self {
            no_temperature: values.len() - points.len(),
            line: slope(&decades).ok(),
            forecast: when(&points, minimum),
            points,
            minimum,
        }
    }
}

/// When the minimum is reached, or why that is not said.
fn when(points: &[(f64, f64)], minimum: Option<f64>) -> String {
    let Some(minimum) = minimum else {
        return String::from("no forecast: no minimum is known");
    };
    let month = |day: f64| Wall((day * DAY) as i64).month();
    match reaches(points, minimum) {
        Ok(reach) => {
            let latest = reach
                .latest
                .map_or_else(|| String::from("later than can be said"), month);
            format!(
                "around {} ({} to {latest})",
                month(reach.at),
                month(reach.soonest)
            )
        }
        Err(why) => why.to_string(),
    }
}
