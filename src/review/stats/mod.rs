//! Statistics over many values: pure functions of numbers, each with its source.
//!
//! They know nothing of rows, units or files, and say in words when the data
//! do not carry an answer. `tests/outside/stats.py` holds each of them
//! against scipy, statsmodels and numpy.

mod beta;
pub mod chart;
pub mod grr;
pub mod share;
pub mod slope;
pub mod spread;

/// Why numbers cannot be looked at.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NumbersError {
    /// Too few of them.
    #[error("expected at least {least} values, found {found}")]
    Few {
        /// How many it takes.
        least: usize,
        /// How many there are.
        found: usize,
    },
    /// One is not a finite number.
    #[error("value {at}: expected a finite number, found {found}")]
    NotFinite {
        /// Which, from 1.
        at: usize,
        /// What it is.
        found: f64,
    },
}

/// Holds values to be at least so many and finite.
fn usable(values: &[f64], least: usize) -> Result<(), NumbersError> {
    if values.len() < least {
        return Err(NumbersError::Few {
            least,
            found: values.len(),
        });
    }
    match values.iter().position(|value| !value.is_finite()) {
        Some(at) => Err(NumbersError::NotFinite {
            at: at + 1,
            found: values[at],
        }),
        None => Ok(()),
    }
}

/// The arithmetic mean of at least one value.
fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// The values in order. They are finite: [`usable`] saw to it.
fn sorted(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
}

/// The median of at least one value: the middle one, or the mean of the two in the middle.
fn median(values: &[f64]) -> f64 {
    let sorted = sorted(values);
    let half = sorted.len() / 2;
    if sorted.len() % 2 == 1 {
        return sorted[half];
    }
    sorted[half - 1] / 2.0 + sorted[half] / 2.0
}
