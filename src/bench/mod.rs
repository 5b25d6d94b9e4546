//! Benches and jobs: which value belongs to which point, and what comes next.
//!
//! A job is one motor under test; its sheet lists the points. Values come in
//! from settling, verdicts from `judge`, rows go out. What a person does is a
//! command; what they should do next is an [`Ask`](crate::view::Ask). Nothing
//! here waits: time is an argument.

mod after;
mod ask;
mod command;
mod confirm;
mod diagnose;
mod discharge;
mod guided;
mod job;
mod ledger;
mod marks;
mod proof;
mod prove;
mod resume;
mod rows;
mod sheet;
mod start;
mod step;
mod take;
mod typed;
mod view;
mod voltage;
mod warmth;
mod withdraw;

#[cfg(test)]
mod tests;

use core::time::Duration;
use std::collections::BTreeMap;

use crate::input::{Command, Settings};
use crate::meter::MeterId;
use crate::reading::{Sample, Take};
use crate::row::{Event, Recorded, Row};
use crate::settle::{Reset, Spec, Steady};
use crate::stamp::{Stamp, Wall};
use crate::text::Text;
use crate::view::JobView;

use job::Job;
pub use prove::Checks;
use voltage::Watch;

/// The moment something happens, and what is in force.
#[derive(Clone, Copy, Debug)]
pub struct Now<'a> {
    /// Engine time.
    pub at: Stamp,
    /// Wall time of the same moment.
    pub wall: Wall,
    /// Everything in force.
    pub settings: &'a Settings,
    /// What each meter's stream can show, in the order of the settings.
    pub shows: &'a [Shows],
}

/// What a meter's description can show; without it a person is asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Shows {
    /// That its display is held.
    pub held: bool,
    /// Its test voltage.
    pub test_voltage: bool,
}

impl Now<'_> {
    fn shows(&self, meter: MeterId) -> Shows {
        self.shows
            .get(usize::from(meter.0))
            .copied()
            .unwrap_or_default()
    }
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

fn refuse(message: impl Into<String>) -> Refusal {
    Refusal {
        message: message.into(),
    }
}

/// All benches with their jobs.
#[derive(Debug, Default)]
pub struct Benches {
    /// Jobs without an end, the oldest first.
    jobs: Vec<Job>,
    /// What settling of each meter was told to wait for.
    specs: BTreeMap<MeterId, Spec>,
    /// What was heard from each meter, in the order of the settings.
    watches: Vec<Watch>,
    /// Assets whose job has ended and whose winding stays shorted, until when.
    discharges: Vec<(Text, Stamp)>,
    /// Assets whose job has ended and whose winding was not shorted, by which
    /// job, after how long under voltage.
    charged: Vec<(Text, String, Duration)>,
    /// What is known of the checks of each meter.
    checks: Checks,
    /// Checks that run now, by the meter's name.
    proving: BTreeMap<Text, prove::Proving>,
}

impl Benches {
    /// Benches without jobs.
    pub fn new() -> Self {
        Self::default()
    }

    /// Rebuilds jobs without an end from their rows; they show as interrupted.
    pub fn resume(&mut self, rows: &[Recorded], now: Now<'_>, out: &mut Out) {
        self.jobs = resume::jobs(rows, &now, out);
    }

    /// Other settings are in force: meters settle anew, and what was proven was
    /// proven under the old ones.
    pub fn changed(&mut self, now: Now<'_>, out: &mut Out) {
        self.specs.clear();
        for job in &mut self.jobs {
            job.unprove(None);
        }
        self.unprove_meter(None);
        self.clock_step(now, out);
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
        self.refresh(&now);
        let before = out.rows.len();
        let done = self.act(&now, command, out)?;
        // A person's word bears the name of who gave it, else of who tests.
        for row in &mut out.rows[before..] {
            if let (Some(by), Event::Attested | Event::Note | Event::Withdrawn) =
                (&command.by, row.event)
            {
                row.tester = by.to_string();
            }
        }
        self.after(&now, out);
        Ok(done)
    }

