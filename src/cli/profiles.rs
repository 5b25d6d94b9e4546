//! `profiles list|show|check`: insulation limits and ratio bands as data.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::motors::Place;
use super::{Fail, Out};
use crate::catalogue::Catalogue;
use crate::limits::profile::{shipped, shipped_bands, toml};
use crate::text::instead;

/// What is asked of the profiles.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// List the profiles and bands there are, one's own first
    List {
        #[command(flatten)]
        place: Place,
        /// As JSON lines
        #[arg(long)]
        json: bool,
    },
    /// Print a profile or bands as they are written in a file
    Show {
        /// The name
        name: String,
        #[command(flatten)]
        place: Place,
    },
    /// Name every mistake in a file of one's own, and what to write
    Check {
        /// The file
        file: PathBuf,
        /// As JSON lines
        #[arg(long)]
        json: bool,
    },
}

/// Runs a `profiles` command.
///
/// # Errors
/// A file that does not hold, an unknown name, a file that cannot be read.
pub(crate) fn run(command: Command) -> Result<(), Fail> {
    let mut out = Out::new();
    match command {
        Command::List { place, json } => list(&mut out, place, json)?,
        Command::Show { name, place } => show(&mut out, &name, place)?,
        Command::Check { file, json } => check(&mut out, &file, json)?,
    }
    out.flush()
}

fn list(out: &mut Out, place: Place, json: bool) -> Result<(), Fail> {
    let own = place.own()?;
    for (all, own) in [(own.profiles, true), (shipped(), false)] {
        for p in all {
            if json {
                out.line(json!({
                    "what": "profile", "name": p.name, "source": p.source, "own": own,
                    "conditions": p.conditions(), "needs_condition": p.needs_condition(),
                    "mark_s": p.mark_s, "correct_to_c": p.correct_to_c,
                }))?;
            } else {
                out.line(format_args!("{:<20} {}", p.name.as_str(), p.source))?;
            }
        }
    }
    for (all, own) in [(own.bands, true), (shipped_bands(), false)] {
        for b in all {
            if json {
                out.line(json!({
                    "what": "bands", "name": b.name, "source": b.source, "own": own,
                    "kind": b.kind,
                }))?;
            } else {
                out.line(format_args!(
                    "{:<20} {}: {}",
                    b.name.as_str(),
                    b.kind,
                    b.source
                ))?;
            }
        }
    }
    Ok(())
}

fn show(out: &mut Out, name: &str, place: Place) -> Result<(), Fail> {
    let own = place.own()?;
    let profiles: Vec<_> = own.profiles.into_iter().chain(shipped()).collect();
    let bands: Vec<_> = own.bands.into_iter().chain(shipped_bands()).collect();
    let mut found = false;
    for profile in profiles.iter().filter(|p| p.name.as_str() == name) {
        out.bytes(toml::profile(profile).as_bytes())?;
        found = true;
    }
    for bands in bands.iter().filter(|b| b.name.as_str() == name) {
        out.bytes(toml::bands(bands).as_bytes())?;
        found = true;
    }
    if found {
        return Ok(());
    }
    let names = profiles.iter().map(|p| p.name.as_str());
    let names = names.chain(bands.iter().map(|b| b.name.as_str()));
    Err(Fail::asked(format!(
        "{name:?} is neither a profile nor bands; {}",
        instead(name, names)
    )))
}

fn check(out: &mut Out, file: &Path, json: bool) -> Result<(), Fail> {
    let bytes = std::fs::read(file)
        .map_err(|e| Fail::asked(format!("{}: cannot be read: {e}", file.display())))?;
    let mut read = Catalogue::default();
    read.add_profiles(file, &bytes);
    for p in &read.problems {
        if json {
            out.line(
                json!({ "file": p.file, "line": p.line, "column": p.column, "message": p.message }),
            )?;
        } else {
            out.line(p)?;
        }
    }
    if !json {
        out.line(format_args!(
            "{} profile{} and {} set{} of bands hold, {} problem{}",
            read.profiles.len(),
            plural(read.profiles.len()),
            read.bands.len(),
            plural(read.bands.len()),
            read.problems.len(),
            plural(read.problems.len()),
        ))?;
    }
    out.flush()?;
    match read.problems.len() {
        0 => Ok(()),
        _ => Err(Fail::No(String::new())),
    }
}

const fn plural(count: usize) -> &'static str {
    if count == 1 { "" } else { "s" }
}
