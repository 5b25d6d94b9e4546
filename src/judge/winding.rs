//! Windings: one resistance against the limits of the catalogue.

use super::{Case, Judgement};
use crate::row::Verdict;

/// Judges a winding reading.
pub fn winding(case: &Case<'_>) -> Judgement {
    let _ = case;
    Judgement::bare(Verdict::Undecided, None, "not judged yet")
}

/// Judges a sensor by the range its name has among the motor's points;
/// without one it is not judged.
pub fn sensor(case: &Case<'_>) -> Judgement {
    let _ = case;
    Judgement::bare(Verdict::Undecided, None, "not judged yet")
}
