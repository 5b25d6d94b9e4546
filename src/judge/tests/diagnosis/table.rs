//! The table of texts: its words, its cover of the trade's list, and whatever rows a job may have.

use proptest::prelude::*;

use super::super::*;
use super::{complete, diagnosed, harmless, names};
use crate::judge::diagnosis::table;

#[test]
fn whatever_fails_means_something() {
    for job in [
        "winding main 1.3 in 1.8..2.2 fail low",
        "winding main 3.3 in 1.8..2.2 fail high",
        "winding main OL in 1.8..2.2 fail open",
        "winding main 0.00 in 1.8..2.2 fail shorted",
        "winding main 22k in 1.8..2.2 fail range_suspect",
        "winding main 2.0\nwinding start 6.5\nwinding total 7.0\nwinding set fail sum_mismatch",
        "winding line_12 4.7\nwinding line_23 5.0\nwinding line_31 5.3\nwinding set fail unbalanced",
        "winding line_12 OL\nwinding line_23 OL\nwinding line_31 OL\nwinding set fail open",
        "winding line_12 0\nwinding line_23 5.0\nwinding line_31 5.0\nwinding set fail shorted",
        "ground all_to_ground 0.3M in 1e6.. fail to_ground",
        "insulation all_to_ground 0.3M in 1e6.. fail below_minimum",
        "insulation all_to_ground 0 in 1e6.. fail below_minimum",
        "leads before OL fail open",
        "leads before 1.4 fail high",
        "leads after 1.4 fail changed",
        "sensor ptc 0.2k in 1e3..2e3 fail low",
    ] {
        let said = diagnosed("three_phase", job);
        assert!(
            said.iter().any(|d| d.name != "nothing_found"),
            "{job} means nothing"
        );
    }
}

/// The words that patterns look for in a reason are those that the rules write.
#[test]
fn the_rules_write_the_words_that_patterns_look_for() {
    let reason = |text: &str, change: fn(&mut Bench)| {
        let mut bench = Bench::read(text);
        change(&mut bench);
        value(&bench.case()).reason
    };
    let held = |b: &mut Bench| b.take.flags = Flags::FROZEN;
    for point in [
        "winding main; shown 2.0; limits 1.8 2.2",
        "ground all_to_ground; shown 2M",
    ] {
        let said = reason(point, held);
        assert!(said.contains("in hold, min, max or average"), "{said}");
    }
    let said = reason("insulation all_to_ground; shown 2M", |b| {
        b.take.flags = Flags::LOW_BATTERY;
    });
    assert!(said.contains("battery is low"), "{said}");
    let said = reason("insulation all_to_ground; shown 2M", |b| {
        b.take.outcome = Outcome::PulledDown {
            last: None,
            reached: Volts(210.0),
        };
    });
    assert!(said.contains("cannot hold its voltage"), "{said}");
    // IEEE 43: 5 MΩ at 40 °C; 20 MΩ at −10 to 80 °C is between the worst and the best of it.
    let said = reason("insulation all_to_ground; shown 20M", |b| {
        b.around.profile = Some(profile("ieee43"));
        b.motor.rated_v = Some(Volts(400.0));
        b.take.elapsed = Some(Duration::from_secs(60));
    });
    assert!(said.contains("enter the winding's temperature"), "{said}");
}

