//! Circuits of three terminals: unbalance, wye and delta phases, the sum rule.
//!
//! What the readings at the terminals say about the phases behind them.
//! Readings that no such circuit can give are refused, never bent to fit.

use crate::quantity::Decimal;

/// What the roundings of a few sums in `f64` may amount to, as a part of them.
const ROUNDING: f64 = 4.0 * f64::EPSILON;

/// One phase of a delta.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Phase {
    /// In ohms.
    Ohms(f64),
    /// Nothing conducts in it.
    Open,
}

/// Why three readings give no phases.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CircuitError {
    /// The mean is the divisor.
    #[error("the mean is 0: there is nothing to compare the deviation with")]
    NoMean,
    /// A wye of these would have a phase below 0.
    #[error(
        "no wye reads like this: the phase at terminal {terminal} would be below 0; see that each pair was measured and entered in its place"
    )]
    NegativePhase {
        /// The terminal, from 1.
        terminal: u8,
    },
    /// One reading is larger than the two others in series.
    #[error(
        "no delta reads like this: one reading is more than the sum of the other two; see that each pair was measured and entered in its place"
    )]
    NoDelta,
    /// A reading of nothing, or below it.
    #[error(
        "expected readings above 0: with a reading of 0 a phase is shorted and hides the others"
    )]
    NotAboveZero,
    /// More than one phase may be open by this resolution.
    #[error("the resolution is too coarse for these readings: more than one phase could be open")]
    TooCoarse,
    /// The result is beyond what a number here can hold.
    #[error("the result is too large to write: check the readings")]
    Beyond,
}

/// Unbalance in percent: 100 × the largest deviation from the mean / the mean
/// (NEMA MG 1, 12.45 and 14.36; not the spread over the mean). At least 0.
///
/// # Errors
/// A mean of 0, also when only the roundings keep it from 0.
pub fn unbalance(values: &[f64]) -> Result<f64, CircuitError> {
    let largest = values.iter().map(|v| v.abs()).fold(0.0, f64::max);
    // By a power of two, so that no sum overflows and no digit is lost.
    let part = if largest > 1e300 { 1.0 / 1024.0 } else { 1.0 };
    let of = values.len() as f64;
    let sum = values.iter().map(|v| v * part).sum::<f64>();
    if sum.abs() <= of * ROUNDING * (largest * part) {
        return Err(CircuitError::NoMean);
    }
    // Both as often as there are values: a division before the difference would round it.
    let from_mean = |v: &f64| (of * (v * part) - sum).abs();
    let most = values.iter().map(from_mean).fold(0.0, f64::max);
    finite(100.0 * (most / sum.abs()))
}

/// The phases of a wye at terminals 1, 2 and 3 from the readings 1–2, 2–3, 3–1:
/// a = (R12 + R31 − R23)/2 and cyclically (IEC 60034-2-1).
///
/// # Errors
/// A phase below 0.
pub fn wye_phases(lines: [f64; 3]) -> Result<[f64; 3], CircuitError> {
    let slack = ROUNDING * lines.iter().map(|r| r.abs()).fold(0.0, f64::max);
    let mut phases = [0.0; 3];
    for (terminal, phase) in (1..).zip(&mut phases) {
        let at = usize::from(terminal - 1_u8);
        let (out, back, across) = (lines[at], lines[(at + 2) % 3], lines[(at + 1) % 3]);
        // The larger one less the one across first: nothing is lost when they are alike.
        let found = out.max(back) / 2.0 - across / 2.0 + out.min(back) / 2.0;
        if found < -slack {
            return Err(CircuitError::NegativePhase { terminal });
        }
        *phase = finite(if found <= slack { 0.0 } else { found })?;
    }
    Ok(phases)
}

