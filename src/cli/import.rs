//! `import`: readings that a meter stored itself, as rows of the log.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::table::{Form, Table};
use super::{Fail, Out};
use crate::clock::Clock;
use crate::disk::RealDisk;
use crate::log::Log;
use crate::log::lock::Lock;
use crate::review::import::lines::{Line, Lines, Origin, read};
use crate::review::import::map::{EXAMPLE, Map};
use crate::review::import::there;
use crate::text::Text;

/// What is imported.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// A CSV file
    #[arg(required_unless_present = "example")]
    file: Option<PathBuf>,
    /// What its columns mean; see --example
    #[arg(long, value_name = "F", required_unless_present = "example")]
    map: Option<PathBuf>,
    /// Print a map to begin with
    #[arg(long, exclusive = true)]
    example: bool,
    /// The data folder
    #[arg(long, value_name = "DIR", default_value = "stillohm-data")]
    data: PathBuf,
    /// Write what is new into the log; without it only a preview is shown
    #[arg(long, requires = "tester")]
    write: bool,
    /// Who imports
    #[arg(long, value_name = "NAME")]
    tester: Option<Text>,
    /// Write although lines are refused; those are left out
    #[arg(long, requires = "write")]
    leave_out_refused: bool,
    #[command(flatten)]
    form: Form,
}

/// Rows of the preview that are shown.
const SHOWN: usize = 10;
/// Refused lines that are named.
const NAMED: usize = 20;

/// Shows what would be written, or writes it.
///
/// # Errors
/// A map or file that does not read, lines that are refused (exit 1), a log that
/// cannot be written.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let (Some(file), Some(map)) = (&args.file, &args.map) else {
        let mut out = Out::new();
        out.bytes(EXAMPLE.as_bytes())?;
        return out.flush();
    };
    let map_text = text(map)?;
    let map = Map::read(&map_text)
        .map_err(|e| Fail::Asked(anyhow::Error::new(e).context(map.display().to_string())))?;
    let bytes = std::fs::read(file).map_err(|e| unread(file, &e))?;
    let name = Text::clean(&file.file_name().unwrap_or_default().to_string_lossy());
    let origin = Origin {
        file: name.as_str(),
        map: &map_text,
        tester: args.tester.as_ref().map_or("", Text::as_str),
        at: Clock::start().wall(),
    };
    let lines = read(&bytes, &map, &origin)
        .map_err(|why| Fail::asked(format!("{}: {why}", file.display())))?;
    // Held from the look at what is there until it is written.
    let _lock = match args.write {
        true => Some(Lock::take(&args.data).map_err(|e| Fail::Around(e.into()))?),
        false => None,
    };
    let log = args.data.join("log");
    let there = there(&RealDisk, &log)
        .map_err(|e| Fail::Around(anyhow::Error::new(e).context("the log cannot be read")))?;
    let new: Vec<&Line> = lines
        .good
        .iter()
        .filter(|line| !there.contains(&line.id))
        .collect();
    let known = lines.good.len() - new.len();
    for refused in lines.refused.iter().take(NAMED) {
        let column = match refused.column.as_str() {
            "" => String::new(),
            column => format!(", column {column:?}"),
        };
        say(&format!(
            "{}:{}{column}: {}",
            file.display(),
            refused.number,
            refused.why
        ));
    }
    if !args.write {
        preview(&new, args.form)?;
        say(&counts(&lines, new.len(), known, "would be written"));
        return refused(&lines);
    }
    if !lines.refused.is_empty() && !args.leave_out_refused {
        say(&counts(&lines, 0, known, "written"));
        return Err(Fail::No(String::from(
            "nothing was written: mend the map or the file, or leave those lines out with --leave-out-refused",
        )));
    }
    let written = write(&log, &new)?;
    say(&counts(&lines, new.len(), known, "written"));
    if let Some(last) = written {
        let mut out = Out::new();
        out.line(last)?;
        out.flush()?;
    }
    Ok(())
}

/// Appends the rows, synced; `SEQ:CHAIN` of the last.
fn write(log: &Path, new: &[&Line]) -> Result<Option<String>, Fail> {
    let around = |e: crate::log::LogError| Fail::Around(e.into());
    if new.is_empty() {
        return Ok(None);
    }
    let (mut log, opened) = Log::open(log, RealDisk).map_err(around)?;
    opened.repaired.iter().for_each(|words| say(words));
    let rows = new.iter().map(|line| line.row.clone()).collect();
    let written = log.append(rows).map_err(around)?;
    // Nothing is said to be written before it is on the disk.
    log.sync().map_err(around)?;
    let last = written.last();
    Ok(last.map(|last| format!("recorded up to {}:{}", last.seq, last.chain)))
}

fn preview(new: &[&Line], form: Form) -> Result<(), Fail> {
    let mut table = Table::new([
        "line",
        "read_at",
        "meter",
        "asset",
        "motor",
        "test",
        "point",
        "event",
        "shown",
        "value_ohms",
        "verdict",
    ]);
    let shown = if form.is_text() { SHOWN } else { new.len() };
    for line in new.iter().take(shown) {
        let row = &line.row;
        table.row([
            json!(line.number),
            json!(line.read_at.rfc3339()),
            json!(row.meter),
            json!(row.asset),
            json!(row.motor),
            json!(row.test),
            json!(row.point),
            json!(row.event.word()),
            json!(row.shown),
            json!(row.value_ohms.map(|ohms| ohms.to_string())),
            json!("not_judged"),
        ]);
    }
    if new.len() > shown {
        table.note(format!("and {} more", new.len() - shown));
    }
    table.print(form)
}

fn counts(lines: &Lines, new: usize, known: usize, what: &str) -> String {
    format!(
        "{new} {what}, {known} in the log already, {} refused; imported values are not judged and belong to no job",
        lines.refused.len()
    )
}

fn refused(lines: &Lines) -> Result<(), Fail> {
    match lines.refused.is_empty() {
        true => Ok(()),
        false => Err(Fail::No(String::new())),
    }
}

fn text(path: &Path) -> Result<String, Fail> {
    std::fs::read_to_string(path).map_err(|e| unread(path, &e))
}

fn unread(path: &Path, e: &std::io::Error) -> Fail {
    Fail::asked(format!("{}: cannot be read: {e}", path.display()))
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn say(words: &str) {
    eprintln!("stillohm: {words}");
}
