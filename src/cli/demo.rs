//! `demo`: simulated meters through the whole chain.

use std::path::PathBuf;

use super::Fail;

/// What `demo` is asked.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// End by itself when every motor is through
    #[arg(long)]
    pub(crate) once: bool,
    /// The data folder; a new temporary one if absent
    #[arg(long, value_name = "DIR")]
    pub(crate) data: Option<PathBuf>,
}

/// Runs the demo.
///
/// # Errors
/// What the surroundings refuse.
pub(crate) fn run(_args: Args) -> Result<(), Fail> {
    Err(Fail::around("the demo is not wired yet"))
}
