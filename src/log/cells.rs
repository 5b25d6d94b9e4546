//! A row's bytes as cells, as few or as many as are needed.

use std::borrow::Cow;

use crate::row::{Recorded, RowError};

/// The cells of one line in order, quotes taken off.
pub fn cells(line: &[u8]) -> impl Iterator<Item = Cow<'_, str>> {
    let mut rest = Some(line);
    core::iter::from_fn(move || {
        let bytes = rest?;
        let (cell, after) = match bytes.first() {
            Some(b'"') => quoted(bytes),
            _ => {
                let end = memchr::memchr2(b',', b'\n', bytes).unwrap_or(bytes.len());
                (String::from_utf8_lossy(&bytes[..end]), &bytes[end..])
            }
        };
        rest = after.strip_prefix(b",");
        Some(cell)
    })
}

/// Reads a whole row. The same as [`Recorded::from_line`] for what the log
/// writes, without building a CSV reader for every row.
///
/// # Errors
/// As [`Recorded::from_cells`].
pub fn recorded(line: &[u8]) -> Result<Recorded, RowError> {
    let cells: Vec<_> = cells(line).collect();
    Recorded::from_cells(cells.iter().map(AsRef::as_ref))
}

fn quoted(bytes: &[u8]) -> (Cow<'_, str>, &[u8]) {
    let mut cell = Vec::new();
    let mut at = 1;
    while let Some(byte) = bytes.get(at) {
        match (byte, bytes.get(at + 1)) {
            (b'"', Some(b'"')) => at += 1,
            (b'"', _) => {
                return (
                    String::from_utf8_lossy(&cell).into_owned().into(),
                    &bytes[at + 1..],
                );
            }
            _ => {}
        }
        cell.push(*byte);
        at += 1;
    }
    (String::from_utf8_lossy(&cell).into_owned().into(), &[])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::row::{Event, Row};
    use crate::stamp::Wall;
    use proptest::prelude::*;

    #[test]
    fn cells_come_without_their_quotes() {
        let found: Vec<_> = cells(b"7,,\"pump 3, \"\"east\"\"\nside\",x\n").collect();
        assert_eq!(found, ["7", "", "pump 3, \"east\"\nside", "x"]);
        assert_eq!(cells(b"\"open").collect::<Vec<_>>(), ["open"]);
    }

    proptest! {
        #[test]
        fn a_row_reads_the_same_as_through_a_csv_reader(job in "[a-z\",\r\n;µ]{0,20}", note in "[a-z\",\n]{0,20}") {
            let mut row = Row::new(Event::Note, Wall(0));
            (row.job, row.note) = (job, note);
            let mut line = String::new();
            row.write(7, &mut line);
            line.push_str(&"0".repeat(32));
            line.push('\n');
            prop_assert_eq!(recorded(line.as_bytes()), Recorded::from_line(&line));
            prop_assert_eq!(recorded(line.as_bytes()).expect("a row").row, row);
        }
    }
}
