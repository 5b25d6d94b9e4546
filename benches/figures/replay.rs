//! Replay of a large text capture: megabytes a second of CPU, on one core.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;

use stillohm::capture::{self, Pace};
use stillohm::description::{Heard, Plan, Stream, shipped};
use stillohm::input::What;
use stillohm::meter::MeterId;

use crate::Figure;
use crate::child::STILLOHM;

const MIB: usize = 64;
/// What a row's text must have of time: a line each twentieth of a second.
const PACED: [&str; 2] = ["--every", "0.05"];

/// What the lines of a file show.
#[derive(Clone, Copy)]
pub(crate) enum Shows {
    /// Air, then a plateau that flickers by a count: what a person at work makes.
    Plateaus,
    /// Another value on each line: nothing is ever the same again.
    Changing,
    /// The same value on each line.
    Constant,
}

pub(crate) fn figures() -> Vec<Figure> {
    let folder = tempfile::tempdir().expect("a folder");
    let mut figures = Vec::new();
    for (shows, name) in [
        (Shows::Plateaus, "plateaus"),
        (Shows::Changing, "changing values"),
        (Shows::Constant, "a constant value"),
    ] {
        let file = folder.path().join("lines.txt");
        let bytes = generate(&file, MIB << 20, shows);
        // The better of two: the first run also fills the cache of files.
        let mut figure = |what: &str, bar: f64, run: &dyn Fn() -> f64| {
            let best = run().min(run());
            let rate = bytes as f64 / 1e6 / best;
            let what = format!("replay: {what}, {name}");
            figures.push(Figure::at_least(&what, rate, bar, "MB/s"));
        };
        figure("readings counted", 150.0, &|| counted(&file, bytes / LINE));
        figure("--readings printed", 150.0, &|| {
            seconds(&file, &["--readings"])
        });
        figure("rows with chain", 60.0, &|| {
            seconds(&file, &[&["--rows"], &PACED[..]].concat())
        });
    }
    figures
}

/// CPU seconds of this thread for counting the readings of a file.
fn counted(file: &Path, lines: usize) -> f64 {
    let plan = shipped()
        .iter()
        .find(|(name, _)| *name == "text-line")
        .map(|(name, text)| Plan::parse(name, text).expect("compiles"))
        .expect("shipped");
    let mut stream = Stream::new(Arc::new(plan), &[(MeterId(0), None)]);
    let before = own_nanos();
    let mut count = 0;
    for input in capture::read(file, Pace::AtOnce).expect("opens") {
        let input = input.expect("reads");
        if let What::Bytes { data, .. } = &input.what {
            stream.bytes(input.at, data, &mut |heard| {
                if let Heard::Frame(readings) = heard {
                    count += readings.len();
                }
            });
        }
    }
    assert_eq!(count, lines, "a reading a line");
    (own_nanos() - before) as f64 / 1e9
}

/// Nanoseconds of CPU of this thread.
fn own_nanos() -> u64 {
    let text = fs::read_to_string("/proc/thread-self/schedstat").expect("/proc");
    let nanos = text.split(' ').next().expect("a field");
    nanos.parse().expect("nanoseconds")
}

/// CPU seconds of one replay, output thrown away.
fn seconds(file: &Path, options: &[&str]) -> f64 {
    let before = children_ticks();
    let done = Command::new(STILLOHM)
        .arg("replay")
        .arg(file)
        .args(["--protocol", "text-line"])
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

/// Bytes of a line.
pub(crate) const LINE: usize = 17;

/// Writes lines up to about `size` bytes, which it returns.
pub(crate) fn generate(file: &Path, size: usize, shows: Shows) -> usize {
    let mut out = BufWriter::new(File::create(file).expect("a file"));
    let lines = size / LINE;
    for n in 0..lines {
        // Air of 1.5 s at 20 a second, then 3.5 s of plateau.
        let (plateau, into) = (n / 100, n % 100);
        let counts = match shows {
            Shows::Plateaus if into < 30 => None,
            Shows::Plateaus => Some(plateau % 50_000 + usize::from(into % 17 == 0)),
            Shows::Changing => Some(n * 7919 % 80_000),
            Shows::Constant => Some(0),
        };
        let line = match counts {
            None => String::from("OL              \n"),
            Some(counts) => format!("+{:.5}E+02 OHM\n", (10_000 + counts) as f64 / 1e4),
        };
        assert_eq!(line.len(), LINE, "{line:?}");
        out.write_all(line.as_bytes()).expect("written");
    }
    out.flush().expect("written");
    lines * LINE
}
