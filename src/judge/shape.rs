//! Shapes: what three line values of a motor have in common with a fault.
//!
//! Values are of the pairs 1–2, 2–3, 3–1. A shape is named only when counts
//! permit; where a phase is the odd one, it is said for wye and for delta,
//! since the terminals do not show how they are joined inside.

use super::circuit::wye_phases;
use crate::row::Finding;

/// The pairs as people say them.
const PAIRS: [&str; 3] = ["lines 1 and 2", "lines 2 and 3", "lines 3 and 1"];
/// Of each pair the line that it leaves out.
const LINE_OUT: [u8; 3] = [3, 1, 2];

/// A shape within 5 %, named only when counts permit (at least 20, own).
pub(super) fn shape(values: [f64; 3], resolution: f64) -> Option<(Finding, String)> {
    let mut order = [0, 1, 2];
    order.sort_by(|a: &usize, b| values[*a].total_cmp(&values[*b]));
    let [low, middle, high] = order.map(|at| values[at]);
    let alike = |a: f64, b: f64| (a - b).abs() <= 0.05 * b;
    if middle < 20.0 * resolution {
        return None;
    }
    if low.abs() <= 2.0 * resolution && alike(middle, high) {
        let pair = PAIRS[order[0]];
        return Some((
            Finding::Shorted,
            format!(
                "0 : 1 : 1, a phase is shorted between {pair}; see that the clips do not touch"
            ),
        ));
    }
    let open_delta = alike(low, middle) && alike(high, low + middle);
    (open_delta && low >= 20.0 * resolution).then(|| {
        let pair = PAIRS[order[2]];
        (
            Finding::Open,
            format!("1 : 1 : 2, the phase of a delta between {pair} is open"),
        )
    })
}

/// Kilohms in one line while the other two read ohms: no three windings do
/// that, since the other two are a way around.
pub(super) fn one_in_kilohms(values: [f64; 3]) -> Option<usize> {
    let sum: f64 = values.iter().sum();
    (0..3).find(|at| values[*at] >= 1000.0 && values[*at] >= 20.0 * (sum - values[*at]))
}

/// The odd phase of three, when the other two are alike beside it (a third, own).
pub(super) fn odd_phase(lines: [f64; 3]) -> Option<String> {
    // In the order of the pairs, each the phase on the line that its pair leaves out.
    let [on_1, on_2, on_3] = wye_phases(lines).ok()?;
    let wye = [on_3, on_1, on_2];
    if wye.iter().any(|phase| *phase <= 0.0) {
        return None;
    }
    let odd = (0..3).max_by(|a, b| apart(wye, *a).total_cmp(&apart(wye, *b)))?;
    let [x, y] = [wye[(odd + 1) % 3], wye[(odd + 2) % 3]];
    if (x - y).abs() * 3.0 > apart(wye, odd) {
        return None;
    }
    let (in_wye, in_delta) = if wye[odd] > x.max(y) {
        ("high", "low")
    } else {
        ("low", "high")
    };
    Some(format!(
        "the odd phase is in wye the one on line {} ({in_wye}), in delta the one between {} ({in_delta})",
        LINE_OUT[odd], PAIRS[odd]
    ))
}

fn apart(phases: [f64; 3], at: usize) -> f64 {
    (phases[at] - (phases[(at + 1) % 3] + phases[(at + 2) % 3]) / 2.0).abs()
}
