//! The tail of the F distribution, by the regularized incomplete beta function.

/// Steps of the continued fraction: far more than the sizes of a study need.
const STEPS: u32 = 20_000;
/// Where a step changes nothing any more.
const ENOUGH: f64 = 1e-15;
/// In place of 0 in a denominator (modified Lentz, as in Press et al.).
const TINY: f64 = 1e-300;

/// The probability that an F of `between` and `within` degrees of freedom is
/// at least `f` (Abramowitz and Stegun 26.6.2: Q = I_x(ν2/2, ν1/2) with
/// x = ν2 / (ν2 + ν1 F)). NaN where a degree is not above 0.
pub(super) fn f_tail(f: f64, between: f64, within: f64) -> f64 {
    if !(between > 0.0 && within > 0.0) || f.is_nan() {
        return f64::NAN;
    }
    if f <= 0.0 {
        return 1.0;
    }
    let whole = within + between * f;
    // The rest is made without a difference, which would lose its digits near 1.
    regularized(
        within / whole,
        between * f / whole,
        within / 2.0,
        between / 2.0,
    )
}

/// I_x(a, b) where `rest` is 1 - x. The continued fraction converges fast below
/// (a + 1) / (a + b + 2); above it the symmetry I_x(a, b) = 1 - I_1-x(b, a) is
/// used (DLMF 8.17.4 and 8.17.22).
fn regularized(x: f64, rest: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 || rest <= 0.0 {
        return if x <= 0.0 { 0.0 } else { 1.0 };
    }
    let gammas = libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b);
    let front = libm::exp(gammas + a * libm::log(x) + b * libm::log(rest));
    if x < (a + 1.0) / (a + b + 2.0) {
        front * fraction(x, a, b) / a
    } else {
        1.0 - front * fraction(rest, b, a) / b
    }
}

/// The continued fraction of DLMF 8.17.22, by the modified Lentz method
/// (Press et al., Numerical Recipes, 5.2).
fn fraction(x: f64, a: f64, b: f64) -> f64 {
    let kept = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / kept(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for step in 1..=STEPS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / kept(1.0 + even * d);
        c = kept(1.0 + even / c);
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / kept(1.0 + odd * d);
        c = kept(1.0 + odd / c);
        h *= d * c;
        if (d * c - 1.0).abs() < ENOUGH {
            break;
        }
    }
    h
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Upper 5 % points of F, to the digits that tables print (NIST/SEMATECH
    /// e-Handbook, 1.3.6.7.3), so the tail is 5 % within their rounding.
    #[test]
    fn tables_of_f_are_met() {
        for (f, between, within) in [
            (161.448, 1.0, 1.0),
            (19.0, 2.0, 2.0),
            (3.326, 5.0, 10.0),
            (2.978, 10.0, 10.0),
            (4.965, 1.0, 10.0),
            (1.993, 10.0, 60.0),
        ] {
            let p = f_tail(f, between, within);
            assert!((p - 0.05).abs() < 5e-4, "F {f} of {between}, {within}: {p}");
        }
    }

    /// With 2 degrees above, the tail is (1 + 2F/ν)^(-ν/2) by hand.
    #[test]
    fn a_tail_that_has_a_closed_form_is_met() {
        for (f, within) in [(0.5, 6.0), (3.0, 8.0), (40.0, 30.0), (1e-9, 4.0)] {
            let by_hand = libm::pow(1.0 + 2.0 * f / within, -within / 2.0);
            let p = f_tail(f, 2.0, within);
            assert!((p / by_hand - 1.0).abs() < 1e-12, "{p}, not {by_hand}");
        }
    }

    #[test]
    fn ends_are_ends() {
        assert_eq!(f_tail(0.0, 3.0, 5.0), 1.0);
        assert_eq!(
            f_tail(f64::INFINITY, 3.0, 5.0).total_cmp(&0.0),
            core::cmp::Ordering::Equal
        );
        assert!(f_tail(1.0, 0.0, 5.0).is_nan());
    }
}
