//! Control charts of single values: individuals and moving range, and the four
//! run rules that tell a change from scatter.
//!
//! Limits come from the scatter between neighbours, so a slow shift does not
//! widen them (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2). The
//! rules are those of the Western Electric Statistical Quality Control
//! Handbook, 1956, part B: each half of the chart for itself, and a signal
//! stands at the point that completes its pattern.

use super::{NumbersError, mean, usable};

/// d2 for ranges of two: their mean over σ, as tables print it.
pub const D2: f64 = 1.128;
/// D4 for ranges of two: the upper limit of ranges over their mean.
pub const D4: f64 = 3.267;
/// From so many values on limits are usually taken for settled (common practice).
pub const SETTLED: usize = 20;

/// The limits of a chart.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    /// How many values they come from; fewer than [`SETTLED`] is provisional.
    pub n: usize,
    /// The mean.
    pub center: f64,
    /// The mean moving range over d2.
    pub sigma: f64,
    /// center − 3 sigma.
    pub lower: f64,
    /// center + 3 sigma.
    pub upper: f64,
    /// The mean moving range.
    pub range_center: f64,
    /// D4 times it; the lower limit of a range of two is 0.
    pub range_upper: f64,
}

/// A pattern that scatter alone seldom makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// One point beyond three sigma.
    Beyond,
    /// Two of three beyond two sigma, on one side.
    TwoOfThree,
    /// Four of five beyond one sigma, on one side.
    FourOfFive,
    /// Eight in a row on one side of the center.
    EightInARow,
    /// A moving range above its limit.
    Range,
}

/// A rule, and the point at which its pattern is complete.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Signal {
    /// Which value, from 0.
    pub at: usize,
    /// Which rule.
    pub rule: Rule,
    /// Above the center, or below it; a range is above.
    pub above: bool,
}

/// Why there are no limits.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ChartError {
    /// The values cannot be looked at.
    #[error(transparent)]
    Numbers(#[from] NumbersError),
    /// Neighbours do not differ.
    #[error(
        "expected values that differ from one to the next, found {0} alike: without scatter there are no limits"
    )]
    NoScatter(usize),
}

impl Rule {
    /// What the pattern is, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Beyond => "one point beyond 3 sigma",
            Self::TwoOfThree => "two of three points beyond 2 sigma on one side",
            Self::FourOfFive => "four of five points beyond 1 sigma on one side",
            Self::EightInARow => "eight points in a row on one side of the center",
            Self::Range => "a change from the point before above the limit of changes",
        }
    }

    /// One word, as a machine reads it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Beyond => "beyond",
            Self::TwoOfThree => "two_of_three",
            Self::FourOfFive => "four_of_five",
            Self::EightInARow => "eight_in_a_row",
            Self::Range => "range",
        }
    }
}

/// The differences between neighbours, without sign: one fewer than values.
pub fn moving_ranges(values: &[f64]) -> Vec<f64> {
    let pairs = values.windows(2);
    pairs.map(|pair| (pair[1] - pair[0]).abs()).collect()
}

impl Limits {
    /// The limits that values give, in the order in which they were measured.
    ///
    /// # Errors
    /// Fewer than two values, one that is not finite, or no scatter at all.
    pub fn of(values: &[f64]) -> Result<Self, ChartError> {
        usable(values, 2)?;
        let center = mean(values);
        let range_center = mean(&moving_ranges(values));
        if range_center <= 0.0 {
            return Err(ChartError::NoScatter(values.len()));
        }
        let sigma = range_center / D2;
        Ok(Self {
            n: values.len(),
            center,
            sigma,
            lower: center - 3.0 * sigma,
            upper: center + 3.0 * sigma,
            range_center,
            range_upper: D4 * range_center,
        })
    }

    /// Where values break a rule, in the order of points and rules. They may be
    /// others than those that the limits come from.
    ///
    /// # Errors
    /// A value that is not finite.
    pub fn signals(&self, values: &[f64]) -> Result<Vec<Signal>, ChartError> {
        usable(values, 0)?;
        // Sigmas above the center; a point on a line is not beyond it.
        let away: Vec<f64> = values
            .iter()
            .map(|value| (value - self.center) / self.sigma)
            .collect();
        let mut signals = Vec::new();
        for at in 0..values.len() {
            for (rule, of, needed, sigmas) in ZONES {
                for above in [true, false] {
                    if pattern(&away[..=at], of, needed, sigmas, above) {
                        signals.push(Signal { at, rule, above });
                    }
                }
            }
            let range = at
                .checked_sub(1)
                .map(|one| (values[at] - values[one]).abs());
            if range.is_some_and(|range| range > self.range_upper) {
                signals.push(Signal {
                    at,
                    rule: Rule::Range,
                    above: true,
                });
            }
        }
        Ok(signals)
    }
}

/// The limits from the first values, as many as settle them, and the signals of
/// all: a later change does not move the limits that should show it.
///
/// # Errors
/// As [`Limits::of`].
pub fn settled(values: &[f64]) -> Result<(Limits, Vec<Signal>), ChartError> {
    let limits = Limits::of(&values[..values.len().min(SETTLED)])?;
    let signals = limits.signals(values)?;
    Ok((limits, signals))
}

