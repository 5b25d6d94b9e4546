//! Insulation: winding to ground, or between windings, at a test voltage.
//!
//! A motor that may have no test voltage is never judged by one; a value at
//! another voltage than the planned one is not judged either.

use super::ground::to_the_bar;
use super::voltage::{Allowance, check_test_voltage, may_insulation_test};
use super::words::Terms;
use super::{Case, Judgement};
use crate::quantity::Volts;
use crate::reading::Outcome;
use crate::row::{Finding, Verdict};

/// Judges an insulation reading, a pulled-down tester or an aborted hold.
pub fn insulation(case: &Case<'_>) -> Judgement {
    if let Some(refused) = refused(case) {
        return refused;
    }
    let mut terms = Terms::new();
    match (case.take.test_voltage, case.around.planned_v) {
        (Some(Volts(v)), _) => terms.term(format_args!("at {} V", v.round())),
        (None, Some(Volts(v))) => {
            terms.term(format_args!("at {v} V planned; voltage not measured"))
        }
        (None, None) => terms.term(format_args!("voltage not measured")),
    }
    let mut judgement = to_the_bar(case, &mut terms, true);
    if judgement.verdict == Verdict::Pass && judgement.finding == Some(Finding::Within) {
        terms.term(format_args!("at least U above the minimum"));
    }
    judgement.reason = terms.done();
    judgement
}

/// What a test voltage forbids before any number counts.
fn refused(case: &Case<'_>) -> Option<Judgement> {
    let not_judged =
        |finding, reason: String| Some(Judgement::bare(Verdict::NotJudged, Some(finding), reason));
    match may_insulation_test(case.motor) {
        Err(forbidden) => {
            return not_judged(
                Finding::TestForbidden,
                format!(
                    "release now; electronics may be damaged: {}",
                    forbidden.reason
                ),
            );
        }
        Ok(Allowance::LeadsJoinedOnly) if case.point.name.as_str() != "all_to_ground" => {
            return not_judged(
                Finding::TestForbidden,
                String::from(
                    "the catalogue allows a test voltage with all leads joined only: measure all_to_ground",
                ),
            );
        }
        Ok(Allowance::Any | Allowance::LeadsJoinedOnly) => {}
    }
    let (planned, most) = (case.around.planned_v, case.motor.max_test_v);
    if let (Some(planned), Some(most)) = (planned, most)
        && planned.0 > most.0
    {
        return not_judged(
            Finding::TestForbidden,
            format!("{} V planned, at most {} V allowed", planned.0, most.0),
        );
    }
    // A pulled-down or aborted hold never reached its voltage: only too much counts there.
    let reached = matches!(
        case.take.outcome,
        Outcome::Value(_) | Outcome::Open { .. } | Outcome::OverRange { .. }
    );
    let measured = match case.take.outcome {
        Outcome::PulledDown { reached, .. } => Some(reached),
        _ => case.take.test_voltage,
    }?;
    match check_test_voltage(planned.unwrap_or(measured), measured, case.motor) {
        Some(Finding::TestForbidden) => not_judged(
            Finding::TestForbidden,
            format!(
                "release now: {} V on the clips, at most {} V allowed",
                measured.0,
                most.map_or(0.0, |v| v.0)
            ),
        ),
        Some(finding) if reached => not_judged(
            finding,
            format!(
                "{} V on the clips, {} V planned (0.9 to 1.25 of it is allowed): set the tester and measure again",
                measured.0,
                planned.unwrap_or(measured).0
            ),
        ),
        _ => None,
    }
}
