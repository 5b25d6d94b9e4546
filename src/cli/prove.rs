//! `prove`: a meter is checked on known resistors, and that is logged.
//!
//! Without `--shown` each resistor is clipped in turn and its settled value is
//! taken; what to do next goes to stderr. Through a running daemon or alone,
//! as `job` and `enter`. A failed check blocks passes until one holds.

use std::path::PathBuf;
use std::sync::mpsc::Receiver;

use serde_json::{Map, Value, json};

use super::core::{Core, News, Said, Seen};
use super::job::watch_signals;
use super::options::Options;
use super::{Fail, Out};

/// How long a row that is recorded is waited for, in engine time.
const OVER_NANOS: u64 = 10_000_000_000;

/// Which meter, on which resistors.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// The meter, by its configured name
    meter: String,
    /// A resistor and its tolerance: "100 ohm 0.1 %", "10k 1%"; once for each, in the order they are clipped
    #[arg(long, value_name = "RESISTOR", required = true)]
    known: Vec<String>,
    /// What the meter shows on it, if typed: once after each --known; OL is over-range
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    shown: Vec<String>,
    /// What its joined clips read, if typed
    #[arg(
        long,
        value_name = "VALUE",
        allow_hyphen_values = true,
        requires = "shown"
    )]
    leads: Option<String>,
    /// Who checks it
    #[arg(long, value_name = "NAME")]
    tester: Option<String>,
    /// The configuration file [default: stillohm.toml, if there is one]
    #[arg(long, value_name = "F")]
    config: Option<PathBuf>,
    /// The data folder
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
    /// Print each row as JSON
    #[arg(long)]
    json: bool,
}

/// Checks a meter and prints a row for each resistor.
///
/// # Errors
/// It does not hold, is refused, or cannot be recorded.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    if !args.shown.is_empty() && args.shown.len() != args.known.len() {
        return Err(Fail::asked(format!(
            "expected --shown once for each of the {} resistors or not at all, found {}",
            args.known.len(),
            args.shown.len()
        )));
    }
    let options = Options {
        config: args.config.clone(),
        data: args.data.clone(),
        meters: Vec::new(),
        motors: None,
    };
    let (core, news) = Core::reach(&options)?;
    let proved = prove(&core, &news, args);
    let left = core.leave("the check ended");
    let held = proved?;
    left?;
    if held {
        Ok(())
    } else {
        Err(Fail::No(String::new()))
    }
}

fn prove(core: &Core, news: &Receiver<News>, args: &Args) -> Result<bool, Fail> {
    match core.act("prove", &said(args))? {
        Said::Done { .. } => {}
        Said::Refused(why) => return Err(Fail::asked(why)),
    }
    let live = args.shown.is_empty();
    if live {
        watch_signals(core)?;
    }
    let ended = follow(news, args, live);
    if live && ended.is_err() {
        // What is clipped later must not be taken for a resistor. It may have ended by itself.
        let stop = json!({ "meter": args.meter, "known": [] });
        if let Value::Object(stop) = stop {
            drop(core.act("prove", &stop));
        }
    }
    ended
}

/// Prints each row of the check and says what to do next, until the last.
fn follow(news: &Receiver<News>, args: &Args, live: bool) -> Result<bool, Fail> {
    let mut out = Out::new();
    let (mut asked, mut held) = (String::new(), true);
    // Engine time since when nothing more is asked, and no last row is here:
    // a view may show that a check is over before its row is announced.
    let mut over: Option<u64> = None;
    loop {
        match news.recv() {
            Ok(News::Row(row))
                if row["event"] == "proved" && row["meter"] == args.meter.as_str() =>
            {
                over = None;
                print(&mut out, &row, args.json)?;
                out.flush()?;
                let leads = row["test"] == "leads";
                let again = row["verdict"] == "undecided" && row["finding"] != "limits_too_narrow";
                held &= row["verdict"] == "pass" || live && (leads || again);
                if is_last(&row) && !(live && again) {
                    return Ok(held);
                }
            }
            Ok(News::View(seen)) => match asks(&seen, &args.meter) {
                Some(say) => talk(&mut asked, say),
                // This view is older than the check.
                None if live && asked.is_empty() => {}
                None => {
                    let since = *over.get_or_insert(seen.at);
                    if seen.at.saturating_sub(since) > OVER_NANOS {
                        return Err(if live {
                            Fail::No(broken_off(&args.meter))
                        } else {
                            Fail::around(
                                "the check is recorded and was not announced in time; look into the log",
                            )
                        });
                    }
                }
            },
            Ok(News::Stop(why)) => {
                return Err(Fail::No(format!("{why}: the check is broken off")));
            }
            Ok(News::Gone(why)) => return Err(Fail::around(why)),
            Ok(_) => {}
            Err(_) => return Err(Fail::around("nothing is heard any more")),
        }
    }
}

fn broken_off(meter: &str) -> String {
    format!(
        "the check of {meter} was broken off: a silence, a job on its bench, or 5 minutes without a value; begin it again"
    )
}

fn asks<'a>(seen: &'a Seen, meter: &str) -> Option<&'a str> {
    let of = seen.proving.iter().find(|p| p.meter == meter)?;
    Some(&of.say)
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn talk(asked: &mut String, say: &str) {
    if !say.is_empty() && *asked != say {
        eprintln!("> {say}");
        say.clone_into(asked);
    }
}

fn print(out: &mut Out, row: &Map<String, Value>, json: bool) -> Result<(), Fail> {
    if json {
        return out.line(Value::Object(row.clone()));
    }
    let cell = |column: &str| row[column].as_str().unwrap_or_default();
    let of = match cell("limits_from") {
        "" => "leads",
        of => of,
    };
    let line = format!(
        "{of}: {} {} {}",
        cell("shown"),
        cell("verdict"),
        cell("finding")
    );
    out.line(line.trim_end())?;
    out.line(format_args!("  {}", cell("reason")))?;
    out.line(format_args!(
        "  recorded as {}:{}",
        row["seq"],
        cell("chain")
    ))
}

/// Whether it is of the last resistor.
fn is_last(row: &Map<String, Value>) -> bool {
    let note: Value = row["note"]
        .as_str()
        .and_then(|note| serde_json::from_str(note).ok())
        .unwrap_or_default();
    note["number"].is_u64() && note["number"] == note["of"]
}

fn said(args: &Args) -> Map<String, Value> {
    let mut shown = args.shown.iter();
    let resistor = |words: &String| {
        let mut known = Map::new();
        known.insert(String::from("resistor"), words.as_str().into());
        if let Some(shown) = shown.next() {
            known.insert(String::from("shown"), shown.as_str().into());
        }
        Value::Object(known)
    };
    let known: Vec<Value> = args.known.iter().map(resistor).collect();
    let mut said = Map::new();
    said.insert(String::from("meter"), args.meter.as_str().into());
    said.insert(String::from("known"), known.into());
    for (key, value) in [("leads", &args.leads), ("by", &args.tester)] {
        if let Some(value) = value {
            said.insert(key.to_owned(), value.as_str().into());
        }
    }
    said
}