/// The zone rules: of so many last points, so many beyond so many sigmas.
const ZONES: [(Rule, usize, usize, f64); 4] = [
    (Rule::Beyond, 1, 1, 3.0),
    (Rule::TwoOfThree, 3, 2, 2.0),
    (Rule::FourOfFive, 5, 4, 1.0),
    (Rule::EightInARow, 8, 8, 0.0),
];

/// Whether the last point completes a pattern: it lies in the zone, and so do
/// enough of those before it; the odd one may be anywhere. The pattern may be
/// complete before all points of its window are there.
fn pattern(away: &[f64], of: usize, needed: usize, sigmas: f64, above: bool) -> bool {
    let is = |point: &&f64| {
        if above {
            **point > sigmas
        } else {
            **point < -sigmas
        }
    };
    let window = &away[away.len().saturating_sub(of)..];
    window.last().as_ref().is_some_and(is) && window.iter().filter(is).count() >= needed
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST/SEMATECH e-Handbook 6.3.2.2: flow rates of ten batches, and the
    /// limits printed there.
    #[test]
    fn the_limits_of_the_handbook_are_met() {
        let rates = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        let limits = Limits::of(&rates).expect("limits");
        let near = |found: f64, printed: f64| assert!((found - printed).abs() < 5e-5, "{found}");
        near(limits.center, 50.81);
        near(limits.range_center, 1.8778);
        near(limits.upper, 55.8041);
        near(limits.lower, 45.8159);
        // "The process is in control, since none of the plotted points fall outside".
        let beyond = |signal: &Signal| signal.rule == Rule::Beyond;
        assert!(!limits.signals(&rates).expect("finite").iter().any(beyond));
    }

    /// A chart with its center at 0 and a sigma of 1: points are sigmas.
    #[track_caller]
    fn says(points: &[f64], expected: &str) {
        let limits = Limits {
            n: 0,
            center: 0.0,
            sigma: 1.0,
            lower: -3.0,
            upper: 3.0,
            range_center: 1.128,
            range_upper: 99.0,
        };
        let signals = limits.signals(points).expect("finite");
        let said: Vec<String> = signals
            .iter()
            .map(|s| {
                let side = if s.above { "+" } else { "-" };
                format!("{}{side}{}", s.at + 1, s.rule.word())
            })
            .collect();
        assert_eq!(said.join(" "), expected, "{points:?}");
    }

    #[test]
    fn one_point_beyond_three_sigma() {
        says(&[0.1, 3.1, -0.1, -3.1], "2+beyond 4-beyond");
        says(&[3.0, 0.1, -3.0], "");
    }

    #[test]
    fn two_of_three_beyond_two_sigma_the_odd_one_anywhere() {
        says(&[2.1, -0.5, 2.2], "3+two_of_three");
        says(&[2.1, -2.9, 2.2], "3+two_of_three");
        says(&[-2.1, -2.2], "2-two_of_three");
        says(&[2.1, 0.1, -0.1, 2.2], "");
        says(&[2.1, -2.1, 0.0], "");
        // The last point must lie in the zone itself: the pattern was complete before.
        says(&[2.1, 2.2, -0.3], "2+two_of_three");
    }

    #[test]
    fn four_of_five_beyond_one_sigma() {
        says(&[1.1, 1.2, -0.5, 1.3, 1.4], "5+four_of_five");
        says(&[-1.1, -1.2, -1.3, -1.4], "4-four_of_five");
        says(&[1.1, 1.2, -0.5, 0.5, 1.4], "");
        says(&[1.1, 1.2, 1.0, 1.0, 1.4], "");
    }

    #[test]
    fn eight_in_a_row_on_one_side() {
        says(&[0.2; 7], "");
        says(&[0.2; 9], "8+eight_in_a_row 9+eight_in_a_row");
        says(&[-0.2, -0.2, -0.2, -0.2, 0.0, -0.2, -0.2, -0.2, -0.2], "");
    }

    #[test]
    fn a_jump_is_named_at_the_point_behind_it() {
        let mut points = vec![10.0, 10.1, 9.9, 10.0, 10.1, 9.9, 10.0];
        let limits = Limits::of(&points).expect("limits");
        points.extend([10.1, 10.6]);
        let signals = limits.signals(&points).expect("finite");
        // By hand: ranges .1 .2 .1 .1 .2 .1, mean 0.1333, limit 0.4356; the jump is 0.5.
        assert!(signals.contains(&Signal {
            at: 8,
            rule: Rule::Range,
            above: true
        }));
        assert_eq!(signals.iter().filter(|s| s.rule == Rule::Range).count(), 1);
    }

    #[test]
    fn what_has_no_limits_is_refused_in_words() {
        let said = |values: &[f64]| Limits::of(values).expect_err("refused").to_string();
        assert_eq!(said(&[1.0]), "expected at least 2 values, found 1");
        assert_eq!(
            said(&[2.5, 2.5, 2.5]),
            "expected values that differ from one to the next, found 3 alike: without scatter there are no limits"
        );
    }
}
