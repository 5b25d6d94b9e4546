//! Mixed leads: three readings of a three-wire motor under other labels.
//!
//! Its three leads have three pairs, and any order of the three readings is a
//! relabelling of the leads. What fits as labelled is never called mixed here.

use core::fmt;

use super::words::{minus, plus};
use crate::limits::{Motor, Range};
use crate::quantity::Decimal;

/// A winding some 40 K from its reference still counts as the one that the
/// limits mean: 15 % either way (own). Which limits it meets, its point says.
const SLACK_PERCENT: i64 = 15;

/// The five orders that are not as labelled: which label holds main, start, total.
const ORDERS: [[usize; 3]; 5] = [[1, 0, 2], [0, 2, 1], [2, 0, 1], [1, 2, 0], [2, 1, 0]];
/// The lead that a pair leaves out: common–run, common–start, run–start.
const LEFT_OUT: [&str; 3] = ["start", "run", "common"];
const LABELS: [&str; 3] = ["main", "start", "total"];

/// Readings that fit under other labels: which label holds main, start, total.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Order([usize; 3]);

impl Order {
    /// The value of the main and of the start winding in this order.
    pub(super) fn windings(self, values: [Decimal; 3]) -> [Decimal; 2] {
        [values[self.0[0]], values[self.0[1]]]
    }
}

/// Says which lead is which.
impl fmt::Display for Order {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [main, start, total] = self.0.map(|label| LEFT_OUT[label]);
        write!(
            f,
            "common is then the lead taken for {total}, run the one taken for {start}, start the one taken for {main}"
        )
    }
}

/// Whether main and start are near what the catalogue says; without limits
/// anything is.
pub(super) fn near_limits(motor: &Motor, main: Decimal, start: Decimal) -> bool {
    holds(motor.main, main) && holds(motor.start, start)
}

/// The order in which main and start make the total and lie near their limits.
pub(super) fn order(motor: &Motor, values: [Decimal; 3], allowed: Decimal) -> Option<Order> {
    ORDERS.into_iter().map(Order).find(|order| {
        let [main, start, total] = order.0.map(|label| values[label]);
        let off = minus(total, plus(main, start)).abs();
        // The total is the largest, whatever is allowed.
        off <= allowed && total >= main && total >= start && near_limits(motor, main, start)
    })
}

/// What the only value beside two over-ranges fits, when that is not its own label.
pub(super) fn belongs_to(motor: &Motor, label: usize, value: Decimal) -> Option<String> {
    if motor.main.is_empty() || motor.start.is_empty() {
        return None;
    }
    let sum = |a: Option<Decimal>, b: Option<Decimal>| Some(plus(a?, b?));
    let total = Range {
        lower: sum(motor.main.lower, motor.start.lower),
        upper: sum(motor.main.upper, motor.start.upper),
    };
    let fits = [motor.main, motor.start, total].map(|range| holds(range, value));
    if fits[label] {
        return None;
    }
    let others: Vec<&str> = (0..3).filter(|at| fits[*at]).map(|at| LABELS[at]).collect();
    (!others.is_empty()).then(|| others.join(" or "))
}

fn holds(range: Range, value: Decimal) -> bool {
    let part = |limit: Decimal, percent: i64| {
        let count = limit.count().checked_mul(percent)?;
        Decimal::new(count, limit.exp().checked_sub(2)?).ok()
    };
    let from = range
        .lower
        .map(|l| part(l, 100 - SLACK_PERCENT).unwrap_or(l));
    let to = range
        .upper
        .map(|u| part(u, 100 + SLACK_PERCENT).unwrap_or(u));
    from.is_none_or(|from| value >= from) && to.is_none_or(|to| value <= to)
}
