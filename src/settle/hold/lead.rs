//! The resistances of a run: over-range that no motor explains, and a
//! resistance that falls with its voltage.
//!
//! Times are seconds of the clock of readings, on which those of a burst are
//! as far from each other as they were sent.

use crate::quantity::Decimal;
use crate::reading::{Abort, Got};

use super::rules;

/// Part of a voltage that is as good as all of it.
const FULL: f64 = 0.97;

/// Each of the points by which the growth in the long run is known is held so
/// many times as long as the one before, and the first so many seconds.
const GROWN_SPAN: f64 = 1.5;
const GROWN_FROM: f64 = 0.5;

/// A resistance with its voltage.
#[derive(Clone, Copy, Debug)]
struct Point {
    at: f64,
    ohms: f64,
    volts: f64,
}

/// What the clips showed of late.
#[derive(Clone, Debug, Default)]
pub(super) struct Lead {
    /// When the run began.
    since: f64,
    /// The last resistance under full voltage, and two some time before it.
    now: Option<Point>,
    before: [Option<Point>; 2],
    /// Two at times held that are far apart: how it grows in the long run.
    early: [Option<Point>; 2],
    /// The last two, newest first.
    last: [f64; 2],
    /// The highest voltage.
    most: f64,
    /// Since when readings are over-range, if the last one was.
    over: Option<f64>,
    /// Of which range, and how many in a row.
    full: Option<Decimal>,
    overs: u32,
    /// Whether the last one under full voltage was.
    held_over: bool,
    /// Whether that leapt, or belongs to a range below the last number.
    leapt: bool,
    ranging: bool,
}

impl Lead {
    /// A run begins.
    pub(super) fn on(&mut self, since: f64) {
        self.since = since;
        (self.leapt, self.ranging) = (false, false);
        self.early = [None; 2];
    }

    /// Whether readings before, or those that come twice, were over-range of the
    /// same range, and no lead nor a change of range may have caused it.
    pub(super) fn over(&self, full_scale: Option<Decimal>, double: bool) -> bool {
        let before = self.overs > u32::from(double);
        before && self.full == full_scale && !self.leapt && !self.ranging
    }

    /// Whether there was no number under full voltage.
    pub(super) fn over_before(&self) -> bool {
        self.held_over && !self.leapt
    }

    /// Keeps what a reading shows.
    pub(super) fn keep(&mut self, at: f64, got: &Got, volts: f64) {
        match got {
            Got::Value(shown) => {
                let point = Point {
                    at,
                    ohms: shown.value.to_f64(),
                    volts,
                };
                (self.over, self.overs) = (None, 0);
                (self.leapt, self.ranging) = (false, false);
                self.last = [point.ohms, self.last[0]];
                self.most = self.most.max(volts);
                if volts >= FULL * self.most {
                    self.grow(point);
                }
            }
            Got::Over { full_scale, .. } => {
                self.over = self.over.or(Some(at));
                let same = self.full == *full_scale;
                self.overs = if same { self.overs + 1 } else { 1 };
                self.full = *full_scale;
            }
            Got::Nothing => {}
        }
    }

    /// Whether a resistance falls from reading to reading.
    pub(super) fn falls(&self, ohms: f64) -> bool {
        ohms <= self.last[0] && self.last[0] <= self.last[1]
    }

    /// Keeps a point under full voltage, and older ones at their distance.
    fn grow(&mut self, point: Point) {
        let far = |older: Point| point.at - older.at >= rules::GROWTH_SPAN;
        if self.before[0].is_none_or(far) {
            self.before = [self.now, self.before[0]];
        }
        self.now = Some(point);
        let held = |older: Point| (older.at - self.since).max(GROWN_FROM);
        let long = |older: Point| point.at - self.since >= GROWN_SPAN * held(older);
        if self.early[0].is_none_or(long) {
            self.early = [Some(point), self.early[0]];
        }
    }

