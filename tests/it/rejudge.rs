//! `review rejudge`: stored captures judged again by other limits.

use std::path::PathBuf;

use crate::run::Folder;
use stillohm::log::lock::Lock;

/// HB-CP 40 read 40.599 Ω, now below 42; HB-AB 7 read 4.966, 4.200 and 4.190 Ω,
/// now the first above 4.4 and the others within.
const REVISED: &str = "model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source\nHB-CP 40,two_wire,230,25,42,48,,,,,no,machinery,revised plate\nHB-AB 7,three_phase,400,25,,,,,4.0,4.4,no,machinery,revised plate\n";

const CAPTURE: &str = "data/captures/20261126T045403Z.pcapng";
const LOG: &str = "data/log/readings-2026-11.csv";

fn of_project(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("captures")
        .join(name)
}

/// A data folder with the run of the hatchery, its log and its capture.
fn hatchery() -> Folder {
    let log = std::fs::read_to_string(of_project("hatchery.csv")).expect("a log");
    let folder = Folder::new(&[(LOG, &log), ("new.csv", REVISED)]);
    std::fs::create_dir(folder.path("data/captures")).expect("a folder");
    std::fs::copy(of_project("hatchery.pcapng"), folder.path(CAPTURE)).expect("copied");
    folder
}

/// What `review rejudge` prints without its header, and what it says.
#[track_caller]
fn rejudge(folder: &Folder, args: &[&str], code: i32) -> (Vec<String>, String) {
    let mut all = [&["review", "rejudge", "--data", "data"], args].concat();
    if !args.contains(&"--json") {
        all.push("--csv");
    }
    let ran = folder.run(&all);
    assert_eq!(
        ran.code,
        Some(code),
        "{args:?}: {}{}",
        ran.stdout,
        ran.stderr
    );
    let lines = ran.stdout.lines().map(str::to_owned);
    let skipped = usize::from(!args.contains(&"--json"));
    (lines.skip(skipped).collect(), ran.stderr)
}

/// The first cells of each line: which row, and from what to what.
fn turns(lines: &[String]) -> Vec<String> {
    let turn = |line: &String| {
        let cells: Vec<&str> = line.split(',').collect();
        let of = |at: usize| cells.get(at).copied().unwrap_or_default();
        format!("{} {} {}>{}", of(0), of(4), of(7), of(8))
    };
    lines.iter().map(turn).collect()
}

fn log(folder: &Folder) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    let mut names: Vec<PathBuf> = std::fs::read_dir(folder.path("data/log"))
        .expect("a log")
        .map(|entry| entry.expect("a file").path())
        .collect();
    names.sort();
    for name in names {
        let mut reader = csv::Reader::from_path(name).expect("a log");
        for row in reader.records() {
            rows.push(row.expect("a row").iter().map(str::to_owned).collect());
        }
    }
    rows
}

#[test]
fn other_limits_list_what_changes_and_write_nothing() {
    let folder = hatchery();
    let before = std::fs::read(folder.path(LOG)).expect("a log");
    let (lines, said) = rejudge(&folder, &["--motors", "new.csv"], 0);
    assert_eq!(
        turns(&lines),
        [
            "13 winding pass>fail",
            "15 winding fail>pass",
            "16 winding pass>fail",
            "17 winding fail>pass",
            "38 job_end no_fault_found>fault_found",
        ]
    );
    assert!(
        lines[0].ends_with(
            "limits 4.6 to 5.4 ohm → 4.0 to 4.4 ohm; source invented for the demo → revised plate"
        ),
        "{}",
        lines[0]
    );
    assert!(
        said.contains("22 judged rows looked at, 4 come out otherwise, 0 not looked at"),
        "{said}"
    );
    assert!(
        said.contains("motor \"HB-WP 22\" is not in the catalogue"),
        "{said}"
    );
    assert_eq!(std::fs::read(folder.path(LOG)).expect("a log"), before);
    assert!(!folder.path("data/lock").exists());
    // By its own limits all comes out as it was.
    assert_eq!(rejudge(&folder, &[], 0).0, Vec::<String>::new());
}

