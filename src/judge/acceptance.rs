//! Acceptance: a winding's value against its limits, and what a miss may mean.
//!
//! Simple acceptance lets the value decide and notes a limit that lies within
//! U; guarded acceptance leaves such a value undecided (JCGM 106, ILAC-G8).

use super::uncertainty::Uncertainty;
use super::words::{Ohm, Terms, minus, plus};
use crate::limits::{Acceptance, Motor, Range};
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
    let (largest, shrink) = parts.largest();
    if narrow {
        terms.term(format_args!(
            "limits narrower than 2 U: most of U is the {largest}, {shrink}"
        ));
    } else if near {
        terms.term(format_args!(
            "a limit lies within U: most of U is the {largest}, {shrink}"
        ));
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

/// Twice or half the limits: the connection or the nameplate, before the winding.
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
    let inside = |v: f64| v >= lower.to_f64() && v <= upper.to_f64();
    let v = judged.to_f64();
    let (high, low) = (
        found.1 == Some(Finding::High),
        found.1 == Some(Finding::Low),
    );
    let times = match () {
        () if high && inside(v / 2.0) => "twice",
        () if high && inside(v / 4.0) => "four times",
        () if low && inside(v * 2.0) => "half",
        () if low && inside(v * 4.0) => "a quarter of",
        () => return,
    };
    terms.term(format_args!(
        "about {times} the limits: check the connection and the voltage on the nameplate of {} first",
        motor.model
    ));
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
    terms.term(format_args!("{words}"));
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
