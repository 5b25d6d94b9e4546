//! `replay`: the same engine over a capture, a hexlog or a text file.
//!
//! A capture carries everything and gives its log's rows again, byte for byte.
//! The others carry bytes only: a run is made up around them, with one meter
//! called `meter`, wall time 1970-01-01, and ten seconds of silence at the end.

pub(super) mod changes;
pub(super) mod limits;
mod jobs;
pub(super) mod readings;
pub(super) mod rejudge;
mod rows;
mod why;

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::{Fail, Out};
use crate::capture::pcapng::Fault;
use crate::capture::{self, CaptureError, Inputs, Kind, Pace};
use crate::config::{self, Library};
use crate::engine::REVISION;
use crate::input::{Begin, Input, SCHEMA, Settings, What};
use crate::meter::{Address, Meter, Port, PortId};
use crate::stamp::{Stamp, Wall};
use crate::text::Text;
use crate::view::View;
use limits::Limits;

/// What is replayed, and as what.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// A capture, a hexlog or a text file; a run's further files follow by themselves
    file: PathBuf,
    /// The description, a name or a file, for files that carry none [default: text-line]
    #[arg(long, value_name = "P")]
    protocol: Option<String>,
    /// The meter's unit on a shared bus, for files that carry none
    #[arg(long, value_name = "N")]
    unit: Option<u8>,
    /// Print every reading
    #[arg(long, conflicts_with = "rows")]
    readings: bool,
    /// Print the rows of the log, the default
    #[arg(long)]
    rows: bool,
    /// Print what each contact waited for, and what settled it
    #[arg(long, conflicts_with_all = ["readings", "rows"])]
    why: bool,
    /// Print each job as text: what was measured, what it came to, what it may mean
    #[arg(long, conflicts_with_all = ["readings", "rows", "why"])]
    jobs: bool,
    /// Seconds from line to line of a text file, which has no time of its own
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    every: Option<Duration>,
    /// Judge jobs by the models of this catalogue, not by those of the capture
    #[arg(long, value_name = "F")]
    motors: Option<PathBuf>,
    /// Judge insulation by this profile
    #[arg(long, value_name = "P")]
    profile: Option<String>,
    /// Judge insulation by this condition of the profile
    #[arg(long, value_name = "C")]
    condition: Option<String>,
    /// Print only the rows that come out otherwise, and why: by --motors or --profile, else against the log beside the capture
    #[arg(long, conflicts_with_all = ["readings", "rows", "why"])]
    changes: bool,
    /// Print the changes as JSON, an object a line
    #[arg(long, requires = "changes")]
    json: bool,
    /// The configuration file, whose folder `protocols` is looked into
    #[arg(long, value_name = "F")]
    config: Option<PathBuf>,
}

/// How long a made-up run listens on after its last byte: longer than any wait.
const SILENCE: Duration = Duration::from_secs(10);

/// Replays a file to stdout.
///
/// # Errors
/// The file cannot be read, or it does not say what it should.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    if args.file.is_dir() {
        return Err(Fail::asked(format!(
            "{}: expected a file such as DATA/captures/RUN.pcapng, found a folder",
            args.file.display()
        )));
    }
    let kind = capture::kind(&args.file)?;
    if kind == Kind::Text && !args.readings && args.every.is_none() {
        return Err(Fail::asked(format!(
            "{}: a text file has no time: expected --every SECONDS between its lines, or --readings",
            args.file.display()
        )));
    }
    let limits = Limits::open(
        args.motors.as_deref(),
        args.profile.as_deref(),
        args.condition.as_deref(),
    )?;
    let limits = limits.as_ref();
    let mut inputs = Replayed::open(args, kind)?;
    let mut out = Out::new();
    if args.readings {
        readings::print(&mut inputs, &mut out)?;
    } else if args.why {
        why::print(&mut inputs, limits, &mut out)?;
    } else if args.changes {
        changes::print(&mut inputs, &args.file, limits, args.json, &mut out)?;
    } else if args.jobs {
        jobs::print(&mut inputs, limits, &mut out)?;
    } else {
        rows::print(&mut inputs, limits, &mut out)?;
    }
    out.flush()?;
    inputs.remark();
    inputs.none_understood(args)
}

fn seconds(words: &str) -> Result<Duration, String> {
    match words.parse::<f64>() {
        Ok(s) if (1e-9..=86_400.0).contains(&s) => Ok(Duration::from_secs_f64(s)),
        _ => Err(String::from("expected seconds above 0 and up to 86400")),
    }
}

impl From<CaptureError> for Fail {
    fn from(e: CaptureError) -> Self {
        match e.fault {
            Fault::Io(_) => Self::Asked(e.into()),
            _ => Self::No(e.to_string()),
        }
    }
}

/// The inputs of a file, with a run made up around them if it carries none.
struct Replayed {
    inputs: Inputs,
    /// What comes before the next of the file's own.
    before: VecDeque<Input>,
    made_up: bool,
    last: Stamp,
    ended: bool,
    refused: Refused,
}

/// Frames that gave no reading.
#[derive(Default)]
struct Refused {
    count: u64,
    last: String,
    /// None gave one.
    all: bool,
}

