//! How the voltage falls: whether it dies away, and whether the button came up.

use crate::reading::Got;
use crate::stamp::Stamp;

use super::rules;

/// Voltages kept, each a fifth of a second after the one before.
const PAST: usize = 6;

/// The voltage of late, and since it became too little.
#[derive(Clone, Copy, Debug)]
pub(super) struct After {
    /// Newest first.
    past: [(Stamp, f64); PAST],
    used: usize,
    /// Readings in a row in which it dies away, or did before it rose.
    dying: u32,
    /// Since when it stands.
    stands: Option<Stamp>,
    /// The least since it was enough.
    pub(super) least: f64,
    /// Readings in a row without voltage.
    gone: u32,
    /// Whether the button came up.
    pub(super) up: bool,
}

impl Default for After {
    fn default() -> Self {
        Self {
            past: [(Stamp::ZERO, 0.0); PAST],
            used: 0,
            dying: 0,
            stands: None,
            least: f64::INFINITY,
            gone: 0,
            up: false,
        }
    }
}

impl After {
    /// A voltage under which a run goes on, or one that begins to be too little.
    pub(super) fn held(&mut self, at: Stamp, volts: f64) {
        self.least = f64::INFINITY;
        self.see(at, volts);
    }

    /// Whether it falls, as far as one reading can tell.
    pub(super) fn falls(&self) -> bool {
        self.dying > 0
    }

    /// Whether it dies away, or did before it rose: two readings say so, since
    /// one may be wrong.
    pub(super) fn dying(&self) -> bool {
        self.dying >= 2
    }

    /// A voltage after it was too little. Up is a voltage that is gone, and a
    /// display that is idle where there were numbers or another such reading;
    /// or a voltage that was dying away before it rose; one that stood, however
    /// low, only sagged.
    pub(super) fn low(&mut self, at: Stamp, got: &Got, volts: f64, of: &Seen) {
        let part = volts / of.nominal;
        if of.apart {
            self.gone = if part < 0.5 * rules::PRESSED {
                self.gone + 1
            } else {
                0
            };
        }
        let idle = of.numbers && !matches!(got, Got::Value(_));
        if self.gone >= 2 || self.gone == 1 && idle {
            self.up = true;
        }
        if volts > rules::AGAIN * self.least + 0.02 * of.nominal {
            if self.dying() {
                self.up = true;
            } else if !self.up {
                // It sagged and is back.
                self.least = f64::INFINITY;
            }
        }
        self.see(at, volts);
        self.least = self.least.min(volts);
    }

    /// The run is over: whether the button came up is asked from here on.
    pub(super) fn ends(&mut self) {
        (self.up, self.gone) = (false, 0);
    }

    /// Looks at the voltage each fifth of a second.
    fn see(&mut self, at: Stamp, volts: f64) {
        let kept = &self.past[..self.used];
        let since = |then: Stamp| at.since(then).as_secs_f64();
        let last = kept.first().copied();
        if last.is_some_and(|(then, _)| since(then) < rules::DYING_SECONDS / 2.0) {
            return;
        }
        let old = kept
            .iter()
            .find(|(then, _)| since(*then) >= rules::DYING_SECONDS);
        if let (Some((_, last)), Some((_, old))) = (last, old)
            && volts <= 1.1 * self.least
        {
            let (falls, rises) = (volts < rules::DYING * old, rules::DYING * volts > *old);
            self.dying += u32::from(falls && volts < rules::DYING_STEP * last);
            self.stands = self.stands.or(Some(at)).filter(|_| !falls && !rises);
        }
        if self
            .stands
            .is_some_and(|stands| since(stands) >= rules::STANDS_SECONDS)
        {
            self.dying = 0;
        }
        self.past.copy_within(0..PAST - 1, 1);
        self.past[0] = (at, volts);
        self.used = (self.used + 1).min(PAST);
    }
}

/// What stands beside a voltage.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    /// The voltage asked for.
    pub(super) nominal: f64,
    /// Whether the reading is one of its own.
    pub(super) apart: bool,
    /// Whether there were numbers under full voltage.
    pub(super) numbers: bool,
}
