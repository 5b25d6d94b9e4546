//! A log as lines of text in, the baseline it gives out.

use std::path::PathBuf;

use super::last;
use crate::disk::double::Double;
use crate::limits::{Baseline, MeasuredAt, Test};
use crate::log::Log;
use crate::quantity::{Decimal, Unit};
use crate::reading::Method;
use crate::row::{Event, Finding, Row, Verdict};
use crate::stamp::Wall;

const DAY: i64 = 86_400_000_000_000;
/// 2026-03-01.
const MARCH: i64 = 1_772_323_200_000_000_000;

fn d(text: &str) -> Decimal {
    text.parse().expect("a decimal")
}

/// `start J1 pump motor`, `main J1 pump 2.31 pass`, `insulation J1 pump 90e6 pass`,
/// `judged J1 pump 4 fail`, `back 4`, `end J1 pump`, each in the order of its day.
fn row(day: i64, line: &str) -> Row {
    let words: Vec<&str> = line.split(' ').collect();
    let at = Wall(MARCH + day * DAY);
    let event = match words[0] {
        "start" => Event::JobStart,
        "end" => Event::JobEnd,
        "back" => Event::Withdrawn,
        "judged" => Event::Judged,
        "open" => Event::Open,
        _ => Event::Value,
    };
    let mut row = Row::new(event, at);
    if event == Event::Withdrawn {
        row.of_seq = words[1].parse().ok();
        return row;
    }
    row.job = words[1].to_owned();
    row.asset = words[2].replace('_', " ");
    match event {
        Event::JobStart => {
            row.note = format!(
                "{{\"stage\":\"arrival\",\"measured_at\":\"{}\",\"cable\":null,\"motor\":{{\"model\":\"HB-CP 40\",\"conductor\":\"copper\",\"reference_c\":20.0}}}}",
                words[3]
            );
            row.temperature_c = words.get(4).map(|t| d(t));
        }
        Event::Judged => row.of_seq = words[3].parse().ok(),
        Event::Value | Event::Open => {
            (row.test, row.point) = match words[0] {
                "insulation" => ("insulation".into(), "all_to_ground".into()),
                "leads" => ("leads".into(), "before".into()),
                "warm" => ("temperature".into(), "winding".into()),
                "open" => ("winding".into(), "main".into()),
                point => ("winding".into(), point.into()),
            };
            row.meter = String::from("gauge");
            row.method = Some(Method::Manual);
            if words[0] == "warm" {
                row.temperature_c = Some(d(words[3]));
                row.verdict = Some(Verdict::NotJudged);
            } else if event == Event::Value {
                row.unit = Some(Unit::Ohm);
                row.value_ohms = Some(d(words[3]));
                row.resolution_ohms = Some(Decimal::one(d(words[3]).exp()));
            }
        }
        _ => {}
    }
    for word in &words[3..] {
        if let Some(verdict) = Verdict::from_word(word) {
            row.verdict = Some(verdict);
        } else if let Some(finding) = Finding::from_word(word) {
            row.finding = Some(finding);
        } else if let Some(leads) = word.strip_prefix("leads=") {
            row.leads_ohms = Some(d(leads));
        } else if let Some(u) = word.strip_prefix("u=") {
            row.uncertainty_ohms = Some(d(u));
        }
    }
    row
}

/// A log with a line a day.
fn logged(lines: &[&str]) -> Double {
    let disk = Double::default();
    let (mut log, _) = Log::open(&dir(), disk.clone()).expect("opens");
    for (line, day) in lines.iter().zip(0..) {
        log.append(vec![row(day, line)]).expect("written");
        log.sync().expect("synced");
    }
    disk
}

fn dir() -> PathBuf {
    PathBuf::from("data/log")
}

/// `J1: main 2.31, all_to_ground 90000000`.
fn words(found: Option<Baseline>) -> String {
    let Some(found) = found else {
        return String::from("none");
    };
    let values = found.values.iter();
    let values: Vec<String> = values
        .map(|was| format!("{} {}", was.point.name, was.ohms))
        .collect();
    format!("{}: {}", found.job, values.join(", "))
}

#[track_caller]
fn check(lines: &[&str], expected: &str) {
    let disk = logged(lines);
    let found = last(&disk, &dir(), "pump 3", MeasuredAt::Motor);
    assert_eq!(words(found), expected);
}

