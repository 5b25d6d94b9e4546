//! How values lie: their quarters, and how many lie from one edge to the next.

use crate::review::ask::values::Value;
use crate::review::stats::spread::{quantile, spread};
use crate::web::reviews::{Bin, Lie};

/// So many at most (own: bars that can be told apart on a narrow screen).
const BINS: usize = 32;
/// From this ratio of largest to smallest on edges go by the logarithm (own).
const LOG_FROM: f64 = 20.0;
/// What lies beyond these parts is counted and not drawn, so that one wild
/// value does not press all others into one bar (own).
const DRAWN: (f64, f64) = (0.005, 0.995);

/// Values against the limits of the newest one; none: there are no values.
pub(super) fn lie(values: &[Value]) -> Option<Lie> {
    let limits = values.last().map_or((None, None), |newest| newest.limits);
    let ohms: Vec<f64> = values.iter().map(|value| value.judged_ohms).collect();
    let found = spread(&ohms, limits).or_else(|_| spread(&ohms, (None, None)));
    let found = found.ok()?;
    let log = found.min > 0.0 && found.max / found.min > LOG_FROM;
    let edges = edges(&ohms, limits, log)?;
    let (bins, beyond) = filled(&ohms, &edges);
    Some(Lie {
        n: found.n,
        quarters: [
            found.min,
            found.lower_quartile,
            found.median,
            found.upper_quartile,
            found.max,
        ],
        robust_sigma: found.robust_sigma,
        limits,
        against: found.against.map(|a| [a.below, a.within, a.above]),
        bins,
        log,
        beyond,
    })
}

fn edges(ohms: &[f64], (lower, upper): (Option<f64>, Option<f64>), log: bool) -> Option<Vec<f64>> {
    let flat = |ohms: f64| if log { libm::log10(ohms) } else { ohms };
    let mut low = flat(quantile(ohms, DRAWN.0).ok()?);
    let mut high = flat(quantile(ohms, DRAWN.1).ok()?);
    // The limits are drawn too, unless they lie so far off that all else would shrink.
    for limit in [lower, upper].into_iter().flatten() {
        let limit = flat(limit);
        let room = 2.0 * (high - low).max(high.abs() * 0.05);
        if limit.is_finite() && limit > low - room && limit < high + room {
            low = low.min(limit);
            high = high.max(limit);
        }
    }
    let pad = ((high - low) * 0.04).max(high.abs() * 1e-3).max(1e-9);
    let (low, high) = (low - pad, high + pad);
    // The root of the number is common practice.
    let bins = (ohms.len() as f64).sqrt().ceil().clamp(5.0, BINS as f64) as usize;
    let step = (high - low) / bins as f64;
    let edge = |at: usize| {
        let edge = low + step * at as f64;
        if log { libm::exp10(edge) } else { edge }
    };
    Some((0..=bins).map(edge).collect())
}

fn filled(ohms: &[f64], edges: &[f64]) -> (Vec<Bin>, [usize; 2]) {
    let mut bins: Vec<Bin> = edges
        .windows(2)
        .map(|pair| Bin {
            from: pair[0],
            to: pair[1],
            n: 0,
        })
        .collect();
    let mut beyond = [0, 0];
    for value in ohms {
        match edges.partition_point(|edge| edge <= value) {
            0 => beyond[0] += 1,
            after if after > bins.len() => beyond[1] += 1,
            after => bins[after - 1].n += 1,
        }
    }
    (bins, beyond)
}