#[test]
fn rows_are_chosen_by_job_asset_and_time() {
    let folder = hatchery();
    let with = |more: &[&str]| {
        let args = [&["--motors", "new.csv"], more].concat();
        turns(&rejudge(&folder, &args, 0).0)
    };
    let pump = [
        "16 winding pass>fail",
        "38 job_end no_fault_found>fault_found",
    ];
    assert_eq!(with(&["--job", "J3"]), pump);
    assert_eq!(with(&["--asset", "CP-07"]), pump);
    assert_eq!(with(&["--since", "2026-11-27"]), Vec::<String>::new());
    assert_eq!(with(&["--until", "2026-11-25"]), Vec::<String>::new());
    let until = ["--until", "2026-11-26T04:54:21Z", "--job", "J2"];
    assert_eq!(with(&until), ["13 winding pass>fail"]);
    rejudge(&folder, &["--since", "last week"], 2);
}

#[test]
fn what_is_written_stands_beside_the_old_rows_and_the_log_stays_whole() {
    let folder = hatchery();
    let counted = || {
        let args = [
            "review",
            "count",
            "--data",
            "data",
            "--by",
            "asset,finding",
            "--csv",
        ];
        folder.run(&args).stdout
    };
    let before = counted();
    let old = std::fs::read_to_string(folder.path(LOG)).expect("a log");
    let write = [
        "--motors",
        "new.csv",
        "--write",
        "--reason",
        "the plate was read anew",
        "--tester",
        "Ada",
    ];
    let (_, said) = rejudge(&folder, &write, 0);
    assert!(said.contains("row 13 judged again as 42:"), "{said}");
    assert!(
        std::fs::read_to_string(folder.path(LOG))
            .expect("a log")
            .starts_with(&old)
    );
    let rows = log(&folder);
    let new: Vec<String> = rows[41..]
        .iter()
        .map(|row| {
            // event, of_seq, job, tester, test, point, judged, lower, upper, from, verdict, finding
            let cells = [2, 3, 7, 8, 11, 12, 28, 29, 30, 31, 34, 35];
            cells.map(|at| row[at].as_str()).join(",")
        })
        .collect();
    assert_eq!(
        new,
        [
            "judged,13,J2,Ada,winding,line_12,4.966,4.0,4.4,revised plate,fail,high",
            "judged,15,J2,Ada,winding,line_23,4.200,4.0,4.4,revised plate,pass,within",
            "judged,16,J3,Ada,winding,main,40.599,42,48,revised plate,fail,low",
            "judged,17,J2,Ada,winding,line_31,4.190,4.0,4.4,revised plate,pass,within",
        ]
    );
    let reason = &rows[41][36];
    assert!(
        reason.starts_with("re-judged by new.csv (SHA-256 ")
            && reason.contains("): pass within → fail high; the plate was read anew; shown 5.15 Ω"),
        "{reason}"
    );
    let verified = folder.run(&["verify", "data"]);
    assert_eq!(verified.code, Some(0), "{}", verified.stdout);
    // What stands now is what these limits say: nothing is left to write.
    let (lines, _) = rejudge(&folder, &write, 0);
    assert_eq!(turns(&lines), ["38 job_end no_fault_found>fault_found"]);
    assert_eq!(log(&folder).len(), 45);
    // A profile says nothing of windings, so what was judged again by a catalogue stands.
    let profile = ["--profile", "pump-a", "--condition", "bench-unused"];
    let (lines, _) = rejudge(&folder, &profile, 0);
    assert_eq!(turns(&lines)[0], "22 ground pass>undecided");
    assert_eq!(lines.len(), 2, "{lines:?}");
    // Each row counts once, with its last verdict: one of AB-03 fell and two rose,
    // one of CP-07 fell.
    let verdicts = |counted: &str| -> Vec<String> {
        let row = |line: &str| line.split(',').take(6).collect::<Vec<_>>().join(",");
        counted.lines().skip(1).map(row).collect()
    };
    let (before, after) = (verdicts(&before), verdicts(&counted()));
    let only = |one: &[String], other: &[String]| -> Vec<String> {
        let there = |row: &&String| !other.contains(row);
        one.iter().filter(there).cloned().collect()
    };
    assert_eq!(
        only(&before, &after),
        [
            "AB-03,low,0,2,0,0",
            "AB-03,within,3,0,0,0",
            "CP-07,within,7,0,0,0"
        ]
    );
    assert_eq!(
        only(&after, &before),
        [
            "AB-03,high,0,1,0,0",
            "AB-03,within,4,0,0,0",
            "CP-07,low,0,1,0,0",
            "CP-07,within,6,0,0,0"
        ]
    );
}

