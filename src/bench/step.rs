//! The one next thing: what a job asks for now.
//!
//! A pure look at the job. Whatever changes what is asked goes through
//! `Job::refresh` or a row first.

use crate::input::Attestation;
use crate::meter::Meter;
use crate::settle::{Hold, Spec, Steady};
use crate::text::Text;
use crate::view::JobState;

use super::job::Job;
use super::sheet::{Entry, Role};
use super::{Now, rows};

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    /// A person's word, for a point or for a meter's place in the sheet.
    Confirm(Attestation, usize),
    /// A point is measured.
    Measure(usize),
    /// The winding clip stays, the other goes to a second lead.
    Contact(usize),
    /// Voltage is on the clips: nothing is asked for.
    Stop,
    /// It is set aside or interrupted.
    Aside,
    /// Nothing is left.
    Finished,
}

impl Step {
    /// The entry it is for.
    pub(super) fn entry(self) -> Option<usize> {
        match self {
            Self::Confirm(_, at) | Self::Measure(at) | Self::Contact(at) => Some(at),
            Self::Stop | Self::Aside | Self::Finished => None,
        }
    }
}

/// What `job` asks for now. `voltage`: whether voltage is on the clips.
pub(super) fn step(job: &Job, now: &Now<'_>, voltage: bool) -> Step {
    if job.state != JobState::Active {
        return Step::Aside;
    }
    let next = planned(job, now);
    // Rule 16: nothing is asked for but a person's word that makes it dead.
    match next {
        Step::Measure(at) if voltage && job.entries[at].role != Role::Insulation => Step::Stop,
        Step::Contact(_) if voltage => Step::Stop,
        // What a press left in the winding is the tester's own; anything else is not.
        Step::Measure(_)
        | Step::Confirm(
            Attestation::Disconnected | Attestation::StandClear | Attestation::VoltageOn,
            _,
        ) if voltage && !job.live.charge.is_any() => Step::Stop,
        other => other,
    }
}

fn planned(job: &Job, now: &Now<'_>) -> Step {
    // A hold that runs on to a later mark is not disturbed for its contact.
    let runs = |at: usize| job.live.run.as_ref().is_some_and(|run| run.entry == at);
    let mut pending = job.live.pending.iter();
    if let Some(pending) = pending.find(|p| p.contact_due && !runs(p.entry)) {
        let at = pending.entry;
        return match job.entries[at].role {
            Role::Insulation if typed_voltage(job, now, at) && job.live.charge.is_on() => {
                Step::Confirm(Attestation::VoltageOff, at)
            }
            Role::Insulation => Step::Confirm(Attestation::BothEnds, at),
            // No clip is moved on a charged winding, for no proof either.
            _ if job.live.charge.needs_short() => discharged_first(job, at),
            _ => Step::Contact(at),
        };
    }
    if job.live.let_go && job.live.charge.is_on() {
        let at = job.place(Role::Insulation, None).unwrap_or_default();
        return Step::Confirm(Attestation::VoltageOff, at);
    }
    let next = job.entries.iter().position(|e| e.due);
    let charged = job.live.charge.needs_short();
    // The same point may be pressed again; clips are not moved on a charged winding.
    let same = |at: usize| {
        let of_role = job.entries.iter().filter(|e| e.role == Role::Insulation);
        job.entries[at].role == Role::Insulation
            && (job.live.charged == Some(at) || of_role.count() == 1)
    };
    if charged && !next.is_some_and(same) {
        return discharged_first(job, next.unwrap_or_default());
    }
    let Some(at) = next else {
        return Step::Finished;
    };
    let entry = &job.entries[at];
    if entry.role == Role::Dead {
        return Step::Confirm(Attestation::Dead, at);
    }
    if !display_known(job, now, entry) {
        return Step::Confirm(Attestation::DisplayFollows, at);
    }
    if entry.role == Role::Insulation {
        for what in [Attestation::Disconnected, Attestation::StandClear] {
            if !job.holds(what) {
                return Step::Confirm(what, at);
            }
        }
        if typed_voltage(job, now, at) && !job.live.charge.is_on() {
            return Step::Confirm(Attestation::VoltageOn, at);
        }
    }
    Step::Measure(at)
}

/// Off, then shorted; `at` where the sheet has no insulation test.
fn discharged_first(job: &Job, at: usize) -> Step {
    let at = job.place(Role::Insulation, None).unwrap_or(at);
    if job.live.charge.is_on() {
        Step::Confirm(Attestation::VoltageOff, at)
    } else {
        Step::Confirm(Attestation::ShortedToGround, at)
    }
}

/// Rule 19: a display that may be held unseen must be seen to change, once a job and meter.
fn display_known(job: &Job, now: &Now<'_>, entry: &Entry) -> bool {
    let Some(name) = &entry.meter else {
        return true;
    };
    job.live.follows.contains(name)
        || rows::named(now, name.as_str()).is_none_or(|(id, _)| now.shows(id).held)
}

/// Whether a person must say that the test voltage of an entry's meter is on.
pub(super) fn typed_voltage(job: &Job, now: &Now<'_>, at: usize) -> bool {
    job.entries[at]
        .meter
        .as_ref()
        .and_then(|name| rows::named(now, name.as_str()))
        .is_some_and(|(id, _)| !now.shows(id).test_voltage)
}

/// What settling waits for in this step, and on which meter; none: as it is.
pub(super) fn spec(job: &Job, now: &Now<'_>, step: Step) -> Option<(Text, Spec)> {
    let at = step.entry()?;
    let entry = &job.entries[at];
    let meter = entry.meter.clone()?;
    let held = match step {
        Step::Measure(_) => true,
        // The clock of a tester that sends no voltage starts with this word.
        Step::Confirm(Attestation::VoltageOn, _) => true,
        // What a tester shows until its button is let go is no steady value.
        Step::Confirm(
            Attestation::VoltageOff | Attestation::BothEnds | Attestation::ShortedToGround,
            _,
        ) => return None,
        _ => false,
    };
    if entry.role == Role::Insulation && held {
        let mut hold = Hold::new(job.planned(entry)?, &job.marks(entry));
        hold.voltage_measured = !typed_voltage(job, now, at);
        return Some((meter, Spec::Hold(hold)));
    }
    Some((meter, Spec::Steady(Steady::default())))
}

/// The meter of an entry, as the settings have it now.
pub(super) fn meter_of<'a>(now: &Now<'a>, entry: &Entry) -> Option<&'a Meter> {
    entry
        .meter
        .as_ref()
        .and_then(|name| rows::named(now, name.as_str()))
        .map(|(_, meter)| meter)
}
