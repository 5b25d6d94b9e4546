//! The last seconds of a plateau: readings gather in bins of a quarter of a
//! second, and running sums stand at every bin's end, so a line through any
//! newest part of what is kept is one difference of sums.
//!
//! Everything is in counts of the range shown and in seconds of dwell, so the
//! answer is the same in ohms and in kilohms. What is made of it: `look`.

use super::look::Hindrance;
use super::sums::{Line, Point, Sums};

/// Bins kept: 10 s at the usual rates, more on slow meters.
const BINS: usize = 40;
/// Seconds of dwell in a bin, unless one reading spans more.
const BIN_SECONDS: f64 = 0.25;

/// A plateau that is good enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plateau {
    /// The value in counts, not rounded.
    pub(super) value: f64,
    /// Largest less smallest reading, in counts.
    pub(super) spread: f64,
    /// Readings in it.
    pub(super) readings: u32,
    /// Seconds of dwell in it.
    pub(super) dwell: f64,
    /// Whether it still moves by more than a count over its length.
    pub(super) drifting: bool,
}

/// A quarter of a second of readings, in counts less the window's origin.
#[derive(Clone, Copy, Debug, Default)]
struct Bin {
    readings: u32,
    dwell: f64,
    sum: f64,
    least: f32,
    most: f32,
}

/// The plateau that is being looked at.
#[derive(Clone, Debug)]
pub(super) struct Window {
    /// Sums up to the end of each closed bin; a ring.
    ends: [Sums; BINS],
    /// The least and the most of each closed bin.
    extremes: [(f32, f32); BINS],
    /// Where the newest closed bin is, and how many are closed.
    newest: usize,
    closed: usize,
    /// The mean of the newest closed bin, and the sum of the newest two.
    last: f64,
    last_two: f64,
    open: Bin,
    /// Subtracted from every count, so that sums stay exact.
    origin: f64,
    /// Dwell of the whole plateau, also of bins that fell out.
    dwell: f64,
    readings: u32,
    pub(super) hindrance: Hindrance,
}

impl Window {
    /// Nothing yet.
    pub(super) fn new() -> Self {
        Self {
            ends: [Sums::default(); BINS],
            extremes: [(0.0, 0.0); BINS],
            newest: 0,
            closed: 0,
            last: 0.0,
            last_two: 0.0,
            open: Bin::default(),
            origin: 0.0,
            dwell: 0.0,
            readings: 0,
            hindrance: Hindrance::Short,
        }
    }

    /// Starts anew.
    pub(super) fn clear(&mut self) {
        self.closed = 0;
        self.last_two = 0.0;
        self.open = Bin::default();
        self.dwell = 0.0;
        self.readings = 0;
        self.hindrance = Hindrance::Short;
    }

    /// Seconds of dwell of the plateau so far.
    pub(super) fn dwell(&self) -> f64 {
        self.dwell
    }

    /// Readings of the plateau so far.
    pub(super) fn readings(&self) -> u32 {
        self.readings
    }

    /// What kept it from being taken when last looked at.
    pub(super) fn hindrance(&self) -> Hindrance {
        self.hindrance
    }

    /// Where the plateau is now, in counts: the mean of its newest bins.
    pub(super) fn level(&self) -> Option<f64> {
        if self.readings == 0 {
            return None;
        }
        let sum = self.open.mean() + self.last_two;
        Some(self.origin + sum / (1 + self.closed.min(2)) as f64)
    }

    /// Adds a reading; says whether its bin is full, which is when to look.
    pub(super) fn add(&mut self, count: f64, dwell: f64) -> bool {
        if self.readings == 0 {
            self.origin = count;
            self.readings = 1;
            self.open = Bin::of(0.0, 0.0);
            return false;
        }
        self.dwell += dwell;
        self.readings = self.readings.saturating_add(1);
        // A reading of the same chunk belongs to the same bin, however full.
        if dwell > 0.0 && self.open.dwell + 0.5 * dwell > BIN_SECONDS {
            self.close();
            self.open = Bin::of(count - self.origin, dwell);
        } else {
            self.open.add(count - self.origin, dwell);
        }
        self.open.dwell + 0.5 * dwell > BIN_SECONDS
    }

