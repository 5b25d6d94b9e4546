//! What a person is told: one action, in short plain words, cautions first.
//!
//! Clips are called A and B: colours differ from bench to bench. Nothing here
//! ever says that energizing is safe.

use crate::input::Attestation;
use crate::limits::{GroundReference, Kind, Point, Test};
use crate::row::Verdict;
use crate::view::{Ask, JobState};

use super::job::Job;
use super::sheet::{Entry, Role};
use super::step::{Step, typed_voltage};
use super::{Now, guided};

/// The words for a step.
pub(super) fn ask(job: &Job, now: &Now<'_>, step: Step) -> Ask {
    let mut ask = Ask::default();
    if let Some(at) = step.entry() {
        let entry = &job.entries[at];
        ask.test = entry.point.test.to_string();
        ask.point = entry.point.name.to_string();
        ask.meter = entry
            .meter
            .as_ref()
            .map(|m| m.to_string())
            .unwrap_or_default();
    }
    if let Step::Confirm(Attestation::VoltageOff | Attestation::ShortedToGround, _) = step {
        // Also where the sheet has no insulation test and voltage was on all the same.
        let point = charged();
        (ask.test, ask.point) = (point.test.to_string(), point.name.to_string());
    }
    match step {
        Step::Confirm(what, at) => {
            ask.confirm = Some(what);
            (ask.say, ask.cautions) = confirm(job, what, at);
        }
        Step::Measure(at) => {
            let role = job.entries[at].role;
            (ask.say, ask.cautions) = measure(job, now, at);
            ask.clips_on = !matches!(role, Role::Insulation | Role::Temperature);
        }
        Step::Contact(at) => {
            ask.say = format!(
                "Leave clip A on the winding. Move clip B from {} to a second lead of that winding: its value returns.",
                between(&job.entries[at]).map_or("ground", |_| "the other winding")
            );
        }
        Step::Stop => {
            ask.say = String::from(
                "Stop: voltage is on the clips. Take them off, find where it comes from, confirm that it is dead.",
            );
            ask.confirm = Some(Attestation::Dead);
            ask.cautions.push(String::from(DEAD_FIRST));
        }
        Step::Aside => {
            ask.say = String::from(match job.state {
                JobState::Interrupted => "Interrupted. Go on with it when its bench is free.",
                JobState::Active | JobState::Parked => {
                    "Set aside. Go on with it when its bench is free."
                }
            });
        }
        Step::Finished => ask.say = String::from("Nothing is left to measure."),
    }
    ask
}

/// The point that a test voltage and what follows it belong to.
pub(super) fn charged() -> Point {
    Point::new(Test::Insulation, "all_to_ground")
}

const DEAD_FIRST: &str = "Licensed people under local rules: off, locked out, proven dead again before anyone touches it.";
const HIGH_VOLTAGE: &str =
    "The test voltage can kill or injure. Licensed people under local rules only.";

fn confirm(job: &Job, what: Attestation, at: usize) -> (String, Vec<String>) {
    let one = |caution: &str| vec![caution.to_owned()];
    match what {
        Attestation::Dead => (
            String::from("Confirm: off, locked out, proven dead, shaft at rest."),
            vec![
                String::from(
                    "Licensed people only, under local rules. Try the tester on a known source before and after.",
                ),
                String::from("A turning rotor can make voltage. Capacitors keep theirs."),
            ],
        ),
        Attestation::DisplayFollows => (
            format!(
                "Open the clips of {}, then join them. Confirm that the display changes.",
                name(job, at)
            ),
            one("This meter does not tell whether its display is held."),
        ),
        Attestation::Disconnected => {
            let mut cautions = one(
                "Drive, soft starter, control box, arrester, capacitor: each would be damaged or would hide a fault.",
            );
            if !job.plan.motor.sensors.is_empty() {
                cautions.push(String::from(
                    "Join the sensor leads and connect them to ground. Sensors never get a test voltage.",
                ));
            }
            (
                String::from("Confirm: nothing but the motor and its cable is in the circuit."),
                cautions,
            )
        }
        Attestation::StandClear => (
            format!(
                "{} Confirm: everyone stands clear.",
                under_voltage(job, &job.entries[at])
            ),
            one(HIGH_VOLTAGE),
        ),
        Attestation::VoltageOn => (
            format!(
                "Set {}. Press the test button and confirm at once: voltage on.",
                volts(job, at)
            ),
            one(HIGH_VOLTAGE),
        ),
        Attestation::VoltageOff => (
            String::from("Let go of the test button. Confirm: the test voltage is off."),
            one("Time until then counts as time under voltage. Do not touch the winding yet."),
        ),
        Attestation::BothEnds => (
            format!(
                "Look at both clips before you move them. Confirm: clip A is on the winding, clip B on {}.",
                other_clip(job, &job.entries[at])
            ),
            one("The winding is charged: look, do not touch."),
        ),
        Attestation::ShortedToGround => (
            String::from("Short the winding to ground and leave it shorted. Confirm: shorted."),
            one(
                "The winding holds its charge. Use the tester's own discharge or an insulated lead.",
            ),
        ),
    }
}

