//! Settling: from samples to the one value that is logged.
//!
//! The question is never "does it look steady" but "is what is still to come
//! provably below the tolerance". A steady test never takes a value on time
//! alone; a timed hold never waits for steady. Nothing here reads a clock, and
//! nothing is allocated after [`Settle::new`].

use core::time::Duration;

use crate::quantity::{Ohms, Volts};
use crate::reading::{Sample, Take};
use crate::stamp::Stamp;

use contact::{Contact, Phase};
use hold::{Holding, Press};
use look::Hindrance;

mod contact;
mod hold;
mod look;
mod pace;
mod ramp;
mod rules;
mod sums;
mod why;
mod window;

#[cfg(test)]
mod tests;

pub use why::Why;

/// What to wait for.
#[derive(Clone, Debug, PartialEq)]
pub enum Spec {
    /// A value that has settled.
    Steady(Steady),
    /// A value at the marks of a timed hold.
    Hold(Hold),
}

/// How near is near enough in a steady test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steady {
    /// Right within this many counts of the range shown …
    pub tol_counts: f64,
    /// … or this part of the value, whichever is larger.
    pub tol_rel: f64,
    /// Drift slower than this part of the value a second is settled for now.
    pub drift_rel_per_s: f64,
    /// Drift slower than this many counts a second is settled for now.
    pub drift_counts_per_s: f64,
    /// Whether over-range is an answer without a person's word.
    pub open_is_verdict: bool,
    /// How long over-range must last to be one.
    pub open_hold: Duration,
}

impl Default for Steady {
    fn default() -> Self {
        Self {
            tol_counts: 2.0,
            tol_rel: 0.002,
            drift_rel_per_s: 0.000_2,
            drift_counts_per_s: 0.2,
            open_is_verdict: false,
            open_hold: Duration::from_secs(3),
        }
    }
}

/// A timed hold of a test voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Hold {
    /// The test voltage asked for.
    pub nominal: Volts,
    /// Times after the start at which the value is taken, rising.
    pub marks: Vec<Duration>,
    /// The clock starts at this part of the nominal voltage.
    pub start_frac: f64,
    /// Below this part for about a second the hold is lost.
    pub sag_frac: f64,
    /// Whether the voltage comes in the stream; else a person says when it is on.
    pub voltage_measured: bool,
}

impl Hold {
    /// A hold of `nominal` with marks in seconds and the usual fractions.
    pub fn new(nominal: Volts, marks: &[Duration]) -> Self {
        Self {
            nominal,
            marks: marks.to_vec(),
            start_frac: 0.9,
            sag_frac: 0.85,
            voltage_measured: true,
        }
    }
}

/// Why settling starts anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reset {
    /// The connection was lost: a contact from which nothing was taken is
    /// armed again; one from which a value was taken stays taken.
    Gap,
    /// The clock stepped: as a gap, and a hold that runs is aborted.
    ClockStep,
    /// A person wants this contact again.
    Again,
}

/// Where settling stands, for people.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State {
    /// `no contact`, `moving`, `steady`, `taken`, `remove the clips`; for
    /// holds `press`, `holding`, `let go too early`, `pulled down`.
    pub word: &'static str,
    /// How far it has come, 0 to 1.
    pub progress: f32,
    /// A hold: seconds held and seconds to hold.
    pub hold: Option<(f32, f32)>,
}

/// One meter's settling.
#[derive(Clone, Debug)]
pub struct Settle {
    spec: Spec,
    /// Kept beside a hold, so that what was taken stays taken.
    contact: Contact,
    holding: Option<Holding>,
    /// Whether a run of the hold ended: the clips have been elsewhere since.
    ran: bool,
    now: Stamp,
}

impl Settle {
    /// Settling that waits for what `spec` says.
    pub fn new(spec: Spec) -> Self {
        let holding = match &spec {
            Spec::Steady(_) => None,
            Spec::Hold(hold) => Some(Holding::new(hold)),
        };
        Self {
            spec,
            contact: Contact::new(),
            holding,
            ran: false,
            now: Stamp::ZERO,
        }
    }

    /// What is waited for.
    pub fn spec(&self) -> &Spec {
        &self.spec
    }

    /// Changes what is waited for. Between two steady specs the contact is
    /// kept, so a value taken for one point is not taken again for the next;
    /// from or to a hold everything starts anew, except that a contact from
    /// which a value was taken stays at "remove the clips" if no run came
    /// between: a tester that is silent between presses shows no removal.
    pub fn respec(&mut self, spec: Spec) {
        match (&self.spec, &spec) {
            (Spec::Steady(_), Spec::Steady(_)) => {}
            (Spec::Hold(_), Spec::Hold(_)) => {}
            (Spec::Hold(_), Spec::Steady(_)) if core::mem::take(&mut self.ran) => {
                self.contact.elsewhere();
            }
            _ => self.contact.reset(Reset::Gap),
        }
        match (&spec, &mut self.holding) {
            (Spec::Steady(_), holding) => *holding = None,
            (Spec::Hold(hold), Some(holding)) => holding.another(hold),
            (Spec::Hold(hold), none) => *none = Some(Holding::new(hold)),
        }
        self.contact.another_point();
        self.spec = spec;
    }

