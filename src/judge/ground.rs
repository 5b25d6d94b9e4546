//! Ground: winding to ground at an ohmmeter's low voltage, and what ground and
//! insulation share.
//!
//! A fallen clip reads like perfect insulation. So over-range counts as "more
//! than full scale" and passes only between two proofs of the leads and with
//! contact shown. Nothing here passes on trust.

use super::acceptance::Found;
use super::bar::{Bar, Brought, Stand};
use super::words::{LIVE, Ohm, Terms, trimmed};
use super::{Case, Contact, GroundPath, Judgement, LeadProof, voltage};
use crate::limits::{Acceptance, GroundReference, Test};
use crate::meter::Measures;
use crate::quantity::{Decimal, Shown, Unit};
use crate::reading::{Abort, Flags, Outcome};
use crate::row::{Finding, Verdict};

/// Judges a ground reading. Its best is `pass`, `no_fault_seen`.
pub fn ground(case: &Case<'_>) -> Judgement {
    if let Some(refused) = case
        .take
        .test_voltage
        .and_then(|v| voltage::forbidden_voltage(case.motor, v))
    {
        return refused;
    }
    let mut terms = Terms::new();
    let mut judgement = to_the_bar(case, &mut terms, false);
    if judgement.verdict == Verdict::Pass {
        judgement.finding = Some(Finding::NoFaultSeen);
        terms.term(format_args!(
            "a low voltage saw no fault; insulation not tested"
        ));
    }
    judgement.reason = terms.done();
    judgement
}

/// What ground and insulation share: every outcome of a take against the bar.
pub(super) fn to_the_bar(case: &Case<'_>, terms: &mut Terms, hold: bool) -> Judgement {
    let bar = Bar::of(case);
    let mut judgement = Judgement::bare(Verdict::Undecided, None, "");
    judgement.lower_ohms = Some(bar.minimum);
    bar.source.as_str().clone_into(&mut judgement.limits_from);
    judgement.acceptance = Some(Acceptance::Guarded);
    let (verdict, finding) = match case.take.outcome {
        Outcome::Aborted(why) => {
            terms.term(format_args!(
                "no value at the mark: {}; hold again",
                aborted(why)
            ));
            (Verdict::Undecided, Some(Finding::Unstable))
        }
        _ if case.take.flags.not_now() => {
            terms.term(format_args!(
                "the meter is in hold, min, max or average: not what is on the clips now; leave that mode and measure again"
            ));
            (Verdict::Undecided, Some(Finding::Unstable))
        }
        _ if !hold && case.take.flags.has(Flags::LIVE) => {
            terms.term(format_args!("{LIVE}"));
            (Verdict::Undecided, Some(Finding::VoltagePresent))
        }
        _ if hold && case.take.flags.has(Flags::LOW_BATTERY) => {
            terms.term(format_args!(
                "the tester's battery is low: change it and measure again"
            ));
            (Verdict::Undecided, Some(Finding::Unstable))
        }
        Outcome::Value(shown) if shown.unit != Unit::Ohm => wrong_unit(terms, shown),
        Outcome::Value(shown) => value(case, terms, &bar, shown, hold, &mut judgement),
        Outcome::Open { full_scale } | Outcome::OverRange { full_scale } => {
            over(case, terms, &bar, full_scale, &mut judgement)
        }
        Outcome::PulledDown { last, reached } => {
            terms.term(format_args!(
                "the tester cannot hold its voltage: {} V reached",
                reached.0
            ));
            pulled_down(case, terms, &bar, last, &mut judgement)
        }
    };
    terms.term(format_args!("{verdict}"));
    judgement.verdict = verdict;
    judgement.finding = finding;
    what_to_do(terms, verdict, finding);
    judgement
}

fn value(
    case: &Case<'_>,
    terms: &mut Terms,
    bar: &Bar,
    shown: Shown,
    hold: bool,
    judgement: &mut Judgement,
) -> Found {
    terms.term(format_args!("shown {shown}"));
    if far_below_zero(shown.value, shown.resolution) {
        return (Verdict::Undecided, Some(Finding::NullSuspect));
    }
    let brought = bar.bring(case, shown.value, shown.resolution, shown.full_scale);
    judgement.judged_ohms = Some(brought.judged);
    judgement.uncertainty_ohms = Some(brought.u);
    bar.terms(terms, &brought);
    let below = below_finding(case, bar);
    if hold && early(case, bar) {
        match brought.stand {
            Stand::Below if !brought.hopeless => {
                held_too_short(case, terms, bar);
                return (Verdict::Undecided, Some(below));
            }
            Stand::Within | Stand::Temperature => held_too_short(case, terms, bar),
            Stand::Below | Stand::Above => {}
        }
    }
    match brought.stand {
        Stand::Below => (Verdict::Fail, Some(below)),
        Stand::Within if !bar.clears => cleared(case, terms, bar, Finding::Within, false),
        Stand::Within => {
            terms.term(format_args!("within U of the minimum"));
            (Verdict::Undecided, Some(Finding::Within))
        }
        Stand::Temperature => {
            terms.term(format_args!("enter the winding's temperature"));
            (Verdict::Undecided, near(&brought, bar, below))
        }
        Stand::Above => cleared(case, terms, bar, Finding::Within, false),
    }
}

