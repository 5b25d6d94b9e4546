//! Crashes of the log alone: every cut, zeros, half batches, the n-th failure.

use std::path::PathBuf;

use proptest::prelude::*;

use super::files::header;
use super::open::OpenedLog;
use super::{Log, LogError};
use crate::disk::Disk as _;
use crate::disk::double::{Crash, Double, Fate};
use crate::row::{Event, Recorded, Row, Verdict};
use crate::stamp::Wall;

const NOVEMBER: i64 = 1_764_074_645_123_000_000;
const DAY: i64 = 86_400_000_000_000;

pub(super) fn dir() -> PathBuf {
    PathBuf::from("data/log")
}

pub(super) fn file() -> PathBuf {
    dir().join("readings-2025-11.csv")
}

pub(super) fn row(words: &str) -> Row {
    let mut row = Row::new(Event::Note, Wall(NOVEMBER));
    row.note = words.to_owned();
    row
}

pub(super) fn open(disk: &Double) -> (Log<Double>, OpenedLog) {
    Log::open(&dir(), disk.clone()).expect("opens")
}

/// A log of these notes, one batch, synced.
pub(super) fn logged(notes: &[&str]) -> (Double, Vec<Recorded>) {
    let disk = Double::default();
    let (mut log, _) = open(&disk);
    let recorded = log
        .append(notes.iter().map(|n| row(n)).collect())
        .expect("written");
    log.sync().expect("synced");
    (disk, recorded)
}

/// Every row of the log, read as a user of the files would, each chained to the one before.
pub(super) fn read(disk: &Double) -> Vec<Recorded> {
    let mut rows = Vec::new();
    let mut chain = super::chain::Chain::START;
    for name in super::files::FileName::list(disk, &dir()).expect("lists") {
        let bytes = disk.bytes(&dir().join(name.to_string())).expect("there");
        if bytes.is_empty() {
            // Created just before the crash: the header comes with the next row.
            continue;
        }
        let body = bytes.strip_prefix(header().as_bytes()).expect("the header");
        let mut at = 0;
        while at < body.len() {
            let (end, next) = super::chain::holding(body, at, &chain).expect("a row that holds");
            rows.push(super::cells::recorded(&body[at..end]).expect("a row"));
            (at, chain) = (end, next);
        }
    }
    for (n, row) in rows.iter().enumerate() {
        assert_eq!(row.seq, n as u64 + 1, "no hole and no repeat");
    }
    rows
}

/// After a crash: everything acknowledged is there, the log goes on, and a
/// second start finds nothing to repair.
fn goes_on(disk: &Double, acknowledged: &[Recorded]) -> OpenedLog {
    let (mut log, opened) = open(disk);
    let there = read(disk);
    assert!(
        there.len() >= acknowledged.len(),
        "acknowledged rows are missing"
    );
    assert_eq!(there[..acknowledged.len()], *acknowledged);
    assert_eq!(opened.next_seq, there.len() as u64 + 1);
    log.append(vec![row("after")]).expect("written");
    log.sync().expect("synced");
    assert_eq!(read(disk).len(), there.len() + 1);
    let (_, again) = open(disk);
    assert_eq!(again.repaired, Vec::<String>::new());
    opened
}

pub(super) const NOTES: [&str; 4] = [
    "short",
    "a \"quoted\"\ncell, with a break",
    "00000000000000000000000000000000\n",
    "last",
];

#[test]
fn a_new_log_begins_with_its_header_and_row_1() {
    let (disk, recorded) = logged(&["one"]);
    let text = String::from_utf8(disk.bytes(&file()).expect("there")).expect("text");
    let line = text.strip_prefix(&header()).expect("the header first");
    assert!(
        line.starts_with("1,2025-11-25T12:44:05.123Z,note,,"),
        "{line}"
    );
    assert!(
        line.ends_with(&format!(",one,{}\n", recorded[0].chain)),
        "{line}"
    );
    assert_eq!(read(&disk), recorded);
}

#[test]
fn a_tail_cut_at_any_byte_loses_only_what_is_cut() {
    let (whole, recorded) = logged(&NOTES);
    let bytes = whole.bytes(&file()).expect("there");
    for cut in 0..=bytes.len() {
        for zeros in [0, 1, 5000] {
            let disk = Double::default();
            let mut torn = bytes[..cut].to_vec();
            torn.resize(cut + zeros, 0);
            disk.put(&file(), &torn);
            let kept = recorded
                .iter()
                .take_while(|r| ends_within(&bytes, r, cut))
                .count();
            let opened = goes_on(&disk, &recorded[..kept]);
            assert_eq!(
                opened.next_seq,
                kept as u64 + 1,
                "cut at {cut}, {zeros} zeros"
            );
        }
    }
}

