//! Which rows are asked about.

use crate::log::scan::{Line, column};
use crate::row::quoted;

/// Rows that are asked about: all that is named must hold.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// Not before: a date, or a beginning of one (`2026-03`).
    since: Option<Vec<u8>>,
    /// Not after: a date, or a beginning of one; `2026-03` holds all of March.
    until: Option<Vec<u8>>,
    /// A column and what its cell may be.
    cells: Vec<(usize, Vec<Vec<u8>>)>,
}

/// Why a date is none.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("expected a date such as 2026-03, 2026-03-01 or 2026-03-01T14:00, UTC; found {found:?}")]
pub struct DateError {
    found: String,
}

impl Filter {
    /// Only rows recorded at a date or after it.
    ///
    /// # Errors
    /// It is no date.
    pub fn since(&mut self, date: &str) -> Result<(), DateError> {
        self.since = Some(prefix(date)?);
        Ok(())
    }

    /// Only rows recorded at a date or before it; a month or a day is meant to its end.
    ///
    /// # Errors
    /// It is no date.
    pub fn until(&mut self, date: &str) -> Result<(), DateError> {
        self.until = Some(prefix(date)?);
        Ok(())
    }

    /// Only rows whose cell is one of these.
    pub fn one_of<'a>(&mut self, column: usize, words: impl IntoIterator<Item = &'a str>) {
        let cell = |word: &str| {
            let mut cell = String::new();
            quoted(&mut cell, word);
            // Without the comma that divides it from the next.
            cell.pop();
            cell.into_bytes()
        };
        let words: Vec<_> = words.into_iter().map(cell).collect();
        if !words.is_empty() {
            self.cells.push((column, words));
        }
    }

    /// The last column that is looked at.
    pub fn last_column(&self) -> usize {
        let columns = self.cells.iter().map(|(column, _)| *column);
        columns.max().unwrap_or(column::RECORDED_AT)
    }

    /// Whether a row is asked about.
    pub fn holds(&self, line: &Line<'_>) -> bool {
        let at = line.cell(column::RECORDED_AT);
        let until = |until: &Vec<u8>| &at[..at.len().min(until.len())] <= until.as_slice();
        self.since
            .as_ref()
            .is_none_or(|since| at >= since.as_slice())
            && self.until.as_ref().is_none_or(until)
            && self.cells.iter().all(|(column, words)| {
                let cell = line.cell(*column);
                words.iter().any(|word| word == cell)
            })
    }
}

/// A beginning of `2026-11-27T01:02:03.004Z`.
fn prefix(date: &str) -> Result<Vec<u8>, DateError> {
    const FORM: &[u8] = b"0000-00-00T00:00:00.000Z";
    let date = date.trim().replacen(' ', "T", 1);
    let fits = date.len() >= 4
        && date.len() <= FORM.len()
        && date.bytes().zip(FORM).all(|(byte, form)| match form {
            b'0' => byte.is_ascii_digit(),
            _ => byte == *form,
        })
        && matches!(date.len(), 4 | 7 | 10 | 13 | 16 | 19 | 24);
    match fits {
        true => Ok(date.into_bytes()),
        false => Err(DateError { found: date }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_and_their_beginnings_are_taken_and_others_named() {
        for date in ["2026", "2026-03", "2026-03-01", "2026-03-01 14:05"] {
            assert!(prefix(date).is_ok(), "{date}");
        }
        for date in [
            "",
            "26-03-01",
            "2026-3",
            "01.03.2026",
            "2026-03-01T1",
            "2026-03-",
        ] {
            assert!(prefix(date).is_err(), "{date}");
        }
    }
}
