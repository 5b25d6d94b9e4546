//! The shipped capture in, traces out: expected is what the scene's motors are.

use std::cell::Cell;

use super::*;
use crate::capture::Writer;
use crate::disk::RealDisk;
use crate::input::Begin;
use crate::text::Text;

const RUN: &str = "20261126T045403Z";

fn rows() -> Vec<Recorded> {
    let text = std::fs::read_to_string("captures/hatchery.csv").expect("is shipped");
    let lines = text.lines().skip(1);
    lines
        .map(|l| Recorded::from_line(l).expect("a row"))
        .collect()
}

/// A folder with the shipped capture under its own name, cut to a part of it.
fn folder(keep: f64) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a folder");
    let whole = std::fs::read("captures/hatchery.pcapng").expect("is shipped");
    let kept = (whole.len() as f64 * keep) as usize;
    std::fs::write(dir.path().join(format!("{RUN}.pcapng")), &whole[..kept]).expect("writes");
    dir
}

fn inputs() -> Vec<Input> {
    let inputs = capture::read(Path::new("captures/hatchery.pcapng"), Pace::AtOnce);
    let inputs: Result<_, _> = inputs.expect("opens").collect();
    inputs.expect("reads")
}

fn taken(rows: &[Recorded]) -> Vec<&Recorded> {
    rows.iter().filter(|r| is_taken(&r.row)).collect()
}

fn traces(dir: &Path, rows: &[Recorded]) -> BTreeMap<u64, Traced> {
    read(dir, &taken(rows))
}

/// The plateau of a place reads so many ohms, leads included.
fn check(job: &str, test: &str, point: &str, ohms: f64) {
    let rows = rows();
    let of = |r: &&Recorded| {
        (
            r.row.job.as_str(),
            r.row.test.as_str(),
            r.row.point.as_str(),
        ) == (job, test, point)
            && is_taken(&r.row)
    };
    let row = rows.iter().find(of).expect("a row");
    let dir = folder(1.0);
    let trace = traces(dir.path(), &rows)
        .remove(&row.seq)
        .expect("told")
        .expect("a trace");
    let window = row.row.window_s.expect("a window").to_f64();
    let plateau: Vec<f64> = trace
        .points
        .iter()
        .filter(|p| p.t > -window && p.t <= 0.0)
        .map(|p| match p.at {
            At::Ohms(ohms) => ohms,
            other => panic!("{point}: {other:?} within the plateau"),
        })
        .collect();
    assert!(plateau.len() >= 10, "{point}: {plateau:?}");
    // The meter's accuracy is 0.2 % and 3 counts, the largest of which is 10 milliohms here; 0.8 % from 600 ohms.
    let near = if ohms > 600.0 {
        ohms * 0.008 + 300.0
    } else {
        ohms * 0.002 + 0.03
    };
    let off: Vec<&f64> = plateau
        .iter()
        .filter(|r| (**r - ohms).abs() > near)
        .collect();
    assert!(off.is_empty(), "{point}: {off:?}, expected {ohms}");
    let open = |p: &Point| p.at == At::Over && p.t < -window;
    assert!(trace.points.iter().any(open), "{point}: clips open before");
    assert!(trace.points[0].t < -window, "{point}");
    assert!(trace.points.last().is_some_and(|p| p.t > 0.5), "{point}");
    assert!(trace.whole, "{point}");
}

#[test]
fn the_plateau_reads_what_the_motor_is() {
    // A star with shorted turns in its third leg, leads of 0.184 ohms.
    check("J2", "winding", "line_12", 2.48 + 2.49 + 0.184);
    check("J2", "winding", "line_23", 2.49 + 1.71 + 0.184);
    check("J2", "winding", "line_31", 1.71 + 2.48 + 0.184);
    check("J3", "winding", "main", 40.6 + 0.121);
    check("J20", "ground", "all_to_ground", 84_000.0);
}

#[test]
fn a_hold_has_its_test_voltage_and_begins_before_the_press() {
    let (rows, dir) = (rows(), folder(1.0));
    let hold = rows
        .iter()
        .find(|r| r.row.method == Some(Method::Timed))
        .expect("a hold");
    let trace = traces(dir.path(), &rows)
        .remove(&hold.seq)
        .expect("told")
        .expect("a trace");
    let held = hold.row.elapsed_s.expect("held").to_f64();
    let on: Vec<f64> = trace
        .points
        .iter()
        .filter(|p| p.volts.is_some_and(|v| v > 400.0))
        .map(|p| p.t)
        .collect();
    let first = on.first().copied().expect("voltage");
    assert!((first + held).abs() < 1.5, "on at {first}, held {held}");
    assert!(trace.points.iter().all(|p| p.t >= -held - BEFORE - 0.001));
    assert!(on.iter().any(|t| *t > -1.0));
}

#[test]
fn an_open_circuit_is_over_range_all_along() {
    let (rows, dir) = (rows(), folder(1.0));
    let open = rows
        .iter()
        .find(|r| r.row.event == crate::row::Event::Open)
        .expect("one");
    let trace = traces(dir.path(), &rows)
        .remove(&open.seq)
        .expect("told")
        .expect("a trace");
    let window = open.row.window_s.expect("a window").to_f64();
    let within = trace.points.iter().filter(|p| p.t > -window && p.t <= 0.0);
    assert!(within.clone().count() > 20);
    assert!(within.clone().all(|p| p.at == At::Over));
}

