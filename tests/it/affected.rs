//! `review affected`: which verdicts turn if a meter was off.

use crate::run::Folder;

/// The log of the hatchery: J2 and J20 by ohms-2, J3 by ohms-1 and megs-1.
fn hatchery() -> Folder {
    let name = concat!(env!("CARGO_MANIFEST_DIR"), "/captures/hatchery.csv");
    let log = std::fs::read_to_string(name).expect("a log");
    Folder::new(&[("data/log/readings-2026-11.csv", &log)])
}

#[track_caller]
fn affected(folder: &Folder, args: &str, code: i32) -> (String, String) {
    let (error, args) = args.split_once(';').expect("an error and words");
    let mut all = vec!["review", "affected", "--data", "data", "--error", error];
    all.extend(args.split_whitespace());
    if !args.contains("--json") {
        all.push("--csv");
    }
    let ran = folder.run(&all);
    assert_eq!(
        ran.code,
        Some(code),
        "{all:?}: {}{}",
        ran.stdout,
        ran.stderr
    );
    (ran.stdout, ran.stderr)
}

/// By hand: 5.15 / 1.12 − 0.184 / 1.12 = 4.4339, below 4.6; 5.92 and its leads
/// give 5.1214, below 5.2. What failed as too low stays so.
#[test]
fn passes_that_fall_are_listed_and_make_it_1() {
    let folder = hatchery();
    let (lines, said) = affected(&folder, "+12 %; --meter ohms-2 --since 2026-11-26", 1);
    let turned: Vec<&str> = lines.lines().filter(|l| l.contains(",worse,")).collect();
    assert_eq!(
        turned,
        [
            "13,J2,AB-03,winding,line_12,worse,pass,fail,4.966,4.4339,",
            "32,J20,WP-02,winding,start,worse,pass,fail,5.736,5.1214,",
        ]
    );
    // Windings in series have no limits of their own.
    assert!(lines.contains("35,J20,WP-02,winding,total,not_judgeable,not_judged,,7.866,,its row has no limits to judge it by\n"), "{lines}");
    // Leads and metal stay far below an ohm.
    assert!(
        said.contains("2 worse, 0 better, 10 as they were, 1 not judgeable"),
        "{said}"
    );
}

/// Its leads were read before it went wrong, so they are right: 4.384 / 0.9 − 0.184
/// = 4.68711, within 4.6 to 5.4. It was never bad.
#[test]
fn a_failure_that_was_the_meters_is_better_and_0() {
    let folder = hatchery();
    let args =
        "-10 %; --meter ohms-2 --since 2026-11-26T04:54:21Z --until 2026-11-26T04:54:30Z --json";
    let (lines, said) = affected(&folder, args, 0);
    let row = lines
        .lines()
        .map(|line| serde_json::from_str::<serde_json::Value>(line).expect("JSON"))
        .find(|row| row["seq"] == 15)
        .expect("row 15");
    assert_eq!(
        (&row["turn"], &row["verdict_now"]),
        (&"better".into(), &"pass".into())
    );
    assert_eq!(
        (&row["judged_then"], &row["judged_now"]),
        (&"4.200".into(), &"4.68711".into())
    );
    assert!(said.contains("must be measured again"), "{said}");
    assert!(!lines.contains("\"seq\":17"), "{lines}");
}

#[test]
fn nothing_to_say_is_0_and_what_is_asked_wrongly_is_2() {
    let folder = hatchery();
    let none = affected(&folder, "+12 %; --meter ohms-2 --since 2026-11-27", 0);
    assert_eq!(none.0.lines().count(), 1);
    assert!(
        none.1.contains("no value of ohms-2 lies in this time"),
        "{}",
        none.1
    );
    for (args, words) in [
        (
            "+12 %; --meter ohms-9 --since 2026-11-26",
            "nearest: ohms-1, ohms-2",
        ),
        (
            "12 %; --meter ohms-2 --since 2026-11-26",
            "expected an error with its sign and unit",
        ),
        ("+0 %; --meter ohms-2 --since 2026-11-26", "other than 0"),
        (
            "+1 %; --meter ohms-2 --since November",
            "expected a year, a month or a day such as",
        ),
        (
            "+1 %; --meter ohms-2 --since 2026-11-26 --until 2026-11-20",
            "expected a time after --since",
        ),
    ] {
        let (_, said) = affected(&folder, args, 2);
        assert!(said.contains(words), "{said}");
    }
    ran!([] "review" "affected" "--data" "nowhere" "--meter" "m" "--since" "2026-01-01" "--error" "+1 %" => 2,
        stderr "expected a data folder with a log in it");
}
