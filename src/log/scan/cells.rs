//! Where the cells of a row lie: found in blocks of 64 bytes, without building
//! the row.
//!
//! Commas inside quotes divide nothing. A doubled quote closes and opens again,
//! so it needs no care.

use wide::u8x16;

use crate::row::COLUMNS;

/// A block: as many bytes as a mask has bits.
const BLOCK: usize = 64;

/// Columns by their place in [`COLUMNS`].
pub mod column {
    use super::place;

    macro_rules! columns {
        ($($name:ident $word:literal)*) => {$(
            #[doc = concat!("The column `", $word, "`.")]
            pub const $name: usize = place($word);
        )*};
    }
    columns! {
        RECORDED_AT "recorded_at" EVENT "event" OF_SEQ "of_seq" BENCH "bench" METER "meter"
        JOB "job" TESTER "tester" ASSET "asset" MOTOR "motor" TEST "test" POINT "point"
        SHOWN "shown" VALUE "value" UNIT "unit" VALUE_OHMS "value_ohms" TEMPERATURE_C "temperature_c"
        JUDGED_OHMS "judged_ohms" LOWER_OHMS "lower_ohms" UPPER_OHMS "upper_ohms"
        VERDICT "verdict" FINDING "finding" REASON "reason" NOTE "note"
    }
}

/// The place of a column that there is.
const fn place(name: &str) -> usize {
    let mut at = 0;
    while at < COLUMNS.len() {
        if same(COLUMNS[at].as_bytes(), name.as_bytes()) {
            return at;
        }
        at += 1;
    }
    panic!("no such column")
}

const fn same(a: &[u8], b: &[u8]) -> bool {
    let mut at = 0;
    while at < a.len() && at < b.len() && a[at] == b[at] {
        at += 1;
    }
    at == a.len() && at == b.len()
}

/// Where the first cells of a row end.
#[derive(Clone, Debug)]
pub(in crate::log) struct Ends {
    ends: [u32; COLUMNS.len()],
}

impl Ends {
    pub(in crate::log) const fn new() -> Self {
        Self {
            ends: [0; COLUMNS.len()],
        }
    }

    /// Finds the cells up to `last` of the row that `bytes` begins with. False:
    /// the bytes end before that.
    pub(in crate::log) fn find(&mut self, bytes: &[u8], last: usize) -> bool {
        let mut found = 0;
        let mut inside = 0_u64;
        let mut from = 0;
        while from < bytes.len() {
            let mut padded = [0; BLOCK];
            let block: &[u8; BLOCK] = match bytes[from..].first_chunk() {
                Some(block) => block,
                None => {
                    let rest = &bytes[from..];
                    padded[..rest.len()].copy_from_slice(rest);
                    &padded
                }
            };
            let mut commas = mask(block, b',');
            let quotes = mask(block, b'"');
            if quotes != 0 || inside != 0 {
                let quoted = parity(quotes) ^ inside;
                commas &= !quoted;
                // All ones when the block ends inside quotes.
                inside = 0_u64.wrapping_sub(quoted >> (BLOCK - 1));
            }
            while commas != 0 {
                self.ends[found] = (from as u32) + commas.trailing_zeros();
                if found == last {
                    return true;
                }
                found += 1;
                commas &= commas - 1;
            }
            from += BLOCK;
        }
        false
    }

    /// A cell's first byte and the place of the comma behind it.
    pub(in crate::log) fn range(&self, column: usize) -> core::ops::Range<usize> {
        let begin = match column {
            0 => 0,
            _ => self.ends[column - 1] as usize + 1,
        };
        begin..self.ends[column] as usize
    }
}

/// Which bytes of a block are `wanted`, a bit each, the first in bit 0.
fn mask(block: &[u8; BLOCK], wanted: u8) -> u64 {
    let wanted = u8x16::new([wanted; 16]);
    let (parts, _) = block.as_chunks::<16>();
    let found = |part: &[u8; 16]| u8x16::new(*part).simd_eq(wanted).to_bitmask();
    let bits = |(at, part)| u64::from(found(part)) << (16 * at);
    parts.iter().enumerate().map(bits).fold(0, |a, b| a | b)
}

/// Each bit: whether an odd number of bits stand at or below it.
const fn parity(bits: u64) -> u64 {
    let mut bits = bits;
    bits ^= bits << 1;
    bits ^= bits << 2;
    bits ^= bits << 4;
    bits ^= bits << 8;
    bits ^= bits << 16;
    bits ^= bits << 32;
    bits
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::cells::cells;
    use crate::row::{Event, Row, Verdict};
    use crate::stamp::Wall;
    use proptest::prelude::*;

    proptest! {
        /// The same cells as the reader gives that takes a row apart byte by byte.
        #[test]
        fn cells_are_found_where_they_are(
            words in proptest::collection::vec("[a-z\",µ;]{0,90}", 4),
            last in 0_usize..40,
            short in 0_usize..40,
        ) {
            let mut row = Row::new(Event::Value, Wall(0));
            row.verdict = Some(Verdict::Fail);
            let [job, asset, from, note] = words.try_into().expect("four");
            (row.job, row.asset, row.limits_from, row.note) = (job, asset, from, note);
            let mut line = String::new();
            row.write(17, &mut line);
            let mut ends = Ends::new();
            prop_assert!(ends.find(line.as_bytes(), last));
            for (column, expected) in cells(line.as_bytes()).enumerate().take(last + 1) {
                let raw = &line.as_bytes()[ends.range(column)];
                prop_assert_eq!(super::super::plain(raw), expected.as_bytes());
            }
            // Bytes that end before the cell does say so.
            let end = ends.range(last).end;
            prop_assert!(!ends.find(&line.as_bytes()[..end.saturating_sub(short)], last));
        }
    }
}
