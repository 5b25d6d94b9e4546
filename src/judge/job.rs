//! Jobs: what all points of a sheet come to together.
//!
//! The worst word wins, and what is missing is said. Nothing here ever says
//! that a motor is fit to be energized.

use super::may_insulation_test;
use super::sheet::{not_on, reaches_ground};
use crate::limits::{Electronics, InsulationTest, Motor, Point, Test};
use crate::row::{Finding, JobOutcome, Verdict};

/// Why a reviewer's words were refused.
pub const CLEARS_NONE: &str =
    "a review clears no motor: say what was looked at and found, not that it may be energized";

/// Whether words that are printed beside verdicts would say that energizing is safe
/// (own list; whoever wants to say so finds other words, which stand under a name).
pub fn clears_a_motor(words: &str) -> bool {
    const CLEARS: [&str; 8] = [
        "safe to",
        "is safe",
        "may be energi",
        "can be energi",
        "may energi",
        "ok to",
        "okay to",
        "ready to run",
    ];
    let words = words.to_lowercase();
    CLEARS.iter().any(|clears| words.contains(clears))
}

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

impl PointResult {
    fn verdict(&self) -> Option<Verdict> {
        match self.standing {
            Standing::Judged { verdict, .. } => Some(verdict),
            Standing::Due | Standing::Skipped | Standing::Attested => None,
        }
    }

    fn finding(&self) -> Option<Finding> {
        match self.standing {
            Standing::Judged { finding, .. } => finding,
            Standing::Due | Standing::Skipped | Standing::Attested => None,
        }
    }
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
    let mut faults = Vec::new();
    let mut unsaid = Vec::new();
    let mut missing = Vec::new();
    for point in points {
        let words = described(point);
        match point.standing {
            Standing::Attested => {}
            Standing::Due => missing.push(format!("{} not measured", point.point)),
            Standing::Skipped => missing.push(format!("{} left out", point.point)),
            Standing::Judged { verdict, .. } => match verdict {
                // Leads and grounds are ours, not the motor's.
                Verdict::Fail if is_ours(point) => unsaid.push(words),
                Verdict::Fail if explained_by_set(points, point) => unsaid.push(words),
                Verdict::Fail => faults.push(words),
                Verdict::Undecided => unsaid.push(words),
                Verdict::NotJudged if is_needed(points, point) => {
                    missing.push(format!("{} not judged", point.point));
                }
                Verdict::NotJudged | Verdict::Pass => {}
            },
        }
    }
    missing.extend(tests_missing(points, motor));
    let (outcome, first) = if !faults.is_empty() {
        (JobOutcome::FaultFound, faults)
    } else if !unsaid.is_empty() {
        (JobOutcome::Undecided, unsaid)
    } else if !missing.is_empty() {
        (JobOutcome::Incomplete, core::mem::take(&mut missing))
    } else {
        let mut tested = vec![String::from("no fault found by these tests")];
        if !passed(points, Test::Insulation) {
            tested.push(String::from("insulation not tested"));
        }
        (JobOutcome::NoFaultFound, tested)
    };
    let mut why = first.join(", ");
    if !missing.is_empty() {
        why += "; missing: ";
        why += &missing.join(", ");
    }
    Outcome { outcome, why }
}

/// The banner: at once on a ground or insulation fail; "not proven yet: join
/// the clips" while a second proof is due; when the job has `ended`, without a
/// ground pass and an insulation pass too.
pub fn do_not_energize(points: &[PointResult], ended: bool) -> Option<String> {
    let failed: Vec<String> = points
        .iter()
        .filter(|p| to_ground(p) && p.verdict() == Some(Verdict::Fail))
        .map(described)
        .collect();
    if !failed.is_empty() {
        return Some(format!("DO NOT ENERGIZE: {}", failed.join(", ")));
    }
    let due = points.iter().any(|p| {
        matches!(
            p.standing,
            Standing::Judged {
                proof_due: true,
                ..
            }
        )
    });
    if due && !ended {
        return Some(String::from("NOT PROVEN YET: join the clips when asked"));
    }
    let lacking: Vec<&str> = [Test::Ground, Test::Insulation]
        .into_iter()
        .filter(|test| !passed(points, *test))
        .map(Test::word)
        .collect();
    (ended && !lacking.is_empty())
        .then(|| format!("DO NOT ENERGIZE: no pass of {}", lacking.join(" and ")))
}