    /// Whether a reading after a silence is of this moment all the same, as far
    /// as it matters: over-range as before, or grown by at least half of what
    /// the resistance grows in that time, or by no more than noise.
    pub(super) fn goes_on(&self, at: f64, got: &Got) -> bool {
        let [near, far] = self.early;
        let (Got::Value(shown), Some(now), Some(old)) = (got, self.now, far.or(near)) else {
            return matches!(got, Got::Over { .. }) && self.over.is_some();
        };
        let held = |at: f64| at - self.since + 0.1;
        let growth = libm::log((now.ohms / old.ohms).max(1.0));
        let power = growth / libm::log(held(now.at) / held(old.at)).max(0.2);
        let grows = libm::pow(held(at) / held(now.at), power);
        let grown = shown.value.to_f64() / now.ohms;
        grows < rules::OLD_GROWTH || grown > 0.5 + 0.5 * grows
    }

    /// Whether a resistance has fallen with its voltage since that was full: the
    /// current is what it was, or more, and so much that a tester may be at
    /// its most. The current of a voltage that sags is less.
    pub(super) fn fell(&self, ohms: f64, volts: f64) -> bool {
        let Some(full) = self.now else {
            return false;
        };
        let (voltage, left) = (volts / full.volts, ohms / full.ohms);
        let fell = 1.0 - left > (0.5 * (1.0 - voltage)).max(rules::FELL_PART);
        fell && left >= rules::FELL_LEAST * voltage && volts >= rules::LEAST_MOST * ohms
    }

    /// Whether a resistance is so far below the last under full voltage that the
    /// insulation broke down, or that the number is none of the motor's.
    pub(super) fn broke(&self, ohms: f64, volts: f64) -> bool {
        self.now
            .is_some_and(|full| ohms / full.ohms < rules::FELL_LEAST * volts / full.volts)
    }

    /// Over-range that absorption cannot explain: a lead came off.
    pub(super) fn off(&mut self, at: f64, got: &Got, volts: f64) -> Option<Abort> {
        let Got::Over { full_scale, .. } = got else {
            self.held_over = false;
            return None;
        };
        self.held_over = true;
        if self.over.is_none() || self.full != *full_scale {
            self.leapt = self.leaps(at, *full_scale, volts);
            self.ranging = self
                .now
                .is_some_and(|now| full_scale.is_some_and(|full| full.to_f64() < 0.9 * now.ohms));
        }
        let since = self.over?;
        let stood = at - since >= rules::SAG_SECONDS;
        (self.leapt && !self.ranging && stood).then_some(Abort::LeadOff)
    }

    /// Whether over-range lies too far above the last resistances to be their
    /// rise: steep while the motor fills, later a power of the time held. While
    /// the voltage rises they say nothing: the current that fills the motor
    /// ends with the ramp. The rise slows, so the least of its slopes counts.
    fn leaps(&self, at: f64, full_scale: Option<Decimal>, volts: f64) -> bool {
        let stands = |point: &Point| point.volts >= FULL * volts && point.ohms > 0.0;
        let Some(now) = self.now.filter(stands) else {
            return false;
        };
        let held = |at: f64| at - self.since + 0.1;
        let filling = held(now.at) < rules::FILLING_SECONDS;
        let scale = |at: f64| match filling {
            true => held(at),
            false => libm::log(held(at)),
        };
        let most = self
            .before
            .into_iter()
            .flatten()
            .filter(|before| stands(before) && now.at - before.at >= 0.5 * rules::GROWTH_SPAN)
            .map(|before| {
                let growth = (now.ohms / before.ohms).max(1.0);
                let ahead = scale(at + rules::GROWTH_AHEAD) - scale(now.at);
                libm::pow(growth, ahead / (scale(now.at) - scale(before.at)))
            })
            .min_by(f64::total_cmp);
        let most = most.map(|most| rules::GROWTH_SLACK * now.ohms.max(self.last[0]) * most);
        let full = full_scale.map_or(rules::UNKNOWN_FULL * now.ohms, |full| full.to_f64());
        most.is_some_and(|most| most < full)
    }
}
