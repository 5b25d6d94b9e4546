//! Steady tests: one contact from the clips going on to the clips coming off.
//!
//! A contact is taken once. It ends with over-range of at least two readings
//! and about a second, with another unit, or, for meters that never show
//! over-range, with a new plateau far from the value taken.

use core::time::Duration;

use crate::quantity::{Decimal, Ohms, Shown, Unit};
use crate::reading::{Got, Method, Outcome, Sample, Take};
use crate::stamp::Stamp;

use super::look::{Hindrance, Need};
use super::pace::Pace;
use super::rules;
use super::window::{Plateau, Window};
use super::{Reset, Steady};

/// Where a contact stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Phase {
    /// Nothing on the clips, or nothing heard.
    Open,
    /// Something on the clips that was not taken.
    Touching,
    /// Taken; the clips are to be removed.
    Taken,
}

/// A run of over-range readings.
#[derive(Clone, Copy, Debug, Default)]
struct Open {
    readings: u32,
    since: Stamp,
    dwell: f64,
    /// Dwell that had passed when it began to count.
    counted_from: f64,
}

/// The contact on one meter's clips.
#[derive(Clone, Debug)]
pub(super) struct Contact {
    pace: Pace,
    window: Window,
    phase: Phase,
    unit: Option<Unit>,
    /// Resolution and full scale of the range shown.
    range: Option<(Decimal, Option<Decimal>)>,
    /// One count in base units.
    count: f64,
    /// Full scale in counts.
    full_scale: Option<f64>,
    open: Open,
    /// A person said that the clips are on: over-range counts once from then.
    clips_on: Option<Stamp>,
    /// Over-range was taken, or a value before it: it does not count again by itself.
    open_done: bool,
    /// A reading far from the plateau, put aside until the next one says what it was.
    aside: bool,
    last: f64,
    /// The reading before, when it lay on the value taken and changed nothing.
    quiet: Option<Shown>,
    /// Usual step from reading to reading, in counts.
    step: f64,
    /// The longest plateau of this contact that broke off, in seconds, and
    /// where it stood, in base units.
    false_plateau: f64,
    false_level: f64,
    /// The value taken, in base units, following slow drift.
    taken: f64,
    /// One count of the range that it was taken on, in base units.
    taken_count: f64,
    /// When it was taken.
    taken_at: Stamp,
    /// What the newest reading would need.
    need: Need,
    spread: f64,
}

impl Contact {
    /// Nothing heard yet; the first contact may be taken.
    pub(super) fn new() -> Self {
        Self {
            pace: Pace::default(),
            window: Window::new(),
            phase: Phase::Open,
            unit: None,
            range: None,
            count: 1.0,
            full_scale: None,
            open: Open::default(),
            clips_on: None,
            open_done: false,
            aside: false,
            last: 0.0,
            quiet: None,
            step: 0.0,
            false_plateau: 0.0,
            false_level: 0.0,
            taken: 0.0,
            taken_count: 0.0,
            taken_at: Stamp::ZERO,
            need: Need {
                dwell: rules::DWELL_RANGING,
                readings: rules::READINGS_RANGING,
                tol: 0.0,
                drift: 0.0,
            },
            spread: 0.0,
        }
    }

    /// Where it stands.
    pub(super) fn phase(&self) -> Phase {
        self.phase
    }

    /// When the value was taken.
    pub(super) fn taken_at(&self) -> Stamp {
        self.taken_at
    }

    /// Seconds of plateau, seconds needed, and what hinders.
    pub(super) fn progress(&self) -> (f64, Need, Hindrance) {
        (self.window.dwell(), self.need, self.window.hindrance())
    }

    /// Spread of the last plateau in base units.
    pub(super) fn spread(&self) -> Ohms {
        Ohms(self.spread)
    }

    /// Over-range counts from `at`, once.
    pub(super) fn clips_on(&mut self, at: Stamp) {
        // Said again while it counts: the count goes on, so that someone who
        // keeps pressing gets an answer.
        if self.clips_on.is_none() {
            self.clips_on = Some(at);
            self.open.counted_from = self.open.dwell;
        }
    }

    /// Another point is asked for: over-range may count for it.
    pub(super) fn another_point(&mut self) {
        self.open_done = false;
        self.open.counted_from = self.open.dwell;
    }

    /// The clips have been elsewhere: what was taken may be taken again.
    pub(super) fn elsewhere(&mut self) {
        self.reset(Reset::Gap);
        self.begin(Phase::Open);
    }

    /// Starts anew as far as `why` allows.
    pub(super) fn reset(&mut self, why: Reset) {
        self.window.clear();
        self.pace.gap();
        self.open = Open::default();
        self.aside = false;
        match why {
            Reset::Again => {
                self.begin(Phase::Open);
                self.open_done = false;
            }
            Reset::Gap | Reset::ClockStep => {
                if self.phase == Phase::Touching {
                    self.begin(Phase::Open);
                }
            }
        }
    }

