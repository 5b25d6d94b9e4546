//! Whether the newest seconds of a plateau can be taken: what is the most that
//! may still be to come?

use super::rules;
use super::sums::{Line, Sums};
use super::window::{Plateau, Window};

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
    /// Up to this many counts may still be to come, and this many are allowed.
    Curve(f64, f64),
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

impl Window {
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
        if self.dwell() < need.dwell || self.readings() < need.readings {
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
                    Some(_) => Hindrance::Curve(to_come, care.may_come * need.tol),
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
                may_be_still: self.dwell() <= rules::STILL_YOUNG,
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
}

/// By how many times what is to come of a curve was more `x` time constants
/// ago, less one; a little less than true, which is careful.
fn growth(x: f64) -> f64 {
    x * (1.0 + x * (0.5 + x / 6.0))
}
