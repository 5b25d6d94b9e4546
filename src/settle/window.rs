//! The last seconds of a plateau in bins, and whether what is still to come
//! is below the tolerance.
//!
//! Everything is in counts of the range shown and in seconds of dwell, so the
//! answer is the same in ohms and in kilohms. A reading only adds to the
//! newest bin; sums over bins are made when a bin closes, a few times a second.

use super::rules;

/// Bins kept: 12 s at the usual rates, more on slow meters.
const BINS: usize = 48;
/// Seconds of dwell in a bin, unless one reading spans more.
const BIN_SECONDS: f64 = 0.25;

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
    /// A curve of which this many counts are still to come.
    Curve(f64),
}

#[derive(Clone, Copy, Debug, Default)]
struct Bin {
    readings: u32,
    dwell: f64,
    sum: f64,
    least: f64,
    most: f64,
}

/// Sums over the newest bins, up to and including one of them.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    bins: f64,
    readings: f64,
    dwell: f64,
    x: f64,
    xx: f64,
    t: f64,
    tt: f64,
    tx: f64,
    steps: f64,
    least: f64,
    most: f64,
}

/// The plateau that is being looked at.
#[derive(Clone, Debug)]
pub(super) struct Window {
    bins: [Bin; BINS],
    /// Where the newest bin is.
    newest: usize,
    used: usize,
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
            bins: [Bin::default(); BINS],
            newest: 0,
            used: 0,
            origin: 0.0,
            dwell: 0.0,
            readings: 0,
            hindrance: Hindrance::Short,
        }
    }

    /// Starts anew.
    pub(super) fn clear(&mut self) {
        self.used = 0;
        self.newest = 0;
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

    /// Where the plateau is now, in counts: the mean of its newest readings.
    pub(super) fn level(&self) -> Option<f64> {
        if self.used == 0 {
            return None;
        }
        let (mut sum, mut readings) = (0.0, 0.0);
        for back in 0..self.used.min(3) {
            let bin = self.bin(back);
            sum += bin.sum;
            readings += f64::from(bin.readings);
        }
        Some(self.origin + sum / readings)
    }

    /// Adds a reading; says whether a bin closed before it, which is when to look.
    pub(super) fn add(&mut self, count: f64, dwell: f64) -> bool {
        if self.used == 0 {
            self.origin = count;
            self.used = 1;
            self.readings = 1;
            self.bins[0] = Bin::of(0.0, 0.0);
            return false;
        }
        let x = count - self.origin;
        self.dwell += dwell;
        self.readings = self.readings.saturating_add(1);
        let bin = &mut self.bins[self.newest];
        // A reading of the same chunk belongs to the same bin, however full.
        if dwell == 0.0 || bin.dwell + 0.5 * dwell <= BIN_SECONDS {
            bin.add(x, dwell);
            return bin.dwell + 0.5 * dwell > BIN_SECONDS;
        }
        self.newest = (self.newest + 1) % BINS;
        self.used = (self.used + 1).min(BINS);
        self.bins[self.newest] = Bin::of(x, dwell);
        true
    }

    fn bin(&self, back: usize) -> &Bin {
        &self.bins[(self.newest + BINS - back) % BINS]
    }

    /// Looks for the shortest window that is long enough and of which nothing
    /// beyond the tolerance is still to come.
    pub(super) fn look(&mut self, need: Need) -> Option<Plateau> {
        if self.dwell < need.dwell || self.readings < need.readings {
            self.hindrance = Hindrance::Short;
            return None;
        }
        let mut sums = [Sums::default(); BINS + 1];
        let mut newer_mean = 0.0;
        for back in 0..self.used {
            let bin = *self.bin(back);
            let mut sum = sums[back];
            let mean = bin.sum / f64::from(bin.readings);
            // The centre of a bin lies half its own dwell before its end.
            let t = -(sum.dwell + 0.5 * bin.dwell);
            sum.bins += 1.0;
            sum.readings += f64::from(bin.readings);
            sum.dwell += bin.dwell;
            sum.x += mean;
            sum.xx += mean * mean;
            sum.t += t;
            sum.tt += t * t;
            sum.tx += t * mean;
            if back == 0 {
                (sum.least, sum.most) = (bin.least, bin.most);
            } else {
                sum.steps += (mean - newer_mean) * (mean - newer_mean);
                sum.least = sum.least.min(bin.least);
                sum.most = sum.most.max(bin.most);
            }
            newer_mean = mean;
            sums[back + 1] = sum;
        }
        let mut tried = 0.0;
        let mut first = None;
        for k in 4..=self.used {
            let sum = &sums[k];
            if sum.dwell < need.dwell
                || sum.readings < f64::from(need.readings)
                || sum.dwell < 1.15 * tried
            {
                continue;
            }
            tried = sum.dwell;
            match judge(&sums[..=self.used], k, need) {
                Ok(mut plateau) => {
                    plateau.value += self.origin;
                    self.hindrance = Hindrance::Short;
                    return Some(plateau);
                }
                Err(why) => first = first.or(Some(why)),
            }
        }
        self.hindrance = first.unwrap_or_default();
        None
    }
}

