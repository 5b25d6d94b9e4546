//! What is right, wrong, missed or double in the captures of a trace.

use super::scenes::{Right, Trace};

/// A value that was logged.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Capture {
    /// Seconds.
    pub(crate) at: f64,
    /// Ohms.
    pub(crate) ohms: f64,
    /// One count of the range shown, in ohms.
    pub(crate) count: f64,
}

/// What the captures of a trace come to.
#[derive(Clone, Debug, Default)]
pub(crate) struct Score {
    pub(crate) wrong: u32,
    pub(crate) required: u32,
    pub(crate) missed: u32,
    pub(crate) doubles: u32,
    /// Delays of required contacts after the first moment at which it was right, seconds.
    pub(crate) delays: Vec<f64>,
    /// Errors of right captures in counts.
    pub(crate) errors: Vec<f64>,
}

/// Seconds in which what moves on the clips has not reached the display.
const JUST: f64 = 0.4;

/// Judges the captures of a trace.
pub(crate) fn score(trace: &Trace, captures: &[Capture]) -> Score {
    let mut score = Score::default();
    let mut last: Vec<Option<(f64, f64)>> = vec![None; trace.contacts.len()];
    for capture in captures {
        let mut error = 0.0;
        let hit = trace.contacts.iter().position(|contact| {
            let Some(label) = contact.label else {
                return false;
            };
            if capture.at < label.earliest - 1e-6 || capture.at > label.end {
                return false;
            }
            // What a hand did in the last moments no meter has shown yet.
            [0.0, JUST].iter().any(|before| {
                let truth = contact.truth(&trace.world, capture.at - before);
                let tol = label.tol.max(0.002 * truth.abs());
                error = (capture.ohms - truth) / capture.count;
                (capture.ohms - truth).abs() <= 1.001 * tol
            })
        });
        let Some(contact) = hit else {
            score.wrong += 1;
            continue;
        };
        match last[contact] {
            None => {
                score.errors.push(error.abs());
                if let Some(label) = trace.contacts[contact].label.filter(|l| l.required) {
                    score.delays.push(capture.at - label.oracle);
                }
            }
            Some((before, ohms)) => {
                // A hand that gives way is a step, after which another is right.
                let stepped = matches!(trace.contacts[contact].right, Right::World)
                    && (capture.ohms - ohms).abs() > 8.0 * capture.count;
                if !stepped && !opened(trace, before, capture.at) {
                    score.doubles += 1;
                }
            }
        }
        last[contact] = Some((capture.at, capture.ohms));
    }
    for (contact, last) in trace.contacts.iter().zip(last) {
        let required = contact.label.is_some_and(|label| label.required);
        score.required += u32::from(required);
        score.missed += u32::from(required && last.is_none());
    }
    score
}

/// Whether an opening showed between two times: two over-range readings and
/// about a second, after which another take is right.
fn opened(trace: &Trace, from: f64, to: f64) -> bool {
    let (mut readings, mut since) = (0, 0.0);
    for reading in trace.readings.iter().filter(|r| r.at > from && r.at <= to) {
        if readings >= 2 && reading.at - since >= 0.9 {
            return true;
        }
        match reading.counts {
            Some(_) => readings = 0,
            None if readings == 0 => (readings, since) = (1, reading.at),
            None => readings += 1,
        }
    }
    false
}
