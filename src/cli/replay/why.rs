//! `--why`: how each contact settled, a line a change.
//!
//! One line when a meter begins to wait for something else, and one for each
//! value that came of it, so that a value taken late, early or not at all can
//! be argued about. Changes within one chunk of bytes show at its end.

use core::mem::discriminant;

use super::super::{Fail, Out};
use super::limits::{Limits, talk};
use super::readings::quoted;
use super::{Refused, Replayed};
use crate::engine::{Engine, Output};
use crate::input::What;
use crate::row::{Event, Row};
use crate::settle::Why;
use crate::stamp::Stamp;

const HEADER: &str = "seconds,meter,contact,shown,state,why";

/// Prints the header and what each contact waited for.
pub(super) fn print(
    inputs: &mut Replayed,
    limits: Option<&Limits>,
    out: &mut Out,
) -> Result<(), Fail> {
    let mut engine = Engine::new();
    let mut output = Output::default();
    let mut told = Told::default();
    out.line(HEADER)?;
    while let Some(mut input) = inputs.next()? {
        for why in limits.map(|l| l.apply(&mut input)).unwrap_or_default() {
            talk(&why);
        }
        if let What::Begin(begin) = &input.what
            && !(begin.continues && told.begun)
        {
            told = Told {
                begun: true,
                seq: begin.next_seq,
                meters: Vec::new(),
            };
        }
        engine
            .input(&input, &mut output)
            .map_err(|e| Fail::No(e.to_string()))?;
        output.outcomes.clear();
        told.rows(&mut output.rows, &engine, out)?;
        told.waits(&engine, out)?;
    }
    inputs.refused = Refused::of(&engine.view());
    Ok(())
}

/// What was last said.
#[derive(Default)]
struct Told {
    begun: bool,
    /// The next row's number.
    seq: u64,
    /// Each meter, in the order of the settings.
    meters: Vec<Meter>,
}

#[derive(Clone, Copy, Default)]
struct Meter {
    contact: u32,
    waits: Option<Why>,
}

impl Told {
    /// The rows that a meter's settling made.
    fn rows(&mut self, rows: &mut Vec<Row>, engine: &Engine, out: &mut Out) -> Result<(), Fail> {
        for row in rows.drain(..) {
            let seq = self.seq;
            self.seq += 1;
            let mut names = engine.settling().map(|(name, _)| name);
            let Some(at) = names.position(|name| name == row.meter) else {
                continue;
            };
            if let Some(why) = settled(seq, &row) {
                let contact = self.meters.get(at).map_or(0, |meter| meter.contact);
                let state = row.event.word();
                line(
                    engine.now(),
                    &row.meter,
                    contact,
                    &row.shown,
                    state,
                    &why,
                    out,
                )?;
            }
        }
        Ok(())
    }

    /// What each meter waits for, where that has changed.
    fn waits(&mut self, engine: &Engine, out: &mut Out) -> Result<(), Fail> {
        for (at, (name, settle)) in engine.settling().enumerate() {
            if self.meters.len() <= at {
                self.meters.push(Meter::default());
            }
            let meter = &mut self.meters[at];
            let why = settle.why();
            if meter
                .waits
                .is_some_and(|said| discriminant(&said) == discriminant(&why))
            {
                continue;
            }
            let rests = |why: Why| matches!(why, Why::NoContact | Why::Press | Why::Taken);
            if meter.waits.is_none_or(rests) && !rests(why) {
                meter.contact += 1;
            }
            meter.waits = Some(why);
            let shown = engine.shown(at);
            let state = settle.state().word;
            line(
                engine.now(),
                name,
                meter.contact,
                &shown,
                state,
                &why.to_string(),
                out,
            )?;
        }
        Ok(())
    }
}

/// What settled a value, from its row.
fn settled(seq: u64, row: &Row) -> Option<String> {
    use core::fmt::Write as _;
    if !matches!(
        row.event,
        Event::Value | Event::Open | Event::OverRange | Event::Aborted
    ) {
        return None;
    }
    let mut why = format!("row {seq}");
    let mut add = |words: core::fmt::Arguments<'_>| {
        // A string takes everything.
        _ = why.write_fmt(words);
    };
    if let Some(method) = row.method {
        add(format_args!(": {}", method.word()));
    }
    if let (Some(samples), Some(window)) = (row.samples, row.window_s) {
        add(format_args!(", {samples} readings in {window} s"));
    }
    if let Some(spread) = row.spread_ohms {
        add(format_args!(", spread {spread} ohm"));
    }
    if let Some(elapsed) = row.elapsed_s {
        add(format_args!(", {elapsed} s after the start"));
    }
    if row.event == Event::Aborted && !row.reason.is_empty() {
        add(format_args!(": {}", row.reason));
    }
    Some(why)
}

fn line(
    at: Stamp,
    meter: &str,
    contact: u32,
    shown: &str,
    state: &str,
    why: &str,
    out: &mut Out,
) -> Result<(), Fail> {
    out.line(format_args!(
        "{:.3},{},{contact},{},{state},{}",
        at.seconds(),
        quoted(meter),
        quoted(shown),
        quoted(why)
    ))
}