/// The phases of a delta between terminals 1–2, 2–3 and 3–1 from the readings
/// there: from the wye a, b, c of the same readings, R12 = a + b + a b/c and
/// cyclically. A reading that equals the two others in series, within
/// `resolution`, lies across an open phase, and the others are its neighbours.
///
/// # Errors
/// A reading not above 0, one above the sum of the others, or a resolution by
/// which more than one phase could be open.
pub fn delta_phases(lines: [f64; 3], resolution: f64) -> Result<[Phase; 3], CircuitError> {
    if lines.iter().any(|r| !(r.is_finite() && *r > 0.0)) {
        return Err(CircuitError::NotAboveZero);
    }
    let others = |at: usize| lines[(at + 1) % 3] + lines[(at + 2) % 3];
    let slack = |at: usize| resolution + ROUNDING * (lines[at] + others(at));
    let is_sum = |at: &usize| (lines[*at] - others(*at)).abs() <= slack(*at);
    let open: Vec<usize> = (0..3).filter(is_sum).collect();
    match open.as_slice() {
        [] => {}
        [at] => {
            let mut phases = lines.map(Phase::Ohms);
            phases[*at] = Phase::Open;
            return Ok(phases);
        }
        _ => return Err(CircuitError::TooCoarse),
    }
    if (0..3).any(|at| lines[at] > others(at)) {
        return Err(CircuitError::NoDelta);
    }
    let [a, b, c] = wye_phases(lines)?;
    let across = |x: f64, y: f64, far: f64| finite(x + y + x * (y / far)).map(Phase::Ohms);
    Ok([across(a, b, c)?, across(b, c, a)?, across(c, a, b)?])
}

/// total − (main + start), exact and with its sign: 0 where run and start
/// meet in common and nothing is in the way. None when it does not fit.
pub fn three_wire_sum(main: Decimal, start: Decimal, total: Decimal) -> Option<Decimal> {
    total.checked_sub(main.checked_add(start)?)
}

