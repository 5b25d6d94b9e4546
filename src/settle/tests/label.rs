//! From when a contact may be logged, read off what the meter sent.

use super::scenes::{Right, Trace};
use super::traces::{GRID, Reading};

/// What may be logged of one contact.
#[derive(Clone, Debug)]
pub(crate) struct Contact {
    /// Seconds of the first touch.
    pub(crate) from: f64,
    /// Seconds from which the world may be taken …
    pub(crate) calm: f64,
    /// … and from which it must.
    pub(crate) slow: f64,
    /// Seconds of release.
    pub(crate) to: f64,
    /// What is right.
    pub(crate) right: Right,
    /// Whether the opening or step before it shows.
    pub(crate) apart: bool,
    /// Whether it may be missed whatever the readings are.
    pub(crate) optional: bool,
    /// Ohms by which the truth itself breathes (standard deviation).
    pub(crate) breathes: f64,
    /// What follows from the readings, if anything may be logged.
    pub(crate) label: Option<Label>,
}

/// What follows from the readings.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Label {
    /// Arrival of the first reading of the first lasting right plateau.
    pub(crate) earliest: f64,
    /// The same, once the world must be taken: delays count from here.
    pub(crate) oracle: f64,
    /// Arrival of the last reading that was sent in contact, and a little.
    pub(crate) end: f64,
    /// Right within this many ohms, the part of 0.002 apart.
    pub(crate) tol: f64,
    /// Whether it must be taken.
    pub(crate) required: bool,
}

impl Contact {
    /// A contact that is right at once.
    pub(crate) fn new(from: f64, to: f64, right: Right) -> Self {
        Self {
            from,
            calm: from,
            slow: from,
            to,
            right,
            apart: true,
            optional: false,
            breathes: 0.0,
            label: None,
        }
    }

    /// What an ideal meter shows at a time.
    pub(crate) fn truth(&self, world: &[f64], at: f64) -> f64 {
        match self.right {
            Right::Ohms(ohms) => ohms,
            Right::Nothing => f64::NAN,
            Right::World => {
                let cell = (at.min(self.to - 2.0 * GRID) / GRID) as usize;
                world[cell.min(world.len() - 1)]
            }
        }
    }
}

/// Seconds and readings for which a plateau must last to be one.
const LASTS: (f64, usize) = (0.7, 3);
/// Seconds of plateau, and readings, from which a contact must be taken.
const ENOUGH: (f64, f64) = (4.4, 9.0);

/// Fills in the labels of a trace.
pub(crate) fn from_readings(trace: &mut Trace) {
    for at in 0..trace.contacts.len() {
        let contact = &trace.contacts[at];
        let label = label(trace, contact);
        trace.contacts[at].label = label;
    }
}

fn label(trace: &Trace, contact: &Contact) -> Option<Label> {
    if matches!(contact.right, Right::Nothing) {
        return None;
    }
    let inside: Vec<&Reading> = trace
        .readings
        .iter()
        .filter(|r| r.sent >= contact.from && r.sent <= contact.to)
        .collect();
    let count = usual_count(&inside)?;
    let noise = trace.meter.noise;
    let counts = 2.0 + if noise > 1.0 { noise } else { 0.0 };
    let tol = counts * count + contact.breathes;
    let right = |r: &Reading| {
        let truth = contact.truth(&trace.world, r.sent);
        (r.clean - truth).abs() <= (counts * count).max(0.002 * truth.abs())
    };
    let lasting = |from: f64| {
        let mut at = 0;
        while at < inside.len() {
            let run = inside[at..].iter().take_while(|r| right(r)).count();
            let seconds = inside.get(at + run.max(1) - 1)?.sent - inside[at].sent;
            let long = run >= LASTS.1 && seconds >= LASTS.0;
            if run > 0
                && (long || at + run == inside.len())
                && let Some(first) = inside[at..at + run].iter().find(|r| r.sent >= from)
            {
                return Some(*first);
            }
            at += run.max(1);
        }
        None
    };
    let earliest = lasting(contact.calm)?.at;
    let oracle = lasting(contact.slow)?;
    // Broken plateaus count as long as their longest part.
    let mut longest = 0.0_f64;
    let mut most = 0;
    let mut at = 0;
    while at < inside.len() {
        let run = inside[at..].iter().take_while(|r| right(r)).count();
        if run > 0 {
            let from = inside[at].sent.max(contact.slow);
            longest = longest.max(inside[at + run - 1].sent - from);
            most = most.max(run);
        }
        at += run.max(1);
    }
    let enough = longest >= ENOUGH.0.max(ENOUGH.1 / trace.meter.rate) && most as f64 >= ENOUGH.1;
    let last = inside.last()?.at;
    Some(Label {
        earliest,
        oracle: oracle.at,
        end: last + 0.5_f64.max(2.0 / trace.meter.rate),
        tol,
        required: enough && contact.apart && !contact.optional,
    })
}

/// One count, in ohms, of the range on which most of the last readings came.
fn usual_count(inside: &[&Reading]) -> Option<f64> {
    let last = &inside[inside.len() - inside.len().div_ceil(4)..];
    let mut places: Vec<i8> = last.iter().map(|r| r.place).collect();
    places.sort_unstable();
    let most = places
        .iter()
        .max_by_key(|place| places.iter().filter(|p| p == place).count())?;
    Some(super::traces::ten(*most))
}