/// Band A wants 200 MΩ: more than 60 MΩ is no pass any more, and the verdict after
/// the leads were proven is the one that falls.
/// J3 found nothing; by another profile its ground and insulation do not pass.
#[test]
fn a_job_that_does_not_pass_any_more_is_never_printed_as_clear() {
    let folder = hatchery();
    let print = |kind: &[&str]| {
        let args = [&["report", "J3", "--data", "data"], kind].concat();
        let ran = folder.run(&args);
        assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.stderr);
        ran.stdout
    };
    let kinds = [&[][..], &["--customer"], &["--label"]];
    for kind in kinds {
        assert!(!print(kind).contains("DO NOT ENERGIZE"), "{kind:?}");
    }
    let args = "--profile ieee43 --job J3 --write --reason rule --tester Ada";
    let args: Vec<&str> = args.split(' ').collect();
    let (_, said) = rejudge(&folder, &args, 0);
    assert!(said.contains("row 22 judged again as"), "{said}");
    for kind in kinds {
        let print = print(kind);
        assert!(print.contains("DO NOT ENERGIZE"), "{kind:?}");
        assert!(!print.contains("No fault was found"), "{kind:?}");
    }
}

#[test]
fn a_ground_that_needed_its_proof_is_judged_by_what_stood_in_the_end() {
    let folder = hatchery();
    let args = [
        "--profile",
        "pump-a",
        "--condition",
        "bench-unused",
        "--write",
        "--reason",
        "new rule",
        "--tester",
        "Ada",
        "--json",
    ];
    let (lines, said) = rejudge(&folder, &args, 0);
    let values: Vec<serde_json::Value> = lines
        .iter()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    assert_eq!(values[0]["seq"], 22);
    assert_eq!(
        (&values[0]["verdict_before"], &values[0]["finding_before"]),
        (&"pass".into(), &"no_fault_seen".into())
    );
    assert_eq!(
        (&values[0]["verdict_after"], &values[0]["finding_after"]),
        (&"undecided".into(), &"range_suspect".into())
    );
    assert!(said.contains("row 22 judged again as 42:"), "{said}");
    let row = &log(&folder)[41];
    assert_eq!(
        (row[29].as_str(), row[34].as_str()),
        ("200000000", "undecided")
    );
    // Which input it rests on is in the note; the columns would name it as what made the row.
    assert_eq!(row[37], "");
    let note: serde_json::Value = serde_json::from_str(&row[39]).expect("JSON");
    assert_eq!(note["rejudged"]["capture"], "20261126T045403Z.pcapng");
    assert_eq!(note["rejudged"]["by"]["profile"], "pump-a");
}

