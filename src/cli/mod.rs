//! Commands: what a person types. Data on stdout, talk on stderr.
//!
//! Exit codes: 0 done, 1 the data say no, 2 asked wrongly, 3 the surroundings
//! failed. A reader of stdout that goes away ends a command quietly.

mod calc;
mod core;
mod data;
mod demo;
mod enter;
mod fail;
mod import;
mod job;
mod motors;
mod options;
mod out;
mod ports;
mod profiles;
mod protocols;
mod progress;
mod prove;
mod readings;
mod replay;
mod report;
mod review;
mod scan;
mod serve;
mod setting;
mod sheets;
mod signals;
mod table;
mod verify;
mod words;

use std::ffi::OsString;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

pub use fail::Fail;
pub(crate) use out::Out;

const EXITS: &str = "\
Exit codes: 0 done; 1 the data say no; 2 asked wrongly; 3 a port, disk or network failed.
Data goes to stdout, talk to stderr.";

/// Takes the settled value from a meter's stream, judges it, and keeps a log
/// that survives crashes and shows tampering.
#[derive(Debug, Parser)]
#[command(name = "stillohm", version, max_term_width = 100, after_help = EXITS)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Show the whole chain at work on simulated meters
    Demo(demo::Args),
    /// Listen to the meters, take, judge and record until told to stop
    Serve(serve::Args),
    /// Work through a motor in the terminal; exit 0 only for no_fault_found
    Job(Box<job::Args>),
    /// Enter a value read by eye into the same judge and log
    Enter(enter::Args),
    /// Check a meter on known resistors, as at the start of a shift
    Prove(prove::Args),
    /// List the serial ports of this machine
    Ports(ports::Args),
    /// List the Bluetooth meters near by
    Scan(scan::Args),
    /// Run the same engine over a capture, a hexlog or a text file
    Replay(replay::Args),
    /// Take readings that a meter stored itself into the log; a preview without --write
    Import(import::Args),
    /// Print jobs: a report, a page for the owner, or a label
    Report(report::Args),
    /// Say whether a log and its captures are as they were written
    Verify(verify::Args),
    /// Ask the whole log: what fails, what was read last, what would change
    #[command(subcommand)]
    Review(review::Command),
    /// List, show, check and try descriptions of how meters speak
    #[command(subcommand)]
    Protocols(protocols::Command),
    /// List, show and check insulation profiles and ratio bands
    #[command(subcommand)]
    Profiles(profiles::Command),
    /// Check, show and import motor models
    #[command(subcommand)]
    Motors(motors::Command),
    /// Calculate what the judge calculates: one result, or a row each of a CSV
    Calc(calc::Args),
    /// List, show and check sheets: which points a job measures
    #[command(subcommand)]
    Sheets(sheets::Command),
}

/// Runs the command line and says with which code the process ends.
pub fn main(args: impl Iterator<Item = OsString>) -> ExitCode {
    let cli = match Cli::try_parse_from(args) {
        Ok(cli) => cli,
        Err(e) => {
            // Help goes to stdout with 0, usage errors to stderr with 2. A reader
            // that has gone away changes neither.
            _ = e.print();
            return ExitCode::from(u8::try_from(e.exit_code()).unwrap_or(2));
        }
    };
    match run(cli.command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(fail) => fail.say(),
    }
}

fn run(command: Command) -> Result<(), Fail> {
    match command {
        Command::Demo(args) => demo::run(args),
        Command::Serve(args) => serve::run(&args),
        Command::Job(args) => job::run(&args),
        Command::Enter(args) => enter::run(&args),
        Command::Prove(args) => prove::run(&args),
        Command::Ports(args) => ports::run(&args),
        Command::Scan(args) => scan::run(&args),
        Command::Replay(args) => replay::run(&args),
        Command::Import(args) => import::run(&args),
        Command::Report(args) => report::run(&args),
        Command::Verify(args) => verify::run(&args),
        Command::Review(command) => review::run(&command),
        Command::Protocols(command) => protocols::run(command),
        Command::Profiles(command) => profiles::run(command),
        Command::Motors(command) => motors::run(command),
        Command::Calc(args) => calc::run(&args),
        Command::Sheets(command) => sheets::run(command),
    }
}
