//! Proofs: that the reference is ground, and that over-range was the motor.

use super::ground::far_below_zero;
use super::leads::null_of;
use super::words::{LIVE, Ohm, Terms, minus};
use super::{Case, Contact, GroundPath, Judgement, LeadProof};
use crate::limits::{GroundReference, Test};
use crate::quantity::{Decimal, Unit};
use crate::reading::{Flags, Outcome};
use crate::row::{Finding, Verdict};

/// Metal to metal: at most this beyond the null proves the reference.
const METAL_OHMS: i64 = 1;
/// Through earth or water: small beside megohms (own).
const EARTH_OHMS: i64 = 1000;

/// Judges a `ground_path` reading and says how far it proves the reference:
/// at most 1 Ω beyond the null is metal; at most 1 kΩ is through earth or
/// water, which a frame may not be. Put the
/// [`GroundPath`] into [`Around`](super::Around) of what follows.
pub fn ground_path(case: &Case<'_>) -> (GroundPath, Judgement) {
    let unproven = |reason: String| {
        (
            GroundPath::Unproven,
            Judgement::bare(
                Verdict::Undecided,
                Some(Finding::GroundPathUnproven),
                reason,
            ),
        )
    };
    let shown = match case.take.outcome {
        _ if case.take.flags.has(Flags::LIVE) => {
            let mut judgement = unproven(String::from(LIVE));
            judgement.1.finding = Some(Finding::VoltagePresent);
            return judgement;
        }
        Outcome::Value(shown) if shown.unit == Unit::Ohm && !case.take.flags.not_now() => shown,
        Outcome::Open { .. } | Outcome::OverRange { .. } => {
            return unproven(String::from(
                "over-range between the two grounds: clean the places of contact, find another ground",
            ));
        }
        _ => return unproven(String::from("no steady value in ohms: measure again")),
    };
    let null = null_of(case);
    let beyond = null.map_or(shown.value, |null| minus(shown.value, null.ohms));
    let mut terms = Terms::new();
    terms.term(format_args!("shown {shown}"));
    if let Some(null) = null {
        terms.more(format_args!(" − leads {} = {}", null.ohms, Ohm(beyond)));
    }
    let at_most = |most| Decimal::new(most, 0).is_ok_and(|most| beyond <= most);
    // A frame is bolted to its conductor; a conductor is read to a casing, which earth may part from it.
    let metal_only = case.around.ground_reference == GroundReference::Frame;
    if case.take.flags.has(Flags::RELATIVE) || far_below_zero(beyond, shown.resolution) {
        let mut judgement = unproven(terms.done());
        judgement.1.finding = Some(Finding::NullSuspect);
        judgement.1.reason +=
            "; a null that does not belong here: leave relative, join the clips, measure again";
        return judgement;
    }
    let (path, verdict, finding, words) = if at_most(METAL_OHMS) {
        (
            GroundPath::Metal,
            Verdict::Pass,
            Finding::Within,
            "ground, metal to metal (at most 1 Ω)",
        )
    } else if at_most(EARTH_OHMS) && !metal_only {
        (
            GroundPath::Earth,
            Verdict::Pass,
            Finding::Within,
            "ground, through earth or water (at most 1 kΩ, own)",
        )
    } else {
        (
            GroundPath::Unproven,
            Verdict::Undecided,
            Finding::GroundPathUnproven,
            "too much for a ground: clean the places of contact, look for a broken ground conductor, find another ground",
        )
    };
    // The other meter's values would rest on it (rule 20).
    let blocked = case.around.meter_blocked && verdict == Verdict::Pass;
    let (path, verdict, finding) = if blocked {
        terms.term(format_args!("{}", super::words::blocked(case.around)));
        (
            GroundPath::Unproven,
            Verdict::Undecided,
            Finding::GroundPathUnproven,
        )
    } else {
        (path, verdict, finding)
    };
    terms.term(format_args!("{words}; {verdict}"));
    let mut judgement = Judgement::bare(verdict, Some(finding), terms.done());
    judgement.leads_ohms = null.map(|n| n.ohms);
    judgement.judged_ohms = Some(beyond);
    (path, judgement)
}

/// The same value judged again after the second proof of the leads held:
/// what the `judged` row says. `contact` is how the contact was shown
/// before the clips came off; an ohmmeter needs [`Contact::SecondLead`], a
/// tester may have [`Contact::Attested`].
pub fn proven_after(first: &Case<'_>, contact: Contact) -> Judgement {
    let mut around = first.around.clone();
    around.leads = LeadProof::BeforeAndAfter;
    around.contact = contact;
    super::value(&Case {
        around: &around,
        ..first.clone()
    })
}

/// Whether a second proof would still turn this value into a pass: then the
/// banner is "not proven yet: join the clips".
pub fn proof_due(case: &Case<'_>) -> bool {
    matches!(case.point.test, Test::Ground | Test::Insulation)
        && case.around.leads == LeadProof::Before
        && super::value(case).verdict != Verdict::Pass
        && proven_after(case, Contact::SecondLead).verdict == Verdict::Pass
}
