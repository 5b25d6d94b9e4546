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
use crate::judge::profile::{MinimumError, insulation_minimum};
use crate::limits::{Motor, Profile, profile};
use crate::row::{Event, Recorded};
use crate::text::{Text, instead};

/// What jobs are judged by instead.
pub(in crate::cli) struct Limits {
    catalogue: Option<Catalogue>,
    profile: Option<Text>,
    condition: Option<Text>,
}

impl Limits {
    /// The limits that are named; none: the capture's own.
    pub(in crate::cli) fn open(
        motors: Option<&Path>,
        profile: Option<&str>,
        condition: Option<&str>,
    ) -> Result<Option<Self>, Fail> {
        if motors.is_none() && profile.is_none() && condition.is_none() {
            return Ok(None);
        }
        let text = |words: &str| Text::new(words).map_err(|e| Fail::asked(e.to_string()));
        let limits = Self {
            catalogue: motors.map(Catalogue::read).transpose()?,
            profile: profile.map(text).transpose()?,
            condition: condition.map(text).transpose()?,
        };
        if let Some(name) = profile
            && limits.named(name).is_none()
        {
            let shipped = profile::shipped();
            let own = limits.catalogue.iter().flat_map(|c| &c.profiles);
            let names: Vec<&str> = own.chain(&shipped).map(|p| p.name.as_str()).collect();
            return Err(Fail::asked(format!(
                "--profile {name:?} is unknown; {}",
                instead(name, names.into_iter())
            )));
        }
        Ok(Some(limits))
    }

    /// A profile beside the catalogue, else a shipped one.
    fn named(&self, name: &str) -> Option<Profile> {
        let own = self.catalogue.as_ref().map(|c| c.profiles.as_slice());
        let own = profile::find(own.unwrap_or_default(), name).cloned();
        own.or_else(|| profile::find(&profile::shipped(), name).cloned())
    }

    /// What a job's profile says now, by its name. One that is neither beside the
    /// catalogue nor asked for by name stays as the capture has it.
    fn data(&self, name: Option<&str>, had: Option<Profile>) -> Option<Profile> {
        let name = name?;
        let had = had.filter(|had| had.name.as_str() == name);
        let own = self.catalogue.as_ref().map(|c| c.profiles.as_slice());
        let own = profile::find(own.unwrap_or_default(), name).cloned();
        match own {
            Some(own) => Some(own),
            None if self.profile.is_some() => self.named(name),
            None => had,
        }
    }

    /// Puts these limits into the jobs that an input begins or brings along.
    /// Gives what could not be done, a line each: that job keeps its own.
    pub(in crate::cli) fn apply(&self, input: &mut Input) -> Vec<String> {
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
        let had = plan.clone();
        let said = self.replace(plan);
        let fits = self.fits(plan.limits.as_deref(), &plan.motor, &plan.condition);
        if let Err(why) = fits {
            *plan = had;
            return Err(why);
        }
        said
    }

    /// Whether the profile and the condition that are asked for go together.
    fn fits(
        &self,
        profile: Option<&Profile>,
        motor: &Motor,
        condition: &Option<Text>,
    ) -> Result<(), String> {
        if self.profile.is_none() && self.condition.is_none() {
            return Ok(());
        }
        let condition = condition.as_ref().map(Text::as_str);
        let kept = "the job keeps the limits that it had";
        let Some(profile) = profile else {
            return match condition {
                Some(_) => Err(format!("--condition belongs to a profile; {kept}")),
                None => Ok(()),
            };
        };
        match insulation_minimum(profile, motor.rated_v, condition) {
            Err(e @ MinimumError::NeedsCondition { .. }) => {
                Err(format!("{e}: name it with --condition; {kept}"))
            }
            Err(e @ MinimumError::Condition { .. }) => Err(format!("{e}; {kept}")),
            _ => Ok(()),
        }
    }

    fn replace(&self, plan: &mut JobPlan) -> Result<(), String> {
        if let Some(profile) = &self.profile {
            plan.profile = Some(profile.clone());
            plan.condition = None;
        }
        if let Some(condition) = &self.condition {
            plan.condition = Some(condition.clone());
        }
        let motor = self.motor(plan.motor.in_catalogue, plan.motor.model.as_str());
        if let Ok(Some(motor)) = &motor {
            plan.motor = motor.clone();
        }
        let name = plan.profile.as_ref().or(plan.motor.profile.as_ref());
        let had = plan.limits.take().map(|had| *had);
        plan.limits = self.data(name.map(Text::as_str), had).map(Box::new);
        motor.map(|_| ())
    }

    /// The catalogue's motor, if there is a catalogue and the motor came from one.
    fn motor(&self, in_catalogue: bool, model: &str) -> Result<Option<Motor>, String> {
        let Some(catalogue) = self.catalogue.as_ref().filter(|_| in_catalogue) else {
            return Ok(None);
        };
        let found = catalogue.motor(model);
        let found = found.map_err(|e| format!("{e}; it keeps the limits that it had"))?;
        Ok(Some(found.clone()))
    }

    /// The same in the row that began a job, whose note holds its plan.
    fn start_row(&self, row: &mut Recorded) -> Result<(), String> {
        let unread = |e: serde_json::Error| format!("its first row does not read: {e}");
        let mut note: Value = serde_json::from_str(&row.row.note).map_err(unread)?;
        if let Some(profile) = &self.profile {
            note["conditions"]["profile"] = profile.as_str().into();
            note["conditions"]["condition"] = Value::Null;
        }
        if let Some(condition) = &self.condition {
            note["conditions"]["condition"] = condition.as_str().into();
        }
        let in_catalogue = note["motor"]["in_catalogue"] == true;
        let model = note["motor"]["model"].as_str().unwrap_or_default();
        let motor = self.motor(in_catalogue, model);
        if let Ok(Some(motor)) = &motor {
            note["motor"] = serde_json::to_value(motor).map_err(unread)?;
        }
        let name = note["conditions"]["profile"].as_str();
        let name = name.or(note["motor"]["profile"].as_str());
        let had = serde_json::from_value(note["limits"].clone()).ok();
        let data = self.data(name, had);
        let bare: Motor = serde_json::from_value(note["motor"].clone()).map_err(unread)?;
        let condition = note["conditions"]["condition"].as_str().map(Text::clean);
        self.fits(data.as_ref(), &bare, &condition)?;
        note["limits"] = serde_json::to_value(data).map_err(unread)?;
        row.row.note = serde_json::to_string(&note).map_err(unread)?;
        motor.map(|_| ())
    }
}

/// What is worth knowing, on stderr.
#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
pub(in crate::cli) fn talk(words: &str) {
    eprintln!("stillohm: {words}");
}
