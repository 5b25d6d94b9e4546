//! The resistances of a run: over-range that no motor explains, and a
//! resistance that falls with its voltage.

use crate::quantity::Decimal;
use crate::reading::{Abort, Got};
use crate::stamp::Stamp;

use super::rules;

/// A resistance with its voltage.
#[derive(Clone, Copy, Debug)]
struct Point {
    at: Stamp,
    ohms: f64,
    volts: f64,
}

/// What the clips showed of late.
#[derive(Clone, Debug, Default)]
pub(super) struct Lead {
    /// The last resistance, and one some time before it.
    now: Option<Point>,
    before: Option<Point>,
    /// The last two, newest first.
    last: [f64; 2],
    /// The last one at the highest voltage.
    best: Option<Point>,
    /// Since when readings are over-range, if the last one was.
    over: Option<Stamp>,
    /// Whether the last one under full voltage was.
    held_over: bool,
    /// Whether that leapt.
    leapt: bool,
}

impl Lead {
    /// A run begins.
    pub(super) fn on(&mut self) {
        (self.leapt, self.best) = (false, None);
    }

    /// Whether the reading before was over-range.
    pub(super) fn over(&self) -> bool {
        self.over.is_some()
    }

    /// Whether over-range stands that a lead may have caused.
    pub(super) fn doubted(&self) -> bool {
        self.over.is_some() && self.leapt
    }

    /// Whether there was no number under full voltage.
    pub(super) fn over_before(&self) -> bool {
        self.held_over
    }

    /// Keeps what a reading shows.
    pub(super) fn keep(&mut self, at: Stamp, got: &Got, volts: f64) {
        match got {
            Got::Value(shown) => {
                let point = Point {
                    at,
                    ohms: shown.value.to_f64(),
                    volts,
                };
                self.over = None;
                self.leapt = false;
                self.last = [point.ohms, self.last[0]];
                if self.best.is_none_or(|best| volts >= 0.995 * best.volts) {
                    self.best = Some(point);
                }
                let apart = |before: Point| at.since(before.at).as_secs_f64() >= rules::GROWTH_SPAN;
                match self.before {
                    Some(before) if !apart(before) => {}
                    _ => self.before = self.now,
                }
                self.now = Some(point);
            }
            Got::Over { .. } => self.over = self.over.or(Some(at)),
            Got::Nothing => {}
        }
    }

    /// Whether a resistance falls from reading to reading.
    pub(super) fn falls(&self, ohms: f64) -> bool {
        ohms <= self.last[0] && self.last[0] <= self.last[1]
    }

    /// Whether a resistance has fallen with its voltage since that was at its best.
    pub(super) fn fell(&self, ohms: f64, volts: f64) -> bool {
        self.best.is_some_and(|best| {
            let voltage = 1.0 - volts / best.volts;
            1.0 - ohms / best.ohms > (0.5 * voltage).max(rules::FELL_PART)
        })
    }

    /// Over-range that absorption cannot explain: a lead came off.
    pub(super) fn off(&mut self, at: Stamp, got: &Got, volts: f64) -> Option<Abort> {
        let Got::Over { full_scale, .. } = got else {
            self.held_over = false;
            return None;
        };
        self.held_over = true;
        let Some(since) = self.over else {
            self.leapt = self.leaps(at, *full_scale, volts);
            return None;
        };
        let stood = at.since(since).as_secs_f64() >= rules::SAG_SECONDS;
        (self.leapt && stood).then_some(Abort::LeadOff)
    }

    /// Whether over-range lies too far above the last resistances to be their
    /// rise. While the voltage rises they say nothing: the current that fills
    /// the motor ends with the ramp.
    fn leaps(&self, at: Stamp, full_scale: Option<Decimal>, volts: f64) -> bool {
        let (Some(now), Some(before)) = (self.now, self.before) else {
            return false;
        };
        let stands = |point: Point| point.volts >= 0.97 * volts && point.ohms > 0.0;
        if !stands(now) || !stands(before) {
            return false;
        }
        let span = now.at.since(before.at).as_secs_f64().max(0.1);
        let ahead = at.since(now.at).as_secs_f64() + rules::GROWTH_AHEAD;
        let growth = (now.ohms / before.ohms).max(1.0);
        let most = 1.3 * now.ohms * libm::pow(growth, ahead / span);
        most < full_scale.map_or(2.0 * now.ohms, |full| full.to_f64())
    }
}
