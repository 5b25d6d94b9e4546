//! Acceptance: a winding's value against its limits, and what a miss may mean.
//!
//! Simple acceptance lets the value decide and notes a limit that lies within
//! U; guarded acceptance leaves such a value undecided (JCGM 106, ILAC-G8).

use super::uncertainty::{Heat, Uncertainty};
use super::words::{Ohm, Terms, minus, plus};
use crate::limits::{Acceptance, Kind, Motor, Range};
use crate::quantity::Decimal;
use crate::row::{Finding, Verdict};

/// A verdict with its finding.
pub(super) type Found = (Verdict, Option<Finding>);

/// Limits at least this many times below a value in kilohms: the wrong range.
const RANGE_TIMES: i64 = 20;

/// A winding against its limits, simple or guarded.
pub(super) fn against(
    terms: &mut Terms,
    acceptance: Acceptance,
    limits: Range,
    judged: Decimal,
    u: Decimal,
    parts: &Uncertainty,
) -> Found {
    let side = if limits.lower.is_some_and(|lower| judged < lower) {
        Finding::Low
    } else if limits.upper.is_some_and(|upper| judged > upper) {
        Finding::High
    } else {
        Finding::Within
    };
    let near = |limit: Option<Decimal>| limit.is_some_and(|l| minus(judged, l).abs() < u);
    let near = near(limits.lower) || near(limits.upper);
    let narrow = matches!((limits.lower, limits.upper), (Some(lower), Some(upper)) if minus(upper, lower) < plus(u, u));
    if narrow {
        terms.note(format_args!("limits narrower than 2 U: {}", Way(parts)));
    } else if near {
        terms.note(format_args!("a limit lies within U: {}", Way(parts)));
    }
    match (acceptance, side) {
        (Acceptance::Simple, Finding::Within) => (Verdict::Pass, Some(side)),
        (Acceptance::Simple, _) => (Verdict::Fail, Some(side)),
        (Acceptance::Guarded, Finding::Within) if narrow => {
            (Verdict::Undecided, Some(Finding::LimitsTooNarrow))
        }
        (Acceptance::Guarded, _) if near => (Verdict::Undecided, Some(side)),
        (Acceptance::Guarded, Finding::Within) => (Verdict::Pass, Some(side)),
        (Acceptance::Guarded, _) => (Verdict::Fail, Some(side)),
    }
}

/// Kilohms or megohms where the limits lie at least twenty times lower.
pub(super) fn wrong_range(net: Decimal, limits: Range) -> bool {
    let most = limits.upper.or(limits.lower).unwrap_or_default();
    let twenty = Decimal::new(most.count().saturating_mul(RANGE_TIMES), most.exp());
    net >= Decimal::one(3) && twenty.is_ok_and(|twenty| net >= twenty)
}

/// The largest part of U, and the cheapest way to shrink it.
struct Way<'a>(&'a Uncertainty);

impl core::fmt::Display for Way<'_> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let (part, way) = self.0.largest();
        let typed = self.0.heat == Heat::Corrected;
        let rest = self.0.meter.max(self.0.null).max(self.0.cable);
        if typed && self.0.temperature > rest {
            // Nothing shrinks what a typed temperature leaves.
            write!(
                f,
                "most of U is the temperature as typed, then the {part}, {way}"
            )
        } else {
            write!(f, "most of U is the {part}, {way}")
        }
    }
}

/// How many times off a wrong connection reads, and what it looks like: two
/// windings in series read four times what they read in parallel, a wye three
/// times the same phases in delta, one winding of two half or twice as much.
const CONNECTIONS: [(f64, &str, &str); 3] = [
    (2.0, "twice", "half"),
    (3.0, "three times", "a third of"),
    (4.0, "four times", "a quarter of"),
];

/// Twice or half the limits and their like: the connection or the nameplate,
/// before the winding.
pub(super) fn hint_of_connection(
    terms: &mut Terms,
    motor: &Motor,
    limits: Range,
    judged: Decimal,
    found: Found,
) {
    let (Some(lower), Some(upper)) = (limits.lower, limits.upper) else {
        return;
    };
    let (lower, upper, v) = (lower.to_f64(), upper.to_f64(), judged.to_f64());
    let high = match found.1 {
        Some(Finding::High) => true,
        Some(Finding::Low) => false,
        _ => return,
    };
    let middle = (lower + upper) / 2.0;
    let brought = |times: f64| if high { v / times } else { v * times };
    // Only three phases are wired in wye or delta.
    let nearest = CONNECTIONS
        .into_iter()
        .filter(|(times, ..)| *times != 3.0 || motor.kind == Kind::ThreePhase)
        .filter(|(times, ..)| (lower..=upper).contains(&brought(*times)))
        .min_by(|a, b| {
            let off = |times: f64| (brought(times) - middle).abs();
            off(a.0).total_cmp(&off(b.0))
        });
    if let Some((_, more, less)) = nearest {
        terms.note(format_args!(
            "about {} the limits: check the connection and the voltage on the nameplate of {} first",
            if high { more } else { less },
            motor.model
        ));
    }
}

/// What a finding may point to, and the next check.
pub(super) fn what_it_may_mean(
    terms: &mut Terms,
    verdict: Verdict,
    finding: Option<Finding>,
    of_winding: bool,
) {
    let words = match finding {
        _ if !of_winding || matches!(verdict, Verdict::Pass | Verdict::NotJudged) => return,
        // Causes and next checks: common practice.
        Some(Finding::Low) => {
            "low points to heat, weak insulation or shorted turns; check that the clips are on the right leads"
        }
        Some(Finding::High) => {
            "high points to a damaged wire, a joint or surge damage; clean the leads and measure again"
        }
        Some(Finding::Open) => {
            "over-range points to an open winding, joint or lead; see that the clips hold and are on the right leads"
        }
        _ => return,
    };
    terms.note(format_args!("{words}"));
}

/// Limits as people write them.
pub(super) struct Limits(pub(super) Range);

impl core::fmt::Display for Limits {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match (self.0.lower, self.0.upper) {
            (Some(lower), Some(upper)) => write!(f, "{lower} to {upper} Ω"),
            (Some(lower), None) => write!(f, "from {}", Ohm(lower)),
            (None, Some(upper)) => write!(f, "to {}", Ohm(upper)),
            (None, None) => write!(f, "none"),
        }
    }
}