#[test]
fn the_last_ended_job_of_the_asset_at_the_place_gives_its_values() {
    check(&[], "none");
    check(
        &[
            "start J1 pump_3 motor",
            "main J1 pump_3 2.31 pass within",
            "end J1 pump_3",
            "start J2 pump_3 motor 20",
            "main J2 pump_3 2.52 pass within leads=0.10",
            "insulation J2 pump_3 90e6 pass within",
            "end J2 pump_3",
            "start J3 pump_3 panel",
            "main J3 pump_3 4.4 undecided within",
            "end J3 pump_3",
            "start J9 pump_3 motor",
            "lead_1_2 J9 pump_3 4.4 not_judged",
            "end J9 pump_3",
            "start J4 pump_33 motor",
            "main J4 pump_33 9.9 pass within",
            "end J4 pump_33",
            "start J5 pump_3 motor",
            "main J5 pump_3 7.7 pass within",
        ],
        "J2: main 2.42, all_to_ground 90000000",
    );
}

#[test]
fn what_failed_was_withdrawn_or_is_in_doubt_does_not_count() {
    check(
        &[
            "start J1 pump_3 motor",
            "main J1 pump_3 2.31 pass within",
            "end J1 pump_3",
            "start J2 pump_3 motor",
            "main J2 pump_3 1.2 fail low",
            "start J2 pump_3x motor",
            "insulation J2 pump_3 90e6 undecided leads_unproven",
            "end J2 pump_3",
        ],
        "J1: main 2.31",
    );
    check(
        &[
            "start J1 pump_3 motor",
            "main J1 pump_3 2.31 pass within",
            "start_winding J1 pump_3 5.5 not_judged",
            "end J1 pump_3",
            "back 2",
        ],
        "J1: start_winding 5.5",
    );
    // The verdict of the second proof counts, and its withdrawal too.
    check(
        &[
            "start J1 pump_3 motor",
            "insulation J1 pump_3 90e6 undecided leads_unproven",
            "judged J1 pump_3 2 pass within",
            "end J1 pump_3",
        ],
        "J1: all_to_ground 90000000",
    );
    check(
        &[
            "start J1 pump_3 motor",
            "insulation J1 pump_3 90e6 undecided leads_unproven",
            "judged J1 pump_3 2 pass within",
            "back 3",
            "end J1 pump_3",
        ],
        "none",
    );
}

#[test]
fn the_last_row_of_a_point_decides_and_a_withdrawn_one_gives_way() {
    let lines = [
        "start J1 pump_3 motor",
        "main J1 pump_3 2.31 pass within",
        "main J1 pump_3 2.35 pass within",
        "end J1 pump_3",
    ];
    check(&lines, "J1: main 2.35");
    check(&[&lines[..], &["back 3"]].concat(), "J1: main 2.31");
    check(
        &[&lines[..3], &["main J1 pump_3 1.0 fail low"], &lines[3..]].concat(),
        "none",
    );
    check(
        &[&lines[..3], &["open J1 pump_3 fail open"], &lines[3..]].concat(),
        "none",
    );
}

#[test]
fn jobs_that_run_beside_each_other_are_told_apart_and_the_last_end_wins() {
    check(
        &[
            "start J1 pump_3 motor",
            "start J2 pump_3 motor",
            "main J1 pump_3 2.31 pass within",
            "main J2 pump_3 2.32 pass within",
            "end J2 pump_3",
            "end J1 pump_3",
        ],
        "J1: main 2.31",
    );
    check(
        &[
            "start J1 pump_3 motor",
            "start J2 pump_3 motor",
            "main J1 pump_3 2.31 fail low",
            "main J2 pump_3 2.32 pass within",
            "end J2 pump_3",
            "end J1 pump_3",
        ],
        "J2: main 2.32",
    );
}

