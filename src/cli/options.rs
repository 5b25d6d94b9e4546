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
    /// Reads and checks all of it.
    pub(crate) fn load(&self) -> Result<Config, Fail> {
        Ok(config::load(&Given {
            config: self.config.clone(),
            data: self.data.clone(),
            motors: self.motors.clone(),
            meters: self.meters.clone(),
        })?)
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
