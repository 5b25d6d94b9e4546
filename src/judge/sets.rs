//! Sets: what holds over three values of one motor.
//!
//! A slipped clip or a wrong lead shows here before it becomes a diagnosis:
//! patterns that no motor can have are said to be measured wrongly.

use super::Judgement;
use super::uncertainty::{Reading, of_difference, of_reading};
use super::words::{Ohm, Terms, brief, hundredth, minus, plus};
use crate::limits::{Motor, Range};
use crate::meter::Meter;
use crate::quantity::{Decimal, Unit};
use crate::reading::{Flags, Outcome, Take};
use crate::row::{Event, Finding, Row, Verdict};

/// Above this three line values are unbalanced beyond doubt (common practice).
const FAIL_PERCENT: f64 = 5.0;
/// Random-wound windings (ANSI/EASA AR100-2020).
const LIMIT_PERCENT: f64 = 2.0;

/// One of three values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// In ohms after leads and cable; none: over-range.
    pub ohms: Option<Decimal>,
    /// One count of the range shown.
    pub resolution: Decimal,
    /// U of the meter and the null alone (k = 2), in ohms.
    pub u: f64,
    /// Whether the leads were subtracted, or need not be.
    pub leads_out: bool,
}

impl Part {
    /// From a take and its judgement; none when it is neither value nor over-range.
    pub fn new(meter: &Meter, take: &Take, judgement: &Judgement) -> Option<Self> {
        let relative = take.flags.has(Flags::RELATIVE);
        match take.outcome {
            _ if take.flags.not_now() => None,
            Outcome::Value(shown) if shown.unit == Unit::Ohm => Some(Self::of(
                meter,
                shown.value,
                shown.resolution,
                judgement.leads_ohms,
                judgement.cable_ohms,
                relative,
            )),
            Outcome::Open { .. } | Outcome::OverRange { .. } => Some(Self::OVER),
            Outcome::Value(_) | Outcome::PulledDown { .. } | Outcome::Aborted(_) => None,
        }
    }

    /// From a row of the log (`value` or `open`), for jobs that go on after a stop.
    pub fn from_row(meter: &Meter, row: &Row) -> Option<Self> {
        match row.event {
            Event::Value => Some(Self::of(
                meter,
                row.value_ohms?,
                row.resolution_ohms?,
                row.leads_ohms,
                row.cable_ohms,
                false,
            )),
            Event::Open | Event::OverRange => Some(Self::OVER),
            _ => None,
        }
    }

    const OVER: Self = Self {
        ohms: None,
        resolution: Decimal::ZERO,
        u: 0.0,
        leads_out: true,
    };

    fn of(
        meter: &Meter,
        shown: Decimal,
        resolution: Decimal,
        leads: Option<Decimal>,
        cable: Option<Decimal>,
        relative: bool,
    ) -> Self {
        let net = minus(
            minus(shown, leads.unwrap_or_default()),
            cable.unwrap_or_default(),
        );
        let (u, _) = if leads.is_some() {
            of_difference(meter, net, shown, resolution, None)
        } else {
            of_reading(meter, shown, resolution, None, Reading::Winding)
        };
        Self {
            ohms: Some(net),
            resolution,
            u,
            leads_out: leads.is_some() || meter.terminals == 4 || relative,
        }
    }
}

/// The `set` of a three-wire motor: common–run, common–start, run–start.
pub fn three_wire(motor: &Motor, main: &Part, start: &Part, total: &Part) -> Judgement {
    let (Some(m), Some(s), Some(t)) = (main.ohms, start.ohms, total.ohms) else {
        return three_wire_open(main, start, total);
    };
    let mut terms = Terms::new();
    let mismatch = minus(t, plus(m, s));
    terms.term(format_args!(
        "total {} − (main {} + start {}) = {}",
        Ohm(t),
        Ohm(m),
        Ohm(s),
        Ohm(mismatch)
    ));
    let coarsest = main.resolution.max(start.resolution).max(total.resolution);
    let allowed = tolerance([main, start, total], t.max(m).max(s), coarsest);
    let fits = |a: Decimal, b: Decimal, sum: Decimal| minus(sum, plus(a, b)).abs() <= allowed;
    terms.term(format_args!(
        "{} allowed (U, at least 2 % and 2 counts)",
        Ohm(allowed)
    ));
    let in_limits = |m: Decimal, s: Decimal| holds(motor.main, m) && holds(motor.start, s);
    let swapped = [(s, m, t), (m, t, s), (t, m, s), (s, t, m), (t, s, m)]
        .into_iter()
        .find(|(a, b, sum)| fits(*a, *b, *sum) && in_limits(*a, *b) && *sum >= *a && *sum >= *b);
    let as_labelled = fits(m, s, t);
    let limits_known = !motor.main.is_empty() && !motor.start.is_empty();
    let (verdict, finding, words) = if as_labelled && (in_limits(m, s) || !limits_known) {
        (
            Verdict::Pass,
            Finding::Within,
            "the three values fit together",
        )
    } else if let Some((a, b, _)) = swapped {
        terms.term(format_args!(
            "with main {} and start {} they fit",
            Ohm(a),
            Ohm(b)
        ));
        (
            Verdict::Undecided,
            Finding::LeadsMixed,
            "the leads may be mixed, which is not two faults: mark common, run and start, measure all three again",
        )
    } else if as_labelled {
        (
            Verdict::Pass,
            Finding::Within,
            "the three values fit together",
        )
    } else if [main, start, total].iter().any(|p| !p.leads_out)
        && mismatch.abs() <= plus(allowed, Decimal::one(0))
    {
        (
            Verdict::Undecided,
            Finding::SumMismatch,
            "the leads were not subtracted and may explain it: join the clips, measure all three again",
        )
    } else {
        (
            Verdict::Fail,
            Finding::SumMismatch,
            "they do not fit together: a joint, a slipped clip or a wrong lead; clean the leads and measure all three again",
        )
    };
    terms.term(format_args!("{verdict}; {words}"));
    let mut judgement = Judgement::bare(verdict, Some(finding), terms.done());
    judgement.judged_ohms = Some(mismatch);
    judgement.upper_ohms = Some(allowed);
    judgement.limits_from = String::from("sum rule, common practice");
    judgement
}

