//! Rates of the settle engine on traces of our own, by family, and of simpler
//! rules on the same traces.
//!
//! `cargo run --release --example settle_own -- [TRACES [SEED]]` prints both
//! tables with exact 95 % intervals; `--list` names the traces that went wrong
//! and `--show FAMILY SEED` prints one with what was waited for.
//! `tests/settle-rates` puts the tables into DEVELOPERS.md.

#[path = "../src/settle/tests/drive.rs"]
mod drive;
#[path = "../src/settle/tests/interval.rs"]
mod interval;
#[path = "../src/settle/tests/label.rs"]
mod label;
#[path = "../src/settle/tests/scenes.rs"]
mod scenes;
#[path = "../src/settle/tests/score.rs"]
mod score;
#[path = "../src/settle/tests/simple.rs"]
mod simple;
#[path = "../src/settle/tests/traces.rs"]
mod traces;

use std::io::Write;

use stillohm::quantity::{Decimal, Shown, Unit};
use stillohm::reading::{Flags, Got, Outcome, Sample, Take};
use stillohm::settle::{Settle, Spec, Steady};
use stillohm::stamp::Stamp;

use interval::rate;
use scenes::{FAMILIES, PLAIN, trace};
use score::{Score, score};
use simple::Rule;

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
        "| family | traces | wrong % (95 %) | missed % (95 %) | doubles % | delay s, p50 / p95 | error counts, p95 |"
    )?;
    writeln!(out, "|---|---|---|---|---|---|---|")?;
    let (mut plain, mut all) = (Tally::default(), Tally::default());
    let mut simpler: Vec<Tally> = Rule::ALL.iter().map(|_| Tally::default()).collect();
    for (at, family) in FAMILIES.iter().enumerate() {
        let mut tally = Tally::default();
        for index in 0..each {
            let seed = seed.wrapping_mul(1_000_003).wrapping_add(index);
            let trace = trace(family, seed);
            let got = score(&trace, &drive::captures(&trace));
            if list && (got.wrong > 0 || got.missed > 0 || got.doubles > 0) {
                writeln!(out, "{family} {seed}: {got:?}")?;
            }
            tally.add(&got);
            for (rule, simpler) in Rule::ALL.iter().zip(&mut simpler) {
                simpler.add(&score(&trace, &rule.captures(&trace)));
            }
        }
        tally.write(&mut out, family)?;
        if at < PLAIN {
            plain.merge(&tally);
        }
        all.merge(&tally);
    }
    plain.write(&mut out, "the first nine, plain work")?;
    all.write(&mut out, "all")?;
    writeln!(
        out,
        "\n| rule, on all of them | traces | wrong % (95 %) | missed % (95 %) | doubles % | delay s, p50 / p95 | error counts, p95 |"
    )?;
    writeln!(out, "|---|---|---|---|---|---|---|")?;
    all.write(&mut out, "the engine")?;
    for (rule, simpler) in Rule::ALL.iter().zip(&simpler) {
        simpler.write(&mut out, &rule.name())?;
    }
    Ok(())
}

#[derive(Default)]
struct Tally {
    traces: u64,
    wrong: u64,
    doubles: u64,
    required: u64,
    missed: u64,
    delays: Vec<f64>,
    errors: Vec<f64>,
}

impl Tally {
    fn add(&mut self, score: &Score) {
        self.traces += 1;
        self.wrong += u64::from(score.wrong > 0);
        self.doubles += u64::from(score.doubles > 0);
        self.required += u64::from(score.required);
        self.missed += u64::from(score.missed);
        self.delays.extend(&score.delays);
        self.errors.extend(&score.errors);
    }

    fn merge(&mut self, other: &Self) {
        self.traces += other.traces;
        self.wrong += other.wrong;
        self.doubles += other.doubles;
        self.required += other.required;
        self.missed += other.missed;
        self.delays.extend(&other.delays);
        self.errors.extend(&other.errors);
    }

    fn write(&self, out: &mut impl Write, name: &str) -> std::io::Result<()> {
        writeln!(
            out,
            "| {name} | {} | {} | {} | {:.2} | {:.2} / {:.2} | {:.2} |",
            self.traces,
            rate(self.wrong, self.traces),
            rate(self.missed, self.required),
            100.0 * self.doubles as f64 / self.traces as f64,
            quantile(&self.delays, 0.5),
            quantile(&self.delays, 0.95),
            quantile(&self.errors, 0.95),
        )
    }
}

/// A quantile of what may be in any order; 0 of nothing.
fn quantile(of: &[f64], part: f64) -> f64 {
    let mut sorted = of.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = (part * sorted.len().saturating_sub(1) as f64).round() as usize;
    sorted.get(at).copied().unwrap_or(0.0)
}

fn show(out: &mut impl Write, family: &str, seed: u64) -> anyhow::Result<()> {
    let trace = trace(family, seed);
    writeln!(out, "{:?}", trace.meter)?;
    for contact in &trace.contacts {
        writeln!(out, "{contact:?}")?;
    }
    drive::each(&trace, |reading, settle, take| {
        let shown = reading.counts.map_or(String::from("OL"), |c| c.to_string());
        let line = format!(
            "{:8.3} {shown:>7} e{} {}",
            reading.at,
            reading.place,
            settle.why()
        );
        // Nothing is lost: a broken pipe shows at the next write.
        drop(writeln!(out, "{line}"));
        if let Some(take) = take {
            drop(writeln!(out, "         {:?}", take.outcome));
        }
    });
    Ok(())
}
