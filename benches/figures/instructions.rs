//! Instructions a reading, a verdict, a catalogue, which do not depend on the machine's mood.

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
    let mut figures: Vec<Figure> = all
        .map(|(what, shows, options)| {
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
        .into();
    figures.extend(OWN.map(|(what, work, few, many)| {
        // The difference of two counts leaves out what starting costs.
        let work = format!("only={work}");
        match (own(&work, few), own(&work, many)) {
            (Some(less), Some(more)) => {
                Figure::said(what, format!("{}", (more - less) / (many - few)))
            }
            _ => Figure::said(what, "callgrind said no total"),
        }
    }));
    figures
}

/// What this program does of itself when it is asked: the figure, the work, two counts.
const OWN: [(&str, &str, u64, u64); 4] = [
    (
        "instructions: a winding's verdict",
        "winding",
        1_000,
        11_000,
    ),
    (
        "instructions: an insulation verdict",
        "insulation",
        1_000,
        11_000,
    ),
    ("instructions: 20,000 models loaded", "load", 1, 3),
    ("instructions: nine searches in them", "search", 1, 3),
];

/// Does only this, so often: what [`own`] counts.
pub(crate) fn only(work: &str, times: u64) {
    match work {
        "load" => crate::catalogue::load_only(times),
        "search" => crate::catalogue::search_only(times),
        which => crate::judge::judge_only(which, times),
    }
}

/// Instructions of this program at such work, under callgrind.
fn own(work: &str, times: u64) -> Option<u64> {
    let program = std::env::current_exe().ok()?;
    let mut valgrind = callgrind();
    total(valgrind.arg(program).args([work, &times.to_string()]))
}

fn callgrind() -> Command {
    let mut command = Command::new("valgrind");
    command.args(["--tool=callgrind", "--callgrind-out-file=/dev/null"]);
    command
}

/// Instructions of one replay under callgrind.
fn count(file: &Path, options: &[&str]) -> Option<u64> {
    let mut valgrind = callgrind();
    let replay = valgrind
        .args([STILLOHM, "replay"])
        .arg(file)
        .args(["--protocol", "text-line"])
        .args(options);
    total(replay)
}

/// What callgrind counted.
fn total(command: &mut Command) -> Option<u64> {
    let done = command.stdout(Stdio::null()).output().ok()?;
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    let line = said.lines().find_map(|l| l.split_once("Collected :"))?.1;
    line.trim().split(' ').next()?.parse().ok()
}