/// U of the difference, at least 2 % of the total and 2 counts (own).
pub(super) fn tolerance(parts: [&Part; 3], total: Decimal, coarsest: Decimal) -> Decimal {
    let u = parts.iter().map(|p| p.u * p.u).sum::<f64>().sqrt();
    let counts = 2.0 * coarsest.to_f64();
    hundredth(u.max(0.02 * total.to_f64().abs()).max(counts), coarsest)
}

fn holds(range: Range, value: Decimal) -> bool {
    range.lower.is_none_or(|l| value >= l) && range.upper.is_none_or(|u| value <= u)
}

/// A three-wire motor with over-range in it.
fn three_wire_open(main: &Part, start: &Part, total: &Part) -> Judgement {
    let open = |p: &Part| p.ohms.is_none();
    let (verdict, words) = match (open(main), open(start), open(total)) {
        (true, true, false) => (
            Verdict::Undecided,
            "both pairs of common are over-range and run to start reads: a thermal switch in common may be open; let it cool and repeat, if it stays so common is open",
        ),
        (true, false, true) => (Verdict::Fail, "the run winding or its lead is open"),
        (false, true, true) => (Verdict::Fail, "the start winding or its lead is open"),
        (true, true, true) => (
            Verdict::Fail,
            "nothing conducts: more than one open, or the clips do not hold; join them, then measure again",
        ),
        _ => (
            Verdict::Undecided,
            "no motor reads like this: two pairs that conduct connect all three leads; a clip slipped or the range was wrong, measure all three again",
        ),
    };
    Judgement::bare(verdict, Some(Finding::Open), format!("{words}; {verdict}"))
}

/// The `set` of a three-phase motor: lines 1–2, 2–3, 3–1. `cable_in`: a
/// cable is in and was not subtracted, which hides unbalance.
pub fn three_phase(motor: &Motor, lines: [&Part; 3], cable_in: bool) -> Judgement {
    let [Some(a), Some(b), Some(c)] = lines.map(|p| p.ohms) else {
        return three_phase_open(lines);
    };
    let values = [a, b, c];
    let coarsest = lines.iter().map(|p| p.resolution).max().unwrap_or_default();
    let numbers = values.map(Decimal::to_f64);
    let mut terms = Terms::new();
    terms.term(format_args!("{}, {}, {}", Ohm(a), Ohm(b), Ohm(c)));
    let mean = numbers.iter().sum::<f64>() / 3.0;
    let found = if mean <= 0.0 || mean < coarsest.to_f64() {
        terms.term(format_args!(
            "no resistance at all: the windings are shorted or the clips touch"
        ));
        (Verdict::Fail, Finding::Shorted)
    } else if let Some(shape) = shape(numbers, coarsest.to_f64()) {
        terms.term(format_args!("{}", shape.1));
        (Verdict::Fail, shape.0)
    } else {
        balance(motor, &mut terms, &lines, &numbers, mean, coarsest)
    };
    ended(terms, found, cable_in)
}

/// The verdict on several values, with what a cable that is in takes from it.
pub(super) fn ended(mut terms: Terms, found: (Verdict, Finding), cable_in: bool) -> Judgement {
    let (verdict, finding) = found;
    let verdict = if cable_in {
        terms.term(format_args!(
            "a cable is in and hides unbalance: measure at the motor, or give its resistance"
        ));
        if verdict == Verdict::Pass {
            Verdict::Undecided
        } else {
            verdict
        }
    } else {
        verdict
    };
    terms.term(format_args!("{verdict}"));
    Judgement::bare(verdict, Some(finding), terms.done())
}

