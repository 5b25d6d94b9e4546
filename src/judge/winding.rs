//! Windings: one resistance against the limits of the catalogue.
//!
//! Leads and cable are subtracted exactly, the temperature is corrected where
//! it is known, and what is not known enters U. Leads or a cable that were not
//! subtracted could lift a low winding into its limits: then it is undecided.

use super::acceptance::{
    Found, Limits, against, hint_of_connection, what_it_may_mean, wrong_range,
};
use super::correction::{self, UNKNOWN_K};
use super::ground::{aborted, far_below_zero};
use super::leads::null_of;
use super::uncertainty::{Heat, Reading, Uncertainty, of_difference, of_reading};
use super::words::{
    In, LIVE, Ohm, Terms, beside, hundredth, minus, plus, prefix_of, second_digit, trimmed,
};
use super::{Case, Judgement, LeadProof, Null};
use crate::limits::{Cable, Conductor, MeasuredAt, Range};
use crate::quantity::{Celsius, Decimal, Shown, Unit};
use crate::reading::{Flags, Method, Outcome};
use crate::row::{Finding, Verdict};

/// The most that leads may be, and so may hide.
const LEADS_MOST: i64 = 1;
/// A winding's typed temperature is that of a frame or of the water beside it:
/// so many kelvin either way (own).
const TYPED_K: f64 = 3.5;

/// Judges a winding reading.
pub fn winding(case: &Case<'_>) -> Judgement {
    judge(case, true)
}

/// Judges a sensor by the range its name has among the motor's points;
/// without one it is not judged.
pub fn sensor(case: &Case<'_>) -> Judgement {
    judge(case, false)
}

fn judge(case: &Case<'_>, of_winding: bool) -> Judgement {
    let limits = case.motor.winding_limits(case.point.name.as_str());
    let mut judgement = Judgement::bare(Verdict::Undecided, None, "");
    if !limits.is_empty() {
        judgement.lower_ohms = limits.lower;
        judgement.upper_ohms = limits.upper;
        case.motor
            .source
            .as_str()
            .clone_into(&mut judgement.limits_from);
        judgement.acceptance = Some(case.around.acceptance);
    }
    let mut terms = Terms::new();
    let (verdict, finding) = match case.take.outcome {
        _ if case.take.flags.not_now() => {
            terms.term(format_args!("the meter is in hold, min, max or average: not what is on the clips now; leave that mode and measure again"));
            (Verdict::Undecided, Some(Finding::Unstable))
        }
        _ if case.take.flags.has(Flags::LIVE) => {
            terms.term(format_args!("{LIVE}"));
            (Verdict::Undecided, Some(Finding::VoltagePresent))
        }
        Outcome::Value(shown) if shown.unit == Unit::Ohm => {
            value(case, &mut terms, limits, shown, of_winding, &mut judgement)
        }
        Outcome::Value(shown) => {
            terms.term(format_args!(
                "shown {shown}: ohms are expected, check the meter's function"
            ));
            (Verdict::Undecided, Some(Finding::RangeSuspect))
        }
        Outcome::Open { full_scale } | Outcome::OverRange { full_scale } => {
            over(case, &mut terms, limits, full_scale, of_winding)
        }
        Outcome::PulledDown { reached, .. } => {
            terms.term(format_args!(
                "a test voltage of {} V fell: a winding is measured with an ohmmeter",
                reached.0
            ));
            (Verdict::Undecided, Some(Finding::Unstable))
        }
        Outcome::Aborted(why) => {
            terms.term(format_args!("no value: {}; measure again", aborted(why)));
            (Verdict::Undecided, Some(Finding::Unstable))
        }
    };
    let verdict = if verdict == Verdict::Pass && case.around.meter_blocked {
        terms.note(format_args!("{}", super::words::blocked(case.around)));
        Verdict::Undecided
    } else {
        verdict
    };
    terms.term(format_args!("{verdict}"));
    what_it_may_mean(&mut terms, verdict, finding, of_winding);
    judgement.verdict = verdict;
    judgement.finding = finding;
    judgement.reason = terms.done();
    judgement
}

