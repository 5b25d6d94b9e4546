//! `calc NAME --rows F`: one calculation a row, the columns of F in front.
//!
//! Every cell comes back as it was. Four columns follow, always: `result`,
//! `unit`, `note`, `error`. A refused row has an error and no result, and
//! stops nothing. A column that is no key is passed on; one that is called
//! like ours is passed on too, ours are the last four.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use csv::{ByteRecord, ReaderBuilder};

use super::formula::{Answer, Formula, Need, Refused};
use crate::cli::{Fail, Out};
use crate::text::nearest;

const OURS: [&str; 4] = ["result", "unit", "note", "error"];

/// Calculates every row of a file, or of stdin for `-`.
pub(super) fn run(out: &mut Out, formula: &Formula, path: &Path) -> Result<(), Fail> {
    let shown = path.display();
    if path.as_os_str() == "-" {
        return each(out, formula, io::stdin().lock(), "stdin");
    }
    if path.is_dir() {
        return Err(Fail::asked(format!(
            "{shown}: is a folder; expected a CSV file"
        )));
    }
    let file =
        File::open(path).map_err(|e| Fail::asked(format!("{shown}: cannot be read: {e}")))?;
    each(out, formula, file, &shown.to_string())
}

fn each(out: &mut Out, formula: &Formula, from: impl Read, shown: &str) -> Result<(), Fail> {
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(from);
    let unread = |e: csv::Error| Fail::around(format!("{shown}: cannot be read on: {e}"));
    let mut record = ByteRecord::new();
    if !reader.read_byte_record(&mut record).map_err(unread)? {
        return Err(Fail::asked(format!(
            "{shown}: expected a header line with the keys of {}: {}",
            formula.name,
            formula.usage()
        )));
    }
    if record.len() == 1 && record[0].contains(&b';') {
        return Err(Fail::asked(format!(
            "{shown}: expected cells separated by commas, found semicolons; export the table with commas"
        )));
    }
    let columns = Columns::new(formula, &record);
    let mut line = Line::default();
    line.write(out, &record, OURS.map(String::from))?;
    let (mut all, mut refused) = (0_u64, 0_u64);
    while reader.read_byte_record(&mut record).map_err(unread)? {
        all += 1;
        let found = columns.answer(formula, &record);
        refused += u64::from(found.is_err());
        let ours = match found {
            Ok(answer) => [
                answer.result,
                formula.unit.to_owned(),
                columns.note(answer.note),
                String::new(),
            ],
            Err(Refused(why)) => [String::new(), String::new(), String::new(), why],
        };
        record.truncate(columns.width);
        while record.len() < columns.width {
            record.push_field(b"");
        }
        line.write(out, &record, ours)?;
    }
    out.flush()?;
    match refused {
        0 => Ok(()),
        _ => Err(Fail::No(format!(
            "{shown}: {refused} of {all} rows refused, see the column error"
        ))),
    }
}

/// Where the keys stand in the header.
struct Columns {
    width: usize,
    /// Each key's column.
    at: Vec<(&'static str, usize)>,
    /// Why no row can be calculated.
    refused: Option<Refused>,
    /// What every row should say: a column that looks like a key that is left out.
    note: String,
}

impl Columns {
    fn new(formula: &Formula, header: &ByteRecord) -> Self {
        let names: Vec<&str> = header
            .iter()
            .map(|name| str::from_utf8(name).map_or("", str::trim))
            .collect();
        let mut columns = Self {
            width: names.len(),
            at: Vec::new(),
            refused: None,
            note: String::new(),
        };
        let strangers = || names.iter().copied().filter(|n| formula.key(n).is_none());
        for key in formula.keys {
            let mut places = names.iter().enumerate().filter(|(_, n)| **n == key.name);
            let near = nearest(key.name, strangers().filter(|n| !n.is_empty()));
            match (places.next(), places.next()) {
                (Some(_), Some(_)) => {
                    columns.refuse(format!(
                        "{}: two columns have this name: which one counts?",
                        key.name
                    ));
                }
                (Some((at, _)), None) => columns.at.push((key.name, at)),
                (None, _) if key.need == Need::Required => {
                    let near = near
                        .first()
                        .map_or(String::new(), |n| format!("; nearest: {n}"));
                    columns.refuse(format!(
                        "{}: there is no such column and it is required{near}",
                        key.name
                    ));
                }
                (None, _) => {
                    if let Some(near) = near.first() {
                        columns.note = format!(
                            "the column {near} is no key and not used; {} is the nearest",
                            key.name
                        );
                    }
                }
            }
        }
        columns
    }

    fn refuse(&mut self, why: String) {
        self.refused.get_or_insert(Refused(why));
    }

    fn answer(&self, formula: &Formula, record: &ByteRecord) -> Result<Answer, Refused> {
        if let Some(refused) = &self.refused {
            return Err(refused.clone());
        }
        if record.len() != self.width {
            return Err(Refused(format!(
                "expected {} cells as in the header, found {}",
                self.width,
                record.len()
            )));
        }
        let cell = |key: &str| {
            let (_, at) = self.at.iter().find(|(name, _)| *name == key)?;
            record.get(*at)
        };
        if let Some((key, _)) = self
            .at
            .iter()
            .find(|(_, at)| record.get(*at).is_some_and(|c| str::from_utf8(c).is_err()))
        {
            return Err(Refused(format!("{key}: not UTF-8")));
        }
        formula.answer(|key| cell(key).and_then(|c| str::from_utf8(c).ok()))
    }

    fn note(&self, of_row: String) -> String {
        match (self.note.is_empty(), of_row.is_empty()) {
            (true, _) => of_row,
            (false, true) => self.note.clone(),
            (false, false) => format!("{of_row}; {}", self.note),
        }
    }
}

/// One line of output, its buffer used again.
#[derive(Default)]
struct Line(Vec<u8>);

impl Line {
    fn write(&mut self, out: &mut Out, cells: &ByteRecord, ours: [String; 4]) -> Result<(), Fail> {
        self.0.clear();
        let mut writer = csv::Writer::from_writer(&mut self.0);
        let ours = ours.iter().map(|cell| cell.as_bytes());
        let written = writer.write_record(cells.iter().chain(ours));
        written
            .and_then(|()| Ok(writer.flush()?))
            .map_err(|e| Fail::around(e.to_string()))?;
        drop(writer);
        out.bytes(&self.0)
    }
}
