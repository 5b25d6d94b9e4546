//! Comparing: what this asset read before, at the same place, beside what it reads now.
//!
//! A change is said and never judged by: limits keep their word. A winding is
//! brought to the same temperature where both are known; where one is not, the
//! doubt of it is allowed for. The winding as its own thermometer is said and
//! never used on its own value, which would be circular: a shorted winding
//! reads cold, and corrected by that it would look whole.

use super::correction::{self, DOUBT_K, UNKNOWN_K};
use super::leads::null_of;
use super::winding::of_meter;
use super::words::{Ohm, Terms, brief, hundredth, minus, trimmed};
use super::{Case, Judgement};
use crate::limits::{Earlier, Test, Was};
use crate::quantity::{Celsius, Decimal, Shown, Unit, Volts};
use crate::reading::{Flags, Outcome};
use crate::row::{Finding, Verdict};

/// A winding has moved by more than this part of what it was (own).
const MOVED: f64 = 0.03;
/// Insulation has fallen below this part of what it was (own).
const FALLEN: f64 = 1.0 / 3.0;
/// Insulation is compared within this many kelvin (own).
const ALIKE_K: f64 = 10.0;
/// The same test voltage or time: from nine tenths to five quarters, as rule 15 takes a voltage.
const ALIKE: core::ops::RangeInclusive<f64> = 0.9..=1.25;
/// What leads that nobody subtracted may add, in ohms.
const LEADS_MOST: f64 = 1.0;

/// The judgement with what the value was before: in its words, and as the
/// finding `changed` where it has no fault of its own. The verdict stays.
pub(super) fn with_earlier(case: &Case<'_>, mut judgement: Judgement) -> Judgement {
    let Some(earlier) = &case.around.was else {
        return judgement;
    };
    let Some(now) = counts(case, &judgement) else {
        return judgement;
    };
    let mut terms = Terms::new();
    let changed = match (case.point.test, now) {
        (Test::Winding, Now::Value(shown)) => {
            winding(case, &mut terms, earlier, shown, judgement.leads_ohms)
        }
        (Test::Winding, Now::Over) => {
            terms.term(format_args!("{}, now over-range", Then(earlier)));
            false
        }
        (Test::Insulation, Now::Value(shown)) => insulation(case, &mut terms, earlier, shown),
        _ => return judgement,
    };
    judgement.reason += "; ";
    judgement.reason += &terms.done();
    let own = matches!(
        (judgement.verdict, judgement.finding),
        (Verdict::Pass, _) | (Verdict::NotJudged, None)
    );
    if changed && own {
        judgement.finding = Some(Finding::Changed);
    }
    judgement
}

/// What there is to compare.
#[derive(Clone, Copy)]
enum Now {
    Value(Shown),
    Over,
}

/// The number of a take that is what was on the clips, on the right range and
/// at the right voltage; none otherwise.
fn counts(case: &Case<'_>, judgement: &Judgement) -> Option<Now> {
    let unfit = matches!(
        judgement.finding,
        Some(
            Finding::RangeSuspect
                | Finding::NullSuspect
                | Finding::VoltagePresent
                | Finding::TestForbidden
                | Finding::WrongTestVoltage
        )
    );
    if unfit || case.take.flags.not_now() || case.take.flags.has(Flags::LIVE) {
        return None;
    }
    match case.take.outcome {
        Outcome::Value(shown)
        | Outcome::PulledDown {
            last: Some(shown), ..
        } if shown.unit == Unit::Ohm => Some(Now::Value(shown)),
        Outcome::Open { .. } | Outcome::OverRange { .. } => Some(Now::Over),
        _ => None,
    }
}

