//! A table of named columns, and cells that know their place.
//!
//! A line of the file is a line of the table: a cell holds no line break, so a
//! quote that is not closed costs its own line and none behind it.

use core::cell::Cell;
use std::borrow::Cow;
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
    rest: &'a [u8],
    line: u64,
    cells: Vec<Cow<'a, [u8]>>,
    /// Each known column's name and its place in a line.
    columns: Vec<(&'static str, usize)>,
    /// The header's names as they are written.
    header: Vec<String>,
}

/// One line of a table.
pub(super) struct Cells<'a> {
    cells: &'a [Cow<'a, [u8]>],
    columns: &'a [(&'static str, usize)],
    /// The column that was asked for last.
    next: Cell<usize>,
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
        if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
            problems.add(
                1,
                "",
                "expected UTF-8 text, found UTF-16; save the table as UTF-8",
            );
            return None;
        }
        let mut table = Self {
            rest: bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes),
            line: 0,
            cells: Vec::new(),
            columns: Vec::new(),
            header: Vec::new(),
        };
        let closed = match table.read() {
            Some(closed) => closed,
            None => {
                let all = needed.join(",");
                let message = format!("expected a header line, found an empty file; write {all}");
                problems.add(1, "", message);
                return None;
            }
        };
        let at = table.line;
        if !closed {
            problems.add(at, "", UNCLOSED);
            return None;
        }
        if let [only] = table.cells.as_slice()
            && let Some(mark) = separator(only)
        {
            let message = format!(
                "expected cells separated by commas, found {mark}; export the table with commas"
            );
            problems.add(at, "", message);
            return None;
        }
        for (place, cell) in table.cells.iter().enumerate() {
            let name = String::from_utf8_lossy(cell);
            let name = name.trim();
            let known = needed.iter().chain(optional);
            match known.clone().find(|known| **known == name) {
                Some(known) if table.columns.iter().any(|(c, _)| c == known) => {
                    problems.add(at, name, "the column is there twice; delete one");
                    return None;
                }
                Some(known) => table.columns.push((known, place)),
                None => problems.add(
                    at,
                    name,
                    format!("unknown column; {}", instead(name, known.copied())),
                ),
            }
            table.header.push(name.to_owned());
        }
        let missing: Vec<&str> = needed
            .iter()
            .filter(|n| !table.columns.iter().any(|(c, _)| c == *n))
            .copied()
            .collect();
        if !missing.is_empty() {
            problems.add(
                at,
                "",
                format!(
                    "missing columns: {}; write them in the header, their cells may be empty",
                    missing.join(", ")
                ),
            );
            return None;
        }
        Some(table)
    }

    /// The next line; one with the wrong number of cells, or with a quote that
    /// is not closed, is named once and not whole.
    pub(super) fn next(&mut self, problems: &mut Problems) -> Option<Cells<'_>> {
        let closed = self.read()?;
        let (found, expected) = (self.cells.len(), self.header.len());
        let whole = closed && found == expected;
        if !closed {
            let column = self.header.get(found - 1).map_or("", String::as_str);
            problems.add(self.line, column, UNCLOSED);
        } else if !whole {
            self.say_width(found, expected, problems);
        }
        Some(Cells {
            cells: &self.cells,
            columns: &self.columns,
            next: Cell::new(0),
            line: self.line,
            whole,
        })
    }

    fn say_width(&self, found: usize, expected: usize, problems: &mut Problems) {
        let count = format!("expected {expected} cells as in the header, found {found}");
        let mark = separator(&self.cells[0]).filter(|_| found == 1);
        let (column, message) = match (mark, self.header.get(found)) {
            (Some(mark), _) => (
                "",
                format!("{count}: they are separated by {mark}; write commas"),
            ),
            (None, Some(column)) => (
                column.as_str(),
                format!(
                    "{count}: the line ends before {column}; write the rest, or a comma for each empty cell"
                ),
            ),
            (None, None) => (
                "",
                format!("{count}; write a decimal point, and put words with a comma in quotes"),
            ),
        };
        problems.add(self.line, column, message);
    }

    /// Reads the next line that is not empty into cells; whether its quotes are closed.
    fn read(&mut self) -> Option<bool> {
        loop {
            if self.rest.is_empty() {
                return None;
            }
            self.line += 1;
            let end = memchr::memchr2(b'\n', b'\r', self.rest).unwrap_or(self.rest.len());
            let (line, rest) = self.rest.split_at(end);
            let rest = rest.strip_prefix(b"\r").unwrap_or(rest);
            self.rest = rest.strip_prefix(b"\n").unwrap_or(rest);
            if !line.is_empty() {
                return Some(split(line, &mut self.cells));
            }
        }
    }
}

const UNCLOSED: &str = "expected a quote that closes before the line ends, found none; write it, a cell holds no line break";

/// The mark that stands where commas should.
fn separator(cell: &[u8]) -> Option<&'static str> {
    match memchr::memchr2(b';', b'\t', cell).map(|at| cell[at]) {
        Some(b';') => Some("semicolons"),
        Some(_) => Some("tabs"),
        None => None,
    }
}

