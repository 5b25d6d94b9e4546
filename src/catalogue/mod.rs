//! The catalogue: the user's motor models from `motors.csv` and `points.csv`.
//!
//! A bad line never stops the rest. It is named with file, line and column and
//! what to write, and its model is remembered as not usable: a job on it is
//! `not_judged`, never judged by half a line.

mod cell;
mod import;
mod line;
mod points;
mod profiles;
mod search;
pub mod sheets;

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::path::{Path, PathBuf};

use crate::limits::{Bands, Motor, Profile, Sheet};
use crate::text::{Text, instead};

use cell::{Problems, Table};
pub use import::{ImportError, import};
pub use profiles::PROFILES;
pub use search::{Limits, Listed, Search};

/// The columns that every catalogue has, in the order of the contract.
pub const COLUMNS: [&str; 13] = [
    "model",
    "kind",
    "rated_v",
    "reference_c",
    "main_min_ohms",
    "main_max_ohms",
    "start_min_ohms",
    "start_max_ohms",
    "line_min_ohms",
    "line_max_ohms",
    "electronics",
    "profile",
    "source",
];

/// The columns that a catalogue may have besides.
pub const OPTIONAL: [&str; 6] = [
    "insulation",
    "insulation_test",
    "max_test_v",
    "unbalance_max_percent",
    "conductor",
    "sensors",
];

/// Every model, and what is wrong with the file.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    // In boxes: a tree of large values moves them whenever it grows.
    models: BTreeMap<Text, Box<Model>>,
    index: search::Index,
    /// Profiles of insulation limits: those of `profiles.toml` beside the models.
    pub profiles: Vec<Profile>,
    /// Bands for ratios: those of `profiles.toml` beside the models.
    pub bands: Vec<Bands>,
    /// Sheets: those of the folder `sheets` beside the models.
    pub sheets: Vec<Sheet>,
    /// What is wrong, in the order of the files.
    pub problems: Vec<Problem>,
}

#[derive(Clone, Debug)]
struct Model {
    motor: Motor,
    /// Why it is not usable.
    bad: Option<String>,
    line: u64,
}

/// A place in a file and what to write there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The file.
    pub file: PathBuf,
    /// From 1.
    pub line: u64,
    /// The column's name, empty for the whole line.
    pub column: String,
    /// What was expected, what was found, what to write.
    pub message: String,
}

impl Problem {
    /// With the file's name alone: what goes into a log says nothing of folders.
    fn in_log(&self) -> String {
        let name = self.file.file_name().map(PathBuf::from).unwrap_or_default();
        let short = Self {
            file: name,
            ..self.clone()
        };
        short.to_string()
    }
}

impl core::fmt::Display for Problem {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{}:{}: ", self.file.display(), self.line)?;
        if !self.column.is_empty() {
            write!(f, "{}: ", self.column)?;
        }
        f.write_str(&self.message)
    }
}

/// Why a catalogue, or a model of it, is not had.
#[derive(Debug, thiserror::Error)]
pub enum CatalogueError {
    /// The file cannot be read.
    #[error("{}: cannot be read", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// No such profile.
    #[error("no insulation profile {name:?}; {instead}")]
    Profile {
        /// As asked for.
        name: String,
        /// What there is instead.
        instead: String,
    },
    /// No such model.
    #[error("motor {model:?} is not in the catalogue; {instead}")]
    Unknown {
        /// As asked for.
        model: String,
        /// What there is instead.
        instead: String,
    },
    /// No such sheet.
    #[error("no sheet {name:?}; {instead}")]
    Sheet {
        /// As asked for.
        name: String,
        /// What there is instead.
        instead: String,
    },
}

impl Catalogue {
    /// Reads `motors.csv` and beside it `points.csv` and `profiles.toml`, if they are there.
    ///
    /// # Errors
    /// A file that cannot be read; what is wrong inside it is a [`Problem`].
    pub fn read(path: &Path) -> Result<Self, CatalogueError> {
        let mut catalogue = Self::default();
        catalogue.add_motors(path, &bytes(path)?);
        let beside = path.with_file_name("points.csv");
        if beside.is_file() {
            catalogue.add_points(&beside, &bytes(&beside)?);
        }
        let beside = path.with_file_name(PROFILES);
        if beside.is_file() {
            catalogue.add_profiles(&beside, &bytes(&beside)?);
        }
        let folder = path.with_file_name("sheets");
        if folder.is_dir() {
            catalogue.add_sheets(&folder)?;
        }
        catalogue.check_profiles(path);
        Ok(catalogue)
    }

    /// The motor of a model. One whose line is bad comes without limits, and
    /// its `source` says why.
    ///
    /// # Errors
    /// No such model, with the nearest.
    pub fn motor(&self, model: &str) -> Result<&Motor, CatalogueError> {
        let found = Text::new(model).ok().and_then(|m| self.models.get(&m));
        found
            .map(|m| &m.motor)
            .ok_or_else(|| CatalogueError::Unknown {
                model: model.to_owned(),
                instead: instead(model, self.models.keys().map(Text::as_str)),
            })
    }

    /// Every model in order, with why it is not usable, if it is not.
    pub fn iter(&self) -> impl Iterator<Item = (&Motor, Option<&str>)> {
        self.models.values().map(|m| (&m.motor, m.bad.as_deref()))
    }

    /// How many models there are, usable or not.
    pub fn len(&self) -> usize {
        self.models.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.models.is_empty()
    }

    /// Reads the text of a `motors.csv`; `path` names it in problems.
    pub fn add_motors(&mut self, path: &Path, bytes: &[u8]) {
        let mut problems = Problems::new(path);
        let mut table = match Table::open(bytes, &COLUMNS, &OPTIONAL, &mut problems) {
            Some(table) => table,
            None => return self.problems.append(&mut problems.all),
        };
        while let Some(cells) = table.next(&mut problems) {
            // What is wrong with the number of cells is the line's own problem too.
            let before = problems.all.len() - usize::from(!cells.whole);
            let Some(mut motor) = line::motor(&cells, &mut problems) else {
                continue;
            };
            let new: Vec<String> = problems.all[before..].iter().map(Problem::in_log).collect();
            let mut bad = (!new.is_empty()).then(|| new.join("; "));
            let entry = self.models.entry(motor.model.clone());
            if let Entry::Occupied(first) = &entry {
                let message = format!(
                    "{:?} is already on line {}: which of the two holds cannot be told; delete one",
                    motor.model.as_str(),
                    first.get().line
                );
                problems.add(cells.line, "model", message);
                bad = problems.all.last().map(Problem::in_log);
            }
            if let Some(why) = &bad {
                line::unusable(&mut motor, why);
            }
            let line = cells.line;
            entry.insert_entry(Box::new(Model { motor, bad, line }));
        }
        self.index = search::Index::new(self.models.keys());
        self.problems.append(&mut problems.all);
    }

    fn spoil(&mut self, model: &Text, why: &str) {
        if let Some(model) = self.models.get_mut(model) {
            line::unusable(&mut model.motor, why);
            model.bad.get_or_insert_with(|| why.to_owned());
        }
    }
}

fn bytes(path: &Path) -> Result<Vec<u8>, CatalogueError> {
    std::fs::read(path).map_err(|source| CatalogueError::Read {
        path: path.to_owned(),
        source,
    })
}

#[cfg(test)]
mod tests;
