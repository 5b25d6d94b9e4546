//! `job`: one motor, worked through in a terminal or by a script.
//!
//! A terminal gets one-key operation and a big reading; anything else gets
//! lines, one a change, and answers with lines. Both send the same commands
//! and end with the job.

mod glyph;
mod screen;
mod script;
mod state;
#[cfg(unix)]
mod terminal;

use std::sync::mpsc::Receiver;

use serde_json::{Map, Value, json};

use super::core::{Core, News, Said};
use super::options::Options;
use super::{Fail, Out, signals};
use crate::review::told;
use crate::row::JobOutcome;
use state::State;

const KEYS: &str = "\
Keys in a terminal: ENTER or SPACE confirms what is asked, or says that the clips are on;
s skips a point, r redoes one, a takes this contact again, e enters a value read by eye,
n notes, p parks the job, w withdraws a row, q ends the job, ESC leaves what is being typed.
Without a terminal each line of stdin is a command: yes, clips on, skip WHY, redo POINT,
again, enter VALUE, note WORDS, park WHY, withdraw ROW WHY, end.";

/// Which motor, and how it is met.
#[derive(Debug, clap::Args)]
#[command(after_help = KEYS)]
pub(crate) struct Args {
    #[command(flatten)]
    options: Options,
    /// The motor's model in the catalogue
    #[arg(
        long,
        value_name = "M",
        required_unless_present_any = ["go_on", "kind"],
        conflicts_with_all = ["kind", "rated_v", "electronics"]
    )]
    motor: Option<String>,
    /// For a motor in no catalogue: two_wire, three_wire, three_phase or other
    #[arg(long, value_name = "K", requires_all = ["rated_v", "electronics"])]
    kind: Option<String>,
    /// For a motor in no catalogue: its rated voltage
    #[arg(long, value_name = "V")]
    rated_v: Option<String>,
    /// For a motor in no catalogue: electronics in or on it, yes, no or unknown
    #[arg(long, value_name = "E")]
    electronics: Option<String>,
    /// Which machine it is: its name in the log, the same each time
    #[arg(long, value_name = "A", required_unless_present = "go_on")]
    asset: Option<String>,
    /// Who tests; typed, not authenticated
    #[arg(long, value_name = "T")]
    tester: Option<String>,
    /// arrival, dried, repaired or leaving [default: arrival]
    #[arg(long, value_name = "S")]
    stage: Option<String>,
    /// The winding's temperature: 20, 20C or 68F; unknown if left out
    #[arg(long, value_name = "T", allow_negative_numbers = true)]
    temperature: Option<String>,
    /// motor, splice or panel [default: motor; panel where a cable is given]
    #[arg(long, value_name = "P")]
    measured_at: Option<String>,
    /// What the ground clip holds: frame, ground_conductor, metal_pipe, casing or other [default: frame; away from the motor other]
    #[arg(long, value_name = "G")]
    ground_reference: Option<String>,
    /// A segment of the cable, if one is in, such as "120 m 2.5 mm2 copper 12 C"; repeat it, or join by +
    #[arg(
        long,
        value_name = "SEGMENT",
        allow_hyphen_values = true,
        conflicts_with = "cable_ohms"
    )]
    cable: Vec<String>,
    /// Resistance of the cable there and back, as measured with its far ends joined
    #[arg(long, value_name = "OHMS", allow_negative_numbers = true)]
    cable_ohms: Option<String>,
    /// How far the cable's resistance may be off, in percent; a measured loop is known better [default: 10]
    #[arg(long, value_name = "PERCENT")]
    cable_doubt: Option<String>,
    /// How a dual-voltage motor is connected, if points.csv has limits for both: low_v or high_v
    #[arg(long, value_name = "C")]
    connection: Option<String>,
    /// simple, or guarded: within the meter's doubt of a limit nothing passes [default: simple]
    #[arg(long, value_name = "A")]
    acceptance: Option<String>,
    /// The profile of insulation limits [default: the motor's own]
    #[arg(long, value_name = "P")]
    profile: Option<String>,
    /// The profile's condition, such as installed-used; `stillohm profiles show` has them
    #[arg(long, value_name = "C")]
    condition: Option<String>,
    /// The sheet: which points are measured [default: those of the motor]
    #[arg(long, value_name = "NAME")]
    sheet: Option<String>,
    /// The bench [default: the first]
    #[arg(long, value_name = "B")]
    bench: Option<String>,
    /// Go on with a job that was parked or interrupted
    #[arg(long, value_name = "JOB", conflicts_with_all = ["motor", "kind", "rated_v", "electronics", "asset"])]
    go_on: Option<String>,
}

