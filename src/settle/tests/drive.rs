//! Runs the engine over a trace. The names of the engine's types come from the
//! file that includes this one, which may be a test or an example.

use super::Take;
use super::scenes::Trace;
use super::score::Capture;
use super::traces::Reading;
use super::{Decimal, Flags, Got, Outcome, Sample, Settle, Shown, Spec, Stamp, Steady, Unit};

/// A reading as the engine sees it.
pub(crate) fn sample(reading: &Reading) -> Sample {
    let place = |counts: i64| Decimal::new(counts, reading.place).expect("a small count");
    let full_scale = Some(place(reading.full));
    let got = match reading.counts {
        None => Got::Over {
            unit: Unit::Ohm,
            full_scale,
        },
        Some(counts) => Got::Value(Shown {
            value: place(counts),
            unit: Unit::Ohm,
            resolution: place(1),
            prefix: 0,
            full_scale,
        }),
    };
    Sample::alone(got, Flags::NONE)
}

/// Runs a trace and calls `see` after each reading.
pub(crate) fn each(trace: &Trace, mut see: impl FnMut(&Reading, &Settle, Option<Take>)) {
    let mut settle = Settle::new(Spec::Steady(Steady::default()));
    for reading in &trace.readings {
        let take = settle.push(Stamp::from_seconds(reading.at), &sample(reading));
        see(reading, &settle, take);
    }
}

/// The values taken from a trace.
pub(crate) fn captures(trace: &Trace) -> Vec<Capture> {
    let mut captures = Vec::new();
    each(trace, |_, _, take| {
        if let Some(take) = take
            && let Outcome::Value(shown) = take.outcome
        {
            captures.push(Capture {
                at: take.at.seconds(),
                ohms: shown.value.to_f64(),
                count: shown.resolution.to_f64(),
            });
        }
    });
    captures
}
