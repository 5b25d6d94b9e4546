//! Other limits than those that a capture carries: a catalogue, a profile.
//!
//! They replace what a job was started with, also in the rows of a job that
//! began before the capture. Nothing live is looked at: what is not named
//! here stays as the capture has it.

use std::path::Path;

use serde_json::Value;

use super::super::Fail;
use crate::catalogue::Catalogue;
use crate::input::{Act, Input, JobPlan, What};
use crate::judge::profile;
use crate::row::{Event, Recorded};
use crate::text::{Text, instead};

/// What jobs are judged by instead.
pub(super) struct Limits {
    catalogue: Option<Catalogue>,
    profile: Option<Text>,
    condition: Option<Text>,
}

impl Limits {
    /// The limits that are named; none: the capture's own.
    pub(super) fn open(
        motors: Option<&Path>,
        profile: Option<&str>,
        condition: Option<&str>,
    ) -> Result<Option<Self>, Fail> {
        if motors.is_none() && profile.is_none() && condition.is_none() {
            return Ok(None);
        }
        let text = |words: &str| Text::new(words).map_err(|e| Fail::asked(e.to_string()));
        if let Some(name) = profile
            && profile::find(name).is_none()
        {
            let names = profile::PROFILES.iter().map(|p| p.name);
            return Err(Fail::asked(format!(
                "--profile {name:?} is unknown; {}",
                instead(name, names)
            )));
        }
        Ok(Some(Self {
            catalogue: motors.map(Catalogue::read).transpose()?,
            profile: profile.map(text).transpose()?,
            condition: condition.map(text).transpose()?,
        }))
    }

    /// Puts these limits into the jobs that an input begins or brings along.
    /// Gives what could not be done, a line each: that job keeps its own.
    pub(super) fn apply(&self, input: &mut Input) -> Vec<String> {
        let mut missing = Vec::new();
        match &mut input.what {
            What::Command(command) => {
                if let Act::StartJob(plan) = &mut command.act {
                    let of = plan.asset.to_string();
                    missing.extend(self.plan(plan).err().map(|why| format!("{of}: {why}")));
                }
            }
            What::Begin(begin) => {
                for line in &mut begin.unfinished {
                    let Ok(mut row) = Recorded::from_line(line) else {
                        continue;
                    };
                    if row.row.event != Event::JobStart {
                        continue;
                    }
                    if let Err(why) = self.start_row(&mut row) {
                        missing.push(format!("{} {}: {why}", row.row.job, row.row.asset));
                        continue;
                    }
                    line.clear();
                    row.row.write(row.seq, line);
                    line.push_str(&row.chain);
                }
            }
            _ => {}
        }
        missing
    }

    fn plan(&self, plan: &mut JobPlan) -> Result<(), String> {
        if let Some(profile) = &self.profile {
            plan.profile = Some(profile.clone());
            plan.condition = None;
            plan.limits = None;
        }
        if let Some(condition) = &self.condition {
            plan.condition = Some(condition.clone());
        }
        match &self.catalogue {
            Some(catalogue) if plan.motor.in_catalogue => {
                let found = catalogue.motor(plan.motor.model.as_str());
                plan.motor = found
                    .map_err(|e| format!("{e}; it keeps the limits that it had"))?
                    .clone();
            }
            _ => {}
        }
        Ok(())
    }

    /// The same in the row that began a job, whose note holds its plan.
    fn start_row(&self, row: &mut Recorded) -> Result<(), String> {
        let unread = |e: serde_json::Error| format!("its first row does not read: {e}");
        let mut note: Value = serde_json::from_str(&row.row.note).map_err(unread)?;
        if let Some(profile) = &self.profile {
            note["conditions"]["profile"] = profile.as_str().into();
            note["conditions"]["condition"] = Value::Null;
            note["limits"] = Value::Null;
        }
        if let Some(condition) = &self.condition {
            note["conditions"]["condition"] = condition.as_str().into();
        }
        if let Some(catalogue) = &self.catalogue
            && note["motor"]["in_catalogue"] == true
        {
            let model = note["motor"]["model"].as_str().unwrap_or_default();
            let motor = catalogue
                .motor(model)
                .map_err(|e| format!("{e}; it keeps the limits that it had"))?;
            note["motor"] = serde_json::to_value(motor).map_err(unread)?;
        }
        row.row.note = serde_json::to_string(&note).map_err(unread)?;
        Ok(())
    }
}

/// What is worth knowing, on stderr.
#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
pub(super) fn talk(words: &str) {
    eprintln!("stillohm: {words}");
}