fn value(
    case: &Case<'_>,
    terms: &mut Terms,
    limits: Range,
    shown: Shown,
    of_winding: bool,
    judgement: &mut Judgement,
) -> Found {
    let null = null_of(case);
    let cable = case.around.cable.as_ref();
    let net = subtract(terms, shown, null, cable);
    judgement.leads_ohms = null.map(|n| n.ohms);
    judgement.cable_ohms = cable.map(|c| c.ohms);
    judgement.judged_ohms = Some(net);
    if case.take.method == Method::Drifting {
        terms.term(format_args!("still drifting slowly"));
    }
    let through = of_meter(case, shown, null);
    let above = plus(net, hundredth(through.cable, shown.resolution));
    if far_below_zero(above, shown.resolution) {
        terms.note(format_args!(
            "below zero: join the clips again, and see that the null and the cable belong to this reading"
        ));
        return (Verdict::Undecided, Some(Finding::NullSuspect));
    }
    if limits.is_empty() {
        terms.term(format_args!("no limits to judge it by"));
        return (Verdict::NotJudged, None);
    }
    if of_winding && wrong_range(net, limits) {
        terms.term(format_args!("limits {}", Limits(limits)));
        terms.note(format_args!(
            "windings read in ohms: check the meter's range and measure again"
        ));
        let verdict = if case.around.range_suspect_before {
            Verdict::Fail
        } else {
            Verdict::Undecided
        };
        return (verdict, Some(Finding::RangeSuspect));
    }
    let (judged, u) = to_reference(case, net, shown.resolution, of_winding, through);
    let total = hundredth(u.total(), shown.resolution);
    judgement.judged_ohms = Some(judged);
    judgement.uncertainty_ohms = Some(total);
    heat_term(terms, case, limits, judged, &u);
    u_term(terms, &u, total);
    terms.term(format_args!(
        "limits {}; {}",
        Limits(limits),
        case.around.acceptance
    ));
    if of_winding && is_short(net, shown, &through, limits) {
        terms.note(format_args!(
            "a dead short: see that the clips do not touch, then measure again"
        ));
        return (Verdict::Fail, Some(Finding::Shorted));
    }
    let found = against(terms, case.around.acceptance, limits, judged, total, &u);
    hint_of_connection(terms, case.motor, limits, judged, found);
    what_was_left_in(case, terms, limits, judged, null, of_winding).unwrap_or(found)
}

fn subtract(terms: &mut Terms, shown: Shown, null: Option<Null>, cable: Option<&Cable>) -> Decimal {
    let prefix = shown.prefix;
    let mut net = shown.value;
    terms.term(format_args!("shown {shown}"));
    if let Some(null) = null {
        net = minus(net, null.ohms);
        terms.more(format_args!(" − leads {}", In(null.ohms, prefix)));
    }
    if let Some(cable) = cable {
        net = minus(net, cable.ohms);
        terms.more(format_args!(" − cable {}", In(cable.ohms, prefix)));
    }
    if null.is_some() || cable.is_some() {
        terms.more(format_args!(" = {}", Ohm(net)));
    }
    if let Some(cable) = cable {
        terms.more(format_args!(
            " (cable: {}, ±{} %)",
            cable.from, cable.doubt_percent
        ));
    }
    net
}

/// The value at the reference temperature, and U of it there.
fn to_reference(
    case: &Case<'_>,
    net: Decimal,
    resolution: Decimal,
    of_winding: bool,
    mut u: Uncertainty,
) -> (Decimal, Uncertainty) {
    if !of_winding {
        return (net, u);
    }
    let conductor = case.motor.conductor;
    let known = case.around.temperature.zip(case.motor.reference_c);
    let factor =
        known.and_then(|(at, to)| Some((at, correction::to_reference(conductor, at, to)?)));
    let size = net.to_f64();
    let Some((at, factor)) = factor else {
        u.temperature = size.abs() * correction::doubt(conductor, Celsius(20.0), UNKNOWN_K);
        u.heat = match case.around.temperature {
            Some(_) => Heat::NoReference,
            None => Heat::Unknown,
        };
        return (net, u);
    };
    u.temperature = size.abs() * correction::doubt(conductor, at, TYPED_K);
    u.heat = Heat::Corrected;
    (hundredth(size * factor, resolution), u.times(factor))
}

/// What was done about the temperature, with its source.
fn heat_term(terms: &mut Terms, case: &Case<'_>, limits: Range, judged: Decimal, u: &Uncertainty) {
    let at = case.around.temperature.zip(case.motor.reference_c);
    match (u.heat, at) {
        (Heat::Corrected, Some((at, reference))) => {
            let place = second_digit(u.total());
            let said = beside(judged, place, [limits.lower, limits.upper]);
            let k = match case.motor.conductor {
                Conductor::Copper => "copper, k 234.5 of IEEE 112",
                Conductor::Aluminium => "aluminium, k 228, common practice",
            };
            terms.term(format_args!(
                "at {} °C {} (measured at {} °C; {k})",
                reference.0,
                Ohm(said),
                at.0
            ));
        }
        _ if u.temperature > 0.0 => {
            terms.term(format_args!(
                "not corrected for temperature, 20 ± 20 °C assumed"
            ));
        }
        _ => {}
    }
}

/// U of the meter, the null and the cable, without the temperature. The
/// percentage is of what the meter read; the cable was not read by it.
pub(super) fn of_meter(case: &Case<'_>, shown: Shown, null: Option<Null>) -> Uncertainty {
    let mut u = Uncertainty {
        four_wire: case.meter.terminals == 4,
        cable: case.around.cable.as_ref().map_or(0.0, Cable::u),
        ..Uncertainty::default()
    };
    match null {
        Some(null) if null.resolution == shown.resolution => {
            (u.meter, u.configured) = of_difference(
                case.meter,
                minus(shown.value, null.ohms),
                shown.value,
                shown.resolution,
                shown.full_scale,
            );
        }
        _ => {
            (u.meter, u.configured) = of_reading(
                case.meter,
                shown.value,
                shown.resolution,
                shown.full_scale,
                Reading::Winding,
            );
            if let Some(null) = null {
                u.null = of_reading(
                    case.meter,
                    null.ohms,
                    null.resolution,
                    None,
                    Reading::Winding,
                )
                .0;
            }
        }
    }
    u
}

