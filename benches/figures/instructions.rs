//! Instructions a reading, which do not depend on the machine's mood.

use std::path::Path;
use std::process::{Command, Stdio};

use crate::Figure;
use crate::child::STILLOHM;
use crate::replay::generate;

pub(crate) fn figures() -> Vec<Figure> {
    const READINGS: &str = "instructions: a reading, replay --readings";
    const ROWS: &str = "instructions: a reading, replay with rows";
    if Command::new("valgrind")
        .arg("--version")
        .stdout(Stdio::null())
        .status()
        .is_err()
    {
        return vec![Figure::said(READINGS, "skipped: valgrind is not installed")];
    }
    [(READINGS, "--readings"), (ROWS, "--rows")]
        .map(|(what, option)| {
            let folder = tempfile::tempdir().expect("a folder");
            // The difference of two sizes leaves out what starting costs.
            let (small, large) = (
                folder.path().join("small.txt"),
                folder.path().join("large.txt"),
            );
            let lines = (generate(&large, 3 << 19) - generate(&small, 1 << 19)) / 17;
            match (count(&small, option), count(&large, option)) {
                (Some(few), Some(many)) => {
                    Figure::said(what, format!("{}", (many - few) / lines as u64))
                }
                _ => Figure::said(what, "callgrind said no total"),
            }
        })
        .into()
}

/// Instructions of one replay under callgrind.
fn count(file: &Path, option: &str) -> Option<u64> {
    let done = Command::new("valgrind")
        .args([
            "--tool=callgrind",
            "--callgrind-out-file=/dev/null",
            STILLOHM,
            "replay",
        ])
        .arg(file)
        .args(["--protocol", "text-line", "--every", "0.05", option])
        .stdout(Stdio::null())
        .output()
        .ok()?;
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    let total = said
        .lines()
        .find_map(|l| l.split_once("Collected :"))?
        .1
        .trim();
    total.split(' ').next()?.parse().ok()
}
