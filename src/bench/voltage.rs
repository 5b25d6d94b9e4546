//! Voltage on the clips that nobody asked for (rule 16), and test voltages
//! that must not be (rules 14 and 15).
//!
//! Looked at for each sample, so everything returns early where nothing is to see.

use core::time::Duration;

use crate::judge::{Judgement, forbidden_voltage, voltage_present};
use crate::meter::Meter;
use crate::quantity::{Unit, Volts};
use crate::reading::{Flags, Got, Sample};
use crate::row::{Event, Finding, Verdict};
use crate::stamp::Stamp;

use super::job::Job;
use super::step::{Step, step};
use super::{Now, Out, discharge, rows};

/// How long voltage stands, or is gone, until it counts.
const STANDS: Duration = Duration::from_secs(3);
/// What the clips may carry in an ohm test.
const HARMLESS: f64 = 3.0;
/// A test voltage up to this is an ohmmeter's own.
pub(super) const LOW: f64 = 50.0;

/// What was heard from one meter.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Watch {
    /// Since when voltage is on its clips.
    above: Option<Stamp>,
    /// Since when it is gone.
    below: Option<Stamp>,
    /// Whether it stood long enough to count.
    pub(super) present: bool,
    /// Whether a row says so.
    told: bool,
    /// Whether a row says that this press is forbidden.
    pressed: bool,
}

impl Watch {
    /// Whether `sample` is nothing to look at here.
    pub(super) fn is_quiet(&self, sample: &Sample) -> bool {
        let volts = match sample.got {
            Got::Value(shown) => shown.unit == Unit::Volt,
            Got::Over { unit, .. } => unit == Unit::Volt,
            Got::Nothing => false,
        };
        !volts
            && sample.test_voltage.is_none()
            && !sample.flags.has(Flags::LIVE)
            && self.above.is_none()
            && !self.present
            && !self.pressed
    }

    /// A stream that begins anew has shown nothing yet; what stood is not gone by that.
    pub(super) fn broken(&mut self) {
        self.above = None;
        self.below = None;
    }

    /// Another job begins: it has not heard of this voltage.
    pub(super) fn tell_again(&mut self) {
        self.told = false;
    }

    /// Takes a sample; tells whether something changed that a job must know.
    pub(super) fn sample(&mut self, at: Stamp, sample: &Sample) -> bool {
        let Some(volts) = foreign(sample) else {
            return false;
        };
        if volts >= HARMLESS {
            self.below = None;
            let since = *self.above.get_or_insert(at);
            if at.since(since) >= STANDS {
                self.present = true;
            }
            return self.present && !self.told;
        }
        self.above = None;
        if !self.present {
            return false;
        }
        let since = *self.below.get_or_insert(at);
        if at.since(since) < STANDS {
            return false;
        }
        self.dead_again();
        true
    }

    /// What stood is gone, or a person says so.
    pub(super) fn dead_again(&mut self) {
        *self = Self {
            pressed: self.pressed,
            ..Self::default()
        };
    }

    /// Says once a row what stands on the clips, if an ohm test is asked for.
    pub(super) fn tell(
        &mut self,
        job: &mut Job,
        now: &Now<'_>,
        meter: &Meter,
        sample: &Sample,
        out: &mut Out,
    ) {
        let open = step(job, now, false);
        if !self.present || self.told || step(job, now, true) != Step::Stop {
            return;
        }
        self.told = true;
        let judgement = match foreign(sample) {
            // Without a word on AC or DC the lower bound holds: AC.
            Some(volts) if volts.is_finite() => {
                voltage_present(Volts(volts), !sample.flags.has(Flags::DC))
            }
            _ => None,
        }
        .unwrap_or_else(|| {
            Judgement::bare(
                Verdict::Undecided,
                Some(Finding::VoltagePresent),
                "DANGER, this voltage may kill: the meter says that voltage is on the clips, not how much; touch nothing, take the clips off by their insulation and find where it comes from",
            )
        });
        let mut row = rows::of_job(now, job, Event::Value);
        rows::with_meter(&mut row, now.settings, meter);
        if let Some(at) = open.entry() {
            rows::at_point(&mut row, &job.entries[at].point);
        }
        heard(&mut row, sample);
        rows::judged(&mut row, &judgement);
        job.put(row, out);
    }

    /// The test voltage of a sample: charges the winding, and must not be on some motors.
    pub(super) fn pressed(
        &mut self,
        job: &mut Job,
        now: &Now<'_>,
        meter: &Meter,
        sample: &Sample,
        out: &mut Out,
    ) {
        let Some(volts) = sample.test_voltage else {
            return;
        };
        let nominal = job.least_voltage().unwrap_or(Volts(10.0 * LOW));
        let known = job.live.charge.needs_short() || job.live.clear.is_some();
        job.live.charge.heard(now.at, volts, nominal);
        let forbidden = forbidden_voltage(&job.plan.motor, volts).is_some();
        if !known && !forbidden && job.live.charge.needs_short() {
            let why = format!("{} V on the clips that nobody asked for", volts.0);
            discharge::say(job, now, &why, out);
        }
        if volts.0.abs() <= LOW {
            self.pressed = false;
        } else if !self.pressed
            && let Some(judgement) = forbidden_voltage(&job.plan.motor, volts)
        {
            self.pressed = true;
            let mut row = rows::of_job(now, job, Event::Value);
            rows::with_meter(&mut row, now.settings, meter);
            row.test = String::from("insulation");
            row.point = String::from("all_to_ground");
            heard(&mut row, sample);
            rows::judged(&mut row, &judgement);
            job.put(row, out);
        }
    }
}

/// The voltage of a sample that is not the tester's own; none: it says nothing of it.
fn foreign(sample: &Sample) -> Option<f64> {
    if sample.flags.has(Flags::LIVE) {
        let shown = match sample.got {
            Got::Value(shown) if shown.unit == Unit::Volt => shown.value.to_f64().abs(),
            _ => 0.0,
        };
        // The mark outweighs a number that does not show it.
        return Some(if shown >= HARMLESS {
            shown
        } else {
            f64::INFINITY
        });
    }
    if sample.test_voltage.is_some_and(|v| v.0.abs() > HARMLESS) {
        return None;
    }
    match sample.got {
        Got::Value(shown) if shown.unit == Unit::Volt => Some(shown.value.to_f64().abs()),
        Got::Over {
            unit: Unit::Volt, ..
        } => Some(f64::INFINITY),
        Got::Value(_) | Got::Over { .. } => Some(0.0),
        Got::Nothing => None,
    }
}

/// What a sample says, in a row that was heard and not taken.
fn heard(row: &mut crate::row::Row, sample: &Sample) {
    match sample.got {
        Got::Value(shown) => {
            row.shown = shown.to_string();
            row.value = Some(shown.value);
            row.unit = Some(shown.unit);
            row.value_ohms = (shown.unit == Unit::Ohm).then_some(shown.value);
        }
        Got::Over { .. } => row.shown = String::from("over-range"),
        Got::Nothing => {}
    }
    row.test_voltage_v = sample.test_voltage.and_then(|v| rows::tidy(v.0, -3));
}