/// Works through a job.
///
/// # Errors
/// It came to anything but no fault found, or could not be begun.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let (core, news) = Core::reach(&args.options)?;
    let ended = work(&core, &news, args);
    // A job without an end is interrupted, and can be gone on with.
    let left = core.leave("the job's terminal ended");
    let outcome = ended?;
    left?;
    match outcome {
        Some(JobOutcome::NoFaultFound) => Ok(()),
        _ => Err(Fail::No(String::new())),
    }
}

fn work(core: &Core, news: &Receiver<News>, args: &Args) -> Result<Option<JobOutcome>, Fail> {
    let begun = match &args.go_on {
        Some(job) => core.act("go_on", &object(json!({ "job": job })))?,
        None => core.start_job(&said(args))?,
    };
    let job = match begun {
        Said::Done { job: Some(job), .. } => job,
        Said::Done { job: None, .. } => args.go_on.clone().unwrap_or_default(),
        Said::Refused(why) => return Err(Fail::asked(why)),
    };
    watch_signals(core)?;
    let state = State::new(job, args.options.as_typed());
    #[cfg(unix)]
    if terminal::is_one() {
        return terminal::work(core, news, state);
    }
    script::work(core, news, state)
}

pub(super) fn watch_signals(core: &Core) -> Result<(), Fail> {
    let failed = |e| Fail::Around(anyhow::Error::new(e).context("signals cannot be watched"));
    let stop = signals::stop().map_err(failed)?;
    let news = core.news();
    std::thread::spawn(move || {
        loop {
            if let Some(why) = stop.wait(std::time::Duration::from_secs(60)) {
                // Nobody may be listening any more.
                drop(news.send(News::Stop(why)));
                return;
            }
        }
    });
    Ok(())
}

/// The job as it is asked for over the network too.
fn said(args: &Args) -> Map<String, Value> {
    let mut said = Map::new();
    let described = [
        ("kind", &args.kind),
        ("rated_v", &args.rated_v),
        ("electronics", &args.electronics),
    ];
    if let Some(model) = &args.motor {
        said.insert(String::from("motor"), model.as_str().into());
    } else if described.iter().any(|(_, value)| value.is_some()) {
        let mut motor = Map::new();
        fill(&mut motor, &described);
        said.insert(String::from("motor"), Value::Object(motor));
    }
    fill(
        &mut said,
        &[
            ("asset", &args.asset),
            ("tester", &args.tester),
            ("stage", &args.stage),
            ("temperature", &args.temperature),
            ("measured_at", &args.measured_at),
            ("ground_reference", &args.ground_reference),
            ("cable_ohms", &args.cable_ohms),
            ("cable_doubt_percent", &args.cable_doubt),
            ("connection", &args.connection),
            ("acceptance", &args.acceptance),
            ("profile", &args.profile),
            ("condition", &args.condition),
            ("sheet", &args.sheet),
            ("bench", &args.bench),
        ],
    );
    if !args.cable.is_empty() {
        said.insert(String::from("cable"), args.cable.clone().into());
    }
    said
}

fn fill(said: &mut Map<String, Value>, fields: &[(&str, &Option<String>)]) {
    for (key, value) in fields {
        if let Some(value) = value {
            said.insert((*key).to_owned(), value.as_str().into());
        }
    }
}

fn object(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(object) => object,
        _ => Map::new(),
    }
}

/// How a job ended. A terminal is told the whole job; a script had its points
/// line by line and is told its last row and what it may mean.
fn say_end(
    out: &mut Out,
    row: &Map<String, Value>,
    state: &State,
    look: Option<screen::Look>,
) -> Result<Option<JobOutcome>, Fail> {
    let cell = |column: &str| row[column].as_str().unwrap_or_default();
    let reason = cell("reason");
    match look {
        Some(look) => {
            for line in screen::end(&told::job(&state.rows, &state.job), look) {
                out.line(screen::styled(&line, look))?;
            }
        }
        None => {
            out.line(format_args!("{} {reason}", cell("job")))?;
            let end = state.rows.last().map(|last| told::diagnosis(&last.row));
            out.bytes(end.unwrap_or_default().as_bytes())?;
        }
    }
    out.line(format_args!(
        "the job's last row is {}:{}",
        row["seq"],
        cell("chain")
    ))?;
    out.flush()?;
    let word = reason.split(':').next().unwrap_or_default();
    Ok(JobOutcome::from_word(word))
}
