//! The last seconds of a plateau, and the most that may still be to come.
//!
//! Everything is in counts of the range shown and in seconds of dwell, so the
//! answer is the same in ohms and in kilohms. Readings gather in bins of a
//! quarter of a second; running sums stand at every bin's end, so a line
//! through any newest part of what is kept is one difference of sums.

use super::rules;
use super::sums::{Line, Point, Sums};

/// Bins kept: 10 s at the usual rates, more on slow meters.
const BINS: usize = 40;
/// Seconds of dwell in a bin, unless one reading spans more.
const BIN_SECONDS: f64 = 0.25;
/// A line needs this many bins.
const LEAST_BINS: usize = 4;

/// What must hold for a plateau to be taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Need {
    /// Seconds of dwell.
    pub(super) dwell: f64,
    /// Readings.
    pub(super) readings: u32,
    /// Tolerance in counts.
    pub(super) tol: f64,
    /// Drift in counts a second that is settled for now.
    pub(super) drift: f64,
}

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

/// What kept a plateau from being taken.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) enum Hindrance {
    /// Not long enough yet.
    #[default]
    Short,
    /// The mean is in doubt by this many counts.
    Noise(f64),
    /// It drifts by this many counts a second.
    Drift(f64),
    /// A curve of which up to this many counts may still be to come.
    Curve(f64),
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