    /// A contact ends or begins: nothing of the one before counts.
    fn begin(&mut self, phase: Phase) {
        self.quiet = None;
        self.phase = phase;
        self.window.clear();
        self.aside = false;
        self.false_plateau = 0.0;
        self.step = 0.0;
    }

    /// A plateau broke off.
    fn broke(&mut self) {
        self.quiet = None;
        if self.window.readings() >= 3
            && self.window.dwell() > self.false_plateau
            && let Some(level) = self.window.level()
        {
            self.false_plateau = self.window.dwell();
            self.false_level = level * self.count;
        }
        self.window.clear();
        self.aside = false;
    }

    /// A sample arrived.
    pub(super) fn push(&mut self, at: Stamp, sample: &Sample, spec: &Steady) -> Option<Take> {
        // A number that is not on the clips now is silence.
        if sample.flags.not_now() {
            return None;
        }
        match &sample.got {
            Got::Nothing => None,
            &Got::Over { unit, full_scale } => {
                let outcome = self.over(at, unit, full_scale, spec)?;
                Some(self.take(at, sample, outcome, None))
            }
            Got::Value(shown) => {
                let plateau = self.value(at, shown, spec)?;
                let outcome = Outcome::Value(self.shown(shown, &plateau));
                self.phase = Phase::Taken;
                self.taken = plateau.value * self.count;
                self.taken_count = self.count;
                self.taken_at = at;
                self.open_done = true;
                self.clips_on = None;
                self.spread = plateau.spread * self.count;
                let take = self.take(at, sample, outcome, Some(plateau));
                self.window.clear();
                Some(take)
            }
        }
    }

    fn over(
        &mut self,
        at: Stamp,
        unit: Unit,
        full_scale: Option<Decimal>,
        spec: &Steady,
    ) -> Option<Outcome> {
        self.unit_is(unit);
        let passed = self.pace.reading(at);
        self.broke();
        // Over-range volts open no contact.
        if unit != Unit::Ohm {
            return None;
        }
        if self.open.readings == 0 {
            self.open = Open {
                readings: 1,
                since: at,
                ..Open::default()
            };
        } else if passed.seconds > 0.0 {
            self.open.readings = self.open.readings.saturating_add(1);
            self.open.dwell += passed.dwell;
        }
        if self.phase != Phase::Open && self.opened(at) {
            self.begin(Phase::Open);
        }
        let said = match self.clips_on {
            Some(on) => at.since(on) >= spec.open_hold,
            None => spec.open_is_verdict && !self.open_done,
        };
        let counted = self.open.dwell - self.open.counted_from;
        if !said || counted < spec.open_hold.as_secs_f64() - 1e-9 {
            return None;
        }
        self.clips_on = None;
        self.open_done = true;
        self.begin(Phase::Open);
        Some(Outcome::Open { full_scale })
    }

    /// Whether the run of over-range that ends at `at` was a removal.
    fn opened(&self, at: Stamp) -> bool {
        let readings = f64::from(self.open.readings);
        self.open.readings >= rules::OPEN_READINGS
            && (at.since(self.open.since).as_secs_f64() >= rules::OPEN_SECONDS
                // A burst squeezes what lasted longer.
                || readings * self.pace.usual() >= 1.5 * rules::OPEN_SECONDS)
    }

    /// Another unit is another contact.
    fn unit_is(&mut self, unit: Unit) {
        if self.unit != Some(unit) {
            if self.unit.is_some() {
                self.begin(Phase::Open);
            }
            self.unit = Some(unit);
            self.range = None;
        }
    }

    fn value(&mut self, at: Stamp, shown: &Shown, spec: &Steady) -> Option<Plateau> {
        if self.quiet.is_some_and(|quiet| identical(&quiet, shown)) {
            self.pace.touch(at);
            return None;
        }
        self.quiet = None;
        self.unit_is(shown.unit);
        let passed = self.pace.reading(at);
        if self.open.readings > 0 {
            if self.opened(at) {
                self.begin(Phase::Open);
            }
            self.open = Open::default();
        }
        if passed.seconds > rules::SILENCE
            && passed.seconds > rules::SILENCE_INTERVALS * self.pace.usual()
        {
            self.window.clear();
            self.aside = false;
        }
        let same_range = self.range.is_some_and(|(resolution, full_scale)| {
            resolution.is_alike(shown.resolution) && same_option(full_scale, shown.full_scale)
        });
        if !same_range {
            self.broke();
            self.range = Some((shown.resolution, shown.full_scale));
            self.count = shown.resolution.to_f64();
            self.full_scale = shown
                .full_scale
                .map(|full| in_counts(full, shown.resolution));
        }
        let x = in_counts(shown.value, shown.resolution);
        let tol = spec.tol_counts.max(spec.tol_rel * x.abs());
        if self.phase == Phase::Taken {
            let away = (x - self.taken / self.count).abs();
            if away <= (rules::ANOTHER_TOLS * tol).max(rules::ANOTHER_NOISES * self.step) {
                self.window.clear();
                self.false_plateau = 0.0;
                // Only on a range as fine as the value's own.
                if away <= tol && self.count <= self.taken_count {
                    self.taken += 0.1 * (x * self.count - self.taken);
                }
                self.last = x;
                // Once the level has followed, the same again changes nothing.
                if away <= rules::LEVEL_FOLLOWED {
                    self.quiet = Some(*shown);
                }
                return None;
            }
        } else {
            self.phase = Phase::Touching;
        }
        if self.jumped(x, tol) {
            return None;
        }
        self.last = x;
        let full = self.window.add(x, passed.dwell);
        if full || self.window.readings() == 1 {
            self.need = self.need(x, tol, spec);
        }
        if !full {
            return None;
        }
        self.window.look(self.need)
    }

