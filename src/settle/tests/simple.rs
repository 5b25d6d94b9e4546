//! What simpler rules would do: doubles to compare with, for the table only.
//!
//! Each takes once a contact and is armed again like the engine, by over-range
//! of two readings and about a second.

use super::scenes::Trace;
use super::score::Capture;
use super::traces::Reading;

/// A simpler rule.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Rule {
    /// So many equal readings in a row.
    Equal(usize),
    /// Largest less smallest over so many seconds within two counts.
    Span(f64),
    /// The slope of a line over so many seconds within the drift limit.
    Slope(f64),
}

impl Rule {
    /// The rules of the table.
    pub(crate) const ALL: &[Self] = &[
        Self::Equal(3),
        Self::Equal(6),
        Self::Span(2.0),
        Self::Slope(2.0),
    ];

    /// What it is called in the table.
    pub(crate) fn name(self) -> String {
        match self {
            Self::Equal(n) => format!("{n} equal readings"),
            Self::Span(s) => format!("within 2 counts for {s:.0} s"),
            Self::Slope(s) => format!("slope over {s:.0} s within the drift limit"),
        }
    }

    /// The values that it takes from a trace.
    pub(crate) fn captures(self, trace: &Trace) -> Vec<Capture> {
        let mut captures = Vec::new();
        let mut armed = true;
        let mut open: Option<(f64, u32)> = None;
        let mut kept: Vec<Reading> = Vec::new();
        for reading in &trace.readings {
            if reading.counts.is_none() {
                let (since, n) = open.map_or((reading.at, 1), |(since, n)| (since, n + 1));
                armed |= n >= 2 && reading.at - since >= 0.95;
                open = Some((since, n));
                kept.clear();
                continue;
            }
            open = None;
            if kept.last().is_some_and(|last| last.place != reading.place) {
                kept.clear();
            }
            kept.push(*reading);
            if armed && let Some(counts) = self.settled(&mut kept) {
                armed = false;
                captures.push(Capture {
                    at: reading.at,
                    ohms: counts * reading.count(),
                    count: reading.count(),
                });
            }
        }
        captures
    }

    /// The value in counts, if the newest readings satisfy the rule; forgets
    /// what it needs no longer.
    fn settled(self, kept: &mut Vec<Reading>) -> Option<f64> {
        let newest = *kept.last()?;
        if let Self::Equal(n) = self {
            kept.drain(..kept.len().saturating_sub(n));
            let equal = kept.len() == n && kept.iter().all(|r| r.counts == newest.counts);
            return equal.then_some(newest.counts? as f64);
        }
        let (Self::Span(seconds) | Self::Slope(seconds)) = self else {
            return None;
        };
        // One reading older than the span shows that it is covered.
        while kept.len() > 1 && newest.at - kept[1].at >= seconds {
            kept.remove(0);
        }
        if newest.at - kept[0].at < seconds || kept.len() < 4 {
            return None;
        }
        let counts = kept.iter().filter_map(|r| Some((r.at, r.counts? as f64)));
        let points: Vec<(f64, f64)> = counts.collect();
        let n = points.len() as f64;
        let (t, x) = points
            .iter()
            .fold((0.0, 0.0), |(t, x), p| (t + p.0, x + p.1));
        let (t, x) = (t / n, x / n);
        let fits = match self {
            Self::Span(_) => {
                let least = points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
                let most = points.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max);
                most - least <= 2.0
            }
            _ => {
                let tt: f64 = points.iter().map(|p| (p.0 - t) * (p.0 - t)).sum();
                let tx: f64 = points.iter().map(|p| (p.0 - t) * (p.1 - x)).sum();
                (tx / tt.max(1e-9)).abs() <= (0.000_2 * x.abs()).max(0.2)
            }
        };
        fits.then_some(x.round())
    }
}