#[test]
fn what_is_missing_is_told() {
    let rows = rows();
    let told = |dir: &Path, rows: &[Recorded]| -> Vec<Option<NoTrace>> {
        traces(dir, rows).into_values().map(|t| t.err()).collect()
    };
    let count = taken(&rows).len();
    let empty = tempfile::tempdir().expect("a folder");
    assert_eq!(told(empty.path(), &rows), vec![Some(NoTrace::Gone); count]);
    assert_eq!(told(folder(1.0).path(), &rows), vec![None; count]);
    // Torn within a block: what is whole before it is there, and what is not is said.
    let half = told(folder(0.5).path(), &rows);
    assert_eq!(half.first(), Some(&None));
    assert_eq!(half.last(), Some(&Some(NoTrace::Cut)));
    assert!(half.is_sorted_by_key(Option::is_some), "{half:?}");
    let one = |change: &dyn Fn(&mut Row)| {
        let mut one = taken(&rows)[0].clone();
        change(&mut one.row);
        told(folder(1.0).path(), &[one])
    };
    assert_eq!(one(&|row| row.capture.clear()), [Some(NoTrace::NoCapture)]);
    assert_eq!(
        one(&|row| row.capture_offset = None),
        [Some(NoTrace::NoCapture)]
    );
    assert_eq!(
        one(&|row| row.method = Some(Method::Manual)),
        [Some(NoTrace::Typed)]
    );
    assert_eq!(
        one(&|row| row.meter = String::from("nobody's")),
        [Some(NoTrace::Silent)]
    );
    for name in [
        "../20261126T045403Z.pcapng",
        "/dev/zero",
        "20261126T045403Z/../x.pcapng",
        "20261126T045403Z.csv",
    ] {
        assert_eq!(
            one(&|row| name.clone_into(&mut row.capture)),
            [Some(NoTrace::Unread)],
            "{name}"
        );
    }
}

#[test]
fn a_trace_of_a_job_that_still_runs_is_not_whole() {
    let rows = rows();
    let row = taken(&rows)[0];
    let at = usize::try_from(row.row.capture_offset.expect("one")).expect("few");
    let until = inputs().into_iter().take(at + 1).map(Ok);
    let wanted = vec![want(row).expect("has a capture")];
    let trace = follow(until, wanted)
        .remove(&row.seq)
        .expect("told")
        .expect("a trace");
    assert!(!trace.whole);
    assert!(trace.points.last().is_some_and(|p| p.t <= 0.0));
}

#[test]
fn one_pass_serves_all_rows_and_ends_behind_the_last() {
    let (rows, all) = (rows(), inputs());
    let seen = |rows: &[&Recorded]| {
        let count = Cell::new(0);
        let counted = all
            .iter()
            .cloned()
            .map(Ok)
            .inspect(|_| count.set(count.get() + 1));
        let wanted = rows
            .iter()
            .map(|r| want(r).expect("has a capture"))
            .collect();
        assert_eq!(follow(counted, wanted).len(), rows.len());
        count.get()
    };
    let taken = taken(&rows);
    assert!(seen(&taken) <= all.len());
    let at = usize::try_from(taken[0].row.capture_offset.expect("one")).expect("few");
    let first = seen(&taken[..1]);
    // Three meters send ten readings a second at most, and AFTER is 1.5 s.
    assert!(first > at && first < at + 100, "{first} of {}", all.len());
}

#[test]
fn a_contact_that_goes_on_in_the_next_file_is_the_same() {
    let (mut rows, all) = (rows(), inputs());
    let whole = traces(folder(1.0).path(), &rows);
    let of = |r: &Recorded| r.row.point == "line_12" && is_taken(&r.row);
    let row = rows.iter().find(|r| of(r)).expect("a row").clone();
    let at = usize::try_from(row.row.capture_offset.expect("one")).expect("few");
    let split = at - 20;
    let What::Begin(begin) = &all[0].what else {
        panic!("begins with what is in force");
    };
    let names = [format!("{RUN}.pcapng"), format!("{RUN}.2.pcapng")];
    let continued = Input {
        at: all[split].at,
        what: What::Begin(Box::new(Begin {
            continues: true,
            capture: Text::clean(&names[1]),
            ..(**begin).clone()
        })),
    };
    let second: Vec<Input> = core::iter::once(continued)
        .chain(all[split..].iter().cloned())
        .collect();
    let dir = tempfile::tempdir().expect("a folder");
    for (name, part) in names.iter().zip([&all[..split], &second]) {
        let mut writer = Writer::create(RealDisk, dir.path(), name, begin.wall).expect("creates");
        writer.append(part).expect("writes");
        writer.finish().expect("finishes");
    }
    for recorded in &mut rows {
        if let Some(offset) = recorded.row.capture_offset.filter(|o| *o >= split as u64) {
            recorded.row.capture.clone_from(&names[1]);
            recorded.row.capture_offset = Some(offset - split as u64 + 1);
        }
    }
    let parted = traces(dir.path(), &rows);
    assert_eq!(parted.get(&row.seq), whole.get(&row.seq));
    assert_eq!(parted, whole);
}
