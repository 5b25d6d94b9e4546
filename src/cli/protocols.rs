//! `protocols list|show|check|try`: descriptions of how meters speak.

use std::path::PathBuf;

use serde_json::json;

use super::readings::Line;
use super::{Fail, Out};
use crate::config;
use crate::config::library::Library;
use crate::description::{self, Heard, Plan, Stream};
use crate::meter::MeterId;
use crate::stamp::Stamp;

/// What is asked of the descriptions.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// List the descriptions there are
    List {
        #[command(flatten)]
        place: Place,
        /// As JSON lines
        #[arg(long)]
        json: bool,
    },
    /// Print a description
    Show {
        /// A name or a file
        protocol: String,
        #[command(flatten)]
        place: Place,
    },
    /// Check descriptions and their examples
    Check {
        /// Names or files; all there are if absent
        protocols: Vec<String>,
        /// As JSON lines
        #[arg(long)]
        json: bool,
        #[command(flatten)]
        place: Place,
    },
    /// Print the readings that bytes give, as JSON lines
    Try {
        /// A name or a file
        protocol: String,
        /// The bytes in hexadecimal, blanks allowed
        #[arg(long)]
        hex: String,
        /// The meter's unit on a shared bus
        #[arg(long)]
        unit: Option<u8>,
        #[command(flatten)]
        place: Place,
    },
}

/// Where descriptions of one's own are.
#[derive(Debug, clap::Args)]
pub(crate) struct Place {
    /// The configuration file, whose folder `protocols` is looked into
    /// [default: stillohm.toml, if there is one]
    #[arg(long, value_name = "F")]
    config: Option<PathBuf>,
}

impl Place {
    fn library(&self) -> Result<Library, Fail> {
        Ok(config::library(self.config.as_deref())?)
    }
}

/// Runs a `protocols` command.
///
/// # Errors
/// A description that does not hold, an unknown name, bytes that give no reading.
pub(crate) fn run(command: Command) -> Result<(), Fail> {
    let mut out = Out::new();
    match command {
        Command::List { place, json } => list(&mut out, &place.library()?, json)?,
        Command::Show { protocol, place } => {
            let (_, entry) = place.library()?.find(&protocol)?;
            out.bytes(entry.text.as_bytes())?;
        }
        Command::Check {
            protocols,
            json,
            place,
        } => check(&mut out, &place.library()?, &protocols, json)?,
        Command::Try {
            protocol,
            hex,
            unit,
            place,
        } => attempt(&mut out, &place.library()?, &protocol, &hex, unit)?,
    }
    out.flush()
}

fn list(out: &mut Out, library: &Library, json: bool) -> Result<(), Fail> {
    for (name, entry) in library.iter() {
        // One that does not compile is listed too, with why it cannot be used.
        let plan = Plan::parse(name, &entry.text);
        let about = match &plan {
            Ok(plan) => plan.about().to_owned(),
            Err(e) => format!("does not hold: {e}"),
        };
        if json {
            out.line(json!({ "name": name, "file": entry.file, "about": about }))?;
        } else {
            out.line(format_args!("{name:<20} {about}"))?;
        }
    }
    Ok(())
}

fn check(out: &mut Out, library: &Library, protocols: &[String], json: bool) -> Result<(), Fail> {
    let all: Vec<String> = match protocols {
        [] => library.iter().map(|(name, _)| name.to_owned()).collect(),
        some => some.to_vec(),
    };
    let mut refused = 0;
    for wanted in &all {
        let (name, entry) = library.find(wanted)?;
        let problems = description::check(&name, &entry.text);
        if json {
            let problems: Vec<String> = problems.iter().map(ToString::to_string).collect();
            out.line(
                json!({ "name": name, "file": entry.file, "holds": problems.is_empty(), "problems": problems }),
            )?;
            refused += problems.len();
            continue;
        }
        if problems.is_empty() {
            out.line(format_args!("{wanted}: holds"))?;
        }
        for problem in &problems {
            out.line(format_args!("{wanted}: {problem}"))?;
        }
        refused += problems.len();
    }
    out.flush()?;
    match refused {
        0 => Ok(()),
        _ => Err(Fail::No(String::new())),
    }
}

#[expect(clippy::print_stderr, reason = "a refused frame is talk, not data")]
fn attempt(
    out: &mut Out,
    library: &Library,
    protocol: &str,
    hex: &str,
    unit: Option<u8>,
) -> Result<(), Fail> {
    let data = unhex(hex).map_err(Fail::asked)?;
    let (_, _, plan) = library.plan(protocol)?;
    let mut found = 0;
    let mut refusals: Vec<String> = Vec::new();
    // An answer is understood beside its request: each one in turn.
    for request in asked(&plan, unit) {
        let mut stream = Stream::new(plan.clone(), &[(MeterId(0), unit)]);
        let mut lines: Vec<Line> = Vec::new();
        let mut sink = |heard: Heard<'_>| match heard {
            Heard::Frame(readings) => lines.push(Line::new(Stamp::ZERO, readings)),
            Heard::Bad { why, .. } if !refusals.iter().any(|r| r == why) => {
                refusals.push(why.to_owned());
            }
            Heard::Bad { .. } => {}
        };
        if let Some(request) = request {
            stream.sent(Stamp::ZERO, &request);
        }
        stream.bytes(Stamp::ZERO, &data, &mut sink);
        stream.end(&mut sink);
        for line in &lines {
            out.line(line.json("meter"))?;
        }
        found += lines.len();
    }
    out.flush()?;
    for why in &refusals {
        if found == 0 {
            eprintln!("stillohm: refused: {why}");
        }
    }
    match found {
        0 => Err(Fail::No(String::from("these bytes give no reading"))),
        _ => Ok(()),
    }
}

/// The requests a stream may be answering; none for a meter that speaks by itself.
fn asked(plan: &Plan, unit: Option<u8>) -> Vec<Option<bytes::Bytes>> {
    let mut asked: Vec<Option<bytes::Bytes>> = plan
        .requests(&[unit])
        .into_iter()
        .filter(|r| matches!(r.when, description::When::Poll { .. }))
        .map(|r| Some(r.data))
        .collect();
    if asked.is_empty() {
        asked.push(None);
    }
    asked
}

/// Bytes from hexadecimal digits, blanks between them allowed.
fn unhex(hex: &str) -> Result<Vec<u8>, String> {
    let digits: Vec<u32> = hex
        .chars()
        .filter(|c| !c.is_whitespace())
        .map(|c| {
            c.to_digit(16)
                .ok_or_else(|| format!("--hex: expected hexadecimal digits, found {c:?}"))
        })
        .collect::<Result<_, _>>()?;
    if !digits.len().is_multiple_of(2) {
        return Err(format!(
            "--hex: expected two digits a byte, found {} digits",
            digits.len()
        ));
    }
    let byte = |pair: &[u32]| u8::try_from(pair[0] * 16 + pair[1]).unwrap_or_default();
    Ok(digits.chunks_exact(2).map(byte).collect())
}