/// How far values that should be equal lie from their mean (rule 10).
pub(super) fn balance(
    motor: &Motor,
    terms: &mut Terms,
    lines: &[&Part],
    numbers: &[f64],
    mean: f64,
    coarsest: Decimal,
) -> (Verdict, Finding) {
    let most = numbers.iter().map(|r| (r - mean).abs()).fold(0.0, f64::max);
    let percent = 100.0 * most / mean;
    let resolution = coarsest.to_f64();
    // A deviation from the mean of n is (n − 1)/n of one value less 1/n of each other.
    let of_one = 1.0 - 1.0 / numbers.len() as f64;
    let one_range = lines.iter().all(|p| p.resolution == coarsest);
    let u = if one_range {
        2.0 * resolution / 2.0 / 3.0_f64.sqrt() * of_one.sqrt()
    } else {
        // Gain cancels on one range only.
        lines.iter().map(|p| p.u * p.u).sum::<f64>().sqrt() * of_one
    };
    let u_percent = 100.0 * u / mean;
    let limit = motor
        .unbalance_max_percent
        .map_or(LIMIT_PERCENT, Decimal::to_f64);
    let fail = FAIL_PERCENT.max(limit);
    terms.term(format_args!(
        "unbalance {} %; U {} % (k = 2, resolution); limit {} % ({})",
        brief(percent),
        brief(u_percent),
        brief(limit),
        if motor.unbalance_max_percent.is_some() {
            "catalogue"
        } else {
            "ANSI/EASA AR100-2020, random-wound"
        }
    ));
    let largest = numbers.iter().copied().fold(f64::MIN, f64::max);
    let least = numbers.iter().copied().fold(f64::MAX, f64::min);
    // Half a count of slack: the difference of two f64 is not exact, a count is.
    let one_count = largest - least < 1.5 * resolution;
    if lines.iter().any(|p| !p.leads_out) {
        terms.term(format_args!("the leads are in it, which hides unbalance"));
    }
    if percent - u_percent > fail {
        terms.term(format_args!(
            "a shorted or damaged winding, a joint or a connection: clean the leads and measure again"
        ));
        (Verdict::Fail, Finding::Unbalanced)
    } else if percent + u_percent <= limit {
        leads_in(lines, (Verdict::Pass, Finding::Within))
    } else if one_count && u_percent <= FAIL_PERCENT {
        terms.term(format_args!(
            "equal within one count: a four-wire meter would see more"
        ));
        leads_in(lines, (Verdict::Pass, Finding::Within))
    } else if one_count {
        terms.term(format_args!(
            "equal within one count, but a count is too coarse: a four-wire meter decides"
        ));
        (Verdict::Undecided, Finding::LimitsTooNarrow)
    } else {
        terms.term(format_args!(
            "compare connections; some windings exceed 2 %; a four-wire meter decides"
        ));
        (Verdict::Undecided, Finding::Unbalanced)
    }
}

/// Leads that were not subtracted add to each value alike and dilute what is unequal.
fn leads_in(lines: &[&Part], found: (Verdict, Finding)) -> (Verdict, Finding) {
    let small = |p: &&&Part| !p.leads_out && p.ohms.is_some_and(|v| v < Decimal::one(1));
    match lines.iter().find(small) {
        Some(_) => (Verdict::Undecided, Finding::LeadsUnproven),
        None => found,
    }
}

/// Shapes within 5 %, named only when counts permit (at least 20, own).
fn shape(values: [f64; 3], resolution: f64) -> Option<(Finding, &'static str)> {
    let mut sorted = values;
    sorted.sort_by(f64::total_cmp);
    let [low, middle, high] = sorted;
    let alike = |a: f64, b: f64| (a - b).abs() <= 0.05 * b;
    if middle < 20.0 * resolution {
        return None;
    }
    if low.abs() <= 2.0 * resolution && alike(middle, high) {
        return Some((
            Finding::Shorted,
            "0 : 1 : 1, a phase is shorted between the lines that read nothing; see that the clips do not touch",
        ));
    }
    let open_delta = alike(low, middle) && alike(high, low + middle);
    (open_delta && low >= 20.0 * resolution).then_some((
        Finding::Open,
        "1 : 1 : 2, one phase of a delta is open: the one across the lines that read twice",
    ))
}

/// A three-phase motor with over-range in it.
fn three_phase_open(lines: [&Part; 3]) -> Judgement {
    let open = lines.map(|p| p.ohms.is_none());
    let (verdict, words) = match open {
        [true, true, true] => (
            Verdict::Fail,
            "no line conducts: more than one is open, or the clips do not hold; join them, then measure again",
        ),
        [true, true, false] => (Verdict::Fail, "line 2 is open: its lead or its wye phase"),
        [false, true, true] => (Verdict::Fail, "line 3 is open: its lead or its wye phase"),
        [true, false, true] => (Verdict::Fail, "line 1 is open: its lead or its wye phase"),
        _ => (
            Verdict::Undecided,
            "no motor reads like this: two pairs that conduct connect all three lines; a clip slipped or the range was wrong, measure all three again",
        ),
    };
    Judgement::bare(verdict, Some(Finding::Open), format!("{words}; {verdict}"))
}
