//! How a run begins, breaks and ends: the rows that are not about a value.

use core::time::Duration;

use serde::Serialize;

use super::{Engine, EngineError, Meters, Ports, REVISION, moment};
use crate::bench::Benches;
use crate::input::{Begin, SCHEMA, Settings};
use crate::meter::{MeterId, PortId};
use crate::row::{Event, Recorded, Row};
use crate::settle::Reset;
use crate::stamp::{Stamp, Wall};
use crate::text::Text;

/// What `run_start` says in its note, as JSON.
#[derive(Serialize)]
struct RunNote<'a> {
    version: &'a str,
    engine: u32,
    log: &'a str,
}

impl Engine {
    pub(super) fn begin(&mut self, begin: &Begin) -> Result<(), EngineError> {
        if begin.schema > SCHEMA {
            return Err(EngineError::Schema {
                found: begin.schema,
                known: SCHEMA,
            });
        }
        self.out.capture = begin.capture.to_string();
        self.out.offset = 0;
        if begin.continues && self.begun {
            self.capture_end(begin);
            return Ok(());
        }
        self.begun = true;
        self.now = Stamp::ZERO;
        self.wall = begin.wall;
        self.settings = begin.settings.clone();
        self.ports = Ports::new(&self.settings)?;
        self.meters = Meters::new(&self.settings);
        self.shows = self
            .settings
            .meters
            .iter()
            .map(|m| self.ports.shows(m.port))
            .collect();
        self.benches = Benches::new();
        self.out.next_seq = begin.next_seq;
        let note = RunNote {
            version: begin.version.as_str(),
            engine: REVISION,
            log: begin.log_id.as_str(),
        };
        let mut row = self.plain(Event::RunStart);
        row.note = serde_json::to_string(&note).unwrap_or_default();
        self.out.row(row);
        for why in &begin.repaired {
            let mut row = self.plain(Event::Gap);
            row.reason = why.to_string();
            self.out.row(row);
        }
        self.capture_end(begin);
        let rows: Vec<Recorded> = begin
            .unfinished
            .iter()
            .map(|line| Recorded::from_line(line))
            .collect::<Result<_, _>>()?;
        let proved = begin.proved.iter().map(|line| Recorded::from_line(line));
        let proved: Vec<Recorded> = proved.collect::<Result<_, _>>()?;
        self.benches.proved(&proved);
        self.benches.resume(
            &rows,
            moment(self.now, self.wall, &self.settings, &self.shows),
            &mut self.out,
        );
        Ok(())
    }

    /// The capture before this one is whole: its digest becomes a row.
    fn capture_end(&mut self, begin: &Begin) {
        if let Some(before) = &begin.before {
            let mut row = self.plain(Event::CaptureEnd);
            row.reason = before.capture.to_string();
            row.note = before.sha256.to_string();
            self.out.row(row);
        }
    }

    pub(super) fn opened(&mut self, port: PortId) {
        let gone = self.ports.opened(port);
        if let Some(since) = gone {
            self.each_meter_on(port, |engine, meter| {
                let now = moment(engine.now, engine.wall, &engine.settings, &engine.shows);
                engine
                    .benches
                    .gap(now, meter, since, "connected again", &mut engine.out);
            });
        }
    }

    pub(super) fn closed(&mut self, port: PortId, why: &Text) {
        if self.ports.closed(port, self.now, why.as_str()) {
            self.interrupted(
                port,
                &format!("connection lost: {why}; what was not taken is lost"),
            );
        }
    }

    pub(super) fn lost(&mut self, port: PortId, count: u64, why: &Text) {
        self.ports.lost(port, why.as_str());
        let what = match count {
            0 => format!("bytes were lost: {why}"),
            count => format!("{count} bytes were lost: {why}"),
        };
        self.interrupted(port, &what);
    }

    /// Nothing settles across this, on any meter of the port.
    fn interrupted(&mut self, port: PortId, why: &str) {
        self.each_meter_on(port, |engine, meter| {
            let mut row = engine.plain(Event::Gap);
            if let Some(of) = engine.settings.meters.get(usize::from(meter.0)) {
                row.bench = of.bench.to_string();
                row.meter = of.name.to_string();
            }
            why.clone_into(&mut row.reason);
            engine.out.row(row);
            engine.reset(meter, Reset::Gap);
        });
    }

    fn each_meter_on(&mut self, port: PortId, mut act: impl FnMut(&mut Self, MeterId)) {
        for (id, at) in (0_u16..).zip(0..self.settings.meters.len()) {
            if self.settings.meters[at].port == port {
                act(self, MeterId(id));
            }
        }
        let now = moment(self.now, self.wall, &self.settings, &self.shows);
        self.meters.steer(now, &mut self.benches, &mut self.out);
    }

    fn reset(&mut self, meter: MeterId, why: Reset) {
        let now = moment(self.now, self.wall, &self.settings, &self.shows);
        self.meters
            .reset(meter, why, now, &mut self.benches, &mut self.out);
    }

    pub(super) fn clock(&mut self, wall: Wall, moved: i64) {
        let since_start = i64::try_from(self.now.nanos()).unwrap_or(i64::MAX);
        self.wall = Wall(wall.0.saturating_sub(since_start));
        let mut row = self.plain(Event::Clock);
        row.reason = match moved {
            0 => String::from("nothing ran for a while: the machine slept or was held up"),
            moved => format!(
                "the clock moved {} by {:.3} s",
                if moved > 0 { "forward" } else { "back" },
                Duration::from_nanos(moved.unsigned_abs()).as_secs_f64()
            ),
        };
        self.out.row(row);
        let now = moment(self.now, self.wall, &self.settings, &self.shows);
        self.benches.clock_step(now, &mut self.out);
        for (id, _) in (0_u16..).zip(0..self.settings.meters.len()) {
            self.reset(MeterId(id), Reset::ClockStep);
        }
        let now = moment(self.now, self.wall, &self.settings, &self.shows);
        self.meters.steer(now, &mut self.benches, &mut self.out);
    }

    /// New settings. Meters that stay keep their place in the list, since jobs know them by it.
    pub(super) fn change(&mut self, settings: &Settings) -> Result<(), EngineError> {
        self.ports = Ports::new(settings)?;
        self.meters = Meters::new(settings);
        self.shows = settings
            .meters
            .iter()
            .map(|m| self.ports.shows(m.port))
            .collect();
        self.settings = settings.clone();
        let mut row = self.plain(Event::Note);
        row.reason = String::from("settings changed");
        self.out.row(row);
        let now = moment(self.now, self.wall, &self.settings, &self.shows);
        self.benches.changed(now, &mut self.out);
        self.meters.steer(now, &mut self.benches, &mut self.out);
        Ok(())
    }

    pub(super) fn capture_failed(&mut self, why: &Text) {
        self.out.capture.clear();
        let mut row = self.plain(Event::Gap);
        row.reason =
            format!("the capture can no longer be written: {why}; rows go on without evidence");
        self.out.row(row);
    }

    pub(super) fn capture_expired(&mut self, capture: &Text, why: &Text) {
        let mut row = self.plain(Event::Expired);
        row.reason = format!("{capture}: {why}");
        self.out.row(row);
    }

    pub(super) fn end(&mut self, why: &Text) {
        let mut row = self.plain(Event::RunEnd);
        row.reason = why.to_string();
        self.out.row(row);
    }

    fn plain(&self, event: Event) -> Row {
        Row::new(event, self.wall.plus(self.now.since(Stamp::ZERO)))
    }
}
