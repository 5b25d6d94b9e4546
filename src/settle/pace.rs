//! How fast a meter talks, and how much of the time between two readings
//! counts as dwell.
//!
//! Readings of one chunk share a stamp and add nothing; nor do silence beyond
//! the usual interval, duplicates, and the tail of a burst.

use crate::stamp::Stamp;

/// An interval below this part of the usual one is a duplicate or a burst tail.
const SHORT: f64 = 0.35;
/// An interval counts for at most this many usual ones: one lost reading is forgiven in part.
const LONG: f64 = 1.5;
/// Seconds of short intervals in a row after which the meter has become faster.
const FASTER_SECONDS: f64 = 1.0;
/// Long intervals in a row after which the meter has become slower: one that
/// ranges in silence leaves as many as it has ranges.
const SLOWER_COUNT: u32 = 6;
/// The longest interval that is learned, in seconds.
const SLOWEST: f64 = 5.0;

/// The pace of one meter.
#[derive(Clone, Debug, Default)]
pub(super) struct Pace {
    last: Option<Stamp>,
    usual: f64,
    short_seconds: f64,
    short_count: u32,
    long_count: u32,
}

/// What passed since the reading before.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Passed {
    /// Seconds by the stamps.
    pub(super) seconds: f64,
    /// Seconds that count as dwell.
    pub(super) dwell: f64,
}

impl Pace {
    /// The usual interval in seconds, 0 if not yet known.
    pub(super) fn usual(&self) -> f64 {
        self.usual
    }

    /// Forgets when the last reading was, not how fast they come.
    pub(super) fn gap(&mut self) {
        self.last = None;
    }

    /// A reading arrived of which nothing is asked.
    pub(super) fn touch(&mut self, at: Stamp) {
        self.last = Some(at);
    }

    /// A reading arrived.
    pub(super) fn reading(&mut self, at: Stamp) -> Passed {
        let Some(last) = self.last.replace(at) else {
            return Passed::default();
        };
        let nanos = at.nanos().saturating_sub(last.nanos());
        if nanos == 0 {
            return Passed::default();
        }
        let seconds = nanos as f64 / 1e9;
        if self.usual == 0.0 {
            self.usual = seconds.min(SLOWEST);
            return Passed {
                seconds,
                dwell: self.usual,
            };
        }
        if seconds < SHORT * self.usual {
            self.long_count = 0;
            self.short_seconds += seconds;
            self.short_count += 1;
            if self.short_seconds < FASTER_SECONDS || self.short_count < 3 {
                return Passed {
                    seconds,
                    dwell: 0.0,
                };
            }
            self.usual = self.short_seconds / f64::from(self.short_count);
        } else {
            self.short_seconds = 0.0;
            self.short_count = 0;
            if seconds > 3.0 * self.usual {
                self.long_count += 1;
                if self.long_count >= SLOWER_COUNT {
                    self.usual = seconds.min(SLOWEST);
                }
            } else {
                self.long_count = 0;
                self.usual += 0.15 * (seconds - self.usual);
            }
        }
        Passed {
            seconds,
            dwell: seconds.min(LONG * self.usual),
        }
    }
}
