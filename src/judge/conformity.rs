//! Conformity: how likely a value meets its limits, and limits drawn inwards.
//!
//! The true value is taken as normal about the reading with the standard
//! uncertainty u (k = 1). Verdicts themselves are in `acceptance`.

use core::f64::consts::{PI, SQRT_2};

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

/// Limits nearer to each other than this part of u, less far out in a tail,
/// hold a slice of the normal: its series is right to 12 digits there.
const NARROW: f64 = 0.1;

/// What the roundings of a few sums in `f64` may amount to, as a part of them.
const ROUNDING: f64 = 4.0 * f64::EPSILON;

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
    let between = lower.zip(upper).map(|(lower, upper)| (upper - lower) / u);
    let within = match between {
        Some(width) if width * (1.0 + low.abs().min(high.abs())) < NARROW => {
            slice((low + high) / 2.0, width)
        }
        _ if low > 0.0 => below(-low) - below(-high),
        _ if high < 0.0 => below(high) - below(low),
        _ => 0.5 * (libm::erf(high / SQRT_2) + libm::erf(-low / SQRT_2)),
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
        (Some(low), Some(high)) if low > high => {
            // Guard bands that just meet cross by their roundings only.
            let sizes = [lower, upper].into_iter().flatten().map(f64::abs);
            if low - high > ROUNDING * sizes.fold(band, f64::max) {
                return Err(ConformityError::Nothing { low, high });
            }
            let meet = low / 2.0 + high / 2.0;
            Ok((Some(meet), Some(meet)))
        }
        found => Ok(found),
    }
}

/// Φ(z): the part of a standard normal that lies below `z`.
fn below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / SQRT_2)
}

/// The part of a standard normal in a narrow slice about `middle`: the density
/// there times the width, with two terms of its Taylor series. The two tails
/// would be almost equal, and their difference has few digits.
fn slice(middle: f64, width: f64) -> f64 {
    let (m2, w2) = (middle * middle, width * width);
    let bend = 1.0 + w2 * ((m2 - 1.0) / 24.0 + w2 * (m2 * m2 - 6.0 * m2 + 3.0) / 1920.0);
    libm::exp(-m2 / 2.0) / (2.0 * PI).sqrt() * width * bend
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
        // The density at the middle times the width: 1/√(2π), and e^-18 of it at 6.
        let at_0 = 0.398_942_280_4;
        near(
            conformity(0.0, 1.0, (Some(-1e-10), Some(1e-10))),
            2e-10 * at_0,
        );
        near(conformity(0.0, 1e6, (Some(1.0), Some(2.0))), 1e-6 * at_0);
        near(
            conformity(0.0, 1.0, (Some(6.0 - 5e-9), Some(6.0 + 5e-9))),
            1e-8 * 6.075_882_85e-9,
        );
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

    #[test]
    fn guard_bands_that_just_meet_leave_a_limit_also_where_f64_rounds() {
        // 0.3 + 2 · 0.1 and 0.7 - 2 · 0.1: in f64 the second is the lower one.
        let (low, high) = guarded_limits(0.1, (Some(0.3), Some(0.7)), 1.0).expect("limits");
        assert_eq!(low, high);
        assert!((low.expect("a limit") - 0.5).abs() < 1e-15);
        assert!(matches!(
            guarded_limits(0.100_000_000_000_01, (Some(0.3), Some(0.7)), 1.0),
            Err(ConformityError::Nothing { .. })
        ));
    }

    /// By hand: U = 2 · 0.125 on each side, and 2 · 0.25, which may just meet.
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
        fn a_slice_is_as_much_as_its_two_tails_leave(middle in -4.0f64..4.0, width in 0.01f64..0.03) {
            let (low, high) = (middle - width / 2.0, middle + width / 2.0);
            let tails = if middle > 0.0 { below(-low) - below(-high) } else { below(high) - below(low) };
            prop_assert!((slice(middle, width) / tails - 1.0).abs() < 1e-11);
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
