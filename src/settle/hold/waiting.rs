//! Before a run: the voltage rises, stays away, or cannot get there; and after
//! one: whether the button came up.

use crate::reading::{Got, Sample, Take};
use crate::stamp::Stamp;

use super::{Hold, Holding, Press, Ramp, Seen, rules};

impl Holding {
    /// No run yet: the voltage rises, stays away, or cannot get there.
    pub(super) fn waiting(
        &mut self,
        at: Stamp,
        sample: &Sample,
        volts: f64,
        spec: &Hold,
    ) -> Option<Take> {
        let nominal = spec.nominal.0;
        if volts >= spec.start_frac * nominal {
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
            self.ramp.since = Some(self.dwell);
            if self.ramp.least == 0.0 {
                self.ramp.least = volts;
            }
        }
        let noise = rules::RAMP_NOISE * nominal;
        self.ramp.keep(self.dwell, at, volts, noise);
        if !self.stays_below(sample, volts, spec) {
            return None;
        }
        if let Some((step, on)) = self.other_step(volts) {
            self.start(on, sample.elapsed);
            self.nominal = step;
            return self.running(at, sample, volts, spec);
        }
        Some(self.pulled_down(at, sample))
    }

    /// Whether the voltage stays below the start, or falls together with the
    /// resistance. A ramp still rises; what is left of an earlier test dies
    /// away and never rose in this press. Silence vouches for nothing.
    fn stays_below(&self, sample: &Sample, volts: f64, spec: &Hold) -> bool {
        let (nominal, now) = (spec.nominal.0, self.dwell);
        let Some(since) = self.ramp.since else {
            return false;
        };
        let pressed = now - since;
        let Some(window) = self.ramp.since(now, rules::PULLED_VOLTAGES) else {
            return false;
        };
        if pressed < rules::PULLED_SECONDS || !self.apart() {
            return false;
        }
        let window = window.max(rules::PULLED_SECONDS);
        let (least, most) = self.ramp.span(now, window, volts);
        let rise = volts - self.ramp.before(now, window);
        let noise = rules::RAMP_NOISE * nominal;
        if rise > noise && rise > 0.75 * (spec.start_frac * nominal - volts) {
            return false;
        }
        if most - least <= (rules::RAMP_RISE * nominal).min(0.1 * volts) {
            return true;
        }
        let rose = self.ramp.most - self.ramp.least > 0.05 * nominal;
        if !rose {
            return false;
        }
        let together = match sample.got {
            Got::Value(shown) => {
                let ohms = shown.value.to_f64();
                self.lead.falls(ohms) && self.lead.fell(ohms, volts)
            }
            _ => false,
        };
        let peaked = now - self.ramp.most_at;
        // It rises so little that no ramp would be done in half a minute.
        let creeps = rise >= -noise && rise < 0.1 * (spec.start_frac * nominal - volts);
        let stalls = peaked >= rules::PULLED_SECONDS && rise > -0.2 * volts;
        let wavers = pressed >= rules::WAVER_SECONDS && (stalls || creeps);
        together && peaked >= rules::GIVES_SECONDS || wavers
    }

    /// The step of the tester on which a steady voltage is its own nominal one.
    fn other_step(&self, volts: f64) -> Option<(f64, Stamp)> {
        let ohms = self.last?.value.to_f64();
        let step = rules::STEPS
            .into_iter()
            .find(|step| volts >= 0.97 * step && volts <= 1.2 * step)?;
        let steady = self.ramp.steady(self.dwell, volts)?;
        (ohms * rules::WEAK_AMPERES > volts).then_some((step, steady))
    }

    /// A tester that speaks only while its button is pressed shows no fall of
    /// the voltage: its own clock, which begins anew, says that it was let go.
    pub(super) fn begins_anew(&mut self, sample: &Sample, volts: f64) {
        let ended = !matches!(self.press, Press::Waiting | Press::Running { .. });
        if ended && sample.elapsed < self.own {
            (self.after.least, self.after.up) = (0.5 * volts, true);
        }
        self.own = sample.elapsed;
    }

    /// A run ended; the next begins when the voltage comes again after the
    /// button was up.
    pub(super) fn ended(&mut self, got: &Got, volts: f64, spec: &Hold) {
        let nominal = spec.nominal.0;
        let seen = Seen {
            nominal,
            enough: spec.sag_frac,
            apart: self.apart(),
            numbers: !self.lead.over_before(),
        };
        self.after.low(self.clock, got, volts, &seen);
        let least = self.after.least;
        if self.after.up && volts >= rules::PRESSED * nominal && volts > 1.2 * least {
            self.released(spec);
            self.ramp.least = least;
            self.reached = volts;
        }
    }
}
