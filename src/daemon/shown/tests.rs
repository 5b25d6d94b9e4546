//! A disk that is behind, and one that takes nothing more.

use super::*;
use crate::input::Attestation;
use crate::row::JobOutcome;
use crate::view::{Ask, JobState};

/// What happens to what is shown.
enum Step {
    /// The engine offers this word, with so many rows made.
    Offer(&'static str, u64),
    /// So many rows are on the disk.
    Acknowledge(u64),
}
use Step::{Acknowledge, Offer};

/// After each step: the word that is shown, and the word at which the job that
/// is shown was; none: no job is shown yet.
#[track_caller]
fn check(steps: &[(Step, &str, &str)]) {
    let (out, seen) = watch::channel(Arc::new(View::default()));
    let shown = Shown::new(out);
    for (at, (step, word, job)) in steps.iter().enumerate() {
        match step {
            Offer(word, made) => shown.offer(view(word), *made),
            Acknowledge(seq) => shown.acknowledge(*seq),
        }
        let view = seen.borrow().clone();
        assert_eq!(view.meters[0].settle, *word, "step {at}");
        assert_eq!(view.meters[0].shown, "22.7 kΩ", "digits are live");
        let found = view.jobs.first().map_or("", |job| job.why.as_str());
        assert_eq!(found, *job, "step {at}");
    }
}

fn view(settle: &'static str) -> View {
    let meter = MeterView {
        name: String::from("ohms-1"),
        bench: String::new(),
        protocol: String::new(),
        port: String::new(),
        calibration: String::new(),
        connected: true,
        trouble: String::new(),
        shown: String::from("22.7 kΩ"),
        shown_at: None,
        flags: Vec::new(),
        settle,
        progress: 1.0,
        hold: None,
        ohms: None,
        over_range: false,
        test_volts: None,
        good_frames: 0,
        bad_frames: 0,
        last_bad: String::new(),
        last_bad_bytes: String::new(),
        battery_percent: None,
    };
    let job = JobView {
        job: String::from("J2"),
        bench: String::new(),
        asset: String::new(),
        motor: String::new(),
        tester: String::new(),
        state: JobState::Active,
        ask: Ask {
            confirm: Some(Attestation::Dead),
            ..Ask::default()
        },
        points: Vec::new(),
        outcome: JobOutcome::Incomplete,
        why: settle.to_owned(),
        banners: Vec::new(),
        discharge_until: None,
        diagnosis: Vec::new(),
    };
    View {
        recording: true,
        meters: vec![meter],
        jobs: vec![job],
        ..View::default()
    }
}

#[test]
fn a_value_is_shown_as_taken_when_its_row_is_on_the_disk() {
    check(&[
        (Offer("moving", 1), "moving", ""),
        (Acknowledge(1), "moving", "moving"),
        (Offer("taken", 2), "steady", "moving"),
        (Acknowledge(2), "taken", "taken"),
        (
            Offer("remove the clips", 2),
            "remove the clips",
            "remove the clips",
        ),
    ]);
}

#[test]
fn a_disk_that_takes_nothing_more_leaves_nothing_to_be_shown_as_taken() {
    check(&[
        (Offer("taken", 2), "steady", ""),
        (Acknowledge(2), "taken", "taken"),
        (Offer("remove the clips", 3), "remove the clips", "taken"),
        (Offer("no contact", 3), "no contact", "taken"),
        (Offer("taken", 4), "steady", "taken"),
        (Offer("remove the clips", 4), "steady", "taken"),
    ]);
}

#[test]
fn a_word_of_a_contact_that_has_ended_does_not_count_for_the_next() {
    check(&[
        (Offer("taken", 1), "steady", ""),
        (Offer("no contact", 1), "no contact", ""),
        (Acknowledge(1), "no contact", "no contact"),
        (Offer("taken", 2), "steady", "no contact"),
    ]);
}

#[test]
fn under_steady_load_something_always_gets_through() {
    let (out, seen) = watch::channel(Arc::new(View::default()));
    let shown = Shown::new(out);
    for made in 1..1000 {
        shown.offer(view("moving"), made);
        shown.acknowledge(made.saturating_sub(3));
        let waiting = shown.lock().waiting.len();
        assert!(waiting <= WAITING_MAX);
        assert_eq!(seen.borrow().jobs.is_empty(), made <= 3);
    }
}

#[test]
fn the_first_reason_for_not_recording_stays() {
    let (out, seen) = watch::channel(Arc::new(View::default()));
    let shown = Shown::new(out);
    shown.offer(view("moving"), 1);
    assert!(seen.borrow().recording);
    shown.not_recorded("no room");
    shown.not_recorded("stopped at an earlier failure");
    shown.offer(view("moving"), 1);
    assert_eq!(seen.borrow().trouble, "NOT RECORDED: no room");
    assert!(!seen.borrow().recording);
}