fn measure(job: &Job, now: &Now<'_>, at: usize) -> (String, Vec<String>) {
    let entry = &job.entries[at];
    let searched = guided::words(job, now, at);
    let say = match entry.role {
        Role::LeadsBefore | Role::LeadsAfter if unproven(entry) => format!(
            "Join clip A and clip B of {} again: {} proves nothing.",
            name(job, at),
            last(entry)
        ),
        Role::LeadsBefore if entry.taken.is_some() => {
            format!(
                "Join clip A and clip B of {} again: the proof ended.",
                name(job, at)
            )
        }
        Role::LeadsBefore => format!("Join clip A and clip B of {}.", name(job, at)),
        Role::LeadsAfter => format!(
            "Join clip A and clip B of {} once more: this proves what was read between.",
            name(job, at)
        ),
        Role::GroundPath => String::from(ground_path(job.plan.ground_reference)),
        Role::Winding if entry.suspect && entry.taken.is_some() => format!(
            "Check the meter's range: {} is no winding. Take the clips off, then measure {} again.",
            last(entry),
            entry.point.name
        ),
        Role::Winding if searched.is_some() => String::new(),
        Role::Winding => winding(job.plan.motor.kind, entry.point.name.as_str()),
        Role::Ground if searched.is_some() => format!(
            "Clip A on a core, keep the others apart, clip B on {}. If it reads over-range, look at both clips, see that the meter is on its highest range or chooses by itself, then say: clips on.",
            ground(job)
        ),
        Role::Ground => format!(
            "{} If it reads over-range, look at both clips, see that the meter is on its highest range or chooses by itself, then say: clips on.",
            low_voltage(job, entry)
        ),
        Role::Insulation if typed_voltage(job, now, at) => {
            String::from("Hold the test voltage until the value is taken.")
        }
        Role::Insulation => match entry.wants.marks.as_slice() {
            [_, .., last] => format!(
                "Set {}. Press and hold for {last} s, without a break, until the last value is taken.",
                volts(job, at)
            ),
            _ => format!(
                "Set {}. Press and hold until the value is taken.",
                volts(job, at)
            ),
        },
        Role::Sensor => format!(
            "Clip A and clip B on the leads of {}. Ohms only: no test voltage.",
            entry.point.name
        ),
        Role::Temperature if entry.point.name.as_str() == "winding" => String::from(
            "Type the temperature of the winding, or read it with a meter that sends it.",
        ),
        Role::Temperature => {
            String::from("Type the temperature of the air, or read it with a meter that sends it.")
        }
        Role::Dead | Role::Set | Role::Ratio => String::new(),
    };
    // The sheet's own words come first, and take none of ours away.
    let say = if entry.wants.say.is_empty() {
        say
    } else {
        format!("{} {say}", entry.wants.say)
    };
    let mut cautions = match entry.role {
        _ if job.live.returned => vec![DEAD_FIRST.to_owned()],
        Role::Insulation => vec![HIGH_VOLTAGE.to_owned()],
        _ => Vec::new(),
    };
    let Some((first, theirs)) = searched else {
        return (say, cautions);
    };
    cautions.extend(theirs);
    (format!("{first} {say}").trim_end().to_owned(), cautions)
}

/// Whether leads were read and not proven by it.
fn unproven(entry: &Entry) -> bool {
    entry
        .taken
        .as_ref()
        .is_some_and(|t| t.verdict() != Some(Verdict::Pass))
}

fn last(entry: &Entry) -> &str {
    entry
        .taken
        .as_ref()
        .map_or("nothing", |t| t.row.shown.as_str())
}

fn name(job: &Job, at: usize) -> &str {
    job.entries[at]
        .meter
        .as_ref()
        .map_or("the meter", |m| m.as_str())
}

fn volts(job: &Job, at: usize) -> String {
    job.planned(&job.entries[at]).map_or_else(
        || String::from("the test voltage"),
        |v| format!("{} V", v.0),
    )
}

