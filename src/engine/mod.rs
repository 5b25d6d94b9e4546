//! The engine: a pure function from inputs to rows.
//!
//! Bytes become frames, frames readings, readings a value, the value a verdict
//! and a row, in that order and in one place: [`Engine::input`]. There is no
//! clock, no file, no thread and no hash order here, so replaying the same
//! inputs gives the same rows, byte for byte, under the same [`REVISION`].

mod meters;
mod ports;
mod run;

pub use ports::Ports;

use crate::bench::{Benches, Done, Now, Out, Refusal, Shows};
use crate::description::DescriptionError;
use crate::input::{Act, Input, Settings, What};
use crate::meter::PortId;
use crate::row::Row;
use crate::settle::Settle;
use crate::stamp::{Stamp, Wall};
use crate::text::Text;
use crate::view::{Discharging, Proving, View};
use meters::Meters;

/// Raised whenever a golden row changes.
pub const REVISION: u32 = 5;

/// What came of some inputs.
#[derive(Debug, Default)]
pub struct Output {
    /// The rows, in order.
    pub rows: Vec<Row>,
    /// What each command came to, by its id.
    pub outcomes: Vec<(u64, Result<Done, Refusal>)>,
}

/// Why the engine must stop.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum EngineError {
    /// The first input must say what is in force.
    #[error(
        "a run must open with what is in force (Begin), found another input: the capture's start is missing"
    )]
    NoBegin,
    /// The capture was written by a later program.
    #[error(
        "capture schema {found} is newer than {known}, the newest that this program reads: use the program that wrote it"
    )]
    Schema {
        /// The capture's.
        found: u32,
        /// Ours.
        known: u32,
    },
    /// A row of an unfinished job does not read.
    #[error("row of an unfinished job: {0}")]
    Unfinished(#[from] crate::row::RowError),
    /// A port speaks a description that is not among the settings.
    #[error("port {port} speaks {protocol:?}, which is not among the descriptions in force")]
    NoDescription {
        /// The port.
        port: String,
        /// The missing name.
        protocol: Text,
    },
    /// A description in force does not compile.
    #[error("description {name:?}: {cause}")]
    Description {
        /// Its name.
        name: Text,
        /// Why.
        cause: DescriptionError,
    },
}

/// Everything between bytes and rows.
#[derive(Debug, Default)]
pub struct Engine {
    begun: bool,
    now: Stamp,
    /// Wall time at stamp 0.
    wall: Wall,
    settings: Settings,
    ports: Ports,
    meters: Meters,
    /// What each meter's stream can show.
    shows: Vec<Shows>,
    benches: Benches,
    out: Out,
}

impl Engine {
    /// An engine that waits for its `Begin`.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes one input in the order of the queue. Deadlines that lie at or
    /// before it are met first, whether or not a tick was sent for them.
    ///
    /// # Errors
    /// The engine must stop: no `Begin`, or what it holds cannot be used.
    pub fn input(&mut self, input: &Input, output: &mut Output) -> Result<(), EngineError> {
        if let What::Begin(begin) = &input.what {
            self.begin(begin)?;
        } else if !self.begun {
            return Err(EngineError::NoBegin);
        } else {
            self.out.offset += 1;
        }
        let mut last = None;
        while let Some(due) = self
            .deadline()
            .filter(|due| *due <= input.at && last != Some(*due))
        {
            self.expire(due);
            last = Some(due);
        }
        self.now = self.now.max(input.at);
        self.apply(input, output)?;
        output.rows.append(&mut self.out.rows);
        Ok(())
    }

