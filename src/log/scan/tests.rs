//! The same answer from pieces of any size as from rows read one by one.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::sync::atomic::AtomicU64;

use proptest::prelude::*;

use super::*;
use crate::log::cells;
use crate::log::jobs::written;
use crate::row::{Event, Finding, Recorded, Row, Verdict};
use crate::stamp::Wall;

const MONTH: i64 = 31 * 86_400_000_000_000;

type Values = BTreeSet<(u64, String, String)>;

/// Number, asset and verdict of each row, and how often it was given more than
/// taken back.
#[derive(Default)]
struct Given(BTreeMap<(u64, String, String), i64>);

impl Given {
    fn values(&self) -> Values {
        assert!(self.0.values().all(|times| matches!(times, 0 | 1)));
        let given = self.0.iter().filter(|(_, times)| **times == 1);
        given.map(|(value, _)| value.clone()).collect()
    }
}

fn value(line: &Line<'_>) -> (u64, String, String) {
    let cell = |at| String::from_utf8(plain(line.cell(at)).into_owned()).expect("UTF-8");
    let verdict = format!("{} {}", cell(column::VERDICT), cell(column::FINDING));
    (line.seq, cell(column::ASSET), verdict)
}

impl Gather for Given {
    fn last_column(&self) -> usize {
        column::FINDING
    }

    fn wants(&self, event: &[u8]) -> bool {
        matches!(event, b"value" | b"judged")
    }

    fn row(&mut self, line: &Line<'_>) {
        *self.0.entry(value(line)).or_default() += 1;
    }

    fn take_back(&mut self, line: &Line<'_>) {
        *self.0.entry(value(line)).or_default() -= 1;
    }

    fn merge(&mut self, other: Self) {
        for (value, times) in other.0 {
            *self.0.entry(value).or_default() += times;
        }
    }
}

fn given(dir: &Path, size: u64) -> (Values, Seen) {
    let scan = Scan::cut(dir, size).expect("lists");
    let (given, seen) = scan
        .gather(&AtomicU64::new(0), Given::default)
        .expect("reads");
    (given.values(), seen)
}

/// Rows in words: `v:NAME` a value of an asset, `w:N` takes row N back,
/// `j:N` judges row N at the same point, `o:N` at another, `m` a new month.
fn rows(words: &[String]) -> Vec<Row> {
    let mut at = 0;
    let mut rows = Vec::new();
    for word in words {
        let (kind, rest) = word.split_once(':').unwrap_or((word, ""));
        at += 1_000_000;
        let mut row = match kind {
            "m" => {
                at += MONTH;
                Row::new(Event::Note, Wall(at))
            }
            "w" => Row::new(Event::Withdrawn, Wall(at)),
            "j" | "o" => Row::new(Event::Judged, Wall(at)),
            _ => Row::new(Event::Value, Wall(at)),
        };
        row.of_seq = (kind != "v").then(|| rest.parse().ok()).flatten();
        row.verdict = Some(Verdict::Fail);
        row.finding = Some([Finding::Low, Finding::High, Finding::Open][rows.len() % 3]);
        row.test = String::from("winding");
        row.point = String::from(if kind == "o" { "T1-T2, T3" } else { "T1-T2" });
        row.asset = rest.to_owned();
        row.note = format!(
            "says 1970-01-01T00:00:00.000Z,withdrawn,1, 7,1970-01-01T00:00:00.000Z,judged,1, and \"{rest}\""
        );
        rows.push(row);
    }
    rows
}

fn word() -> impl Strategy<Value = String> {
    prop_oneof![
        6 => "v:[a-z,\"µ]{0,40}",
        2 => (1_u64..60).prop_map(|seq| format!("w:{seq}")),
        3 => (1_u64..60).prop_map(|seq| format!("j:{seq}")),
        1 => (1_u64..60).prop_map(|seq| format!("o:{seq}")),
        1 => Just(String::from("m")),
    ]
}

