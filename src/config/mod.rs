//! Configuration: `stillohm.toml` and `--meter`, checked once at the door.
//!
//! Two types. [`written`] mirrors the file: every key is documented there and
//! nowhere else. [`Config`] is what the program trusts from then on. An error
//! says file, line, column and key, what was expected, and what was found.

pub mod address;
mod check;
pub mod edit;
pub mod library;
mod ports;
pub mod written;

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::input::Settings;
use crate::text::Text;

pub use library::Library;

/// Everything that was configured, checked.
#[derive(Clone, Debug)]
pub struct Config {
    /// Ports, meters and descriptions: what the engine is given.
    pub settings: Settings,
    /// The data folder; not created yet.
    pub data: PathBuf,
    /// The catalogue, if there is one.
    pub motors: Option<PathBuf>,
    /// Where the page and the API listen.
    pub web: Web,
    /// Captures of runs that began longer ago are deleted.
    pub keep: Option<Duration>,
    /// Captures are deleted until the rest take at most this many bytes.
    pub keep_bytes: Option<u64>,
    /// What stands at the head of a printed report.
    pub shop: Shop,
}

/// What stands at the head of a printed report.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Shop {
    /// The shop's name.
    pub name: Option<Text>,
    /// Its address, a line each.
    pub address: Vec<Text>,
    /// The file of its logo: `.png` or `.svg`.
    pub logo: Option<PathBuf>,
}

/// Where the page and the API listen, and for whom.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Web {
    /// The address; loopback needs no token.
    pub listen: SocketAddr,
    /// What another machine has to show.
    pub token: Option<Text>,
    /// Whether another machine may act and not only look.
    pub commands: bool,
}

impl Default for Web {
    fn default() -> Self {
        Self {
            listen: SocketAddr::from(([127, 0, 0, 1], 7845)),
            token: None,
            commands: false,
        }
    }
}

/// What the command line says beside the file.
#[derive(Clone, Debug, Default)]
pub struct Given {
    /// `--config`; none: `stillohm.toml` here, if there is one.
    pub config: Option<PathBuf>,
    /// `--data`.
    pub data: Option<PathBuf>,
    /// `--motors`.
    pub motors: Option<PathBuf>,
    /// Each `--meter`, as typed.
    pub meters: Vec<String>,
}

/// Why a configuration is refused.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The file cannot be read.
    #[error("{}: cannot be read", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A place in the file is wrong.
    #[error("{}:{line}:{column}: {message}", path.display())]
    At {
        /// The file.
        path: PathBuf,
        /// From 1.
        line: usize,
        /// From 1, in characters.
        column: usize,
        /// The key, what was expected, what was found.
        message: String,
    },
    /// A `--meter` is wrong.
    #[error("--meter {given}: {message}")]
    Meter {
        /// As typed.
        given: String,
        /// What was expected, what was found.
        message: String,
    },
}

/// Reads the file and the command line, and checks both together.
///
/// # Errors
/// The first thing that is wrong, with its place.
pub fn load(given: &Given) -> Result<Config, ConfigError> {
    let (path, text) = read(given.config.as_deref())?;
    check::check(&path, &text, given)
}

/// The descriptions there are: shipped ones and those of the file's folder.
///
/// # Errors
/// As [`load`], for the file and its `protocols` only.
pub fn library(config: Option<&Path>) -> Result<Library, ConfigError> {
    let (path, text) = read(config)?;
    check::library_of(&path, &text)
}

/// The file asked for, or `stillohm.toml` here if there is one, or nothing.
fn read(config: Option<&Path>) -> Result<(PathBuf, String), ConfigError> {
    let here = Path::new("stillohm.toml");
    let path = config.unwrap_or(here);
    if config.is_none() && !here.exists() {
        return Ok((here.to_owned(), String::new()));
    }
    match std::fs::read_to_string(path) {
        Ok(text) => Ok((path.to_owned(), text)),
        Err(source) => Err(ConfigError::Read {
            path: path.to_owned(),
            source,
        }),
    }
}

/// Line and column, both from 1, of a byte offset.
pub(crate) fn place(text: &str, offset: usize) -> (usize, usize) {
    let before = text.get(..offset).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    (line, before[start..].chars().count() + 1)
}

#[cfg(test)]
mod tests;