fn ends_within(bytes: &[u8], recorded: &Recorded, cut: usize) -> bool {
    let end = format!(",{}\n", recorded.chain);
    bytes[..cut].windows(end.len()).any(|w| w == end.as_bytes())
}

#[test]
fn a_batch_of_which_only_a_later_part_reached_the_disk_is_moved_aside_whole() {
    let (disk, first) = logged(&["kept"]);
    let (mut log, _) = open(&disk);
    log.append(NOTES.iter().map(|n| row(n)).collect())
        .expect("written");
    for hole in [1, 40, 300, 500] {
        let after = disk.crashed(Crash::Hole(hole));
        let opened = goes_on(&after, &first);
        assert_eq!(opened.next_seq, 2);
        assert!(
            opened.repaired[0].contains("after row 1 were not a whole row"),
            "{:?}",
            opened.repaired
        );
        let names = after.list(&dir().join("torn")).expect("lists");
        assert_eq!(names.len(), 1, "what was cut is kept");
    }
}

#[test]
fn a_kill_at_any_step_of_the_repair_repeats_it() {
    let (whole, recorded) = logged(&NOTES);
    let mut bytes = whole.bytes(&file()).expect("there");
    bytes.extend(b"5,2025-11-25T12:4");
    for step in 1.. {
        let disk = Double::default();
        disk.put(&file(), &bytes);
        disk.writes_half();
        disk.fated(Fate::Die(step));
        let died = Log::open(&dir(), disk.clone()).is_err();
        for crash in [
            Crash::KeepAll,
            Crash::Keep(0),
            Crash::Keep(7),
            Crash::Zeros(7),
        ] {
            let after = disk.crashed(crash);
            goes_on(&after, &recorded);
            let torn = dir().join("torn");
            let kept = after.list(&torn).expect("lists");
            let copies = kept.iter().filter_map(|n| after.bytes(&torn.join(n)));
            assert!(
                copies.into_iter().any(|c| c == b"5,2025-11-25T12:4"),
                "step {step}: {kept:?}"
            );
        }
        if !died {
            assert!(step > 4, "a repair takes several steps");
            return;
        }
    }
}

#[test]
fn damage_larger_than_a_tail_is_left_as_it_is() {
    let (disk, _) = logged(&NOTES);
    let mut bytes = disk.bytes(&file()).expect("there");
    bytes.resize(bytes.len() + 2 * 1024 * 1024, b'x');
    disk.put(&file(), &bytes);
    let (mut log, opened) = open(&disk);
    assert_eq!(opened.next_seq, 5);
    assert!(
        opened.repaired[0].contains("it was left as it is"),
        "{:?}",
        opened.repaired
    );
    let recorded = log.append(vec![row("on")]).expect("written");
    log.sync().expect("synced");
    assert_eq!(recorded[0].seq, 5);
    assert_eq!(disk.bytes(&file()), Some(bytes));
    let next = disk
        .bytes(&dir().join("readings-2025-11-2.csv"))
        .expect("a new file");
    assert!(next.starts_with(header().as_bytes()));
    let (_, opened) = open(&disk);
    assert_eq!((opened.next_seq, opened.repaired.len()), (6, 0));
}

#[test]
fn a_file_that_a_spreadsheet_saved_is_left_as_it_is() {
    let (disk, _) = logged(&NOTES);
    let text = String::from_utf8(disk.bytes(&file()).expect("there")).expect("text");
    let saved = format!("\u{feff}{}", text.replace('\n', "\r\n"));
    disk.put(&file(), saved.as_bytes());
    let (_, opened) = open(&disk);
    assert!(
        opened.repaired[0].contains("first line"),
        "{:?}",
        opened.repaired
    );
    assert_eq!(opened.next_seq, 5);
    assert_eq!(disk.bytes(&file()).as_deref(), Some(saved.as_bytes()));
}

#[test]
fn a_read_error_is_not_a_torn_tail() {
    let (disk, recorded) = logged(&NOTES);
    disk.unreadable(&file());
    assert!(matches!(
        Log::open(&dir(), disk.clone()),
        Err(LogError::Io { .. })
    ));
    assert_eq!(
        goes_on(&disk.crashed(Crash::KeepAll), &recorded)
            .repaired
            .len(),
        0
    );
}

