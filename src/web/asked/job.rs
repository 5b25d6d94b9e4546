//! A job as it is asked for.

use serde_json::{Map, Value};

use super::Wrong;
use super::cable::cable;
use super::connection::connected;
use super::fields::Fields;
use super::heat::temperature;
use crate::catalogue::Catalogue;
use crate::input::JobPlan;
use crate::judge::profile::{MinimumError, insulation_minimum};
use crate::limits::profile::shipped_bands;
use crate::limits::{
    Acceptance, Bands, Electronics, GroundReference, Kind, MeasuredAt, Motor, Profile, Sheet,
    Stage, Test,
};
use crate::quantity::Volts;
use crate::text::{Text, instead};

/// Checks what a job is to be. `motor` is a model of the catalogue, or
/// `{kind, rated_v, electronics}` of one that is in none.
///
/// # Errors
/// Everything that is missing or wrong.
pub fn job_plan(said: &Map<String, Value>, catalogue: &Catalogue) -> Result<JobPlan, Wrong> {
    let mut fields = Fields::new(said);
    let motor = fields.need("motor", |f, key| motor(f, key, catalogue));
    let motor = connected(&mut fields, motor);
    let asset = fields.need("asset", Fields::text);
    let tester = fields.text("tester").unwrap_or_default();
    let said_at = fields.choice("measured_at", MeasuredAt::ALL, MeasuredAt::word);
    let cable = cable(&mut fields);
    let measured_at = match (said_at, &cable) {
        (Some(MeasuredAt::Motor), Some(cable)) => {
            let message = format!(
                "a cable is not in the way at the motor: leave it out, or say measured_at panel or splice; found {} ohm",
                cable.ohms
            );
            fields.wrong("cable", message);
            MeasuredAt::Motor
        }
        (Some(at), _) => at,
        // Who gives a cable reads through it.
        (None, Some(_)) => MeasuredAt::Panel,
        (None, None) => MeasuredAt::Motor,
    };
    // On the bench the bare frame is at hand; along a cable nobody can know (own).
    let usual = match measured_at {
        MeasuredAt::Motor => GroundReference::Frame,
        MeasuredAt::Splice | MeasuredAt::Panel => GroundReference::Other,
    };
    let sheet = sheet(&mut fields, catalogue);
    let profile = fields.text("profile");
    let limits = limits(&mut fields, profile.as_ref(), motor.as_ref(), catalogue);
    let condition = fields.text("condition");
    // Who names a profile names its condition; a motor that brings its own can
    // still have its windings measured, and the job says what it lacks.
    if let Some(limits) = limits.as_deref().filter(|_| condition.is_none())
        && profile.is_some()
        && sheet.as_ref().is_none_or(tests_ground)
    {
        needs_condition(&mut fields, limits, motor.as_ref());
    }
    let plan = JobPlan {
        bench: fields.text("bench"),
        motor: Motor::unlisted(Text::default(), Kind::Other, None, Electronics::Unknown),
        asset: Text::default(),
        tester,
        stage: fields
            .choice("stage", Stage::ALL, Stage::word)
            .unwrap_or(Stage::Arrival),
        measured_at,
        ground_reference: fields
            .choice(
                "ground_reference",
                GroundReference::ALL,
                GroundReference::word,
            )
            .unwrap_or(usual),
        temperature: temperature(&mut fields),
        cable,
        acceptance: fields
            .choice("acceptance", Acceptance::ALL, Acceptance::word)
            .unwrap_or(Acceptance::Simple),
        profile,
        condition,
        limits,
        bands: bands(&mut fields, sheet.as_ref(), catalogue),
        sheet: sheet.map(Box::new),
        baseline: None,
    };
    let whole = motor.zip(asset).map(|(motor, asset)| JobPlan {
        motor,
        asset,
        ..plan
    });
    fields.done(whole)
}

