//! How a command ends when it is not done, and with which code.

use std::process::ExitCode;

use crate::catalogue::{CatalogueError, ImportError};
use crate::config::ConfigError;
use crate::config::library::LibraryError;

/// Why a command is not done.
#[derive(Debug)]
pub enum Fail {
    /// The data say no; what they say is on stdout already, or here.
    No(String),
    /// Asked wrongly: usage, configuration, a name that is not there.
    Asked(anyhow::Error),
    /// The surroundings failed: a port, a disk, a network.
    Around(anyhow::Error),
    /// Nobody reads stdout any more.
    Gone,
}

impl Fail {
    /// Asked wrongly, in words.
    pub fn asked(message: impl Into<String>) -> Self {
        Self::Asked(anyhow::Error::msg(message.into()))
    }

    /// The surroundings failed, in words.
    pub fn around(message: impl Into<String>) -> Self {
        Self::Around(anyhow::Error::msg(message.into()))
    }

    /// Says it on stderr and gives the code.
    #[expect(clippy::print_stderr, reason = "talk goes to stderr")]
    pub fn say(self) -> ExitCode {
        let (code, message) = match self {
            Self::No(message) => (1, message),
            Self::Asked(e) => (2, format!("{e:#}")),
            Self::Around(e) => (3, format!("{e:#}")),
            Self::Gone => return ExitCode::SUCCESS,
        };
        if !message.is_empty() {
            eprintln!("stillohm: {message}");
        }
        ExitCode::from(code)
    }
}

/// What stdout says when it does not take what is written.
impl From<std::io::Error> for Fail {
    fn from(e: std::io::Error) -> Self {
        if e.kind() == std::io::ErrorKind::BrokenPipe {
            return Self::Gone;
        }
        Self::Around(anyhow::Error::new(e).context("stdout cannot be written"))
    }
}

impl From<ConfigError> for Fail {
    fn from(e: ConfigError) -> Self {
        Self::Asked(e.into())
    }
}

impl From<LibraryError> for Fail {
    fn from(e: LibraryError) -> Self {
        Self::Asked(e.into())
    }
}

impl From<CatalogueError> for Fail {
    fn from(e: CatalogueError) -> Self {
        Self::Asked(e.into())
    }
}

impl From<ImportError> for Fail {
    fn from(e: ImportError) -> Self {
        match e {
            ImportError::Catalogue(e) => e.into(),
            ImportError::Write { .. } => Self::Around(e.into()),
            ImportError::Problems(_) | ImportError::Twice(_) => Self::No(e.to_string()),
        }
    }
}
