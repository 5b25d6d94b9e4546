//! Leads found again in any order, and readings that no motor has refused.

use proptest::prelude::*;

use super::{cases, d};
use crate::judge::guide::Guide;
use crate::judge::lead_finder::{Between, ThreeLeads, next_of_three, tap_order, three_leads};
use crate::judge::lead_groups::{GroupKind, Groups, groups};
use crate::judge::sets::Part;
use crate::quantity::Decimal;

/// `4.00`, `OL`; one count as written, U two counts, leads subtracted.
fn part(text: &str) -> Part {
    let ohms = (text != "OL").then(|| d(text));
    let resolution = Decimal::one(ohms.map_or(-2, Decimal::exp));
    Part {
        ohms,
        resolution,
        u: 2.0 * resolution.to_f64(),
        leads_out: true,
    }
}

/// `1-2 4.00`: leads are named from 1.
fn between(text: &str) -> Between {
    let (leads, shown) = text.split_once(' ').expect("leads and a value");
    let (a, b) = leads.split_once('-').expect("two leads");
    let lead = |text: &str| text.parse::<usize>().expect("a number") - 1;
    Between {
        a: lead(a),
        b: lead(b),
        part: part(shown),
    }
}

const COLOURS: [&str; 3] = ["black", "red", "yellow"];

#[track_caller]
fn three(pairs: [&str; 3], saying: &str) -> Option<ThreeLeads> {
    let parts = pairs.map(part);
    let (says, found) = match three_leads(COLOURS, [&parts[0], &parts[1], &parts[2]]) {
        Guide::Found { says, what } => (says, Some(what)),
        Guide::Refused { says } => (says, None),
        Guide::Next(next) => panic!("{next:?}"),
    };
    assert!(says.contains(saying), "{saying:?} is not in {says:?}");
    found
}

#[test]
fn the_largest_pair_leaves_common_over_and_start_reads_more_than_run() {
    // Run 2.00, start 6.00: black–red 8.00 is run–start, so yellow is common;
    // red–yellow 6.00 is common–start, so red is start; black is run.
    let found = three(
        ["8.00", "6.00", "2.00"],
        "common is yellow, start is red, run is black",
    );
    assert_eq!(
        found,
        Some(ThreeLeads {
            common: 2,
            start: 1,
            run: 0
        })
    );
    // The same motor clipped the other way round.
    assert_eq!(
        three(["2.00", "6.00", "8.00"], "common is red"),
        Some(ThreeLeads {
            common: 1,
            start: 2,
            run: 0
        })
    );
}

#[test]
fn readings_that_no_three_wire_motor_has_are_refused_with_what_to_do() {
    for (pairs, saying) in [
        (
            ["8.00", "6.00", "3.00"],
            "clean the leads and measure all three again",
        ),
        (["5.00", "5.02", "5.01"], "three-phase motor"),
        (["4.00", "4.01", "8.01"], "start and run cannot be told"),
        (["8.00", "0.01", "8.00"], "read nothing"),
        (["OL", "OL", "2.00"], "red is open to both others"),
        (["OL", "6.00", "2.00"], "which no motor does"),
        (["OL", "OL", "OL"], "nothing conducts"),
    ] {
        assert_eq!(three(pairs, saying), None, "{pairs:?}");
    }
}

#[test]
fn leads_that_were_not_subtracted_are_named_before_a_joint() {
    // Run 2, start 6, each reading with 0.5 of leads: 8.5 is 0.5 less than 2.5 + 6.5.
    let parts = ["8.50", "6.50", "2.50"].map(|text| Part {
        leads_out: false,
        ..part(text)
    });
    let Guide::Refused { says } = three_leads(COLOURS, [&parts[0], &parts[1], &parts[2]]) else {
        panic!("found");
    };
    assert!(says.contains("join the clips first"), "{says}");
}

#[test]
fn three_leads_are_asked_for_pair_by_pair() {
    let first = next_of_three(COLOURS, [false; 3]).expect("a pair");
    assert_eq!(first.point, "black_red");
    assert!(first.cautions[0].contains("capacitor"));
    let last = next_of_three(COLOURS, [true, true, false]).expect("a pair");
    assert_eq!(last.point, "yellow_black");
    assert_eq!(next_of_three(COLOURS, [true; 3]), None);
}

#[track_caller]
fn taps(read: &[&str], expected: Result<&[usize], &str>) {
    let read: Vec<Between> = read.iter().map(|text| between(text)).collect();
    let got = tap_order(&["T1", "T2", "T3", "T4"], &read);
    match (got, expected) {
        (Guide::Found { what, .. }, Ok(order)) => {
            let named: Vec<usize> = what.iter().map(|lead| lead + 1).collect();
            assert_eq!(named, order);
        }
        (Guide::Refused { says }, Err(saying)) => assert!(says.contains(saying), "{says}"),
        (Guide::Next(next), Err(saying)) => {
            assert!(
                next.say.contains(saying) || next.point == saying,
                "{next:?}"
            );
        }
        (got, expected) => panic!("{got:?}, not {expected:?}"),
    }
}

