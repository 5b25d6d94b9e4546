//! `review`: questions over a log that is there, and a reviewer's word in it.

use crate::run::{Folder, says as check};
use crate::serve::{BY_EYE, Daemon, replays_to_its_log};

/// The log of the hatchery's two jobs, as the month that it was written in.
fn hatchery() -> Folder {
    let log = include_str!("../../captures/hatchery.csv");
    Folder::new(&[("data/log/readings-2026-11.csv", log)])
}

/// Counted by hand in `captures/hatchery.csv`: of the windings `line_12` passes,
/// `line_23` and `line_31` are low, and the set of them is unbalanced.
#[test]
fn verdicts_are_counted_by_what_is_asked() {
    let folder = hatchery();
    let only = "review count --data data --by model,finding --test winding --csv";
    check(
        &folder,
        only,
        0,
        &[
            "HB-AB 7,low,0,2,0,0,100.0,",
            "HB-AB 7,unbalanced,0,1,0,0,",
            "HB-AB 7,within,1,0,0,0,0.0,",
        ],
    );
    check(
        &folder,
        "review count --data data --since 2026-12 --csv",
        0,
        &["model,month,pass"],
    );
    check(
        &folder,
        "review count --data data --by stage --json",
        0,
        &["\"stage\":\"arrival\""],
    );
    check(
        &folder,
        "review last --data data --asset CP-07 --point main",
        0,
        &["40.72 Ω"],
    );
    check(
        &folder,
        "review count --data data --since Monday",
        2,
        &["expected a date such as 2026-03"],
    );
    check(
        &folder,
        "review count --data nowhere",
        2,
        &["expected a data folder", "--data"],
    );
    check(
        &folder,
        "review count --by modle --data data",
        2,
        &["model"],
    );
}

#[test]
fn a_review_is_a_row_with_a_name_and_replays() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    check(&folder, "enter gauge --shown 4.7", 0, &["recorded as"]);
    check(
        &folder,
        "review sign 2 --tester B.Brook --says seen",
        0,
        &["B.Brook reviewed row 2: seen"],
    );
    let daemon = Daemon::start(&folder, &[]);
    check(
        &folder,
        "review sign 2 --tester C.Linn --says again",
        0,
        &["C.Linn reviewed row 2"],
    );
    assert_eq!(daemon.stop(), Some(0));
    let log = || {
        let files = std::fs::read_dir(folder.path("data/log")).expect("a log");
        let sizes = files.map(|file| file.expect("a file").metadata().expect("a size").len());
        sizes.sum::<u64>()
    };
    let before = log();
    for (args, words) in [
        ("review sign 99 --tester B.Brook --says seen", "no row 99"),
        ("review sign 0 --tester B.Brook --says seen", "no row 0"),
    ] {
        check(&folder, args, 2, &[words]);
    }
    let clears = [
        "review",
        "sign",
        "2",
        "--tester",
        "B.Brook",
        "--says",
        "seen, it is safe to energize",
    ];
    let refused = folder.run(&clears);
    assert_eq!(refused.code, Some(2), "{}", refused.stderr);
    assert!(
        refused.stderr.contains("a review clears no motor"),
        "{}",
        refused.stderr
    );
    let blank = ["review", "sign", "2", "--tester", "B.Brook", "--says", " "];
    assert_eq!(folder.run(&blank).code, Some(2));
    assert_eq!(log(), before, "a refusal leaves no trace");
    check(
        &folder,
        "review sign J1 --tester B.Brook --says seen",
        2,
        &["no job is called J1"],
    );
    check(
        &folder,
        "review sign two --tester B.Brook --says seen",
        2,
        &["expected a job such as J12"],
    );
    check(&folder, "review sign 2 --says seen", 2, &["--tester"]);
    replays_to_its_log(&folder, 3);
    check(&folder, "verify data", 0, &[]);
}

/// Each question answers or says what is missing; their numbers are held
/// against other programs in `tests/outside/review.py`.
#[test]
fn questions_without_enough_data_say_so() {
    let folder = hatchery();
    check(
        &folder,
        "review values --data data --test winding",
        0,
        &["HB-CP 40", "main", "40.599"],
    );
    check(
        &folder,
        "review chart --data data",
        2,
        &["a chart is of one model and point", "--point"],
    );
    check(
        &folder,
        "review chart --data data --model HB-CP --point main",
        2,
        &["--model \"HB-CP\" is in no row of data; nearest: HB-CP 40"],
    );
    check(
        &folder,
        "review agreement --data data --test winding",
        2,
        &["no study", "--asset"],
    );
    check(&folder, "review insulation --data data", 0, &["asset"]);
    check(&folder, "review drift --data data", 0, &[]);
}

#[test]
fn a_name_that_no_row_has_is_refused_with_those_like_it() {
    let folder = hatchery();
    let like = "is in no row of data; ";
    check(
        &folder,
        "review count --data data --verdict fial",
        2,
        &[like, "nearest: fail"],
    );
    check(
        &folder,
        "review last --data data --asset CP-08",
        2,
        &[like, "CP-07"],
    );
    check(
        &folder,
        "review drift --data data --meter ohms-3",
        2,
        &[like, "ohms-2"],
    );
    check(
        &folder,
        "review values --data data --job J999",
        2,
        &[like, "J2"],
    );
    // Each is there, and no row has both.
    check(
        &folder,
        "review count --data data --asset CP-07 --tester simulated --verdict fail",
        2,
        &[like, "simulated person"],
    );
    check(
        &folder,
        "review count --data data --asset CP-07 --verdict fail",
        0,
        &["no row of data fits"],
    );
}
