//! The shape of the program, held by a test: which module may use which, a
//! module doc at the head of each file, and files short enough to read.

use std::fs;
use std::path::{Path, PathBuf};

/// Lines of code (no blank lines, no comments) that a file may have.
const LINES_MAX: usize = 500;

/// The layers from the ground up. A module uses only rows above its own, and
/// of its own row: nouns those to the left, the others what `SIDEWAYS` lists.
const LAYERS: [&[&str]; 5] = [
    &[
        "stamp", "quantity", "text", "limits", "meter", "reading", "input", "row", "view",
    ],
    &["frame", "decode", "settle", "judge"],
    &["description", "bench", "engine"],
    &[
        "clock",
        "disk",
        "source",
        "capture",
        "log",
        "catalogue",
        "config",
        "report",
        "web",
        "sim",
    ],
    &["review", "daemon", "cli", "main"],
];

/// Arrows inside a row, each with its reason.
const SIDEWAYS: [(&str, &str, &str); 10] = [
    (
        "engine",
        "description",
        "the engine composes streams and benches",
    ),
    ("engine", "bench", "the engine composes streams and benches"),
    ("source", "clock", "bytes are stamped where they arrive"),
    ("sim", "clock", "simulated meters send at real time"),
    ("log", "disk", "a log is written to a disk that may fail"),
    ("capture", "disk", "so is a capture"),
    ("web", "catalogue", "a job's motor is looked up at the door"),
    (
        "web",
        "log",
        "jobs that have ended are read from the log's files",
    ),
    ("web", "report", "page and text say the same of a job"),
    ("web", "config", "a meter is set up at the door"),
];

/// Wiring may use everything beside it.
const WIRING: usize = 4;

fn layer(module: &str) -> Option<(usize, usize)> {
    LAYERS.iter().enumerate().find_map(|(row, modules)| {
        modules
            .iter()
            .position(|m| *m == module)
            .map(|place| (row, place))
    })
}

fn allowed(from: &str, to: &str) -> bool {
    let (Some((row, place)), Some((to_row, to_place))) = (layer(from), layer(to)) else {
        return false;
    };
    from == to
        || to_row < row
        || (row == to_row && row == 0 && to_place < place)
        || (row == to_row && row == WIRING)
        || SIDEWAYS.iter().any(|(a, b, _)| *a == from && *b == to)
}

/// The problems of one file of `src`, by its path inside it.
fn problems(path: &str, text: &str) -> Vec<String> {
    let module = path.split(['/', '.']).next().unwrap_or_default();
    let mut found = Vec::new();
    if layer(module).is_none() && module != "lib" {
        found.push(format!("{path}: module {module} stands in no layer"));
    }
    if !text.starts_with("//!") {
        found.push(format!("{path}: opens without a module doc (//!)"));
    }
    let code = text
        .lines()
        .map(str::trim)
        .filter(|l| !l.is_empty() && !l.starts_with("//"))
        .count();
    if code > LINES_MAX {
        found.push(format!(
            "{path}: {code} lines of code, {LINES_MAX} are the end"
        ));
    }
    if module == "lib" {
        return found;
    }
    for (number, line) in text.lines().enumerate() {
        let line = line.split("//").next().unwrap_or_default();
        for (at, _) in line.match_indices("crate::") {
            let rest = &line[at + "crate::".len()..];
            for to in used(rest) {
                if !allowed(module, &to) && layer(&to).is_some() {
                    found.push(format!("{path}:{}: {module} may not use {to}", number + 1));
                }
            }
        }
    }
    found
}

/// The modules named after `crate::`: one, or those of a brace list on the line.
fn used(rest: &str) -> Vec<String> {
    let word = |s: &str| {
        s.trim()
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect::<String>()
    };
    match rest.strip_prefix('{') {
        Some(list) => {
            let mut depth = 0_usize;
            let top = list.chars().map(|c| {
                match c {
                    '{' => depth += 1,
                    '}' => depth = depth.saturating_sub(1),
                    _ => {}
                }
                if depth > 0 && c == ',' { ' ' } else { c }
            });
            top.collect::<String>()
                .split(',')
                .map(word)
                .filter(|w| !w.is_empty())
                .collect()
        }
        None => vec![word(rest)],
    }
}

fn sources(dir: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).expect("src is readable") {
        let path = entry.expect("src is readable").path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

#[test]
fn every_arrow_points_up_every_file_says_what_it_is_for_and_none_is_too_long() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    assert!(files.len() > 10, "src was not found");
    let found: Vec<String> = files
        .iter()
        .flat_map(|file| {
            let path = file
                .strip_prefix(&root)
                .expect("inside src")
                .to_string_lossy()
                .replace('\\', "/");
            problems(
                &path,
                &fs::read_to_string(file).expect("a source file is text"),
            )
        })
        .collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn a_planted_violation_is_found() {
    let check = |path: &str, text: &str, expected: &str| {
        let found = problems(path, text).join("\n");
        assert!(
            found.contains(expected),
            "expected {expected:?}, found {found:?}"
        );
    };
    check(
        "settle/mod.rs",
        "//! Doc.\nuse crate::log::Log;\n",
        "settle/mod.rs:2: settle may not use log",
    );
    check(
        "judge/mod.rs",
        "//! Doc.\nuse crate::{row::Row, engine::Engine};\n",
        "judge may not use engine",
    );
    check(
        "text.rs",
        "//! Doc.\nfn f(_: crate::row::Row) {}\n",
        "text may not use row",
    );
    check(
        "frame/mod.rs",
        "//! Doc.\nuse crate::decode::Plan;\n",
        "frame may not use decode",
    );
    check("frame/mod.rs", "use std::fmt;\n", "without a module doc");
    check("elsewhere.rs", "//! Doc.\n", "stands in no layer");
    check(
        "frame/mod.rs",
        &format!("//! Doc.\n{}", "let a = 1;\n".repeat(501)),
        "501 lines of code",
    );
    assert!(problems("engine/mod.rs", "//! Doc.\nuse crate::bench::Benches;\n").is_empty());
}
