//! `review`: questions over the whole log, straight from its files.

mod affected;
mod agreement;
mod chart;
mod count;
mod filter;
mod insulation;
mod last;
mod moment;
mod rejudge;
mod rows;
mod sign;
mod values;

use super::Fail;
use filter::Question;

/// What is asked.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// Count verdicts by model, month, asset, tester, meter, stage and more
    Count(count::Args),
    /// Show the newest value of every asset and point
    Last(Question),
    /// Show how values lie against their limits, by model and point
    Values(Question),
    /// Draw the values of one model and point as a control chart
    Chart(Question),
    /// Show week by week how each meter reads beside the others
    Drift(Question),
    /// Show how insulation changes over the years, and when it reaches its minimum
    Insulation(insulation::Args),
    /// Compare testers, or meters, that measured the same motors equally often
    Agreement(agreement::Args),
    /// Say which verdicts turn if a meter was off since a day; exit 1 if a pass falls
    Affected(affected::Args),
    /// Run stored captures again under other limits: which verdicts change, and why
    Rejudge(rejudge::Args),
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
        Command::Values(args) => values::run(args),
        Command::Chart(args) => chart::values_chart(args),
        Command::Drift(args) => chart::meters(args),
        Command::Insulation(args) => insulation::run(args),
        Command::Agreement(args) => agreement::run(args),
        Command::Affected(args) => affected::run(args),
        Command::Rejudge(args) => rejudge::run(args),
        Command::Sign(args) => sign::run(args),
    }
}