#[test]
fn a_later_month_begins_a_file_and_no_month_is_gone_back_to() {
    let disk = Double::default();
    let (mut log, _) = open(&disk);
    let mut rows = ["november", "december", "the clock went back"].map(row);
    rows[1].recorded_at = Wall(NOVEMBER + 10 * DAY);
    log.append(rows.to_vec()).expect("written");
    log.sync().expect("synced");
    let december = disk
        .bytes(&dir().join("readings-2025-12.csv"))
        .expect("there");
    assert!(String::from_utf8_lossy(&december).contains("the clock went back"));
    assert_eq!(read(&disk).len(), 3);
    let (mut log, opened) = open(&disk);
    assert_eq!(opened.last_month.as_deref(), Some("2025-12"));
    log.append(vec![row("still back")]).expect("written");
    log.sync().expect("synced");
    assert_eq!(read(&disk).len(), 4);
    assert_eq!(disk.list(&dir()).expect("lists").len(), 2);
}

#[test]
fn a_crash_at_any_step_over_the_turn_of_a_month_leaves_a_log_that_goes_on() {
    for step in 1..40 {
        for crash in [
            Crash::KeepAll,
            Crash::Keep(0),
            Crash::Keep(30),
            Crash::Zeros(30),
        ] {
            let disk = Double::default();
            disk.writes_half();
            disk.fated(Fate::Die(step));
            let mut acknowledged = Vec::new();
            if let Ok((mut log, _)) = Log::open(&dir(), disk.clone()) {
                for day in 0..6 {
                    let mut late = row("a row");
                    late.recorded_at = Wall(NOVEMBER + day * 3 * DAY);
                    let Ok(recorded) = log.append(vec![late.clone(), late]) else {
                        break;
                    };
                    if log.sync().is_err() {
                        break;
                    }
                    acknowledged.extend(recorded);
                }
            }
            goes_on(&disk.crashed(crash), &acknowledged);
        }
    }
}

#[test]
fn the_nth_write_or_sync_that_fails_stops_the_log_for_good() {
    for n in 1..30 {
        let disk = Double::default();
        disk.writes_half();
        disk.fated(Fate::Fail(n));
        let Ok((mut log, _)) = Log::open(&dir(), disk.clone()) else {
            continue;
        };
        let mut acknowledged = Vec::new();
        let mut failed = false;
        for batch in 0..8 {
            let took = log
                .append(vec![row("one"), row("two")])
                .and_then(|recorded| {
                    log.sync()?;
                    Ok(recorded)
                });
            match took {
                Ok(recorded) => {
                    assert!(!failed, "batch {batch} after a failure");
                    acknowledged.extend(recorded);
                }
                Err(LogError::Broken { .. }) => assert!(failed, "broken before anything failed"),
                Err(LogError::Io { .. }) => failed = true,
            }
        }
        for crash in [Crash::KeepAll, Crash::Keep(0), Crash::Zeros(100)] {
            goes_on(&disk.crashed(crash), &acknowledged);
        }
    }
}