/// Whether a winding moved by more than 3 % and more than U of the difference.
fn winding(
    case: &Case<'_>,
    terms: &mut Terms,
    earlier: &Earlier,
    shown: Shown,
    leads: Option<Decimal>,
) -> bool {
    let was = &earlier.was;
    // The cable of then on both sides: it is the same one, whatever was entered since.
    let net = minus(
        minus(shown.value, leads.unwrap_or_default()),
        was.cable.unwrap_or_default(),
    );
    let leads_in =
        leads.is_none() && case.meter.terminals != 4 && !case.take.flags.has(Flags::RELATIVE);
    let meter = of_meter(case, shown, null_of(case));
    let now_u = (meter.meter * meter.meter + meter.null * meter.null).sqrt();
    let same = same_temperature(was, case.around.temperature);
    let expected = was.ohms.to_f64() * same.factor;
    if expected <= 0.0 {
        return false;
    }
    let then_u = was.u.to_f64() * same.factor;
    let t_u = expected * same.doubt;
    let slack = if leads_in { LEADS_MOST } else { 0.0 };
    let u = (now_u * now_u + then_u * then_u + t_u * t_u).sqrt() + slack;
    let moved = net.to_f64() - expected;
    let changed = moved.abs() > u.max(MOVED * expected);
    terms.term(format_args!("{}", Then(earlier)));
    if same.known && same.factor != 1.0 {
        let then = hundredth(expected, shown.resolution);
        terms.more(format_args!(
            " ({} at the temperature of now)",
            Ohm(trimmed(then))
        ));
    }
    let how = match () {
        () if !same.known => " as read",
        () if same.factor == 1.0 => " at the same temperature",
        () => "",
    };
    terms.more(format_args!(
        ", now {}{}: {} % {} than then, {} (3 % or U {} Ω allowed)",
        Ohm(net),
        how,
        brief(100.0 * moved.abs() / expected),
        if moved < 0.0 { "less" } else { "more" },
        if changed {
            "changed"
        } else {
            "not changed beyond doubt"
        },
        brief(u),
    ));
    if leads_in {
        terms.term(format_args!(
            "the leads are in it, up to 1 Ω: join the clips first"
        ));
    }
    if changed {
        what_it_may_be(terms, same.known, moved);
    }
    if case.around.temperature.is_none() && !leads_in {
        thermometer(terms, was, net, now_u);
    }
    changed
}

fn what_it_may_be(terms: &mut Terms, known: bool, moved: f64) {
    // Causes and next checks: common practice.
    let points_to = match (moved < 0.0, known) {
        (true, _) => "less than before points to shorted turns or another winding",
        (false, true) => "more than before points to a joint or a damaged wire",
        (false, false) => "more than before points to a joint, a damaged wire or a warmer winding",
    };
    if !known {
        terms.term(format_args!(
            "enter the winding's temperature, which may explain it"
        ));
    }
    terms.term(format_args!(
        "{points_to}; see that the same leads are clipped, clean them and measure again"
    ));
}

/// How two readings stand to each other in temperature.
struct Same {
    /// Whether both are known.
    known: bool,
    /// From then to now.
    factor: f64,
    /// U (k = 2) of it, as a part of the value.
    doubt: f64,
}

/// Where one is unknown it lies within 20 ± 20 °C (own), so as far from the
/// known one as that allows; where both are, each has that doubt.
fn same_temperature(was: &Was, now: Option<Celsius>) -> Same {
    let of = was.conductor;
    let doubt = |at, kelvin| correction::doubt(of, at, kelvin);
    let both = |a: f64, b: f64| (a * a + b * b).sqrt();
    let middle = Celsius(20.0);
    let as_read = |doubt| Same {
        known: false,
        factor: 1.0,
        doubt,
    };
    match (was.temperature, now) {
        (Some(then), Some(now)) => match correction::to_reference(of, then, now) {
            Some(factor) => Same {
                known: true,
                factor,
                doubt: both(doubt(then, DOUBT_K), doubt(now, DOUBT_K)),
            },
            None => as_read(both(doubt(middle, UNKNOWN_K), doubt(middle, UNKNOWN_K))),
        },
        (Some(one), None) | (None, Some(one)) => {
            as_read(doubt(middle, UNKNOWN_K + (one.0 - middle.0).abs()))
        }
        (None, None) => as_read(both(doubt(middle, UNKNOWN_K), doubt(middle, UNKNOWN_K))),
    }
}

