//! Runs the settle engine over a corpus folder and writes its captures.
//!
//! `cargo run --release --example settle_corpus -- DIR > captures.csv` reads
//! `DIR/readings.csv` and `DIR/specs.json`. `--why TRACE` prints instead, for
//! one trace, what was waited for after each reading.

use std::collections::BTreeMap;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::time::Duration;

use anyhow::{Context, bail};
use serde::Deserialize;
use stillohm::quantity::{Decimal, Shown, Unit, Volts};
use stillohm::reading::{Flags, Got, Outcome, Sample, Take};
use stillohm::settle::{Hold, Settle, Spec, Steady};
use stillohm::stamp::Stamp;

/// One trace's entry in `specs.json`.
#[derive(Deserialize)]
#[serde(tag = "mode", rename_all = "snake_case")]
enum SpecFile {
    Settle {
        tol_counts: f64,
        tol_rel: f64,
        drift_rel_per_s: f64,
        drift_counts_per_s: f64,
        open: String,
        open_hold_s: f64,
    },
    Hold {
        nominal_v: f64,
        marks_s: Vec<f64>,
        start_frac: f64,
        sag_frac: f64,
    },
}

/// One line of `readings.csv`.
#[derive(Deserialize)]
struct Row {
    trace_id: String,
    time_s: f64,
    value_ohm: String,
    unit: String,
    range_ohm: String,
    resolution_ohm: String,
    test_v: Option<f64>,
}

fn main() -> anyhow::Result<()> {
    let mut args = std::env::args().skip(1);
    let dir = args
        .next()
        .context("expected a corpus folder: settle_corpus DIR [--why TRACE]")?;
    let why = match (args.next().as_deref(), args.next()) {
        (None, _) => None,
        (Some("--why"), Some(trace)) => Some(trace),
        _ => bail!("expected: settle_corpus DIR [--why TRACE]"),
    };
    let dir = Path::new(&dir);
    let specs = dir.join("specs.json");
    let specs = std::fs::read_to_string(&specs).with_context(|| specs.display().to_string())?;
    let specs: BTreeMap<String, SpecFile> = serde_json::from_str(&specs).context("specs.json")?;
    let path = dir.join("readings.csv");
    let mut readings = csv::Reader::from_path(&path).with_context(|| path.display().to_string())?;
    let mut out = BufWriter::new(std::io::stdout().lock());
    if why.is_none() {
        writeln!(out, "trace_id,time_s,kind,value_ohm,mark_s")?;
    }
    let mut trace = String::new();
    let mut settle = None;
    for (line, row) in readings.deserialize().enumerate() {
        let row: Row = row?;
        if settle.is_none() || row.trace_id != trace {
            let spec = specs
                .get(&row.trace_id)
                .with_context(|| format!("specs.json has no {}", row.trace_id))?;
            trace.clone_from(&row.trace_id);
            settle = Some((Settle::new(engine_spec(spec)), marks(spec)));
        }
        let Some((settle, marks)) = &mut settle else {
            continue;
        };
        let at = Stamp::from_seconds(row.time_s);
        let sample = sample(&row).with_context(|| format!("readings.csv: line {}", line + 2))?;
        let mut takes = [None, None];
        if settle.deadline().is_some_and(|deadline| deadline <= at) {
            takes[0] = settle
                .deadline()
                .and_then(|deadline| settle.expire(deadline));
        }
        takes[1] = settle.push(at, &sample);
        if why.as_ref().is_some_and(|wanted| *wanted == trace) {
            writeln!(out, "{:.3} {} {}", row.time_s, row.value_ohm, settle.why())?;
        }
        for take in takes.iter().flatten() {
            if why.is_none() {
                write_take(&mut out, &trace, take, marks)?;
            } else if why.as_ref().is_some_and(|wanted| *wanted == trace) {
                writeln!(out, "    {take:?}")?;
            }
        }
    }
    out.flush()?;
    Ok(())
}

fn engine_spec(spec: &SpecFile) -> Spec {
    match spec {
        SpecFile::Settle {
            tol_counts,
            tol_rel,
            drift_rel_per_s,
            drift_counts_per_s,
            open,
            open_hold_s,
        } => Spec::Steady(Steady {
            tol_counts: *tol_counts,
            tol_rel: *tol_rel,
            drift_rel_per_s: *drift_rel_per_s,
            drift_counts_per_s: *drift_counts_per_s,
            open_is_verdict: open == "verdict",
            open_hold: Duration::from_secs_f64(*open_hold_s),
        }),
        SpecFile::Hold {
            nominal_v,
            marks_s,
            start_frac,
            sag_frac,
        } => Spec::Hold(Hold {
            nominal: Volts(*nominal_v),
            marks: marks_s
                .iter()
                .copied()
                .map(Duration::from_secs_f64)
                .collect(),
            start_frac: *start_frac,
            sag_frac: *sag_frac,
            voltage_measured: true,
        }),
    }
}

fn marks(spec: &SpecFile) -> Vec<f64> {
    match spec {
        SpecFile::Settle { .. } => Vec::new(),
        SpecFile::Hold { marks_s, .. } => marks_s.clone(),
    }
}

fn sample(row: &Row) -> anyhow::Result<Sample> {
    let full_scale = match row.range_ohm.as_str() {
        "" => None,
        range => Some(range.parse::<Decimal>().context(row.range_ohm.clone())?),
    };
    let got = if row.value_ohm == "OL" {
        Got::Over {
            unit: Unit::Ohm,
            full_scale,
        }
    } else {
        Got::Value(Shown {
            value: row.value_ohm.parse().context(row.value_ohm.clone())?,
            unit: Unit::Ohm,
            resolution: row
                .resolution_ohm
                .parse()
                .context(row.resolution_ohm.clone())?,
            prefix: prefix(&row.unit)?,
            full_scale,
        })
    };
    let mut sample = Sample::alone(got, Flags::NONE);
    sample.test_voltage = row.test_v.map(Volts);
    Ok(sample)
}

fn prefix(unit: &str) -> anyhow::Result<i8> {
    Ok(match unit {
        "mOhm" => -3,
        "Ohm" => 0,
        "kOhm" => 3,
        "MOhm" => 6,
        "GOhm" => 9,
        other => bail!("expected mOhm, Ohm, kOhm, MOhm or GOhm, found {other}"),
    })
}

fn write_take(
    out: &mut impl Write,
    trace: &str,
    take: &Take,
    marks: &[f64],
) -> std::io::Result<()> {
    let at = take.at.seconds();
    // The mark that was due: the last one not after the time under voltage.
    let mark = take.elapsed.and_then(|held| {
        let held = held.as_secs_f64() + 1e-6;
        marks.iter().rev().find(|mark| **mark <= held)
    });
    let mark = mark.map(f64::to_string).unwrap_or_default();
    match &take.outcome {
        Outcome::Value(shown) => writeln!(out, "{trace},{at:.3},value,{},{mark}", shown.value),
        Outcome::Open { .. } => writeln!(out, "{trace},{at:.3},open,,"),
        Outcome::OverRange { .. } => writeln!(out, "{trace},{at:.3},over_range,,{mark}"),
        Outcome::PulledDown {
            last: Some(last), ..
        } => {
            writeln!(out, "{trace},{at:.3},value,{},{mark}", last.value)
        }
        Outcome::PulledDown { last: None, .. } | Outcome::Aborted(_) => {
            writeln!(out, "{trace},{at:.3},abort,,")
        }
    }
}
