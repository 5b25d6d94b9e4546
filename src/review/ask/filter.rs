//! Which rows are asked about.

use crate::log::scan::{Line, column};
use crate::row::quoted;
use crate::stamp::Wall;

/// Rows that are asked about: all that is named must hold.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    dates: Dates,
    /// A column and what its cell may be.
    cells: Vec<(usize, Vec<Vec<u8>>)>,
}

/// From when to when.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Dates {
    /// Not before: a date, or a beginning of one (`2026-03`).
    since: Option<Vec<u8>>,
    /// Not after: a date, or a beginning of one; `2026-03` holds all of March.
    until: Option<Vec<u8>>,
}

impl Dates {
    /// Whether they hold a date, written as the log writes it.
    pub fn hold(&self, at: &[u8]) -> bool {
        let until = |until: &Vec<u8>| &at[..at.len().min(until.len())] <= until.as_slice();
        let since = |since: &Vec<u8>| at >= since.as_slice();
        self.since.as_ref().is_none_or(since) && self.until.as_ref().is_none_or(until)
    }
}

/// Why a date is none.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DateError {
    /// It does not read, or no calendar has it.
    #[error(
        "expected a date such as 2026-03, 2026-03-01 or 2026-03-01T14:00, UTC; found {found:?}"
    )]
    None {
        /// What stands there.
        found: String,
    },
    /// Nothing lies between the two.
    #[error("expected an end that is not before the beginning, found {since} to {until}")]
    Reversed {
        /// The beginning.
        since: String,
        /// The end.
        until: String,
    },
}

impl Filter {
    /// Only rows recorded at a date or after it.
    ///
    /// # Errors
    /// It is no date.
    pub fn since(&mut self, date: &str) -> Result<(), DateError> {
        self.dates.since = Some(prefix(date)?);
        self.in_order()
    }

    /// Only rows recorded at a date or before it; a month or a day is meant to its end.
    ///
    /// # Errors
    /// It is no date.
    pub fn until(&mut self, date: &str) -> Result<(), DateError> {
        self.dates.until = Some(prefix(date)?);
        self.in_order()
    }

    fn in_order(&self) -> Result<(), DateError> {
        let (Some(since), Some(until)) = (&self.dates.since, &self.dates.until) else {
            return Ok(());
        };
        if since[..since.len().min(until.len())] <= until[..] {
            return Ok(());
        }
        let words = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        let (since, until) = (words(since), words(until));
        Err(DateError::Reversed { since, until })
    }

    /// The same rows of any time, and the dates: what shows a change needs what
    /// was before it.
    pub fn of_any_time(self) -> (Self, Dates) {
        let Self { dates, cells } = self;
        let any = Dates::default();
        (Self { dates: any, cells }, dates)
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

    /// Whether a column's words are asked about.
    pub fn names(&self, column: usize) -> bool {
        self.cells.iter().any(|(named, _)| *named == column)
    }

    /// The last column that is looked at.
    pub fn last_column(&self) -> usize {
        let columns = self.cells.iter().map(|(column, _)| *column);
        columns.max().unwrap_or(column::RECORDED_AT)
    }

    /// Whether a row is asked about.
    pub fn holds(&self, line: &Line<'_>) -> bool {
        self.hold_at(line, line.cell(column::RECORDED_AT))
    }

    /// Whether a row is asked about that is of another time than it was recorded at.
    pub fn hold_at(&self, line: &Line<'_>, at: &[u8]) -> bool {
        self.dates.hold(at)
            && self.cells.iter().all(|(column, words)| {
                let cell = line.cell(*column);
                words.iter().any(|word| word == cell)
            })
    }
}

/// A beginning of `2026-11-27T01:02:03.004Z`, of a date that there is.
fn prefix(date: &str) -> Result<Vec<u8>, DateError> {
    const FORM: &str = "0000-01-01T00:00:00.000Z";
    let mut words = date.trim().replacen(' ', "T", 1);
    if words.len() < FORM.len() && words.contains('T') {
        words.truncate(words.trim_end_matches('Z').len());
    }
    let whole = FORM.get(words.len()..).map(|rest| words.clone() + rest);
    let fits = matches!(words.len(), 4 | 7 | 10 | 13 | 16 | 19 | 24)
        && whole.is_some_and(|whole| Wall::parse(&whole).is_some_and(|at| at.rfc3339() == whole));
    match fits {
        true => Ok(words.into_bytes()),
        false => Err(DateError::None {
            found: date.to_owned(),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_and_their_beginnings_are_taken_and_others_named() {
        for date in [
            "2026",
            "2026-03",
            "2026-03-01",
            "2026-03-01 14:05",
            "2026-03-01T14:05Z",
            "2028-02-29",
        ] {
            assert!(prefix(date).is_ok(), "{date}");
        }
        for date in [
            "",
            "26-03-01",
            "2026-3",
            "01.03.2026",
            "2026-13",
            "2026-00",
            "2026-02-30",
            "2026-03-99",
            "2026-03-01T25",
            "2026-03-01T14:99",
            "2026-03-01T1",
            "2026-03-",
        ] {
            assert!(prefix(date).is_err(), "{date}");
        }
    }

    #[test]
    fn an_end_before_the_beginning_is_refused_and_the_same_month_is_not() {
        let of = |since: &str, until: &str| {
            let mut filter = Filter::default();
            filter
                .since(since)
                .and_then(|()| filter.until(until))
                .is_ok()
        };
        assert!(
            of("2026-03-05", "2026-03") && of("2026", "2026-03-05") && of("2026-03", "2026-03")
        );
        assert!(!of("2026-04", "2026-03") && !of("2026-04-01", "2026-03"));
    }
}
