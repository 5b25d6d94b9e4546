//! Every file in `captures/` is a test: drop one in.
//!
//! A hexlog says in comments which description it speaks and which rows it
//! must give between `run_start` and `run_end`: `# protocol: NAME`, and one
//! `# expect: EVENT [SHOWN]` a row. A capture of a run has the log that it
//! gave beside it (`NAME.csv`); wording may have improved since, verdicts,
//! findings and numbers may not differ under the same engine revision.

use std::path::{Path, PathBuf};

use stillohm::row::Recorded;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("captures")
}

fn files(ending: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder()).expect("captures is there");
    let paths = entries.map(|entry| entry.expect("readable").path());
    let mut files: Vec<PathBuf> = paths
        .filter(|p| p.extension().is_some_and(|e| e == ending))
        .collect();
    files.sort();
    assert!(!files.is_empty(), "no .{ending} in captures");
    files
}

fn replay(file: &Path, further: &[&str]) -> String {
    let ran = std::process::Command::new(env!("CARGO_BIN_EXE_stillohm"))
        .arg("replay")
        .arg(file)
        .args(further)
        .output()
        .expect("runs");
    assert!(
        ran.status.success(),
        "{}: {}",
        file.display(),
        String::from_utf8_lossy(&ran.stderr)
    );
    String::from_utf8(ran.stdout).expect("text")
}

fn rows(text: &str) -> Vec<Recorded> {
    let lines = text.lines().skip(1);
    lines
        .map(|line| Recorded::from_line(line).expect("a row"))
        .collect()
}

#[test]
fn each_hexlog_gives_the_rows_that_its_comments_expect() {
    for file in files("hexlog") {
        let text = std::fs::read_to_string(&file).expect("text");
        let said = |key: &str| -> Vec<String> {
            let lines = text.lines().filter_map(|line| line.strip_prefix(key));
            lines.map(|words| words.trim().to_owned()).collect()
        };
        let protocol = said("# protocol:")
            .pop()
            .expect("a hexlog names its protocol");
        let expected = said("# expect:");
        assert!(
            !expected.is_empty(),
            "{}: nothing is expected",
            file.display()
        );
        let rows = rows(&replay(&file, &["--protocol", &protocol]));
        let found: Vec<String> = rows[1..rows.len() - 1]
            .iter()
            .map(|r| format!("{} {}", r.row.event, r.row.shown).trim().to_owned())
            .collect();
        assert_eq!(found, expected, "{}", file.display());
    }
}

#[test]
fn each_capture_gives_its_log_again() {
    for file in files("pcapng") {
        let log = std::fs::read_to_string(file.with_extension("csv")).expect("a log beside it");
        let (kept, now) = (rows(&log), rows(&replay(&file, &[])));
        assert_eq!(kept.len(), now.len(), "{}", file.display());
        for (kept, now) in kept.iter().zip(&now) {
            let judged = |r: &Recorded| {
                let r = &r.row;
                let numbers = (
                    r.value,
                    r.value_ohms,
                    r.judged_ohms,
                    r.uncertainty_ohms,
                    r.samples,
                );
                (
                    r.recorded_at,
                    r.event,
                    r.of_seq,
                    r.point.clone(),
                    r.shown.clone(),
                    numbers,
                    r.verdict,
                    r.finding,
                )
            };
            assert_eq!(
                judged(kept),
                judged(now),
                "{} row {}",
                file.display(),
                kept.seq
            );
        }
    }
}
