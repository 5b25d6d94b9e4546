//! How a job begins and ends, and how it is rebuilt from its first row.

use serde::{Deserialize, Serialize};

use crate::input::JobPlan;
use crate::judge::sheet::{Against, Checked, check};
use crate::judge::{
    MinimumError, STANDING, do_not_energize, insulation_minimum, job_outcome, voltage_step,
};
use crate::limits::profile::{find, shipped};
use crate::limits::{
    Acceptance, Bands, Baseline, Cable, GroundReference, MeasuredAt, Motor, Profile, Search, Sheet,
    Stage,
};
use crate::meter::{Measures, Meter};
use crate::quantity::{Celsius, Decimal, Volts};
use crate::row::{Event, Row};
use crate::text::{Text, instead};

use super::job::Job;
use super::sheet::Meters;
use super::{Now, Out, Refusal, diagnose, refuse, rows};

/// What the `note` of a `job_start` row holds, as JSON.
#[derive(Debug, Serialize, Deserialize)]
struct StartNote {
    stage: Stage,
    measured_at: MeasuredAt,
    ground_reference: GroundReference,
    cable: Option<Cable>,
    conditions: Conditions,
    /// The motor as it was then: a later edit of the catalogue changes no job.
    motor: Motor,
    meters: Meters,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    limits: Option<Box<Profile>>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    bands: Vec<Bands>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    sheet: Option<Box<Sheet>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    baseline: Option<Box<Baseline>>,
}

#[derive(Debug, Serialize, Deserialize)]
struct Conditions {
    temperature: Option<Celsius>,
    acceptance: Acceptance,
    profile: Option<Text>,
    condition: Option<Text>,
}

/// The bench that a plan names, the first one if it names none.
pub(super) fn bench(now: &Now<'_>, wanted: Option<&Text>) -> Result<Text, Refusal> {
    let mut names: Vec<&Text> = Vec::new();
    for meter in &now.settings.meters {
        if !names.contains(&&meter.bench) {
            names.push(&meter.bench);
        }
    }
    let found = match wanted {
        None => names.first().copied(),
        Some(wanted) => names.iter().find(|n| **n == wanted).copied(),
    };
    found.cloned().ok_or_else(|| match wanted {
        Some(wanted) => refuse(format!(
            "no bench {:?}; the benches are: {}",
            wanted.as_str(),
            listed(&names)
        )),
        None => refuse("no bench: no meter is configured; add one to the settings"),
    })
}

/// Names, for a person.
pub(super) fn listed<T: core::fmt::Display>(names: &[T]) -> String {
    if names.is_empty() {
        return String::from("none");
    }
    names
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(", ")
}

/// The meters of a bench that a job uses: the first that measures what is needed.
pub(super) fn meters(now: &Now<'_>, bench: &Text) -> Result<Meters, Refusal> {
    let first = |what: Measures| {
        now.settings
            .meters
            .iter()
            .find(|m: &&Meter| m.bench == *bench && m.measures(what))
            .map(|m| m.name.clone())
    };
    let ohms = first(Measures::Ohms).ok_or_else(|| {
        refuse(format!(
            "no meter on bench {bench} measures ohms; say so with measures = [\"ohms\"] of a meter of this bench"
        ))
    })?;
    Ok(Meters {
        ohms,
        insulation: first(Measures::Insulation),
    })
}

/// The profile that a plan's values are judged by: the data it carries, else
/// the shipped one of the plan's or the motor's name.
pub(super) fn profile(plan: &JobPlan) -> Option<Profile> {
    if let Some(limits) = &plan.limits {
        return Some((**limits).clone());
    }
    let name = plan.profile.as_ref().or(plan.motor.profile.as_ref())?;
    shipped().into_iter().find(|p| p.name == *name)
}

/// The planned test voltage: a profile that says none leaves it to IEEE 43 (own).
pub(super) fn planned(profile: Option<&Profile>, motor: &Motor) -> Option<Volts> {
    match profile.filter(|p| !p.test_voltage.is_empty()) {
        Some(profile) => voltage_step(profile, motor),
        None => voltage_step(find(&shipped(), "ieee43")?, motor),
    }
}

/// Refuses a profile or a condition that does not exist, before anything is measured by it.
pub(super) fn check_profile(plan: &JobPlan) -> Result<(), Refusal> {
    let name = plan.profile.as_ref().or(plan.motor.profile.as_ref());
    // The door of the last resort: what a file may not hold, a command may not either.
    if let Some(limits) = &plan.limits {
        let wrong = |why| refuse(format!("insulation profile {}: {why}", limits.name));
        limits.check().map_err(wrong)?;
    }
    let Some(profile) = profile(plan) else {
        return match (name, &plan.condition) {
            (Some(name), _) => {
                let shipped = shipped();
                let instead = instead(name.as_str(), shipped.iter().map(|p| p.name.as_str()));
                Err(refuse(format!(
                    "no insulation profile {:?}; {instead}",
                    name.as_str()
                )))
            }
            (None, Some(condition)) => Err(refuse(format!(
                "condition {:?} belongs to a profile of insulation limits; name the profile too",
                condition.as_str()
            ))),
            (None, None) => Ok(()),
        };
    };
    match insulation_minimum(
        &profile,
        plan.motor.rated_v,
        plan.condition.as_ref().map(Text::as_str),
    ) {
        Err(error @ MinimumError::Condition { .. }) => Err(refuse(error.to_string())),
        // Without them insulation is not judged, which stops no other test.
        Ok(_)
        | Err(
            MinimumError::None { .. }
            | MinimumError::NeedsCondition { .. }
            | MinimumError::RatedVoltage(_),
        ) => Ok(()),
    }
}

