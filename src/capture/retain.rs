//! Which captures to delete, by age and size: decided here, done by the daemon.
//!
//! The oldest go first. The files of the run at hand never go, and neither
//! does a file whose name does not say when it began.

use core::time::Duration;

use super::names::{began, run_of, split};
use crate::stamp::Wall;

/// A capture file that is there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// Its name.
    pub name: String,
    /// Its length.
    pub bytes: u64,
}

/// How long and how much to keep.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Retention {
    /// No capture of a run that began before this long ago.
    pub age: Option<Duration>,
    /// No more bytes than this in all.
    pub bytes: Option<u64>,
}

/// The names to delete, each with why, the oldest first.
pub fn to_expire(
    kept: &[Kept],
    current: &str,
    retention: Retention,
    now: Wall,
) -> Vec<(String, String)> {
    let mut total: u64 = kept.iter().map(|k| k.bytes).sum();
    let mut old: Vec<_> = kept
        .iter()
        .filter(|k| run_of(&k.name) != run_of(current))
        .filter_map(|k| Some((began(&k.name)?, split(&k.name)?, k.bytes)).map(|key| (key, k)))
        .collect();
    old.sort_by(|a, b| a.0.cmp(&b.0));
    let mut expired = Vec::new();
    for ((began, _, bytes), kept) in old {
        let age = retention.age.filter(|age| began.plus(*age) < now);
        let why = match (age, retention.bytes) {
            (Some(age), _) => format!("older than {} days", age.as_secs() / 86_400),
            (None, Some(most)) if total > most => {
                format!("captures took {total} bytes, {most} are kept")
            }
            _ => continue,
        };
        total -= bytes;
        expired.push((kept.name.clone(), why));
    }
    expired
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(retention: Retention, expected: &[&str]) {
        let kept = [
            "20251103T000000Z.pcapng",
            "20251101T000000Z.2.pcapng",
            "20251101T000000Z.pcapng",
            "20251102T000000Z.pcapng",
            "mine.pcapng",
        ]
        .map(|name| Kept {
            name: name.to_owned(),
            bytes: 100,
        });
        let now = Wall::parse("2025-11-04T00:00:00Z").expect("a time");
        let expired = to_expire(&kept, "20251103T000000Z.2.pcapng", retention, now);
        assert_eq!(
            expired.iter().map(|e| e.0.as_str()).collect::<Vec<_>>(),
            expected
        );
    }

    #[test]
    fn the_oldest_go_first_and_the_run_at_hand_stays() {
        check(
            Retention {
                age: None,
                bytes: None,
            },
            &[],
        );
        check(
            Retention {
                age: None,
                bytes: Some(400),
            },
            &["20251101T000000Z.pcapng"],
        );
        check(
            Retention {
                age: Some(Duration::from_secs(86_400 * 5 / 2)),
                bytes: None,
            },
            &["20251101T000000Z.pcapng", "20251101T000000Z.2.pcapng"],
        );
        check(
            Retention {
                age: None,
                bytes: Some(0),
            },
            &[
                "20251101T000000Z.pcapng",
                "20251101T000000Z.2.pcapng",
                "20251102T000000Z.pcapng",
            ],
        );
    }
}