fn sheet(fields: &mut Fields<'_>, catalogue: &Catalogue) -> Option<Sheet> {
    let name = fields.text("sheet")?;
    match catalogue.sheet(name.as_str()) {
        Ok(sheet) => Some(sheet),
        Err(e) => {
            fields.wrong("sheet", e.to_string());
            None
        }
    }
}

/// The profile that is named, else the motor's, as data: one's own or a shipped one.
fn limits(
    fields: &mut Fields<'_>,
    named: Option<&Text>,
    motor: Option<&Motor>,
    catalogue: &Catalogue,
) -> Option<Box<Profile>> {
    let (key, name) = match (named, motor.and_then(|m| m.profile.as_ref())) {
        (Some(name), _) => ("profile", name),
        (None, Some(name)) => ("motor", name),
        (None, None) => return None,
    };
    match catalogue.profile(name.as_str()) {
        Ok(profile) => Some(Box::new(profile)),
        Err(e) => {
            fields.wrong(key, e.to_string());
            None
        }
    }
}

/// Whether a sheet has a point that the profile's minimum judges.
fn tests_ground(sheet: &Sheet) -> bool {
    let judged = [Test::Ground, Test::Insulation];
    sheet.steps.iter().any(|s| judged.contains(&s.point.test))
}

/// Said before the first clip: without its condition nothing would be judged by it.
fn needs_condition(fields: &mut Fields<'_>, profile: &Profile, motor: Option<&Motor>) {
    let rated = motor.and_then(|m| m.rated_v);
    if let Err(e @ MinimumError::NeedsCondition { .. }) = insulation_minimum(profile, rated, None) {
        fields.wrong("condition", e.to_string());
    }
}

/// The bands that a sheet's ratios name, as they are now.
fn bands(fields: &mut Fields<'_>, sheet: Option<&Sheet>, catalogue: &Catalogue) -> Vec<Bands> {
    let shipped = shipped_bands();
    let known = catalogue.bands.iter().chain(&shipped);
    let mut found = Vec::new();
    for step in sheet.iter().flat_map(|s| &s.steps) {
        let Some(name) = &step.bands else { continue };
        match known.clone().find(|b| b.name == *name) {
            Some(bands) => found.push(bands.clone()),
            None => {
                let near = instead(name.as_str(), known.clone().map(|b| b.name.as_str()));
                fields.wrong("sheet", format!("{}: no bands {name}; {near}", step.point));
            }
        }
    }
    found
}

fn motor(fields: &mut Fields<'_>, key: &'static str, catalogue: &Catalogue) -> Option<Motor> {
    match fields.get(key)? {
        Value::String(model) => match catalogue.motor(model.trim()) {
            Ok(motor) => Some(motor.clone()),
            Err(e) => {
                let message = format!(
                    "{e}; for one that is in none give its kind, rated_v and electronics instead"
                );
                fields.wrong(key, message);
                None
            }
        },
        Value::Object(said) => {
            let mut inner = Fields::inside(said, "motor.");
            let model = inner
                .text("model")
                .unwrap_or_else(|| Text::clean("not in the catalogue"));
            let kind = inner.need("kind", |f, key| f.choice(key, Kind::ALL, Kind::word));
            let rated = inner.need("rated_v", rated);
            let electronics = inner.need("electronics", |f, key| {
                f.choice(key, Electronics::ALL, Electronics::word)
            });
            fields.join(inner);
            Some(Motor::unlisted(model, kind?, Some(rated?), electronics?))
        }
        other => {
            fields.wrong(
                key,
                format!("expected a model or {{kind, rated_v, electronics}}, found {other}"),
            );
            None
        }
    }
}

fn rated(fields: &mut Fields<'_>, key: &'static str) -> Option<Volts> {
    let volts = fields.number(key)?.to_f64();
    if volts > 0.0 && volts <= 100_000.0 {
        return Some(Volts(volts));
    }
    fields.wrong(
        key,
        format!("expected volts above 0 and up to 100000, found {volts}"),
    );
    None
}
