//! `--changes`: the rows that come out otherwise, and why.
//!
//! By other limits, what a capture's own limits give is held against what the
//! others give. Without them the log that lies beside the capture is held
//! against this program, whose engine may be of another revision.

use std::collections::{BTreeMap, VecDeque};
use std::path::Path;

use serde_json::{Value, json};

use super::super::{Fail, Out};
use super::limits::{Limits, talk};
use super::readings::quoted;
use super::rejudge::{Before, Change, Rejudge};
use super::{Refused, Replayed};
use crate::disk::RealDisk;
use crate::engine::{Engine, REVISION};
use crate::input::What;
use crate::log::files::FileName;
use crate::row::Recorded;

pub(in crate::cli) const HEADER: &str = "seq,job,asset,motor,test,point,shown,verdict_before,verdict_after,finding_before,finding_after,why";

/// Prints what comes out otherwise, as CSV or as JSON, an object a line.
pub(super) fn print(
    inputs: &mut Replayed,
    file: &Path,
    limits: Option<&Limits>,
    json: bool,
    out: &mut Out,
) -> Result<(), Fail> {
    let before = match limits {
        Some(_) => Before::Engine(Box::new(Engine::new())),
        None => Before::Log(log(file)?),
    };
    let mut both = Rejudge::new(limits, before);
    if !json {
        out.line(HEADER)?;
    }
    while let Some(input) = inputs.next()? {
        if let What::Begin(begin) = &input.what {
            both.otherwise(match begin.engine {
                REVISION => String::from(
                    "the log has it otherwise under the same engine revision: verify the log",
                ),
                made => format!("engine revision {made} → {REVISION}"),
            });
        }
        let step = both.step(&input)?;
        for words in &step.missing {
            talk(words);
        }
        for change in &step.changes {
            write(change, json, out)?;
        }
    }
    for change in both.finish() {
        write(&change, json, out)?;
    }
    inputs.refused = Refused::of(&both.engine().view());
    Ok(())
}

/// A change under [`HEADER`].
pub(in crate::cli) fn cells(change: &Change) -> Vec<Value> {
    let Change {
        seq,
        job,
        asset,
        motor,
        test,
        point,
        shown,
        before,
        after,
        why,
        ..
    } = change;
    let words = [
        job, asset, motor, test, point, shown, &before.0, &after.0, &before.1, &after.1, why,
    ];
    core::iter::once(json!(seq))
        .chain(words.map(|words| json!(words)))
        .collect()
}

fn write(change: &Change, json: bool, out: &mut Out) -> Result<(), Fail> {
    let cells = cells(change);
    if json {
        let names = HEADER.split(',').map(str::to_owned);
        return out.line(Value::Object(names.zip(cells).collect()));
    }
    let words = |cell: &Value| match cell {
        Value::String(words) => quoted(words),
        Value::Null => String::new(),
        other => other.to_string(),
    };
    out.line(cells.iter().map(words).collect::<Vec<_>>().join(","))
}

/// The rows of the log that lies beside a capture's folder, by capture and offset.
fn log(file: &Path) -> Result<BTreeMap<(String, u64), VecDeque<Recorded>>, Fail> {
    let beside = file
        .parent()
        .map(|captures| captures.join("..").join("log"))
        .filter(|log| log.is_dir());
    let Some(dir) = beside else {
        return Err(Fail::asked(format!(
            "{}: expected other limits (--motors, --profile) or the log beside its folder, found neither",
            file.display()
        )));
    };
    let unread = |path: &Path, why: String| Fail::asked(format!("{}: {why}", path.display()));
    let files = FileName::list(&RealDisk, &dir).map_err(|e| unread(&dir, e.to_string()))?;
    let mut rows: BTreeMap<_, VecDeque<Recorded>> = BTreeMap::new();
    for name in files {
        let path = dir.join(name.to_string());
        let mut reader = csv::Reader::from_path(&path).map_err(|e| unread(&path, e.to_string()))?;
        for record in reader.records() {
            let record = record.map_err(|e| unread(&path, e.to_string()))?;
            let row =
                Recorded::from_cells(record.iter()).map_err(|e| unread(&path, e.to_string()))?;
            if let Some(offset) = row.row.capture_offset {
                let key = (row.row.capture.clone(), offset);
                rows.entry(key).or_default().push_back(row);
            }
        }
    }
    if rows.is_empty() {
        return Err(Fail::asked(format!(
            "{}: no file of the log has rows with a capture",
            dir.display()
        )));
    }
    Ok(rows)
}
