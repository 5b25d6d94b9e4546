//! Everything that can reach the engine, as plain data.
//!
//! The engine is a function of its inputs, and a capture is the inputs written
//! down. What a person does is an input; time passing is an input. An input
//! never refers to a file, a clock or a device: what is in force comes inside
//! [`Begin`], so a capture can be replayed alone, years later.

use std::collections::BTreeMap;

use bytes::Bytes;
use serde::{Deserialize, Serialize};

use crate::limits::{
    Acceptance, Bands, Baseline, Cable, GroundReference, MeasuredAt, Motor, Point, Profile, Sheet,
    Stage, words,
};
use crate::meter::{Meter, Port, PortId};
use crate::quantity::{Celsius, Decimal, Shown, Volts};
use crate::stamp::{Stamp, Wall};
use crate::text::Text;

/// The version of what [`Begin`] and the other inputs look like in a capture.
pub const SCHEMA: u32 = 1;

/// One thing that reached the engine.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// When it arrived, on the run's monotonic clock.
    pub at: Stamp,
    /// What it is.
    pub what: What,
}

/// What an input is.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// A run, or the next capture file of a run, begins.
    Begin(Box<Begin>),
    /// Bytes received on a port: one chunk, its boundary kept.
    Bytes {
        /// The port.
        port: PortId,
        /// The chunk, as it came.
        data: Bytes,
    },
    /// A request or start message went out on a port.
    Sent {
        /// The port.
        port: PortId,
        /// The bytes sent.
        data: Bytes,
    },
    /// A port is open.
    Opened {
        /// The port.
        port: PortId,
    },
    /// A port is gone; its source tries again by itself.
    Closed {
        /// The port.
        port: PortId,
        /// Why, in words.
        why: Text,
    },
    /// Bytes or notifications were lost on the way.
    Lost {
        /// The port.
        port: PortId,
        /// How many bytes or notifications, 0 if unknown.
        count: u64,
        /// Where, in words.
        why: Text,
    },
    /// Time passed and a deadline of the engine was reached.
    Tick,
    /// Somebody asked for something.
    Command(Box<Command>),
    /// Wall time moved against the monotonic clock, or the machine slept.
    Clock {
        /// Wall time now.
        wall: Wall,
        /// Nanoseconds by which wall time moved against the monotonic clock.
        moved: i64,
    },
    /// The settings changed.
    Settings(Box<Settings>),
    /// The capture can no longer be written: rows carry none from here on.
    CaptureFailed {
        /// Why, in words.
        why: Text,
    },
    /// A capture was deleted because of its age or size.
    Expired {
        /// The file's name.
        capture: Text,
        /// Why, in words.
        why: Text,
    },
    /// The run ends.
    End {
        /// Why, in words.
        why: Text,
    },
}

/// What a capture needs to be replayed alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Begin {
    /// [`SCHEMA`] when it was written.
    pub schema: u32,
    /// The engine revision that made the rows.
    pub engine: u32,
    /// The program's version.
    pub version: Text,
    /// Wall time at stamp 0 of the run.
    pub wall: Wall,
    /// Whether this is a further file of a run that goes on.
    pub continues: bool,
    /// `seq` of the next row.
    pub next_seq: u64,
    /// Chain of the last row, 32 zeros at first.
    pub chain: Text,
    /// This capture's file name.
    pub capture: Text,
    /// The capture before it, if there was one and its digest is known.
    pub before: Option<Finished>,
    /// Which log this is: made once, with the first row.
    pub log_id: Text,
    /// What went wrong at opening the log, one `gap` row each.
    pub repaired: Vec<Text>,
    /// Rows (CSV lines) of jobs that have no end yet, in order.
    pub unfinished: Vec<String>,
    /// Rows (CSV lines) of checks of meters that still count, in order.
    #[serde(default)]
    pub proved: Vec<String>,
    /// Everything in force.
    pub settings: Settings,
}

/// A finished capture file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Finished {
    /// Its file name.
    pub capture: Text,
    /// SHA-256 of the whole file in hexadecimal.
    pub sha256: Text,
}

/// Everything in force, checked.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// The ports; a [`PortId`] is a place in this list.
    pub ports: Vec<Port>,
    /// The meters; a [`MeterId`](crate::meter::MeterId) is a place in this list.
    pub meters: Vec<Meter>,
    /// The text of each description in use, by name.
    pub descriptions: BTreeMap<Text, String>,
    /// Whether an overdue calibration blocks passes.
    pub require_calibrated: bool,
}

/// Something asked for, by a person or a program.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Command {
    /// Chosen by the asker; the outcome names it.
    pub id: u64,
    /// Who asks, as typed.
    pub by: Option<Text>,
    /// What for.
    pub act: Act,
}

