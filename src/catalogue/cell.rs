//! A table of named columns, and cells that know their place.

use std::path::{Path, PathBuf};

use super::Problem;
use crate::quantity::Decimal;
use crate::text::{Text, instead};

/// What is wrong with one file, as it is found.
pub(super) struct Problems {
    file: PathBuf,
    pub(super) all: Vec<Problem>,
}

impl Problems {
    pub(super) fn new(file: &Path) -> Self {
        Self {
            file: file.to_owned(),
            all: Vec::new(),
        }
    }

    pub(super) fn add(&mut self, line: u64, column: &str, message: impl Into<String>) {
        self.all.push(Problem {
            file: self.file.clone(),
            line,
            column: column.to_owned(),
            message: message.into(),
        });
    }
}

/// An open table: the header is read and checked.
pub(super) struct Table<'a> {
    reader: csv::Reader<&'a [u8]>,
    record: csv::ByteRecord,
    /// Each known column's name and its place in a line.
    columns: Vec<(&'static str, usize)>,
    width: usize,
}

/// One line of a table.
pub(super) struct Cells<'a> {
    record: &'a csv::ByteRecord,
    columns: &'a [(&'static str, usize)],
    pub(super) line: u64,
    /// Whether it has as many cells as the header: else each may be shifted.
    pub(super) whole: bool,
}

impl<'a> Table<'a> {
    /// Reads the header; `None` when a needed column is missing.
    pub(super) fn open(
        bytes: &'a [u8],
        needed: &[&'static str],
        optional: &[&'static str],
        problems: &mut Problems,
    ) -> Option<Self> {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(bytes);
        let mut record = csv::ByteRecord::new();
        // Reading from memory cannot fail, and a ByteRecord takes any bytes.
        if !matches!(reader.read_byte_record(&mut record), Ok(true)) {
            problems.add(
                1,
                "",
                format!(
                    "expected a header line, found an empty file; write {}",
                    needed.join(",")
                ),
            );
            return None;
        }
        if record.len() == 1 && record[0].contains(&b';') {
            problems.add(1, "", "expected cells separated by commas, found semicolons; export the table with commas");
            return None;
        }
        let mut columns: Vec<(&'static str, usize)> = Vec::new();
        for (at, cell) in record.iter().enumerate() {
            let name = String::from_utf8_lossy(cell);
            let name = name.trim();
            let known = needed.iter().chain(optional);
            match known.clone().find(|known| **known == name) {
                Some(known) if columns.iter().any(|(c, _)| c == known) => {
                    problems.add(1, name, "the column is there twice; delete one");
                    return None;
                }
                Some(known) => columns.push((known, at)),
                None => problems.add(
                    1,
                    name,
                    format!("unknown column; {}", instead(name, known.copied())),
                ),
            }
        }
        let missing: Vec<&str> = needed
            .iter()
            .filter(|n| !columns.iter().any(|(c, _)| c == *n))
            .copied()
            .collect();
        if !missing.is_empty() {
            problems.add(
                1,
                "",
                format!(
                    "missing columns: {}; write them in the header, their cells may be empty",
                    missing.join(", ")
                ),
            );
            return None;
        }
        Some(Self {
            reader,
            width: record.len(),
            record,
            columns,
        })
    }

    /// The next line; one with the wrong number of cells is named and not whole.
    pub(super) fn next(&mut self, problems: &mut Problems) -> Option<Cells<'_>> {
        if !matches!(self.reader.read_byte_record(&mut self.record), Ok(true)) {
            return None;
        }
        let line = self.record.position().map_or(0, csv::Position::line);
        let whole = self.record.len() == self.width;
        if !whole {
            problems.add(line, "", format!("expected {} cells as in the header, found {}; write a decimal point, and put words with a comma in quotes", self.width, self.record.len()));
        }
        Some(Cells {
            record: &self.record,
            columns: &self.columns,
            line,
            whole,
        })
    }
}

impl Cells<'_> {
    /// The trimmed words of a cell; `None` when empty or the column is absent.
    /// Bytes that are not UTF-8 are named.
    pub(super) fn words(&self, column: &str, problems: &mut Problems) -> Option<&str> {
        let at = self.columns.iter().find(|(c, _)| *c == column)?.1;
        match core::str::from_utf8(self.record.get(at)?) {
            Ok(words) => Some(words.trim()).filter(|w| !w.is_empty()),
            Err(_) => {
                problems.add(
                    self.line,
                    column,
                    "expected UTF-8 text; save the table as UTF-8",
                );
                None
            }
        }
    }

    /// Checked words.
    pub(super) fn text(&self, column: &str, problems: &mut Problems) -> Option<Text> {
        let words = self.words(column, problems)?;
        match Text::new(words) {
            Ok(text) => Some(text),
            Err(e) => {
                problems.add(self.line, column, e.to_string());
                None
            }
        }
    }

    /// A plain number.
    pub(super) fn number(&self, column: &str, problems: &mut Problems) -> Option<Decimal> {
        let words = self.words(column, problems)?;
        match words.parse() {
            Ok(number) => Some(number),
            Err(_) => {
                problems.add(self.line, column, plain_number(words, column));
                None
            }
        }
    }

    /// A number that is not below nothing.
    pub(super) fn positive(&self, column: &str, problems: &mut Problems) -> Option<Decimal> {
        let number = self.number(column, problems)?;
        if number < Decimal::ZERO {
            problems.add(
                self.line,
                column,
                format!("expected a number that is not below 0, found {number}"),
            );
            return None;
        }
        Some(number)
    }

    /// One word of a closed set.
    pub(super) fn choice<T: Copy>(
        &self,
        column: &str,
        all: &[T],
        word: impl Fn(T) -> &'static str + Copy,
        problems: &mut Problems,
    ) -> Option<T> {
        let words = self.words(column, problems)?;
        let found = all.iter().copied().find(|one| word(*one) == words);
        if found.is_none() {
            let instead = instead(words, all.iter().map(|one| word(*one)));
            problems.add(
                self.line,
                column,
                format!("{words:?} is unknown; {instead}"),
            );
        }
        found
    }
}

/// What to write instead of something that is not a plain number.
fn plain_number(words: &str, column: &str) -> String {
    let digits: String = words
        .chars()
        .take_while(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '+' | '-'))
        .collect();
    let rest = words[digits.len()..].trim();
    let point = digits.replace(',', ".");
    let plain: Result<Decimal, _> = point.parse();
    let power = match rest.chars().next() {
        Some('k' | 'K') if rest.len() > 1 || rest == "k" => Some(3),
        Some('M') => Some(6),
        Some('G') => Some(9),
        Some('m') => Some(-3),
        _ => Some(0),
    };
    let unit = match column.rsplit('_').next().unwrap_or(column) {
        "v" => "volts",
        "c" => "degrees Celsius",
        unit => unit,
    };
    match (plain, power) {
        (Ok(number), _) if rest.is_empty() => {
            format!("expected a point as decimal mark, found {words:?}; write {number}")
        }
        (Ok(number), Some(power)) => match number.shifted(power) {
            Some(number) => format!(
                "expected a plain number in {unit} without a unit, found {words:?}; write {number} if that is what is meant"
            ),
            None => format!("expected a plain number in {unit}, found {words:?}"),
        },
        _ => format!("expected a plain number in {unit} such as 12.5, or nothing, found {words:?}"),
    }
}
