//! A slope that single bad points do not turn, with its doubt, and when a
//! falling line meets a minimum.
//!
//! For insulation over time: log10 of the resistance at 40 °C over days, an
//! asset by itself. Over-range is no point: it has no number. Leaving it out
//! can hide a fall that came after it, so who asks says how many were left out.
//! The interval is of the slope; a single reading scatters more than that.

use super::{NumbersError, median, usable};

/// Φ⁻¹(0.975): both ends of a 95 % interval.
const Z_95: f64 = 1.959_963_984_540_054;
/// Points that a forecast takes (own): from five on a 95 % interval by Kendall
/// exists at all (one order of 5! = 120 has 0.8 %), and one more may be wrong.
pub const POINTS: usize = 6;
/// Days that a forecast takes from first to last (own): half a year, so that
/// one wet month is no trend.
pub const SPAN_DAYS: f64 = 180.0;

/// A line through points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope {
    /// How many points.
    pub n: usize,
    /// The median of the slopes of all pairs, in y per x.
    pub slope: f64,
    /// Where the line meets x = 0.
    pub intercept: f64,
    /// The least slope that the points allow with 95 %.
    pub low: f64,
    /// The greatest slope that the points allow with 95 %.
    pub high: f64,
    /// The median of x and of y, through which the line goes.
    pub through: (f64, f64),
}

/// Why points have no line.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SlopeError {
    /// The numbers cannot be looked at.
    #[error(transparent)]
    Numbers(#[from] NumbersError),
    /// All at one place.
    #[error("expected points at two different times at least, found {0} at one")]
    OneTime(usize),
}

/// Theil's and Sen's slope: the median of the slopes of all pairs that differ
/// in x, the line through the medians, and the interval of 95 % by Kendall's
/// variance with ties (Sen 1968, JASA 63, 1379, equation 2.6). What does not fit
/// into the pairs there are ends at their least and greatest slope.
///
/// # Errors
/// Fewer than two points, one that is not finite, or all at one x.
///
/// # Examples
/// ```
/// use stillohm::review::stats::slope::slope;
/// let line = slope(&[(0.0, 8.0), (30.0, 7.9), (60.0, 3.0), (90.0, 7.7)])?;
/// assert!((line.slope - -0.1 / 30.0).abs() < 1e-12);
/// # Ok::<(), stillohm::review::stats::slope::SlopeError>(())
/// ```
pub fn slope(points: &[(f64, f64)]) -> Result<Slope, SlopeError> {
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    usable(&x, 2)?;
    usable(&y, 2)?;
    let mut slopes = Vec::new();
    for (at, first) in points.iter().enumerate() {
        for second in &points[at + 1..] {
            if first.0 != second.0 {
                slopes.push((second.1 - first.1) / (second.0 - first.0));
            }
        }
    }
    if slopes.is_empty() {
        return Err(SlopeError::OneTime(points.len()));
    }
    slopes.sort_by(f64::total_cmp);
    let (low, high) = interval(&slopes, variance(&x, &y));
    let middle = median(&slopes);
    let through = (median(&x), median(&y));
    Ok(Slope {
        n: points.len(),
        slope: middle,
        intercept: through.1 - middle * through.0,
        low,
        high,
        through,
    })
}

/// The variance of Kendall's S, less what ties take from it.
fn variance(x: &[f64], y: &[f64]) -> f64 {
    let term = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    let ties = |values: &[f64]| -> f64 {
        let sorted = super::sorted(values);
        let runs = sorted.chunk_by(|a, b| a == b);
        runs.map(|run| term(run.len() as f64)).sum()
    };
    (term(x.len() as f64) - ties(x) - ties(y)) / 18.0
}

fn interval(slopes: &[f64], variance: f64) -> (f64, f64) {
    let (n, last) = (slopes.len() as f64, slopes.len() - 1);
    let reach = Z_95 * variance.max(0.0).sqrt();
    let place = |at: f64| (at.max(0.0) as usize).min(last);
    let low = ((n - reach) / 2.0).round_ties_even() - 1.0;
    let high = ((n + reach) / 2.0).round_ties_even();
    (slopes[place(low)], slopes[place(high)])
}

/// When the line meets a minimum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// By the line, in the x of the points.
    pub at: f64,
    /// By the steepest slope that the points allow, through the medians.
    pub soonest: f64,
    /// By the flattest one; none: beyond what may be said.
    pub latest: Option<f64>,
    /// The line.
    pub line: Slope,
}

