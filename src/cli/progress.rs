//! How far long work has come, on a terminal and nowhere else.

use std::io::{IsTerminal as _, Write as _};
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

/// Work that is done sooner shows nothing.
const QUIET: Duration = Duration::from_millis(400);
const AGAIN: Duration = Duration::from_millis(100);

/// Does `work`, which counts bytes of `all`, and shows on a terminal how many.
pub(crate) fn watched<T>(what: &str, all: u64, work: impl FnOnce(&AtomicU64) -> T) -> T {
    let done = AtomicU64::new(0);
    if !std::io::stderr().is_terminal() {
        return work(&done);
    }
    let ended = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let watcher = scope.spawn(|| show(what, all, &done, &ended));
        let result = work(&done);
        ended.store(true, Ordering::Relaxed);
        watcher.thread().unpark();
        result
    })
}

fn show(what: &str, all: u64, done: &AtomicU64, ended: &AtomicBool) {
    std::thread::park_timeout(QUIET);
    let mut shown = false;
    while !ended.load(Ordering::Relaxed) {
        line(&format!(
            "{}",
            Part {
                what,
                all,
                done: done.load(Ordering::Relaxed)
            }
        ));
        shown = true;
        std::thread::park_timeout(AGAIN);
    }
    if shown {
        // The line is gone before anything else is said.
        line("");
    }
}

/// Writes over the line that stands there.
fn line(words: &str) {
    let mut err = std::io::stderr().lock();
    // A terminal that is gone needs no progress.
    _ = write!(err, "\r\x1b[K{words}").and_then(|()| err.flush());
}

struct Part<'a> {
    what: &'a str,
    all: u64,
    done: u64,
}

impl core::fmt::Display for Part<'_> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let percent = (100 * self.done)
            .checked_div(self.all)
            .unwrap_or(100)
            .min(100);
        let megabytes = |bytes: u64| bytes / 1_000_000;
        write!(
            f,
            "{} {percent} % ({} of {} MB)",
            self.what,
            megabytes(self.done),
            megabytes(self.all)
        )
    }
}

/// Bytes of the files in a folder; what cannot be read counts nothing.
pub(crate) fn size_of(dir: &Path) -> u64 {
    let entries = std::fs::read_dir(dir).into_iter().flatten().flatten();
    entries
        .filter_map(|entry| entry.metadata().ok())
        .map(|of| of.len())
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_is_said_in_percent_and_megabytes() {
        let part = |done, all| {
            Part {
                what: "verified",
                all,
                done,
            }
            .to_string()
        };
        assert_eq!(part(1_500_000, 3_000_000), "verified 50 % (1 of 3 MB)");
        assert_eq!(part(0, 0), "verified 100 % (0 of 0 MB)");
        // A log that grew meanwhile.
        assert_eq!(part(4_000_000, 3_000_000), "verified 100 % (4 of 3 MB)");
    }
}
