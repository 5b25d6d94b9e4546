//! The first cells of a row's bytes, without reading the whole row.

use std::borrow::Cow;

/// The cells of one line in order, quotes taken off.
pub fn cells(line: &[u8]) -> impl Iterator<Item = Cow<'_, str>> {
    let mut rest = Some(line);
    core::iter::from_fn(move || {
        let bytes = rest?;
        let (cell, after) = match bytes.first() {
            Some(b'"') => quoted(bytes),
            _ => {
                let end = bytes
                    .iter()
                    .position(|b| matches!(b, b',' | b'\n'))
                    .unwrap_or(bytes.len());
                (String::from_utf8_lossy(&bytes[..end]), &bytes[end..])
            }
        };
        rest = after.strip_prefix(b",");
        Some(cell)
    })
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

    #[test]
    fn cells_come_without_their_quotes() {
        let found: Vec<_> = cells(b"7,,\"pump 3, \"\"east\"\"\nside\",x\n").collect();
        assert_eq!(found, ["7", "", "pump 3, \"east\"\nside", "x"]);
        assert_eq!(cells(b"\"open").collect::<Vec<_>>(), ["open"]);
    }
}