fn over(
    case: &Case<'_>,
    terms: &mut Terms,
    bar: &Bar,
    full_scale: Option<Decimal>,
    judgement: &mut Judgement,
) -> Found {
    let known = full_scale.or_else(|| {
        // What is configured holds for the range that the meter chooses by itself.
        let above = case.meter.over_range_above?;
        if case.take.flags.has(Flags::MANUAL_RANGE) {
            return None;
        }
        Decimal::rounded(above.0, 0)
    });
    let Some(full_scale) = known.filter(|f| *f > Decimal::ZERO) else {
        terms.term(format_args!(
            "over-range, but more than what is not known: configure over_range_above_ohms and let the meter choose its range"
        ));
        bar.minimum_term(terms);
        return (
            if bar.clears {
                Verdict::Undecided
            } else {
                Verdict::NotJudged
            },
            Some(Finding::RangeSuspect),
        );
    };
    terms.term(format_args!(
        "over-range: more than {}",
        Ohm(trimmed(full_scale))
    ));
    // A count of the range is not known here; a thousandth of it is coarse enough.
    let resolution = Decimal::rounded(full_scale.to_f64() / 1000.0, 0)
        .map_or(Decimal::one(0), |r| r.max(Decimal::one(0)));
    let brought = bar.bring(case, full_scale, resolution, Some(full_scale));
    judgement.uncertainty_ohms = Some(brought.u);
    bar.terms(terms, &brought);
    match brought.stand {
        Stand::Above => cleared(case, terms, bar, Finding::AboveRange, true),
        // Nothing above 0.5 megohm is judged without a profile; below it, over-range says nothing.
        _ if !bar.clears => {
            terms.term(format_args!("{}", bar.why_not));
            (Verdict::NotJudged, Some(Finding::RangeSuspect))
        }
        Stand::Temperature => {
            terms.term(format_args!(
                "the range does not reach at every temperature: enter the winding's temperature or use a higher range"
            ));
            (Verdict::Undecided, Some(Finding::RangeSuspect))
        }
        Stand::Below | Stand::Within => {
            terms.term(format_args!(
                "the range does not reach the minimum: use a higher range or a tester"
            ));
            (Verdict::Undecided, Some(Finding::RangeSuspect))
        }
    }
}

fn pulled_down(
    case: &Case<'_>,
    terms: &mut Terms,
    bar: &Bar,
    last: Option<Shown>,
    judgement: &mut Judgement,
) -> Found {
    let Some(last) = last.filter(|l| l.unit == Unit::Ohm) else {
        bar.minimum_term(terms);
        return (Verdict::Undecided, Some(Finding::Unstable));
    };
    terms.term(format_args!("shown {last}"));
    let brought = bar.bring(case, last.value, last.resolution, last.full_scale);
    judgement.judged_ohms = Some(brought.judged);
    judgement.uncertainty_ohms = Some(brought.u);
    bar.terms(terms, &brought);
    if bar.under_with_u(case, last.value, last.resolution) {
        (Verdict::Fail, Some(below_finding(case, bar)))
    } else {
        (Verdict::Undecided, Some(Finding::Unstable))
    }
}

/// A value that clears the bar still needs its proofs.
fn cleared(case: &Case<'_>, terms: &mut Terms, bar: &Bar, best: Finding, over: bool) -> Found {
    if !bar.clears {
        terms.term(format_args!("{}", bar.why_not));
        return (Verdict::NotJudged, over.then_some(best));
    }
    let around = case.around;
    let undecided = |finding| (Verdict::Undecided, Some(finding));
    match around.leads {
        LeadProof::Unproven => {
            terms.term(format_args!("the leads are not proven"));
            return undecided(Finding::LeadsUnproven);
        }
        LeadProof::Before if over => {
            terms.term(format_args!(
                "over-range, and the leads are not proven after it: not proven yet"
            ));
            return undecided(Finding::LeadsUnproven);
        }
        LeadProof::Before | LeadProof::BeforeAndAfter => {}
    }
    if over && !contact_shown(case) {
        terms.term(format_args!("over-range, and contact was not shown"));
        return undecided(Finding::ContactUnproven);
    }
    if needs_ground(case) && around.ground_path == GroundPath::Unproven {
        terms.term(format_args!(
            "the ground reference is not proven to be ground"
        ));
        return undecided(Finding::GroundPathUnproven);
    }
    if case.take.flags.has(Flags::RELATIVE) || case.take.flags.has(Flags::LOW_BATTERY) {
        terms.term(format_args!(
            "the meter is in relative or its battery is low: mend that and measure again"
        ));
        return undecided(Finding::Unstable);
    }
    if around.meter_blocked {
        terms.term(format_args!("{}", super::words::blocked(around)));
        return undecided(best);
    }
    if over && around.contact == Contact::Attested {
        terms.term(format_args!(
            "contact of both ends is attested, not measured"
        ));
    }
    (Verdict::Pass, Some(best))
}