    fn apply(&mut self, input: &Input, output: &mut Output) -> Result<(), EngineError> {
        match &input.what {
            What::Begin(_) | What::Tick => {}
            What::Bytes { port, data } => self.bytes(*port, input.at, data),
            What::Sent { port, data } => self.ports.sent(*port, input.at, data),
            What::Opened { port } => self.opened(*port),
            What::Closed { port, why } => self.closed(*port, why),
            What::Lost { port, count, why } => self.lost(*port, *count, why),
            What::Command(command) => {
                let now = moment(self.now, self.wall, &self.settings, &self.shows);
                if let Act::Enter(entered) = &command.act {
                    let (benches, out) = (&mut self.benches, &mut self.out);
                    self.meters
                        .typed(&entered.meter, now, &self.ports, benches, out);
                }
                let outcome = self.benches.command(now, command, &mut self.out);
                self.meters.steer(now, &mut self.benches, &mut self.out);
                output.outcomes.push((command.id, outcome));
            }
            What::Clock { wall, moved } => self.clock(*wall, *moved),
            What::Settings(settings) => self.change(settings)?,
            What::CaptureFailed { why } => self.capture_failed(why),
            What::Expired { capture, why } => self.capture_expired(capture, why),
            What::End { why } => self.end(why),
        }
        Ok(())
    }

    /// When time passing matters next: a tick is due then.
    pub fn deadline(&self) -> Option<Stamp> {
        let parts = [
            self.ports.deadline(),
            self.meters.deadline(),
            self.benches.deadline(),
        ];
        parts.into_iter().flatten().min()
    }

    /// Engine time: the running maximum of all stamps.
    pub fn now(&self) -> Stamp {
        self.now
    }

    /// `seq` of the next row: the rows before it are behind what [`Engine::view`] shows.
    pub fn next_seq(&self) -> u64 {
        self.out.next_seq
    }

    /// The latest state, for looking at.
    pub fn view(&self) -> View {
        View {
            at: self.now,
            recording: true,
            trouble: String::new(),
            meters: self.meters.view(&self.settings, &self.ports),
            jobs: self
                .benches
                .view(moment(self.now, self.wall, &self.settings, &self.shows)),
            discharging: self
                .benches
                .discharges()
                .filter(|(_, until)| *until > self.now)
                .map(|(asset, until)| Discharging {
                    asset: asset.to_string(),
                    until,
                })
                .collect(),
            proving: self
                .benches
                .proving()
                .map(|(meter, say)| Proving {
                    meter: meter.to_string(),
                    say,
                })
                .collect(),
        }
    }

    /// Each meter's name and settling, in the order of the settings: what
    /// `replay --why` follows.
    pub fn settling(&self) -> impl Iterator<Item = (&str, &Settle)> {
        let names = self.settings.meters.iter().map(|m| m.name.as_str());
        names.zip(self.meters.settling())
    }

    /// What the display of a meter says, by its place in the settings.
    pub fn shown(&self, meter: usize) -> String {
        self.meters.shown(meter)
    }

    fn bytes(&mut self, port: PortId, at: Stamp, data: &[u8]) {
        let now = moment(self.now, self.wall, &self.settings, &self.shows);
        let (meters, benches, out) = (&mut self.meters, &mut self.benches, &mut self.out);
        self.ports.bytes(port, at, data, &mut |at, heard| {
            meters.heard(at, heard, now, benches, out);
        });
    }

    fn expire(&mut self, due: Stamp) {
        self.now = self.now.max(due);
        let now = moment(self.now, self.wall, &self.settings, &self.shows);
        let (meters, benches, out) = (&mut self.meters, &mut self.benches, &mut self.out);
        self.ports.expire(due, &mut |at, heard| {
            meters.heard(at, heard, now, benches, out)
        });
        meters.expire(due, now, benches, out);
        if benches.deadline().is_some_and(|at| at <= due) {
            benches.expire(now, out);
        }
        meters.steer(now, benches, out);
    }
}

/// Engine time with its wall time and what is in force then.
fn moment<'a>(at: Stamp, wall: Wall, settings: &'a Settings, shows: &'a [Shows]) -> Now<'a> {
    Now {
        at,
        wall: wall.plus(at.since(Stamp::ZERO)),
        settings,
        shows,
    }
}
