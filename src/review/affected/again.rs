//! A row judged again by its own numbers: limits, acceptance and U as they
//! stand in it, another value.
//!
//! The rules are those of [`crate::judge`], as far as numbers decide; a test
//! holds them to the verdicts of whole captured jobs. What else decided, such
//! as leads that were not proven, no number undoes.

use core::time::Duration;

use serde::Deserialize;

use crate::judge::{Mark, correction};
use crate::limits::{Acceptance, InsulationKind, Profile};
use crate::quantity::Decimal;
use crate::row::{Row, Verdict};

/// A mark may be read so much before it, and a spot value needs so much (rule 13).
const MARK_SLACK_S: f64 = 2.0;
const SPOT_S: f64 = 5.0;

/// What a job's first row says that its values were judged by.
#[derive(Clone, Debug, Default)]
pub(super) struct Plan {
    profile: Option<Profile>,
    /// Least and greatest factor to 40 °C, where the temperature is assumed.
    assumed: Option<(f64, f64)>,
}

#[derive(Deserialize)]
struct Start {
    #[serde(default)]
    limits: Option<Profile>,
    motor: StartMotor,
}

#[derive(Deserialize)]
struct StartMotor {
    #[serde(default)]
    insulation: Option<InsulationKind>,
}

impl Plan {
    /// From a `job_start` row; none: its note does not read.
    pub(super) fn of(start: &Row) -> Option<Self> {
        let said: Start = serde_json::from_str(&start.note).ok()?;
        let corrects = said
            .limits
            .as_ref()
            .is_some_and(|l| l.correct_to_c.is_some());
        let kind = said.motor.insulation;
        let assumed = (corrects && start.temperature_c.is_none()).then(|| {
            let worst = correction::careful(kind, correction::COLDEST);
            (worst, correction::generous(kind, correction::HOTTEST))
        });
        Some(Self {
            profile: said.limits,
            assumed,
        })
    }

    /// Whether a hold was read before insulation has risen.
    fn early(&self, row: &Row) -> bool {
        let held = row.elapsed_s.map(|s| s.to_f64());
        match (Mark::of(self.profile.as_ref()), held) {
            (Mark::At(mark), Some(held)) => {
                held + MARK_SLACK_S < Duration::from_secs(mark.into()).as_secs_f64()
            }
            (Mark::At(_), None) => true,
            (Mark::Spot, Some(held)) => held < SPOT_S,
            (Mark::Spot, None) => false,
        }
    }
}

/// Whether a row is of ground or insulation: never made better by a number.
pub(super) fn to_ground(row: &Row) -> bool {
    matches!(row.test.as_str(), "ground" | "insulation")
}

/// Whether a row proves leads or a path of metal: it has no limits of its own.
pub(super) fn proves(row: &Row) -> bool {
    matches!(row.test.as_str(), "leads" | "ground_path")
}

/// The verdict of such a row without the error, where it lies on the same side of
/// an ohm (rules 1 and 3); none: what its meter proves stands in no row.
pub(super) fn proven(row: &Row, judged: Decimal) -> Option<Verdict> {
    let most = Decimal::new(1, 0).ok()?;
    let was = row.judged_ohms.or(row.value_ohms)?;
    row.verdict.filter(|_| (was <= most) == (judged <= most))
}

/// What the numbers of a row make of a value; none: it has no limits, or
/// no U where U decides.
pub(super) fn by_numbers(row: &Row, plan: &Plan, judged: Decimal) -> Option<Verdict> {
    let u = row.uncertainty_ohms;
    if to_ground(row) {
        return Some(to_the_bar(row, plan, judged, row.lower_ohms?, u?));
    }
    let (lower, upper) = (row.lower_ohms, row.upper_ohms);
    if lower.is_none() && upper.is_none() {
        return None;
    }
    let outside = lower.is_some_and(|l| judged < l) || upper.is_some_and(|u| judged > u);
    let plain = if outside {
        Verdict::Fail
    } else {
        Verdict::Pass
    };
    if row.acceptance? == Acceptance::Simple {
        return Some(plain);
    }
    let u = u?;
    let near = [lower, upper]
        .into_iter()
        .flatten()
        .any(|limit| minus(judged, limit).abs() < u);
    let narrow = lower
        .zip(upper)
        .is_some_and(|(lower, upper)| minus(upper, lower).to_f64() < 2.0 * u.to_f64());
    Some(match near || narrow && !outside {
        true => Verdict::Undecided,
        false => plain,
    })
}

/// Ground and insulation: guarded, and by the assumed temperature that is
/// worst for a pass and best for a fail.
fn to_the_bar(row: &Row, plan: &Plan, judged: Decimal, minimum: Decimal, u: Decimal) -> Verdict {
    let (least, most) = match plan.assumed {
        None => (minus(judged, u) >= minimum, judged.to_f64()),
        Some((worst, best)) => {
            let clear = worst * minus(judged, u).to_f64() >= minimum.to_f64();
            (clear, best * judged.to_f64())
        }
    };
    let below = match plan.assumed {
        None => judged < minimum,
        Some(_) => most < minimum.to_f64(),
    };
    let hopeless = 10.0 * most < minimum.to_f64();
    match (least, below) {
        (true, _) => Verdict::Pass,
        (false, true) if row.test == "insulation" && plan.early(row) && !hopeless => {
            Verdict::Undecided
        }
        (false, true) => Verdict::Fail,
        (false, false) => Verdict::Undecided,
    }
}

fn minus(a: Decimal, b: Decimal) -> Decimal {
    a.checked_sub(b).unwrap_or(a)
}

/// The verdict after, from the verdict then and what numbers make of both
/// values. Where something else than the number decided, and always of ground
/// and insulation, a verdict does not become better: measure again.
pub(super) fn verdict(row: &Row, then: Verdict, was: Verdict, is: Verdict) -> Verdict {
    if was == is {
        return then;
    }
    if then == Verdict::NotJudged {
        // There was nothing to pass it by; below the floor it fails all the same.
        return if is == Verdict::Fail { is } else { then };
    }
    if was == then && !to_ground(row) {
        return is;
    }
    then.min(is)
}
