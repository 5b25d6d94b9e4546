//! Taking a checked catalogue into another: all of it or nothing.

use std::fs::File;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::{Catalogue, CatalogueError, Problem};

/// Why nothing was imported.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// One of the two cannot be read.
    #[error(transparent)]
    Catalogue(#[from] CatalogueError),
    /// One of the two has problems, named here.
    #[error("nothing was imported: {} problems", .0.len())]
    Problems(Vec<Problem>),
    /// Models that both have.
    #[error("nothing was imported: already in the catalogue: {}", .0.join(", "))]
    Twice(Vec<String>),
    /// The catalogue cannot be written.
    #[error("{}: cannot be written", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}

/// Adds the models of `from`, and the points beside it, to `into`; returns how
/// many. Each file is replaced whole, so a kill leaves the old or the new.
///
/// # Errors
/// Problems in either, models that both have, a file that cannot be read or written.
pub fn import(from: &Path, into: &Path) -> Result<usize, ImportError> {
    let new = Catalogue::read(from)?;
    if !new.problems.is_empty() {
        return Err(ImportError::Problems(new.problems));
    }
    if into.is_file() {
        let old = Catalogue::read(into)?;
        if !old.problems.is_empty() {
            return Err(ImportError::Problems(old.problems));
        }
        let twice = |(motor, _): (&crate::limits::Motor, _)| {
            let model = motor.model.as_str();
            old.motor(model).is_ok().then(|| model.to_owned())
        };
        let twice: Vec<String> = new.iter().filter_map(twice).collect();
        if !twice.is_empty() {
            return Err(ImportError::Twice(twice));
        }
    }
    // Points first: points without their model are named by a check, a model
    // without its points would be judged by nothing and say so less loudly.
    let points = from.with_file_name("points.csv");
    if points.is_file() {
        merge(&points, &into.with_file_name("points.csv"))?;
    }
    merge(from, into)?;
    Ok(new.len())
}

/// Writes both tables as one: the columns of `into`, then those only `from` has.
fn merge(from: &Path, into: &Path) -> Result<(), ImportError> {
    let failed = |source| ImportError::Write {
        path: into.to_owned(),
        source,
    };
    let mut tables = Vec::new();
    for path in [into, from] {
        if path.is_file() {
            tables.push(rows(path).map_err(|source| CatalogueError::Read {
                path: path.to_owned(),
                source,
            })?);
        }
    }
    let mut columns: Vec<String> = Vec::new();
    for name in tables.iter().filter_map(|rows| rows.first()).flatten() {
        if !columns.contains(name) {
            columns.push(name.clone());
        }
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    let write = |writer: &mut csv::Writer<Vec<u8>>, row: &[&str]| {
        writer
            .write_record(row)
            .map_err(std::io::Error::from)
            .map_err(failed)
    };
    let header: Vec<&str> = columns.iter().map(String::as_str).collect();
    write(&mut writer, &header)?;
    for rows in &tables {
        let Some((header, rows)) = rows.split_first() else {
            continue;
        };
        let places: Vec<Option<usize>> = columns
            .iter()
            .map(|c| header.iter().position(|h| h == c))
            .collect();
        for row in rows {
            let cell =
                |at: &Option<usize>| at.and_then(|at| row.get(at)).map_or("", String::as_str);
            let row: Vec<&str> = places.iter().map(cell).collect();
            write(&mut writer, &row)?;
        }
    }
    let bytes = writer.into_inner().map_err(|e| failed(e.into_error()))?;
    replace(into, &bytes).map_err(failed)
}

fn rows(path: &Path) -> std::io::Result<Vec<Vec<String>>> {
    let text = std::fs::read_to_string(path)?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(text.as_bytes());
    let row = |record: Result<csv::StringRecord, csv::Error>| {
        let record = record.map_err(std::io::Error::from)?;
        Ok(record.iter().map(|cell| cell.trim().to_owned()).collect())
    };
    reader.records().map(row).collect()
}

/// Beside it, synced, renamed over it, the folder synced.
fn replace(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    std::fs::create_dir_all(folder)?;
    let beside = path.with_extension("csv.new");
    let mut file = File::create(&beside)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    std::fs::rename(&beside, path)?;
    #[cfg(unix)]
    File::open(folder)?.sync_all()?;
    Ok(())
}
