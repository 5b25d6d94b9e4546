//! The diagnosis of a job: live, at its end, and the same after a stop.

use super::harness::Bench;
use crate::row::Event;
use crate::view::Diagnosis;

/// Runs a script; gives the names and rows of the diagnosis as it stands, and the bench.
fn live(script: &[&str]) -> (Vec<String>, Bench) {
    let mut bench = Bench::new();
    for line in script {
        bench.happen(line).expect("goes on");
    }
    (said(&bench), bench)
}

fn said(bench: &Bench) -> Vec<String> {
    let views = bench.views();
    let diagnosis = views.first().map(|v| v.diagnosis.as_slice());
    named(diagnosis.unwrap_or_default())
}

fn named(diagnosis: &[Diagnosis]) -> Vec<String> {
    let named = diagnosis.iter().map(|d| format!("{} {:?}", d.name, d.rows));
    named.collect()
}

/// What the note of the job's last row holds.
fn noted(bench: &Bench) -> Vec<String> {
    let end = bench
        .rows
        .iter()
        .rev()
        .find(|r| r.row.event == Event::JobEnd);
    let note: serde_json::Value =
        serde_json::from_str(&end.expect("an end").row.note).expect("JSON");
    let diagnosis = note["diagnosis"].clone();
    named(&serde_json::from_value::<Vec<Diagnosis>>(diagnosis).expect("a diagnosis"))
}

// `proven` gives the start, dead, both leads and the ground path: rows 1 to 5.

#[test]
fn it_is_the_same_live_after_a_stop_and_in_the_last_row() {
    // Leads 0.2: main 4.0 within 3.8 to 4.2; start and total over-range: rows 6 to 8, the set row 9.
    let (before, mut bench) = live(&[
        "proven three_wire main=3.8..4.2 start=10..12",
        "take 4.2",
        "open",
        "open",
    ]);
    assert_eq!(before, ["open_on_one_lead [6, 7, 8, 9]"]);
    bench.restart();
    assert_eq!(said(&bench), before);
    bench.happen("end").expect("ends");
    assert_eq!(noted(&bench), before);
    assert!(
        bench
            .rows
            .last()
            .is_some_and(|r| r.row.reason.starts_with("fault_found: "))
    );
}

#[test]
fn a_take_that_was_repeated_or_withdrawn_is_remembered_as_such_after_a_stop() {
    // 3.2 − 0.2 = 3.0 and then 2.2 − 0.2 = 2.0 of 1.8 to 2.2: it fell.
    let repeated = [
        "proven two_wire main=1.8..2.2",
        "take 3.2",
        "redo winding main",
        "take 2.2",
    ];
    let (before, mut bench) = live(&repeated);
    assert_eq!(before, ["differs_on_repeat [6, 8]"]);
    bench.restart();
    assert_eq!(said(&bench), before);
    let (none, mut bench) = live(&[
        "proven two_wire main=1.8..2.2",
        "take 3.2",
        "withdraw 6 slipped",
        "take 2.2",
    ]);
    assert_eq!(none, Vec::<String>::new());
    bench.restart();
    assert_eq!(said(&bench), none);
}

#[test]
fn a_job_in_which_nothing_was_measured_means_nothing() {
    let (_, mut bench) = live(&["start two_wire main=1.8..2.2"]);
    bench.happen("end").expect("ends");
    assert_eq!(noted(&bench), Vec::<String>::new());
    assert!(
        bench
            .rows
            .last()
            .is_some_and(|r| r.row.note == r#"{"diagnosis":[]}"#)
    );
}
