//! Rates of timed holds on traces of our own, by family.
//!
//! `cargo run --release --example settle_holds -- [TRACES [SEED]]` prints a
//! table with exact 95 % intervals; `--list` names the traces that went wrong
//! and `--show FAMILY SEED` prints one with what was waited for.

#[path = "../src/settle/tests/interval.rs"]
mod interval;
#[path = "../src/settle/tests/press_drive.rs"]
mod press_drive;
#[path = "../src/settle/tests/press_labels.rs"]
mod press_labels;
#[path = "../src/settle/tests/press_score.rs"]
mod press_score;
#[path = "../src/settle/tests/press_tester.rs"]
mod press_tester;
#[path = "../src/settle/tests/presses.rs"]
mod presses;
#[expect(dead_code, reason = "the meter of steady tests is not needed here")]
#[path = "../src/settle/tests/traces.rs"]
mod traces;

use std::io::Write;
use std::time::Duration;

use stillohm::quantity::{Decimal, Shown, Unit, Volts};
use stillohm::reading::{Flags, Got, Outcome, Sample, Take};
use stillohm::settle::{Hold, Settle, Spec};
use stillohm::stamp::Stamp;

use interval::rate;
use press_score::{Score, score};
use press_tester::Face;
use presses::{FAMILIES, trace};

fn main() -> anyhow::Result<()> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    if let [flag, family, seed] = args.as_slice()
        && flag == "--show"
    {
        return show(&mut out, family, seed.parse()?);
    }
    let list = args.iter().any(|arg| arg == "--list");
    let mut numbers = args.iter().filter_map(|arg| arg.parse::<u64>().ok());
    let traces = numbers.next().unwrap_or(20_000);
    let seed = numbers.next().unwrap_or(1);
    let each = traces.div_ceil(FAMILIES.len() as u64);
    writeln!(
        out,
        "| family | traces | false % (95 %) | asked | missed % (95 %) | mean delay s |"
    )?;
    writeln!(out, "|---|---|---|---|---|---|")?;
    let mut total = Tally::default();
    for family in FAMILIES {
        let mut tally = Tally::default();
        for index in 0..each {
            let seed = seed.wrapping_mul(1_000_003).wrapping_add(index);
            let trace = trace(family, seed);
            let got = score(&trace, &press_drive::events(&trace));
            if list && !(got.wrong.is_empty() && got.missed.is_empty()) {
                writeln!(out, "{family} {seed}: {:?} {:?}", got.wrong, got.missed)?;
            }
            tally.add(&got);
        }
        tally.write(&mut out, family)?;
        total.merge(&tally);
    }
    total.write(&mut out, "all")?;
    Ok(())
}

#[derive(Default)]
struct Tally {
    traces: u64,
    wrong: u64,
    required: u64,
    missed: u64,
    hits: u64,
    delay: f64,
}

impl Tally {
    fn add(&mut self, score: &Score) {
        self.traces += 1;
        self.wrong += u64::from(!score.wrong.is_empty());
        self.required += u64::from(score.required);
        self.missed += score.missed.len() as u64;
        self.hits += u64::from(score.hits);
        self.delay += score.delay;
    }

    fn merge(&mut self, other: &Self) {
        self.traces += other.traces;
        self.wrong += other.wrong;
        self.required += other.required;
        self.missed += other.missed;
        self.hits += other.hits;
        self.delay += other.delay;
    }

    fn write(&self, out: &mut impl Write, name: &str) -> std::io::Result<()> {
        writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {:.2} |",
            self.traces,
            rate(self.wrong, self.traces),
            self.required,
            rate(self.missed, self.required),
            self.delay / self.hits.max(1) as f64,
        )
    }
}

fn show(out: &mut impl Write, family: &str, seed: u64) -> anyhow::Result<()> {
    let trace = trace(family, seed);
    writeln!(out, "{:?}", trace.tester)?;
    writeln!(
        out,
        "{} V set to {} V, marks {:?}, words {:?}",
        trace.nominal, trace.step, trace.marks, trace.words
    )?;
    for push in &trace.presses {
        writeln!(out, "{push:?}")?;
    }
    for run in press_labels::runs(&trace) {
        writeln!(out, "{run:?}")?;
    }
    press_drive::each(&trace, |line, settle, take| {
        if let Some(line) = line {
            let shown = match line.face {
                Face::Counts(_) => format!("{:.4e}", line.ohms().unwrap_or(0.0)),
                Face::Over => String::from("OL"),
                Face::Blank => String::from("-"),
            };
            // Nothing is lost: a broken pipe shows at the next write.
            drop(writeln!(
                out,
                "{:8.3} (sent {:8.3}) {shown:>10} {:7.1} V {}",
                line.at,
                line.sent,
                line.volts,
                settle.why()
            ));
        }
        if let Some(take) = take {
            drop(writeln!(
                out,
                "    {:?} at {:.3}",
                take.outcome,
                take.at.seconds()
            ));
        }
    });
    let got = score(&trace, &press_drive::events(&trace));
    writeln!(out, "wrong {:?} missed {:?}", got.wrong, got.missed)?;
    Ok(())
}