/// Splits a line at its commas (RFC 4180, section 2); whether its quotes are closed.
fn split<'a>(line: &'a [u8], into: &mut Vec<Cow<'a, [u8]>>) -> bool {
    into.clear();
    let mut rest = line;
    loop {
        if let Some(quoted) = rest.strip_prefix(b"\"") {
            let (cell, behind) = match unquote(quoted) {
                Some(found) => found,
                None => {
                    into.push(Cow::Borrowed(quoted));
                    return false;
                }
            };
            into.push(cell);
            rest = behind;
        } else {
            let end = memchr::memchr(b',', rest).unwrap_or(rest.len());
            into.push(Cow::Borrowed(&rest[..end]));
            rest = &rest[end..];
        }
        match rest.split_first() {
            Some((_, behind)) => rest = behind,
            None => return true,
        }
    }
}

/// The cell behind an opening quote, and what follows from its comma on.
fn unquote(text: &[u8]) -> Option<(Cow<'_, [u8]>, &[u8])> {
    let mut cell = Cow::Borrowed(&text[..0]);
    let mut from = 0;
    loop {
        let at = from + memchr::memchr(b'"', &text[from..])?;
        let doubled = text.get(at + 1) == Some(&b'"');
        let end = at + usize::from(doubled);
        if from == 0 {
            cell = Cow::Borrowed(&text[..end]);
        } else {
            cell.to_mut().extend_from_slice(&text[from..end]);
        }
        if !doubled {
            // What stands between the quote and the comma belongs to the cell.
            let rest = &text[at + 1..];
            let comma = memchr::memchr(b',', rest).unwrap_or(rest.len());
            if comma > 0 {
                cell.to_mut().extend_from_slice(&rest[..comma]);
            }
            return Some((cell, &rest[comma..]));
        }
        from = at + 2;
    }
}

impl Cells<'_> {
    /// The trimmed words of a cell; `None` when empty or the column is absent.
    /// Bytes that are not UTF-8 are named.
    pub(super) fn words(&self, column: &str, problems: &mut Problems) -> Option<&str> {
        // Cells are asked for in about the header's order: the next is the likeliest.
        let (before, behind) = self.columns.split_at(self.next.get());
        let place = |part: &[(&str, usize)]| part.iter().position(|(c, _)| *c == column);
        let found = match place(behind) {
            Some(at) => before.len() + at,
            None => place(before)?,
        };
        self.next.set(found);
        let at = self.columns[found].1;
        match core::str::from_utf8(self.cells.get(at)?) {
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
    let unit = match column.rsplit('_').next().unwrap_or(column) {
        "v" => "volts",
        "c" => "degrees Celsius",
        unit => unit,
    };
    let digits = words.trim_start_matches(|c: char| c.is_ascii_digit() || ".,+-".contains(c));
    let (digits, rest) = words.split_at(words.len() - digits.len());
    let rest = rest.trim();
    let Ok(number) = digits.replace(',', ".").parse::<Decimal>() else {
        return format!(
            "expected a plain number in {unit} such as 12.5, or nothing, found {words:?}"
        );
    };
    if rest.is_empty() {
        return format!("expected a point as decimal mark, found {words:?}; write {number}");
    }
    if unit == "degrees Celsius" && matches!(rest, "F" | "f" | "°F" | "° F" | "degF" | "fahrenheit")
    {
        return match celsius(number) {
            Some(celsius) => {
                format!("expected degrees Celsius, found {words:?}; write {celsius}")
            }
            None => format!("expected degrees Celsius, found {words:?}"),
        };
    }
    match power(rest, unit).and_then(|power| number.shifted(power)) {
        Some(number) => format!(
            "expected a plain number in {unit} without a unit, found {words:?}; write {number} if that is what is meant"
        ),
        None => {
            format!("expected a plain number in {unit} without other signs, found {words:?}")
        }
    }
}

/// Fahrenheit as Celsius, to a tenth.
pub(super) fn celsius(fahrenheit: Decimal) -> Option<Decimal> {
    let tenths = Decimal::rounded((fahrenheit.to_f64() - 32.0) / 1.8, -1)?;
    match tenths.count() % 10 {
        0 => Decimal::new(tenths.count() / 10, 0).ok(),
        _ => Some(tenths),
    }
}

/// The power of ten of what stands behind a number, if it is a prefix and a
/// unit of this column; of anything else (`4k7`, `2 of 3`) no value is guessed.
fn power(rest: &str, unit: &str) -> Option<i8> {
    let units: &[&str] = match unit {
        "ohms" => &["ohm", "ohms", "Ω", "\u{2126}", "R"],
        "volts" => &["V", "v", "volt", "volts", "VAC", "V AC"],
        "degrees Celsius" => &["C", "c", "°C", "° C", "degC", "celsius"],
        _ => &["%", "percent"],
    };
    let is_unit = |word: &str| {
        let word = word.trim_start();
        units.iter().any(|u| u.eq_ignore_ascii_case(word))
    };
    if is_unit(rest) {
        return Some(0);
    }
    let mut chars = rest.chars();
    let power = match chars.next()? {
        'k' | 'K' => 3,
        'M' => 6,
        'G' => 9,
        'm' => -3,
        _ => return None,
    };
    let bare = chars.as_str();
    (matches!(unit, "ohms" | "volts") && (bare.is_empty() || is_unit(bare))).then_some(power)
}
