//! Timed holds: the value at the marks of a test voltage that is held.
//!
//! The value rises for minutes by absorption, so a hold never waits for
//! steady; and nothing is interpolated: no reading at the mark is no value.
//! `waiting` looks for the press and its start, `running` for the marks and
//! for the end, `lead` for over-range that no motor can explain.

use core::time::Duration;

use crate::quantity::{Ohms, Shown, Unit, Volts};
use crate::reading::{Abort, Got, Method, Outcome, Sample, Take};
use crate::stamp::Stamp;

use super::pace::{Pace, Passed};
use super::ramp::Ramp;
use super::{Hold, Reset, rules};

use after::{After, Seen};
use lead::Lead;
use running::Sag;

mod after;
mod lead;
mod running;
mod waiting;

/// Where a press of the test button stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Press {
    /// No voltage, or not enough yet.
    Waiting,
    /// The clock runs.
    Running {
        /// When it started.
        since: Stamp,
        /// The meter's own elapsed time then, if it sends one.
        elapsed: Option<Duration>,
        /// The next mark.
        next: usize,
    },
    /// All marks taken; waits for release.
    Taken,
    /// Ended before its last mark; waits for release.
    LetGo,
    /// The tester cannot hold its voltage; waits for release.
    PulledDown,
}

/// One meter's hold.
#[derive(Clone, Debug)]
pub(super) struct Holding {
    press: Press,
    pace: Pace,
    /// What passed since the reading before.
    passed: Passed,
    /// Seconds that readings vouch for since this began.
    dwell: f64,
    /// Whether the last reading came twice.
    double: bool,
    /// Seconds by which the last reading may be old: it follows a silence, or
    /// others of the same burst.
    late: f64,
    /// Seconds in which a burst's readings are as far apart as they were sent.
    clock: f64,
    ramp: Ramp,
    reached: f64,
    /// Voltage that this run holds: the nominal one, or another step of the tester.
    nominal: f64,
    sag: Option<Sag>,
    lead: Lead,
    volts: f64,
    said: Option<Sample>,
    heard: Stamp,
    last: Option<Shown>,
    person: bool,
    /// The meter's own elapsed time in the last sample that had one.
    own: Option<Duration>,
    after: After,
    /// When the voltage was too little last.
    dipped: Option<Stamp>,
}

impl Holding {
    /// Waits for a press.
    pub(super) fn new(spec: &Hold) -> Self {
        Self {
            press: Press::Waiting,
            pace: Pace::default(),
            passed: Passed::default(),
            dwell: 0.0,
            double: false,
            late: 0.0,
            clock: 0.0,
            ramp: Ramp::default(),
            reached: 0.0,
            nominal: spec.nominal.0,
            sag: None,
            lead: Lead::default(),
            volts: 0.0,
            said: None,
            heard: Stamp::ZERO,
            last: None,
            person: false,
            own: None,
            after: After::default(),
            dipped: None,
        }
    }

    /// Where it stands.
    pub(super) fn press(&self) -> Press {
        self.press
    }

    /// The last voltage, if one is on.
    pub(super) fn volts(&self) -> f64 {
        self.volts
    }

    /// Seconds held at the last reading, and seconds to hold.
    pub(super) fn held(&self, spec: &Hold) -> Option<(f32, f32)> {
        let Press::Running { since, .. } = self.press else {
            return None;
        };
        let held = self.heard.since(since).as_secs_f32();
        Some((held, spec.marks.last().map_or(0.0, Duration::as_secs_f32)))
    }

    /// Another hold is asked for: one that ended stays ended until release.
    pub(super) fn another(&mut self, spec: &Hold) {
        if matches!(self.press, Press::Waiting | Press::Running { .. }) {
            let person = self.person;
            self.released(spec);
            self.person = person;
        } else {
            self.nominal = spec.nominal.0;
        }
    }

    /// When [`Holding::expire`] has something to end.
    pub(super) fn deadline(&self, spec: &Hold) -> Option<Stamp> {
        let Press::Running {
            since,
            elapsed,
            next,
        } = self.press
        else {
            return None;
        };
        // A sag is heard to its end, whatever mark it covers.
        if let Some(sag) = self.sag {
            return Some(sag.silent());
        }
        let mark = spec.marks.get(next)?;
        // By the meter's own clock a late reading is still of its moment.
        let late = elapsed.map_or(0.0, |_| rules::OWN_LATE);
        Some(since.plus(*mark).plus(seconds(rules::MARK_WAIT + late)))
    }

    /// Time passed without a reading.
    pub(super) fn expire(&mut self, at: Stamp, spec: &Hold) -> Option<Take> {
        if self.deadline(spec)? > at {
            return None;
        }
        let why = match self.sag {
            Some(_) => self.lost(),
            None => Abort::Silent,
        };
        Some(self.abort(at, why, spec))
    }

    /// A person says that the voltage is on or off, for a tester that sends none.
    pub(super) fn voltage(&mut self, at: Stamp, on: bool, spec: &Hold) -> Option<Take> {
        self.person = on;
        self.heard = at;
        if on {
            if self.press == Press::Waiting {
                self.start(at, None);
            }
            return None;
        }
        let aborted = matches!(self.press, Press::Running { .. })
            .then(|| self.abort(at, Abort::Released, spec));
        self.released(spec);
        aborted
    }

