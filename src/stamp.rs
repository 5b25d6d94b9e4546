//! Time as data: the monotonic stamp of an input, and wall time beside it.
//!
//! A stamp counts from the moment a run began; nothing at or below `engine`
//! reads a clock. Wall time is an offset carried by `Begin` and moved by a
//! clock step, so a replay writes the same `recorded_at` as the live run did.

use core::time::Duration;

use serde::{Deserialize, Serialize};

/// Nanoseconds on the run's own monotonic clock, 0 at `Begin`.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Stamp(u64);

impl Stamp {
    /// The moment a run begins.
    pub const ZERO: Self = Self(0);

    /// A stamp from nanoseconds since the run began.
    pub const fn from_nanos(nanos: u64) -> Self {
        Self(nanos)
    }

    /// A stamp from seconds; negative and non-finite seconds give 0, since
    /// nothing is stamped before its run.
    pub fn from_seconds(seconds: f64) -> Self {
        Self((seconds * 1e9).round() as u64)
    }

    /// Nanoseconds since the run began.
    pub const fn nanos(self) -> u64 {
        self.0
    }

    /// Seconds since the run began.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1e9
    }

    /// The time since `earlier`, 0 if that lies ahead.
    pub const fn since(self, earlier: Self) -> Duration {
        Duration::from_nanos(self.0.saturating_sub(earlier.0))
    }

    /// The stamp `by` later; the end of time if that overflows.
    pub const fn plus(self, by: Duration) -> Self {
        let nanos = by.as_nanos();
        if nanos > u64::MAX as u128 {
            Self(u64::MAX)
        } else {
            Self(self.0.saturating_add(nanos as u64))
        }
    }
}

/// UTC wall time in nanoseconds since 1970-01-01.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Wall(pub i64);

impl Wall {
    /// RFC 3339 in UTC with milliseconds, as the log's `recorded_at`.
    ///
    /// ```
    /// # use stillohm::stamp::Wall;
    /// assert_eq!(Wall(1_700_000_000_123_456_789).rfc3339(), "2023-11-14T22:13:20.123Z");
    /// ```
    pub fn rfc3339(self) -> String {
        let millis = self.0.div_euclid(1_000_000);
        match jiff::Timestamp::from_millisecond(millis) {
            Ok(at) => at.strftime("%Y-%m-%dT%H:%M:%S.%3fZ").to_string(),
            // An i64 of nanoseconds always lies inside jiff's range.
            Err(_) => String::from("1970-01-01T00:00:00.000Z"),
        }
    }

    /// The month as `YYYY-MM`, which names the log file.
    pub fn month(self) -> String {
        self.rfc3339()[..7].to_owned()
    }

    /// Reads what [`Wall::rfc3339`] writes; `None` for anything that is not a date and time.
    pub fn parse(text: &str) -> Option<Self> {
        let at: jiff::Timestamp = text.parse().ok()?;
        i64::try_from(at.as_nanosecond()).ok().map(Self)
    }

    /// This wall time moved on by `by`.
    pub const fn plus(self, by: Duration) -> Self {
        Self(self.0.saturating_add(by.as_nanos() as i64))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rfc3339_reads_back_to_the_millisecond() {
        for nanos in [0, 1_700_000_000_123_000_000, 4_102_444_799_999_000_000] {
            assert_eq!(Wall::parse(&Wall(nanos).rfc3339()), Some(Wall(nanos)));
        }
        assert_eq!(Wall::parse("yesterday"), None);
    }

    #[test]
    fn a_stamp_never_runs_backwards_or_over() {
        assert_eq!(Stamp::from_seconds(-1.0), Stamp::ZERO);
        assert_eq!(
            Stamp::from_nanos(5).since(Stamp::from_nanos(9)),
            Duration::ZERO
        );
        assert_eq!(
            Stamp::from_nanos(u64::MAX)
                .plus(Duration::from_secs(1))
                .nanos(),
            u64::MAX
        );
    }
}
