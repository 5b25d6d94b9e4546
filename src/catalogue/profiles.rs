//! A shop's own profiles and bands: `profiles.toml` beside `motors.csv`.
//!
//! They stand beside those that come with the program and never in their
//! place. A bad one is named with line and column and left out; the rest holds.

use std::path::Path;

use super::cell::Problems;
use super::{Catalogue, CatalogueError};
use crate::limits::Profile;
use crate::limits::profile::{find, read, shipped};
use crate::text::instead;

/// The file's name, beside the models.
pub const PROFILES: &str = "profiles.toml";

impl Catalogue {
    /// Reads the text of a `profiles.toml`; `path` names it in problems.
    pub fn add_profiles(&mut self, path: &Path, bytes: &[u8]) {
        let mut problems = Problems::new(path);
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        match core::str::from_utf8(bytes) {
            Ok(text) => {
                let mut found = read(text);
                for wrong in found.wrong {
                    let line = u64::try_from(wrong.line).unwrap_or(u64::MAX);
                    problems.add(line, &format!("column {}", wrong.column), wrong.message);
                }
                self.profiles.append(&mut found.profiles);
                self.bands.append(&mut found.bands);
            }
            Err(_) => problems.add(1, "", "expected UTF-8 text; save the file as UTF-8"),
        }
        self.problems.append(&mut problems.all);
    }

    /// A profile by name: one's own, else one that comes with the program.
    ///
    /// # Errors
    /// No such profile, with the nearest.
    pub fn profile(&self, name: &str) -> Result<Profile, CatalogueError> {
        let shipped = shipped();
        let found = find(&self.profiles, name).or_else(|| find(&shipped, name));
        found.cloned().ok_or_else(|| {
            let known = self.profiles.iter().chain(&shipped);
            CatalogueError::Profile {
                name: name.to_owned(),
                instead: instead(name, known.map(|p| p.name.as_str())),
            }
        })
    }

    /// Names the models whose profile is none: a job of them is refused until one is named.
    pub(super) fn check_profiles(&mut self, motors: &Path) {
        let mut problems = Problems::new(motors);
        let shipped = shipped();
        let mut lines: Vec<_> = self.models.values().collect();
        lines.sort_by_key(|model| model.line);
        for model in lines {
            let Some(name) = model.motor.profile.as_ref().map(|n| n.as_str()) else {
                continue;
            };
            if find(&self.profiles, name).is_none()
                && find(&shipped, name).is_none()
                && let Err(unknown) = self.profile(name)
            {
                problems.add(model.line, "profile", unknown.to_string());
            }
        }
        self.problems.append(&mut problems.all);
    }
}
