//! The last seconds of a test voltage: whether it rises, stalls or dies away.

use core::time::Duration;

use crate::stamp::Stamp;

/// Voltages kept: 4 s at two a second.
const PAST: usize = 8;

/// Where the voltage stays: for a ramp that stalls.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Ramp {
    /// Since when at least a tenth of the nominal voltage is on.
    pub(super) since: Option<Stamp>,
    /// Voltages of the last seconds, one each half second, newest first.
    past: [(Stamp, f64); PAST],
    /// How many are kept.
    pub(super) used: usize,
    /// The least voltage before it rose.
    pub(super) least: f64,
    /// The most since.
    pub(super) most: f64,
    /// When that was.
    pub(super) most_at: Stamp,
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
    pub(super) fn keep(&mut self, at: Stamp, volts: f64, noise: f64) {
        if volts > self.most + noise {
            (self.most, self.most_at) = (volts, at);
        }
        if self.used > 0 && at.since(self.past[0].0) < Duration::from_millis(450) {
            return;
        }
        self.past.copy_within(0..PAST - 1, 1);
        self.past[0] = (at, volts);
        self.used = (self.used + 1).min(PAST);
    }

    /// Least and most of the last `seconds`, `volts` included.
    pub(super) fn span(&self, at: Stamp, seconds: f64, volts: f64) -> (f64, f64) {
        self.past[..self.used]
            .iter()
            .take_while(|(then, _)| at.since(*then).as_secs_f64() <= seconds)
            .fold((volts, volts), |(least, most), (_, volts)| {
                (least.min(*volts), most.max(*volts))
            })
    }

    /// The voltage about `seconds` ago, or the oldest kept.
    pub(super) fn before(&self, at: Stamp, seconds: f64) -> f64 {
        let kept = &self.past[..self.used];
        kept.iter()
            .find(|(then, _)| at.since(*then).as_secs_f64() >= seconds)
            .or(kept.last())
            .map_or(0.0, |(_, volts)| *volts)
    }

    /// Since when the voltage has been within 3 % of `volts`, if for 2 s.
    pub(super) fn steady(&self, at: Stamp, volts: f64) -> Option<Stamp> {
        let kept = &self.past[..self.used];
        let near = kept
            .iter()
            .take_while(|(_, past)| (past - volts).abs() <= 0.03 * volts)
            .last()?;
        (at.since(near.0).as_secs_f64() >= 2.0).then_some(near.0)
    }
}
