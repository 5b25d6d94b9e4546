//! What is right, wrong or missing in what was said of the presses of a trace.

use super::press_labels::{Run, runs};
use super::presses::{Fate, Trace};

/// What was said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Said {
    /// A value in ohms.
    Ohms(f64),
    Over,
    PulledDown,
    Abort,
}

/// Something that was said, and when.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Event {
    /// Seconds.
    pub(crate) at: f64,
    pub(crate) said: Said,
    /// The mark it is for, counted from 0.
    pub(crate) mark: Option<usize>,
}

/// What the events of a trace come to.
#[derive(Clone, Debug, Default)]
pub(crate) struct Score {
    /// What is wrong, in words.
    pub(crate) wrong: Vec<String>,
    pub(crate) required: u32,
    /// What is missing, in words.
    pub(crate) missed: Vec<String>,
    /// Delays of values after their marks: sum and number.
    pub(crate) delay: f64,
    pub(crate) hits: u32,
}

/// Judges what was said.
pub(crate) fn score(trace: &Trace, events: &[Event]) -> Score {
    let mut score = Score::default();
    let runs = runs(trace);
    if runs.is_empty() {
        return score;
    }
    for event in events {
        if !runs.iter().any(|run| within(run, event)) {
            score.wrong.push(format!("{event:?}: before any press"));
        }
    }
    let mut left = events;
    for (index, run) in runs.iter().enumerate() {
        let next = runs.get(index + 1);
        let mut ends = left
            .iter()
            .position(|event| !within(run, event) && event.at >= run.span.1);
        // That a run ended may be said when the next press is already seen.
        if let (Some(end), Some(_)) = (ends, next) {
            let late = left[end].said == Said::Abort && left[end].at < run.span.1 + 2.0;
            let open = !left[..end].iter().any(|e| e.said == Said::Abort);
            ends = Some(end + usize::from(late && open));
        }
        let (mine, rest) = left.split_at(ends.unwrap_or(left.len()));
        let mine: Vec<&Event> = mine
            .iter()
            .filter(|event| event.at >= runs[0].span.0)
            .collect();
        judge(run, &mine, &mut score);
        left = rest;
    }
    score
}

fn within(run: &Run, event: &Event) -> bool {
    (run.span.0..run.span.1).contains(&event.at)
}

fn judge(run: &Run, events: &[&Event], score: &mut Score) {
    let mut taken = vec![false; run.marks.len()];
    let mut over = None;
    let mut pulled = false;
    for event in events {
        if over.is_some() && run.again {
            continue;
        }
        if over.is_some() {
            score.wrong.push(format!("{event:?}: after the end"));
            continue;
        }
        let wrong = match event.said {
            Said::PulledDown => {
                (pulled, over) = (true, Some(event.at));
                (run.fate == Fate::Values).then_some("not a weak tester")
            }
            Said::Abort => {
                over = Some(event.at);
                (event.at < run.abort_from).then_some("nothing ended it")
            }
            Said::Ohms(_) | Said::Over => {
                let wrong = value(run, event, &mut taken);
                if let (None, Some(mark)) = (wrong, event.mark) {
                    score.hits += 1;
                    score.delay += event.at - run.marks[mark].due;
                }
                wrong
            }
        };
        if let Some(wrong) = wrong {
            score.wrong.push(format!("{event:?}: {wrong}"));
        }
    }
    if run.fate == Fate::PulledDown {
        // A mark in silence ended it before.
        let seen = run.seen_weak && over.is_none_or(|at| at >= run.weak_from);
        score.required += u32::from(seen);
        if seen && !pulled {
            score.missed.push(String::from("pulled down"));
        }
        return;
    }
    if pulled {
        return;
    }
    for (mark, taken) in run.marks.iter().zip(taken) {
        let excused = over.is_some_and(|at| at >= run.abort_from && at <= mark.window.1);
        score.required += u32::from(mark.required);
        if mark.required && !taken && !excused {
            score.missed.push(format!("mark {}", mark.mark));
        }
    }
    if let Some(by) = run.abort_by {
        score.required += 1;
        if over.is_none_or(|at| at > by) {
            score.missed.push(format!("the end by {by:.2}"));
        }
    }
}

/// Why a value is wrong, if it is.
fn value(run: &Run, event: &Event, taken: &mut [bool]) -> Option<&'static str> {
    let Some((index, mark)) = event.mark.and_then(|i| run.marks.get(i).map(|m| (i, m))) else {
        return Some("no such mark");
    };
    if core::mem::replace(&mut taken[index], true) {
        return Some("twice");
    }
    if !(mark.window.0..=mark.window.1).contains(&event.at) {
        return Some("not at the mark");
    }
    match event.said {
        Said::Ohms(ohms) => {
            let right = mark
                .ohms
                .is_some_and(|(low, high)| ohms >= low && ohms <= high);
            (!right).then_some("another value")
        }
        _ => (!mark.over).then_some("not beyond the range"),
    }
}
