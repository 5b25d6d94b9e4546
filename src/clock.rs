//! The only place that reads clocks.
//!
//! A [`Clock`] stamps inputs; a [`Watch`] compares it with wall time and says
//! when the two no longer agree. On Linux the clock is the one that goes on
//! through suspend. Nothing at or below `engine` ever holds a `Clock`.

use core::time::Duration;
#[cfg(not(target_os = "linux"))]
use std::time::Instant;
use std::time::{SystemTime, UNIX_EPOCH};

use crate::stamp::{Stamp, Wall};

/// The run's own clock: 0 when it was started, never backwards.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    #[cfg(target_os = "linux")]
    origin: Duration,
    // Does not count the time a suspended machine slept, on systems where
    // std's does not; the watch sees the sleep as a step of wall time.
    #[cfg(not(target_os = "linux"))]
    origin: Instant,
}

impl Clock {
    /// Begins to count.
    pub fn start() -> Self {
        Self {
            origin: monotonic(),
        }
    }

    /// The time since the start.
    pub fn now(&self) -> Stamp {
        let since = monotonic().saturating_sub(self.origin);
        Stamp::ZERO.plus(since)
    }

    /// Wall time at the start of the counting: what an input's stamp is added to.
    pub fn began(&self) -> Wall {
        let since = i64::try_from(self.now().nanos()).unwrap_or(i64::MAX);
        Wall(self.wall().0.saturating_sub(since))
    }

    /// Wall time now. A clock set before 1970 gives a negative time.
    #[expect(clippy::disallowed_methods, reason = "this is where clocks are read")]
    pub fn wall(&self) -> Wall {
        let nanos = |d: Duration| i64::try_from(d.as_nanos()).unwrap_or(i64::MAX);
        match SystemTime::now().duration_since(UNIX_EPOCH) {
            Ok(since) => Wall(nanos(since)),
            Err(before) => Wall(-nanos(before.duration())),
        }
    }
}

#[cfg(target_os = "linux")]
fn monotonic() -> Duration {
    let at = rustix::time::clock_gettime(rustix::time::ClockId::Boottime);
    // The kernel's boot clock is never negative, and its nanoseconds are below 10^9.
    Duration::new(at.tv_sec as u64, at.tv_nsec as u32)
}

#[cfg(not(target_os = "linux"))]
#[expect(clippy::disallowed_methods, reason = "this is where clocks are read")]
fn monotonic() -> Instant {
    Instant::now()
}

/// So that both kinds of origin subtract alike.
#[cfg(not(target_os = "linux"))]
trait SaturatingSub {
    fn saturating_sub(self, earlier: Self) -> Duration;
}

#[cfg(not(target_os = "linux"))]
impl SaturatingSub for Instant {
    fn saturating_sub(self, earlier: Self) -> Duration {
        self.saturating_duration_since(earlier)
    }
}

/// Watches whether wall time and the run's clock still move together.
///
/// It is looked at about once a second. Its measure is the offset in force,
/// the one that `recorded_at` is computed from, so that a slow drift is
/// reported too, once it has grown beyond the bound.
#[derive(Clone, Copy, Debug)]
pub struct Watch {
    offset: i128,
    looked: Stamp,
}

/// Wall time and the run's clock parted, or nothing ran for a while.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// Wall time now: the offset in force from here on.
    pub wall: Wall,
    /// Nanoseconds by which wall time moved; near 0 after a mere sleep.
    pub moved: i64,
}

impl Watch {
    /// More than this apart is a step.
    pub const STEP: Duration = Duration::from_secs(2);
    /// Not looked at for this long: the machine slept or the program was stopped (own).
    pub const SLEPT: Duration = Duration::from_secs(10);

    /// A watch for which these two are the same moment.
    pub fn new(at: Stamp, wall: Wall) -> Self {
        Self {
            offset: offset(at, wall),
            looked: at,
        }
    }

    /// Compares the two clocks, read together.
    pub fn look(&mut self, at: Stamp, wall: Wall) -> Option<Step> {
        let slept = at.since(self.looked) > Self::SLEPT;
        self.looked = self.looked.max(at);
        let moved = offset(at, wall) - self.offset;
        if moved.unsigned_abs() <= Self::STEP.as_nanos() && !slept {
            return None;
        }
        self.offset += moved;
        let moved = moved.clamp(i128::from(i64::MIN), i128::from(i64::MAX)) as i64;
        Some(Step { wall, moved })
    }
}

fn offset(at: Stamp, wall: Wall) -> i128 {
    i128::from(wall.0) - i128::from(at.nanos())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `SECONDS=WALL SECONDS` pairs in, the steps in seconds out.
    fn check(pairs: &str, steps: &str) {
        let mut watch = Watch::new(Stamp::ZERO, Wall(1_000_000_000_000));
        let mut found = Vec::new();
        for pair in pairs.split_whitespace() {
            let (at, wall) = pair.split_once('=').unwrap();
            let at = Stamp::from_seconds(at.parse().unwrap());
            let wall = Wall(1_000_000_000_000 + (wall.parse::<f64>().unwrap() * 1e9) as i64);
            if let Some(step) = watch.look(at, wall) {
                assert_eq!(step.wall, wall);
                found.push(format!("{}:{}", at.seconds(), step.moved as f64 / 1e9));
            }
        }
        assert_eq!(found.join(" "), steps);
    }

    #[test]
    fn a_step_is_reported_once_and_small_moves_are_not() {
        check("1=1 2=2 3=3.5 4=4.5", "");
        check("1=1 2=2 3=63 4=64", "3:60");
        check("1=1 2=2 3=-57 4=-56", "3:-60");
        check("1=3 2=4", "");
        check("1=3.5 2=4.5", "1:2.5");
    }

    #[test]
    fn a_drift_is_reported_when_it_has_grown() {
        check("5=6 10=12 15=18 20=24", "15:3");
    }

    #[test]
    fn a_sleep_is_a_step_even_if_both_clocks_counted_through_it() {
        check("1=1 2=2 60=60 61=61", "60:0");
    }

    #[test]
    fn the_clock_moves_on() {
        let clock = Clock::start();
        let first = clock.now();
        std::thread::sleep(Duration::from_millis(2));
        assert!(clock.now().since(first) >= Duration::from_millis(2));
        let apart = clock.wall().0 - clock.began().0;
        assert!((2_000_000..=60_000_000_000).contains(&apart), "{apart}");
        assert!(clock.wall() > Wall::parse("2020-01-01T00:00:00Z").unwrap());
    }
}
