//! `review`: questions over the whole log, straight from its files.

mod count;
mod filter;
mod last;
mod sign;
mod table;

use super::Fail;

/// What is asked.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// Count verdicts by model, month, asset, tester, meter, stage and more
    Count(count::Args),
    /// Show the newest value of every asset and point
    Last(last::Args),
    /// Sign off a job or a row: a `reviewed` row of the log
    Sign(sign::Args),
}

/// Runs a `review` command.
///
/// # Errors
/// A question that cannot be asked, a log that cannot be read.
pub(crate) fn run(command: &Command) -> Result<(), Fail> {
    match command {
        Command::Count(args) => count::run(args),
        Command::Last(args) => last::run(args),
        Command::Sign(args) => sign::run(args),
    }
}