/// Why nothing is said of when a minimum is met.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Silent {
    /// There is no line.
    #[error(transparent)]
    NoLine(#[from] SlopeError),
    /// The minimum is no number above 0.
    #[error("expected a minimum above 0 ohm, found {0}")]
    Minimum(f64),
    /// A value is not above 0.
    #[error("value {at}: expected more than 0 ohm, found {found}")]
    NotPositive {
        /// Which, from 1.
        at: usize,
        /// What it is.
        found: f64,
    },
    /// Too few points.
    #[error("no forecast: it takes {POINTS} values, there are {0}")]
    Few(usize),
    /// Too short a time.
    #[error(
        "no forecast: it takes {SPAN_DAYS} days from the first to the last value, there are {0:.0}"
    )]
    Short(f64),
    /// It may as well stay or rise.
    #[error(
        "no forecast: it is not shown that it falls (its slope may be from {low:+.5} to {high:+.5} decades a day)"
    )]
    NotFalling {
        /// The least slope.
        low: f64,
        /// The greatest.
        high: f64,
    },
    /// The last value or the line is below it already.
    #[error("no forecast: it is at or below the minimum already")]
    Below,
    /// Further ahead than the values reach back.
    #[error(
        "no forecast: the line stays above the minimum for the next {0:.0} days, and further ahead than the values reach back nothing is said"
    )]
    Beyond(f64),
}