/// How careful to be about what may be to come.
struct Care {
    /// Seconds of the slowest curve that it may be.
    slowest: f64,
    /// Standard errors that count as doubt.
    errors: f64,
    /// Counts that the display may hide.
    unseen: f64,
    /// Tolerances that may be to come.
    may_come: f64,
    /// Whether standing still is enough.
    may_be_still: bool,
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
    hindrance: Hindrance,
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
    fn now(&self) -> Sums {
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
    fn end(&self, back: usize) -> &Sums {
        if back >= self.closed {
            return &Sums::NONE;
        }
        let at = self.newest + BINS - back;
        &self.ends[if at < BINS { at } else { at - BINS }]
    }

    /// Bins that a line can go through, the open one among them.
    fn bins(&self) -> usize {
        self.closed.min(BINS - 1) + 1
    }

    /// The line through the newest `bins`, two at least.
    fn line(&self, now: &Sums, bins: usize) -> Line {
        Line::between(self.end(bins - 1), self.end(bins - 2), now)
    }

    /// Looks whether the newest seconds can be taken.
    pub(super) fn look(&mut self, need: Need) -> Option<Plateau> {
        match self.judge(need) {
            Ok(plateau) => {
                self.hindrance = Hindrance::Short;
                Some(plateau)
            }
            Err(hindrance) => {
                self.hindrance = hindrance;
                None
            }
        }
    }

    fn judge(&self, need: Need) -> Result<Plateau, Hindrance> {
        if self.dwell < need.dwell || self.readings < need.readings {
            return Err(Hindrance::Short);
        }
        let now = self.now();
        let hindrance = match self.settled(&now, need) {
            Ok(plateau) => return Ok(plateau),
            Err(hindrance) => hindrance,
        };
        self.swing(&now, need).ok_or(hindrance)
    }

    /// The shortest newest part whose mean is sure enough, if over some part
    /// what a curve could have to come is below the tolerance.
    fn settled(&self, now: &Sums, need: Need) -> Result<Plateau, Hindrance> {
        let enough = |bins: &usize| {
            let base = self.end(bins - 1);
            now.end - base.end >= need.dwell
                && now.readings - base.readings >= f64::from(need.readings)
        };
        let all = self.bins();
        let mut bins = (LEAST_BINS..=all).find(enough).ok_or(Hindrance::Short)?;
        let mut line = self.line(now, bins);
        let moving = line.slope.abs() - rules::SURE * line.slope_doubt;
        if moving > rules::MOVING * need.drift {
            return Err(Hindrance::Drift(line.slope));
        }
        // Noise shrinks with the root of what is averaged, at best.
        let at_best = line.mean_doubt * libm::sqrt(bins as f64 / all as f64);
        if at_best > rules::HOPELESS * need.tol {
            return Err(Hindrance::Noise(line.mean_doubt));
        }
        let care = self.care(now, bins, line.mean, need);
        let mut value = None;
        let mut to_come = f64::INFINITY;
        loop {
            if value.is_none() && line.mean_doubt <= rules::MEAN_DOUBT * need.tol {
                value = Some((bins, line));
            }
            if care.may_be_still && self.still(now, bins, &line, need) {
                return Ok(self.plateau(now, bins, line.mean, false));
            }
            let doubt = care.errors * line.slope_doubt * line.span + care.unseen;
            let most = (line.slope.abs() * line.span + doubt) / growth(line.span / care.slowest);
            to_come = to_come.min(most);
            if let Some((bins, line)) = value
                && to_come <= care.may_come * need.tol
            {
                let drifting = line.moves(1.0);
                let value = if drifting { line.end } else { line.mean };
                return Ok(self.plateau(now, bins, value, drifting));
            }
            if bins == all {
                return Err(match value {
                    Some(_) => Hindrance::Curve(to_come),
                    None => Hindrance::Noise(line.mean_doubt),
                });
            }
            bins = (bins + bins.div_ceil(2)).min(all);
            line = self.line(now, bins);
        }
    }

    /// How careful to be about what may be to come: more where what is kept
    /// wanders, as far back as it is the same story.
    fn care(&self, now: &Sums, bins: usize, level: f64, need: Need) -> Care {
        let all = self.bins();
        let restless = self.restless(now, all) && {
            let windows = (rules::NEAR_WINDOWS * bins as f64) as usize;
            let near = self.near(now, level, rules::NEAR * need.tol);
            self.restless(now, near.max(windows).min(all))
        };
        if restless {
            Care {
                slowest: self.slowest(now, all),
                errors: rules::DOUBT_RESTLESS,
                unseen: rules::UNSEEN,
                may_come: rules::TO_COME_RESTLESS,
                may_be_still: self.dwell <= rules::STILL_YOUNG,
            }
        } else {
            Care {
                slowest: rules::SLOWEST_CURVE,
                errors: rules::DOUBT,
                unseen: 0.0,
                may_come: rules::TO_COME,
                may_be_still: true,
            }
        }
    }

    /// The mean of whole beats of a regular swing: mains pickup that beats
    /// with the reading rate. Half beats lie between crossings of the mean,
    /// equally long ones in pickup, long and short ones in what only wanders;
    /// and one whole beat has the mean of the next.
    fn swing(&self, now: &Sums, need: Need) -> Option<Plateau> {
        let bins = self.bins();
        let oldest = self.end(bins - 1);
        let most = rules::BEAT_TOLS * need.tol;
        if now.end - oldest.end < rules::BEAT_SECONDS || 8.0 * now.variance(oldest) > most * most {
            return None;
        }
        let middle = now.mean(oldest);
        let mut crossings = [0; rules::BEAT_CROSSINGS];
        let mut found = 0;
        let mut above = None;
        let mut newer = now;
        for bin in 0..bins {
            let end = self.end(bin);
            let is_above = newer.x - end.x > middle;
            if above.is_some_and(|above| above != is_above) {
                crossings[found] = bin;
                found += 1;
                if found == crossings.len() {
                    break;
                }
            }
            above = Some(is_above);
            newer = end;
        }
        if found < rules::BEAT_CROSSINGS {
            return None;
        }
        let at = |crossing: usize| self.end(crossings[crossing] - 1);
        let (mut shortest, mut longest) = (f64::INFINITY, 0.0_f64);
        for half in 1..found {
            if crossings[half] - crossings[half - 1] < rules::BEAT_BINS {
                return None;
            }
            let seconds = at(half - 1).end - at(half).end;
            shortest = shortest.min(seconds);
            longest = longest.max(seconds);
        }
        if longest > rules::BEAT_REGULAR * shortest {
            return None;
        }
        let beat = |newest: usize, oldest: usize| at(newest).mean(at(oldest));
        let (new, old) = (beat(0, 2), beat(found - 3, found - 1));
        let apart = at(0).end - at(found - 3).end;
        if (new - old).abs() > rules::BEAT_DRIFT * need.drift * apart + rules::BEAT_MEAN * need.tol
        {
            return None;
        }
        let last = found - 1 - (found - 1) % 2;
        let value = beat(0, last);
        Some(self.plateau(now, crossings[last] + 1, value, false))
    }

    /// Whether the display stays within a count of its middle for so many
    /// readings that chance does not look like that: rounding, not noise.
    fn still(&self, now: &Sums, bins: usize, line: &Line, need: Need) -> bool {
        now.readings - self.end(bins - 1).readings >= rules::STILL_READINGS
            && need.tol >= rules::STILL_COUNTS
            && line.variance <= 1.0
            && line.slope.abs() <= rules::STILL_DRIFT * need.drift
            && self.plateau(now, bins, 0.0, false).spread <= rules::STILL_COUNTS
    }

    /// The newest bins that lie within `far` of `level`: what lay farther off
    /// before them is another story.
    fn near(&self, now: &Sums, level: f64, far: f64) -> usize {
        let mut newer = now.x;
        for bins in 1..=self.bins() {
            let older = self.end(bins - 1).x;
            if (newer - older - level).abs() > far {
                return bins - 1;
            }
            newer = older;
        }
        self.bins()
    }

    /// Whether what is kept wanders: by more than a digit that flickers, and
    /// by more than neighbours differ.
    fn restless(&self, now: &Sums, bins: usize) -> bool {
        let line = self.line(now, bins);
        line.variance > rules::WANDERS && line.shared > rules::SHARED || line.moves(rules::TREND)
    }

    /// The time constant of the curve on which it comes, in seconds, at most
    /// [`rules::SLOWEST_CURVE`]. The line through all that is kept of an
    /// exponential is (e^u + 1) / 2 times as steep as that through its newer
    /// half of u time constants; what bends less may be no exponential.
    fn slowest(&self, now: &Sums, all: usize) -> f64 {
        if all < 2 * LEAST_BINS {
            return rules::SLOWEST_CURVE;
        }
        let whole = self.line(now, all);
        let half = self.line(now, all / 2);
        let steep = whole.slope.abs() - whole.slope_doubt;
        let bends = steep / (half.slope.abs() + rules::SURE * half.slope_doubt).max(1e-9);
        if bends < rules::BENDS || whole.slope * half.slope < 0.0 {
            return rules::SLOWEST_CURVE;
        }
        let slow = half.span / libm::log(2.0 * bends - 1.0);
        slow.clamp(rules::FASTEST_CURVE, rules::SLOWEST_CURVE)
    }

    /// The newest `bins` as what is taken; `value` less the origin.
    fn plateau(&self, now: &Sums, bins: usize, value: f64, drifting: bool) -> Plateau {
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

/// By how many times what is to come of a curve was more `x` time constants
/// ago, less one; a little less than true, which is careful.
fn growth(x: f64) -> f64 {
    x * (1.0 + x * (0.5 + x / 6.0))
}
