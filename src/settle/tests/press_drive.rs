//! Runs the engine over the presses of a trace. The names of the engine's types
//! come from the file that includes this one, which may be a test or an example.

use super::press_score::{Event, Said};
use super::press_tester::{Face, Line};
use super::presses::Trace;
use super::{Decimal, Duration, Flags, Got, Hold, Outcome, Sample, Settle, Shown, Spec};
use super::{Stamp, Take, Unit, Volts};

/// A line as the engine sees it.
pub(crate) fn sample(trace: &Trace, line: &Line) -> Sample {
    let place = |counts: i64| Decimal::new(counts, line.place).expect("a small count");
    let full_scale = trace.tester.says_range.then(|| place(line.full));
    let got = match line.face {
        Face::Blank => Got::Nothing,
        Face::Over => Got::Over {
            unit: Unit::Ohm,
            full_scale,
        },
        Face::Counts(counts) => Got::Value(Shown {
            value: place(counts),
            unit: Unit::Ohm,
            resolution: place(1),
            prefix: 0,
            full_scale,
        }),
    };
    let mut sample = Sample::alone(got, Flags::NONE);
    if trace.measured {
        sample.test_voltage = Some(Volts(line.volts));
    }
    sample.elapsed = line.own.map(Duration::from_secs_f64);
    sample
}

/// Settling for a trace.
pub(crate) fn settle(trace: &Trace) -> Settle {
    let marks: Vec<Duration> = trace
        .marks
        .iter()
        .map(|mark| Duration::from_secs_f64(*mark))
        .collect();
    let mut spec = Hold::new(Volts(trace.nominal), &marks);
    spec.voltage_measured = trace.measured;
    Settle::new(Spec::Hold(spec))
}

/// Runs a trace and calls `see` after each line.
pub(crate) fn each(trace: &Trace, mut see: impl FnMut(Option<&Line>, &Settle, Option<Take>)) {
    let mut settle = settle(trace);
    let mut words = trace.words.iter().peekable();
    for line in &trace.lines {
        while let Some((at, on)) = words.next_if(|(at, _)| *at <= line.at) {
            let at = Stamp::from_seconds(*at);
            wait(&mut settle, at, &mut see);
            let take = settle.voltage(at, *on);
            see(None, &settle, take);
        }
        let at = Stamp::from_seconds(line.at);
        wait(&mut settle, at, &mut see);
        let take = settle.push(at, &sample(trace, line));
        see(Some(line), &settle, take);
    }
}

fn wait(
    settle: &mut Settle,
    until: Stamp,
    see: &mut impl FnMut(Option<&Line>, &Settle, Option<Take>),
) {
    if let Some(deadline) = settle.deadline().filter(|deadline| *deadline <= until) {
        let take = settle.expire(deadline);
        see(None, settle, take);
    }
}

/// What was said of a trace.
pub(crate) fn events(trace: &Trace) -> Vec<Event> {
    let mut events = Vec::new();
    each(trace, |_, _, take| {
        events.extend(take.map(|take| event(trace, &take)));
    });
    events
}

/// What a take says.
pub(crate) fn event(trace: &Trace, take: &Take) -> Event {
    let said = match take.outcome {
        Outcome::Value(shown) => Said::Ohms(shown.value.to_f64()),
        Outcome::OverRange { .. } | Outcome::Open { .. } => Said::Over,
        Outcome::PulledDown { .. } => Said::PulledDown,
        Outcome::Aborted(_) => Said::Abort,
    };
    // The mark that was due: the last one not after the time under voltage.
    let held = take.elapsed.map_or(0.0, |held| held.as_secs_f64() + 1e-6);
    let mark = trace.marks.iter().rposition(|mark| *mark <= held);
    Event {
        at: take.at.seconds(),
        said,
        mark,
    }
}