impl Refused {
    fn of(view: &View) -> Self {
        let last = view.meters.iter().rev().find(|m| !m.last_bad.is_empty());
        Self {
            count: view.meters.iter().map(|m| m.bad_frames).sum(),
            last: last.map(|m| m.last_bad.clone()).unwrap_or_default(),
            all: view.meters.iter().all(|m| m.good_frames == 0),
        }
    }
}

impl Replayed {
    fn open(args: &Args, kind: Kind) -> Result<Self, Fail> {
        let pace = args.every.map_or(Pace::AtOnce, Pace::Every);
        let mut inputs = capture::read(&args.file, pace)?;
        let first = inputs.next().transpose()?;
        let own = first
            .as_ref()
            .is_some_and(|input| matches!(input.what, What::Begin(_)));
        let mut before = VecDeque::new();
        if own {
            if args.protocol.is_some() || args.unit.is_some() {
                return Err(Fail::asked(format!(
                    "{}: carries its own meters and descriptions: expected neither --protocol nor --unit",
                    args.file.display()
                )));
            }
        } else {
            let ports = match kind {
                // Written by another program: its ports are seen by looking.
                Kind::Pcapng => count_ports(&args.file)?,
                Kind::Hexlog | Kind::Text => 1,
            };
            let settings = settings(args, ports)?;
            let begin = made_up(&args.file, settings);
            before.push_back(Input {
                at: Stamp::ZERO,
                what: What::Begin(Box::new(begin)),
            });
        }
        before.extend(first);
        Ok(Self {
            inputs,
            before,
            made_up: !own,
            last: Stamp::ZERO,
            ended: false,
            refused: Refused::default(),
        })
    }

    fn next(&mut self) -> Result<Option<Input>, Fail> {
        let next = match self.before.pop_front() {
            Some(input) => Some(input),
            None => self.inputs.next().transpose()?,
        };
        if let Some(input) = &next {
            self.last = self.last.max(input.at);
        } else if self.made_up && !self.ended {
            self.ended = true;
            let at = self.last.plus(SILENCE);
            let why = Text::clean("the file ends");
            return Ok(Some(Input {
                at,
                what: What::End { why },
            }));
        }
        Ok(next)
    }

    /// What is worth knowing about the file, on stderr.
    #[expect(clippy::print_stderr, reason = "talk goes to stderr")]
    fn remark(&self) {
        for (path, end) in self.inputs.torn() {
            eprintln!(
                "stillohm: {}: torn by a crash behind byte {end}; what is before it was replayed",
                path.display()
            );
        }
        let Refused { count, last, all } = &self.refused;
        if *count > 0 && !all {
            eprintln!("stillohm: {count} of the frames gave no reading; the last: {last}");
        }
    }

    /// A file that carries no description of its own, and bytes that do not fit the one named.
    fn none_understood(&self, args: &Args) -> Result<(), Fail> {
        let Refused { count, last, all } = &self.refused;
        if !self.made_up || !all || *count == 0 {
            return Ok(());
        }
        Err(Fail::No(format!(
            "{}: expected readings of {}, found none in {count} frames; the last: {last}; name another description with --protocol, and see that the file is what it should be",
            args.file.display(),
            args.protocol.as_deref().unwrap_or("text-line"),
        )))
    }
}

/// One more than the highest port that bytes came from.
fn count_ports(path: &Path) -> Result<u16, Fail> {
    let mut ports = 1;
    for input in capture::read(path, Pace::AtOnce)? {
        if let What::Bytes { port, .. } | What::Sent { port, .. } = input?.what {
            ports = ports.max(port.0.saturating_add(1));
        }
    }
    Ok(ports)
}

/// A meter on each port, `meter`, `meter-2` and so on.
fn settings(args: &Args, ports: u16) -> Result<Settings, Fail> {
    let library: Library = config::library(args.config.as_deref())?;
    let wanted = args.protocol.as_deref().unwrap_or("text-line");
    let (protocol, text, _) = library.plan(wanted)?;
    let name = |port: u16| match port {
        0 => String::from("meter"),
        port => format!("meter-{}", u32::from(port) + 1),
    };
    let meter = |port: u16| Meter {
        unit: args.unit,
        ..Meter::plain(Text::clean(&name(port)), PortId(port))
    };
    let port = |_| Port {
        address: Address::Replay {
            name: file_name(&args.file),
        },
        protocol: protocol.clone(),
    };
    Ok(Settings {
        ports: (0..ports).map(port).collect(),
        meters: (0..ports).map(meter).collect(),
        descriptions: [(protocol.clone(), text)].into(),
        require_calibrated: false,
    })
}

fn file_name(path: &Path) -> Text {
    Text::clean(&path.file_name().unwrap_or_default().to_string_lossy())
}

fn made_up(path: &Path, settings: Settings) -> Begin {
    Begin {
        schema: SCHEMA,
        engine: REVISION,
        version: Text::clean(env!("CARGO_PKG_VERSION")),
        wall: Wall(0),
        continues: false,
        next_seq: 1,
        chain: Text::clean(&"0".repeat(32)),
        capture: file_name(path),
        before: None,
        log_id: Text::clean("replay"),
        repaired: Vec::new(),
        unfinished: Vec::new(),
        proved: Vec::new(),
        settings,
    }
}
