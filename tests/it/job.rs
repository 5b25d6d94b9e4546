//! `job` driven by a script: what is asked, what is answered, how it ends.

use std::io::Write as _;
use std::process::Stdio;

use crate::run::{Folder, Ran};
use crate::serve::{BY_EYE, Daemon, replays_to_its_log};

fn job(folder: &Folder, args: &[&str], typed: &str) -> Ran {
    let mut child = folder
        .command(&[&["job"], args].concat())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("starts");
    // A job that was never begun reads nothing.
    _ = child
        .stdin
        .take()
        .expect("piped")
        .write_all(typed.as_bytes());
    let output = child.wait_with_output().expect("ends");
    Ran {
        code: output.status.code(),
        stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
        stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

const MOTOR: [&str; 8] = [
    "--kind",
    "two_wire",
    "--rated-v",
    "230",
    "--electronics",
    "no",
    "--asset",
    "pump 3, east pond",
];

#[test]
fn what_a_job_lacks_is_said_at_once() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let ran = job(&folder, &["--kind", "two_wire"], "");
    assert_eq!(ran.code, Some(2));
    for option in ["--rated-v <V>", "--electronics <E>", "--asset <A>"] {
        assert!(ran.stderr.contains(option), "{}", ran.stderr);
    }
    let log = folder.path("stillohm-data");
    assert!(!log.exists(), "asked wrongly, and a run was begun");
    let ran = job(&folder, &["--motor", "pond-1", "--asset", "a"], "");
    assert_eq!(ran.code, Some(2));
    assert!(
        ran.stderr.contains("\"pond-1\" is not in the catalogue"),
        "{}",
        ran.stderr
    );
}

#[test]
fn a_script_confirms_enters_and_ends_a_job() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let typed = "yes\nnote the cover was wet\nskip no second meter\nshout\nskpi it\nend\n";
    let ran = job(&folder, &MOTOR, typed);
    assert_eq!(ran.code, Some(1), "{}\n{}", ran.stdout, ran.stderr);
    assert!(
        ran.stderr
            .contains("> Confirm: off, locked out, proven dead"),
        "{}",
        ran.stderr
    );
    assert!(
        ran.stderr.contains("shout: unknown command")
            && ran
                .stderr
                .contains("skpi it: unknown command; nearest: skip"),
        "{}",
        ran.stderr
    );
    assert!(ran.stdout.contains(" incomplete: "), "{}", ran.stdout);
    assert!(
        ran.stdout.contains("the job's last row is "),
        "{}",
        ran.stdout
    );
    replays_to_its_log(&folder, 1);
}

#[test]
fn clips_on_answers_nothing_that_yes_is_asked_for() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let ran = job(&folder, &MOTOR, "clips on\nyes\nend\n");
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(
        ran.stderr
            .contains("clips on: not taken; asked is what yes answers: Confirm: off"),
        "{}",
        ran.stderr
    );
    // It was not kept for a question that comes later.
    assert_eq!(
        ran.stderr.matches("clips on: ").count(),
        1,
        "{}",
        ran.stderr
    );
}

#[test]
fn when_nothing_more_is_typed_a_job_that_needs_an_answer_ends() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let ran = job(&folder, &MOTOR, "");
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    assert!(
        ran.stderr.contains("nothing more is typed"),
        "{}",
        ran.stderr
    );
}

#[test]
fn a_job_runs_through_a_daemon_is_parked_and_gone_on_with() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let daemon = Daemon::start(&folder, &[]);
    let typed = [&MOTOR[..], &["--config", "stillohm.toml"]].concat();
    let parked = job(&folder, &typed, "yes\npark cooling\n");
    assert_eq!(parked.code, Some(1), "{}", parked.stderr);
    let hint = parked
        .stderr
        .lines()
        .find(|l| l.contains("set aside"))
        .expect("a hint");
    // What it says to type is typed.
    let (_, again) = hint.split_once("stillohm job ").expect("a command");
    let again: Vec<&str> = again.split(' ').collect();
    let [_, name, "--config", "stillohm.toml"] = again[..] else {
        panic!("{again:?}");
    };
    let ended = job(&folder, &again, "end\n");
    assert_eq!(ended.code, Some(1), "{}", ended.stderr);
    assert!(
        ended.stdout.contains(&format!("{name} incomplete: ")),
        "{}\n{}",
        ended.stdout,
        ended.stderr
    );
    assert_eq!(daemon.stop(), Some(0));
    replays_to_its_log(&folder, 1);
}

