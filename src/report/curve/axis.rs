//! The axis of ohms: even, or logarithmic where what is seen spans decades.

use super::{At, Trace};
use crate::quantity::Decimal;
use crate::row::Row;

/// From this ratio of largest to smallest the axis is logarithmic (own).
const LOG_FROM: f64 = 20.0;
/// Less is drawn here on a logarithmic axis, in ohms (own).
const FLOOR: f64 = 1e-3;

/// Ohms to heights. What is beyond it is drawn at its edge.
#[derive(Debug)]
pub(super) struct Axis {
    top: f64,
    bottom: f64,
    low: f64,
    high: f64,
    log: bool,
    /// Where it is written.
    pub(super) ticks: Vec<f64>,
}

impl Axis {
    /// Of a hold it spans all that was read. Of a contact, whose first readings
    /// may be a thousand times off, it spans what was taken, its limits, and
    /// of the rest what leaves them to be told apart.
    pub(super) fn of(trace: &Trace, row: &Row, top: f64, bottom: f64) -> Self {
        let given = [
            row.value_ohms,
            row.judged_ohms,
            row.lower_ohms,
            row.upper_ohms,
        ];
        let mut seen: Vec<f64> = given.into_iter().flatten().map(Decimal::to_f64).collect();
        let all = row.elapsed_s.is_some() || row.value_ohms.is_none();
        let window = row.window_s.map_or(0.0, Decimal::to_f64);
        let ohms = trace.points.iter().filter_map(|p| match p.at {
            At::Ohms(ohms) => Some((p.t, ohms)),
            _ => None,
        });
        let (core, rest): (Vec<_>, Vec<_>) =
            ohms.partition(|(t, _)| all || (-window..=0.0).contains(t));
        seen.extend(core.iter().map(|(_, ohms)| ohms));
        let middle = seen.iter().fold(0.0_f64, |most, ohms| most.max(ohms.abs()));
        let near = |ohms: &f64| middle > 0.0 && (middle / 4.0..=middle * 2.0).contains(&ohms.abs());
        seen.extend(rest.iter().map(|(_, ohms)| *ohms).filter(near));
        seen.retain(|ohms| ohms.is_finite());
        Self::over(&seen, top, bottom)
    }

    fn over(seen: &[f64], top: f64, bottom: f64) -> Self {
        let least = seen.iter().copied().reduce(f64::min).unwrap_or(0.0);
        let most = seen.iter().copied().reduce(f64::max).unwrap_or(1.0);
        let above_none = seen.iter().copied().filter(|o| *o > 0.0);
        let small = above_none.fold(most, f64::min).max(FLOOR);
        if most / small > LOG_FROM {
            let low = (libm::log10(small) * 2.0 - 0.2).floor() / 2.0;
            let high = (libm::log10(most) * 2.0 + 0.2).ceil() / 2.0;
            let every = ((high - low) / 4.0).ceil().max(1.0);
            let exps = core::iter::successors(Some(low.ceil()), |e| Some(e + every));
            let ticks = exps.take_while(|e| *e <= high).map(|e| libm::pow(10.0, e));
            return Self {
                top,
                bottom,
                low,
                high,
                log: true,
                ticks: ticks.take(8).collect(),
            };
        }
        let pad = ((most - least) * 0.15).max(most.abs() * 0.05).max(0.01);
        let low = if least >= 0.0 {
            (least - pad).max(0.0)
        } else {
            least - pad
        };
        let high = most + pad;
        let rough = (high - low) / 4.0;
        let power = libm::pow(10.0, libm::log10(rough).floor());
        let steps = [1.0, 2.0, 5.0, 10.0].map(|n| n * power);
        let step = steps.into_iter().find(|s| *s >= rough).unwrap_or(rough);
        let first = (low / step).ceil();
        let counts = core::iter::successors(Some(first), |c| Some(c + 1.0));
        let ticks = counts.map(|c| c * step).take_while(|t| *t <= high);
        Self {
            top,
            bottom,
            low,
            high,
            log: false,
            ticks: ticks.take(8).collect(),
        }
    }

    fn part(&self, ohms: f64) -> f64 {
        let at = if self.log {
            libm::log10(ohms.max(FLOOR))
        } else {
            ohms
        };
        (at - self.low) / (self.high - self.low)
    }

    /// The height of a value.
    pub(super) fn y(&self, ohms: f64) -> f64 {
        self.bottom - self.part(ohms).clamp(0.0, 1.0) * (self.bottom - self.top)
    }

    /// Whether a value is beyond it.
    pub(super) fn is_off(&self, ohms: f64) -> bool {
        !(-0.001..=1.001).contains(&self.part(ohms))
    }
}
