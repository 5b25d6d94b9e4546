//! A log in short lines, and what turns in it.

use std::path::Path;

use super::*;
use crate::capture::{self, Pace};
use crate::engine::{Engine, Output};
use crate::limits::Acceptance;
use crate::row::Finding;

/// Noon of the day `day` of a year that matters to nobody.
fn day(day: i64) -> Wall {
    Wall((20_000 + day) * 86_400_000_000_000)
}

fn d(text: &str) -> Decimal {
    text.parse().expect("a number")
}

/// A row each line, the first word the day: `3 J1 ohms-1 winding main 2.6 leads 0.3
/// judged 2.3 from 1.9 to 2.4 u 0.05 simple pass`, `4 withdrawn 2`, `3 over 1 pass`
/// for a later verdict. A new job gets its first row by itself, which is not counted.
fn log(lines: &[&str], start: &str) -> Vec<Recorded> {
    let mut rows = Vec::new();
    let mut add = |seq: u64, row: Row| {
        rows.push(Recorded {
            seq,
            row,
            chain: String::new(),
        });
    };
    let mut jobs: Vec<String> = Vec::new();
    for (line, seq) in lines.iter().zip(1..) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let at = day(words[0].parse().expect("a day"));
        let mut row = Row::new(Event::Value, at);
        if words[1] == "withdrawn" {
            row.event = Event::Withdrawn;
            row.of_seq = words[2].parse().ok();
            add(seq, row);
            continue;
        }
        let (job, meter, test, point) = (words[1], words[2], words[3], words[4]);
        if !jobs.iter().any(|known| known == job) {
            let mut first = Row::new(Event::JobStart, at);
            job.clone_into(&mut first.job);
            start.clone_into(&mut first.note);
            add(1000 + seq, first);
            jobs.push(job.to_owned());
        }
        [&mut row.job, &mut row.meter, &mut row.test, &mut row.point]
            .into_iter()
            .zip([job, meter, test, point])
            .for_each(|(cell, word)| word.clone_into(cell));
        row.asset = String::from("CP-07");
        let mut rest = words[5..].iter();
        while let Some(word) = rest.next() {
            let mut number = || rest.next().map(|n| d(n));
            match *word {
                "over-range" => row.event = Event::Open,
                "of" => {
                    row.event = Event::Judged;
                    row.of_seq = number().map(|n| n.count() as u64);
                }
                "leads" => row.leads_ohms = number(),
                "cable" => row.cable_ohms = number(),
                "judged" => row.judged_ohms = number(),
                "from" => row.lower_ohms = number(),
                "to" => row.upper_ohms = number(),
                "u" => row.uncertainty_ohms = number(),
                "held" => row.elapsed_s = number(),
                "simple" => row.acceptance = Some(Acceptance::Simple),
                "guarded" => row.acceptance = Some(Acceptance::Guarded),
                word => match Verdict::from_word(word) {
                    Some(verdict) => row.verdict = Some(verdict),
                    None => {
                        row.value_ohms = Some(d(word));
                        row.resolution_ohms = Some(Decimal::one(d(word).exp()));
                    }
                },
            }
        }
        add(seq, row);
    }
    rows
}

/// Asks about `ohms-1` from day 2 on, or to a day: `+10 %`, `+0.3 ohm until 5`.
#[track_caller]
fn says(lines: &[&str], asked: &str, expected: &[&str]) {
    says_of(lines, PLAIN, asked, expected);
}

#[track_caller]
fn says_of(lines: &[&str], start: &str, asked: &str, expected: &[&str]) {
    let (off, until) = match asked.split_once(" until ") {
        Some((off, until)) => (off, until.parse().ok().map(day)),
        None => (asked, None),
    };
    let question = Question {
        meter: String::from("ohms-1"),
        since: day(2),
        until,
        off: off.parse().expect("an error"),
    };
    let answer = affected(log(lines, start), &question);
    let word = |verdict: Option<Verdict>| verdict.map_or("-", Verdict::word);
    let ohms = |ohms: Option<Decimal>| ohms.map_or(String::from("-"), |o| o.to_string());
    let said: Vec<String> = answer
        .rows
        .iter()
        .map(|row| {
            let turn = row.turn.word();
            format!(
                "{} {} {} -> {}, {} -> {} {}",
                row.seq,
                turn,
                word(row.then),
                word(row.now),
                ohms(row.judged_then),
                ohms(row.judged_now),
                row.why
            )
            .trim_end()
            .to_owned()
        })
        .collect();
    assert_eq!(said, expected);
}

const PLAIN: &str = r#"{"motor": {"insulation": null}, "limits": null}"#;

