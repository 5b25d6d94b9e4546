//! Metres to a short by hand, and a fault found by halving.

use proptest::prelude::*;

use super::d;
use crate::judge::conductor::{Core, Wire};
use crate::judge::fault_place::{Distance, Place, Seen, cable_at, distance, halve};
use crate::judge::guide::Guide;
use crate::judge::sets::Part;
use crate::quantity::{Celsius, Decimal};

fn core(mm2: f64) -> Core {
    Core::of(Wire::area(mm2).expect("an area"))
}

fn shown(ohms: &str, u: f64) -> Part {
    Part {
        ohms: (ohms != "OL").then(|| d(ohms)),
        resolution: Decimal::one(-2),
        u,
        leads_out: true,
    }
}

#[track_caller]
fn metres(core: &Core, part: &Part, known: bool, length: Option<f64>) -> (Distance, String) {
    match distance(core, part, known, length) {
        Ok(Guide::Found { what, says }) => (what, says),
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_distance_and_each_part_of_its_doubt_are_those_worked_by_hand() {
    // 2.5 mm² copper at 20 °C: 2/(58·2.5) = 0.0137931 Ω a metre there and back.
    // 0.80 Ω: 58.0 m. Meter: 0.02/0.0137931 = 1.45 m. Area: 58·2·0.05/√3 =
    // 3.348 m. Temperature unknown: 58·2·20/√3/254.5 = 5.263 m.
    // Together √(1.45² + 3.348² + 5.263²) = 6.404 m.
    let (at, known) = cable_at(None);
    let mut cable = core(2.5);
    cable.at = at;
    let (found, says) = metres(&cable, &shown("0.80", 0.02), known, None);
    let near = |got: f64, expected: f64| {
        assert!(
            (got - expected).abs() < 0.002 * expected,
            "{got}, not {expected}"
        );
    };
    near(found.metres, 58.0);
    near(found.of_meter, 1.45);
    near(found.of_area, 3.348);
    near(found.of_temperature, 5.263);
    near(found.doubt, 6.404);
    assert!(
        says.starts_with("0.80 Ω there and back is at most 58 m of cable, ± 6.4 m"),
        "{says}"
    );
    assert!(says.contains("lies nearer"), "{says}");
    // ± 2 K of a known temperature: a tenth of it.
    let (at, known) = cable_at(Some(Celsius(20.0)));
    cable.at = at;
    near(
        metres(&cable, &shown("0.80", 0.02), known, None)
            .0
            .of_temperature,
        0.526,
    );
}

#[test]
fn a_short_beyond_the_cables_end_is_no_short_of_the_cable() {
    let at = |ohms: &str, length: f64| metres(&core(2.5), &shown(ohms, 0.02), true, Some(length)).1;
    assert!(at("0.80", 40.0).contains("no dead short of its cores"));
    assert!(at("0.80", 58.0).contains("at its end or in the motor"));
    let inside = at("0.80", 100.0);
    assert!(!inside.contains("its end"), "{inside}");
}

#[test]
fn what_is_no_loop_is_refused() {
    let refused = |part: &Part| match distance(&core(2.5), part, true, None) {
        Ok(Guide::Refused { says }) => says,
        other => panic!("{other:?}"),
    };
    assert!(refused(&shown("OL", 0.0)).contains("no short between these two cores"));
    let leads_in = Part {
        leads_out: false,
        ..shown("0.80", 0.02)
    };
    assert!(refused(&leads_in).contains("join the clips first"));
    assert!(distance(&core(2.5), &shown("-0.10", 0.02), true, None).is_err());
}

const RUN: [&str; 4] = ["panel", "well_head", "splice", "motor"];
const LIMIT: &str = "2e6";

/// `0 300e3`: from the panel to the motor; `1-2 OL`: from place 1, opened at 2;
/// a `dry` behind it: the ends were dried.
fn seen(text: &str) -> Seen {
    let mut words = text.split(' ');
    let places = words.next().expect("places");
    let (at, opened) = match places.split_once('-') {
        Some((at, opened)) => (at, Some(opened.parse().expect("a number"))),
        None => (places, None),
    };
    let shown = words.next().expect("a value");
    Seen {
        at: at.parse().expect("a number"),
        opened,
        ohms: (shown != "OL").then(|| d(shown)),
        u: if shown == "OL" {
            0.0
        } else {
            0.1 * d(shown).to_f64()
        },
        dried: words.next() == Some("dry"),
    }
}

#[track_caller]
fn check(lines: &[&str], expected: &str) {
    let read: Vec<Seen> = lines.iter().map(|line| seen(line)).collect();
    let got = match halve(&RUN, d(LIMIT), &read) {
        Guide::Next(next) => format!("next {}: {}", next.point, next.say),
        Guide::Found { says, .. } => format!("found: {says}"),
        Guide::Refused { says } => format!("refused: {says}"),
    };
    assert!(
        got.contains(expected),
        "{lines:?}: {expected:?} is not in {got:?}"
    );
}

#[test]
fn each_opening_halves_what_is_left() {
    check(&[], "next panel_to_motor");
    check(&["0 20"], "next splice_to_motor");
    check(&["0 20", "2 OL"], "next well_head_to_motor");
    check(&["0 20", "2 20"], "next motor_to_motor");
    check(
        &["0 20", "2 OL", "1 20"],
        "found: the fault lies between well_head and splice",
    );
    check(
        &["0 20", "2 OL", "1 900e6"],
        "found: the fault lies between panel and well_head",
    );
    check(
        &["0 20", "2 20", "3 20"],
        "found: the fault lies behind motor",
    );
    check(
        &["0 20", "2 20", "3 OL"],
        "found: the fault lies between splice and motor",
    );
    // With the part behind left open it is the same.
    check(&["0 20", "2 OL", "1-2 20"], "between well_head and splice");
    check(&["0 20", "2 OL", "1-2 OL"], "between panel and well_head");
}

#[test]
fn a_leak_is_believed_only_after_the_ends_were_dried() {
    check(&["0 300e3"], "clean and dry the ends");
    check(&["0 300e3", "0 300e3 dry"], "next splice_to_motor");
    check(
        &["0 300e3 dry", "2 300e3"],
        "next splice_to_motor: at splice: clean and dry the ends, keep them apart, measure the same again: a wet or dirty cable end",
    );
    // It was the surface: the part behind is whole.
    check(
        &["0 300e3 dry", "2 300e3", "2 800e6 dry"],
        "next well_head_to_motor",
    );
    check(
        &["0 300e3 dry", "2 300e3", "2 300e3 dry"],
        "next motor_to_motor",
    );
    // A hard short is no surface.
    check(&["0 20"], "next splice_to_motor");
}

#[test]
fn what_cannot_be_said_is_not_guessed() {
    // Within U (a tenth) of 2 megohm.
    check(&["0 2.1e6"], "within U of the limit");
    check(&["0 1.9e6 dry"], "within U of the limit");
    check(&["0 900e6"], "refused: the whole run reads above");
    check(&["0 OL"], "refused: the whole run reads above");
    // Behind the splice it is whole and before it too: the two contradict.
    check(
        &["0 20", "2 OL", "0-2 OL"],
        "refused: the reading at panel contradicts",
    );
    // Two faults.
    check(&["0-1 20", "2 20"], "contradicts");
    check(&["2-1 20"], "looks at nothing");
    check(&["0-9 20"], "looks at nothing");
}

#[test]
fn every_step_that_opens_says_what_to_look_out_for_and_a_found_place_is_not_the_end() {
    let Guide::Next(next) = halve(&RUN, d(LIMIT), &[seen("0 20")]) else {
        panic!("not asked");
    };
    let cautions = next.cautions.join(" ");
    for word in [
        "discharge",
        "locked out and proven dead again",
        "nobody stands",
    ] {
        assert!(cautions.contains(word), "{cautions}");
    }
    check(
        &["0 20", "2 20", "3 20"],
        "measure the whole run again: there may be a second fault",
    );
    assert!(matches!(
        halve(&RUN[..1], d(LIMIT), &[]),
        Guide::Refused { .. }
    ));
}

proptest! {
    #[test]
    fn a_random_fault_is_found_in_the_openings_that_halving_needs(n in 2_usize..12, part in 0_usize..12, hard: bool, wet: bool) {
        let part = part % n;
        let names: Vec<String> = (0..n).map(|at| format!("place{at}")).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let fault = if hard { d("20") } else { d("300e3") };
        let mut read: Vec<Seen> = Vec::new();
        let mut openings = 0_u32;
        let found = loop {
            match halve(&names, d(LIMIT), &read) {
                Guide::Found { what, .. } => break what,
                Guide::Refused { says } => return Err(TestCaseError::fail(says)),
                Guide::Next(next) => {
                    let at = names.iter().position(|name| next.point == format!("{name}_to_motor")).expect("a place");
                    let again = read.iter().any(|seen| seen.at == at);
                    if at > 0 && !again {
                        openings += 1;
                    }
                    // A wet end leaks until it is dried; the fault is seen from its near side.
                    let ohms = match () {
                        () if part >= at => Some(fault),
                        () if wet && !again => Some(d("500e3")),
                        () => None,
                    };
                    read.push(Seen { at, opened: None, ohms, u: 0.0, dried: again });
                    prop_assert!(read.len() < 40, "no end");
                }
            }
        };
        let expected = if part + 1 == n { Place::Motor } else { Place::Between(part, part + 1) };
        prop_assert_eq!(found, expected);
        // The least k with 2^k ≥ n.
        prop_assert!(openings <= n.next_power_of_two().trailing_zeros(), "{openings} for {n}");
    }
}
