//! Names of the log's files: `readings-YYYY-MM.csv`, in the order they were written.
//!
//! `readings-YYYY-MM-2.csv` and so on begin when a file was found damaged: the
//! damaged one is never touched again.

use std::io;
use std::path::Path;

use crate::disk::Disk;
use crate::row::COLUMNS;

/// One of the log's files. Ordered as they were written.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct FileName {
    /// `YYYY-MM`.
    pub month: String,
    /// From 1; above 1 after damage.
    pub part: u32,
}

impl FileName {
    /// Reads a name; `None` for a file that is not the log's.
    pub fn parse(name: &str) -> Option<Self> {
        let stem = name.strip_prefix("readings-")?.strip_suffix(".csv")?;
        let month = stem.get(..7)?;
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        if !(digits(&month[..4]) && month.as_bytes()[4] == b'-' && digits(&month[5..])) {
            return None;
        }
        let part = match &stem[7..] {
            "" => 1,
            rest => rest
                .strip_prefix('-')
                .filter(|n| digits(n) && !n.starts_with('0'))?
                .parse()
                .ok()
                .filter(|n| *n > 1)?,
        };
        Some(Self {
            month: month.to_owned(),
            part,
        })
    }

    /// The log's files in a folder, in the order they were written.
    ///
    /// # Errors
    /// The disk's own.
    pub fn list<D: Disk>(disk: &D, dir: &Path) -> io::Result<Vec<Self>> {
        let mut files: Vec<Self> = disk
            .list(dir)?
            .iter()
            .filter_map(|name| Self::parse(name))
            .collect();
        files.sort();
        Ok(files)
    }
}

impl core::fmt::Display for FileName {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self.part {
            1 => write!(f, "readings-{}.csv", self.month),
            part => write!(f, "readings-{}-{part}.csv", self.month),
        }
    }
}

/// The first line of every file, with its line feed.
pub fn header() -> String {
    let mut header = COLUMNS.join(",");
    header.push('\n');
    header
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_read_back_and_sort_as_written() {
        let mut names = [
            "readings-2026-12.csv",
            "readings-2026-11-10.csv",
            "readings-2026-11-2.csv",
            "readings-2026-11.csv",
        ]
        .map(|name| FileName::parse(name).expect(name));
        names.sort();
        assert_eq!(
            names.map(|n| n.to_string()),
            [
                "readings-2026-11.csv",
                "readings-2026-11-2.csv",
                "readings-2026-11-10.csv",
                "readings-2026-12.csv"
            ]
        );
        for other in [
            "readings-2026-11.csv.bak",
            "readings-2026-1.csv",
            "readings-2026-11-1.csv",
            "readings-2026-11-02.csv",
            "Kopie.csv",
            "readings-äöüäöü.csv",
        ] {
            assert_eq!(FileName::parse(other), None, "{other}");
        }
    }
}
