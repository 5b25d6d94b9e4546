//! `motors check|show|find|import`: the catalogue of motor models.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::{Fail, Out};
use crate::catalogue::{Catalogue, ImportError, Problem, import};
use crate::config::{self, Given};
use crate::limits::{Motor, Range};

/// What is asked of the catalogue.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// Name every line of a catalogue that does not hold, and what to write
    Check {
        /// The catalogue; `points.csv` beside it belongs to it
        file: PathBuf,
        /// As JSON lines
        #[arg(long)]
        json: bool,
    },
    /// Show a model and its limits, or list all models
    Show {
        /// The model; all if absent
        model: Option<String>,
        #[command(flatten)]
        place: Place,
        /// As JSON lines
        #[arg(long)]
        json: bool,
    },
    /// Find models by words of their names, the best first
    Find {
        /// Words or parts of them, in any order; case, spaces and hyphens do not count
        #[arg(required = true)]
        words: Vec<String>,
        #[command(flatten)]
        place: Place,
        /// As JSON lines
        #[arg(long)]
        json: bool,
    },
    /// Take the models of a checked file into the data folder's catalogue
    Import {
        /// The catalogue to take from
        file: PathBuf,
        #[command(flatten)]
        place: Place,
    },
}

/// Where the catalogue is.
#[derive(Debug, clap::Args)]
pub(crate) struct Place {
    /// The configuration file [default: stillohm.toml, if there is one]
    #[arg(long, value_name = "F")]
    config: Option<PathBuf>,
    /// The data folder
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// The catalogue
    #[arg(long, value_name = "F")]
    motors: Option<PathBuf>,
}

impl Place {
    /// The catalogue, empty if there is none: profiles of one's own lie beside it.
    pub(super) fn own(self) -> Result<Catalogue, Fail> {
        super::options::catalogue(&config::load(&given(self))?)
    }
}

/// Runs a `motors` command.
///
/// # Errors
/// Problems in a catalogue, an unknown model, a file that cannot be read or written.
pub(crate) fn run(command: Command) -> Result<(), Fail> {
    let mut out = Out::new();
    match command {
        Command::Check { file, json } => check(&mut out, &file, json)?,
        Command::Show { model, place, json } => show(&mut out, model.as_deref(), place, json)?,
        Command::Find { words, place, json } => find(&mut out, &words.join(" "), place, json)?,
        Command::Import { file, place } => take(&mut out, &file, place)?,
    }
    out.flush()
}

fn check(out: &mut Out, file: &Path, json: bool) -> Result<(), Fail> {
    if file.file_name().is_some_and(|name| name == "points.csv") {
        return Err(Fail::asked(format!(
            "{}: belongs to the motors.csv beside it; check {}",
            file.display(),
            file.with_file_name("motors.csv").display()
        )));
    }
    let mut catalogue = Catalogue::read(file)?;
    in_order(&mut catalogue.problems);
    problems(out, &catalogue.problems, json)?;
    let usable = catalogue.iter().filter(|(_, bad)| bad.is_none()).count();
    if !json {
        out.line(format_args!(
            "{usable} of {} models usable, {} problem{}",
            catalogue.len(),
            catalogue.problems.len(),
            if catalogue.problems.len() == 1 {
                ""
            } else {
                "s"
            }
        ))?;
    }
    out.flush()?;
    if catalogue.problems.is_empty() {
        Ok(())
    } else {
        Err(Fail::No(String::new()))
    }
}

/// By line, the files as they were read: some are only found when all is read.
fn in_order(problems: &mut [Problem]) {
    let mut files: Vec<PathBuf> = problems.iter().map(|p| p.file.clone()).collect();
    files.dedup();
    problems.sort_by_key(|p| (files.iter().position(|file| *file == p.file), p.line));
}

fn problems(out: &mut Out, problems: &[Problem], json: bool) -> Result<(), Fail> {
    for p in problems {
        if json {
            out.line(
                json!({ "file": p.file, "line": p.line, "column": p.column, "message": p.message }),
            )?;
        } else {
            out.line(p)?;
        }
    }
    Ok(())
}

/// The catalogue a place names.
fn catalogue(place: Place) -> Result<Catalogue, Fail> {
    let config = config::load(&given(place))?;
    match config.motors {
        Some(path) => Ok(Catalogue::read(&path)?),
        None => Err(Fail::asked(
            "there is no catalogue: expected motors.csv beside stillohm.toml or in the data folder, or --motors F",
        )),
    }
}

/// The catalogue a place names, empty where there is none.
pub(super) fn catalogue_or_none(place: Place) -> Result<Catalogue, Fail> {
    let config = config::load(&given(place))?;
    let read = config
        .motors
        .map(|path| Catalogue::read(&path))
        .transpose()?;
    Ok(read.unwrap_or_default())
}

