//! Ranges of a display: which one is chosen, and how a value looks on it.

use crate::quantity::{Decimal, Ohms, prefix_symbol};

/// A range of a resistance display.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Range {
    /// The largest count it shows.
    pub counts: i64,
    /// The power of ten of one count, in ohms.
    pub exp: i8,
    /// The power of ten of its prefix: 3 for kΩ.
    pub prefix: i8,
}

const fn range(counts: i64, exp: i8, prefix: i8) -> Range {
    Range {
        counts,
        exp,
        prefix,
    }
}

/// An invented bench ohmmeter of 6000 counts, 6 Ω to 60 MΩ.
pub const OHMMETER: &[Range] = &[
    range(6000, -3, 0),
    range(6000, -2, 0),
    range(6000, -1, 0),
    range(6000, 0, 3),
    range(6000, 1, 3),
    range(6000, 2, 3),
    range(6000, 3, 6),
    range(6000, 4, 6),
];

/// An invented pocket meter of 2000 counts whose finest step is 0.1 Ω.
pub const POCKET: &[Range] = &[
    range(2000, -1, 0),
    range(2000, 0, 3),
    range(2000, 1, 3),
    range(2000, 2, 3),
    range(2000, 3, 6),
    range(2000, 4, 6),
];

/// An invented insulation tester of 6000 counts, 6 MΩ to 20 GΩ.
pub const TESTER: &[Range] = &[
    range(6000, 3, 6),
    range(6000, 4, 6),
    range(6000, 5, 6),
    range(6000, 6, 9),
    range(2000, 7, 9),
];

impl Range {
    /// The value in counts, `None` when it is more than the range shows.
    pub fn counts_of(self, ohms: Ohms) -> Option<i64> {
        let counts = Decimal::rounded(ohms.0, self.exp)?.count();
        (counts <= self.counts).then_some(counts)
    }

    /// As the line that is sent writes it: `12.30 kOhm`.
    pub fn write(self, counts: i64) -> String {
        let letter = prefix_symbol(self.prefix).unwrap_or_default();
        match Decimal::new(counts, self.exp - self.prefix) {
            Ok(value) => format!("{value} {letter}Ohm"),
            Err(_) => String::from("OL"),
        }
    }

    /// What lies beyond it: `>20.00 GOhm`.
    pub fn beyond(self) -> String {
        format!(">{}", self.write(self.counts))
    }
}

/// One step towards the range that fits: up when the value does not fit, down
/// when it would fill less than a twelfth (so that it does not hunt at the edge).
pub fn step(ranges: &[Range], at: usize, ohms: Ohms) -> usize {
    match ranges[at].counts_of(ohms) {
        None => (at + 1).min(ranges.len() - 1),
        Some(counts) if counts.abs() * 12 < ranges[at].counts => at.saturating_sub(1),
        Some(_) => at,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settled(ranges: &[Range], ohms: f64) -> String {
        let mut at = ranges.len() - 1;
        for _ in 0..ranges.len() {
            at = step(ranges, at, Ohms(ohms));
        }
        match ranges[at].counts_of(Ohms(ohms)) {
            Some(counts) => ranges[at].write(counts),
            None => ranges[at].beyond(),
        }
    }

    #[test]
    fn a_display_of_6000_counts_shows_what_fits() {
        for (ohms, shown) in [
            (0.1234, "0.123 Ohm"),
            (4.9794, "4.979 Ohm"),
            // Coming down, it stays on the range where it still fills a twelfth.
            (5.9994, "6.00 Ohm"),
            (6.01, "6.01 Ohm"),
            (488.84, "488.8 Ohm"),
            (22_700.0, "22.70 kOhm"),
            (47_000_000.0, "47.00 MOhm"),
            (80_000_000.0, ">60.00 MOhm"),
        ] {
            assert_eq!(settled(OHMMETER, ohms), shown, "{ohms}");
        }
        assert_eq!(settled(TESTER, 1.23e9), "1.230 GOhm");
        assert_eq!(settled(TESTER, f64::INFINITY), ">20.00 GOhm");
        assert_eq!(settled(TESTER, 0.4), "0.000 MOhm");
    }

    #[test]
    fn a_value_at_the_edge_of_a_range_does_not_hunt() {
        let at = step(OHMMETER, 0, Ohms(6.05));
        assert_eq!(at, 1);
        assert_eq!(step(OHMMETER, at, Ohms(5.95)), at);
    }
}
