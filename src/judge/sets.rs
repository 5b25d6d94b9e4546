//! Sets: what holds over three values of one motor.
//!
//! A slipped clip or a wrong lead shows here before it becomes a diagnosis:
//! patterns that no motor can have are said to be measured wrongly.

use super::Judgement;
use super::circuit;
use super::mixed::{belongs_to, near_limits, order};
use super::shape::{odd_phase, one_in_kilohms, shape};
use super::uncertainty::{Reading, of_difference, of_reading};
use super::words::{Ohm, Terms, brief, hundredth, minus, plus};
use crate::limits::{Cable, MeasuredAt, Motor};
use crate::meter::Meter;
use crate::quantity::{Decimal, Unit};
use crate::reading::{Flags, Outcome, Take};
use crate::row::{Event, Finding, Row, Verdict};

/// Above this three line values are unbalanced beyond doubt (common practice).
const FAIL_PERCENT: f64 = 5.0;
/// Random-wound windings (ANSI/EASA AR100-2020).
const LIMIT_PERCENT: f64 = 2.0;

/// The cores of one cable differ by so much of its loop (own).
const CORES_PERCENT: f64 = 1.0;

/// What lies between the clips and the motor beside the leads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Through<'a> {
    /// Nothing.
    Nothing,
    /// A cable whose resistance was subtracted.
    Cable(&'a Cable),
    /// A cable of which nobody knows the resistance.
    Unknown,
}

impl<'a> Through<'a> {
    /// Of a job that measures there.
    pub fn of(measured_at: MeasuredAt, cable: Option<&'a Cable>) -> Self {
        match (cable, measured_at) {
            (Some(cable), _) => Self::Cable(cable),
            (None, MeasuredAt::Panel) => Self::Unknown,
            (None, MeasuredAt::Motor | MeasuredAt::Splice) => Self::Nothing,
        }
    }