impl Bin {
    fn of(x: f64, dwell: f64) -> Self {
        Self {
            readings: 1,
            dwell,
            sum: x,
            least: x,
            most: x,
        }
    }

    fn add(&mut self, x: f64, dwell: f64) {
        self.readings += 1;
        self.dwell += dwell;
        self.sum += x;
        self.least = self.least.min(x);
        self.most = self.most.max(x);
    }
}

/// A line through the newest bins, with doubts.
struct Line {
    mean: f64,
    slope: f64,
    /// Standard error of the mean.
    mean_doubt: f64,
    /// Standard error of the slope.
    slope_doubt: f64,
    /// Value of the line at the end.
    end: f64,
}

fn line(sum: &Sums) -> Line {
    let n = sum.bins;
    let mean = sum.x / n;
    let tt = (sum.tt - sum.t * sum.t / n).max(1e-12);
    let tx = sum.tx - sum.t * sum.x / n;
    let xx = (sum.xx - sum.x * mean).max(0.0);
    let slope = tx / tt;
    let rest = (xx - slope * tx).max(0.0);
    let variance = rest / (n - 2.0).max(1.0);
    // Neighbours that resemble each other (a display filter, a slow swing)
    // make fewer independent values, ones that alternate (mains pickup) a better
    // mean: the ratio of the mean square step to the
    // variance, 2 for independent ones, says how many (von Neumann).
    let step = sum.steps / (n - 1.0).max(1.0);
    let alike = if variance > 1e-9 {
        (2.0 * variance / step.max(1e-9)).clamp(0.5, 6.0)
    } else {
        1.0
    };
    let rounding = rules::ROUNDING * rules::ROUNDING / n;
    let mean_doubt = (variance * alike / n + rounding).sqrt();
    let slope_doubt = ((variance * alike + rounding) / tt).sqrt();
    Line {
        mean,
        slope,
        mean_doubt,
        slope_doubt,
        end: mean - slope * (sum.t / n),
    }
}

