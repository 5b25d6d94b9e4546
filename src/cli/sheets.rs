//! `sheets list|show|check`: which points a job measures, as a shop writes them.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::motors::{Place, catalogue_or_none};
use super::{Fail, Out};
use crate::catalogue::Catalogue;
use crate::catalogue::sheets::{read, shipped};
use crate::judge::sheet::{Against, check};
use crate::judge::{mark, voltage_step};
use crate::limits::profile::{find, shipped as shipped_profiles};
use crate::limits::{Motor, Sheet, SkipBy};

/// What is asked of the sheets.
#[derive(Debug, clap::Subcommand)]
pub(crate) enum Command {
    /// List the sheets that come with the program and those beside the catalogue
    List {
        #[command(flatten)]
        place: Place,
        /// As JSON lines
        #[arg(long)]
        json: bool,
    },
    /// Show the steps of a sheet
    Show {
        /// Its name
        name: String,
        #[command(flatten)]
        place: Place,
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// Say what is wrong with a sheet, and whether it may be used on a motor
    Check {
        /// The file
        file: PathBuf,
        /// A model of the catalogue to hold it against
        #[arg(long, value_name = "M")]
        motor: Option<String>,
        #[command(flatten)]
        place: Place,
    },
}

/// Runs a `sheets` command.
///
/// # Errors
/// Mistakes in a sheet, an unknown name, a file that cannot be read.
pub(crate) fn run(command: Command) -> Result<(), Fail> {
    let mut out = Out::new();
    match command {
        Command::List { place, json } => list(&mut out, &catalogue_or_none(place)?, json)?,
        Command::Show { name, place, json } => {
            let sheet = catalogue_or_none(place)?.sheet(&name)?;
            if json {
                out.line(json!(sheet))?;
            } else {
                show(&mut out, &sheet)?;
            }
        }
        Command::Check { file, motor, place } => {
            let catalogue = catalogue_or_none(place)?;
            let motor = motor.map(|m| catalogue.motor(&m).cloned()).transpose()?;
            check_file(&mut out, &catalogue, &file, motor.as_ref())?;
        }
    }
    out.flush()
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn list(out: &mut Out, catalogue: &Catalogue, json: bool) -> Result<(), Fail> {
    for problem in &catalogue.problems {
        eprintln!("stillohm: {problem}");
    }
    let shipped = shipped();
    let own = catalogue.sheets.iter().map(|s| (s, "own"));
    for (sheet, from) in own.chain(shipped.iter().map(|s| (s, "shipped"))) {
        if json {
            out.line(json!({ "name": sheet.name, "title": sheet.title, "from": from }))?;
        } else {
            out.line(format_args!(
                "{:<16} {:<8} {}",
                sheet.name, from, sheet.title
            ))?;
        }
    }
    Ok(())
}

fn show(out: &mut Out, sheet: &Sheet) -> Result<(), Fail> {
    out.line(format_args!("{}: {}", sheet.name, sheet.title))?;
    if let Some(search) = sheet.search {
        out.line(format_args!(
            "  search {search}: what was read chooses the next"
        ))?;
    }
    for step in &sheet.steps {
        let mut line = step.point.to_string();
        if let Some(volts) = step.test_voltage {
            line += &format!(", {} V", volts.0);
        }
        if !step.marks_s.is_empty() {
            let marks: Vec<String> = step.marks_s.iter().map(u32::to_string).collect();
            line += &format!(", read at {} s", marks.join(" and "));
        }
        if let Some(bands) = &step.bands {
            line += &format!(", bands {bands}");
        }
        if step.skip == SkipBy::Nobody {
            line += ", nobody may leave it out";
        }
        out.line(format_args!("  {line}"))?;
        if !step.say.is_empty() {
            out.line(format_args!("    {}", step.say))?;
        }
    }
    Ok(())
}

fn check_file(
    out: &mut Out,
    catalogue: &Catalogue,
    file: &Path,
    motor: Option<&Motor>,
) -> Result<(), Fail> {
    let text = std::fs::read_to_string(file).map_err(|e| {
        Fail::Asked(anyhow::Error::new(e).context(format!("{}: cannot be read", file.display())))
    })?;
    let name = file.file_stem().unwrap_or_default().to_string_lossy();
    let sheet = match read(&name, file, &text) {
        Ok(sheet) => sheet,
        Err(problem) => {
            out.line(problem)?;
            out.flush()?;
            return Err(Fail::No(String::new()));
        }
    };
    let Some(motor) = motor else {
        out.line(format_args!(
            "{} steps read; --motor M says whether it may be used on a model",
            sheet.steps.len()
        ))?;
        return Ok(());
    };
    let shipped = shipped_profiles();
    let named = motor.profile.as_ref().map_or("ieee43", |p| p.as_str());
    let profile = find(&catalogue.profiles, named).or_else(|| find(&shipped, named));
    let checked = check(
        &sheet,
        &Against {
            motor,
            // A profile that names no test voltage has that of ieee43.
            planned: profile
                .filter(|p| !p.test_voltage.is_empty())
                .or_else(|| find(&shipped, "ieee43"))
                .and_then(|p| voltage_step(p, motor)),
            mark: mark(profile.filter(|_| motor.profile.is_some())),
            tester: None,
        },
    );
    for refusal in &checked.refusals {
        out.line(format_args!("refused: {refusal}"))?;
    }
    for warning in &checked.warnings {
        out.line(format_args!("note: {warning}"))?;
    }
    out.line(format_args!(
        "{} of {}: {} refused, {} noted",
        sheet.name,
        motor.model,
        checked.refusals.len(),
        checked.warnings.len()
    ))?;
    out.flush()?;
    if checked.refusals.is_empty() {
        Ok(())
    } else {
        Err(Fail::No(String::new()))
    }
}
