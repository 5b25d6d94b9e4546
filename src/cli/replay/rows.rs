//! The rows of a file, as its log has them.

use super::super::{Fail, Out};
use super::limits::{Limits, talk};
use super::rejudge::{Before, Rejudge};
use super::{Refused, Replayed};
use crate::engine::{Engine, Output, REVISION};
use crate::input::{Input, What};
use crate::log::chain::Chain;
use crate::log::files::header;
use crate::row::Row;

/// Prints the header and the rows with `seq` and chain.
pub(super) fn print(
    inputs: &mut Replayed,
    limits: Option<&Limits>,
    out: &mut Out,
) -> Result<(), Fail> {
    let mut rows = Rows {
        seq: 1,
        chain: None,
        line: String::new(),
    };
    out.bytes(header().as_bytes())?;
    if let Some(limits) = limits {
        return rejudged(inputs, limits, &mut rows, out);
    }
    let mut engine = Engine::new();
    let mut output = Output::default();
    while let Some(input) = inputs.next()? {
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

/// The rows by other limits; how many differ is said at the end.
fn rejudged(
    inputs: &mut Replayed,
    limits: &Limits,
    rows: &mut Rows,
    out: &mut Out,
) -> Result<(), Fail> {
    let before = Before::Engine(Box::new(Engine::new()));
    let mut both = Rejudge::new(Some(limits), before);
    let mut count = 0;
    while let Some(input) = inputs.next()? {
        rows.begin(&input)?;
        let step = both.step(&input)?;
        for words in &step.missing {
            talk(words);
        }
        for row in &step.rows {
            rows.print(row, out)?;
        }
        count += step.changes.len();
    }
    count += both.finish().len();
    talk(&match count {
        1 => String::from("1 row changes verdict or finding; see which with --changes"),
        count => format!("{count} rows change verdict or finding; see which with --changes"),
    });
    inputs.refused = Refused::of(&both.engine().view());
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
