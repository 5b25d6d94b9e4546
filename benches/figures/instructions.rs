//! Instructions a reading, which do not depend on the machine's mood.

use std::path::Path;
use std::process::{Command, Stdio};

use crate::Figure;
use crate::child::STILLOHM;
use crate::replay::{LINE, Shows, generate};

pub(crate) fn figures() -> Vec<Figure> {
    let all = [
        (
            "instructions: a reading, --readings, plateaus",
            Shows::Plateaus,
            &["--readings"][..],
        ),
        (
            "instructions: a reading, --readings, changing",
            Shows::Changing,
            &["--readings"],
        ),
        (
            "instructions: a reading, with rows, plateaus",
            Shows::Plateaus,
            &["--rows", "--every", "0.05"],
        ),
        (
            "instructions: a reading, with rows, changing",
            Shows::Changing,
            &["--rows", "--every", "0.05"],
        ),
    ];
    if Command::new("valgrind")
        .arg("--version")
        .stdout(Stdio::null())
        .status()
        .is_err()
    {
        return vec![Figure::said(
            "instructions: a reading",
            "skipped: valgrind is not installed",
        )];
    }
    all.map(|(what, shows, options)| {
        let folder = tempfile::tempdir().expect("a folder");
        // The difference of two sizes leaves out what starting costs.
        let (small, large) = (
            folder.path().join("small.txt"),
            folder.path().join("large.txt"),
        );
        let bytes = generate(&large, 3 << 19, shows) - generate(&small, 1 << 19, shows);
        match (count(&small, options), count(&large, options)) {
            (Some(few), Some(many)) => {
                Figure::said(what, format!("{}", (many - few) / (bytes / LINE) as u64))
            }
            _ => Figure::said(what, "callgrind said no total"),
        }
    })
    .into()
}

/// Instructions of one replay under callgrind.
fn count(file: &Path, options: &[&str]) -> Option<u64> {
    let done = Command::new("valgrind")
        .args([
            "--tool=callgrind",
            "--callgrind-out-file=/dev/null",
            STILLOHM,
            "replay",
        ])
        .arg(file)
        .args(["--protocol", "text-line"])
        .args(options)
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
