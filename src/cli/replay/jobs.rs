//! `--jobs`: each job of a capture, told as text.

use super::super::{Fail, Out};
use super::limits::{Limits, talk};
use super::{Refused, Replayed};
use crate::engine::{Engine, Output};
use crate::input::What;
use crate::review::told;
use crate::row::Recorded;

/// Prints each job, in the order they began.
pub(super) fn print(
    inputs: &mut Replayed,
    limits: Option<&Limits>,
    out: &mut Out,
) -> Result<(), Fail> {
    let mut engine = Engine::new();
    let mut output = Output::default();
    let mut rows: Vec<Recorded> = Vec::new();
    let mut seq = 1;
    while let Some(mut input) = inputs.next()? {
        for why in limits.map(|l| l.apply(&mut input)).unwrap_or_default() {
            talk(&why);
        }
        if let What::Begin(begin) = &input.what
            && (!begin.continues || rows.is_empty())
        {
            seq = begin.next_seq;
            // A job that was begun in an earlier run has its first rows there.
            for line in &begin.unfinished {
                let row = Recorded::from_line(line).map_err(|e| Fail::No(e.to_string()))?;
                if !rows.iter().any(|known| known.seq == row.seq) {
                    rows.push(row);
                }
            }
        }
        engine
            .input(&input, &mut output)
            .map_err(|e| Fail::No(e.to_string()))?;
        output.outcomes.clear();
        for row in output.rows.drain(..) {
            rows.push(Recorded {
                seq,
                row,
                chain: String::new(),
            });
            seq += 1;
        }
    }
    for (at, job) in told::jobs(&rows).into_iter().enumerate() {
        if at > 0 {
            out.line("\n")?;
        }
        out.bytes(told::job(&rows, job).as_bytes())?;
    }
    inputs.refused = Refused::of(&engine.view());
    Ok(())
}
