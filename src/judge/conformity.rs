//! Conformity: how likely a value meets its limits, and limits drawn inwards.
//!
//! The true value is taken as normal about the reading with the standard
//! uncertainty u (k = 1). Verdicts themselves are in `acceptance`.

use core::f64::consts::SQRT_2;

/// Why no probability or limits can be given.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ConformityError {
    /// A standard uncertainty that is none.
    #[error("expected a standard uncertainty u above 0, found {0}")]
    Uncertainty(f64),
    /// Nothing to conform to.
    #[error("expected at least one limit, lower or upper")]
    NoLimit,
    /// The limits are the wrong way round.
    #[error("lower {lower} is above upper {upper}")]
    Crossed {
        /// The lower one.
        lower: f64,
        /// The upper one.
        upper: f64,
    },
    /// The guard bands leave nothing.
    #[error("u is too large for these limits: drawn inwards, lower {low} is above upper {high}")]
    Nothing {
        /// The lower one, drawn inwards.
        low: f64,
        /// The upper one, drawn inwards.
        high: f64,
    },
    /// A guard band that would widen the limits.
    #[error("expected a w_factor of 0 or more, found {0}")]
    Factor(f64),
    /// The result is beyond what a number here can hold.
    #[error("the result is too large to write: check the limits and u")]
    Beyond,
}

/// A lower and an upper limit, each of which may be missing.
pub type Limits = (Option<f64>, Option<f64>);

/// The probability that the true value lies within the limits, from 0 to 1:
/// Φ((TU − y)/u) − Φ((TL − y)/u) (JCGM 106:2012, clause 7).
///
/// # Errors
/// u not above 0, no limit, or lower above upper.
pub fn conformity(value: f64, u: f64, limits: Limits) -> Result<f64, ConformityError> {
    if !(u.is_finite() && u > 0.0) {
        return Err(ConformityError::Uncertainty(u));
    }
    let (lower, upper) = in_order(limits)?;
    let z = |limit: f64| (limit - value) / u;
    // Below and above: each tail by itself keeps its digits where it is small.
    let (low, high) = (
        lower.map_or(f64::NEG_INFINITY, z),
        upper.map_or(f64::INFINITY, z),
    );
    let within = if low > 0.0 {
        below(-low) - below(-high)
    } else if high < 0.0 {
        below(high) - below(low)
    } else {
        1.0 - below(low) - below(-high)
    };
    Ok(within.clamp(0.0, 1.0))
}

/// Limits drawn inwards by the guard band `w_factor` · 2u (JCGM 106:2012,
/// clause 8; ILAC-G8:09/2019): by U with a factor of 1.
///
/// # Errors
/// u or the factor below 0, no limit, or limits that cross, before or after.
pub fn guarded_limits(u: f64, limits: Limits, w_factor: f64) -> Result<Limits, ConformityError> {
    if !(u.is_finite() && u >= 0.0) {
        return Err(ConformityError::Uncertainty(u));
    }
    if !(w_factor.is_finite() && w_factor >= 0.0) {
        return Err(ConformityError::Factor(w_factor));
    }
    let (lower, upper) = in_order(limits)?;
    let band = w_factor * 2.0 * u;
    let (low, high) = (lower.map(|l| l + band), upper.map(|l| l - band));
    if !band.is_finite() || [low, high].into_iter().flatten().any(|l| !l.is_finite()) {
        return Err(ConformityError::Beyond);
    }
    match (low, high) {
        (Some(low), Some(high)) if low > high => Err(ConformityError::Nothing { low, high }),
        found => Ok(found),
    }
}

/// Φ(z): the part of a standard normal that lies below `z`.
fn below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / SQRT_2)
}

