//! `review`: questions over the log of a data folder.

mod affected;
mod moment;
mod rejudge;
mod rows;

use super::Fail;

/// What is asked.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// Which verdicts turn if a meter was off since a day; exit 1 if a pass falls
    Affected(affected::Args),
    /// Run stored captures again under other limits: which verdicts change, and why
    Rejudge(rejudge::Args),
}

/// Answers from a data folder.
///
/// # Errors
/// The data say no, cannot be read, or it was asked wrongly.
pub(crate) fn run(command: Command) -> Result<(), Fail> {
    match command {
        Command::Affected(args) => affected::run(&args),
        Command::Rejudge(args) => rejudge::run(&args),
    }
}
