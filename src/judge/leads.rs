//! Leads: the clips joined, before and after.
//!
//! Joined clips that read a dead short show that current can pass through the
//! whole chain; only then does over-range mean the motor and not a broken lead.

use super::ground::far_below_zero;
use super::words::{LIVE, Ohm, minus};
use super::{Case, Judgement, Null};
use crate::meter::{Measures, Meter};
use crate::quantity::{Decimal, Shown, Unit};
use crate::reading::{Flags, Outcome, Take};
use crate::row::{Finding, Verdict};

/// What joined clips say of the leads.
#[derive(Clone, Debug, PartialEq)]
pub struct Leads {
    /// The verdict of the row.
    pub judgement: Judgement,
    /// Whether it proves them: before gives [`LeadProof::Before`](super::LeadProof), after the other.
    pub proven: bool,
    /// What was read, to be handed to [`leads_after`].
    pub shown: Option<Decimal>,
    /// What is subtracted from winding readings from now on: none with four
    /// terminals, with a meter in relative, or for an insulation tester.
    pub null: Option<Null>,
}

/// `leads before`: an ohmmeter proves at most 1 Ω, an insulation tester at
/// most its `proof_max`.
pub fn leads_before(meter: &Meter, take: &Take) -> Leads {
    let shown = match joined(meter, take) {
        Ok(shown) => shown,
        Err(leads) => return *leads,
    };
    if !meter.measures(Measures::Ohms) {
        return tester(meter, shown);
    }
    if shown.value > Decimal::one(0) {
        return unproven(
            Verdict::Fail,
            Finding::High,
            format!("leads {shown}: at most 1 Ω is allowed; replace the leads"),
            Some(shown),
        );
    }
    let null = (meter.terminals != 4).then_some(Null {
        ohms: shown.value,
        resolution: shown.resolution,
    });
    let words = match null {
        Some(_) => "subtracted from winding readings from now on",
        None => "four wires: nothing to subtract",
    };
    Leads {
        judgement: with_value(
            Judgement::bare(
                Verdict::Pass,
                Some(Finding::Within),
                format!("leads {shown}, at most 1 Ω: proven; {words}"),
            ),
            shown,
        ),
        proven: true,
        shown: Some(shown.value),
        null,
    }
}

/// `leads after`: an ohmmeter proves within 0.5 Ω of `before`
/// ([`Leads::shown`]), an insulation tester at most its `proof_max`. Without
/// a proof before there is none after.
pub fn leads_after(meter: &Meter, take: &Take, before: Option<Decimal>) -> Leads {
    let shown = match joined(meter, take) {
        Ok(shown) => shown,
        Err(leads) => return *leads,
    };
    let Some(before) = before else {
        return unproven(
            Verdict::Undecided,
            Finding::LeadsUnproven,
            format!(
                "leads {shown}, but no proof before: measure leads before, then the points again"
            ),
            Some(shown),
        );
    };
    if !meter.measures(Measures::Ohms) {
        return tester(meter, shown);
    }
    let change = minus(shown.value, before);
    if change.abs() > Decimal::new(5, -1).unwrap_or_default() {
        return unproven(
            Verdict::Fail,
            Finding::Changed,
            format!(
                "leads {shown}, before {}: changed by {}, at most 0.5 Ω is allowed; look at leads and clips, measure the points again",
                Ohm(before),
                Ohm(change)
            ),
            Some(shown),
        );
    }
    Leads {
        judgement: with_value(
            Judgement::bare(
                Verdict::Pass,
                Some(Finding::Within),
                format!(
                    "leads {shown}, before {}: proven before and after",
                    Ohm(before)
                ),
            ),
            shown,
        ),
        proven: true,
        shown: Some(shown.value),
        null: None,
    }
}

/// The null that may be subtracted in this case: none with four terminals or
/// a meter in relative, which subtracts by itself.
pub(super) fn null_of(case: &Case<'_>) -> Option<Null> {
    case.around
        .null
        .filter(|_| case.meter.terminals != 4 && !case.take.flags.has(Flags::RELATIVE))
}

/// The value of joined clips, or why it proves nothing.
fn joined(meter: &Meter, take: &Take) -> Result<Shown, Box<Leads>> {
    let no = |verdict, finding, reason: &str, shown| {
        Err(Box::new(unproven(
            verdict,
            finding,
            reason.to_owned(),
            shown,
        )))
    };
    let shown = match take.outcome {
        _ if take.flags.not_now() => {
            return no(
                Verdict::Undecided,
                Finding::Unstable,
                "the meter is in hold, min, max or average: leave that mode and join the clips again",
                None,
            );
        }
        _ if take.flags.has(Flags::LIVE) => {
            return no(Verdict::Undecided, Finding::VoltagePresent, LIVE, None);
        }
        Outcome::Value(shown)
        | Outcome::PulledDown {
            last: Some(shown), ..
        } => shown,
        Outcome::Open { .. } | Outcome::OverRange { .. } => {
            return no(
                Verdict::Fail,
                Finding::Open,
                "over-range with the clips joined: replace the leads",
                None,
            );
        }
        Outcome::PulledDown { .. } | Outcome::Aborted(_) => {
            return no(
                Verdict::Undecided,
                Finding::Unstable,
                "no value with the clips joined: join them again",
                None,
            );
        }
    };
    if shown.unit != Unit::Ohm {
        return no(
            Verdict::Undecided,
            Finding::RangeSuspect,
            "ohms are expected with the clips joined: check the meter's function",
            None,
        );
    }
    let relative = take.flags.has(Flags::RELATIVE) && meter.measures(Measures::Ohms);
    if relative || far_below_zero(shown.value, shown.resolution) {
        return no(
            Verdict::Undecided,
            Finding::NullSuspect,
            "the meter subtracts a null of its own, or reads below zero: leave relative and join the clips again",
            Some(shown),
        );
    }
    Ok(shown)
}

fn tester(meter: &Meter, shown: Shown) -> Leads {
    let most = Decimal::rounded(meter.proof_max.0, 0).unwrap_or_default();
    if shown.value > most {
        return unproven(
            Verdict::Fail,
            Finding::High,
            format!(
                "leads {shown} with the clips joined: at most {} is allowed; replace the leads",
                Ohm(most)
            ),
            Some(shown),
        );
    }
    Leads {
        judgement: with_value(
            Judgement::bare(
                Verdict::Pass,
                Some(Finding::Within),
                format!(
                    "leads {shown} with the clips joined, at most {}: proven",
                    Ohm(most)
                ),
            ),
            shown,
        ),
        proven: true,
        shown: Some(shown.value),
        null: None,
    }
}

fn unproven(verdict: Verdict, finding: Finding, reason: String, shown: Option<Shown>) -> Leads {
    let judgement = Judgement::bare(verdict, Some(finding), reason);
    Leads {
        judgement: match shown {
            Some(shown) => with_value(judgement, shown),
            None => judgement,
        },
        proven: false,
        shown: shown.map(|s| s.value),
        null: None,
    }
}

fn with_value(mut judgement: Judgement, shown: Shown) -> Judgement {
    judgement.judged_ohms = Some(shown.value);
    judgement
}