/// When insulation meets a minimum, where the values carry it. `points` are
/// days and ohms at 40 °C, of one asset, in any order.
///
/// The rule (own): [`POINTS`] values over [`SPAN_DAYS`] at least, a slope whose
/// whole 95 % interval is below 0, a last value and a line that are above the
/// minimum today, and a day no further ahead of the last value than the first
/// lies behind it. All else is silence with its reason.
///
/// # Errors
/// One of these is not so.
pub fn reaches(points: &[(f64, f64)], minimum: f64) -> Result<Reach, Silent> {
    if !(minimum.is_finite() && minimum > 0.0) {
        return Err(Silent::Minimum(minimum));
    }
    if let Some(at) = points.iter().position(|(_, ohms)| *ohms <= 0.0) {
        let found = points[at].1;
        return Err(Silent::NotPositive { at: at + 1, found });
    }
    let decades: Vec<(f64, f64)> = points
        .iter()
        .map(|(day, ohms)| (*day, libm::log10(*ohms)))
        .collect();
    if points.len() < POINTS {
        return Err(Silent::Few(points.len()));
    }
    let line = slope(&decades)?;
    let days = points.iter().map(|(day, _)| *day);
    let first = days.clone().fold(f64::INFINITY, f64::min);
    let last = days.fold(f64::NEG_INFINITY, f64::max);
    let span = last - first;
    if span < SPAN_DAYS {
        return Err(Silent::Short(span));
    }
    if line.high >= 0.0 {
        return Err(Silent::NotFalling {
            low: line.low,
            high: line.high,
        });
    }
    let wanted = libm::log10(minimum);
    let newest = decades.iter().filter(|(day, _)| *day == last);
    // Where the last day has several values, the worst of them counts.
    let newest = newest.map(|(_, y)| *y).fold(f64::INFINITY, f64::min);
    let when = |slope: f64| line.through.0 + (wanted - line.through.1) / slope;
    let at = when(line.slope);
    if newest <= wanted || at <= last {
        return Err(Silent::Below);
    }
    let end = last + span;
    if at > end {
        return Err(Silent::Beyond(span));
    }
    Ok(Reach {
        at,
        soonest: when(line.low).max(last),
        latest: Some(when(line.high)).filter(|latest| *latest <= end),
        line,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of Sen 1968, section 6 (from memory; scipy.stats.theilslopes
    /// gives the same): slope 4, and 26/7 to 35/8 as its interval.
    #[test]
    fn sens_own_example_is_met() {
        let points = [
            (1.0, 9.0),
            (2.0, 15.0),
            (3.0, 19.0),
            (4.0, 20.0),
            (10.0, 45.0),
            (12.0, 55.0),
            (18.0, 78.0),
        ];
        let line = slope(&points).expect("a line");
        assert_eq!((line.slope, line.intercept), (4.0, 4.0));
        assert_eq!((line.low, line.high), (26.0 / 7.0, 35.0 / 8.0));
    }

    /// Hollander and Wolfe, Nonparametric Statistical Methods, example 9.1;
    /// slope and interval computed with scipy.
    #[test]
    fn a_textbook_example_is_met() {
        let y = [1.26, 1.27, 1.12, 1.16, 1.03];
        let points: Vec<(f64, f64)> = (1..=5).map(f64::from).zip(y).collect();
        let line = slope(&points).expect("a line");
        let near = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-12, "{found}");
        near(line.slope, -0.056_25);
        near(line.intercept, 1.328_75);
        near(line.low, -0.15);
        near(line.high, 0.04);
    }

    #[test]
    fn one_bad_point_does_not_turn_it() {
        let mut points: Vec<(f64, f64)> = (0..9).map(|n| (f64::from(n), f64::from(n))).collect();
        points[4].1 = -500.0;
        assert_eq!(slope(&points).map(|line| line.slope), Ok(1.0));
    }

    #[test]
    fn what_has_no_line_is_refused_in_words() {
        let said = |points: &[(f64, f64)]| slope(points).expect_err("refused").to_string();
        assert_eq!(said(&[(1.0, 1.0)]), "expected at least 2 values, found 1");
        assert_eq!(
            said(&[(1.0, 1.0), (1.0, 2.0)]),
            "expected points at two different times at least, found 2 at one"
        );
        assert_eq!(
            said(&[(1.0, 1.0), (2.0, f64::INFINITY)]),
            "value 2: expected a finite number, found inf"
        );
    }

    /// Ohms that fall by a decade in `days`, a value each `every`.
    fn falling(n: u32, every: f64, days: f64) -> Vec<(f64, f64)> {
        let day = |n: u32| f64::from(n) * every;
        (0..n)
            .map(|n| (day(n), libm::pow(10.0, 9.0 - day(n) / days)))
            .collect()
    }

    #[track_caller]
    fn silent(points: &[(f64, f64)], minimum: f64, expected: &str) {
        let said = reaches(points, minimum).expect_err("silence").to_string();
        assert_eq!(said, expected);
    }

    /// By hand: from 1 GΩ a decade in 200 days, so 100 MΩ on day 200 and 10 MΩ on day 400.
    #[test]
    fn a_plain_fall_reaches_its_minimum_on_its_day() {
        let points = falling(10, 30.0, 200.0);
        let reach = reaches(&points, 1e7).expect("carried");
        assert!((reach.at - 400.0).abs() < 1e-6, "{reach:?}");
        assert!((reach.soonest - 400.0).abs() < 1e-6, "{reach:?}");
        // Ahead by 130 of the 270 days that the values reach back.
        assert!(reach.latest.is_some());
    }

    #[test]
    fn a_fall_that_scatters_gives_a_span_of_days_around_the_line() {
        let mut points = falling(10, 30.0, 200.0);
        for (n, point) in points.iter_mut().enumerate() {
            point.1 *= if n % 3 == 0 { 1.4 } else { 0.8 };
        }
        let reach = reaches(&points, 1e7).expect("carried");
        assert!(reach.soonest < reach.at, "{reach:?}");
        assert!(reach.latest.is_none_or(|latest| latest > reach.at));
    }

    #[test]
    fn what_the_values_do_not_carry_is_not_said() {
        silent(
            &falling(5, 60.0, 200.0),
            1e7,
            "no forecast: it takes 6 values, there are 5",
        );
        silent(
            &falling(8, 25.0, 200.0),
            1e8,
            "no forecast: it takes 180 days from the first to the last value, there are 175",
        );
        silent(
            &falling(10, 30.0, 200.0),
            1e3,
            "no forecast: the line stays above the minimum for the next 270 days, and further ahead than the values reach back nothing is said",
        );
        silent(
            &falling(10, 30.0, 200.0),
            1e8,
            "no forecast: it is at or below the minimum already",
        );
        let mut flat = falling(10, 30.0, 1e9);
        for (n, point) in flat.iter_mut().enumerate() {
            point.1 = if n % 2 == 0 { 1e9 } else { 5e8 };
        }
        let said = reaches(&flat, 1e7).expect_err("silence");
        assert!(matches!(said, Silent::NotFalling { low, high } if low < 0.0 && high >= 0.0));
        silent(
            &[(0.0, 1e6), (1.0, 0.0)],
            1e5,
            "value 2: expected more than 0 ohm, found 0",
        );
        silent(
            &falling(10, 30.0, 200.0),
            0.0,
            "expected a minimum above 0 ohm, found 0",
        );
    }

    #[test]
    fn a_last_value_below_the_minimum_is_no_matter_of_forecast() {
        let mut points = falling(10, 30.0, 200.0);
        points[9].1 = 9e6;
        silent(
            &points,
            1e7,
            "no forecast: it is at or below the minimum already",
        );
    }
}
