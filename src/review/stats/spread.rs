//! How values lie: quartiles, a spread that outliers do not move, and where
//! the limits cut them.

use super::{NumbersError, mean, median, sorted, usable};

/// Makes a MAD comparable to a standard deviation: 1 / Φ⁻¹(3/4), for values
/// that scatter normally (Rousseeuw and Croux 1993, JASA 88, 1273).
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// Values in few words.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// How many there are.
    pub n: usize,
    /// The least one.
    pub min: f64,
    /// A quarter lies below.
    pub lower_quartile: f64,
    /// The middle.
    pub median: f64,
    /// A quarter lies above.
    pub upper_quartile: f64,
    /// The greatest one.
    pub max: f64,
    /// The mean.
    pub mean: f64,
    /// Median absolute deviation from the median, as it is.
    pub mad: f64,
    /// The same as a standard deviation, for normal scatter.
    pub robust_sigma: f64,
    /// Against limits; none where there are none.
    pub against: Option<Against>,
}

/// Where limits cut values. One that equals a limit is within, as for a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Against {
    /// Below the lower limit.
    pub below: usize,
    /// Between them.
    pub within: usize,
    /// Above the upper limit.
    pub above: usize,
}

/// Why values have no summary.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SpreadError {
    /// The values cannot be looked at.
    #[error(transparent)]
    Numbers(#[from] NumbersError),
    /// The lower limit is above the upper one, or one is no number.
    #[error("expected a lower limit that is at most the upper one, found {lower} and {upper}")]
    Limits {
        /// The lower one.
        lower: f64,
        /// The upper one.
        upper: f64,
    },
    /// A part outside 0 to 1.
    #[error("expected a part from 0 to 1, found {0}")]
    Part(f64),
}

/// Sums values up, and counts them against limits if there are any.
///
/// # Errors
/// No values, one that is not finite, or limits that cross.
///
/// # Examples
/// ```
/// use stillohm::review::stats::spread::spread;
/// let found = spread(&[2.4, 2.5, 2.6, 9.9], (None, Some(3.0)))?;
/// assert_eq!((found.median, found.against.map(|a| a.above)), (2.55, Some(1)));
/// # Ok::<(), stillohm::review::stats::spread::SpreadError>(())
/// ```
pub fn spread(
    values: &[f64],
    (lower, upper): (Option<f64>, Option<f64>),
) -> Result<Spread, SpreadError> {
    usable(values, 1)?;
    let low = lower.unwrap_or(f64::NEG_INFINITY);
    let high = upper.unwrap_or(f64::INFINITY);
    if !matches!(low.partial_cmp(&high), Some(order) if order.is_le()) {
        return Err(SpreadError::Limits {
            lower: low,
            upper: high,
        });
    }
    let sorted = sorted(values);
    let middle = median(values);
    let away: Vec<f64> = values.iter().map(|value| (value - middle).abs()).collect();
    let mad = median(&away);
    let count = |is: &dyn Fn(f64) -> bool| values.iter().filter(|value| is(**value)).count();
    let (below, above) = (count(&|value| value < low), count(&|value| value > high));
    let limited = lower.is_some() || upper.is_some();
    Ok(Spread {
        n: values.len(),
        min: sorted[0],
        lower_quartile: part(&sorted, 0.25),
        median: middle,
        upper_quartile: part(&sorted, 0.75),
        max: sorted[sorted.len() - 1],
        mean: mean(values),
        mad,
        robust_sigma: MAD_TO_SIGMA * mad,
        against: limited.then_some(Against {
            below,
            within: values.len() - below - above,
            above,
        }),
    })
}

/// The value below which a part of all lies (a percentile is a hundredth of
/// it): between two, in proportion. Hyndman and Fan 1996, definition 7.
///
/// # Errors
/// No values, one that is not finite, or a part outside 0 to 1.
pub fn quantile(values: &[f64], wanted: f64) -> Result<f64, SpreadError> {
    usable(values, 1)?;
    if !(0.0..=1.0).contains(&wanted) {
        return Err(SpreadError::Part(wanted));
    }
    Ok(part(&sorted(values), wanted))
}

fn part(sorted: &[f64], wanted: f64) -> f64 {
    let place = wanted * (sorted.len() - 1) as f64;
    let at = place.floor();
    let low = sorted[at as usize];
    let high = sorted[(at as usize + 1).min(sorted.len() - 1)];
    low + (high - low) * (place - at)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(values: &[f64], limits: (Option<f64>, Option<f64>)) -> Spread {
        spread(values, limits).expect("values that can be summed up")
    }

    /// By hand: nine values, so every quartile is one of them.
    #[test]
    fn quartiles_and_mad_by_hand() {
        let found = of(
            &[7.0, 1.0, 3.0, 2.0, 5.0, 4.0, 6.0, 9.0, 100.0],
            (None, None),
        );
        assert_eq!(
            (found.min, found.lower_quartile, found.median),
            (1.0, 3.0, 5.0)
        );
        assert_eq!((found.upper_quartile, found.max), (7.0, 100.0));
        // Away from 5: 2 4 2 3 0 1 1 4 95, in order 0 1 1 2 2 3 4 4 95.
        assert_eq!(found.mad, 2.0);
        assert_eq!(found.against, None);
    }

    /// Hyndman and Fan, definition 7, by hand: places 0.75 and 2.25 of 1 2 3 4.
    #[test]
    fn between_two_values_the_quartile_is_in_proportion() {
        let found = of(&[4.0, 1.0, 3.0, 2.0], (None, None));
        assert_eq!(
            (found.lower_quartile, found.median, found.upper_quartile),
            (1.75, 2.5, 3.25)
        );
        assert_eq!(
            quantile(&[4.0, 1.0, 3.0, 2.0], 0.9).map(|q| (q * 1e9).round() / 1e9),
            Ok(3.7)
        );
    }

    /// 1.4826 is what every table of the MAD prints.
    #[test]
    fn the_robust_sigma_of_a_normal_scatter_is_a_sigma() {
        assert!((MAD_TO_SIGMA - 1.4826).abs() < 5e-5);
        assert_eq!(
            of(&[1.0, 2.0, 3.0], (None, None)).robust_sigma,
            MAD_TO_SIGMA
        );
    }

    #[test]
    fn a_value_on_a_limit_is_within() {
        let against = |lower, upper| of(&[1.0, 2.0, 3.0, 4.0], (lower, upper)).against;
        let counts = |below, within, above| {
            Some(Against {
                below,
                within,
                above,
            })
        };
        assert_eq!(against(Some(2.0), Some(3.0)), counts(1, 2, 1));
        assert_eq!(against(Some(4.5), None), counts(4, 0, 0));
        assert_eq!(against(None, Some(0.5)), counts(0, 0, 4));
    }

    #[test]
    fn what_cannot_be_summed_up_is_refused_in_words() {
        let said =
            |values: &[f64], limits| spread(values, limits).expect_err("refused").to_string();
        assert_eq!(
            said(&[], (None, None)),
            "expected at least 1 values, found 0"
        );
        assert_eq!(
            said(&[1.0, f64::NAN], (None, None)),
            "value 2: expected a finite number, found NaN"
        );
        assert_eq!(
            said(&[1.0], (Some(3.0), Some(2.0))),
            "expected a lower limit that is at most the upper one, found 3 and 2"
        );
        assert_eq!(quantile(&[1.0], 1.5), Err(SpreadError::Part(1.5)));
    }
}