/// Every row of the trade's list has its place: the id, ours, and words of
/// ours that answer its cell.
#[test]
fn each_row_of_the_trade_list_is_covered() {
    const PLACES: [(&str, &str, &[&str]); 29] = [
        (
            "W-LOW",
            "winding_low",
            &[
                "shorted turns",
                "compare with the other phases",
                "clears no motor",
            ],
        ),
        (
            "W-HIGH",
            "winding_high",
            &[
                "poor splice",
                "subtract the cable",
                "the joint, not the winding",
            ],
        ),
        (
            "W-OPEN",
            "winding_open",
            &["broken wire", "cool", "1 : 1 : 2"],
        ),
        (
            "W-SHORT",
            "winding_shorted",
            &["jumper", "cable and motor apart", "four"],
        ),
        (
            "W-UNBAL",
            "unbalanced",
            &["bad joint", "by one lead and repeat", "cable is subtracted"],
        ),
        (
            "W-MIXED",
            "leads_mixed",
            &[
                "crossed",
                "highest of the three pairs is run to start",
                "burns",
            ],
        ),
        (
            "W-SUM",
            "sum_mismatch",
            &["poor contact", "control off", "one loop too many"],
        ),
        (
            "G-SHORT",
            "winding_to_ground",
            &["burnt", "each conductor", "do not energize"],
        ),
        (
            "G-LOW",
            "insulation_low",
            &["moisture", "40 °c", "band for installed"],
        ),
        (
            "G-FALL",
            "insulation_falls",
            &["wet insulation", "lower voltage", "do not raise"],
        ),
        (
            "G-HIGHOK",
            "leads_unproven",
            &[
                "clips",
                "bare metal",
                "more than the range, never as a number",
            ],
        ),
        (
            "G-OHMMETER",
            "low_voltage_only",
            &["insulation tester", "few volts", "is real"],
        ),
        (
            "M-WANDER",
            "reading_wanders",
            &["loose clip", "stop the shaft", "volts first"],
        ),
        (
            "M-FINGERS",
            "hands_or_damp",
            &["fingers", "hands off the metal", "never touch the leads"],
        ),
        (
            "M-LEADS",
            "all_high_alike",
            &["leads not subtracted", "four wires", "dirty clips"],
        ),
        (
            "M-PREFIX",
            "prefix_confused",
            &["missed", "its prefix", "mega"],
        ),
        (
            "M-CONTROL",
            "bleed_resistor",
            &[
                "control box",
                "both ends of the cable",
                "capacitor through a resistor",
            ],
        ),
        (
            "M-TEMP",
            "temperature_may_explain",
            &["0.39 %", "enter it", "in the sun"],
        ),
        (
            "M-CABLE",
            "cable_left_in",
            &["there and back", "counts both ways", "aluminium"],
        ),
        (
            "S-ELECTRONIC",
            "electronics_inside",
            &["ask the maker", "never put an insulation tester"],
        ),
        (
            "S-LOTO",
            "voltage_on_clips",
            &[
                "isolate, lock and tag",
                "try the start control",
                "no isolation",
            ],
        ),
        (
            "S-DEAD",
            "voltage_on_clips",
            &["known live source", "try it again", "ruin the meter"],
        ),
        (
            "S-DISCHARGE",
            "insulation_low",
            &["four times", "nothing is left", "charge come back"],
        ),
        (
            "S-WAIT",
            "insulation_falls",
            &["discharge fully before any repeat"],
        ),
        (
            "S-BADGROUND",
            "winding_to_ground",
            &[
                "repair before any power",
                "do not take the ground off",
                "protective device",
            ],
        ),
        (
            "S-BARRIER",
            "insulation_low",
            &["keep people away", "cover bare ends", "jump"],
        ),
        ("S-EX", "insulation_low", &["gas", "permit", "spark"]),
        (
            "S-LOCAL",
            "insulation_low",
            &["local code", "maker", "qualified person decides"],
        ),
        (
            "G-LOW",
            "insulation_low",
            &["lightning", "warm winding", "surface"],
        ),
    ];
    let text = include_str!("../../../../tests/reference/diagnosis_trade.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let ids: Vec<String> = reader
        .records()
        .map(|r| r.expect("a row")[0].to_owned())
        .collect();
    assert_eq!(ids.len(), 28, "the list changed: {ids:?}");
    for id in &ids {
        assert!(
            PLACES.iter().any(|(known, ..)| known == id),
            "{id} has no place"
        );
    }
    for (id, name, words) in PLACES {
        assert!(ids.iter().any(|i| i == id), "{id} is not in the list");
        let meaning = table()
            .find(|t| t.name == name)
            .expect("a name of the table");
        let ours = [meaning.causes, meaning.next_checks, meaning.cautions]
            .concat()
            .join(" ");
        let ours = format!("{} {ours}", meaning.says).to_lowercase();
        for word in words {
            assert!(ours.contains(word), "{id}: {name} does not say {word:?}");
        }
        // In our own words: no cell of the list stands in ours.
        assert!(!meaning.source.is_empty(), "{name} has no source");
    }
}

#[test]
fn no_text_of_the_table_is_copied_or_forbidden_and_names_are_there_once() {
    let text = include_str!("../../../../tests/reference/diagnosis_trade.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let cells: Vec<String> = reader
        .records()
        .flat_map(|r| {
            r.expect("a row")
                .iter()
                .skip(4)
                .take(3)
                .map(str::to_lowercase)
                .collect::<Vec<_>>()
        })
        .flat_map(|cell| {
            cell.split([';', '.'])
                .map(|s| s.trim().to_owned())
                .collect::<Vec<_>>()
        })
        .filter(|s| s.split_whitespace().count() >= 8)
        .collect();
    assert!(cells.len() > 20, "{cells:?}");
    let texts: Vec<_> = table().collect();
    for (at, meaning) in texts.iter().enumerate() {
        let lines = [
            meaning.causes,
            meaning.next_checks,
            meaning.cautions,
            &[meaning.says],
        ]
        .concat();
        for line in lines {
            harmless(line);
            for cell in &cells {
                assert!(
                    !line.to_lowercase().contains(cell.as_str()),
                    "{}: copied {cell:?}",
                    meaning.name
                );
            }
        }
        assert!(
            texts[..at].iter().all(|t| t.name != meaning.name),
            "{}",
            meaning.name
        );
        assert!(
            meaning.cautions.iter().any(|c| c.contains("local code")),
            "{}",
            meaning.name
        );
    }
}

prop_compose! {
    fn a_line()(
        place in prop::sample::select(vec!["leads before", "leads after", "ground_path path", "winding main", "winding start", "winding total", "winding line_12", "winding line_23", "winding line_31", "winding set", "ground all_to_ground", "ground all_to_ground_swapped", "insulation all_to_ground", "insulation motor_to_ground", "insulation cable_to_ground", "sensor ptc", "ratio dar"]),
        value in prop::sample::select(vec!["0.2", "2.0", "2.00", "6.5", "8.5", "1.1", "150k", "2.0k", "0.3M", "80M", "OL", "aborted", "4volts", "0.8ratio"]),
        limits in prop::sample::select(vec!["", "in 1.8..2.2", "in 6..7", "in 1e6.."]),
        verdict in prop::sample::select(Verdict::ALL.to_vec()),
        finding in prop::sample::select(Finding::ALL.to_vec()),
    ) -> String {
        format!("{place} {value} {limits} {verdict} {finding}")
    }
}

proptest! {
    /// Whatever the rows say, what is made of them rests on rows, leads
    /// somewhere, and never says what must not be said.
    #[test]
    fn whatever_a_job_reads_nothing_forbidden_is_said(
        lines in prop::collection::vec(a_line(), 0..14),
        what in prop::sample::select(vec!["", "three_phase", "panel", "panel three_phase cold", "electronics"]),
    ) {
        let said = diagnosed(what, &lines.join("\n"));
        for diagnosis in &said {
            complete(diagnosis);
            prop_assert!(diagnosis.rows.iter().all(|r| (1..=lines.len() as u64).contains(r)));
        }
        let failed = lines.iter().filter(|l| l.contains(" fail ")).any(|l| l.starts_with("winding") || l.starts_with("ground ") || l.starts_with("insulation"));
        if failed {
            let standing_fail = diagnosed_fail(what, &lines);
            prop_assert!(!standing_fail || said.iter().all(|d| d.name != "nothing_found"), "{}", names(&said));
        }
    }
}

/// Whether the last row of some motor point failed.
fn diagnosed_fail(_: &str, lines: &[String]) -> bool {
    let place = |l: &str| l.split(' ').take(2).collect::<Vec<_>>().join(" ");
    let counts = |l: &&String| !l.contains("aborted");
    let mut last: Vec<(String, bool)> = Vec::new();
    for line in lines.iter().filter(counts) {
        last.retain(|(p, _)| *p != place(line));
        last.push((place(line), line.contains(" fail ")));
    }
    last.iter().any(|(p, fail)| {
        *fail
            && p != "winding set"
            && (p.starts_with("winding") || p.starts_with("ground ") || p.starts_with("insulation"))
    })
}