/// U and its parts, all at the place of the second digit of U.
fn u_term(terms: &mut Terms, u: &Uncertainty, total: Decimal) {
    let place = second_digit(total.to_f64());
    let at = |ohms: f64| Decimal::rounded(ohms, place).unwrap_or(total);
    let prefix = prefix_of(total);
    let part = |ohms: f64| In(at(ohms), prefix);
    terms.term(format_args!(
        "U {} (k = 2: meter {}",
        Ohm(at(total.to_f64())),
        part(u.meter)
    ));
    let others = [
        ("leads", u.null),
        ("cable", u.cable),
        ("temperature", u.temperature),
    ];
    for (name, ohms) in others.into_iter().filter(|(_, ohms)| *ohms > 0.0) {
        terms.more(format_args!(", {name} {}", part(ohms)));
    }
    if !u.configured {
        terms.more(format_args!(
            "; accuracy not configured: 1 % and the resolution twice"
        ));
    }
    terms.more(format_args!(")"));
}

/// Leads (up to 1 Ω) or a cable that nobody subtracted make a winding look
/// higher than it is: low stays low, anything else may be low in truth.
fn what_was_left_in(
    case: &Case<'_>,
    terms: &mut Terms,
    limits: Range,
    judged: Decimal,
    null: Option<Null>,
    of_winding: bool,
) -> Option<Found> {
    if !of_winding || limits.lower.is_some_and(|lower| judged < lower) {
        return None;
    }
    let high = limits.upper.is_some_and(|upper| judged > upper);
    let finding = if high { Finding::High } else { Finding::Within };
    if case.around.measured_at == MeasuredAt::Panel && case.around.cable.is_none() {
        terms.note(format_args!(
            "the cable is in and was not subtracted: give its resistance or measure at the splice"
        ));
        return Some((Verdict::Undecided, Some(finding)));
    }
    let leads_matter =
        null.is_none() && case.meter.terminals != 4 && !case.take.flags.has(Flags::RELATIVE);
    if !leads_matter {
        return None;
    }
    let least = minus(judged, Decimal::new(LEADS_MOST, 0).unwrap_or_default());
    let could_be_low = !high && limits.lower.is_some_and(|lower| least < lower);
    let could_be_within = high && limits.upper.is_some_and(|upper| least <= upper);
    (could_be_low || could_be_within).then(|| {
        terms.note(format_args!(
            "the leads were not subtracted and may be up to 1 Ω: join the clips first"
        ));
        (Verdict::Undecided, Some(Finding::LeadsUnproven))
    })
}

fn over(
    case: &Case<'_>,
    terms: &mut Terms,
    limits: Range,
    full_scale: Option<Decimal>,
    of_winding: bool,
) -> Found {
    match full_scale {
        Some(f) => terms.term(format_args!("over-range: more than {}", Ohm(trimmed(f)))),
        None => terms.term(format_args!("over-range")),
    }
    if !limits.is_empty() {
        terms.term(format_args!("limits {}", Limits(limits)));
    }
    if case.around.leads == LeadProof::Unproven {
        terms.note(format_args!(
            "the leads are not proven: join the clips, a broken lead reads the same"
        ));
    }
    // What must be there in any motor of a default sheet needs no limits to be open.
    let must_conduct = of_winding
        && matches!(
            case.point.name.as_str(),
            "main" | "start" | "total" | "line_12" | "line_23" | "line_31"
        );
    match (full_scale, limits.upper) {
        (Some(f), Some(upper)) if f < upper => {
            terms.note(format_args!(
                "the range does not reach the limits: use a higher range"
            ));
            (Verdict::Undecided, Some(Finding::RangeSuspect))
        }
        (_, Some(_)) => (Verdict::Fail, Some(Finding::Open)),
        // Open is allowed above a lower limit alone, but a fallen clip reads the same.
        (_, None) if limits.lower.is_some() && !must_conduct => {
            (Verdict::Undecided, Some(Finding::ContactUnproven))
        }
        _ if must_conduct => (Verdict::Fail, Some(Finding::Open)),
        _ => (Verdict::NotJudged, Some(Finding::Open)),
    }
}

/// No more than the doubt of meter, leads and cable above zero, where the limits
/// are well above it. What is below zero and not too far was let through before.
fn is_short(net: Decimal, shown: Shown, u: &Uncertainty, limits: Range) -> bool {
    let doubt = hundredth(u.meter.max(u.null).max(u.cable), shown.resolution);
    limits
        .lower
        .is_some_and(|lower| net <= doubt && lower > plus(doubt, doubt))
}
