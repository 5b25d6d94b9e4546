//! Timed holds: the value at the marks of a test voltage that is held.
//!
//! The value rises for minutes by absorption, so a hold never waits for
//! steady; and nothing is interpolated: no reading at the mark is no value.

use core::time::Duration;

use crate::quantity::{Decimal, Ohms, Shown, Unit, Volts};
use crate::reading::{Abort, Got, Method, Outcome, Sample, Take};
use crate::stamp::Stamp;

use super::ramp::Ramp;
use super::{Hold, Reset, rules};

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
    ramp: Ramp,
    reached: f64,
    /// Voltage that this run holds: the nominal one, or another step of the tester.
    nominal: f64,
    sagging: Option<Stamp>,
    volts: f64,
    heard: Stamp,
    /// The last resistances shown, newest first, and what they were just before the voltage fell.
    last: Option<Shown>,
    ohms: [f64; 2],
    before_sag: f64,
    /// Since when over-range stands that absorption cannot explain.
    lead_off: Option<Stamp>,
    over: bool,
    person: bool,
    /// The meter's own elapsed time in the last sample that had one.
    own: Option<Duration>,
    /// The least voltage since a run ended, and whether the button is up again.
    least: f64,
    up: bool,
}

impl Holding {
    /// Waits for a press.
    pub(super) fn new(spec: &Hold) -> Self {
        Self {
            press: Press::Waiting,
            ramp: Ramp::default(),
            reached: 0.0,
            nominal: spec.nominal.0,
            sagging: None,
            volts: 0.0,
            heard: Stamp::ZERO,
            last: None,
            ohms: [0.0; 2],
            before_sag: 0.0,
            lead_off: None,
            over: false,
            person: false,
            own: None,
            least: f64::INFINITY,
            up: false,
        }
    }