    /// U of the cable (k = 2), in ohms.
    fn u(self) -> f64 {
        match self {
            Self::Cable(cable) => cable.u(),
            Self::Nothing | Self::Unknown => 0.0,
        }
    }
}

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
        // The percentage is of what the meter read: the cable comes off after it.
        let read = minus(shown, leads.unwrap_or_default());
        let net = minus(read, cable.unwrap_or_default());
        let (u, _) = if leads.is_some() {
            of_difference(meter, read, shown, resolution, None)
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
pub fn three_wire(
    motor: &Motor,
    main: &Part,
    start: &Part,
    total: &Part,
    through: Through<'_>,
) -> Judgement {
    let parts = [main, start, total];
    let (Some(m), Some(s), Some(t)) = (main.ohms, start.ohms, total.ohms) else {
        return three_wire_open(motor, parts.map(|p| p.ohms));
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
    let allowed = tolerance(parts, t.max(m).max(s), coarsest, through.u());
    terms.term(format_args!(
        "{} allowed (U, at least 2 % and 2 counts)",
        Ohm(allowed)
    ));
    let (verdict, finding) = sum(
        motor,
        &mut terms,
        parts,
        [m, s, t],
        mismatch,
        allowed,
        through,
    );
    terms.term(format_args!("{verdict}"));
    let mut judgement = Judgement::bare(verdict, Some(finding), terms.done());
    judgement.judged_ohms = Some(mismatch);
    judgement.upper_ohms = Some(allowed);
    judgement.limits_from = String::from("sum rule, common practice");
    judgement
}

fn sum(
    motor: &Motor,
    terms: &mut Terms,
    parts: [&Part; 3],
    values: [Decimal; 3],
    mismatch: Decimal,
    allowed: Decimal,
    through: Through<'_>,
) -> (Verdict, Finding) {
    let [m, s, _] = values;
    let numbers = values.map(Decimal::to_f64);
    if let Some(at) = one_in_kilohms(numbers) {
        terms.note(format_args!(
            "{} reads kilohms beside two that read ohms, which no motor does: check the meter's range and the clips, measure it again",
            ["main", "start", "total"][at]
        ));
        return (Verdict::Undecided, Finding::RangeSuspect);
    }
    if let Some(name) = reads_nothing(motor, parts, values) {
        terms.note(format_args!(
            "{name} reads nothing: shorted, or the clips touch; see that they do not, measure again"
        ));
        return (Verdict::Fail, Finding::Shorted);
    }
    let fits = mismatch.abs() <= allowed;
    if !(fits && near_limits(motor, m, s))
        && let Some(order) = order(motor, values, allowed)
    {
        let [main, start] = order.windings(values);
        terms.note(format_args!(
            "with main {} and start {} they fit: the leads may be mixed, which is not two faults; {order}; mark them and measure all three again",
            Ohm(main),
            Ohm(start)
        ));
        return (Verdict::Undecided, Finding::LeadsMixed);
    }
    let leads_in = parts.iter().any(|p| !p.leads_out);
    if fits {
        return sum_fits(terms, parts, m.min(s), allowed, through);
    }
    // What was left in counts twice in the sum and once in the total.
    let short = mismatch < Decimal::ZERO;
    if short && through == Through::Unknown {
        terms.note(format_args!(
            "the cable was not subtracted and may explain it: give its resistance or measure at the splice"
        ));
        return (Verdict::Undecided, Finding::SumMismatch);
    }
    if short && leads_in && mismatch.abs() <= plus(allowed, Decimal::one(0)) {
        terms.note(format_args!(
            "the leads were not subtracted and may explain it: join the clips, measure all three again"
        ));
        return (Verdict::Undecided, Finding::SumMismatch);
    }
    terms.note(format_args!(
        "they do not fit together: a joint, a slipped clip or a wrong lead; clean the leads and measure all three again"
    ));
    (Verdict::Fail, Finding::SumMismatch)
}

/// A sum that holds, unless what is in it or the meter could hide that it does not.
fn sum_fits(
    terms: &mut Terms,
    parts: [&Part; 3],
    smaller: Decimal,
    allowed: Decimal,
    through: Through<'_>,
) -> (Verdict, Finding) {
    if through == Through::Unknown {
        terms.note(format_args!(
            "the cable is in it: give its resistance or measure at the splice"
        ));
        return (Verdict::Undecided, Finding::Within);
    }
    if smaller <= allowed {
        terms.note(format_args!(
            "so much is allowed that a whole winding could be missing: use a finer range or a four-wire meter"
        ));
        return (Verdict::Undecided, Finding::LimitsTooNarrow);
    }
    terms.note(format_args!("the three values fit together"));
    let found = leads_in(&parts, (Verdict::Pass, Finding::Within));
    if found.1 == Finding::LeadsUnproven {
        terms.note(format_args!(
            "but the leads were not subtracted: join the clips, measure all three again"
        ));
    }
    found
}

/// The one of three that is at most two counts while the others read alike,
/// at least 20 counts (own); not where the catalogue allows so little.
fn reads_nothing(motor: &Motor, parts: [&Part; 3], values: [Decimal; 3]) -> Option<&'static str> {
    let lower = [motor.main.lower, motor.start.lower, None];
    (0..3).find_map(|at| {
        let counts = |of: usize| values[of].to_f64() / parts[of].resolution.to_f64();
        let [a, b] = [(at + 1) % 3, (at + 2) % 3];
        let alike = (values[a].to_f64() / values[b].to_f64() - 1.0).abs() <= 0.05;
        let allows = lower[at].is_some_and(|lower| values[at] >= lower);
        (counts(at).abs() <= 2.0 && counts(a) >= 20.0 && counts(b) >= 20.0 && alike && !allows)
            .then(|| ["main", "start", "total"][at])
    })
}

/// U of the difference, at least 2 % of the total and 2 counts (own). A cable
/// that was subtracted from each is in the difference once.
pub(super) fn tolerance(
    parts: [&Part; 3],
    total: Decimal,
    coarsest: Decimal,
    cable: f64,
) -> Decimal {
    let u = (parts.iter().map(|p| p.u * p.u).sum::<f64>() + cable * cable).sqrt();
    let counts = 2.0 * coarsest.to_f64();
    hundredth(u.max(0.02 * total.to_f64().abs()).max(counts), coarsest)
}

/// A three-wire motor with over-range in it.
fn three_wire_open(motor: &Motor, values: [Option<Decimal>; 3]) -> Judgement {
    let only = match values {
        [Some(value), None, None] => Some((0, value)),
        [None, Some(value), None] => Some((1, value)),
        [None, None, Some(value)] => Some((2, value)),
        _ => None,
    };
    if let Some((label, value)) = only
        && let Some(other) = belongs_to(motor, label, value)
    {
        return Judgement::bare(
            Verdict::Undecided,
            Some(Finding::LeadsMixed),
            format!(
                "the only value {} is that of {other}; undecided; the leads may be mixed: mark common, run and start, measure all three again",
                Ohm(value)
            ),
        );
    }
    let (verdict, words) = match values.map(|v| v.is_none()) {
        [true, true, false] => (
            Verdict::Undecided,
            "both pairs of common are over-range and run to start reads: a thermal switch in common may be open; let it cool and repeat, if it stays so common is open",
        ),
        [true, false, true] => (Verdict::Fail, "the run winding or its lead is open"),
        [false, true, true] => (Verdict::Fail, "the start winding or its lead is open"),
        [true, true, true] => (
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

/// The `set` of a three-phase motor: lines 1–2, 2–3, 3–1. A cable that is in
/// and was not subtracted hides unbalance.
pub fn three_phase(motor: &Motor, lines: [&Part; 3], through: Through<'_>) -> Judgement {
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
    } else if let Some(at) = one_in_kilohms(numbers) {
        terms.note(format_args!(
            "{} reads kilohms beside two that read ohms, which no motor does: check the meter's range and the clips, measure it again",
            ["line_12", "line_23", "line_31"][at]
        ));
        (Verdict::Undecided, Finding::RangeSuspect)
    } else if let Some(shape) = shape(numbers, coarsest.to_f64()) {
        terms.note(format_args!("{}", shape.1));
        (Verdict::Fail, shape.0)
    } else {
        balance(motor, &mut terms, &lines, &numbers, coarsest, through)
    };
    ended(terms, found, through)
}

/// The verdict on several values, with what a cable that is in takes from it.
pub(super) fn ended(
    mut terms: Terms,
    found: (Verdict, Finding),
    through: Through<'_>,
) -> Judgement {
    let (verdict, finding) = found;
    let verdict = if through == Through::Unknown {
        terms.note(format_args!(
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
    coarsest: Decimal,
    through: Through<'_>,
) -> (Verdict, Finding) {
    // The caller has seen that the mean is above 0; without one nothing is balanced.
    let mean = numbers.iter().sum::<f64>() / numbers.len() as f64;
    let percent = circuit::unbalance(numbers).unwrap_or(f64::INFINITY);
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
    let of_display = 100.0 * u / mean;
    // A doubt that all three share moves the mean alone; that of the cores moves each.
    let of_cable = match through {
        Through::Cable(cable) => {
            let cores = CORES_PERCENT * cable.ohms.to_f64().abs();
            let shared = percent * cable.u();
            (cores * cores + shared * shared).sqrt() / mean
        }
        Through::Nothing | Through::Unknown => 0.0,
    };
    let u_percent = (of_display * of_display + of_cable * of_cable).sqrt();
    let limit = motor
        .unbalance_max_percent
        .map_or(LIMIT_PERCENT, Decimal::to_f64);
    let fail = FAIL_PERCENT.max(limit);
    terms.term(format_args!(
        "unbalance {} %; U {} % (k = 2: {} {}{}); limit {} % ({})",
        brief(percent),
        brief(u_percent),
        if one_range { "resolution" } else { "meter" },
        brief(of_display),
        CablePart(of_cable),
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
        terms.note(format_args!("the leads are in it, which hides unbalance"));
    }
    if percent - u_percent > fail {
        odd(terms, numbers);
        terms.note(format_args!(
            "a shorted or damaged winding, a joint or a connection: clean the leads and measure again"
        ));
        return (Verdict::Fail, Finding::Unbalanced);
    }
    if percent + u_percent <= limit {
        return leads_in(lines, (Verdict::Pass, Finding::Within));
    }
    if one_count && u_percent <= FAIL_PERCENT {
        terms.note(format_args!(
            "equal within one count: a four-wire meter would see more"
        ));
        return leads_in(lines, (Verdict::Pass, Finding::Within));
    }
    if of_cable > of_display {
        terms.note(format_args!(
            "most of U is the cable, whose cores may differ by 1 %: measure at the splice"
        ));
    }
    if one_count {
        terms.note(format_args!(
            "equal within one count, but a count is too coarse: a four-wire meter decides"
        ));
        return (Verdict::Undecided, Finding::LimitsTooNarrow);
    }
    odd(terms, numbers);
    terms.note(format_args!(
        "compare connections; some windings exceed 2 %; a four-wire meter decides"
    ));
    (Verdict::Undecided, Finding::Unbalanced)
}

/// Which phase of three is the odd one.
fn odd(terms: &mut Terms, numbers: &[f64]) {
    let Ok(three) = <[f64; 3]>::try_from(numbers) else {
        return;
    };
    match odd_phase(three) {
        Some(words) => terms.note(format_args!("{words}")),
        None => terms.note(format_args!("no single phase is the odd one")),
    }
}

/// The cable's part of U, if there is one.
struct CablePart(f64);

impl core::fmt::Display for CablePart {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        if self.0 > 0.0 {
            write!(f, ", cable {}", brief(self.0))?;
        }
        Ok(())
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
