//! A run of batches, killed or failed at each step, started again, verified.

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicU64;

use bytes::Bytes;
use proptest::prelude::*;

use super::Committer;
use crate::capture::names::{before, new_run};
use crate::capture::{Writer, pcapng::Pcapng};
use crate::disk::double::{Crash, Double, Fate};
use crate::disk::{Disk, RealDisk};
use crate::input::{Begin, Finished, Input, SCHEMA, Settings, What};
use crate::log::Log;
use crate::meter::PortId;
use crate::review::verify::{Report, verify};
use crate::row::{Event, Recorded, Row};
use crate::stamp::{Stamp, Wall};
use crate::text::Text;

/// Whole milliseconds, since that is what the log keeps.
const WALL: Wall = Wall(1_764_074_645_123_000_000);
/// Rows in each batch of a run, after the one with `Begin`.
const BATCHES: [usize; 6] = [1, 0, 3, 1, 0, 2];

fn data() -> PathBuf {
    PathBuf::from("data")
}

fn row(event: Event, capture: &str, ordinal: u64) -> Row {
    let mut row = Row::new(event, WALL);
    row.capture = capture.to_owned();
    row.capture_offset = Some(ordinal);
    row
}

fn chunk(ordinal: u64) -> Input {
    let data = Bytes::from(format!("{ordinal}.5 OHM\r\n"));
    Input {
        at: Stamp::from_nanos(ordinal * 300_000_000),
        what: What::Bytes {
            port: PortId(0),
            data,
        },
    }
}

/// A run that begins, commits its batches and stops where the disk stops it.
/// Gives what was acknowledged.
fn run(disk: &Double, batches: &[usize], end: bool) -> Vec<Recorded> {
    let mut told = Vec::new();
    _ = try_run(disk, &data(), batches, end, &mut told);
    told
}

