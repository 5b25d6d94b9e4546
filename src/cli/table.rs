//! An answer as a table, as CSV or as JSON lines.

use serde_json::{Map, Value};

use super::{Fail, Out};
use crate::row::quoted;

/// How an answer is printed.
#[derive(Clone, Copy, Debug, clap::Args)]
#[group(multiple = false)]
pub(crate) struct Form {
    /// As JSON lines
    #[arg(long)]
    json: bool,
    /// As CSV
    #[arg(long)]
    csv: bool,
}

/// Columns and rows; a cell is a text or a number.
#[derive(Debug, Default)]
pub(crate) struct Table {
    head: Vec<String>,
    rows: Vec<Vec<Value>>,
    note: Option<String>,
}

impl Form {
    /// Neither of the forms that machines read.
    pub(crate) const fn is_text(self) -> bool {
        !self.json && !self.csv
    }
}

impl Table {
    pub(crate) fn new<'a>(head: impl IntoIterator<Item = &'a str>) -> Self {
        Self {
            head: head.into_iter().map(str::to_owned).collect(),
            rows: Vec::new(),
            note: None,
        }
    }

    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = Value>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// Whether it has no row.
    pub(crate) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// What a person is told below the table.
    pub(crate) fn note(&mut self, words: String) {
        self.note = Some(words);
    }

    pub(crate) fn print(&self, form: Form) -> Result<(), Fail> {
        let mut out = Out::new();
        match form {
            Form { json: true, .. } => self.json(&mut out)?,
            Form { csv: true, .. } => self.csv(&mut out)?,
            _ => self.text(&mut out)?,
        }
        out.flush()
    }

    fn json(&self, out: &mut Out) -> Result<(), Fail> {
        for row in &self.rows {
            let cells = self.head.iter().cloned().zip(row.iter().cloned());
            out.line(Value::Object(cells.collect::<Map<_, _>>()))?;
        }
        Ok(())
    }

    fn csv(&self, out: &mut Out) -> Result<(), Fail> {
        let line = |cells: &mut dyn Iterator<Item = String>| {
            let mut line = String::new();
            cells.for_each(|cell| quoted(&mut line, &cell));
            line.pop();
            line
        };
        out.line(line(&mut self.head.iter().cloned()))?;
        for row in &self.rows {
            out.line(line(&mut row.iter().map(words)))?;
        }
        Ok(())
    }

    fn text(&self, out: &mut Out) -> Result<(), Fail> {
        let width = |text: &str| text.chars().count();
        let mut widths: Vec<usize> = self.head.iter().map(|head| width(head)).collect();
        for row in &self.rows {
            for (most, cell) in widths.iter_mut().zip(row) {
                *most = (*most).max(width(&words(cell)));
            }
        }
        let numbers: Vec<bool> = (0..self.head.len())
            .map(|at| self.rows.iter().any(|row| row[at].is_number()))
            .collect();
        let line = |cells: Vec<String>| {
            let mut line = String::new();
            for ((cell, most), number) in cells.iter().zip(&widths).zip(&numbers) {
                let blank = " ".repeat(most - width(cell));
                match number {
                    true => line.extend([&blank, cell.as_str(), "  "]),
                    false => line.extend([cell.as_str(), &blank, "  "]),
                }
            }
            line.truncate(line.trim_end().len());
            line
        };
        out.line(line(
            self.head
                .iter()
                .map(|head| head.replace('_', " "))
                .collect(),
        ))?;
        for row in &self.rows {
            out.line(line(row.iter().map(words).collect()))?;
        }
        if let Some(note) = &self.note {
            out.line(note)?;
        }
        Ok(())
    }
}

fn words(cell: &Value) -> String {
    match cell {
        Value::String(text) => text.clone(),
        Value::Null => String::new(),
        other => other.to_string(),
    }
}
