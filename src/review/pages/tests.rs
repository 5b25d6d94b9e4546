//! A log in, what pages are told out.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use super::*;
use crate::log::jobs::written;
use crate::row::{Event, Row, Verdict};
use crate::stamp::Wall;

/// 2026-03-01T00:00:00Z.
const MARCH: i64 = 1_772_323_200_000_000_000;
const DAY: i64 = 86_400_000_000_000;

/// `start`, `value DAY MODEL TEST POINT OHMS VERDICT [CELSIUS]`, `over` and
/// `judged` likewise, `back SEQ`; limits are 2 to 3 ohms, of insulation at
/// least 100 Mohm. All are of the job J1 and the asset `pump 3`.
fn row(line: &str) -> Row {
    let said: Vec<&str> = line.split(' ').collect();
    let event = match said[0] {
        "start" => Event::JobStart,
        "over" => Event::OverRange,
        "judged" => Event::Judged,
        "back" => Event::Withdrawn,
        _ => Event::Value,
    };
    let number = |at: usize| said.get(at).and_then(|word| word.parse().ok());
    let day: i64 = said.get(1).and_then(|day| day.parse().ok()).unwrap_or(0);
    let mut row = Row::new(event, Wall(MARCH + day * DAY));
    match event {
        Event::JobStart => row.note = String::from("{\"stage\":\"after_repair\"}"),
        Event::Withdrawn => {
            row.recorded_at = Wall(MARCH);
            row.of_seq = said[1].parse().ok();
            return row;
        }
        _ => {
            (row.motor, row.test, row.point) = (said[2].into(), said[3].into(), said[4].into());
            row.verdict = Verdict::from_word(said[6]);
            row.temperature_c = number(7);
            (row.lower_ohms, row.upper_ohms) = match said[3] {
                "insulation" => ("100000000".parse().ok(), None),
                _ => ("2".parse().ok(), "3".parse().ok()),
            };
            if event != Event::OverRange {
                (row.value_ohms, row.judged_ohms) = (number(5), number(5));
            }
        }
    }
    (row.job, row.asset) = (String::from("J1"), String::from("pump 3"));
    row
}

fn log(dir: &Path, lines: &[&str]) -> Questions {
    let rows = lines.iter().map(|line| row(line)).collect();
    drop(written(dir, rows));
    Questions::new(dir.to_owned())
}

fn beside(last: Option<u64>) -> Beside {
    Beside {
        last,
        stop: Arc::new(AtomicBool::new(false)),
    }
}

/// `model=A&test=winding`.
fn which(said: &str) -> Which {
    let mut which = Which::default();
    for (key, value) in said.split('&').filter_map(|pair| pair.split_once('=')) {
        value.clone_into(which.field(key).expect("a field"));
    }
    which
}

const LINES: [&str; 10] = [
    "start",
    "value 0 A winding main 2.5 pass",
    "value 1 A winding main 3.5 fail",
    "value 2 A winding main 2.6 pass",
    "value 35 A winding main 1.5 fail",
    "back 3",
    "value 36 B winding main 2.7 undecided",
    "judged 36 B winding main 2.7 fail",
    "value 37 A winding main 2.4 not_judged",
    "value 38 A ground all_to_ground 2.4 pass",
];

#[track_caller]
fn counts(said: &str, last: Option<u64>, by: &[By], expected: &[&str]) {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(dir.path(), &LINES);
    let found = log.counts(&which(said), by, &beside(last)).expect("reads");
    assert_eq!(found.odd, None);
    let told: Vec<String> = found
        .of
        .iter()
        .map(|c| {
            format!(
                "{}: {} {} {} {}",
                c.names.join(" "),
                c.pass,
                c.fail,
                c.undecided,
                c.not_judged
            )
        })
        .collect();
    assert_eq!(told, expected, "{said} up to {last:?}");
}

#[test]
fn verdicts_are_counted_by_group_without_what_was_withdrawn() {
    let by = [By::Model, By::Month];
    counts(
        "",
        None,
        &by,
        &[
            "A 2026-03: 2 0 0 0",
            "A 2026-04: 1 1 0 1",
            "B 2026-04: 0 1 1 0",
        ],
    );
    counts(
        "test=winding&since=2026-04",
        None,
        &[By::Model],
        &["A: 0 1 0 1", "B: 0 1 1 0"],
    );
    counts(
        "stage=after_repair&model=B",
        None,
        &[By::Stage],
        &["after_repair: 0 1 1 0"],
    );
    counts("stage=arrival", None, &[By::Stage], &[]);
}

#[test]
fn rows_that_are_not_acknowledged_do_not_count_and_take_nothing_back() {
    counts("model=A", Some(5), &[By::Model], &["A: 2 2 0 0"]);
    counts("model=A", Some(6), &[By::Model], &["A: 2 1 0 0"]);
    counts("", Some(1), &[By::Model], &[]);
}

