//! The readings that a value came from: from shortly before the clips closed
//! to shortly after it was taken, out of the capture that its row names.
//!
//! Rows are gathered by file and a file is gone through once. A file that is
//! being written is read to its last whole block.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use super::frames::Frames;
use crate::capture::pcapng::Fault;
use crate::capture::{self, CaptureError, Pace, names};
use crate::description::Heard;
use crate::input::{Input, Settings, What};
use crate::meter::{MeterId, PortId};
use crate::quantity::{Decimal, Unit};
use crate::reading::{Got, Method, Quantity, Reading};
use crate::report::curve::{At, NoTrace, Point, Trace, Traced, is_taken};
use crate::row::{Recorded, Row};
use crate::web;

/// How far before its plateau a contact is looked for, in seconds (own).
const LEAD: f64 = 10.0;
/// Shown before a contact or a press, and before an over-range that was taken, in seconds (own).
const BEFORE: f64 = 2.0;
/// Shown after the take, in seconds (own).
const AFTER: f64 = 1.5;
/// A longer silence parts two contacts, in seconds (own).
const SILENCE: f64 = 2.0;
/// Readings of one meter that are held on to: ten minutes of the fastest.
const HELD: usize = 50_000;
/// Readings of drawn traces that are kept, so that a page which follows a job
/// reads only what is new (own: some MiB).
const KEPT: usize = 200_000;

/// The captures of a data folder, as traces are made from them.
#[derive(Debug)]
pub struct Captures {
    dir: PathBuf,
    kept: Mutex<Kept>,
}

#[derive(Debug, Default)]
struct Kept {
    traces: BTreeMap<(String, u64), Trace>,
    points: usize,
}

impl Captures {
    /// Those of this folder.
    pub fn new(dir: PathBuf) -> Self {
        Self {
            dir,
            kept: Mutex::default(),
        }
    }
}

impl web::Traces for Captures {
    fn of(&self, rows: &[Recorded]) -> BTreeMap<u64, Traced> {
        // What a panic left behind is whole: nothing is half put in.
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let mut found = BTreeMap::new();
        let mut fresh = Vec::new();
        for recorded in rows.iter().filter(|r| is_taken(&r.row)) {
            let key = key(&recorded.row);
            match key.and_then(|key| kept.traces.get(&key)) {
                Some(trace) => _ = found.insert(recorded.seq, Ok(trace.clone())),
                None => fresh.push(recorded),
            }
        }
        let read = read(&self.dir, &fresh);
        for recorded in fresh {
            if let (Some(Ok(trace)), Some(key)) = (read.get(&recorded.seq), key(&recorded.row))
                && trace.whole
            {
                if kept.points + trace.points.len() > KEPT {
                    *kept = Kept::default();
                }
                kept.points += trace.points.len();
                kept.traces.insert(key, trace.clone());
            }
        }
        found.extend(read);
        found
    }
}

fn key(row: &Row) -> Option<(String, u64)> {
    Some((row.capture.clone(), row.capture_offset?))
}

/// The traces of these rows by their numbers, from the captures in `dir`.
pub fn read(dir: &Path, rows: &[&Recorded]) -> BTreeMap<u64, Traced> {
    let mut found = BTreeMap::new();
    let mut files: BTreeMap<&str, Vec<Want<'_>>> = BTreeMap::new();
    for recorded in rows {
        match want(recorded) {
            Ok(want) => files.entry(&recorded.row.capture).or_default().push(want),
            Err(none) => _ = found.insert(recorded.seq, Err(none)),
        }
    }
    for (name, wanted) in files {
        let seqs: Vec<u64> = wanted.iter().map(|want| want.seq).collect();
        match open(dir, name, &wanted) {
            Ok(inputs) => found.extend(follow(inputs, wanted)),
            Err(none) => found.extend(seqs.into_iter().map(|seq| (seq, Err(none)))),
        }
    }
    found
}