/// An ohmmeter shows contact at a second lead of the winding; only an
/// insulation test, which cannot read a winding, or a meter that reads
/// insulation alone may have it attested.
fn contact_shown(case: &Case<'_>) -> bool {
    match case.around.contact {
        Contact::SecondLead => true,
        Contact::Attested => {
            case.point.test == Test::Insulation || !case.meter.measures(Measures::Ohms)
        }
        Contact::Unproven => false,
    }
}

/// Between windings no ground is in the circuit; the bare frame is ground itself.
fn needs_ground(case: &Case<'_>) -> bool {
    !between(case) && case.around.ground_reference != GroundReference::Frame
}

fn between(case: &Case<'_>) -> bool {
    case.point.name.as_str().starts_with("between")
}

fn below_finding(case: &Case<'_>, bar: &Bar) -> Finding {
    let low_voltage = case.point.test == Test::Ground;
    if (low_voltage || !bar.clears) && !between(case) {
        Finding::ToGround
    } else {
        Finding::BelowMinimum
    }
}

fn near(brought: &Brought, bar: &Bar, below: Finding) -> Option<Finding> {
    Some(if brought.judged < bar.minimum {
        below
    } else {
        Finding::Within
    })
}

/// Whether the value came before insulation has risen. A spot test without a
/// known time is taken as it is; a hold to a mark without one is early.
fn early(case: &Case<'_>, bar: &Bar) -> bool {
    use super::profile::Mark;
    match (bar.mark, case.take.elapsed) {
        // The mark may be read up to 2 s off it.
        (Mark::At(mark), Some(held)) => held.as_secs_f64() + 2.0 < f64::from(mark),
        (Mark::At(_), None) => true,
        (Mark::Spot, Some(held)) => held.as_secs_f64() < 5.0,
        (Mark::Spot, None) => false,
    }
}

fn held_too_short(case: &Case<'_>, terms: &mut Terms, bar: &Bar) {
    let seconds = bar.mark.seconds();
    match case.take.elapsed {
        Some(held) => terms.term(format_args!(
            "held {:.0} s only: hold to {seconds} s",
            held.as_secs_f64()
        )),
        None => terms.term(format_args!(
            "held for an unknown time: hold to {seconds} s"
        )),
    }
}

fn wrong_unit(terms: &mut Terms, shown: Shown) -> Found {
    terms.term(format_args!(
        "shown {shown}: ohms are expected, check the meter's function"
    ));
    (Verdict::Undecided, Some(Finding::RangeSuspect))
}

/// More than five counts below zero: a null that does not belong here.
pub(super) fn far_below_zero(value: Decimal, resolution: Decimal) -> bool {
    let five = Decimal::new(resolution.count().saturating_mul(-5), resolution.exp());
    five.is_ok_and(|least| value < least)
}

pub(super) const fn aborted(why: Abort) -> &'static str {
    match why {
        Abort::Released => "let go too early",
        Abort::Sagged => "the voltage sagged",
        Abort::Silent => "nothing was read within 2 s of the mark",
        Abort::LeadOff => "a lead came off",
        Abort::Interrupted => "the connection or the clock was interrupted",
    }
}

fn what_to_do(terms: &mut Terms, verdict: Verdict, finding: Option<Finding>) {
    let words = match (verdict, finding) {
        (Verdict::Fail, _) => {
            "do not energize; disconnect the cable to see whether it or the motor is at fault, dry or clean it and measure again"
        }
        (Verdict::Undecided, Some(Finding::LeadsUnproven)) => "join the clips",
        (Verdict::Undecided, Some(Finding::ContactUnproven)) => {
            "leave the winding clip, put the other on a second lead of that winding"
        }
        (Verdict::Undecided, Some(Finding::GroundPathUnproven)) => {
            "read the reference to a second ground, or use the bare frame"
        }
        (Verdict::Undecided, Some(Finding::NullSuspect)) => {
            "below zero: leave the meter's relative mode and measure again"
        }
        (Verdict::Undecided, Some(Finding::Within)) => {
            "measure with a more accurate meter, dry it, or configure the meter's accuracy"
        }
        _ => return,
    };
    terms.term(format_args!("{words}"));
}
