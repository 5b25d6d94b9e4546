//! Whether a row is well formed, at a glance: without building it.
//!
//! What is accepted here reads as a row ([`crate::log::cells::recorded`]) with
//! the same number; what is not may still be one, and is looked at in full.

use core::ops::Range;

use super::super::chain::DIGITS;
use super::super::scan::Ends;
use crate::limits::Acceptance;
use crate::row::{COLUMNS, Event, Finding, Verdict, method, unit};

/// The last column before the chain.
const NOTE: usize = COLUMNS.len() - 2;
const CAPTURE: usize = NOTE - 2;
const OFFSET: usize = NOTE - 1;
/// Digits that a number of 64 bits always holds.
const WHOLE: usize = 18;
/// Digits that a count of 32 bits always holds.
const COUNT: usize = 9;

/// A well-formed row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Glance {
    pub(super) seq: u64,
    pub(super) event: Event,
    /// Where in the row its capture is named, quotes with it.
    pub(super) capture: Range<usize>,
    pub(super) offset: Option<u64>,
    /// The bytes of the row, line feed included.
    pub(super) len: usize,
}

/// Looks at the row that `bytes` begin with; they are UTF-8. `month` is the
/// last that its file may hold.
pub(super) fn glance(bytes: &[u8], ends: &mut Ends, month: &[u8]) -> Option<Glance> {
    if !ends.find(bytes, NOTE) {
        return None;
    }
    let row = ends.range(NOTE).end + 1;
    let len = row + DIGITS + 1;
    let chain = bytes.get(row..row + DIGITS)?;
    let hex = |b: &u8| matches!(b, b'0'..=b'9' | b'a'..=b'f');
    if bytes.get(len - 1) != Some(&b'\n') || !chain.iter().all(hex) {
        return None;
    }
    let cell = |column: usize| &bytes[ends.range(column)];
    let seq = whole(cell(0))?;
    let date = cell(1);
    if !is_date(date) || &date[..7] > month {
        return None;
    }
    let event = Event::from_word(word(cell(2))?)?;
    let plain = memchr::memchr2(b'"', b'\n', &bytes[..row]).is_none();
    for column in 3..=NOTE {
        let cell = cell(column);
        let fits = cell.is_empty()
            || match column {
                3 | OFFSET => whole(cell).is_some(),
                15 => word(cell).is_some_and(|word| unit(word).is_some()),
                18 => word(cell).is_some_and(|word| method(word).is_some()),
                19 => cell.len() <= COUNT && whole(cell).is_some(),
                14 | 16 | 17 | 20..=30 | 33 => is_decimal(cell),
                32 => word(cell).is_some_and(|word| Acceptance::from_word(word).is_some()),
                34 => word(cell).is_some_and(|word| Verdict::from_word(word).is_some()),
                35 => word(cell).is_some_and(|word| Finding::from_word(word).is_some()),
                _ => plain || is_text(cell),
            };
        if !fits {
            return None;
        }
    }
    Some(Glance {
        seq,
        event,
        capture: ends.range(CAPTURE),
        offset: whole(cell(OFFSET)),
        len,
    })
}

fn word(cell: &[u8]) -> Option<&str> {
    core::str::from_utf8(cell).ok()
}

fn whole(cell: &[u8]) -> Option<u64> {
    if cell.is_empty() || cell.len() > WHOLE {
        return None;
    }
    let mut number = 0;
    for byte in cell {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            return None;
        }
        number = number * 10 + u64::from(digit);
    }
    Some(number)
}

/// A plain decimal of at most 15 digits, as the log writes it.
fn is_decimal(cell: &[u8]) -> bool {
    let digits = cell.strip_prefix(b"-").unwrap_or(cell);
    let points = digits.iter().filter(|b| **b == b'.').count();
    let all = digits.iter().all(|b| b.is_ascii_digit() || *b == b'.');
    all && points <= 1 && digits.len() > points && digits.len() - points <= 15
}

/// A date that there is, as `2026-11-27T01:02:03.004Z`.
fn is_date(cell: &[u8]) -> bool {
    const FORM: &[u8; 24] = b"0000-00-00T00:00:00.000Z";
    let fits = |(byte, form): (&u8, &u8)| match form {
        b'0' => byte.is_ascii_digit(),
        _ => byte == form,
    };
    if cell.len() != FORM.len() || !cell.iter().zip(FORM).all(fits) {
        return false;
    }
    let pair = |at: usize| (cell[at] - b'0') * 10 + cell[at + 1] - b'0';
    let (century, year) = (pair(0), pair(2));
    let leap = if year == 0 {
        century % 4 == 0
    } else {
        year % 4 == 0
    };
    let days = match pair(5) {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        _ => 0,
    };
    // Other centuries may lie beyond what a time can hold.
    (19..=21).contains(&century)
        && (1..=days).contains(&pair(8))
        && pair(11) < 24
        && pair(14) < 60
        && pair(17) < 60
}