    /// Whether `x` lies so far from the plateau that it is put aside. The
    /// second such reading in a row ends the plateau and begins the next.
    fn jumped(&mut self, x: f64, tol: f64) -> bool {
        let Some(level) = self.window.level() else {
            return false;
        };
        let away = (x - level).abs();
        let far = (rules::JUMP_TOLS * tol).max(rules::JUMP_STEPS * self.step);
        if away <= far {
            let step = (x - self.last).abs().min(4.0 * self.step + 1.0);
            self.step += 0.15 * (step - self.step);
            self.aside = false;
            return false;
        }
        if self.aside || self.window.readings() < 3 {
            self.broke();
            return false;
        }
        self.aside = true;
        true
    }

    fn need(&self, x: f64, tol: f64, spec: &Steady) -> Need {
        let (base, readings) = match self.full_scale {
            Some(full) if x.abs() > rules::FITS_LOWER * full => (rules::DWELL, rules::READINGS),
            Some(full) if x.abs() <= rules::FITS_TWO_LOWER * full => {
                (rules::DWELL_RANGING, rules::READINGS_FAR)
            }
            Some(_) => (rules::DWELL_RANGING, rules::READINGS_RANGING),
            None => (rules::DWELL_UNKNOWN, rules::READINGS_RANGING),
        };
        // A plateau that broke off and is back was none: a bump, a spike.
        let back = (x - self.false_level / self.count).abs() <= rules::BACK_TOLS * tol;
        let after_false = if self.false_plateau > 0.0 && !back {
            rules::FALSE_FACTOR * self.false_plateau + rules::FALSE_EXTRA
        } else {
            0.0
        };
        let dwell = base.max(after_false).min(rules::DWELL_MOST);
        let another = if self.phase == Phase::Taken {
            rules::ANOTHER_FACTOR
        } else {
            1.0
        };
        Need {
            dwell: dwell * another,
            readings,
            tol,
            drift: spec.drift_counts_per_s.max(spec.drift_rel_per_s * x.abs()),
        }
    }

    /// The plateau's value as the display would show it.
    fn shown(&self, last: &Shown, plateau: &Plateau) -> Shown {
        let place = last.value.exp().min(last.resolution.exp());
        let whole = |x: f64| (x - x.round_ties_even()).abs() < 1e-6;
        let value = if whole(in_counts(last.value, last.resolution)) {
            let counts = plateau.value.round_ties_even() as i64;
            counts
                .checked_mul(last.resolution.count())
                .and_then(|count| Decimal::new(count, last.resolution.exp()).ok())
        } else {
            Decimal::rounded(plateau.value * self.count, place)
        };
        match value {
            Some(value) if value != last.value => Shown { value, ..*last },
            _ => *last,
        }
    }

    fn take(&self, at: Stamp, sample: &Sample, outcome: Outcome, plateau: Option<Plateau>) -> Take {
        let (samples, window, drifting) = match plateau {
            Some(plateau) => (plateau.readings, plateau.dwell, plateau.drifting),
            None => (self.open.readings, self.open.dwell, false),
        };
        Take {
            at,
            outcome,
            method: if drifting {
                Method::Drifting
            } else {
                Method::Steady
            },
            samples,
            window: Duration::from_secs_f64(window),
            spread: Ohms(plateau.map_or(0.0, |p| p.spread * self.count)),
            elapsed: None,
            test_voltage: sample.test_voltage,
            leakage: sample.leakage,
            temperature: sample.temperature,
            flags: sample.flags,
        }
    }
}

/// A value in counts of a resolution: whole numbers stay whole in any prefix.
fn in_counts(value: Decimal, resolution: Decimal) -> f64 {
    let counts = value.count() as f64 / resolution.count() as f64;
    match value.exp() - resolution.exp() {
        0 => counts,
        by => counts * Decimal::one(by).to_f64(),
    }
}

fn same_option(a: Option<Decimal>, b: Option<Decimal>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => a.is_alike(b),
        (None, None) => true,
        _ => false,
    }
}

fn identical(a: &Shown, b: &Shown) -> bool {
    a.value.is_alike(b.value)
        && a.resolution.is_alike(b.resolution)
        && a.unit == b.unit
        && same_option(a.full_scale, b.full_scale)
}