    /// Connection lost, clock stepped, or a person wants it again.
    pub(super) fn reset(&mut self, at: Stamp, why: Reset, spec: &Hold) -> Option<Take> {
        self.pace.gap();
        if matches!(self.press, Press::Running { .. }) {
            return Some(self.abort(at, Abort::Interrupted, spec));
        }
        if why == Reset::Again {
            let person = self.person;
            self.released(spec);
            self.person = person;
        }
        self.ramp = Ramp::default();
        None
    }

    /// A sample arrived.
    pub(super) fn push(&mut self, at: Stamp, sample: &Sample, spec: &Hold) -> Option<Take> {
        if sample.flags.not_now() || self.says_nothing(sample, spec) {
            return self.expire(at, spec);
        }
        let volts = if spec.voltage_measured {
            match sample.test_voltage {
                Some(volts) => volts.0.abs(),
                None => return self.expire(at, spec),
            }
        } else if self.person {
            spec.nominal.0
        } else {
            0.0
        };
        // A reading that comes too late for the mark is no value for it.
        if let Some(take) = self.expire(at, spec) {
            return Some(take);
        }
        if spec.voltage_measured && sample.elapsed.is_some() {
            self.begins_anew(sample, volts);
        }
        self.passed = self.pace.reading(at);
        let again = self
            .said
            .replace(*sample)
            .is_some_and(|said| said == *sample);
        self.dwell += self.passed.dwell;
        self.double = again && self.passed.seconds < 0.5 * self.pace.usual();
        if !self.double {
            let late = self.passed.seconds - self.pace.usual();
            self.late = if self.apart() { late } else { f64::INFINITY };
        }
        self.clock += match self.apart() {
            true => self.passed.seconds,
            false if !again => self.pace.usual(),
            false => 0.0,
        };
        self.volts = volts;
        self.heard = at;
        self.reached = self.reached.max(volts);
        if !matches!(self.press, Press::Waiting | Press::Running { .. }) {
            self.ended(&sample.got, volts, spec);
        }
        let take = match self.press {
            Press::Waiting => self.waiting(at, sample, volts, spec),
            Press::Running { .. } => self.running(at, sample, volts, spec),
            Press::Taken | Press::LetGo | Press::PulledDown => None,
        };
        if let Got::Value(shown) = sample.got {
            self.last = Some(shown);
        }
        if !again || self.apart() {
            self.lead.keep(self.clock, &sample.got, volts);
        }
        take
    }

    /// Over-range in another unit is no insulation beyond the range. A display
    /// without a number says nothing, unless the voltage beside it is gone or
    /// too low for the run: then the button is up.
    fn says_nothing(&self, sample: &Sample, spec: &Hold) -> bool {
        let enough = match self.press {
            Press::Waiting => rules::PRESSED,
            _ => spec.sag_frac,
        };
        match sample.got {
            Got::Over { unit, .. } => unit != Unit::Ohm,
            Got::Nothing => !sample
                .test_voltage
                .is_some_and(|volts| volts.0.abs() < enough * self.nominal),
            Got::Value(_) => false,
        }
    }

    /// Whether this reading is one of its own: no double, no tail of a burst.
    fn apart(&self) -> bool {
        let least = (rules::APART * self.pace.usual()).min(rules::APART_SECONDS);
        self.passed.seconds >= least
    }

    fn released(&mut self, spec: &Hold) {
        let pace = self.pace.clone();
        *self = Self::new(spec);
        self.pace = pace;
    }

    fn start(&mut self, at: Stamp, elapsed: Option<Duration>) {
        self.press = Press::Running {
            since: at,
            elapsed,
            next: 0,
        };
        (self.sag, self.dipped) = (None, None);
        self.after = After::default();
        self.lead.on(self.clock);
    }

    /// A run ends, and waits for release.
    fn end(&mut self, press: Press) {
        self.press = press;
        self.ramp = Ramp::default();
    }

    fn pulled_down(&mut self, at: Stamp, sample: &Sample) -> Take {
        let last = match sample.got {
            Got::Value(shown) => Some(shown),
            _ => self.last,
        };
        let outcome = Outcome::PulledDown {
            last,
            reached: Volts(self.reached),
        };
        let held = self.elapsed(at);
        self.end(Press::PulledDown);
        self.take(at, outcome, held, Some(Volts(self.reached)), Some(sample))
    }

    fn abort(&mut self, at: Stamp, why: Abort, spec: &Hold) -> Take {
        let held = self.elapsed(at);
        self.end(Press::LetGo);
        let reached = spec.voltage_measured.then_some(Volts(self.reached));
        self.take(at, Outcome::Aborted(why), held, reached, None)
    }

    fn elapsed(&self, at: Stamp) -> Option<Duration> {
        match self.press {
            Press::Running { since, .. } => Some(at.since(since)),
            _ => None,
        }
    }

    fn take(
        &self,
        at: Stamp,
        outcome: Outcome,
        elapsed: Option<Duration>,
        test_voltage: Option<Volts>,
        sample: Option<&Sample>,
    ) -> Take {
        Take {
            at,
            outcome,
            method: Method::Timed,
            samples: 1,
            window: Duration::ZERO,
            spread: Ohms(0.0),
            elapsed,
            test_voltage,
            leakage: sample.and_then(|s| s.leakage),
            temperature: sample.and_then(|s| s.temperature),
            flags: sample.map(|s| s.flags).unwrap_or_default(),
        }
    }
}

fn seconds(seconds: f64) -> Duration {
    Duration::from_secs_f64(seconds)
}