/// What counts, looked up row by row as the module's words have it.
fn counting(rows: &[Row]) -> Values {
    let at = |seq: u64| rows.get(usize::try_from(seq).expect("small").checked_sub(1)?);
    let named = |row: &Row| {
        (row.event == Event::Withdrawn)
            .then_some(row.of_seq)
            .flatten()
    };
    let withdrawn: BTreeSet<u64> = rows.iter().filter_map(named).collect();
    let judges = |by: u64| {
        let row = at(by).filter(|row| row.event == Event::Judged && !withdrawn.contains(&by))?;
        let of = row.of_seq.filter(|of| *of < by)?;
        at(of)
            .filter(|of| (&of.test, &of.point) == (&row.test, &row.point))
            .and(Some(of))
    };
    let all = 1..=rows.len() as u64;
    let values = all.clone().filter(|seq| {
        let event = at(*seq).map(|row| row.event);
        matches!(event, Some(Event::Value | Event::Judged))
            && !withdrawn.contains(seq)
            && judges(*seq).is_none()
    });
    values
        .map(|seq| {
            let mut stands = seq;
            while let Some(by) = all.clone().rev().find(|by| judges(*by) == Some(stands)) {
                stands = by;
            }
            let verdict = at(stands).and_then(|row| Some((row.verdict?, row.finding?)));
            let (verdict, finding) = verdict.expect("a verdict");
            let asset = at(seq).expect("a row").asset.clone();
            (seq, asset, format!("{} {}", verdict.word(), finding.word()))
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]
    #[test]
    fn pieces_of_any_size_give_the_rows_that_count(
        words in proptest::collection::vec(word(), 1..60),
        size in 1_u64..3000,
    ) {
        let dir = tempfile::tempdir().expect("a folder");
        let rows = rows(&words);
        let wanted = counting(&rows);
        let all = rows.len() as u64;
        drop(written(dir.path(), rows));
        let (found, seen) = given(dir.path(), size);
        prop_assert_eq!(found, wanted);
        prop_assert_eq!((seen.rows, seen.odd), (all, 0));
    }
}

#[track_caller]
fn check(change: impl Fn(&mut String), expected: &[u64], odd: u64, first: Option<u64>) {
    let dir = tempfile::tempdir().expect("a folder");
    drop(written(
        dir.path(),
        rows(&["v:a", "v:b", "v:c", "v:d"].map(String::from)),
    ));
    let path = dir.path().join("readings-1970-01.csv");
    let mut text = fs::read_to_string(&path).expect("a file");
    change(&mut text);
    fs::write(&path, text).expect("written");
    for size in [7, 100, 1 << 20] {
        let (rows, seen) = given(dir.path(), size);
        let found: Vec<u64> = rows.into_iter().map(|(seq, ..)| seq).collect();
        assert_eq!(found, expected, "pieces of {size}");
        assert_eq!(
            (seen.odd, seen.first_odd.map(|(_, seq)| seq)),
            (odd, first),
            "pieces of {size}"
        );
    }
}

fn line(text: &str, number: usize) -> String {
    text.split_inclusive('\n')
        .nth(number)
        .expect("a line")
        .to_owned()
}

#[test]
fn what_is_no_row_is_counted_and_the_rest_is_read() {
    check(|_| (), &[1, 2, 3, 4], 0, None);
    // A row that a crash cut short is no row and no fault.
    check(|text| text.truncate(text.len() - 9), &[1, 2, 3], 0, None);
    check(
        |text| *text = text.replace(&line(text, 2), ""),
        &[1, 3, 4],
        1,
        Some(2),
    );
}

#[test]
fn a_reader_of_whole_rows_agrees_about_a_line() {
    let dir = tempfile::tempdir().expect("a folder");
    drop(written(dir.path(), rows(&["v:pump, \"east\"".to_owned()])));
    let text = fs::read_to_string(dir.path().join("readings-1970-01.csv")).expect("a file");
    let recorded: Recorded = cells::recorded(line(&text, 1).as_bytes()).expect("a row");
    let (found, _) = given(dir.path(), 50);
    assert_eq!(
        found
            .into_iter()
            .map(|(seq, asset, _)| (seq, asset))
            .collect::<Vec<_>>(),
        [(1, recorded.row.asset)]
    );
}

fn beside(dir: &Path, last: Option<u64>, stopped: bool) -> io::Result<BTreeSet<u64>> {
    let beside = Beside {
        last,
        stop: Arc::new(AtomicBool::new(stopped)),
    };
    let scan = Scan::cut(dir, 300).expect("lists").beside(beside);
    let (given, _) = scan.gather(&AtomicU64::new(0), Given::default)?;
    Ok(given.values().into_iter().map(|(seq, ..)| seq).collect())
}

#[test]
fn rows_behind_the_last_that_counts_are_not_there_and_withdraw_nothing() {
    let dir = tempfile::tempdir().expect("a folder");
    let mut back = Row::new(Event::Withdrawn, Wall(MONTH));
    back.of_seq = Some(2);
    let value = || Row::new(Event::Value, Wall(MONTH));
    drop(written(dir.path(), vec![value(), value(), back, value()]));
    for (last, expected) in [
        (None, vec![1, 4]),
        (Some(4), vec![1, 4]),
        (Some(3), vec![1]),
        (Some(2), vec![1, 2]),
        (Some(1), vec![1]),
    ] {
        let found = beside(dir.path(), last, false).expect("reads");
        assert_eq!(found, BTreeSet::from_iter(expected), "{last:?}");
    }
}

#[test]
fn who_is_told_to_stop_reads_no_further() {
    let dir = tempfile::tempdir().expect("a folder");
    drop(written(dir.path(), vec![Row::new(Event::Value, Wall(0))]));
    let stopped = beside(dir.path(), None, true).expect_err("stopped");
    assert_eq!(stopped.kind(), io::ErrorKind::Interrupted);
}