fn finite(value: f64) -> Result<f64, CircuitError> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(CircuitError::Beyond)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ohms(phases: [Phase; 3]) -> [f64; 3] {
        phases.map(|p| match p {
            Phase::Ohms(ohms) => ohms,
            Phase::Open => f64::INFINITY,
        })
    }

    /// What a delta reads between its terminals: each phase beside the two others in series.
    fn read_delta([ab, bc, ca]: [f64; 3]) -> [f64; 3] {
        let sum = ab + bc + ca;
        [
            ab * (bc + ca) / sum,
            bc * (ca + ab) / sum,
            ca * (ab + bc) / sum,
        ]
    }

    fn near(got: [f64; 3], expected: [f64; 3], part: f64) {
        for (g, e) in got.iter().zip(&expected) {
            assert!((g / e - 1.0).abs() < part, "{got:?}, not {expected:?}");
        }
    }

    /// By hand: 1, 1, 4 has the mean 2 and the deviation 2.
    #[test]
    fn unbalance_is_from_the_mean_and_never_below_0() {
        assert_eq!(unbalance(&[1.0, 1.0, 4.0]), Ok(100.0));
        assert_eq!(unbalance(&[-1.0, -1.0, -4.0]), Ok(100.0));
        assert_eq!(unbalance(&[2.0, 2.0, 2.0]), Ok(0.0));
        assert_eq!(unbalance(&[f64::MAX; 3]), Ok(0.0));
        // 2/3 of a count from a mean of 10^8 + 1/3.
        let near = unbalance(&[100_000_001.0, 1e8, 1e8]).expect("a mean");
        assert!(
            (near / (200.0 / 300_000_001.0) - 1.0).abs() < 1e-14,
            "{near}"
        );
        for nothing in [[0.0; 3], [1.0, -2.0, 1.0], [0.1, 0.2, -0.3]] {
            assert_eq!(
                unbalance(&nothing),
                Err(CircuitError::NoMean),
                "{nothing:?}"
            );
        }
    }

    #[test]
    fn a_wye_that_cannot_be_is_refused() {
        assert_eq!(
            wye_phases([1.0, 1.0, 3.0]),
            Err(CircuitError::NegativePhase { terminal: 2 })
        );
        assert_eq!(
            wye_phases([-1.0; 3]),
            Err(CircuitError::NegativePhase { terminal: 1 })
        );
        // 0.1 + 0.2 is not 0.3 in f64: the phase is 0, not below it.
        assert_eq!(wye_phases([0.1, 0.3, 0.2]).map(|p| p[0]), Ok(0.0));
    }

    #[test]
    fn an_open_delta_phase_is_the_one_across_the_sum() {
        use Phase::{Ohms, Open};
        assert_eq!(
            delta_phases([9.0, 4.5, 4.5], 0.0),
            Ok([Open, Ohms(4.5), Ohms(4.5)])
        );
        assert_eq!(
            delta_phases([0.1, 0.3, 0.2], 0.0),
            Ok([Ohms(0.1), Open, Ohms(0.2)])
        );
        assert_eq!(
            delta_phases([4.5, 4.4, 8.95], 0.1),
            Ok([Ohms(4.5), Ohms(4.4), Open])
        );
        assert!(matches!(
            delta_phases([4.5, 4.4, 8.7], 0.1),
            Ok([Ohms(_), Ohms(_), Ohms(_)])
        ));
        assert_eq!(
            delta_phases([4.5, 4.5, 9.2], 0.1),
            Err(CircuitError::NoDelta)
        );
        assert_eq!(
            delta_phases([1.0, 1.0, 0.0], 0.0),
            Err(CircuitError::NotAboveZero)
        );
        assert_eq!(
            delta_phases([1.0, 1.0, 0.1], 0.1),
            Err(CircuitError::TooCoarse)
        );
    }

    proptest! {
        #[test]
        fn a_wye_gives_its_phases_back(a in 1e-3f64..1e3, b in 1e-3f64..1e3, c in 1e-3f64..1e3) {
            let back = wye_phases([a + b, b + c, c + a]).expect("a wye");
            for (got, expected) in back.iter().zip([a, b, c]) {
                prop_assert!((got - expected).abs() <= 1e-15 * (a + b + c), "{got} {expected}");
            }
        }

        #[test]
        fn a_delta_gives_its_phases_back(ab in 0.1f64..100.0, bc in 0.1f64..100.0, ca in 0.1f64..100.0) {
            near(ohms(delta_phases(read_delta([ab, bc, ca]), 0.0).expect("a delta")), [ab, bc, ca], 1e-9);
        }

        #[test]
        fn a_delta_of_any_readings_reads_them_again(a in 0.1f64..100.0, b in 0.1f64..100.0, c in 0.1f64..100.0) {
            let lines = [a + b, b + c, c + a];
            near(read_delta(ohms(delta_phases(lines, 0.0).expect("a delta"))), lines, 1e-9);
        }

        #[test]
        fn an_open_phase_is_found_wherever_it_is(x in 1u32..100_000, y in 1u32..100_000, at in 0usize..3) {
            let (x, y) = (f64::from(x) / 1000.0, f64::from(y) / 1000.0);
            let mut lines = [x + y, x, y];
            lines.rotate_right(at);
            let phases = delta_phases(lines, 0.0).expect("a delta");
            for (n, phase) in phases.iter().enumerate() {
                prop_assert_eq!(*phase == Phase::Open, n == at);
            }
        }

        #[test]
        fn unbalance_knows_no_order_and_no_unit(a in 0.1f64..100.0, b in 0.1f64..100.0, c in 0.1f64..100.0, by in 0.01f64..100.0) {
            let percent = unbalance(&[a, b, c]).expect("a mean");
            let other = unbalance(&[c * by, a * by, b * by]).expect("a mean");
            prop_assert!((percent - other).abs() < 1e-9);
            prop_assert!((0.0..=200.0).contains(&percent));
        }

        #[test]
        fn the_sum_rule_is_exact(main in 0i64..1_000_000, start in 0i64..1_000_000, off in -1000i64..1000) {
            let d = |n: i64| Decimal::new(n, -3).expect("in range");
            prop_assert_eq!(three_wire_sum(d(main), d(start), d(main + start + off)), Some(d(off)));
        }
    }
}