#[test]
fn a_value_that_was_read_too_high_may_fall_below_its_limit_and_one_that_failed_may_have_been_good()
{
    says(
        &[
            "3 J1 ohms-1 winding main 22.0 judged 22.0 from 20.5 to 25 u 0.1 simple pass",
            "3 J1 ohms-1 winding start 26.4 judged 26.4 from 20 to 25 u 0.1 simple fail",
            "3 J1 ohms-1 winding total 24.2 judged 24.2 from 20 to 25 u 0.1 simple pass",
            "3 J1 ohms-2 winding main 22.0 judged 22.0 from 20.5 to 25 u 0.1 simple pass",
            "1 J1 ohms-1 winding main 22.0 judged 22.0 from 20.5 to 25 u 0.1 simple pass",
        ],
        "+10 %",
        // By hand: 22 / 1.1 = 20, 26.4 / 1.1 = 24, 24.2 / 1.1 = 22.
        &[
            "1 worse pass -> fail, 22.0 -> 20.000",
            "2 better fail -> pass, 26.4 -> 24.000",
            "3 same pass -> pass, 24.2 -> 22.000",
        ],
    );
}

#[test]
fn an_error_in_ohms_cancels_where_the_leads_were_read_with_it() {
    let value =
        "3 J1 ohms-1 winding main 2.6 leads 0.3 judged 2.3 from 2.1 to 2.5 u 0.05 simple pass";
    says(
        &[
            "3 J1 ohms-1 leads before 0.3 leads 0.3 judged 0.3 pass",
            value,
        ],
        "+0.3 ohm",
        &[
            "1 same pass -> pass, 0.3 -> 0.0",
            "2 same pass -> pass, 2.3 -> 2.3",
        ],
    );
    // Leads that were read before the meter went wrong are right, so the value alone is off.
    says(
        &[
            "1 J1 ohms-1 leads before 0.3 leads 0.3 judged 0.3 pass",
            value,
        ],
        "+0.3 ohm",
        &["2 worse pass -> fail, 2.3 -> 2.0"],
    );
    // And the other way round: right again, with leads that still have the error.
    says(
        &[
            "3 J1 ohms-1 leads before 0.3 leads 0.3 judged 0.3 pass",
            "6 J1 ohms-1 winding main 2.6 leads 0.3 judged 2.3 from 2.1 to 2.5 u 0.05 simple pass",
        ],
        "+0.3 ohm until 5",
        &[
            "1 same pass -> pass, 0.3 -> 0.0",
            "2 worse pass -> fail, 2.3 -> 2.6",
        ],
    );
}

/// An ohm is the most that leads may be, whatever else their meter proves.
#[test]
fn leads_are_proven_still_where_they_stay_below_an_ohm() {
    says(
        &[
            "3 J1 ohms-1 leads before 0.97 judged 0.97 pass",
            "3 J1 ohms-1 leads after 0.90 judged 0.90 pass",
        ],
        "-5 %",
        // By hand: 0.97 / 0.95 = 1.0211, 0.9 / 0.95 = 0.9474.
        &[
            "1 not_judgeable pass -> -, 0.97 -> - without the error it lies beyond 1 Ω: prove it again",
            "2 same pass -> pass, 0.90 -> 0.9474",
        ],
    );
}

#[test]
fn an_unbalance_is_as_it_was_only_if_the_error_is_in_all_its_parts() {
    let set = "3 J1 ohms-1 winding set of 2 pass";
    let part =
        |day: u8| format!("{day} J1 ohms-1 winding line_12 4.0 judged 4.0 from 3 to 5 simple pass");
    says(
        &[&part(3), &part(3), set],
        "+10 %",
        &[
            "1 same pass -> pass, 4.0 -> 3.636",
            "2 same pass -> pass, 4.0 -> 3.636",
            "3 same pass -> pass, - -> - an error in percent is in all its parts and leaves it as it was",
        ],
    );
    says(
        &[&part(1), &part(3), set],
        "+10 %",
        &[
            "2 same pass -> pass, 4.0 -> 3.636",
            "3 not_judgeable pass -> -, - -> - only a part of its values was read in this time: measure them again",
        ],
    );
}

#[test]
fn a_later_verdict_counts_until_it_is_withdrawn() {
    let rows = [
        "3 J1 ohms-1 winding main 22.0 judged 22.0 from 20.5 to 25 u 0.1 simple pass",
        "3 J1 ohms-1 winding main of 1 judged 22.0 from 19.0 to 25 simple pass",
        "4 withdrawn 2",
    ];
    says(
        &rows[..2],
        "+10 %",
        &["1 same pass -> pass, 22.0 -> 20.000"],
    );
    says(&rows, "+10 %", &["1 worse pass -> fail, 22.0 -> 20.000"]);
}

