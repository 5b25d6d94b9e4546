//! Discharge: how long a winding was charged, and how long it stays shorted.
//!
//! Rule 17: at least four times the time for which a tenth of the test voltage
//! was on since the last discharge, aborted runs included, from the moment
//! that the person confirms the short. Time of which nobody knows counts as on.

use core::time::Duration;

use crate::judge::discharge_time;
use crate::quantity::Volts;
use crate::stamp::Stamp;

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
            self.before += at.since(since);
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
            self.since = Some(since.min(began));
        }
        if self.since.is_some() {
            return;
        }
        match elapsed.filter(|elapsed| !elapsed.is_zero()) {
            Some(elapsed) => {
                self.short = None;
                self.before += elapsed;
            }
            None => self.on(at),
        }
    }

    /// The short was not there after all.
    pub(super) fn not_shorted(&mut self) {
        self.short = None;
    }

    /// Nobody knows for how long: at least this.
    pub(super) fn unknown(&mut self, at: Stamp, already: Duration) {
        self.before += already;
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
        self.before + self.since.map_or(Duration::ZERO, |since| at.since(since))
    }

    /// The person confirms the short: for how long it stays.
    pub(super) fn shorted(&mut self, at: Stamp) -> Duration {
        let stays = discharge_time(self.on_for(at));
        self.off(at);
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
            *self = Self::default();
        }
    }

    /// What rows say of a time on that is over.
    pub(super) fn known(&mut self, on: Duration) {
        self.before += on;
    }
}