/// Refuses what no cable and no winding has: it would move every value.
pub(super) fn check_numbers(plan: &JobPlan) -> Result<(), Refusal> {
    if let Some(cable) = plan.cable.as_ref().filter(|c| c.ohms < Decimal::ZERO) {
        return Err(refuse(format!(
            "expected the cable's resistance there and back in ohms, at least 0; found {}",
            cable.ohms
        )));
    }
    let doubt = plan.cable.as_ref().map(|cable| cable.doubt_percent);
    if let Some(doubt) = doubt.filter(|d| *d <= Decimal::ZERO || *d > Decimal::one(2)) {
        return Err(refuse(format!(
            "expected the cable's doubt above 0 and up to 100 %, found {doubt}: no cable is known exactly"
        )));
    }
    // From the coldest yard to the hottest winding class (own).
    match plan.temperature {
        Some(t) if !(-50.0..=200.0).contains(&t.0) => Err(refuse(format!(
            "expected the winding's temperature from -50 to 200 °C, found {}",
            t.0
        ))),
        _ => Ok(()),
    }
}

/// Refuses a sheet that must not be used on this motor with these meters.
pub(super) fn check_sheet(job: &Job) -> Result<(), Refusal> {
    let mut checked = sheet(job);
    let plan = &job.plan;
    if plan.sheet.as_ref().and_then(|s| s.search) == Some(Search::FaultPlace) {
        let condition = plan.condition.as_ref().map(Text::as_str);
        let minimum = job
            .profile()
            .map(|p| insulation_minimum(p, plan.motor.rated_v, condition));
        let why = match minimum {
            Some(Ok(_)) => None,
            Some(Err(why)) => Some(why.to_string()),
            None => Some(String::from("name an insulation profile")),
        };
        checked.refusals.extend(
            why.map(|why| format!("only a minimum tells a whole part from a faulty one: {why}")),
        );
    }
    match checked.refusals.as_slice() {
        [] => Ok(()),
        refusals => Err(refuse(format!(
            "sheet {} may not be used here: {}",
            job.plan.sheet.as_ref().map_or("", |s| s.name.as_str()),
            refusals.join("; ")
        ))),
    }
}

fn sheet(job: &Job) -> Checked {
    let usual = job.usual();
    let against = Against {
        motor: &job.plan.motor,
        planned: usual.planned,
        mark: usual.mark,
        tester: Some(job.meters.insulation.is_some()),
    };
    let sheet = job.plan.sheet.as_ref();
    sheet.map(|s| check(s, &against)).unwrap_or_default()
}

/// The row that begins a job.
pub(super) fn start_row(now: &Now<'_>, job: &Job) -> Row {
    let plan = &job.plan;
    let note = StartNote {
        stage: plan.stage,
        measured_at: plan.measured_at,
        ground_reference: plan.ground_reference,
        cable: plan.cable.clone(),
        conditions: Conditions {
            temperature: plan.temperature,
            acceptance: plan.acceptance,
            profile: plan.profile.clone(),
            condition: plan.condition.clone(),
        },
        motor: plan.motor.clone(),
        meters: job.meters.clone(),
        limits: plan.limits.clone(),
        bands: plan.bands.clone(),
        sheet: plan.sheet.clone(),
        baseline: plan.baseline.clone(),
    };
    let mut row = rows::of_job(now, job, Event::JobStart);
    // Plain data with words for keys always becomes JSON.
    row.note = serde_json::to_string(&note).unwrap_or_default();
    row.temperature_c = plan.temperature.and_then(|t| rows::tidy(t.0, -3));
    row.acceptance = Some(plan.acceptance);
    if let Some(named) = &plan.sheet {
        row.reason = format!("sheet {}", named.name);
        for warning in sheet(job).warnings {
            row.reason.push_str("; ");
            row.reason.push_str(&warning);
        }
    }
    row
}

/// A job from the row that began it.
///
/// # Errors
/// Its note does not read.
pub(super) fn from_row(row: &Row) -> Result<Job, serde_json::Error> {
    let note: StartNote = serde_json::from_str(&row.note)?;
    let plan = JobPlan {
        bench: Some(Text::clean(&row.bench)),
        motor: note.motor,
        asset: Text::clean(&row.asset),
        tester: Text::clean(&row.tester),
        stage: note.stage,
        measured_at: note.measured_at,
        ground_reference: note.ground_reference,
        temperature: note.conditions.temperature,
        cable: note.cable,
        acceptance: note.conditions.acceptance,
        profile: note.conditions.profile,
        condition: note.conditions.condition,
        limits: note.limits,
        bands: note.bands,
        sheet: note.sheet,
        baseline: note.baseline,
    };
    let bench = Text::clean(&row.bench);
    let mut job = Job::new(row.job.clone(), bench, plan, note.meters);
    job.warmth.last = row.recorded_at;
    Ok(job)
}

/// Ends a job with what it has.
pub(super) fn end(job: &mut Job, now: &Now<'_>, out: &mut Out) -> u64 {
    let results = job.results();
    let outcome = job_outcome(&results, &job.plan.motor);
    let mut words = vec![format!("{}: {}", outcome.outcome, outcome.why)];
    words.extend(do_not_energize(&results, true));
    if job.live.charge.needs_short() {
        words.push(String::from(
            "NOT DISCHARGED: the winding was under test voltage and no short to ground was confirmed",
        ));
    }
    if let Some(until) = job.live.charge.until() {
        let left = until.since(now.at).as_secs() + 1;
        words.push(format!("keep the winding shorted for {left} s more"));
    }
    words.push(STANDING.to_owned());
    let mut row = rows::of_job(now, job, Event::JobEnd);
    row.reason = words.join("; ");
    row.note = diagnose::note(job);
    job.put(row, out)
}
