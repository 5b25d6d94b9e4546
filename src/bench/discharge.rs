//! Discharge: how long a winding was charged, and how long it stays shorted.
//!
//! Rule 17: at least four times the time for which a tenth of the test voltage
//! was on since the last discharge, aborted runs included, from the moment
//! that the person confirms the short. Time of which nobody knows counts as on.

use core::time::Duration;

use crate::judge::discharge_time;
use crate::quantity::Volts;
use crate::row::Event;
use crate::stamp::Stamp;

use super::job::Job;
use super::{Benches, Now, Out, rows};

/// Begins the reason of a `note` row that says a charge of which no other row
/// tells: a press that nobody asked for, or what the job before left.
pub(super) const PRESSED: &str = "charged: ";

/// Says in a row that the winding is charged, so that a stop forgets it not.
pub(super) fn say(job: &mut Job, now: &Now<'_>, why: &str, out: &mut Out) {
    let mut row = rows::of_job(now, job, Event::Note);
    rows::at_point(&mut row, &super::ask::charged());
    row.elapsed_s = rows::seconds(job.live.charge.on_for(now.at));
    row.reason = format!("{PRESSED}{why}; switch off, short the winding to ground");
    job.put(row, out);
}

impl Benches {
    /// What an ended job left in a winding is the business of the next job of it.
    pub(super) fn charge_left(&mut self, job: &mut Job, now: &Now<'_>, out: &mut Out) {
        let asset = job.plan.asset.clone();
        while let Some(at) = self.charged.iter().position(|(of, ..)| *of == asset) {
            let (_, by, on) = self.charged.remove(at);
            job.live.charge.unknown(now.at, on);
            let why = format!("job {by} ended without a short to ground");
            say(job, now, &why, out);
        }
    }
}

/// The charge that a test voltage leaves in a winding.
#[derive(Clone, Debug, Default)]
pub(super) struct Charge {
    /// Time on, of presses that are over.
    before: Duration,
    /// Since when it is on, or may be.
    since: Option<Stamp>,
    /// Whether the tester itself said so since the last take.
    heard: bool,
    /// The short: since when, until when.
    short: Option<(Stamp, Stamp)>,
    /// Time on that the last discharge took away: there again if it was none.
    gone: Duration,
}

impl Charge {
    /// The tester says what is on the clips.
    pub(super) fn heard(&mut self, at: Stamp, volts: Volts, nominal: Volts) {
        // Some testers put the negative pole on the winding.
        if volts.0.abs() >= nominal.0 / 10.0 {
            self.heard = true;
            self.on(at);
        } else {
            self.off(at);
        }
    }

    /// The voltage goes on.
    pub(super) fn on(&mut self, at: Stamp) {
        self.short = None;
        self.since.get_or_insert(at);
    }

    /// The voltage is off.
    pub(super) fn off(&mut self, at: Stamp) {
        if let Some(since) = self.since.take() {
            // However short it was, it was on.
            let on = at.since(since).max(Duration::from_millis(1));
            self.before = self.before.saturating_add(on);
        }
    }

    /// A hold was taken or aborted; what it says counts where the tester said
    /// nothing. No time is unknown time: on, until a person says off.
    pub(super) fn took(&mut self, at: Stamp, elapsed: Option<Duration>) {
        if core::mem::take(&mut self.heard) {
            return;
        }
        if let (Some(since), Some(elapsed)) = (self.since, elapsed) {
            // A typed time may be longer than since the word that it is on: the longer counts.
            let held = u64::try_from(elapsed.as_nanos()).unwrap_or(u64::MAX);
            let began = Stamp::from_nanos(at.nanos().saturating_sub(held));
            if began <= since {
                // What lies before the start of the run counts as well.
                let earlier = Duration::from_nanos(held.saturating_sub(at.nanos()));
                self.before = self.before.saturating_add(earlier);
                self.since = Some(began);
            }
        }
        if self.since.is_some() {
            return;
        }
        match elapsed.filter(|elapsed| !elapsed.is_zero()) {
            Some(elapsed) => {
                self.short = None;
                self.before = self.before.saturating_add(elapsed);
            }
            None => self.on(at),
        }
    }

    /// The short was not there after all, also where its countdown is over.
    pub(super) fn not_shorted(&mut self) {
        self.short = None;
        self.before = self.before.saturating_add(core::mem::take(&mut self.gone));
    }

    /// Nobody knows for how long: at least this.
    pub(super) fn unknown(&mut self, at: Stamp, already: Duration) {
        self.before = self.before.saturating_add(already);
        self.on(at);
    }

    /// Whether the voltage is on, or may be.
    pub(super) fn is_on(&self) -> bool {
        self.since.is_some()
    }

    /// Whether it was on since the last discharge.
    pub(super) fn is_any(&self) -> bool {
        self.since.is_some() || !self.before.is_zero()
    }

    /// Whether the winding is charged and not shorted.
    pub(super) fn needs_short(&self) -> bool {
        self.short.is_none() && self.is_any()
    }

    /// The time on, until `at`.
    pub(super) fn on_for(&self, at: Stamp) -> Duration {
        let now = self.since.map_or(Duration::ZERO, |since| at.since(since));
        self.before.saturating_add(now)
    }

    /// The person confirms the short: for how long it stays.
    pub(super) fn shorted(&mut self, at: Stamp) -> Duration {
        let stays = discharge_time(self.on_for(at));
        self.off(at);
        // What was heard until here says nothing of a press after it.
        self.heard = false;
        self.short = Some((at, at.plus(stays)));
        stays
    }

    /// Until when it stays shorted.
    pub(super) fn until(&self) -> Option<Stamp> {
        self.short.map(|(_, until)| until)
    }

    /// The countdown is over: nothing is left.
    pub(super) fn expire(&mut self, at: Stamp) {
        if self.until().is_some_and(|until| at >= until) {
            let on = self.on_for(at);
            *self = Self::default();
            self.discharged(on);
        }
    }

    /// So much was discharged, as a person said.
    pub(super) fn discharged(&mut self, on: Duration) {
        self.gone = self.gone.saturating_add(on);
    }

    /// What rows say of a time on that is over.
    pub(super) fn known(&mut self, on: Duration) {
        self.before = self.before.saturating_add(on);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rule 17: a hold that was typed as 10 s long, a second after the run began.
    #[test]
    fn a_typed_hold_longer_than_the_run_is_old_counts_whole() {
        let mut charge = Charge::default();
        charge.on(Stamp::from_seconds(1.0));
        charge.took(Stamp::from_seconds(1.25), Some(Duration::from_secs(10)));
        let on = charge.on_for(Stamp::from_seconds(2.0));
        assert_eq!(on, Duration::from_secs_f64(10.75));
    }
}