fn try_run<D: Disk>(
    disk: &D,
    data: &Path,
    batches: &[usize],
    end: bool,
    told: &mut Vec<Recorded>,
) -> Option<()> {
    let (log, opened) = Log::open(&data.join("log"), disk.clone()).ok()?;
    let captures = data.join("captures");
    let before = before(disk, &captures, opened.last_capture.as_deref()).ok()?;
    let name = new_run(disk, &captures, WALL).ok()?;
    let mut committer = Committer::new(log);
    committer.start_capture(Writer::create(disk.clone(), &captures, &name, WALL).ok()?);
    let mut rows = vec![row(Event::RunStart, &name, 0)];
    rows[0].note = String::from(r#"{"version":"0.1.0","engine":1,"log":"a log"}"#);
    if let Some(finished) = &before.finished {
        let mut ended = row(Event::CaptureEnd, &name, 0);
        ended.reason = finished.capture.to_string();
        ended.note = finished.sha256.to_string();
        rows.push(ended);
    }
    let begin = begin(&name, &committer, before.finished);
    told.extend(committer.commit(&[begin], &mut rows).ok()?.recorded);
    let mut ordinal = 1;
    let mut capture = name;
    for count in batches {
        let inputs = [chunk(ordinal), chunk(ordinal + 1)];
        let mut rows: Vec<Row> = (0..*count)
            .map(|n| row(Event::Value, &capture, ordinal + (n as u64).min(1)))
            .collect();
        ordinal += 2;
        let committed = committer.commit(&inputs, &mut rows).ok()?;
        told.extend(committed.recorded);
        if committed.capture_failed.is_some() {
            capture.clear();
            let mut gap = Row::new(Event::Gap, WALL);
            gap.reason = committed.capture_failed.unwrap_or_default();
            told.extend(committer.commit(&[], &mut vec![gap]).ok()?.recorded);
        }
    }
    if end {
        let input = Input {
            at: Stamp::from_nanos(1 << 40),
            what: What::End {
                why: Text::default(),
            },
        };
        let mut rows = vec![row(Event::RunEnd, &capture, ordinal)];
        told.extend(committer.commit(&[input], &mut rows).ok()?.recorded);
    }
    committer.close().ok().map(|_| ())
}

fn begin<D: Disk>(name: &str, committer: &Committer<D>, before: Option<Finished>) -> Input {
    let begin = Begin {
        schema: SCHEMA,
        engine: 1,
        version: Text::clean("0.1.0"),
        wall: WALL,
        continues: false,
        next_seq: committer.log().next_seq(),
        chain: Text::clean(committer.log().chain()),
        capture: Text::clean(name),
        before,
        log_id: Text::clean("a log"),
        repaired: Vec::new(),
        unfinished: Vec::new(),
        proved: Vec::new(),
        settings: Settings::default(),
    };
    Input {
        at: Stamp::ZERO,
        what: What::Begin(Box::new(begin)),
    }
}

fn report(disk: &Double) -> Report {
    verify(disk, &data(), &[], &AtomicU64::new(0)).expect("reads")
}

/// The rows of the log, from the files alone.
fn logged(disk: &Double) -> Vec<Recorded> {
    let mut rows = Vec::new();
    let done = AtomicU64::new(0);
    crate::log::verify::verify(disk, &data().join("log"), &[], &done, &mut |told| {
        rows.push(told.recorded().expect("a row"));
    })
    .expect("reads");
    rows
}

/// Everything told is there, verify is content, and so it is after two further runs.
fn holds(disk: &Double, told: &[Recorded], case: &str) {
    let there = logged(disk);
    assert!(
        there.len() >= told.len(),
        "{case}: {} told, {} there",
        told.len(),
        there.len()
    );
    assert_eq!(there[..told.len()], *told, "{case}");
    let found = report(disk);
    assert!(found.ok, "{case}: {:#?}", found.lines());
    let mut all = there;
    for again in 0..2 {
        all.extend(run(disk, &[1], again == 1));
        assert_eq!(logged(disk), all, "{case}: nothing is told twice or lost");
        let found = report(disk);
        assert!(found.ok, "{case}, run {again} after: {:#?}", found.lines());
    }
}

const CRASHES: [Crash; 6] = [
    Crash::KeepAll,
    Crash::Keep(0),
    Crash::Keep(77),
    Crash::Keep(10_000),
    Crash::Zeros(0),
    Crash::Zeros(77),
];

#[test]
fn a_kill_at_any_step_loses_nothing_that_was_told() {
    for half in [false, true] {
        let mut lost_evidence = 0;
        for step in 1.. {
            let disk = Double::default();
            if half {
                disk.writes_half();
            }
            disk.fated(Fate::Die(step));
            let told = run(&disk, &BATCHES, true);
            for crash in CRASHES {
                let after = disk.crashed(crash);
                let lines = report(&after).lines();
                lost_evidence += lines.iter().filter(|l| l.contains("evidence lost")).count();
                holds(
                    &after,
                    &told,
                    &format!("killed at {step}, {crash:?}, half writes {half}"),
                );
            }
            if told.last().is_some_and(|r| r.row.event == Event::RunEnd) {
                assert!(step > 20, "a run takes many steps");
                break;
            }
        }
        assert!(
            lost_evidence > 0,
            "a log that reached the disk before its capture was met"
        );
    }
}

#[test]
fn the_nth_failure_of_the_disk_is_never_told_as_taken() {
    for half in [false, true] {
        let mut went_on = 0;
        for n in 1..40 {
            let disk = Double::default();
            if half {
                disk.writes_half();
            }
            disk.fated(Fate::Fail(n));
            let told = run(&disk, &BATCHES, true);
            went_on += usize::from(told.iter().any(|r| r.row.event == Event::Gap));
            for crash in CRASHES {
                let after = disk.crashed(crash);
                holds(
                    &after,
                    &told,
                    &format!("failure {n}, {crash:?}, half writes {half}"),
                );
            }
        }
        assert!(went_on > 3, "a capture that fails does not stop the log");
    }
}

#[test]
fn on_a_real_disk_runs_follow_each_other_and_the_log_stays_whole() {
    let data = tempfile::tempdir().expect("a folder");
    let mut told = Vec::new();
    for _ in 0..3 {
        try_run(&RealDisk, data.path(), &BATCHES, true, &mut told).expect("the disk takes it");
    }
    let found = verify(&RealDisk, data.path(), &[], &AtomicU64::new(0)).expect("reads");
    assert!(found.ok, "{:#?}", found.lines());
    assert_eq!((found.log.rows, found.captures), (told.len() as u64, 3));
    // Three runs of RunStart, 7 values and RunEnd; the later two end the capture before them.
    assert_eq!(told.len(), 3 * 9 + 2);
    let name = std::fs::read_dir(data.path().join("log"))
        .expect("there")
        .next()
        .expect("a file");
    let path = name.expect("readable").path();
    let mut torn = std::fs::read(&path).expect("reads");
    torn.extend(b"30,2025-");
    std::fs::write(&path, &torn).expect("writes");
    try_run(&RealDisk, data.path(), &[1], true, &mut told).expect("the disk takes it");
    let found = verify(&RealDisk, data.path(), &[], &AtomicU64::new(0)).expect("reads");
    assert!(found.ok, "{:#?}", found.lines());
    assert_eq!(found.log.rows, told.len() as u64);
    assert!(
        found.lines().iter().any(|l| l.contains("torn/")),
        "{:#?}",
        found.lines()
    );
}

#[test]
fn rows_of_a_capture_that_failed_name_none() {
    let disk = Double::default();
    // Create log folder file, capture and its name first: the batch after Begin fails its write.
    disk.fated(Fate::Fail(9));
    let told = run(&disk, &BATCHES, true);
    let gap = told
        .iter()
        .position(|r| r.row.event == Event::Gap)
        .expect("a gap row");
    assert!(
        told[gap].row.reason.contains("captures/"),
        "{}",
        told[gap].row.reason
    );
    assert!(told[gap + 1..].iter().all(|r| r.row.capture.is_empty()));
    assert_eq!(
        told.last().map(|r| r.row.event),
        Some(Event::RunEnd),
        "the log goes on"
    );
}

/// Two whole runs, and something done to the files: what verify says.
fn after(change: impl Fn(&Double, &Path)) -> Vec<String> {
    let disk = Double::default();
    run(&disk, &BATCHES, true);
    run(&disk, &BATCHES, true);
    assert!(report(&disk).ok, "{:#?}", report(&disk).lines());
    change(&disk, &data().join("captures"));
    let found = report(&disk);
    assert!(!found.ok, "{:#?}", found.lines());
    found.lines()
}

const FIRST: &str = "20251125T124405Z.pcapng";
const SECOND: &str = "20251125T124405Z-2.pcapng";

#[test]
fn a_changed_capture_is_named_with_the_row_that_holds_its_digest() {
    let lines = after(|disk, dir| {
        let mut bytes = disk.bytes(&dir.join(FIRST)).expect("there");
        let at = bytes
            .windows(7)
            .position(|w| w == b"3.5 OHM")
            .expect("a chunk");
        bytes[at] = b'9';
        disk.put(&dir.join(FIRST), &bytes);
    });
    assert!(
        lines[0].contains(FIRST) && lines[0].contains("SHA-256"),
        "{lines:?}"
    );
}

#[test]
fn a_missing_or_cut_capture_is_a_failure_after_a_run_that_ended() {
    let lines = after(|disk, dir| disk.remove(&dir.join(SECOND)).expect("removes"));
    assert!(lines[0].contains("is missing"), "{lines:?}");
    // Without a row that says so, a deleted capture is missing; with one it is not.
    let disk = Double::default();
    run(&disk, &BATCHES, true);
    let (mut log, _) = Log::open(&data().join("log"), disk.clone()).expect("opens");
    let mut expired = Row::new(Event::Expired, WALL);
    expired.reason = format!("{FIRST}: older than 90 days");
    log.append(vec![expired]).expect("written");
    disk.remove(&data().join("captures").join(FIRST))
        .expect("removes");
    assert!(report(&disk).ok, "{:#?}", report(&disk).lines());
    let lines = after(|disk, dir| {
        let bytes = disk.bytes(&dir.join(SECOND)).expect("there");
        disk.put(&dir.join(SECOND), &bytes[..bytes.len() - 60]);
    });
    assert!(lines[0].contains("no crash explains it"), "{lines:?}");
}

#[test]
fn a_capture_that_is_full_goes_on_in_a_further_file() {
    let disk = Double::default();
    let captures = data().join("captures");
    let (log, _) = Log::open(&data().join("log"), disk.clone()).expect("opens");
    let mut committer = Committer::new(log);
    let mut before: Option<Finished> = None;
    let mut name = new_run(&disk, &captures, WALL).expect("lists");
    for _ in 0..3 {
        let writer = Writer::create(disk.clone(), &captures, &name, WALL).expect("creates");
        committer.start_capture(writer);
        let mut rows = Vec::new();
        if let Some(finished) = &before {
            let mut ended = row(Event::CaptureEnd, &name, 0);
            ended.reason = finished.capture.to_string();
            ended.note = finished.sha256.to_string();
            rows.push(ended);
        }
        let first = begin(&name, &committer, before);
        committer
            .commit(&[first, chunk(1)], &mut rows)
            .expect("commits");
        committer
            .commit(&[chunk(2)], &mut vec![row(Event::Value, &name, 2)])
            .expect("commits");
        assert!(committer.capture().expect("there").bytes_written() > 200);
        before = committer.finish_capture().expect("finishes");
        let bytes = disk.bytes(&captures.join(&name)).expect("there");
        assert_eq!(Pcapng::new(&bytes[..]).count(), 3);
        name = crate::capture::names::further(&name);
    }
    assert_eq!(disk.list(&captures).expect("lists").len(), 3);
    let found = report(&disk);
    assert!(found.ok, "{:#?}", found.lines());
    assert_eq!((found.log.rows, found.captures), (5, 3));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn runs_and_crashes_in_any_order_keep_what_was_told(runs in prop::collection::vec((1u64..40, 0usize..CRASHES.len(), prop::collection::vec(0usize..4, 0..5), any::<bool>()), 1..5)) {
        let mut disk = Double::default();
        let mut all: Vec<Recorded> = Vec::new();
        for (die, crash, batches, half) in runs {
            if half { disk.writes_half(); }
            disk.fated(Fate::Die(die));
            all.extend(run(&disk, &batches, true));
            disk = disk.crashed(CRASHES[crash]);
            let there = logged(&disk);
            prop_assert!(there.len() >= all.len());
            prop_assert_eq!(&there[..all.len()], &all[..]);
            let found = report(&disk);
            prop_assert!(found.ok, "{:#?}", found.lines());
            all = there;
        }
    }
}
