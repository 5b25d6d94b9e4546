//! A temperature that is read in a job: what is judged after it takes it.
//!
//! Only the winding's own is the winding's. The air's is logged beside it: a
//! motor that ran an hour ago is warmer than the air, and taken for it would
//! look better insulated than it is. A winding that was left alone for long is
//! at another temperature than before: then it is asked for anew.

use core::time::Duration;

use crate::limits::Test;
use crate::meter::Meter;
use crate::quantity::{Celsius, Shown, Unit};
use crate::reading::{Outcome, Take};
use crate::row::{Event, Row, Verdict};
use crate::stamp::Wall;

use super::job::Job;
use super::ledger::GONE_ON;
use super::sheet::{Entry, Role};
use super::{Now, Out, rows};

/// A job that was left alone for longer has another winding temperature (own).
const HOLDS: Duration = Duration::from_secs(30 * 60);

/// How far a job's temperatures are those of now; its rows alone tell.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Warmth {
    /// When something was last measured, judged or attested.
    pub(super) last: Wall,
    /// Whether the plan's temperature is of another day.
    past: bool,
}

impl Job {
    /// The winding's temperature: as read in this job, else the plan's. One
    /// that is to be read again, or was left out then, is not known.
    pub(super) fn temperature(&self) -> Option<Celsius> {
        let windings = self.entries.iter();
        let mut read = windings.filter(|e| of_winding(e) && e.taken.is_some());
        match read.next_back() {
            Some(e) if e.due || e.skipped.is_some() => None,
            Some(e) => of_row(&e.taken.as_ref()?.row).ok(),
            None => self.plan.temperature.filter(|_| !self.warmth.past),
        }
    }

    /// Takes a row of the job: going on after a long time asks for the
    /// winding's temperature again, where it was known and matters still.
    pub(super) fn warms(&mut self, row: &Row) {
        if !matches!(row.event, Event::Note | Event::Withdrawn | Event::Gap) {
            self.warmth.last = row.recorded_at;
        }
        let away = row.recorded_at.0.saturating_sub(self.warmth.last.0);
        let long = u128::try_from(away).is_ok_and(|away| away > HOLDS.as_nanos());
        if row.event != Event::Note || !row.reason.starts_with(GONE_ON) || !long {
            return;
        }
        self.warmth.past = true;
        for entry in self.entries.iter_mut().filter(|e| of_winding(e)) {
            entry.due |= entry.taken.is_some();
        }
        let asked = self.entries.iter().any(of_winding);
        let waits = |e: &Entry| e.on_motor() && (e.due || e.pending);
        if !asked && self.plan.temperature.is_some() && self.entries.iter().any(waits) {
            // After `dead`, before everything that is judged by it.
            let entry = Entry::new(Test::Temperature, "winding", Role::Temperature, None);
            self.entries.insert(1, entry);
            // Places have moved; nothing else is kept by place while a job is set aside.
            self.live.charged = None;
        }
    }
}

fn of_winding(entry: &Entry) -> bool {
    entry.point.is(Test::Temperature, "winding")
}

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