    /// A sample, before it reaches settling: voltage on the clips, a forbidden test voltage.
    pub fn heard(&mut self, now: Now<'_>, meter: MeterId, sample: &Sample, out: &mut Out) {
        let at = usize::from(meter.0);
        match self.watches.get(at) {
            Some(watch) if watch.is_quiet(sample) => return,
            None if Watch::default().is_quiet(sample) => return,
            Some(_) => {}
            None => self.watches.resize(at + 1, Watch::default()),
        }
        let Some(about) = rows::meter(&now, meter) else {
            return;
        };
        let changed = self.watches[at].sample(now.at, sample);
        if let Some(job) = self.active(&about.bench) {
            let job = &mut self.jobs[job];
            let before = job.live.charge.is_on();
            self.watches[at].pressed(job, &now, about, sample, out);
            self.watches[at].tell(job, &now, about, sample, out);
            if changed || before != job.live.charge.is_on() {
                self.after(&now, out);
            }
        }
    }

    /// What settling came to. Without a job it is logged and not judged.
    pub fn took(&mut self, now: Now<'_>, meter: MeterId, take: &Take, out: &mut Out) {
        let Some(about) = rows::meter(&now, meter) else {
            return;
        };
        self.refresh(&now);
        match self.active(&about.bench) {
            None if self.proving_took(&now, about, take, out) => {}
            None => take::without_job(&now, about, take, out),
            Some(at) => {
                let asked = self.step_of(at, &now);
                take::arrived(&mut self.jobs[at], &now, about, take, asked, out);
            }
        }
        self.after(&now, out);
    }

    /// Nothing was heard from a meter since `since`, and it is back, or lost
    /// something; `why` says what is known of it.
    pub fn gap(&mut self, now: Now<'_>, meter: MeterId, since: Stamp, why: &str, out: &mut Out) {
        let Some(about) = rows::meter(&now, meter) else {
            return;
        };
        if let Some(watch) = self.watches.get_mut(usize::from(meter.0)) {
            watch.broken();
        }
        let long = now.at.since(since);
        let active = self.active(&about.bench);
        let mut row = match active {
            Some(at) => rows::of_job(&now, &self.jobs[at], Event::Gap),
            None => Row::new(Event::Gap, now.wall),
        };
        rows::with_meter(&mut row, now.settings, about);
        row.reason = format!(
            "{}: {:.1} s without data; {why}",
            about.name,
            long.as_secs_f64()
        );
        let ends = long > proof::GAP_MAX;
        if ends && active.is_some_and(|at| self.jobs[at].live.proofs.contains_key(&about.name)) {
            row.reason
                .push_str("; longer than 10 s: the leads must be proven again");
        }
        out.row(row);
        if ends {
            self.unprove_meter(Some(&about.name));
            // A parked job has no proofs; one on the same bench is all there is.
            if let Some(at) = active {
                self.jobs[at].unprove(Some(&about.name));
            }
        }
        self.after(&now, out);
    }

    /// The clock stepped or the machine slept: what was heard before says
    /// nothing about now. How long the machine slept comes as gaps.
    pub fn clock_step(&mut self, now: Now<'_>, out: &mut Out) {
        for watch in &mut self.watches {
            watch.broken();
        }
        self.after(&now, out);
    }

    /// Time passed.
    pub fn expire(&mut self, now: Now<'_>, out: &mut Out) {
        self.after(&now, out);
    }

    /// When [`Benches::expire`] wants to be called.
    pub fn deadline(&self) -> Option<Stamp> {
        let jobs = self.jobs.iter().flat_map(Job::deadlines);
        jobs.chain(self.discharges.iter().map(|(_, until)| *until))
            .chain(self.proving_deadlines())
            .min()
    }

    /// What settling waits for on a meter that no job uses now.
    pub fn idle_spec() -> Spec {
        Spec::Steady(Steady::default())
    }

    /// The jobs, live.
    pub fn view(&self, now: Now<'_>) -> Vec<JobView> {
        (0..self.jobs.len())
            .map(|at| view::view(&self.jobs[at], &now, self.step_of(at, &now)))
            .collect()
    }

    /// Assets whose job has ended and whose winding stays shorted, until when.
    pub fn discharges(&self) -> impl Iterator<Item = (&Text, Stamp)> {
        self.discharges.iter().map(|(asset, until)| (asset, *until))
    }
}
