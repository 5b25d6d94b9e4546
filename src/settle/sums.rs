//! Running sums over bins, and the line through any newest part of them.

use super::rules;

/// Sums over all bins up to one: differences of two give what lies between.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    /// Bins.
    pub(super) bins: f64,
    /// Readings in them.
    pub(super) readings: f64,
    /// Seconds of dwell at the last bin's end.
    pub(super) end: f64,
    /// Counts, one value a bin, less the origin.
    pub(super) x: f64,
    xx: f64,
    /// Seconds at the bins' middles.
    t: f64,
    tt: f64,
    tx: f64,
    /// Squares of the steps from bin to bin.
    steps: f64,
}

/// A bin as the sums see it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    /// Mean count, less the origin.
    pub(super) x: f64,
    /// Step from the bin before.
    pub(super) step: f64,
    /// Readings.
    pub(super) readings: f64,
    /// Seconds of dwell.
    pub(super) dwell: f64,
}

impl Sums {
    /// Before the first bin.
    pub(super) const NONE: Self = Self {
        bins: 0.0,
        readings: 0.0,
        end: 0.0,
        x: 0.0,
        xx: 0.0,
        t: 0.0,
        tt: 0.0,
        tx: 0.0,
        steps: 0.0,
    };

    /// These and one more bin.
    pub(super) fn with(&self, point: Point) -> Self {
        let t = self.end + 0.5 * point.dwell;
        Self {
            bins: self.bins + 1.0,
            readings: self.readings + point.readings,
            end: self.end + point.dwell,
            x: self.x + point.x,
            xx: self.xx + point.x * point.x,
            t: self.t + t,
            tt: self.tt + t * t,
            tx: self.tx + t * point.x,
            steps: self.steps + point.step * point.step,
        }
    }

    /// What lies after `base`, with time counted from its end and counts from
    /// `origin` more.
    pub(super) fn after(&self, base: &Self, origin: f64) -> Self {
        let n = self.bins - base.bins;
        let (x, t) = (self.x - base.x, self.t - base.t);
        let tau = base.end;
        Self {
            bins: n,
            readings: self.readings - base.readings,
            end: self.end - tau,
            x: x - n * origin,
            xx: self.xx - base.xx - 2.0 * origin * x + n * origin * origin,
            t: t - n * tau,
            tt: self.tt - base.tt - 2.0 * tau * t + n * tau * tau,
            tx: self.tx - base.tx - tau * x - origin * t + n * tau * origin,
            steps: self.steps - base.steps,
        }
    }

    /// The mean of what lies after `base`.
    pub(super) fn mean(&self, base: &Self) -> f64 {
        (self.x - base.x) / (self.bins - base.bins)
    }

    /// The variance about the mean of what lies after `base`.
    pub(super) fn variance(&self, base: &Self) -> f64 {
        let n = self.bins - base.bins;
        let x = self.x - base.x;
        ((self.xx - base.xx - x * x / n) / (n - 1.0)).max(0.0)
    }
}

/// A line through bins, with doubts.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line {
    /// Seconds of dwell that it spans.
    pub(super) span: f64,
    /// Mean count, less the origin.
    pub(super) mean: f64,
    /// Counts a second.
    pub(super) slope: f64,
    /// Standard error of the mean, in counts.
    pub(super) mean_doubt: f64,
    /// Standard error of the slope, in counts a second.
    pub(super) slope_doubt: f64,
    /// The line at the end, in counts less the origin.
    pub(super) end: f64,
    /// Variance about the mean, the slope included, in counts squared.
    pub(super) variance: f64,
    /// How much of it neighbours share: 1 if they are independent.
    pub(super) shared: f64,
}

impl Line {
    /// The line through what lies between `base` and `now`; `first` are the
    /// sums up to its first bin, since the step into that is none of its own.
    pub(super) fn between(base: &Sums, first: &Sums, now: &Sums) -> Self {
        let n = now.bins - base.bins;
        let (sum_x, sum_t) = (now.x - base.x, now.t - base.t);
        let (mean, middle) = (sum_x / n, sum_t / n);
        let tt = (now.tt - base.tt - sum_t * middle).max(1e-12);
        let tx = now.tx - base.tx - sum_t * mean;
        let xx = (now.xx - base.xx - sum_x * mean).max(0.0);
        let slope = tx / tt;
        let variance = (xx - slope * tx).max(0.0) / (n - 2.0);
        // Neighbours that resemble each other (a display filter, a slow swing)
        // make fewer independent values, ones that alternate (mains pickup) a
        // better mean: the ratio of the mean square step to the variance, 2 for
        // independent ones, says how many (von Neumann).
        let step = (now.steps - first.steps) / (n - 1.0);
        let alike = if variance > 1e-9 {
            (2.0 * variance / step.max(1e-9)).clamp(0.5, 6.0)
        } else {
            1.0
        };
        let rounding = rules::ROUNDING * rules::ROUNDING / n;
        Self {
            span: now.end - base.end,
            mean,
            slope,
            mean_doubt: libm::sqrt(variance * alike / n + rounding),
            slope_doubt: libm::sqrt((variance * alike + rounding) / tt),
            end: mean + slope * (now.end - middle),
            variance: xx / (n - 1.0),
            shared: 2.0 * xx / (n - 1.0) / step.max(1e-9),
        }
    }

    /// Whether it moves by more than `counts`, surely.
    pub(super) fn moves(&self, counts: f64) -> bool {
        let slope = self.slope.abs();
        slope * self.span > counts && slope > rules::SURE * self.slope_doubt
    }
}