/// Opens a capture, or the one before it in its run where a row comes so soon
/// that its contact may lie there.
fn open(dir: &Path, name: &str, wanted: &[Want<'_>]) -> Result<capture::Inputs, NoTrace> {
    let path = dir.join(name);
    let lead = wanted.iter().map(Want::lead).fold(0.0, f64::max);
    if let Some((run, part)) = names::split(name).filter(|(_, part)| *part > 1)
        && let Some(Ok(Input { at, what })) = opened(&path)?.next()
        && let What::Begin(begin) = what
    {
        let began = begin.wall.plus(at.since(crate::stamp::Stamp::ZERO));
        let soon =
            |want: &Want<'_>| (want.row.recorded_at.0 - began.0) as f64 / 1e9 < lead + SILENCE;
        let before = match part {
            2 => format!("{run}.pcapng"),
            part => format!("{run}.{}.pcapng", part - 1),
        };
        if wanted.iter().any(soon)
            && let Ok(inputs) = opened(&dir.join(before))
        {
            return Ok(inputs);
        }
    }
    opened(&path)
}

fn opened(path: &Path) -> Result<capture::Inputs, NoTrace> {
    capture::read(path, Pace::AtOnce).map_err(|e| match e.fault {
        Fault::Io(e) if e.kind() == ErrorKind::NotFound => NoTrace::Gone,
        _ => NoTrace::Unread,
    })
}

/// A row whose trace is wanted.
struct Want<'a> {
    seq: u64,
    row: &'a Row,
    offset: u64,
    /// Seconds of its plateau.
    plateau: f64,
    /// Seconds under voltage, of a hold.
    held: Option<f64>,
}

/// What a row asks its capture for. The name is from the log, which anybody
/// may have written: it is only ever a file of ours in the folder of captures.
fn want(recorded: &Recorded) -> Result<Want<'_>, NoTrace> {
    let row = &recorded.row;
    if row.method == Some(Method::Manual) {
        return Err(NoTrace::Typed);
    }
    let Some(offset) = row.capture_offset.filter(|_| !row.capture.is_empty()) else {
        return Err(NoTrace::NoCapture);
    };
    if names::began(&row.capture).is_none() || row.capture.contains(['/', '\\', ':']) {
        return Err(NoTrace::Unread);
    }
    let seconds = |value: Option<Decimal>| value.map(|v| v.to_f64().clamp(0.0, 3600.0));
    Ok(Want {
        seq: recorded.seq,
        row,
        offset,
        plateau: seconds(row.window_s).unwrap_or(0.0),
        held: seconds(row.elapsed_s),
    })
}

impl Want<'_> {
    /// Seconds before the take that may have to be shown.
    fn lead(&self) -> f64 {
        self.held.unwrap_or(0.0).max(self.plateau) + LEAD
    }

    /// Where its trace begins among what was read up to the take.
    fn begins(&self, held: &VecDeque<Point>, take: f64) -> f64 {
        if let Some(seconds) = self.held {
            return take - seconds - BEFORE;
        }
        let plateau = take - self.plateau;
        let mut contact = plateau;
        for point in held.iter().rev().skip_while(|p| p.t > plateau) {
            if point.at == At::Aside {
                continue;
            }
            if !matches!(point.at, At::Ohms(_)) || contact - point.t > SILENCE {
                break;
            }
            contact = point.t;
        }
        contact - BEFORE
    }
}

/// A trace that has its take and waits for what comes after it.
struct Window {
    seq: u64,
    meter: String,
    take: f64,
    points: Vec<Point>,
}

impl Window {
    /// With times from the take on.
    fn done(self, whole: bool) -> Traced {
        let mut points = self.points;
        for point in &mut points {
            point.t -= self.take;
        }
        if points.is_empty() {
            return Err(NoTrace::Silent);
        }
        Ok(Trace { points, whole })
    }
}

/// Goes through inputs once, up to shortly behind the last row that is wanted.
/// The rows are all of one file, which the inputs may only begin before.
fn follow(
    inputs: impl Iterator<Item = Result<Input, CaptureError>>,
    mut wanted: Vec<Want<'_>>,
) -> BTreeMap<u64, Traced> {
    wanted.sort_by_key(|want| core::cmp::Reverse(want.offset));
    let file = wanted.first().map_or("", |want| want.row.capture.as_str());
    let mut pass = Pass::of(&wanted);
    let mut found = BTreeMap::new();
    let (mut here, mut ordinal) = (false, 0);
    let mut none = NoTrace::Cut;
    for input in inputs {
        let Ok(input) = input else {
            none = NoTrace::Unread;
            break;
        };
        ordinal += 1;
        if let What::Begin(begin) = &input.what {
            (here, ordinal) = (begin.capture.as_str() == file, 0);
        }
        if pass.input(&input).is_err() {
            none = NoTrace::Unread;
            break;
        }
        let now = input.at.seconds();
        while let Some(want) = wanted.pop_if(|want| here && want.offset <= ordinal) {
            pass.took(&want, now);
        }
        let ended = matches!(input.what, What::End { .. });
        let past = pass
            .windows
            .extract_if(.., |w| ended || now > w.take + AFTER);
        found.extend(past.map(|window| (window.seq, window.done(true))));
        if wanted.is_empty() && pass.windows.is_empty() {
            break;
        }
    }
    let rest = pass.windows.into_iter();
    found.extend(rest.map(|window| (window.seq, window.done(false))));
    found.extend(wanted.into_iter().map(|want| (want.seq, Err(none))));
    found
}

