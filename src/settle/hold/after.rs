//! How the voltage falls: whether it dies away, and whether the button came up.
//!
//! Times are seconds of a clock of readings: those of a burst are as far from
//! each other as they were sent.

use crate::reading::Got;

use super::rules;

/// Voltages kept, each a fifth of a second after the one before.
const PAST: usize = 6;

/// The voltage of late, and since it became too little.
#[derive(Clone, Copy, Debug)]
pub(super) struct After {
    /// Newest first.
    past: [(f64, f64); PAST],
    used: usize,
    /// Readings in a row in which it dies away, or did before it rose.
    dying: u32,
    /// Since when it has been too little.
    since: Option<f64>,
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
            past: [(0.0, 0.0); PAST],
            used: 0,
            dying: 0,
            since: None,
            least: f64::INFINITY,
            gone: 0,
            up: false,
        }
    }
}

impl After {
    /// A voltage under which a run goes on, or one that begins to be too little.
    pub(super) fn held(&mut self, at: f64, volts: f64) {
        (self.least, self.since) = (f64::INFINITY, None);
        (self.up, self.gone) = (false, 0);
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
    pub(super) fn low(&mut self, at: f64, got: &Got, volts: f64, of: &Seen) {
        let part = volts / of.nominal;
        if of.apart {
            self.gone = if part < 0.5 * rules::PRESSED {
                self.gone + 1
            } else {
                0
            };
        }
        if part < of.enough {
            self.since = self.since.or(Some(at));
        }
        let idle = of.numbers && !matches!(got, Got::Value(_));
        if self.gone >= 2 || self.gone == 1 && idle {
            self.up = true;
        }
        let lasted = self.since.map_or(0.0, |since| at - since);
        let rises = volts > rules::AGAIN * self.least + 0.02 * of.nominal;
        if rises && self.dying() && lasted >= rules::SAG_SECONDS {
            self.up = true;
        }
        if part >= of.enough && !self.up {
            // It sagged and is back.
            self.least = f64::INFINITY;
        }
        if part >= of.enough {
            self.since = None;
        }
        self.see(at, volts);
        self.least = self.least.min(volts);
    }

    /// Looks at the voltage each fifth of a second.
    fn see(&mut self, at: f64, volts: f64) {
        let kept = &self.past[..self.used];
        let since = |then: f64| at - then;
        let Some((last, step)) = kept.first().copied() else {
            return self.keep(at, volts);
        };
        if since(last) < rules::DYING_SECONDS / 2.0 {
            return;
        }
        let near = |old: f64| volts >= rules::DYING * old && volts * rules::DYING <= old;
        let known = kept
            .iter()
            .position(|(then, _)| since(*then) >= rules::STANDS_SECONDS);
        let stands = known.is_some_and(|known| kept[..=known].iter().all(|(_, old)| near(*old)));
        let old = kept
            .iter()
            .find(|(then, _)| since(*then) >= rules::DYING_SECONDS);
        let old = old.map_or(0.0, |(_, old)| *old);
        let in_run = self.least == f64::INFINITY;
        if volts <= 1.1 * self.least {
            self.dying = match volts < rules::DYING * old {
                true => self.dying + u32::from(volts < rules::DYING_STEP * step),
                false if in_run => 0,
                // The same voltage once may be the next press on its way up.
                false if stands => self.dying / 2,
                false => self.dying,
            };
        }
        self.keep(at, volts);
    }

    fn keep(&mut self, at: f64, volts: f64) {
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
    /// The part of it that is enough.
    pub(super) enough: f64,
    /// Whether the reading is one of its own.
    pub(super) apart: bool,
    /// Whether there were numbers under full voltage.
    pub(super) numbers: bool,
}