#[test]
fn a_folder_that_is_held_is_3_and_nothing_is_written_to_it() {
    let folder = hatchery();
    let held = Lock::take(&folder.path("data")).expect("free");
    let args = [
        "--motors", "new.csv", "--write", "--reason", "r", "--tester", "Ada",
    ];
    let (_, said) = rejudge(&folder, &args, 3);
    assert!(
        said.contains("another stillohm holds this data folder"),
        "{said}"
    );
    assert_eq!(log(&folder).len(), 41);
    // Looking is allowed.
    assert_eq!(rejudge(&folder, &args[..2], 0).0.len(), 5);
    drop(held);
    rejudge(&folder, &args, 0);
    assert_eq!(log(&folder).len(), 45);
}

#[test]
fn a_capture_that_is_missing_or_cut_is_named_and_its_rows_are_counted() {
    let folder = hatchery();
    let bytes = std::fs::read(folder.path(CAPTURE)).expect("a capture");
    // A cut inside a block, well before the end.
    std::fs::write(folder.path(CAPTURE), &bytes[..bytes.len() / 2]).expect("written");
    let (lines, said) = rejudge(&folder, &["--motors", "new.csv"], 0);
    let (_, after) = said
        .split_once("captures/20261126T045403Z.pcapng: ")
        .expect("it is named");
    let (missed, why) = after.split_once(" rows not looked at: ").expect("and why");
    let missed: usize = missed.parse().expect("a number");
    assert!((1..22).contains(&missed), "{missed}");
    assert!(why.contains("torn by a crash behind byte"), "{why}");
    let looked = format!("{} judged rows looked at", 22 - missed);
    assert!(said.contains(&looked), "{said}");
    // Only of jobs that came to their end before the cut is anything said.
    let rows = log(&folder);
    let cut = &bytes[..bytes.len() / 2];
    for line in &lines {
        let job = line.split(',').nth(1).expect("a job");
        let end = rows.iter().find(|row| row[2] == "job_end" && row[7] == job);
        let at: usize = end.expect("an end")[38].parse().expect("an offset");
        assert!(at < cut.len(), "{line}");
    }
    std::fs::remove_file(folder.path(CAPTURE)).expect("removed");
    let (lines, said) = rejudge(&folder, &["--motors", "new.csv"], 1);
    assert_eq!(lines, Vec::<String>::new());
    assert!(said.contains("nothing could be judged again"), "{said}");
    assert!(
        said.contains("captures/20261126T045403Z.pcapng: 22 rows not looked at: it is missing"),
        "{said}"
    );
}

/// A job that goes on is judged by its own limits: a verdict from elsewhere would
/// be taken for one of them when the program starts again.
#[test]
fn a_job_that_has_not_ended_gets_no_verdict_from_elsewhere() {
    let folder = hatchery();
    let text = std::fs::read_to_string(folder.path(LOG)).expect("a log");
    // The log up to row 17: no job has ended there.
    let lines: Vec<&str> = text.lines().take(18).collect();
    std::fs::write(folder.path(LOG), lines.join("\n") + "\n").expect("written");
    let args = [
        "--motors", "new.csv", "--write", "--reason", "r", "--tester", "Ada",
    ];
    let (_, said) = rejudge(&folder, &args, 0);
    assert!(said.contains("4 of them not written"), "{said}");
    assert_eq!(log(&folder).len(), 17);
}

#[test]
fn what_is_asked_wrongly_is_2() {
    let folder = hatchery();
    for (args, words) in [
        (
            &["--write", "--reason", "r", "--tester", "Ada"][..],
            "expected other limits",
        ),
        (&["--motors", "new.csv", "--write"], "--reason"),
        (
            &[
                "--motors", "new.csv", "--write", "--reason", " ", "--tester", "Ada",
            ],
            "--reason: expected words",
        ),
        (&["--profile", "machinry"], "nearest: machinery"),
        (&["--job", "J33"], "is in no row of data; nearest: J3"),
        (&["--asset", "CP-7"], "is in no row of data; nearest: CP-07"),
    ] {
        let (_, said) = rejudge(&folder, args, 2);
        assert!(said.contains(words), "{said}");
    }
    ran!([] "review" "rejudge" "--data" "nowhere" => 2, stderr "expected a data folder with a log in it");
}
