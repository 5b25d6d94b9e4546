//! The statistics of `review::stats` over JSON: a question a line on stdin, an
//! answer a line on stdout, for `tests/outside/stats.py`.
//!
//! `{"what": "slope", "x": [...], "y": [...]}`, and so on; what is refused
//! answers `{"refused": "..."}`.

use std::io::{BufRead as _, BufWriter, Write as _};

use serde::Deserialize;
use serde_json::{Value, json};
use stillohm::review::stats::{chart, grr, slope, spread};

#[derive(Deserialize)]
#[serde(rename_all = "snake_case", tag = "what")]
enum Asked {
    Slope {
        x: Vec<f64>,
        y: Vec<f64>,
    },
    Chart {
        baseline: Vec<f64>,
        values: Vec<f64>,
    },
    /// Part, appraiser, value.
    Grr {
        rows: Vec<(String, String, f64)>,
    },
    Spread {
        values: Vec<f64>,
        lower: Option<f64>,
        upper: Option<f64>,
    },
    Quantile {
        values: Vec<f64>,
        part: f64,
    },
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut out = BufWriter::new(std::io::stdout().lock());
    for line in std::io::stdin().lock().lines() {
        let answer = answer(serde_json::from_str(&line?)?);
        writeln!(
            out,
            "{}",
            answer.unwrap_or_else(|why| json!({ "refused": why }))
        )?;
    }
    Ok(())
}

fn answer(asked: Asked) -> Result<Value, String> {
    let refused = |e: &dyn std::error::Error| e.to_string();
    match asked {
        Asked::Slope { x, y } => {
            let points: Vec<(f64, f64)> = x.into_iter().zip(y).collect();
            let line = slope::slope(&points).map_err(|e| refused(&e))?;
            Ok(json!([line.slope, line.intercept, line.low, line.high]))
        }
        Asked::Chart { baseline, values } => {
            let limits = chart::Limits::of(&baseline).map_err(|e| refused(&e))?;
            let signals = limits.signals(&values).map_err(|e| refused(&e))?;
            let signals: Vec<Value> = signals
                .iter()
                .map(|s| json!([s.at, s.rule.word(), s.above]))
                .collect();
            Ok(json!({
                "limits": [limits.center, limits.lower, limits.upper, limits.range_center, limits.range_upper],
                "signals": signals,
            }))
        }
        Asked::Grr { rows } => {
            let measured: Vec<grr::Measured<'_>> = rows
                .iter()
                .map(|(part, appraiser, value)| grr::Measured {
                    part,
                    appraiser,
                    value: *value,
                })
                .collect();
            let found = grr::crossed(&measured).map_err(|e| refused(&e))?;
            let line = |line: grr::Line| json!([line.df, line.ss]);
            let component = |c: grr::Component| json!([c.sigma, c.percent]);
            Ok(json!({
                "part": line(found.by_part), "appraiser": line(found.by_appraiser),
                "both": line(found.by_both), "within": line(found.within),
                "f": found.interaction_f, "p": found.interaction_p, "pooled": found.pooled,
                "components": [
                    component(found.ev), component(found.av), component(found.interaction),
                    component(found.grr), component(found.pv), component(found.tv),
                ],
                "ndc": found.ndc,
            }))
        }
        Asked::Spread {
            values,
            lower,
            upper,
        } => {
            let found = spread::spread(&values, (lower, upper)).map_err(|e| refused(&e))?;
            let against = found.against.map(|a| [a.below, a.within, a.above]);
            Ok(json!({
                "spread": [found.min, found.lower_quartile, found.median, found.upper_quartile, found.max],
                "mean": found.mean, "mad": found.mad, "sigma": found.robust_sigma,
                "against": against,
            }))
        }
        Asked::Quantile { values, part } => {
            let found = spread::quantile(&values, part).map_err(|e| refused(&e))?;
            Ok(json!(found))
        }
    }
}