#[track_caller]
fn lists(said: &str, before: Option<u64>, most: usize, expected: (&[u64], u64)) {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(dir.path(), &LINES);
    let found = log
        .rows(&which(said), before, most, &beside(None))
        .expect("reads");
    let seqs: Vec<u64> = found.of.rows.iter().map(|row| row.seq).collect();
    assert_eq!((seqs.as_slice(), found.of.older), expected, "{said}");
}

#[test]
fn the_rows_behind_a_number_are_as_many_as_it_says() {
    lists("verdict=fail", None, 9, (&[8, 5], 0));
    lists("model=A&test=winding", None, 2, (&[9, 5], 2));
    lists("model=A&test=winding", Some(5), 2, (&[4, 2], 0));
    lists("model=C", None, 2, (&[], 0));
}

#[test]
fn values_lie_against_the_limits_of_the_newest() {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(dir.path(), &LINES);
    let of = which("model=A&test=winding&point=main");
    let lie = log
        .lie(&of, &beside(None))
        .expect("reads")
        .of
        .expect("values");
    // 2.5, 2.6, 1.5, 2.4: by hand.
    assert_eq!((lie.n, lie.against), (4, Some([1, 3, 0])));
    assert_eq!(lie.quarters[2], 2.45);
    assert_eq!((lie.limits, lie.log), ((Some(2.0), Some(3.0)), false));
    let drawn: usize = lie.bins.iter().map(|bin| bin.n).sum();
    assert_eq!(drawn + lie.beyond[0] + lie.beyond[1], 4);
    assert!(lie.bins[0].from < 2.0 && lie.bins.last().expect("bins").to > 3.0);
    let none = log.lie(&which("model=C&test=winding&point=main"), &beside(None));
    assert_eq!(none.expect("reads").of, None);
}

#[test]
fn a_chart_knows_the_rows_of_its_points_and_names_what_signals() {
    let dir = tempfile::tempdir().expect("a folder");
    let mut lines = vec![String::from("start")];
    for at in 0..20 {
        lines.push(format!("value {at} A winding main 2.{} pass", 4 + at % 2));
    }
    lines.push(String::from("value 21 A winding main 2.9 pass"));
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    let log = log(dir.path(), &lines);
    let of = which("model=A&test=winding&point=main");
    let chart = log
        .chart(&of, &beside(None))
        .expect("reads")
        .of
        .expect("values");
    let limits = chart.limits.expect("limits");
    // Twenty that go between 2.4 and 2.5: mean 2.45, ranges 0.1, sigma 0.1 / 1.128.
    assert!((limits.center - 2.45).abs() < 1e-9 && !limits.provisional);
    assert!((limits.upper - (2.45 + 0.3 / 1.128)).abs() < 1e-9);
    let last = chart.marks.last().expect("marks");
    assert_eq!(last.row, Some((22, Some(1))));
    let words: Vec<&str> = last.signals.iter().map(|rule| rule.word).collect();
    assert_eq!(words, ["beyond", "range"]);
    let before = &chart.marks[..20];
    assert!(before.iter().all(|mark| mark.signals.is_empty()));
}

#[test]
fn insulation_says_what_is_left_out_and_why_there_is_no_forecast() {
    let dir = tempfile::tempdir().expect("a folder");
    let lines = [
        "start",
        "value 0 A insulation all_to_ground 900000000 pass 40",
        "value 100 A insulation all_to_ground 800000000 pass",
        "over 200 A insulation all_to_ground - pass 40",
        "value 300 A insulation all_to_ground 700000000 pass 40",
        "value 300 A winding main 2.5 pass 40",
    ];
    let log = log(dir.path(), &lines);
    let years = log
        .years(&which("asset=pump 3"), &beside(None))
        .expect("reads")
        .of;
    let [point] = years.as_slice() else {
        panic!("{years:?}");
    };
    assert_eq!(point.point, "all_to_ground");
    assert_eq!((point.no_temperature, point.over_range), (1, 1));
    assert_eq!(point.minimum, Some(1e8));
    // At 40 °C nothing is corrected.
    let ohms: Vec<f64> = point.values.iter().map(|(_, ohms)| *ohms).collect();
    assert_eq!(ohms, [9e8, 7e8]);
    assert!(
        point.forecast.ends_with("it takes 6 values, there are 2"),
        "{}",
        point.forecast
    );
    let line = point.line.expect("a line");
    assert!(line.percent_a_year[0] < 0.0);
}

#[test]
fn a_date_is_held_to_be_one() {
    let log = Questions::new(PathBuf::from("nowhere"));
    assert_eq!(log.date("2026-03"), Ok(()));
    assert!(
        log.date("March")
            .expect_err("none")
            .contains("found \"March\"")
    );
}
