//! Jobs: what all points of a sheet come to together.

use crate::limits::{Motor, Point};
use crate::row::{Finding, JobOutcome, Verdict};

/// What is always printed with an outcome.
pub const STANDING: &str = "these tests cannot show turn-to-turn weakness, bearings or rotor; a normal winding does not clear a motor";

/// Where a point of the sheet stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Not measured yet.
    Due,
    /// Left out by a person.
    Skipped,
    /// Attested by a person.
    Attested,
    /// Measured and judged; the last row that counts.
    Judged {
        /// Its verdict.
        verdict: Verdict,
        /// Its finding.
        finding: Option<Finding>,
        /// Whether a second proof would still turn it into a pass ([`super::proof_due`]).
        proof_due: bool,
    },
}

/// A point of the sheet with where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PointResult {
    /// The point; the sheet's `set` of windings too.
    pub point: Point,
    /// Where it stands.
    pub standing: Standing,
}

/// What a job comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// In one word.
    pub outcome: JobOutcome,
    /// What was found, cannot be said or is missing, in words.
    pub why: String,
}

/// What the points come to, worst first. Fit for a job that still runs too:
/// points that are due are missing.
pub fn job_outcome(points: &[PointResult], motor: &Motor) -> Outcome {
    let _ = (points, motor);
    Outcome {
        outcome: JobOutcome::Incomplete,
        why: String::from("not judged yet"),
    }
}

/// The banner: at once on a ground or insulation fail; "not proven yet: join
/// the clips" while a second proof is due; when the job has `ended`, without a
/// ground pass and an insulation pass too.
pub fn do_not_energize(points: &[PointResult], ended: bool) -> Option<String> {
    let _ = (points, ended);
    None
}
