//! What commands that need meters and a data folder have in common.

use std::path::PathBuf;

use super::Fail;
use crate::catalogue::Catalogue;
use crate::config::{self, Config, Given};

/// Configuration and data folder.
#[derive(Clone, Debug, clap::Args)]
pub(crate) struct Options {
    /// The configuration file [default: stillohm.toml, if there is one]
    #[arg(long, value_name = "F")]
    pub(crate) config: Option<PathBuf>,
    /// A meter beside those of the file; PORT is a path, PATH@BAUD, tcp:HOST:PORT or ble:ADDRESS
    #[arg(long = "meter", value_name = "NAME=PROTOCOL@PORT")]
    pub(crate) meters: Vec<String>,
    /// The data folder [default: that of the file, or stillohm-data]
    #[arg(long, value_name = "DIR")]
    pub(crate) data: Option<PathBuf>,
    /// The catalogue of motor models [default: motors.csv beside the file or in the data folder]
    #[arg(long, value_name = "F")]
    pub(crate) motors: Option<PathBuf>,
}

impl Options {
    /// As it was typed, a blank before each word.
    pub(crate) fn as_typed(&self) -> String {
        let paths = [
            ("--config", &self.config),
            ("--data", &self.data),
            ("--motors", &self.motors),
        ];
        let paths = paths.into_iter().filter_map(|(name, path)| {
            let path = path.as_ref()?.to_string_lossy().into_owned();
            Some((name, path))
        });
        let meters = self.meters.iter().map(|m| ("--meter", m.clone()));
        paths
            .chain(meters)
            .map(|(name, value)| match value.contains(char::is_whitespace) {
                true => format!(" {name} \"{value}\""),
                false => format!(" {name} {value}"),
            })
            .collect()
    }

    /// Reads and checks all of it.
    pub(crate) fn load(&self) -> Result<Config, Fail> {
        Ok(config::load(&self.given())?)
    }

    /// What was typed, for reading it again.
    pub(crate) fn given(&self) -> Given {
        Given {
            config: self.config.clone(),
            data: self.data.clone(),
            motors: self.motors.clone(),
            meters: self.meters.clone(),
        }
    }
}

/// The catalogue of a configuration, its problems said on stderr; empty if there is none.
#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
pub(crate) fn catalogue(config: &Config) -> Result<Catalogue, Fail> {
    let Some(path) = &config.motors else {
        return Ok(Catalogue::default());
    };
    let catalogue = Catalogue::read(path)?;
    for problem in &catalogue.problems {
        eprintln!("stillohm: {problem}");
    }
    Ok(catalogue)
}
