//! A temperature that is read in a job: what is judged after it takes it.
//!
//! Only the winding's own is the winding's. The air's is logged beside it: a
//! motor that ran an hour ago is warmer than the air, and taken for it would
//! look better insulated than it is.

use crate::meter::Meter;
use crate::quantity::{Celsius, Shown, Unit};
use crate::reading::{Outcome, Take};
use crate::row::{Event, Row, Verdict};

use super::job::Job;
use super::{Now, Out, rows};

/// From the coldest yard to the hottest winding class, in degrees Celsius (own).
const PLAUSIBLE: core::ops::RangeInclusive<f64> = -50.0..=200.0;

/// A shown temperature in degrees Celsius.
///
/// # Errors
/// Another unit, or no temperature that a winding has.
pub(super) fn celsius(shown: &Shown) -> Result<Celsius, String> {
    let value = shown.value.to_f64();
    let celsius = match shown.unit {
        Unit::Celsius => value,
        Unit::Fahrenheit => (value - 32.0) * 5.0 / 9.0,
        other => {
            return Err(format!(
                "expected a temperature in °C or °F, found {}",
                other.word()
            ));
        }
    };
    if PLAUSIBLE.contains(&celsius) {
        Ok(Celsius(celsius))
    } else {
        Err(format!(
            "expected a temperature from -50 to 200 °C, found {shown}"
        ))
    }
}

/// The temperature that a row holds.
pub(super) fn of_row(row: &Row) -> Result<Celsius, String> {
    match (row.value, row.unit) {
        (Some(value), Some(unit)) => celsius(&Shown::plain(value, unit)),
        _ => Err(String::from("no temperature")),
    }
}

/// The temperature in a take.
pub(super) fn of_take(take: &Take) -> Result<Celsius, String> {
    match take.outcome {
        _ if take.flags.not_now() => Err(String::from(
            "the meter is in hold, min, max or average: not the temperature now",
        )),
        Outcome::Value(shown) => celsius(&shown),
        _ => Err(String::from(
            "expected a temperature in °C or °F, found none",
        )),
    }
}

/// A temperature for the point at `at`; one that is none is kept and taken by
/// no point. Gives its row's `seq`.
pub(super) fn took(
    job: &mut Job,
    now: &Now<'_>,
    at: usize,
    meter: &Meter,
    take: &Take,
    out: &mut Out,
) -> u64 {
    let mut row = rows::of_job(now, job, Event::Value);
    rows::with_meter(&mut row, now.settings, meter);
    let point = &job.entries[at].point;
    match of_take(take) {
        Err(why) => rows::unjudged(
            &mut row,
            take,
            &format!("{why}; {point} is still asked for"),
        ),
        Ok(celsius) => {
            rows::at_point(&mut row, point);
            rows::fill(&mut row, take);
            row.temperature_c = rows::tidy(celsius.0, -3);
            row.verdict = Some(Verdict::NotJudged);
            row.reason = String::from(match point.name.as_str() {
                "winding" => "the winding's temperature for what is judged after this",
                _ => "logged beside: the air's temperature is not the winding's",
            });
        }
    }
    job.put(row, out)
}