/// What can be asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Act {
    /// Begin a job.
    StartJob(Box<JobPlan>),
    /// The person confirms what is asked now.
    Confirm {
        /// The job.
        job: Text,
        /// What is confirmed: must be what is asked.
        what: Attestation,
    },
    /// The clips are on: over-range counts from here.
    ClipsOn {
        /// The job.
        job: Text,
    },
    /// Take a contact again although the clips were not seen to leave.
    Again {
        /// The meter's name.
        meter: Text,
    },
    /// Measure a point again.
    Redo {
        /// The job.
        job: Text,
        /// The point.
        point: Point,
    },
    /// Leave a point out.
    Skip {
        /// The job.
        job: Text,
        /// The point; none: the one asked for now.
        point: Option<Point>,
        /// Why.
        reason: Text,
    },
    /// A row does not count any more.
    Withdraw {
        /// The row.
        seq: u64,
        /// Why.
        reason: Text,
    },
    /// A reviewer's word on a row, or on the job that ends with it.
    Review {
        /// The row.
        seq: u64,
        /// What the reviewer says.
        words: Text,
    },
    /// Set a job aside, so that its bench is free.
    Park {
        /// The job.
        job: Text,
        /// Why: cooling, drying, discharging.
        reason: Text,
    },
    /// Go on with a parked or interrupted job.
    GoOn {
        /// The job.
        job: Text,
    },
    /// End a job with what it has.
    EndJob {
        /// The job.
        job: Text,
    },
    /// A value read by eye.
    Enter(Box<Entered>),
    /// Check a meter on known resistors.
    Prove(Box<Prove>),
    /// Words for the log.
    Note {
        /// The job, if it belongs to one.
        job: Option<Text>,
        /// The words.
        note: Text,
    },
}

words! {
    /// What a person can attest.
    Attestation {
        /// Off, locked out, proven dead with a tester tried on a known source
        /// before and after, shafts at rest.
        Dead = "dead",
        /// What is still in the circuit is disconnected.
        Disconnected = "disconnected",
        /// Everyone stands clear, the test voltage may be pressed.
        StandClear = "stand_clear",
        /// The test voltage went on (for a tester that sends none).
        VoltageOn = "voltage_on",
        /// The test voltage is off.
        VoltageOff = "voltage_off",
        /// Both ends of the leads are on what they should be on.
        BothEnds = "both_ends",
        /// The winding is shorted to ground to discharge.
        ShortedToGround = "shorted_to_ground",
        /// The display changes when the clips are opened or joined: it is not held.
        DisplayFollows = "display_follows",
    }
}

/// A value read by eye.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entered {
    /// The job; none: a value of no job.
    pub job: Option<Text>,
    /// The point; none: the one asked for now.
    pub point: Option<Point>,
    /// The meter's name, as configured; the same rules hold for it.
    pub meter: Text,
    /// What was read; none: over-range.
    pub shown: Option<Shown>,
    /// The full scale of the range, if over-range.
    pub full_scale: Option<Decimal>,
    /// For insulation: the test voltage, as read or as set.
    pub test_voltage: Option<Volts>,
    /// For insulation: seconds under voltage.
    pub elapsed_s: Option<Decimal>,
}

/// A check of a meter on known resistors.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Prove {
    /// The meter's name.
    pub meter: Text,
    /// The resistors, in the order in which they are clipped; none: a check
    /// that runs is broken off.
    pub known: Vec<Known>,
    /// What the clips joined read, where values are typed.
    pub leads: Option<Shown>,
}

/// A resistor whose value is known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Known {
    /// Its value.
    pub ohms: Decimal,
    /// How far it may be off, in percent of its value.
    pub percent: Decimal,
    /// What the meter reads on it.
    pub read: Read,
}

/// Where the reading of a known resistor comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Read {
    /// From the meter's stream: the settled value.
    Live,
    /// Typed, as on the display.
    Shown(Shown),
    /// Typed: over-range.
    OverRange,
}

/// A job as it is asked for. What it must meet travels inside it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JobPlan {
    /// The bench; none: the first.
    pub bench: Option<Text>,
    /// The motor and its limits.
    pub motor: Motor,
    /// Which machine it is.
    pub asset: Text,
    /// Who tests: typed, not authenticated.
    pub tester: Text,
    /// When in its stay.
    pub stage: Stage,
    /// Where the clips are.
    pub measured_at: MeasuredAt,
    /// What the ground clip holds.
    pub ground_reference: GroundReference,
    /// The winding's temperature, if known.
    pub temperature: Option<Celsius>,
    /// The cable that the windings are read through, if it is to be subtracted.
    #[serde(default)]
    pub cable: Option<Cable>,
    /// How near a limit may still pass.
    pub acceptance: Acceptance,
    /// The profile of insulation limits; none: the motor's own.
    pub profile: Option<Text>,
    /// The profile's condition.
    pub condition: Option<Text>,
    /// What the profile says, as data; none: the shipped one of that name.
    #[serde(default)]
    pub limits: Option<Box<Profile>>,
    /// Bands that ratios are named by, the user's own.
    #[serde(default)]
    pub bands: Vec<Bands>,
    /// The sheet; none: the default one of the motor's kind.
    #[serde(default)]
    pub sheet: Option<Box<Sheet>>,
    /// What this asset read before at this place.
    #[serde(default)]
    pub baseline: Option<Box<Baseline>>,
}
