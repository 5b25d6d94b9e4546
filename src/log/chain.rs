//! The chain: each row's digest runs over the one before it and its own bytes.
//!
//! A row ends with a comma, 32 hexadecimal digits and a line feed. Cells may
//! hold line feeds inside quotes, so a line feed alone does not end a row; the
//! chain itself decides which of the possible ends is the true one.

use core::fmt;

use sha2::{Digest, Sha256};

/// Hexadecimal digits in a chain.
pub const DIGITS: usize = 32;
/// How many possible ends are tried for one row. A cell would have to quote
/// the end of a row to need more than one.
const TRIES: usize = 8;

/// The chain text of a row.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Chain([u8; DIGITS]);

impl Chain {
    /// What the first row follows: 32 zeros.
    pub const START: Self = Self([b'0'; DIGITS]);

    /// Reads 32 lowercase hexadecimal digits.
    pub fn parse(text: &[u8]) -> Option<Self> {
        let digits: [u8; DIGITS] = text.try_into().ok()?;
        digits
            .iter()
            .all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
            .then_some(Self(digits))
    }

    /// The chain of the next row, from its bytes up to and including the comma
    /// before its chain.
    #[must_use]
    pub fn next(&self, row: &[u8]) -> Self {
        let digest = Sha256::new()
            .chain_update(self.0)
            .chain_update(row)
            .finalize();
        let mut digits = [0; DIGITS];
        for (pair, byte) in digits.chunks_exact_mut(2).zip(digest.iter()) {
            pair[0] = hex(byte >> 4);
            pair[1] = hex(byte & 15);
        }
        Self(digits)
    }

    /// The digits.
    pub fn as_str(&self) -> &str {
        core::str::from_utf8(&self.0).expect("hexadecimal digits are ASCII")
    }
}

const fn hex(nibble: u8) -> u8 {
    match nibble {
        0..=9 => b'0' + nibble,
        _ => b'a' + nibble - 10,
    }
}

impl fmt::Debug for Chain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl fmt::Display for Chain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// The next place after `from` where a row may end, just behind its line feed,
/// and the chain that stands there.
pub fn next_end(bytes: &[u8], from: usize) -> Option<(usize, Chain)> {
    let mut at = from;
    loop {
        let feed = at + memchr::memchr(b'\n', bytes.get(at..)?)?;
        if let Some(chain) = end_at(bytes, from, feed) {
            return Some((feed + 1, chain));
        }
        at = feed + 1;
    }
}

/// The chain before the line feed at `feed`, if a row that begins at or after
/// `from` can end there.
fn end_at(bytes: &[u8], from: usize, feed: usize) -> Option<Chain> {
    let comma = feed.checked_sub(DIGITS + 1)?;
    if comma < from || bytes[comma] != b',' {
        return None;
    }
    Chain::parse(&bytes[comma + 1..feed])
}

/// The end of the row that begins at `from` and follows `before`, if its chain holds.
pub fn holding(bytes: &[u8], from: usize, before: &Chain) -> Option<(usize, Chain)> {
    let mut searched = from;
    for _ in 0..TRIES {
        let (end, chain) = next_end(bytes, searched)?;
        if before.next(&bytes[from..end - DIGITS - 1]) == chain {
            return Some((end, chain));
        }
        searched = end;
    }
    None
}

/// The last row in `bytes` whose chain holds: where it begins and ends.
///
/// `first` is the chain that a row at the very beginning follows, if that is
/// known; otherwise the first row serves only as the one before the second.
pub fn last_holding(bytes: &[u8], first: Option<&Chain>) -> Option<LastRow> {
    let mut ends: Vec<(usize, Option<Chain>)> = vec![(0, first.copied())];
    let mut at = 0;
    while let Some((end, chain)) = next_end(bytes, at) {
        ends.push((end, Some(chain)));
        at = end;
    }
    for last in (1..ends.len()).rev() {
        let (end, chain) = (ends[last].0, ends[last].1?);
        for (begin, before) in ends[last.saturating_sub(TRIES)..last].iter().rev() {
            let Some(before) = before else { continue };
            if before.next(&bytes[*begin..end - DIGITS - 1]) == chain {
                return Some(LastRow {
                    begin: *begin,
                    end,
                    chain,
                });
            }
        }
    }
    None
}

/// Where the last row whose chain holds lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastRow {
    /// Its first byte.
    pub begin: usize,
    /// Just behind its line feed.
    pub end: usize,
    /// Its chain.
    pub chain: Chain,
}

/// The number that a line begins with.
pub fn seq_of(line: &[u8]) -> Option<u64> {
    let comma = line.iter().position(|b| *b == b',')?;
    core::str::from_utf8(&line[..comma]).ok()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    // python3 -c "import hashlib; c='0'*32; r='1,2026-11-25T12:44:05.000Z,note,';
    // c=hashlib.sha256((c+r).encode()).hexdigest()[:32]; print(c);
    // print(hashlib.sha256((c+'2,\u00b5,').encode()).hexdigest()[:32])"
    #[test]
    fn the_chain_is_what_hashlib_says() {
        let first = Chain::START.next(b"1,2026-11-25T12:44:05.000Z,note,");
        assert_eq!(first.as_str(), "3d166030b41cb4fcc2c960b6b5b088b5");
        assert_eq!(
            first.next("2,µ,".as_bytes()).as_str(),
            "5d6271f4349b6b5848a9efa3decc1024"
        );
    }

    fn log(rows: &[&str]) -> String {
        let mut chain = Chain::START;
        let mut out = String::new();
        for row in rows {
            chain = chain.next(row.as_bytes());
            out.push_str(&format!("{row}{chain}\n"));
        }
        out
    }

    #[test]
    fn a_cell_that_quotes_the_end_of_a_row_does_not_end_it() {
        let quoting = format!("2,\"a,{}\nb\",", "0".repeat(32));
        let log = log(&["1,a,", &quoting, "3,c,"]);
        let (end, chain) = holding(log.as_bytes(), 0, &Chain::START).expect("row 1");
        let (end, chain) = holding(log.as_bytes(), end, &chain).expect("row 2");
        assert!(log[..end].ends_with(&format!("{chain}\n")));
        assert_eq!(seq_of(&log.as_bytes()[end..]), Some(3));
        let last = last_holding(&log.as_bytes()[3..], None).expect("row 3");
        assert_eq!(last.end, log.len() - 3);
        assert_eq!(last.begin, end - 3);
    }

    #[test]
    fn the_last_row_that_holds_is_found_behind_and_before_a_changed_one() {
        let whole = log(&["1,a,", "2,b,", "3,c,"]);
        let changed = whole.replace("2,b", "2,x");
        let last = last_holding(changed.as_bytes(), Some(&Chain::START)).expect("row 3");
        assert_eq!(last.end, changed.len());
        let changed = whole.replace("3,c", "3,x");
        let last = last_holding(changed.as_bytes(), Some(&Chain::START)).expect("row 2");
        assert_eq!(seq_of(&changed.as_bytes()[last.begin..]), Some(2));
    }
}