/// A job of the same pump at 20 °C, whose one winding reads `shown` with 0.10 of leads in it.
pub(crate) fn of_pump_3(folder: &Folder, shown: &str, more: &[&str]) -> String {
    let typed = format!("yes\nyes\nenter 0.10 ohm\nskip bare frame\nenter {shown} ohm\nend\n");
    let args = [&MOTOR[..], &["--temperature", "20"], more].concat();
    let ran = job(folder, &args, &typed);
    assert_eq!(ran.code, Some(1), "{}\n{}", ran.stdout, ran.stderr);
    ran.stdout
}

#[test]
fn a_winding_that_moved_since_the_last_job_has_changed_alone_and_through_a_daemon() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let first = of_pump_3(&folder, "2.41", &[]);
    assert!(
        first.contains("winding main 2.41 Ω not_judged\n"),
        "{first}"
    );
    assert!(!first.contains("than then"), "{first}");
    // 2.52 / 2.31 is 9.09 % more.
    let changed = "now 2.52 Ω at the same temperature: 9.09 % more than then, changed";
    let second = of_pump_3(&folder, "2.62", &[]);
    assert!(
        second.contains("winding main 2.62 Ω not_judged changed\n") && second.contains(changed),
        "{second}"
    );
    let daemon = Daemon::start(&folder, &[]);
    // Compared with the second job, where it was the same; at the panel there was no job yet.
    let third = of_pump_3(&folder, "2.62", &[]);
    assert!(
        third.contains("winding main 2.62 Ω not_judged\n")
            && third.contains("not changed beyond doubt"),
        "{third}"
    );
    let elsewhere = of_pump_3(&folder, "2.92", &["--measured-at", "panel"]);
    assert!(!elsewhere.contains("than then"), "{elsewhere}");
    let fourth = of_pump_3(&folder, "2.41", &[]);
    assert!(
        fourth.contains("winding main 2.41 Ω not_judged changed\n")
            && fourth.contains("less than before points to shorted turns"),
        "{fourth}"
    );
    assert_eq!(daemon.stop(), Some(0));
    replays_to_its_log(&folder, 3);
}

#[test]
fn three_leads_in_any_order_are_told_apart_and_their_rows_stay() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    // 0.10 of leads; run 2.00, start 6.00: lead 1 is run, 2 start, 3 common.
    let typed = "yes\nyes\nenter 0.10 ohm\nenter 8.10 ohm\nenter 6.10 ohm\nenter 2.10 ohm\nend\n";
    let of = [
        "--kind",
        "other",
        "--rated-v",
        "230",
        "--electronics",
        "no",
        "--asset",
        "pump 3",
        "--sheet",
        "find-leads",
    ];
    let ran = job(&folder, &of, typed);
    assert_eq!(ran.code, Some(1), "{}\n{}", ran.stdout, ran.stderr);
    assert!(
        ran.stderr.contains("Number the three leads with tape"),
        "{}",
        ran.stderr
    );
    for said in [
        "winding lead_1_2 8.10 Ω not_judged",
        "common is lead 3, start is lead 2, run is lead 1",
        "DO NOT ENERGIZE",
    ] {
        assert!(
            ran.stdout.contains(said),
            "{said}: {}\n{}",
            ran.stdout,
            ran.stderr
        );
    }
    replays_to_its_log(&folder, 1);
}

#[test]
fn a_fault_is_placed_by_readings_that_stay_in_the_log() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    // From the panel 20 Ω; behind the splice whole; from the well head 20 Ω again.
    let typed = "yes\nyes\nenter 0.10 ohm\nenter 0.30 ohm\nenter 20.0 ohm\nenter 30.0 Mohm\nenter 20.0 ohm\nenter 0.10 ohm\n";
    let sheet = ["--sheet", "find-fault", "--profile", "machinery"];
    let ran = job(&folder, &[&MOTOR[..], &sheet].concat(), typed);
    assert_eq!(ran.code, Some(1), "{}\n{}", ran.stdout, ran.stderr);
    for asked in [
        "Open at splice, clean and dry the ends",
        "Open at well_head, clean and dry the ends",
        "discharge the cable to ground first",
        "locked out and proven dead again before each opening",
    ] {
        assert!(ran.stderr.contains(asked), "{asked}: {}", ran.stderr);
    }
    for said in [
        "ground panel_to_ground 20.0 Ω fail to_ground",
        "ground splice_to_ground 30.0 MΩ pass no_fault_seen",
        "the fault lies between well_head and splice",
        "fault_found",
        "DO NOT ENERGIZE",
    ] {
        assert!(
            ran.stdout.contains(said),
            "{said}: {}\n{}",
            ran.stdout,
            ran.stderr
        );
    }
    assert!(!ran.stdout.contains("motor_to_ground"), "{}", ran.stdout);
    replays_to_its_log(&folder, 1);
}