/// What is between two windings or two lines of a point, for a person.
fn between(entry: &Entry) -> Option<&str> {
    entry.point.name.as_str().strip_prefix("between_")
}

/// Where the clips go for a test voltage.
fn under_voltage(job: &Job, entry: &Entry) -> String {
    let name = entry.point.name.as_str();
    match (between(entry), name.strip_suffix("_to_ground")) {
        (Some(both), _) => format!(
            "Clip A on one, clip B on the other of {both}; every other lead joined to {}.",
            ground(job)
        ),
        (None, Some(lead)) if lead != "all" => format!(
            "Clip A on {lead}, clip B on {} with every other lead.",
            ground(job)
        ),
        _ => format!("Clip A on all leads joined, clip B on {}.", ground(job)),
    }
}

/// Where the clips go for an ohmmeter's low voltage.
fn low_voltage(job: &Job, entry: &Entry) -> String {
    let name = entry.point.name.as_str();
    match (between(entry), name.strip_suffix("_to_ground")) {
        (Some(both), _) => format!("Clip A on one, clip B on the other of {both}."),
        (None, Some(lead)) if lead != "all" => {
            format!("Clip A on {lead}, clip B on {}.", ground(job))
        }
        _ => format!("Clip A on a winding lead, clip B on {}.", ground(job)),
    }
}

/// What clip B is on.
fn other_clip(job: &Job, entry: &Entry) -> &'static str {
    match between(entry) {
        Some(_) => "the other winding",
        None => ground(job),
    }
}

/// What clip B holds on a ground test.
fn ground(job: &Job) -> &'static str {
    match job.plan.ground_reference {
        GroundReference::Frame => "the bare frame",
        GroundReference::GroundConductor => "the ground conductor",
        GroundReference::MetalPipe => "the metal pipe",
        GroundReference::Casing => "the casing",
        GroundReference::Other => "the ground",
    }
}

fn ground_path(reference: GroundReference) -> &'static str {
    match reference {
        GroundReference::Frame => "Clip A on the bare frame, clip B on the ground conductor.",
        GroundReference::GroundConductor => "Clip A on the ground conductor, clip B on the casing.",
        GroundReference::MetalPipe => "Clip A on the metal pipe, clip B on the ground conductor.",
        GroundReference::Casing => "Clip A on the casing, clip B on the ground conductor.",
        GroundReference::Other => "Clip A on the ground you use, clip B on a second ground.",
    }
}

/// One clip moves at a time.
fn winding(kind: Kind, point: &str) -> String {
    match (kind, point) {
        (Kind::TwoWire, "main") => String::from("Clip A on lead 1, clip B on lead 2."),
        (Kind::ThreeWire, "main") => String::from("Clip A on common, clip B on run."),
        (Kind::ThreeWire, "start") => String::from("Clip A stays on common. Move clip B to start."),
        (Kind::ThreeWire, "total") => String::from("Clip B stays on start. Move clip A to run."),
        (Kind::ThreePhase, "line_12") => String::from("Clip A on line 1, clip B on line 2."),
        (Kind::ThreePhase, "line_23") => {
            String::from("Clip B stays on line 2. Move clip A to line 3.")
        }
        (Kind::ThreePhase, "line_31") => {
            String::from("Clip A stays on line 3. Move clip B to line 1.")
        }
        (_, other) => match two_leads(other) {
            Some((a, b)) => format!("Clip A on lead {a}, clip B on lead {b}."),
            None => format!("Clip A and clip B on the ends of {other}."),
        },
    }
}

/// The numbers of a pair such as `pair_1_4` or `lead_3_1`.
fn two_leads(point: &str) -> Option<(&str, &str)> {
    let pair = point
        .strip_prefix("pair_")
        .or_else(|| point.strip_prefix("lead_"))?;
    let (a, b) = pair.split_once('_')?;
    let number = |n: &str| !n.is_empty() && n.bytes().all(|d| d.is_ascii_digit());
    (number(a) && number(b)).then_some((a, b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_says_which_clip_goes_on_which_lead() {
        for (point, said) in [
            ("pair_1_4", "Clip A on lead 1, clip B on lead 4."),
            ("lead_3_1", "Clip A on lead 3, clip B on lead 1."),
            ("pair_t1_t4", "Clip A and clip B on the ends of pair_t1_t4."),
            ("tap_2", "Clip A and clip B on the ends of tap_2."),
        ] {
            assert_eq!(winding(Kind::Other, point), said);
        }
    }
}