#[test]
fn jobs_without_an_end_and_the_log_id_are_found_again() {
    let disk = Double::default();
    let (mut log, _) = open(&disk);
    let of = |event, job: &str| {
        let mut row = Row::new(event, Wall(NOVEMBER));
        row.job = job.to_owned();
        row.bench = String::from("bench, \"east\"");
        row
    };
    let mut start = Row::new(Event::RunStart, Wall(NOVEMBER));
    start.note = String::from(r#"{"version":"0.1.0","engine":1,"log":"abc"}"#);
    start.capture = String::from("first.pcapng");
    let rows = vec![
        start,
        of(Event::JobStart, "J1"),
        of(Event::JobStart, "J2, again"),
        of(Event::Value, "J1"),
        of(Event::Value, "J2, again"),
        of(Event::JobEnd, "J1"),
        of(Event::Note, "J1"),
        of(Event::Value, ""),
    ];
    let recorded = log.append(rows).expect("written");
    log.sync().expect("synced");
    let (_, opened) = open(&disk);
    let unfinished: Vec<_> = opened
        .unfinished
        .iter()
        .map(|l| Recorded::from_line(l).expect("a row"))
        .collect();
    assert_eq!(unfinished, [recorded[2].clone(), recorded[4].clone()]);
    assert_eq!(opened.log_id.as_deref(), Some("abc"));
    assert_eq!(opened.last_capture.as_deref(), Some("first.pcapng"));
}

#[test]
fn checks_of_meters_that_still_count_are_found_again_however_long_ago() {
    let disk = Double::default();
    let (mut log, _) = open(&disk);
    let of = |meter: &str, ohms: u32, number: u8, of: u8, verdict: Verdict| {
        let mut row = Row::new(Event::Proved, Wall(NOVEMBER));
        row.meter = meter.to_owned();
        row.verdict = Some(verdict);
        row.judged_ohms = format!("{ohms}").parse().ok();
        row.note =
            format!(r#"{{"known_ohms":"{ohms}","percent":"1","number":{number},"of":{of}}}"#);
        row
    };
    let rows = vec![
        of("ohms-1", 100, 1, 1, Verdict::Pass),
        of("ohms-1", 10_000, 1, 2, Verdict::Fail),
        of("ohms-1", 100, 2, 2, Verdict::Pass),
        of("mega-1", 1_000_000, 1, 1, Verdict::Fail),
        of("mega-1", 1_000_000, 1, 1, Verdict::Pass),
        of("ohms-1", 100, 1, 1, Verdict::Pass),
    ];
    let mut written = log.append(rows).expect("written");
    log.sync().expect("synced");
    drop(log);
    // Three more months of other rows: three more files.
    for month in 1..4 {
        let (mut log, _) = open(&disk);
        let mut row = row("words that say ,proved, and are none");
        row.recorded_at = Wall(NOVEMBER + month * 31 * 86_400 * 1_000_000_000);
        written.extend(log.append(vec![row]).expect("written"));
        log.sync().expect("synced");
    }
    let (_, opened) = open(&disk);
    let proved: Vec<u64> = opened
        .proved
        .iter()
        .map(|l| Recorded::from_line(l).expect("a row").seq)
        .collect();
    // What failed at 10 kΩ, which 100 Ω does not make up for; the last checks.
    assert_eq!(proved, [2, 5, 6]);
}

#[test]
fn a_job_that_began_more_than_a_read_ago_is_found_again() {
    let disk = Double::default();
    let (mut log, _) = open(&disk);
    let of = |event, job: &str| {
        let mut row = row(&"so\n".repeat(1300));
        (row.event, row.job) = (event, job.to_owned());
        row
    };
    let mut rows = vec![of(Event::JobStart, "J1")];
    rows.extend((0..800).map(|n| of(Event::Note, if n % 2 == 0 { "J1" } else { "" })));
    let written = log.append(rows).expect("written");
    log.sync().expect("synced");
    let (_, opened) = open(&disk);
    let expected: Vec<_> = written.iter().filter(|r| r.row.job == "J1").collect();
    assert_eq!(expected.len(), 401);
    let unfinished = opened.unfinished.iter();
    let unfinished: Vec<_> = unfinished
        .map(|l| Recorded::from_line(l).expect("a row"))
        .collect();
    assert!(unfinished.iter().eq(expected));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn whatever_crashes_in_a_row_nothing_acknowledged_is_lost(runs in prop::collection::vec((1u64..12, 0usize..900, 0u8..4, prop::collection::vec("[a-z\",\n]{0,12}", 1..5)), 1..6)) {
        let mut disk = Double::default();
        let mut acknowledged: Vec<Recorded> = Vec::new();
        for (die, kept, crash, notes) in runs {
            disk.writes_half();
            disk.fated(Fate::Die(die));
            if let Ok((mut log, _)) = Log::open(&dir(), disk.clone()) {
                for note in &notes {
                    let Ok(recorded) = log.append(vec![row(note), row(note)]) else { break };
                    if log.sync().is_err() { break }
                    let new = recorded.into_iter().filter(|r| r.seq > acknowledged.len() as u64);
                    acknowledged.extend(new.collect::<Vec<_>>());
                }
            }
            disk = disk.crashed(match crash {
                0 => Crash::KeepAll,
                1 => Crash::Keep(kept),
                2 => Crash::Zeros(kept),
                _ => Crash::Hole(kept),
            });
            let (_, _) = open(&disk);
            let there = read(&disk);
            prop_assert!(there.len() >= acknowledged.len());
            prop_assert_eq!(&there[..acknowledged.len()], &acknowledged[..]);
            // What survived without being acknowledged is in the log all the same.
            acknowledged = there;
        }
    }
}

#[test]
fn many_rows_without_a_capture_hide_neither_the_log_id_nor_the_last_capture() {
    for begins_with_run in [true, false] {
        let disk = Double::default();
        let (mut log, _) = open(&disk);
        let mut start = Row::new(Event::RunStart, Wall(NOVEMBER));
        start.note = String::from(r#"{"version":"0.1.0","engine":1,"log":"abc"}"#);
        start.capture = String::from("first.pcapng");
        let words = "x".repeat(4000);
        let mut rows: Vec<Row> = (0..400).map(|_| row(&words)).collect();
        rows.insert(if begins_with_run { 0 } else { 400 }, start);
        // Two later months hold no run either.
        for months in 1..=2 {
            let mut late = row("late");
            late.recorded_at = Wall(NOVEMBER + months * 31 * DAY);
            rows.push(late);
        }
        log.append(rows).expect("written");
        log.sync().expect("synced");
        let (_, opened) = open(&disk);
        assert_eq!(opened.log_id.as_deref(), Some("abc"));
        assert_eq!(opened.last_capture.as_deref(), Some("first.pcapng"));
    }
}