fn given(place: Place) -> Given {
    Given {
        config: place.config,
        data: place.data,
        motors: place.motors,
        ..Given::default()
    }
}

/// What a list of models does not show: why there are none, or fewer.
#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn say_missing(catalogue: &Catalogue) {
    let named: Vec<&str> = catalogue.iter().filter_map(|(_, bad)| bad).collect();
    for problem in &catalogue.problems {
        let problem = problem.to_string();
        if !named.iter().any(|bad| bad.contains(&problem)) {
            eprintln!("stillohm: {problem}");
        }
    }
    if catalogue.is_empty() && catalogue.problems.is_empty() {
        eprintln!("stillohm: the catalogue has no models: write a line for each under its header");
    }
}

fn show(out: &mut Out, model: Option<&str>, place: Place, json: bool) -> Result<(), Fail> {
    let catalogue = catalogue(place)?;
    match model {
        Some(model) => {
            let motor = catalogue.motor(model)?;
            if json {
                out.line(json!(motor))
            } else {
                print(out, motor)
            }
        }
        None => {
            say_missing(&catalogue);
            for (motor, bad) in catalogue.iter() {
                if json {
                    out.line(json!({ "model": motor.model, "kind": motor.kind, "usable": bad.is_none(), "problem": bad }))?;
                } else {
                    out.line(format_args!(
                        "{:<24} {:<12} {}",
                        motor.model,
                        motor.kind,
                        bad.unwrap_or_default()
                    ))?;
                }
            }
            Ok(())
        }
    }
}

/// As many as a screen holds (own).
const FOUND_MAX: usize = 20;

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn find(out: &mut Out, words: &str, place: Place, json: bool) -> Result<(), Fail> {
    let catalogue = catalogue(place)?;
    let found = catalogue.search(words, FOUND_MAX);
    for listed in found.listed() {
        if json {
            out.line(json!(listed))?;
            continue;
        }
        let (model, kind) = (listed.model, listed.kind);
        let problems = listed.problems.join("; ");
        out.line(format_args!("{model:<24} {kind:<12} {problems}"))?;
    }
    out.flush()?;
    match (found.models.is_empty(), found.fits) {
        (true, _) => Err(Fail::No(format!("no model is like {words:?}"))),
        (false, false) => {
            eprintln!("stillohm: no model has {words:?} in its name; these are the nearest");
            Ok(())
        }
        (false, true) => Ok(()),
    }
}

fn print(out: &mut Out, motor: &Motor) -> Result<(), Fail> {
    out.line(format_args!("model            {}", motor.model))?;
    out.line(format_args!("kind             {}", motor.kind))?;
    if let Some(volts) = motor.rated_v {
        out.line(format_args!("rated            {} V", volts.0))?;
    }
    if let Some(at) = motor.reference_c {
        out.line(format_args!("limits hold at   {} °C", at.0))?;
    }
    let named = [
        ("main", motor.main),
        ("start", motor.start),
        ("line", motor.line),
    ];
    let others = motor
        .points
        .iter()
        .map(|(name, range)| (name.as_str(), *range));
    for (name, range) in named
        .into_iter()
        .chain(others)
        .filter(|(_, r)| !r.is_empty())
    {
        out.line(format_args!("{name:<16} {}", between(range)))?;
    }
    out.line(format_args!("electronics      {}", motor.electronics))?;
    out.line(format_args!("insulation test  {}", motor.insulation_test))?;
    if let Some(volts) = motor.max_test_v {
        out.line(format_args!("at most          {} V", volts.0))?;
    }
    if let Some(profile) = &motor.profile {
        out.line(format_args!("profile          {profile}"))?;
    }
    if !motor.source.is_empty() {
        out.line(format_args!("source           {}", motor.source))?;
    }
    if !motor.in_catalogue {
        out.line("not usable: its windings are not judged")?;
    }
    Ok(())
}

fn between(range: Range) -> String {
    match (range.lower, range.upper) {
        (Some(lower), Some(upper)) => format!("{lower} to {upper} Ω"),
        (Some(lower), None) => format!("at least {lower} Ω"),
        (None, Some(upper)) => format!("at most {upper} Ω"),
        (None, None) => String::from("no limits"),
    }
}

fn take(out: &mut Out, file: &Path, place: Place) -> Result<(), Fail> {
    let motors = place.motors.clone();
    let into = match motors {
        Some(path) => path,
        None => config::load(&given(place))?.data.join("motors.csv"),
    };
    match import(file, &into) {
        Ok(count) => out.line(format_args!("{count} models added to {}", into.display())),
        Err(ImportError::Problems(list)) => {
            problems(out, &list, false)?;
            out.flush()?;
            Err(ImportError::Problems(list).into())
        }
        Err(e) => Err(e.into()),
    }
}
