//! Insulation: winding to ground, or between windings, at a test voltage.

use super::{Case, Judgement};
use crate::row::Verdict;

/// Judges an insulation reading, a pulled-down tester or an aborted hold.
pub fn insulation(case: &Case<'_>) -> Judgement {
    let _ = case;
    Judgement::bare(Verdict::Undecided, None, "not judged yet")
}