#[test]
fn it_is_found_across_months_blocks_and_a_torn_end() {
    let mut lines = vec![
        String::from("start J1 pump_3 motor"),
        String::from("main J1 pump_3 2.31 pass within"),
        String::from("end J1 pump_3"),
    ];
    // Three months of another asset; 40 kB a row makes more than one block of it.
    for day in 0..100 {
        lines.push(format!("main J{day} blower 1.0 pass within"));
    }
    let disk = Double::default();
    let (mut log, _) = Log::open(&dir(), disk.clone()).expect("opens");
    for (line, day) in lines.iter().zip(0..) {
        let mut row = row(day, line);
        row.limits_from = "hatchery list ".repeat(3000);
        log.append(vec![row]).expect("written");
    }
    log.sync().expect("synced");
    let found = last(&disk, &dir(), "pump 3", MeasuredAt::Motor);
    assert_eq!(words(found), "J1: main 2.31");
    let newest = dir().join("readings-2026-06.csv");
    let mut file = crate::disk::Disk::open(&disk, &newest).expect("opens");
    crate::disk::Disk::append(
        &disk,
        &mut file,
        b"104,2026-06-12T00:00:00.000Z,job_end,,,,,J9,,pump 3",
    )
    .expect("written");
    let found = last(&disk, &dir(), "pump 3", MeasuredAt::Motor);
    assert_eq!(words(found), "J1: main 2.31");
}

#[test]
fn an_asset_with_quotes_and_commas_is_found() {
    let disk = logged(&[
        "start J1 the_\"old\",pump motor",
        "main J1 the_\"old\",pump 2.31 pass within",
        "end J1 the_\"old\",pump",
    ]);
    let found = last(&disk, &dir(), "the \"old\",pump", MeasuredAt::Motor);
    assert_eq!(words(found), "J1: main 2.31");
    assert_eq!(last(&disk, &dir(), "", MeasuredAt::Motor), None);
}

#[test]
fn u_is_the_rows_without_the_temperatures_part() {
    // At 20 °C known: ± 2 K are 2·2/√3/254.5 = 0.907 % of 10 Ω, 0.0907. With
    // 0.05 of the meter the row says √(0.0907² + 0.05²) = 0.1036.
    let u = |lines: &[&str]| {
        let found = last(&logged(lines), &dir(), "pump 3", MeasuredAt::Motor).expect("a baseline");
        assert_eq!(found.values[0].point.test, Test::Winding);
        found.values[0].u.to_f64()
    };
    let proven = "leads J1 pump_3 0.1 pass within";
    let known = u(&[
        "start J1 pump_3 motor 20",
        proven,
        "main J1 pump_3 10.00 pass within u=0.1036",
        "end J1 pump_3",
    ]);
    assert!((known - 0.05).abs() < 0.001, "{known}");
    // Without a row's own U: 1 % and two counts, and 1 Ω of leads nobody proved.
    let unknown = u(&[
        "start J1 pump_3 motor",
        proven,
        "main J1 pump_3 10.00 not_judged",
        "end J1 pump_3",
    ]);
    assert!((unknown - 0.12).abs() < 1e-9, "{unknown}");
    let leads_in = u(&[
        "start J1 pump_3 motor",
        "main J1 pump_3 10.00 not_judged",
        "end J1 pump_3",
    ]);
    assert!((leads_in - 1.12).abs() < 1e-9, "{leads_in}");
}

#[test]
fn a_temperature_read_in_the_job_goes_before_the_one_it_began_with() {
    let lines = [
        "start J1 pump_3 motor 20",
        "main J1 pump_3 2.31 pass within",
        "warm J1 pump_3 35.5",
        "start_winding J1 pump_3 5.5 pass within",
        "end J1 pump_3",
    ];
    let temperatures = |lines: &[&str]| {
        let found = last(&logged(lines), &dir(), "pump 3", MeasuredAt::Motor).expect("a baseline");
        let of = found.values.iter().map(|was| was.temperature.map(|t| t.0));
        of.collect::<Vec<_>>()
    };
    assert_eq!(temperatures(&lines), [Some(20.0), Some(35.5)]);
    let withdrawn = [&lines[..], &["back 3"]].concat();
    assert_eq!(temperatures(&withdrawn), [Some(20.0), Some(20.0)]);
}

#[test]
fn a_log_that_cannot_be_read_gives_nothing() {
    let disk = logged(&[
        "start J1 pump_3 motor",
        "main J1 pump_3 2.31 pass within",
        "end J1 pump_3",
    ]);
    disk.unreadable(&dir().join("readings-2026-03.csv"));
    assert_eq!(last(&disk, &dir(), "pump 3", MeasuredAt::Motor), None);
}