#[test]
fn a_cable_is_taken_with_the_error_and_without_and_the_worse_counts() {
    // By hand: 22 / 1.1 = 20; without the cable's 2.2 it is 17.8, without its 2 it is 18.
    says(
        &[
            "3 J1 ohms-1 winding main 22.00 cable 2.20 judged 19.80 from 17.9 to 25 u 0.1 simple pass",
        ],
        "+10 %",
        &["1 worse pass -> fail, 19.80 -> 17.8000"],
    );
    says(
        &[
            "3 J1 ohms-1 winding main 22.00 cable 2.20 judged 19.80 from 15 to 17.9 u 0.1 simple fail",
        ],
        "+10 %",
        &["1 same fail -> fail, 19.80 -> 18.0000"],
    );
}

#[test]
fn a_value_that_was_brought_to_a_temperature_stays_there() {
    // 22 read, 20 judged; by hand 22 / 1.1 = 20, and 20 · 20/22 = 18.18.
    says(
        &["3 J1 ohms-1 winding main 22.0 judged 20 from 18.5 to 25 u 0.1 simple pass"],
        "+10 %",
        &["1 worse pass -> fail, 20 -> 18.182"],
    );
}

#[test]
fn guarded_acceptance_keeps_its_distance_with_the_same_u() {
    says(
        &["3 J1 ohms-1 winding main 22.0 judged 22.0 from 19.5 to 25 u 1 guarded pass"],
        "+10 %",
        &["1 worse pass -> undecided, 22.0 -> 20.000"],
    );
}

#[test]
fn ground_and_insulation_fall_and_never_rise() {
    says(
        &[
            "3 J1 ohms-1 insulation all_to_ground 1200000 judged 1200000 from 1000000 u 100000 guarded pass",
            "3 J1 ohms-1 ground all_to_ground 1100000 judged 1100000 from 1000000 u 1000 guarded pass",
        ],
        "+20 %",
        &[
            "1 worse pass -> undecided, 1200000 -> 1000000.00",
            "2 worse pass -> fail, 1100000 -> 916666.67",
        ],
    );
    says(
        &[
            "3 J1 ohms-1 insulation all_to_ground 900000 judged 900000 from 1000000 u 1000 guarded fail",
            "3 J1 ohms-1 ground all_to_ground 1000000 judged 1000000 from 1000000 u 50000 guarded undecided",
        ],
        "-50 %",
        &[
            "1 same fail -> fail, 900000 -> 1800000.00",
            "2 same undecided -> undecided, 1000000 -> 2000000.00",
        ],
    );
}

/// Nobody proved its leads: no number makes it a pass, a low one makes it fail.
#[test]
fn what_something_else_decided_does_not_become_better() {
    let value = |ohms: &str| {
        format!(
            "3 J1 ohms-1 winding main {ohms} judged {ohms} from 20 to 25 u 0.1 simple undecided"
        )
    };
    says(
        &[&value("23.1"), &value("21.0"), &value("27.0")],
        "+10 %",
        &[
            "1 same undecided -> undecided, 23.1 -> 21.000",
            "2 worse undecided -> fail, 21.0 -> 19.091",
            "3 same undecided -> undecided, 27.0 -> 24.545",
        ],
    );
}

#[test]
fn a_hold_that_was_let_go_early_stays_open() {
    let start = r#"{"motor": {"insulation": null}, "limits": {"name": "pumps", "source": "invented", "mark_s": 60}}"#;
    let value = |held: u32| {
        format!(
            "3 J1 ohms-1 insulation all_to_ground 1200000 judged 1200000 from 1100000 u 50000 guarded held {held} pass"
        )
    };
    says_of(
        &[&value(20), &value(60)],
        start,
        "+20 %",
        &[
            "1 worse pass -> undecided, 1200000 -> 1000000.00",
            "2 worse pass -> fail, 1200000 -> 1000000.00",
        ],
    );
}

/// At an assumed temperature the worst factor decides a pass: 1.1 MΩ at the
/// coldest place is far less at 40 °C.
#[test]
fn an_assumed_temperature_decides_as_it_did() {
    let start = r#"{"motor": {"insulation": null}, "limits": {"name": "pumps", "source": "invented", "correct_to_c": 40}}"#;
    let value = "3 J1 ohms-1 insulation all_to_ground 1200000 judged 1200000 from 1000000 u 1000 guarded held 10 undecided";
    says_of(
        &[value],
        start,
        "+1 %",
        &["1 same undecided -> undecided, 1200000 -> 1188118.81"],
    );
}

