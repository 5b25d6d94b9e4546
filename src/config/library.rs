//! The descriptions there are: shipped ones, a folder of one's own, a file.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::description::{Plan, shipped};
use crate::text::{Text, instead};

/// A description's text and where it comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The text.
    pub text: String,
    /// The file; none: shipped inside the program.
    pub file: Option<PathBuf>,
}

/// Every description by name.
#[derive(Clone, Debug, Default)]
pub struct Library {
    entries: BTreeMap<String, Entry>,
}

/// Why a description is not had.
#[derive(Debug, thiserror::Error)]
pub enum LibraryError {
    /// No such name.
    #[error("protocol {name:?} is unknown; {instead}; `stillohm protocols list` shows them all")]
    Unknown {
        /// The name.
        name: String,
        /// What there is instead.
        instead: String,
    },
    /// A file or folder that cannot be read.
    #[error("{}: cannot be read", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A description that does not hold.
    #[error("{place}: {message}")]
    Refused {
        /// The file, or the shipped description's name.
        place: String,
        /// What is wrong, with line and column.
        message: String,
    },
}

impl Library {
    /// What is shipped.
    pub fn shipped() -> Self {
        let entry = |(name, text): &(&str, &str)| {
            let text = (*text).to_owned();
            ((*name).to_owned(), Entry { text, file: None })
        };
        Self {
            entries: shipped().iter().map(entry).collect(),
        }
    }

    /// Adds each `NAME.toml` of a folder; a name that is shipped is replaced
    /// by the user's own.
    ///
    /// # Errors
    /// The folder or a file in it cannot be read.
    pub fn add_folder(&mut self, folder: &Path) -> Result<(), LibraryError> {
        let failed = |source| LibraryError::Read {
            path: folder.to_owned(),
            source,
        };
        for file in std::fs::read_dir(folder).map_err(failed)? {
            let path = file.map_err(failed)?.path();
            if path.extension().is_some_and(|e| e == "toml") {
                let name = name_of(&path);
                self.entries.insert(name, read(&path)?);
            }
        }
        Ok(())
    }

    /// Names in order, each with its entry.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &Entry)> + Clone {
        self.entries
            .iter()
            .map(|(name, entry)| (name.as_str(), entry))
    }

    /// The description that `wanted` names, or that stands in the file `wanted`:
    /// a slash or `.toml` makes it a file.
    ///
    /// # Errors
    /// No such name, with the nearest; a file that cannot be read.
    pub fn find(&self, wanted: &str) -> Result<(String, Entry), LibraryError> {
        if wanted.contains(['/', '\\']) || wanted.ends_with(".toml") {
            let path = Path::new(wanted);
            return Ok((name_of(path), read(path)?));
        }
        match self.entries.get(wanted) {
            Some(entry) => Ok((wanted.to_owned(), entry.clone())),
            None => Err(LibraryError::Unknown {
                name: wanted.to_owned(),
                instead: instead(wanted, self.entries.keys().map(String::as_str)),
            }),
        }
    }

    /// Finds a description and compiles it.
    ///
    /// # Errors
    /// As [`Library::find`], or the description does not hold.
    pub fn plan(&self, wanted: &str) -> Result<(Text, String, Arc<Plan>), LibraryError> {
        let (name, entry) = self.find(wanted)?;
        let plan = compile(&name, &entry)?;
        Ok((Text::clean(&name), entry.text, Arc::new(plan)))
    }
}

/// Compiles an entry, naming its file when it does not hold.
///
/// # Errors
/// The description does not hold.
pub fn compile(name: &str, entry: &Entry) -> Result<Plan, LibraryError> {
    Plan::parse(name, &entry.text).map_err(|e| LibraryError::Refused {
        place: match &entry.file {
            Some(path) => path.display().to_string(),
            None => format!("protocol {name}"),
        },
        message: e.message,
    })
}

fn read(path: &Path) -> Result<Entry, LibraryError> {
    match std::fs::read_to_string(path) {
        Ok(text) => Ok(Entry {
            text,
            file: Some(path.to_owned()),
        }),
        Err(source) => Err(LibraryError::Read {
            path: path.to_owned(),
            source,
        }),
    }
}

fn name_of(path: &Path) -> String {
    path.file_stem()
        .map(|stem| stem.to_string_lossy().into_owned())
        .unwrap_or_default()
}