/// Whether the newest `k` bins are a plateau that can be taken.
fn judge(sums: &[Sums], k: usize, need: Need) -> Result<Plateau, Hindrance> {
    let sum = &sums[k];
    let line = line(sum);
    // Within a count of the middle for long enough: rounding, not noise.
    let still = sum.most - sum.least <= rules::STILL_COUNTS
        && need.tol >= rules::STILL_COUNTS
        && sum.readings >= rules::STILL_READINGS
        && line.slope.abs() <= rules::STILL_DRIFT * need.drift;
    if !still && line.mean_doubt > rules::MEAN_DOUBT * need.tol {
        let Some(value) = beat(sums, k, line.mean, need) else {
            return Err(Hindrance::Noise(line.mean_doubt));
        };
        return Ok(Plateau {
            value,
            spread: sum.most - sum.least,
            readings: sum.readings as u32,
            dwell: sum.dwell,
            drifting: false,
        });
    }
    let drift_fits = still
        || line.slope.abs() <= rules::DRIFT_SLACK * need.drift
            && line.slope.abs() + rules::DOUBT * line.slope_doubt
                <= rules::DRIFT_DOUBT * need.drift;
    if let Some(counts) = still_runs(sums, k, need) {
        return Err(Hindrance::Curve(counts));
    }
    if !drift_fits {
        return Err(Hindrance::Drift(line.slope));
    }
    if line.slope.abs() > rules::SLOPE_MOST * need.tol + rules::DOUBT * line.slope_doubt {
        return Err(Hindrance::Drift(line.slope));
    }
    let drifting = line.slope.abs() * sum.dwell > 1.0;
    Ok(Plateau {
        value: if drifting { line.end } else { line.mean },
        spread: sum.most - sum.least,
        readings: sum.readings as u32,
        dwell: sum.dwell,
        drifting,
    })
}

/// The mean of a regular swing that the window spans more than twice: mains
/// pickup that beats with the reading rate. The mean must no longer depend on
/// where the window ends.
fn beat(sums: &[Sums], k: usize, mean: f64, need: Need) -> Option<f64> {
    let sum = &sums[k];
    if sum.dwell < rules::BEAT_SECONDS || sum.most - sum.least > rules::BEAT_TOLS * need.tol {
        return None;
    }
    // Between crossings of the mean lie half beats: equally long ones in
    // pickup, long and short ones in what only wanders.
    let mut crossings = 0;
    let mut above = None;
    let mut crossed = 0.0;
    let (mut shortest, mut longest) = (f64::INFINITY, 0.0_f64);
    for pair in sums[..=k].windows(2) {
        let now = Some(pair[1].x - pair[0].x > mean);
        if above.is_some() && above != now {
            if crossings > 0 {
                shortest = shortest.min(pair[0].dwell - crossed);
                longest = longest.max(pair[0].dwell - crossed);
            }
            crossings += 1;
            crossed = pair[0].dwell;
        }
        above = now;
    }
    if crossings < rules::BEAT_CROSSINGS || longest > rules::BEAT_REGULAR * shortest {
        return None;
    }
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for sum in &sums[k - 2 * k / 5..=k] {
        let running = sum.x / sum.bins;
        least = least.min(running);
        most = most.max(running);
    }
    (most - least <= rules::BEAT_MEAN * need.tol).then_some(0.5 * (least + most))
}

/// Whether the whole of what is kept runs faster than drift may, and if so
/// how much of it is still to come, unless that is little. A short window on
/// a slow curve looks flat; a long one does not. On an exponential the means
/// of equal thirds differ by a constant ratio (Aitken's delta-squared).
fn still_runs(sums: &[Sums], k: usize, need: Need) -> Option<f64> {
    let all = sums.len() - 1;
    let whole = &sums[all];
    if whole.dwell < rules::LONG_FACTOR * sums[k].dwell || all < 6 {
        return None;
    }
    let line = line(whole);
    if line.slope.abs() - line.slope_doubt <= rules::LONG_DRIFT * need.drift {
        return None;
    }
    let third = |part: f64| {
        let dwell = part * whole.dwell / 3.0;
        let at = sums.partition_point(|s| s.dwell < dwell).clamp(1, all);
        sums[at]
    };
    let (a, b) = (third(1.0), third(2.0));
    let newest = a.x / a.bins;
    let middle = (b.x - a.x) / (b.bins - a.bins).max(1.0);
    let oldest = (whole.x - b.x) / (whole.bins - b.bins).max(1.0);
    let (first, second) = (middle - newest, oldest - middle);
    // What moved once and then stopped has no curve; what turned has no end.
    let ratio = if first * second < 0.0 {
        0.98
    } else {
        (first.abs() / second.abs().max(1e-9)).min(0.98)
    };
    let to_come = first.abs() * ratio * ratio.sqrt() / (1.0 - ratio);
    (to_come > rules::LONG_TO_COME * need.tol).then_some(to_come)
}
