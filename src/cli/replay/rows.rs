//! The rows of a file, as its log has them.

use std::path::Path;

use super::super::{Fail, Out};
use super::{Refused, Replayed};
use crate::catalogue::Catalogue;
use crate::engine::{Engine, Output, REVISION};
use crate::input::{Act, Input, What};
use crate::log::chain::Chain;
use crate::log::files::header;
use crate::row::Row;

/// Prints the header and the rows with `seq` and chain.
pub(super) fn print(
    inputs: &mut Replayed,
    motors: Option<&Path>,
    out: &mut Out,
) -> Result<(), Fail> {
    let catalogue = motors.map(Catalogue::read).transpose()?;
    let mut engine = Engine::new();
    let mut rows = Rows {
        seq: 1,
        chain: None,
        line: String::new(),
    };
    let mut output = Output::default();
    out.bytes(header().as_bytes())?;
    while let Some(mut input) = inputs.next()? {
        if let Some(catalogue) = &catalogue {
            other_limits(&mut input, catalogue)?;
        }
        rows.begin(&input)?;
        engine
            .input(&input, &mut output)
            .map_err(|e| Fail::No(e.to_string()))?;
        output.outcomes.clear();
        for row in output.rows.drain(..) {
            rows.print(&row, out)?;
        }
    }
    inputs.refused = Refused::of(&engine.view());
    Ok(())
}

struct Rows {
    seq: u64,
    chain: Option<Chain>,
    line: String,
}

impl Rows {
    /// A run's first input says which row comes next, and after which chain.
    #[expect(clippy::print_stderr, reason = "talk goes to stderr")]
    fn begin(&mut self, input: &Input) -> Result<(), Fail> {
        let What::Begin(begin) = &input.what else {
            return Ok(());
        };
        if begin.continues && self.chain.is_some() {
            return Ok(());
        }
        if begin.engine != REVISION {
            eprintln!(
                "stillohm: made by engine revision {}, replayed by {REVISION}: rows may differ from the log's",
                begin.engine
            );
        }
        self.seq = begin.next_seq;
        let chain = Chain::parse(begin.chain.as_str().as_bytes());
        self.chain = Some(chain.ok_or_else(|| {
            Fail::No(format!(
                "the capture's Begin: expected a chain of 32 hexadecimal digits, found {:?}",
                begin.chain.as_str()
            ))
        })?);
        Ok(())
    }

    fn print(&mut self, row: &Row, out: &mut Out) -> Result<(), Fail> {
        let Some(chain) = &self.chain else {
            return Ok(());
        };
        self.line.clear();
        row.write(self.seq, &mut self.line);
        let chain = chain.next(self.line.as_bytes());
        self.line.push_str(chain.as_str());
        self.line.push('\n');
        self.seq += 1;
        self.chain = Some(chain);
        out.bytes(self.line.as_bytes())
    }
}

/// Puts the catalogue's motor in place of the one a job was started with.
pub(super) fn other_limits(input: &mut Input, catalogue: &Catalogue) -> Result<(), Fail> {
    if let What::Command(command) = &mut input.what
        && let Act::StartJob(plan) = &mut command.act
        && plan.motor.in_catalogue
    {
        plan.motor = catalogue.motor(plan.motor.model.as_str())?.clone();
    }
    Ok(())
}
