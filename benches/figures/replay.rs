//! Replay of a large text capture: megabytes a second of CPU, on one core.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::Path;
use std::process::{Command, Stdio};

use crate::Figure;
use crate::child::STILLOHM;

const MIB: usize = 64;

pub(crate) fn figures() -> Vec<Figure> {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("lines.txt");
    let bytes = generate(&file, MIB << 20);
    let mut figures = Vec::new();
    for (what, options, bar) in [
        ("replay: --readings", &["--readings"][..], 150.0),
        ("replay: rows with chain", &["--rows"][..], 60.0),
    ] {
        // The better of two: the first run also fills the cache of files.
        let best = (0..2)
            .map(|_| seconds(&file, options))
            .fold(f64::INFINITY, f64::min);
        figures.push(Figure::at_least(
            what,
            bytes as f64 / 1e6 / best,
            bar,
            "MB/s",
        ));
    }
    figures
}

/// CPU seconds of one replay, output thrown away.
fn seconds(file: &Path, options: &[&str]) -> f64 {
    let before = children_ticks();
    let done = Command::new(STILLOHM)
        .arg("replay")
        .arg(file)
        .args(["--protocol", "text-line", "--every", "0.05"])
        .args(options)
        .stdout(Stdio::null())
        .status()
        .expect("runs");
    assert!(done.success(), "replay: expected exit 0, found {done}");
    // Linux counts in hundredths of a second for everyone (USER_HZ).
    (children_ticks() - before) as f64 / 100.0
}

/// Ticks of user and system time of children waited for.
fn children_ticks() -> u64 {
    let stat = fs::read_to_string("/proc/self/stat").expect("/proc");
    let (_, fields) = stat.rsplit_once(") ").expect("a name in brackets");
    let ticks = |n: usize| {
        fields
            .split(' ')
            .nth(n)
            .expect("a field")
            .parse::<u64>()
            .expect("ticks")
    };
    // Fields 16 and 17 of proc(5), counted from the third.
    ticks(13) + ticks(14)
}

/// Lines of 17 bytes: air of 1.5 s, then a plateau of 3.5 s that flickers by a count.
pub(crate) fn generate(file: &Path, size: usize) -> usize {
    let mut out = BufWriter::new(File::create(file).expect("a file"));
    let mut bytes = 0;
    for n in 0_usize.. {
        if bytes >= size {
            break;
        }
        let (plateau, into) = (n / 100, n % 100);
        let line = if into < 30 {
            String::from("OL              \n")
        } else {
            let counts = 10_000 + plateau % 50_000 + usize::from(into % 17 == 0);
            format!("+{:.5}E+02 OHM\n", counts as f64 / 1e4)
        };
        bytes += line.len();
        out.write_all(line.as_bytes()).expect("written");
    }
    out.flush().expect("written");
    bytes
}