/// Without quotes and line feeds, or in quotes with each quote inside doubled.
fn is_text(cell: &[u8]) -> bool {
    let Some(inside) = cell.strip_prefix(b"\"") else {
        return memchr::memchr2(b'"', b'\n', cell).is_none();
    };
    let Some(inside) = inside.strip_suffix(b"\"") else {
        return false;
    };
    let mut at = 0;
    while let Some(quote) = memchr::memchr(b'"', &inside[at..]) {
        if inside.get(at + quote + 1) != Some(&b'"') {
            return false;
        }
        at += quote + 2;
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::cells::recorded;
    use crate::quantity::{Decimal, Unit};
    use crate::reading::Method;
    use crate::row::Row;
    use crate::stamp::Wall;
    use proptest::prelude::*;

    fn line(words: &[String; 4], count: i64, exp: i8) -> String {
        let mut row = Row::new(Event::Value, Wall(1_700_000_000_123_000_000));
        let [asset, from, capture, note] = words.clone();
        (row.asset, row.limits_from, row.capture, row.note) = (asset, from, capture, note);
        row.value = Decimal::new(count, exp).ok();
        (row.unit, row.method) = (Some(Unit::Ohm), Some(Method::Steady));
        (row.samples, row.of_seq, row.capture_offset) = (Some(7), Some(3), Some(12));
        (row.verdict, row.finding) = (Some(Verdict::Fail), Some(Finding::LimitsTooNarrow));
        row.acceptance = Some(Acceptance::Guarded);
        let mut line = String::new();
        row.write(17, &mut line);
        line + &"0a".repeat(16) + "\n"
    }

    fn seen(line: &[u8]) -> Option<Glance> {
        glance(line, &mut Ends::new(), b"2023-11")
    }

    #[test]
    fn a_line_feed_outside_quotes_ends_a_row() {
        let words = ["pump", "", "", ""].map(String::from);
        let line = line(&words, 4711, -2);
        assert!(seen(line.as_bytes()).is_some());
        assert_eq!(seen(line.replacen("pump", "pu\np", 1).as_bytes()), None);
        assert_eq!(seen(line.replacen(",pump", ",pump\n", 1).as_bytes()), None);
    }

    proptest! {
        /// A date is one if a calendar has it.
        #[test]
        fn dates_are_those_of_a_calendar(
            year in 1970_u16..2200, month in 0_u8..14, day in 0_u8..33, hour in 0_u8..26, minute in 0_u8..62,
        ) {
            let date = format!("{year}-{month:02}-{day:02}T{hour:02}:{minute:02}:59.004Z");
            prop_assert_eq!(is_date(date.as_bytes()), Wall::parse(&date).is_some(), "{}", date);
        }

        /// What the log writes is accepted.
        #[test]
        fn rows_of_the_log_are_well_formed(
            words in proptest::array::uniform4("[a-z\",µ\n;]{0,70}"),
            count in -999_999_999i64..999_999_999, exp in -9i8..=6,
        ) {
            let line = line(&words, count, exp);
            let glance = seen(line.as_bytes());
            prop_assert!(glance.is_some(), "{line}");
            let glance = glance.expect("seen");
            prop_assert_eq!((glance.seq, glance.offset, glance.len), (17, Some(12), line.len()));
        }

        /// What is accepted reads as a row, whatever was changed.
        #[test]
        fn what_is_accepted_is_a_row(
            words in proptest::array::uniform4("[a-z\",]{0,12}"),
            edits in proptest::collection::vec((any::<proptest::sample::Index>(), "[0-9a-z\",.eE:T\\-\n+ ]"), 1..4),
        ) {
            let mut line = line(&words, 4711, -2);
            for (at, sign) in &edits {
                let at = at.index(line.len());
                line.replace_range(at..=at, sign);
            }
            if let Some(glance) = seen(line.as_bytes()) {
                let row = recorded(&line.as_bytes()[..glance.len]);
                prop_assert!(row.is_ok(), "{line:?}: {row:?}");
                let row = row.expect("a row");
                prop_assert_eq!((row.seq, row.row.event), (glance.seq, glance.event));
                prop_assert_eq!(row.row.capture_offset, glance.offset);
            }
        }
    }
}