    /// Where it stands.
    pub(super) fn press(&self) -> Press {
        self.press
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
            *self = Self::new(spec);
            self.person = person;
        } else {
            self.nominal = spec.nominal.0;
        }
    }

    /// When [`Holding::expire`] has something to end.
    pub(super) fn deadline(&self, spec: &Hold) -> Option<Stamp> {
        let Press::Running { since, next, .. } = self.press else {
            return None;
        };
        let mark = spec.marks.get(next)?;
        let mark = since.plus(*mark).plus(seconds(rules::MARK_WAIT));
        let sag = self.sagging.map(|at| at.plus(seconds(rules::SAG_SILENT)));
        Some(sag.map_or(mark, |sag| sag.min(mark)))
    }

    /// Time passed without a reading.
    pub(super) fn expire(&mut self, at: Stamp, spec: &Hold) -> Option<Take> {
        if self.deadline(spec)? > at {
            return None;
        }
        let why = match self.sagging {
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
        // Over-range in another unit is no insulation beyond the range. A display without
        // a number says nothing, unless the voltage beside it is gone: the button is up.
        let no_ohms = match sample.got {
            Got::Over { unit, .. } => unit != Unit::Ohm,
            Got::Nothing => !sample
                .test_voltage
                .is_some_and(|v| v.0.abs() < rules::PRESSED * self.nominal),
            Got::Value(_) => false,
        };
        if sample.flags.not_now() || no_ohms {
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
        self.heard = at;
        self.volts = volts;
        self.reached = self.reached.max(volts);
        if !matches!(self.press, Press::Waiting | Press::Running { .. }) {
            self.ended(sample, volts, spec);
        }
        let take = match self.press {
            Press::Waiting => self.waiting(at, sample, volts, spec),
            Press::Running { .. } => self.running(at, sample, volts, spec),
            Press::Taken | Press::LetGo | Press::PulledDown => None,
        };
        match sample.got {
            Got::Value(shown) => {
                self.last = Some(shown);
                self.ohms = [shown.value.to_f64(), self.ohms[0]];
                self.over = false;
            }
            Got::Over { .. } => self.over = true,
            Got::Nothing => {}
        }
        take
    }

    /// A tester that speaks only while its button is pressed shows no fall of
    /// the voltage: its own clock, which begins anew, says that it was let go.
    fn begins_anew(&mut self, sample: &Sample, volts: f64) {
        let ended = !matches!(self.press, Press::Waiting | Press::Running { .. });
        if ended && sample.elapsed < self.own {
            (self.least, self.up) = (0.5 * volts, true);
        }
        self.own = sample.elapsed;
    }

    /// A run ended; the next begins when the voltage has been away and comes again.
    fn ended(&mut self, sample: &Sample, volts: f64, spec: &Hold) {
        let nominal = spec.nominal.0;
        self.least = self.least.min(volts);
        self.up |= volts < 0.5 * rules::PRESSED * nominal
            || volts < 0.3 * spec.start_frac * nominal && sample_over(sample)
            || self.least < 0.5 * nominal && volts > 1.3 * self.least + 0.02 * nominal;
        if self.up && volts >= rules::PRESSED * nominal && volts > 1.2 * self.least {
            let least = self.least;
            self.released(spec);
            self.ramp.least = least;
            self.reached = volts;
        }
    }

    fn released(&mut self, spec: &Hold) {
        *self = Self::new(spec);
    }

    fn start(&mut self, at: Stamp, elapsed: Option<Duration>) {
        self.press = Press::Running {
            since: at,
            elapsed,
            next: 0,
        };
        self.sagging = None;
        self.lead_off = None;
    }

    /// No run yet: the voltage rises, stays away, or cannot get there.
    fn waiting(&mut self, at: Stamp, sample: &Sample, volts: f64, spec: &Hold) -> Option<Take> {
        let nominal = spec.nominal.0;
        let start = spec.start_frac * nominal;
        if volts >= start {
            self.start(at, sample.elapsed);
            self.nominal = nominal;
            return self.running(at, sample, volts, spec);
        }
        if volts < rules::PRESSED * nominal {
            self.ramp = Ramp::from(volts);
            self.reached = volts;
            return None;
        }
        if self.ramp.since.is_none() && self.ramp.used == 0 {
            self.ramp.since = Some(at);
            if self.ramp.least == 0.0 {
                self.ramp.least = volts;
            }
        }
        self.ramp.keep(at, volts, rules::RAMP_NOISE * nominal);
        if !self.stays_below(at, sample, volts, spec) {
            return None;
        }
        if let Some((step, on)) = self.other_step(at, volts) {
            self.start(on, sample.elapsed);
            self.nominal = step;
            return self.running(at, sample, volts, spec);
        }
        Some(self.pulled_down(at, sample))
    }

    /// Whether the voltage stays below the start, or falls together with the
    /// resistance. A ramp still rises; what is left of an earlier test dies
    /// away and never rose in this press.
    fn stays_below(&self, at: Stamp, sample: &Sample, volts: f64, spec: &Hold) -> bool {
        let nominal = spec.nominal.0;
        let Some(since) = self.ramp.since else {
            return false;
        };
        let pressed = at.since(since).as_secs_f64();
        if pressed < rules::PULLED_SECONDS {
            return false;
        }
        let (least, most) = self.ramp.span(at, rules::PULLED_SECONDS, volts);
        let rise = volts - self.ramp.before(at, rules::PULLED_SECONDS);
        let noise = rules::RAMP_NOISE * nominal;
        if rise > noise && rise > 0.75 * (spec.start_frac * nominal - volts) {
            return false;
        }
        if most - least <= (rules::RAMP_RISE * nominal).min(0.1 * volts) {
            return true;
        }
        let rose = self.ramp.most - self.ramp.least > 0.05 * nominal;
        let peaked = at.since(self.ramp.most_at).as_secs_f64() >= rules::PULLED_SECONDS;
        if !rose || !peaked {
            return false;
        }
        let together = match sample.got {
            Got::Value(shown) => {
                shown.value.to_f64() <= self.ohms[0] && self.ohms[0] <= self.ohms[1]
            }
            _ => false,
        };
        // A release collapses; a weak tester gives way slowly.
        let slowly = volts > 0.5 * self.ramp.before(at, 1.0);
        slowly && (together && rise < 0.0 || pressed >= rules::WAVER_SECONDS)
    }

    /// The step of the tester on which a steady voltage is its own nominal one.
    fn other_step(&self, at: Stamp, volts: f64) -> Option<(f64, Stamp)> {
        let ohms = self.last?.value.to_f64();
        let step = rules::STEPS
            .into_iter()
            .find(|step| volts >= 0.97 * step && volts <= 1.2 * step)?;
        let steady = self.ramp.steady(at, volts)?;
        (ohms * rules::WEAK_AMPERES > volts).then_some((step, steady))
    }

    fn running(&mut self, at: Stamp, sample: &Sample, volts: f64, spec: &Hold) -> Option<Take> {
        let Press::Running {
            since,
            elapsed,
            next,
        } = self.press
        else {
            return None;
        };
        if volts < spec.sag_frac * self.nominal {
            let began = match self.sagging {
                Some(began) => began,
                None => {
                    self.before_sag = self.ohms[0];
                    self.least = volts;
                    self.ramp = Ramp::default();
                    self.sagging = Some(at);
                    at
                }
            };
            self.ramp.keep(at, volts, 0.0);
            self.least = self.least.min(volts);
            // Gone in two readings is a release, however soon the next press comes.
            let gone = began < at && self.least < 2.0 * rules::PRESSED * self.nominal;
            if !gone && at.since(began).as_secs_f64() < rules::SAG_SECONDS {
                return None;
            }
            return Some(self.fell(at, sample, volts, spec));
        }
        self.sagging = None;
        if let Some(why) = self.lead(at, sample) {
            return Some(self.abort(at, why, spec));
        }
        let held = match (sample.elapsed, elapsed) {
            // The meter's own time, unless it runs on from an earlier press.
            (Some(now), Some(then)) if now >= then && then <= seconds(rules::MARK_WAIT) => now,
            (Some(now), None) => now,
            _ => at.since(since),
        };
        let mark = *spec.marks.get(next)?;
        if held < mark {
            return None;
        }
        // The voltage is back but the lead is in doubt: wait for the next reading.
        if self.lead_off.is_some() {
            return None;
        }
        let outcome = match sample.got {
            Got::Value(shown) => Outcome::Value(shown),
            Got::Over { full_scale, .. } => Outcome::OverRange { full_scale },
            Got::Nothing => return None,
        };
        self.press = if next + 1 < spec.marks.len() {
            Press::Running {
                since,
                elapsed,
                next: next + 1,
            }
        } else {
            (self.least, self.up) = (f64::INFINITY, false);
            Press::Taken
        };
        let measured = spec.voltage_measured.then_some(Volts(volts));
        Some(self.take(at, outcome, Some(held), measured, Some(sample)))
    }

    /// Over-range that absorption cannot explain: a lead came off.
    fn lead(&mut self, at: Stamp, sample: &Sample) -> Option<Abort> {
        let Got::Over { full_scale, .. } = sample.got else {
            self.lead_off = None;
            return None;
        };
        if !self.over {
            self.lead_off = self.leapt(full_scale).then_some(at);
            return None;
        }
        let off = self.lead_off?;
        (at.since(off).as_secs_f64() >= rules::SAG_SECONDS).then_some(Abort::LeadOff)
    }

    /// Whether over-range lies too far above the last values to be their rise.
    fn leapt(&self, full_scale: Option<Decimal>) -> bool {
        let [now, before] = self.ohms;
        if now <= 0.0 || before <= 0.0 {
            return false;
        }
        let growth = (now / before).max(1.0);
        match full_scale {
            Some(full) => now * libm::pow(growth, rules::GROWTH_POWER) * 1.3 < full.to_f64(),
            None => growth < 1.2,
        }
    }

    /// The voltage stayed below what the hold needs.
    fn fell(&mut self, at: Stamp, sample: &Sample, volts: f64, spec: &Hold) -> Take {
        let shown = match sample.got {
            Got::Value(shown) => shown.value.to_f64(),
            _ => f64::INFINITY,
        };
        let slowly = volts >= 0.6 * self.ramp.before(at, rules::PULLED_SECONDS)
            && self.least >= 2.0 * rules::PRESSED * self.nominal;
        let take = if slowly && shown < 0.9 * self.before_sag {
            self.pulled_down(at, sample)
        } else {
            let why = self.lost();
            self.abort(at, why, spec)
        };
        self.ended(sample, volts, spec);
        take
    }

    /// Whether too little voltage was a release or a sag.
    fn lost(&self) -> Abort {
        if self.volts < 0.6 * self.nominal {
            Abort::Released
        } else {
            Abort::Sagged
        }
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
        self.press = Press::PulledDown;
        (self.least, self.up) = (f64::INFINITY, false);
        self.take(at, outcome, held, Some(Volts(self.reached)), Some(sample))
    }

    fn abort(&mut self, at: Stamp, why: Abort, spec: &Hold) -> Take {
        let held = self.elapsed(at);
        self.press = Press::LetGo;
        (self.least, self.up) = (f64::INFINITY, false);
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

fn sample_over(sample: &Sample) -> bool {
    matches!(sample.got, Got::Over { .. })
}

fn seconds(seconds: f64) -> Duration {
    Duration::from_secs_f64(seconds)
}
