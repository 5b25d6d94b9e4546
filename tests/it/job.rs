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
    assert!(
        ran.stderr
            .contains("missing: motor.rated_v, motor.electronics, asset"),
        "{}",
        ran.stderr
    );
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