#[test]
fn taps_are_ordered_from_the_farthest_lead() {
    // Along the winding T3, T1, T4, T2 at 0, 10, 14, 20 ohm.
    let read = [
        "1-2 10.00",
        "1-3 10.10",
        "1-4 4.00",
        "3-1 10.10",
        "3-2 20.10",
        "3-4 14.10",
    ];
    taps(&read[..2], Err("T1_T4"));
    taps(&read[..3], Err("T3_T2"));
    taps(&read, Ok(&[3, 1, 4, 2]));
}

#[test]
fn leads_that_are_not_along_one_winding_are_refused() {
    taps(&["1-2 OL"], Err("T2 is not on this winding"));
    taps(
        &[
            "1-2 10.00",
            "1-3 20.00",
            "1-4 4.00",
            "3-1 20.00",
            "3-2 19.99",
            "3-4 16.00",
        ],
        Err("read alike"),
    );
    // A star is no chain: 1, 2, 3 and 4 ohm from its middle to T1, T2, T3 and T4.
    taps(
        &[
            "1-2 3.00", "1-3 4.00", "1-4 5.00", "4-1 5.00", "4-2 6.00", "4-3 7.00",
        ],
        Err("not one winding with taps"),
    );
}

const NAMES: [&str; 12] = [
    "T1", "T2", "T3", "T4", "T5", "T6", "T7", "T8", "T9", "T10", "T11", "T12",
];

/// Answers what is asked by a motor; gives what was found and how many pairs it took.
fn ask(n: usize, answer: impl Fn(usize, usize) -> Option<&'static str>) -> (Guide<Groups>, usize) {
    let mut read = Vec::new();
    loop {
        let next = match groups(&NAMES[..n], &read) {
            Guide::Next(next) => next,
            done => return (done, read.len()),
        };
        let (a, b) = next.point.split_once('_').expect("two leads");
        let place = |name: &str| NAMES.iter().position(|n| *n == name).expect("a lead");
        let (a, b) = (place(a), place(b));
        let part = part(answer(a, b).unwrap_or("OL"));
        assert!(!read.iter().any(|r: &Between| r.is(a, b)), "{a} {b} twice");
        read.push(Between { a, b, part });
        assert!(read.len() <= n * (n - 1) / 2, "no end");
    }
}

/// The motor whose groups are these, leads numbered from 0; a delta's corner comes first.
fn motor(of: &[Vec<usize>], delta: bool) -> impl Fn(usize, usize) -> Option<&'static str> {
    move |a, b| {
        let group = of.iter().find(|g| g.contains(&a) && g.contains(&b))?;
        Some(match (group.len(), delta) {
            (3, true) if group[0] != a && group[0] != b => "4.00",
            (3, false) => "4.00",
            _ => "2.00",
        })
    }
}

#[track_caller]
fn found(n: usize, of: &[Vec<usize>], kind: GroupKind) -> usize {
    let (got, readings) = ask(n, motor(of, kind == GroupKind::NineDelta));
    let Guide::Found { what, says } = got else {
        panic!("{got:?}");
    };
    assert_eq!(what.kind, kind, "{says}");
    let tidy = |groups: &[Vec<usize>]| {
        let mut all = groups.to_vec();
        for group in &mut all {
            let rest = usize::from(kind == GroupKind::NineDelta);
            group[rest..].sort_unstable();
        }
        all.sort();
        all
    };
    assert_eq!(tidy(&what.groups), tidy(of), "{says}");
    assert!(says.contains("ohms cannot tell"), "{says}");
    readings
}

#[test]
fn groups_of_six_nine_and_twelve_leads_are_found() {
    found(
        6,
        &[vec![0, 3], vec![1, 4], vec![2, 5]],
        GroupKind::ThreeWindings,
    );
    found(6, &[vec![0, 1, 2], vec![3, 4, 5]], GroupKind::TwoThreePhase);
    // The usual numbers of a wye: 1–4, 2–5, 3–6 and 7–8–9 (common practice).
    found(
        9,
        &[vec![0, 3], vec![1, 4], vec![2, 5], vec![6, 7, 8]],
        GroupKind::NineWye,
    );
    // And of a delta: 1–4–9, 2–5–7, 3–6–8 with corners 1, 2, 3 (common practice).
    found(
        9,
        &[vec![0, 3, 8], vec![1, 4, 6], vec![2, 5, 7]],
        GroupKind::NineDelta,
    );
    let six: Vec<Vec<usize>> = (0..6).map(|n| vec![n, n + 6]).collect();
    found(12, &six, GroupKind::SixWindings);
}