/// What is known at one place of a capture.
struct Pass {
    frames: Frames,
    /// The latest readings of each meter that is asked for.
    held: BTreeMap<String, Held>,
    /// The place of each of them among the settings.
    meters: BTreeMap<MeterId, String>,
    ports: BTreeSet<PortId>,
    windows: Vec<Window>,
}

#[derive(Default)]
struct Held {
    lead: f64,
    points: VecDeque<Point>,
}

impl Pass {
    fn of(wanted: &[Want<'_>]) -> Self {
        let mut held: BTreeMap<String, Held> = BTreeMap::new();
        for want in wanted {
            let held = held.entry(want.row.meter.clone()).or_default();
            held.lead = held.lead.max(want.lead());
        }
        Self {
            frames: Frames::default(),
            held,
            meters: BTreeMap::new(),
            ports: BTreeSet::new(),
            windows: Vec::new(),
        }
    }

    fn input(&mut self, input: &Input) -> Result<(), crate::engine::EngineError> {
        let Self {
            frames,
            held,
            meters,
            ports,
            windows,
        } = self;
        if let What::Bytes { port, .. } | What::Sent { port, .. } = &input.what
            && !ports.contains(port)
        {
            return Ok(());
        }
        let settings = frames.input(input, &mut |at, heard| {
            let Heard::Frame(readings) = heard else {
                return;
            };
            let meter = readings.first().and_then(|first| meters.get(&first.meter));
            if let (Some(meter), Some(point)) = (meter, point(at.seconds(), readings)) {
                if let Some(held) = held.get_mut(meter) {
                    held.push(point);
                }
                for window in windows.iter_mut().filter(|w| w.meter == *meter) {
                    if point.t <= window.take + AFTER {
                        window.points.push(point);
                    }
                }
            }
        })?;
        if let Some(settings) = settings {
            self.settle_in(settings);
        }
        Ok(())
    }

    /// Which meters and ports the names stand for from here on.
    fn settle_in(&mut self, settings: &Settings) {
        self.meters.clear();
        self.ports.clear();
        for (id, meter) in (0_u16..).map(MeterId).zip(&settings.meters) {
            if self.held.contains_key(meter.name.as_str()) {
                self.meters.insert(id, meter.name.to_string());
                self.ports.insert(meter.port);
            }
        }
    }

    fn took(&mut self, want: &Want<'_>, take: f64) {
        let Some(held) = self.held.get(&want.row.meter) else {
            return;
        };
        let begins = want.begins(&held.points, take);
        let points = held.points.iter().filter(|p| p.t >= begins);
        self.windows.push(Window {
            seq: want.seq,
            meter: want.row.meter.clone(),
            take,
            points: points.copied().collect(),
        });
    }
}

impl Held {
    fn push(&mut self, point: Point) {
        self.points.push_back(point);
        let oldest = point.t - self.lead;
        while self.points.len() > HELD || self.points.front().is_some_and(|p| p.t < oldest) {
            self.points.pop_front();
        }
    }
}

/// What one frame says of resistance and test voltage; none: of neither.
fn point(t: f64, readings: &[Reading]) -> Option<Point> {
    let of = |quantity| readings.iter().find(|r| r.quantity == quantity);
    let number = |got: Got, unit| match got {
        Got::Value(shown) if shown.unit == unit => Some(shown.value.to_f64()),
        _ => None,
    };
    let (main, volts) = (of(Quantity::Main), of(Quantity::TestVoltage));
    if main.is_none() && volts.is_none() {
        return None;
    }
    let at = match main.map(|main| main.got) {
        Some(Got::Over {
            unit: Unit::Ohm, ..
        }) => At::Over,
        Some(got) => number(got, Unit::Ohm).map_or(At::Nothing, At::Ohms),
        None => At::Aside,
    };
    let volts = volts.and_then(|v| number(v.got, Unit::Volt));
    Some(Point { t, at, volts })
}

#[cfg(test)]
#[path = "trace_tests.rs"]
mod tests;
