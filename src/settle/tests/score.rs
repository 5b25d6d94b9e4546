//! What is right, wrong, missed or double in the captures of a trace.

use super::scenes::{Right, Trace};
use super::traces::GRID;

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
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Score {
    pub(crate) wrong: u32,
    pub(crate) required: u32,
    pub(crate) missed: u32,
    pub(crate) doubles: u32,
    /// Sum and number of delays after the first moment at which it was right.
    pub(crate) delay: f64,
    pub(crate) hits: u32,
}

/// Judges the captures of a trace.
pub(crate) fn score(trace: &Trace, captures: &[Capture]) -> Score {
    let mut score = Score::default();
    let mut hits = vec![0_u32; trace.contacts.len()];
    let mut last = vec![0.0; trace.contacts.len()];
    // The last readings before a release may still be on their way.
    let late = 2.5 / trace.meter.rate + 3.2;
    for capture in captures {
        let hit = trace.contacts.iter().position(|contact| {
            if capture.at < contact.from || capture.at > contact.to + late {
                return false;
            }
            let cell = ((capture.at.min(contact.to - GRID)) / GRID) as usize;
            let right = match contact.right {
                Right::Ohms(ohms) => ohms,
                Right::World => trace.world[cell.min(trace.world.len() - 1)],
                Right::Nothing => return false,
            };
            let counts = 2.0
                + if trace.meter.noise > 1.0 {
                    trace.meter.noise
                } else {
                    0.0
                };
            let tol = (counts * capture.count).max(0.002 * right.abs());
            (capture.ohms - right).abs() <= 1.001 * tol
        });
        match hit {
            None => score.wrong += 1,
            Some(contact) => {
                let again = hits[contact] > 0;
                if again && !opened(trace, last[contact], capture.at) {
                    score.doubles += 1;
                }
                last[contact] = capture.at;
                hits[contact] += 1;
                if hits[contact] == 1 {
                    score.hits += 1;
                    score.delay += capture.at - trace.contacts[contact].calm;
                }
            }
        }
    }
    for (contact, hits) in trace.contacts.iter().zip(hits) {
        score.required += u32::from(contact.required);
        score.missed += u32::from(contact.required && hits == 0);
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