fn described(point: &PointResult) -> String {
    match (point.finding(), point.verdict()) {
        (Some(finding), _) => format!("{} {finding}", point.point),
        (None, Some(verdict)) => format!("{} {verdict}", point.point),
        (None, None) => point.point.to_string(),
    }
}

fn to_ground(point: &PointResult) -> bool {
    matches!(point.point.test, Test::Ground | Test::Insulation)
}

fn is_ours(point: &PointResult) -> bool {
    matches!(
        point.point.test,
        Test::Dead | Test::Leads | Test::GroundPath
    )
}

/// Mixed leads are not two faults, an open thermal switch is not an open
/// winding, and what no motor can read is a slipped clip: where the set says
/// so, it speaks for its three values. They are never cleared by it.
fn explained_by_set(points: &[PointResult], point: &PointResult) -> bool {
    let of_set = point.point.test == Test::Winding
        && matches!(
            point.point.name.as_str(),
            "main" | "start" | "total" | "line_12" | "line_23" | "line_31"
        );
    let set = set_of(points).filter(|set| set.verdict() == Some(Verdict::Undecided));
    match set.and_then(PointResult::finding) {
        Some(Finding::LeadsMixed) => of_set,
        Some(Finding::Open) => of_set && point.finding() == Some(Finding::Open),
        _ => false,
    }
}

/// Whether a job is incomplete while this is not judged. `total` has no limits
/// of its own: the set judges it.
fn is_needed(points: &[PointResult], point: &PointResult) -> bool {
    match point.point.test {
        Test::Winding if point.point.name.as_str() == "total" => {
            set_of(points).is_none_or(|set| set.verdict() == Some(Verdict::NotJudged))
        }
        Test::Winding | Test::Ground | Test::Insulation | Test::Sensor => true,
        Test::Dead | Test::Leads | Test::GroundPath | Test::Ratio | Test::Temperature => false,
    }
}

fn set_of(points: &[PointResult]) -> Option<&PointResult> {
    points.iter().find(|p| p.point.is(Test::Winding, "set"))
}

/// Whether ground or insulation passed: every point of it, and the whole
/// winding to ground among them. Between two windings nothing is said of ground.
fn passed(points: &[PointResult], test: Test) -> bool {
    let mut of_test = points.iter().filter(|p| p.point.test == test);
    to_ground_listed(points, test) && of_test.all(|p| p.verdict() == Some(Verdict::Pass))
}

fn to_ground_listed(points: &[PointResult], test: Test) -> bool {
    reaches_ground(points.iter().map(|p| &p.point), test)
}

/// Tests that the sheet does not even list. Only electronics that are there or
/// the catalogue's word excuse from the insulation test; not knowing does not.
fn tests_missing(points: &[PointResult], motor: &Motor) -> Vec<String> {
    let listed = |test| points.iter().any(|p| p.point.test == test);
    let mut missing = Vec::new();
    if !listed(Test::Winding) {
        missing.push(String::from("winding not measured"));
    }
    if !listed(Test::Ground) {
        missing.push(String::from("ground not measured"));
    } else if !to_ground_listed(points, Test::Ground) {
        missing.push(String::from("ground all_to_ground not measured"));
    }
    if listed(Test::Winding) {
        for point in not_on(motor, points.iter().map(|p| &p.point)) {
            missing.push(format!("{point} not on the sheet"));
        }
    }
    let excused = motor.insulation_test == InsulationTest::Forbidden
        || (may_insulation_test(motor).is_err() && motor.electronics == Electronics::Yes);
    if listed(Test::Insulation) && !to_ground_listed(points, Test::Insulation) && !excused {
        missing.push(String::from("insulation all_to_ground not tested"));
    }
    if !listed(Test::Insulation) && !excused {
        missing.push(match may_insulation_test(motor) {
            Ok(_) => String::from("insulation not tested"),
            Err(why) => format!("insulation not tested ({})", why.reason),
        });
    }
    missing
}