#[test]
fn what_has_no_number_or_no_limits_is_listed_and_not_judged() {
    says(
        &[
            "3 J1 ohms-1 ground all_to_ground over-range from 1000000 u 1000 guarded undecided",
            "3 J1 ohms-1 winding total 8.05 judged 7.9 not_judged",
            "3 J1 ohms-1 winding set of 2 judged 0.0 to 0.2 pass",
            "3 J1 ohms-1 ground contact 8.05 not_judged",
        ],
        "+0.3 ohm",
        &[
            "1 not_judgeable undecided -> -, - -> - over-range has no number to take an error from",
            "2 not_judgeable not_judged -> -, 7.9 -> - its row has no limits to judge it by",
            "3 not_judgeable pass -> -, 0.0 -> - it is judged from several values: measure them again",
            "4 not_judgeable not_judged -> -, - -> - no number of it was judged",
        ],
    );
}

#[test]
fn an_error_in_percent_leaves_ratios_and_sets_as_they_were() {
    says(
        &[
            "3 J1 ohms-1 ratio all_to_ground of 1 pass",
            "3 J1 ohms-1 winding set of 1 judged 0.0 to 0.2 fail",
        ],
        "+5 %",
        &[
            "1 same pass -> pass, - -> - an error in percent is in all its parts and leaves it as it was",
            "2 same fail -> fail, 0.0 -> - an error in percent is in all its parts and leaves it as it was",
        ],
    );
}

#[test]
fn withdrawn_rows_do_not_count_and_a_later_verdict_is_the_verdict() {
    let value = "3 J1 ohms-1 ground all_to_ground 1200000 judged 1200000 from 1000000 u 1000 guarded undecided";
    says(
        &[
            value,
            "3 J1 ohms-1 ground all_to_ground of 1 from 1000000 pass",
            value,
            "9 withdrawn 3",
        ],
        "+50 %",
        &["1 worse pass -> fail, 1200000 -> 800000.00"],
    );
    says(
        &[
            value,
            "3 J1 ohms-1 ground all_to_ground of 1 from 1000000 pass",
            "9 withdrawn 2",
        ],
        "+50 %",
        // By hand: 1.2 MΩ / 1.5; as it was judged first, with the leads unproven.
        &["1 worse undecided -> fail, 1200000 -> 800000.00"],
    );
}

#[test]
fn a_value_that_was_judged_again_is_held_to_the_limits_of_then() {
    let value = "3 J1 ohms-1 winding main 22.0 judged 22.0 from 20.5 to 25 u 0.1 simple pass";
    let again = "4 J1 ohms-2 winding main of 1 judged 22.0 from 18 to 21 u 0.1 simple fail";
    says(
        &[value, again],
        "+10 %",
        &["1 better fail -> pass, 22.0 -> 20.000"],
    );
}

/// What numbers say of each row of whole captured jobs is what the judge said,
/// wherever a number decided.
#[test]
fn numbers_decide_as_the_judge_did_in_all_captured_jobs() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("captures");
    let mut files = vec![root.join("hatchery.pcapng")];
    for entry in std::fs::read_dir(root.join("jobs")).expect("jobs") {
        let path = entry.expect("jobs").path();
        if path.extension().is_some_and(|e| e == "pcapng") {
            files.push(path);
        }
    }
    let mut compared = 0;
    for file in files {
        let mut plans: BTreeMap<String, Plan> = BTreeMap::new();
        for row in replayed(&file) {
            if row.event == Event::JobStart {
                plans.insert(row.job.clone(), Plan::of(&row).expect("its note reads"));
            }
            // What decides beside the number.
            let beside = matches!(
                row.finding,
                Some(
                    Finding::LeadsUnproven
                        | Finding::ContactUnproven
                        | Finding::GroundPathUnproven
                        | Finding::Unstable
                        | Finding::TestForbidden
                        | Finding::WrongTestVoltage
                )
            );
            let (Some(judged), Event::Value, false) = (row.judged_ohms, row.event, beside) else {
                continue;
            };
            let Some(plan) = plans.get(&row.job) else {
                continue;
            };
            let Some(said) = again::by_numbers(&row, plan, judged) else {
                continue;
            };
            // At a panel the cable decides, which the scene of that name leaves in.
            let cable = file.ends_with("cable-not-subtracted.pcapng");
            if cable && row.test == "winding" && row.verdict == Some(Verdict::Undecided) {
                continue;
            }
            assert_eq!(Some(said), row.verdict, "{}: {row:?}", file.display());
            compared += 1;
        }
    }
    assert!(compared >= 40, "{compared} rows only");
}

fn replayed(file: &Path) -> Vec<Row> {
    let mut engine = Engine::new();
    let mut output = Output::default();
    for input in capture::read(file, Pace::AtOnce).expect("a capture") {
        engine
            .input(&input.expect("an input"), &mut output)
            .expect("taken");
    }
    output.rows
}