/// The winding as its own thermometer: T2 = (k + T1) R2/R1 − k (IEEE 112,
/// IEC 60034-1), with U from both readings and ± 2 K of T1. Information only.
fn thermometer(terms: &mut Terms, was: &Was, net: Decimal, now_u: f64) {
    let Some((celsius, doubt)) = own_temperature(was, net.to_f64(), now_u) else {
        return;
    };
    // From the coldest yard to the hottest winding class (own).
    if (-50.0..=200.0).contains(&celsius) {
        terms.term(format_args!(
            "if only its temperature changed, the winding is at {} °C ± {} K; for information, not used: a shorted winding would read cold",
            whole(celsius),
            whole(doubt.max(1.0)),
        ));
    } else {
        terms.term(format_args!("no temperature of a winding explains it"));
    }
}

/// A winding's temperature by its copper, with U (k = 2) in kelvin; none where
/// the earlier temperature is not known or a value is not above 0.
fn own_temperature(was: &Was, now: f64, now_u: f64) -> Option<(f64, f64)> {
    let t1 = was.temperature?;
    let k = correction::k(was.conductor);
    let r1 = was.ohms.to_f64();
    if r1 <= 0.0 || now <= 0.0 || t1.0 <= -k {
        return None;
    }
    let ratio = now / r1;
    let (a, b) = (was.u.to_f64() / r1, now_u / now);
    let t1_u = correction::doubt(was.conductor, t1, DOUBT_K);
    let scale = ratio * (k + t1.0);
    Some((scale - k, scale * (a * a + b * b + t1_u * t1_u).sqrt()))
}

fn whole(value: f64) -> Decimal {
    Decimal::rounded(value, 0).unwrap_or_default()
}

/// Whether insulation fell below a third of what it was, at the same voltage,
/// after the same time and within 10 K.
fn insulation(case: &Case<'_>, terms: &mut Terms, earlier: &Earlier, shown: Shown) -> bool {
    let was = &earlier.was;
    let (then, now) = (was.ohms.to_f64(), shown.value.to_f64());
    if then <= 0.0 {
        return false;
    }
    terms.term(format_args!("{}, now {}", Then(earlier), Ohm(shown.value)));
    if now >= then * FALLEN {
        terms.more(format_args!(": not below a third of it"));
        return false;
    }
    terms.more(format_args!(": below a third of it"));
    match unlike(case, was) {
        None => {
            terms.more(format_args!(
                ", changed; moisture, dirt or ageing: clean and dry the ends, measure again"
            ));
            true
        }
        Some(why) => {
            terms.more(format_args!(", but not to be compared: {why}"));
            false
        }
    }
}

/// Why two insulation values cannot be compared; none: they can.
fn unlike(case: &Case<'_>, was: &Was) -> Option<&'static str> {
    let volts = match case.take.outcome {
        Outcome::PulledDown { reached, .. } => Some(reached),
        _ => case.take.test_voltage,
    };
    let (Some(Volts(then)), Some(Volts(now))) = (was.test_voltage, volts) else {
        return Some("the test voltages are not both known");
    };
    if then <= 0.0 || !ALIKE.contains(&(now / then)) {
        return Some("the test voltage is another");
    }
    let held = case.take.elapsed.map(|held| held.as_secs_f64());
    match (was.held_s.map(Decimal::to_f64), held) {
        (None, None) => {}
        (Some(then), Some(now)) if then > 0.0 && ALIKE.contains(&(now / then)) => {}
        _ => return Some("the voltage was on for another time, or for one that is not known"),
    }
    match (was.temperature, case.around.temperature) {
        (Some(then), Some(now)) if (then.0 - now.0).abs() <= ALIKE_K => None,
        (Some(_), Some(_)) => Some("the temperatures are more than 10 K apart"),
        _ => Some("the temperatures are not both known"),
    }
}

/// `was 2.31 Ω in J12 on 2026-03-01`.
struct Then<'a>(&'a Earlier);

impl core::fmt::Display for Then<'_> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let at = self.0.recorded_at.as_str();
        write!(
            f,
            "was {} in {} on {}",
            Ohm(self.0.was.ohms),
            self.0.job,
            at.get(..10).unwrap_or(at)
        )
    }
}
