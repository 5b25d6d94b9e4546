//! The last seconds of a test voltage: whether it rises, stalls or dies away.
//!
//! Seconds are of dwell: those that readings vouch for.

use crate::stamp::Stamp;

/// Seconds that sums of intervals may be off by rounding.
const ROUNDING: f64 = 1e-6;
/// Voltages kept: 4 s at two a second.
const PAST: usize = 8;

/// Where the voltage stays: for a ramp that stalls.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Ramp {
    /// Since when at least a tenth of the nominal voltage is on.
    pub(super) since: Option<f64>,
    /// Voltages of the last seconds, one each half second, newest first.
    past: [Past; PAST],
    /// How many are kept.
    pub(super) used: usize,
    /// The least voltage before it rose.
    pub(super) least: f64,
    /// The most since.
    pub(super) most: f64,
    /// When that was.
    pub(super) most_at: f64,
}

/// A voltage that was.
#[derive(Clone, Copy, Debug, Default)]
struct Past {
    dwell: f64,
    at: Stamp,
    volts: f64,
}

impl Ramp {
    /// A ramp that may begin at `volts`.
    pub(super) fn from(volts: f64) -> Self {
        Self {
            least: volts,
            ..Self::default()
        }
    }

    /// Keeps a voltage, at most two a second.
    pub(super) fn keep(&mut self, dwell: f64, at: Stamp, volts: f64, noise: f64) {
        if volts > self.most + noise {
            (self.most, self.most_at) = (volts, dwell);
        }
        if self.used == 0 || dwell - self.past[0].dwell >= 0.45 {
            self.past.copy_within(0..PAST - 1, 1);
            self.past[0] = Past { dwell, at, volts };
            self.used = (self.used + 1).min(PAST);
        }
    }

    /// Seconds that the last `count` voltages span, if so many are kept.
    pub(super) fn since(&self, dwell: f64, count: usize) -> Option<f64> {
        let first = self.past[..self.used].get(count.checked_sub(1)?)?;
        Some(dwell - first.dwell)
    }

    /// Least and most of the last `seconds`, `volts` included.
    pub(super) fn span(&self, dwell: f64, seconds: f64, volts: f64) -> (f64, f64) {
        self.past[..self.used]
            .iter()
            .take_while(|past| dwell - past.dwell <= seconds + ROUNDING)
            .fold((volts, volts), |(least, most), past| {
                (least.min(past.volts), most.max(past.volts))
            })
    }

    /// The voltage about `seconds` ago, or the oldest kept.
    pub(super) fn before(&self, dwell: f64, seconds: f64) -> f64 {
        let kept = &self.past[..self.used];
        kept.iter()
            .find(|past| dwell - past.dwell >= seconds - ROUNDING)
            .or(kept.last())
            .map_or(0.0, |past| past.volts)
    }

    /// Since when the voltage has been within 3 % of `volts`, if for 2 s.
    pub(super) fn steady(&self, dwell: f64, volts: f64) -> Option<Stamp> {
        let kept = &self.past[..self.used];
        let near = kept
            .iter()
            .take_while(|past| (past.volts - volts).abs() <= 0.03 * volts)
            .last()?;
        (dwell - near.dwell >= 2.0).then_some(near.at)
    }
}