#[test]
fn a_broken_winding_is_never_named_whole_by_elimination() {
    // Three windings of which the one between T3 and T6 is open.
    let (got, _) = ask(6, motor(&[vec![0, 3], vec![1, 4]], false));
    let Guide::Refused { says } = got else {
        panic!("{got:?}");
    };
    assert!(says.contains("no motor of 6 leads reads so"), "{says}");
    assert!(says.contains("T3 conducted to none"), "{says}");
    // And two windings that are shorted to each other.
    let (got, _) = ask(6, motor(&[vec![0, 3, 1, 4], vec![2, 5]], false));
    assert!(matches!(got, Guide::Refused { .. }), "{got:?}");
}

#[test]
fn a_delta_with_a_shorted_winding_has_no_corner_that_is_named() {
    let of = [vec![0, 3, 8], vec![1, 4, 6], vec![2, 5, 7]];
    let whole = motor(&of, true);
    let (got, _) = ask(9, |a, b| match (a, b) {
        (0, 3) => Some("1.20"),
        (3, 8) => Some("3.20"),
        _ => whole(a, b),
    });
    let Guide::Refused { says } = got else {
        panic!("{got:?}");
    };
    assert!(says.contains("T1, T4, T9 read"), "{says}");
}

#[test]
fn another_number_of_leads_is_refused() {
    let Guide::Refused { says } = groups(&NAMES[..7], &[]) else {
        panic!("asked");
    };
    assert_eq!(says, "expected 6, 9 or 12 leads, found 7");
}

/// A permutation of the first `n` leads.
fn shuffled(n: usize) -> impl Strategy<Value = Vec<usize>> {
    Just((0..n).collect::<Vec<usize>>()).prop_shuffle()
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn a_random_three_wire_motor_is_found_again(run in 100_i64..5000, more in 60_i64..900, order in shuffled(3)) {
        // Start is at least 1.6 times run; two decimals.
        let start = run * more.max(160) / 100;
        // Where common, start and run are clipped.
        let (common, at_start, at_run) = (order[0], order[1], order[2]);
        let between = |a: usize, b: usize| {
            let count = match () {
                () if a != common && b != common => run + start,
                () if a == at_start || b == at_start => start,
                () => run,
            };
            let mut part = part("1.00");
            part.ohms = Some(Decimal::new(count, -2).expect("small"));
            part
        };
        let pairs = [between(0, 1), between(1, 2), between(2, 0)];
        let got = three_leads(COLOURS, [&pairs[0], &pairs[1], &pairs[2]]);
        let expected = ThreeLeads { common, start: at_start, run: at_run };
        prop_assert!(matches!(got, Guide::Found { what, .. } if what == expected), "not found");
    }

    #[test]
    fn a_wrong_value_never_names_a_lead(run in 200_i64..5000, off in 120_i64..300) {
        // 1.6 : 1, and the sum off by a fifth at least.
        let start = run * 16 / 10;
        let total = (run + start) * off / 100;
        let of = |count| Part { ohms: Some(Decimal::new(count, -2).expect("small")), ..part("1.00") };
        let pairs = [of(run), of(start), of(total)];
        let got = three_leads(COLOURS, [&pairs[0], &pairs[1], &pairs[2]]);
        prop_assert!(matches!(got, Guide::Refused { .. }), "named");
    }

    #[test]
    fn random_taps_are_found_in_order(steps in prop::collection::vec(50_i64..2000, 3), order in shuffled(4)) {
        let mut along = [0_i64; 4];
        let mut place = 0;
        for (at, lead) in order.iter().enumerate() {
            if at > 0 {
                place += steps[at - 1];
            }
            along[*lead] = place;
        }
        let read: Vec<Between> = (0..4).flat_map(|a| (0..4).map(move |b| (a, b))).filter(|(a, b)| a != b).map(|(a, b)| Between {
            a,
            b,
            part: Part { ohms: Some(Decimal::new((along[a] - along[b]).abs(), -2).expect("small")), ..part("1.00") },
        }).collect();
        let Guide::Found { what, .. } = tap_order(&["a", "b", "c", "d"], &read) else {
            return Err(TestCaseError::fail("not found"));
        };
        let backwards: Vec<usize> = order.iter().rev().copied().collect();
        prop_assert!(what == order || what == backwards, "{what:?} is not {order:?}");
    }

    #[test]
    fn random_nine_leads_are_found(of in shuffled(9), delta: bool) {
        let sizes: &[usize] = if delta { &[3, 3, 3] } else { &[3, 2, 2, 2] };
        let mut rest = of.as_slice();
        let mut all = Vec::new();
        for size in sizes {
            let (group, behind) = rest.split_at(*size);
            all.push(group.to_vec());
            rest = behind;
        }
        let kind = if delta { GroupKind::NineDelta } else { GroupKind::NineWye };
        let readings = found(9, &all, kind);
        // All 36 pairs would do it too; guided it takes fewer.
        prop_assert!(readings <= 27, "{readings}");
    }
}
