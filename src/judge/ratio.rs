//! Ratios of two insulation values: polarization index and absorption ratio.
//!
//! A band is named by its interval, and a boundary belongs to the band above;
//! both are compared as exact decimals. A ratio is a trend, not a clearance:
//! no band passes a motor, and nothing here gives a verdict.

use crate::limits::{Bands, RatioKind};
use crate::quantity::Decimal;
use crate::text::Text;

use super::words::trimmed;

/// Above this the current is too small for a polarization index to mean
/// anything: 5000 megohm at 1 min (IEEE 43-2013 clause 12.2).
const PI_MOST_MEGOHM: i64 = 5000;

/// A ratio and where it lies.
#[derive(Clone, Debug, PartialEq)]
pub struct Banded {
    /// Late over early.
    pub number: f64,
    /// Such as `1_to_1.25`, `from_4`, `within`, `below_minimum`, `not_judged`.
    pub band: String,
    /// Where the bands come from; empty when nothing is judged.
    pub source: Text,
}

/// Why there is no ratio.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RatioError {
    /// Bands of the other ratio.
    #[error("bands {name} are of {found}, not of {expected}; name bands of {expected}")]
    Kind {
        /// The bands.
        name: Text,
        /// What they are of.
        found: RatioKind,
        /// What was asked.
        expected: RatioKind,
    },
    /// The early value is 0 or below.
    #[error("expected an early value above 0, found {found}")]
    Early {
        /// As given.
        found: Decimal,
    },
    /// The late value is below 0.
    #[error("expected a late value of at least 0, found {found}")]
    Late {
        /// As given.
        found: Decimal,
    },
}

/// The ratio of two values in megohms, and its band: `not_judged` without
/// bands, and of a polarization index whose early value is above 5000 megohm.
///
/// # Errors
/// Bands of the other ratio, an early value that is not above 0, a late value
/// below 0.
pub fn ratio(
    kind: RatioKind,
    bands: Option<&Bands>,
    early_megohm: Decimal,
    late_megohm: Decimal,
) -> Result<Banded, RatioError> {
    if let Some(bands) = bands.filter(|b| b.kind != kind) {
        return Err(RatioError::Kind {
            name: bands.name.clone(),
            found: bands.kind,
            expected: kind,
        });
    }
    if early_megohm <= Decimal::ZERO {
        return Err(RatioError::Early {
            found: early_megohm,
        });
    }
    if late_megohm < Decimal::ZERO {
        return Err(RatioError::Late { found: late_megohm });
    }
    let most = Decimal::new(PI_MOST_MEGOHM, 0).unwrap_or_default();
    let told = bands.filter(|_| kind != RatioKind::Pi || early_megohm <= most);
    Ok(Banded {
        number: late_megohm.to_f64() / early_megohm.to_f64(),
        band: told.map_or_else(
            || String::from("not_judged"),
            |b| band(b, early_megohm, late_megohm),
        ),
        source: told.map(|b| b.source.clone()).unwrap_or_default(),
    })
}

fn band(bands: &Bands, early: Decimal, late: Decimal) -> String {
    if let Some(minimum) = bands.minimum {
        return String::from(if reaches(late, early, minimum) {
            "within"
        } else {
            "below_minimum"
        });
    }
    let above = bands
        .bounds
        .iter()
        .take_while(|bound| reaches(late, early, **bound))
        .count();
    let bound = |at: usize| bands.bounds.get(at).copied().map(trimmed);
    match (above.checked_sub(1).and_then(bound), bound(above)) {
        (None, Some(upper)) => format!("below_{upper}"),
        (Some(lower), Some(upper)) => format!("{lower}_to_{upper}"),
        (Some(lower), None) => format!("from_{lower}"),
        (None, None) => String::from("not_judged"),
    }
}

/// Whether late is at least early × bound, exactly: none of them is below 0.
fn reaches(late: Decimal, early: Decimal, bound: Decimal) -> bool {
    let product = i128::from(early.count()) * i128::from(bound.count());
    let (mut left, mut right) = (i128::from(late.count()), product);
    let difference = i32::from(late.exp()) - i32::from(early.exp()) - i32::from(bound.exp());
    let (side, power) = if difference >= 0 {
        (&mut left, difference)
    } else {
        (&mut right, -difference)
    };
    for _ in 0..power {
        match side.checked_mul(10) {
            Some(tenfold) => *side = tenfold,
            // More than i128 holds is more than the other side has, unless it is nothing.
            None => return difference >= 0,
        }
    }
    left >= right
}
