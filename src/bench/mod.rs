//! Benches and jobs: which value belongs to which point, and what comes next.
//!
//! A job is one motor under test; its sheet lists the points. Values come in
//! from settling, verdicts from `judge`, rows go out. What a person does is a
//! command; what they should do next is an [`Ask`](crate::view::Ask). Nothing
//! here waits: time is an argument.

use crate::input::{Command, Settings};
use crate::meter::MeterId;
use crate::reading::{Sample, Take};
use crate::row::{Recorded, Row};
use crate::settle::{Reset, Spec, Steady};
use crate::stamp::{Stamp, Wall};
use crate::view::JobView;

/// The moment something happens, and what is in force.
#[derive(Clone, Copy, Debug)]
pub struct Now<'a> {
    /// Engine time.
    pub at: Stamp,
    /// Wall time of the same moment.
    pub wall: Wall,
    /// Everything in force.
    pub settings: &'a Settings,
}

/// What comes out: rows for the log, and what settling should do next.
#[derive(Debug, Default)]
pub struct Out {
    /// `seq` of the next row: the log counts the same.
    pub next_seq: u64,
    /// The capture that rows come from, empty if none.
    pub capture: String,
    /// The ordinal of the input at hand in it.
    pub offset: u64,
    /// The rows, in order.
    pub rows: Vec<Row>,
    /// For settling, in order.
    pub steer: Vec<(MeterId, Steer)>,
}

impl Out {
    /// Puts a row out and returns its `seq`.
    pub fn row(&mut self, mut row: Row) -> u64 {
        if !self.capture.is_empty() {
            row.capture.clone_from(&self.capture);
            row.capture_offset = Some(self.offset);
        }
        self.rows.push(row);
        self.next_seq += 1;
        self.next_seq - 1
    }
}

/// What a bench asks of a meter's settling.
#[derive(Clone, Debug, PartialEq)]
pub enum Steer {
    /// Wait for something else.
    Respec(Spec),
    /// Over-range counts from now, once.
    ClipsOn,
    /// The test voltage is on or off, as a person says.
    Voltage(bool),
    /// Start anew.
    Reset(Reset),
}

/// Why a command is not carried out, said to the one who asked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error, serde::Serialize)]
#[error("{message}")]
pub struct Refusal {
    /// What was expected, what was found, what to do.
    pub message: String,
}

/// What a command came to, when it was carried out.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Done {
    /// The job it began or touched.
    pub job: Option<String>,
    /// The `seq` of the first row it made, if it made one.
    pub seq: Option<u64>,
}

/// All benches with their jobs.
#[derive(Debug, Default)]
pub struct Benches {}

impl Benches {
    /// Benches without jobs.
    pub fn new() -> Self {
        Self {}
    }

    /// Rebuilds jobs without an end from their rows; they show as interrupted.
    pub fn resume(&mut self, rows: &[Recorded], now: Now<'_>) {
        let _ = (rows, now);
    }

    /// Carries out a command that concerns jobs.
    ///
    /// # Errors
    /// Says why it is refused; then nothing has changed.
    pub fn command(
        &mut self,
        now: Now<'_>,
        command: &Command,
        out: &mut Out,
    ) -> Result<Done, Refusal> {
        let _ = (now, command, out);
        Err(Refusal {
            message: String::from("no jobs yet"),
        })
    }

    /// A sample, before it reaches settling: voltage on the clips, a forbidden test voltage.
    pub fn heard(&mut self, now: Now<'_>, meter: MeterId, sample: &Sample, out: &mut Out) {
        let _ = (now, meter, sample, out);
    }

    /// What settling came to. Without a job it is logged and not judged.
    pub fn took(&mut self, now: Now<'_>, meter: MeterId, take: &Take, out: &mut Out) {
        let _ = (now, meter, take, out);
    }

    /// Nothing was heard from a meter since `since`, and it is back, or lost something.
    pub fn gap(&mut self, now: Now<'_>, meter: MeterId, since: Stamp, out: &mut Out) {
        let _ = (now, meter, since, out);
    }

    /// The clock stepped or the machine slept.
    pub fn clock_step(&mut self, now: Now<'_>, out: &mut Out) {
        let _ = (now, out);
    }

    /// Time passed.
    pub fn expire(&mut self, now: Now<'_>, out: &mut Out) {
        let _ = (now, out);
    }

    /// When [`Benches::expire`] wants to be called.
    pub fn deadline(&self) -> Option<Stamp> {
        None
    }

    /// What settling waits for on a meter that no job uses now.
    pub fn idle_spec() -> Spec {
        Spec::Steady(Steady::default())
    }

    /// The jobs, live.
    pub fn view(&self, now: Now<'_>) -> Vec<JobView> {
        let _ = now;
        Vec::new()
    }
}