    /// The open bin joins the closed ones.
    fn close(&mut self) {
        if self.closed >= BINS && self.newest + 1 == BINS {
            self.rebase();
        }
        let sums = self.now();
        let before = if self.closed == 0 { 0.0 } else { self.last };
        self.last = self.open.mean();
        self.last_two = self.last + before;
        self.newest = match self.closed {
            0 => 0,
            _ => (self.newest + 1) % BINS,
        };
        self.ends[self.newest] = sums;
        self.extremes[self.newest] = (self.open.least, self.open.most);
        self.closed = (self.closed + 1).min(BINS);
    }

    /// Once a round the oldest sums are taken off all and the origin follows
    /// the level, so that differences stay exact however long it drifts.
    fn rebase(&mut self) {
        let base = *self.end(self.closed - 1);
        let by = self.last;
        for end in &mut self.ends {
            *end = end.after(&base, by);
        }
        for (least, most) in &mut self.extremes {
            *least -= by as f32;
            *most -= by as f32;
        }
        self.open.sum -= by * f64::from(self.open.readings);
        self.open.least -= by as f32;
        self.open.most -= by as f32;
        self.last = 0.0;
        self.last_two -= 2.0 * by;
        self.origin += by;
    }

    /// Sums up to the end of the open bin.
    pub(super) fn now(&self) -> Sums {
        let x = self.open.mean();
        let step = match self.closed {
            0 => 0.0,
            _ => x - self.last,
        };
        self.end(0).with(Point {
            x,
            step,
            readings: f64::from(self.open.readings),
            dwell: self.open.dwell,
        })
    }

    /// Sums up to the end of the closed bin `back` before the newest one;
    /// none before the first.
    pub(super) fn end(&self, back: usize) -> &Sums {
        if back >= self.closed {
            return &Sums::NONE;
        }
        let at = self.newest + BINS - back;
        &self.ends[if at < BINS { at } else { at - BINS }]
    }

    /// Bins that a line can go through, the open one among them.
    pub(super) fn bins(&self) -> usize {
        self.closed.min(BINS - 1) + 1
    }

    /// The line through the newest `bins`, two at least.
    pub(super) fn line(&self, now: &Sums, bins: usize) -> Line {
        Line::between(self.end(bins - 1), self.end(bins - 2), now)
    }

    /// The newest `bins` as what is taken; `value` less the origin.
    pub(super) fn plateau(&self, now: &Sums, bins: usize, value: f64, drifting: bool) -> Plateau {
        let base = self.end(bins - 1);
        let (mut least, mut most) = (self.open.least, self.open.most);
        for back in 0..bins - 1 {
            let (low, high) = self.extremes[(self.newest + BINS - back) % BINS];
            least = least.min(low);
            most = most.max(high);
        }
        Plateau {
            value: self.origin + value,
            spread: f64::from(most - least),
            readings: (now.readings - base.readings) as u32,
            dwell: now.end - base.end,
            drifting,
        }
    }
}

impl Bin {
    fn of(x: f64, dwell: f64) -> Self {
        let mut bin = Self {
            least: f32::INFINITY,
            most: f32::NEG_INFINITY,
            ..Self::default()
        };
        bin.add(x, dwell);
        bin
    }

    fn add(&mut self, x: f64, dwell: f64) {
        self.readings += 1;
        self.dwell += dwell;
        self.sum += x;
        self.least = self.least.min(x as f32);
        self.most = self.most.max(x as f32);
    }

    fn mean(&self) -> f64 {
        self.sum / f64::from(self.readings.max(1))
    }
}
