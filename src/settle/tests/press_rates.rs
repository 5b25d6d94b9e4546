//! Rates of timed holds on presses of our own: a few hundred here, tens of
//! thousands in the example `settle_holds`. The goal is one in a thousand, so
//! a few hundred show none; one is allowed for what happens to lie on an edge.

use super::interval::rate;
use super::press_drive;
use super::press_score::{Score, score};
use super::presses::{FAMILIES, trace};

/// Traces of each family.
const EACH: u64 = 24;
/// Traces begin at this number, with which no constant was chosen.
const FIRST: u64 = 610_000;

/// What goes wrong in the families that `of` names, and how much is asked.
fn wrong(of: impl Fn(&str) -> bool) -> (Vec<String>, u32) {
    let (mut wrong, mut asked) = (Vec::new(), 0);
    // The long hold takes as long as all others.
    let families = FAMILIES.iter().filter(|family| **family != "pi");
    for family in families.filter(|family| of(family)) {
        for index in FIRST..FIRST + EACH {
            let trace = trace(family, index);
            let Score {
                wrong: more,
                missed,
                required,
                ..
            } = score(&trace, &press_drive::events(&trace));
            asked += required;
            let said = more.into_iter().chain(missed);
            wrong.extend(said.map(|said| format!("{family} {index}: {said}")));
        }
    }
    (wrong, asked)
}

#[test]
fn holds_are_taken_at_their_marks_and_end_where_they_end() {
    let (wrong, asked) = wrong(|family| !family.starts_with("weak"));
    assert!(asked > 350, "the presses ask for something: {asked}");
    assert!(wrong.len() <= 1, "{wrong:#?}");
}

#[test]
fn each_weak_tester_is_pulled_down() {
    let (wrong, asked) = wrong(|family| family.starts_with("weak"));
    assert!(asked > 30, "enough arrives to see it: {asked}");
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn an_interval_is_the_exact_one() {
    // By the public corpus's own judge, in percent.
    assert_eq!(rate(0, 72), "0.00 (0.00-4.99)");
    assert_eq!(rate(3, 1000), "0.30 (0.06-0.87)");
    assert_eq!(rate(7, 7), "100.00 (59.04-100.00)");
    assert_eq!(rate(0, 0), "-");
}
