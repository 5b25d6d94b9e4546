//! `review`: questions over the log of a data folder.

mod affected;

use super::Fail;

/// What is asked.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// Which verdicts turn if a meter was off since a day; exit 1 if a pass falls
    Affected(affected::Args),
}

/// Answers from a data folder.
///
/// # Errors
/// The data say no, cannot be read, or it was asked wrongly.
pub(crate) fn run(command: Command) -> Result<(), Fail> {
    match command {
        Command::Affected(args) => affected::run(&args),
    }
}