fn in_order(limits: Limits) -> Result<Limits, ConformityError> {
    match limits {
        (None, None) => Err(ConformityError::NoLimit),
        (Some(lower), Some(upper)) if lower > upper => {
            Err(ConformityError::Crossed { lower, upper })
        }
        found => Ok(found),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(got: Result<f64, ConformityError>, expected: f64) {
        let got = got.expect("a probability");
        assert!((got / expected - 1.0).abs() < 1e-7, "{got}, not {expected}");
    }

    /// Tails of the standard normal from printed tables (Abramowitz and Stegun, 26.1, from memory).
    #[test]
    fn tails_keep_their_digits() {
        near(conformity(0.0, 1.0, (None, Some(0.0))), 0.5);
        near(conformity(0.0, 1.0, (None, Some(-6.0))), 9.865_876_45e-10);
        near(conformity(0.0, 1.0, (Some(6.0), None)), 9.865_876_45e-10);
        near(conformity(0.0, 1.0, (Some(-1.0), Some(1.0))), 0.682_689_492);
        near(
            conformity(0.0, 1.0, (Some(6.0), Some(1e9))),
            9.865_876_45e-10,
        );
        assert_eq!(conformity(5.0, 1.0, (Some(5.0), Some(5.0))), Ok(0.0));
    }

    #[test]
    fn what_has_no_answer_is_refused() {
        use ConformityError as E;
        assert_eq!(
            conformity(1.0, 0.0, (None, Some(2.0))),
            Err(E::Uncertainty(0.0))
        );
        assert_eq!(
            conformity(1.0, -1.0, (None, Some(2.0))),
            Err(E::Uncertainty(-1.0))
        );
        assert_eq!(conformity(1.0, 1.0, (None, None)), Err(E::NoLimit));
        assert!(matches!(
            conformity(1.0, 1.0, (Some(2.0), Some(1.0))),
            Err(E::Crossed { .. })
        ));
        assert_eq!(guarded_limits(0.1, (None, None), 1.0), Err(E::NoLimit));
        assert_eq!(
            guarded_limits(-0.1, (Some(1.0), None), 1.0),
            Err(E::Uncertainty(-0.1))
        );
        assert_eq!(
            guarded_limits(0.1, (Some(1.0), None), -1.0),
            Err(E::Factor(-1.0))
        );
        assert!(matches!(
            guarded_limits(0.3, (Some(1.0), Some(2.0)), 1.0),
            Err(E::Nothing { .. })
        ));
    }

    /// By hand: U = 2 · 0.1 on each side, which may just meet.
    #[test]
    fn limits_move_inwards_by_the_guard_band() {
        assert_eq!(
            guarded_limits(0.125, (Some(1.0), Some(2.0)), 1.0),
            Ok((Some(1.25), Some(1.75)))
        );
        assert_eq!(
            guarded_limits(0.25, (Some(1.0), Some(2.0)), 1.0),
            Ok((Some(1.5), Some(1.5)))
        );
        assert_eq!(
            guarded_limits(0.25, (Some(1.0), None), 0.0),
            Ok((Some(1.0), None))
        );
        assert_eq!(
            guarded_limits(0.25, (None, Some(2.0)), 0.5),
            Ok((None, Some(1.75)))
        );
    }

    proptest! {
        #[test]
        fn inside_and_outside_are_all_there_is(value in -50.0f64..50.0, u in 0.01f64..20.0, lower in -50.0f64..50.0, width in 0.0f64..50.0) {
            let p = |limits| conformity(value, u, limits).expect("a probability");
            let upper = lower + width;
            let all = p((None, Some(lower))) + p((Some(lower), Some(upper))) + p((Some(upper), None));
            prop_assert!((all - 1.0).abs() < 1e-12, "{all}");
        }

        #[test]
        fn at_a_guarded_limit_a_miss_is_as_rare_as_the_factor_says(u in 0.01f64..10.0, upper in 1.0f64..100.0) {
            let (_, high) = guarded_limits(u, (None, Some(upper)), 1.0).expect("limits");
            let p = conformity(high.expect("a limit"), u, (None, Some(upper))).expect("a probability");
            // ILAC-G8: w = U leaves 2.3 % at most.
            prop_assert!((p - 0.977_249_868).abs() < 1e-6, "{p}");
        }
    }
}