    /// A sample arrived.
    pub fn push(&mut self, at: Stamp, sample: &Sample) -> Option<Take> {
        self.now = at;
        match (&self.spec, &mut self.holding) {
            (Spec::Steady(steady), _) => self.contact.push(at, sample, steady),
            (Spec::Hold(hold), Some(holding)) => {
                let take = holding.push(at, sample, hold);
                self.ran |= take.is_some();
                take
            }
            (Spec::Hold(_), None) => None,
        }
    }

    /// Time passed: ends waits (stall, abort). Never yields a value.
    pub fn expire(&mut self, at: Stamp) -> Option<Take> {
        self.now = self.now.max(at);
        match (&self.spec, &mut self.holding) {
            (Spec::Hold(hold), Some(holding)) => {
                let take = holding.expire(at, hold);
                self.ran |= take.is_some();
                take
            }
            _ => None,
        }
    }

    /// When [`Settle::expire`] wants to be called.
    pub fn deadline(&self) -> Option<Stamp> {
        match (&self.spec, &self.holding) {
            (Spec::Hold(hold), Some(holding)) => holding.deadline(hold),
            _ => None,
        }
    }

    /// A person says that the clips are on: over-range counts from now, once.
    pub fn clips_on(&mut self, at: Stamp) {
        self.contact.clips_on(at);
    }

    /// A person says that the test voltage is on (`true`) or off (`false`), for a tester that sends none.
    pub fn voltage(&mut self, at: Stamp, on: bool) -> Option<Take> {
        self.now = self.now.max(at);
        match (&self.spec, &mut self.holding) {
            (Spec::Hold(hold), Some(holding)) if !hold.voltage_measured => {
                holding.voltage(at, on, hold)
            }
            _ => None,
        }
    }

    /// Starts anew.
    pub fn reset(&mut self, at: Stamp, why: Reset) -> Option<Take> {
        self.now = self.now.max(at);
        self.contact.reset(why);
        match (&self.spec, &mut self.holding) {
            (Spec::Hold(hold), Some(holding)) => holding.reset(at, why, hold),
            _ => None,
        }
    }

    /// Where it stands.
    pub fn state(&self) -> State {
        match (&self.spec, &self.holding) {
            (Spec::Hold(hold), Some(holding)) => hold_state(holding, hold),
            _ => contact_state(&self.contact, self.now),
        }
    }

    /// What is waited for, in words: what `replay --why` prints.
    pub fn why(&self) -> Why {
        match (&self.spec, &self.holding) {
            (Spec::Hold(hold), Some(holding)) => Why::hold(holding, hold),
            _ => Why::contact(&self.contact),
        }
    }

    /// The spread of the last contact, in ohms: what `replay --why` prints.
    pub fn spread(&self) -> Ohms {
        self.contact.spread()
    }
}

/// How long "taken" is shown before "remove the clips".
const TAKEN_SHOWN: Duration = Duration::from_secs(1);

fn contact_state(contact: &Contact, now: Stamp) -> State {
    let (stood, need, hindrance) = contact.progress();
    let (word, progress) = match contact.phase() {
        Phase::Open => ("no contact", 0.0),
        Phase::Taken if now.since(contact.taken_at()) < TAKEN_SHOWN => ("taken", 1.0),
        Phase::Taken => ("remove the clips", 1.0),
        Phase::Touching => {
            let progress = (stood / need.dwell).min(1.0) as f32;
            let steady = hindrance == Hindrance::Short && progress > 0.4;
            (if steady { "steady" } else { "moving" }, progress)
        }
    };
    State {
        word,
        progress,
        hold: None,
    }
}

fn hold_state(holding: &Holding, spec: &Hold) -> State {
    let word = match holding.press() {
        Press::Waiting => "press",
        Press::Running { .. } => "holding",
        Press::Taken => "taken",
        Press::LetGo => "let go too early",
        Press::PulledDown => "pulled down",
    };
    let hold = holding.held(spec);
    let progress = match (hold, holding.press()) {
        (Some((held, of)), _) if of > 0.0 => (held / of).min(1.0),
        (_, Press::Taken) => 1.0,
        _ => 0.0,
    };
    State {
        word,
        progress,
        hold,
    }
}
