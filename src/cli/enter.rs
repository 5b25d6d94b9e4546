//! `enter`: a value read by eye, into the same judge and log.

use std::path::PathBuf;
use std::time::Duration;

use serde_json::{Map, Value};

use super::core::{Core, News, Said};
use super::options::Options;
use super::{Fail, Out};

/// How long the row of a value is waited for once it is recorded.
const PATIENCE: Duration = Duration::from_secs(10);

/// What was read.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The meter it was read from, by its configured name
    meter: String,
    /// The value as on the display: "22.7 kΩ", 0.5ohm, OL; a number alone is ohms
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true, conflicts_with_all = ["scale", "multiplier"])]
    shown: Option<String>,
    /// What the needle of an analog instrument stands at
    #[arg(long, value_name = "NUMBER", requires = "multiplier")]
    scale: Option<String>,
    /// What the analog instrument's range multiplies it by
    #[arg(long, value_name = "NUMBER", requires = "scale")]
    multiplier: Option<String>,
    /// The job it belongs to
    #[arg(long, value_name = "JOB")]
    job: Option<String>,
    /// The point, such as "winding main" [default: the one asked for now]
    #[arg(long, value_name = "POINT", requires = "job")]
    point: Option<String>,
    /// The full scale of the range in ohms, when it is over-range
    #[arg(long, value_name = "OHMS")]
    full_scale: Option<String>,
    /// For insulation: the test voltage
    #[arg(long, value_name = "VOLTS")]
    test_voltage: Option<String>,
    /// For insulation: seconds under voltage
    #[arg(long, value_name = "SECONDS")]
    elapsed: Option<String>,
    /// Who reads it
    #[arg(long, value_name = "NAME")]
    tester: Option<String>,
    /// The configuration file [default: stillohm.toml, if there is one]
    #[arg(long, value_name = "F")]
    config: Option<PathBuf>,
    /// The data folder
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// Print the row as JSON
    #[arg(long)]
    json: bool,
}

/// Enters a value and prints its row and verdict.
///
/// # Errors
/// It is refused, or cannot be recorded.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let options = Options {
        config: args.config.clone(),
        data: args.data.clone(),
        meters: Vec::new(),
        motors: None,
    };
    let (core, news) = Core::reach(&options)?;
    let entered = enter(&core, &news, args);
    let left = core.leave("the value is entered");
    entered?;
    left
}

fn enter(core: &Core, news: &std::sync::mpsc::Receiver<News>, args: &Args) -> Result<(), Fail> {
    let seq = match core.act("enter", &said(args))? {
        Said::Done { seq, .. } => seq,
        // The data say nothing: what was typed does not fit what is there.
        Said::Refused(why) => return Err(Fail::asked(why)),
    };
    let mut out = Out::new();
    while let Some(seq) = seq {
        match news.recv_timeout(PATIENCE) {
            Ok(News::Row(row)) if row["seq"] == seq => {
                print(&mut out, row, args.json)?;
                break;
            }
            Ok(News::Gone(why)) => return Err(Fail::around(why)),
            Ok(_) => {}
            Err(_) => {
                let message = format!(
                    "row {seq} is recorded and was not announced in time; look into the log"
                );
                return Err(Fail::around(message));
            }
        }
    }
    out.flush()
}

fn said(args: &Args) -> Map<String, Value> {
    let mut said = Map::new();
    said.insert(String::from("meter"), args.meter.as_str().into());
    for (key, value) in [
        ("shown", &args.shown),
        ("scale", &args.scale),
        ("multiplier", &args.multiplier),
        ("job", &args.job),
        ("point", &args.point),
        ("full_scale_ohms", &args.full_scale),
        ("test_voltage_v", &args.test_voltage),
        ("elapsed_s", &args.elapsed),
        ("by", &args.tester),
    ] {
        if let Some(value) = value {
            said.insert(key.to_owned(), value.as_str().into());
        }
    }
    said
}

fn print(out: &mut Out, row: Map<String, Value>, json: bool) -> Result<(), Fail> {
    if json {
        return out.line(Value::Object(row));
    }
    let cell = |column: &str| row[column].as_str().unwrap_or_default();
    let shown = match cell("shown") {
        "" => cell("event"),
        shown => shown,
    };
    out.line(
        format_args!(
            "{} {shown}: {} {}",
            row["seq"],
            cell("verdict"),
            cell("finding")
        )
        .to_string()
        .trim_end(),
    )?;
    if !cell("reason").is_empty() {
        out.line(format_args!("  {}", cell("reason")))?;
    }
    out.line(format_args!(
        "  recorded as {}:{}",
        row["seq"],
        cell("chain")
    ))
}
