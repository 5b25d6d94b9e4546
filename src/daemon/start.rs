//! Starting: lock, log, capture, engine, threads, ports, in this order, so
//! that nothing is heard before there is a place to keep it.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread;

use sha2::{Digest, Sha256};
use tokio::sync::{broadcast, watch};

use super::commit::Committer;
use super::committing::Committing;
use super::engine_loop::EngineLoop;
use super::exchange::{Batch, Exchange};
use super::shown::Shown;
use super::{Commands, ROWS_BEHIND, Running};
use crate::capture;
use crate::capture::names::{self, Before};
use crate::capture::retain::Retention;
use crate::clock::Clock;
use crate::config::Config;
use crate::description::{DescriptionError, Plan};
use crate::disk::{Disk as _, RealDisk, reserve};
use crate::engine::{Engine, EngineError, Output, REVISION};
use crate::input::{Begin, Input, SCHEMA, Settings, What};
use crate::log::lock::{Lock, LockError};
use crate::log::{Log, LogError, OpenedLog};
use crate::meter::PortId;
use crate::source::queue::{Limit, queue};
use crate::source::{self, PortPlan};
use crate::stamp::{Stamp, Wall};
use crate::text::Text;
use crate::view::View;

/// What a daemon is started with.
#[derive(Clone, Debug)]
pub struct Options {
    /// The data folder; created.
    pub data: PathBuf,
    /// Everything in force.
    pub settings: Settings,
    /// How large captures grow and how long they are kept.
    pub captures: Bounds,
}

/// How large captures grow and how long they are kept.
#[derive(Clone, Copy, Debug)]
pub struct Bounds {
    /// A file larger than this many bytes is changed for a new one.
    pub file_bytes: u64,
    /// When finished files are deleted; each deletion is a row.
    pub retention: Retention,
}

impl Default for Bounds {
    /// 8 MiB a file (own): some hours of one busy meter. The last file is read
    /// at start for its digest, and a larger one would hold up the start.
    /// Nothing is deleted unasked.
    fn default() -> Self {
        Self {
            file_bytes: 8 << 20,
            retention: Retention {
                age: None,
                bytes: None,
            },
        }
    }
}

impl Options {
    /// The usual bounds of captures.
    pub fn new(data: PathBuf, settings: Settings) -> Self {
        Self {
            data,
            settings,
            captures: Bounds::default(),
        }
    }

    /// What a configuration says.
    pub fn configured(config: &Config) -> Self {
        let mut options = Self::new(config.data.clone(), config.settings.clone());
        options.captures.retention = Retention {
            age: config.keep,
            bytes: config.keep_bytes,
        };
        options
    }
}

/// Why a daemon does not start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// Another daemon has the data folder, or it cannot be locked.
    #[error(transparent)]
    Lock(#[from] LockError),
    /// The log cannot be opened.
    #[error(transparent)]
    Log(#[from] LogError),
    /// The first capture cannot be written.
    #[error("{path}: cannot begin a capture: {source}")]
    Capture {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The data folder takes no file.
    #[error("{data}: cannot be written to: {source}")]
    Reserve {
        /// The data folder.
        data: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// A description in force does not compile.
    #[error("description {name:?}: {cause}")]
    Description {
        /// Its name.
        name: Text,
        /// Why.
        cause: DescriptionError,
    },
    /// What is in force cannot be used.
    #[error(transparent)]
    Engine(#[from] EngineError),
    /// Nothing can be listened to.
    #[error(transparent)]
    Source(#[from] source::StartError),
    /// The system gives no thread.
    #[error("the system gives no thread: {0}")]
    Thread(#[source] io::Error),
}

/// Starts a daemon on a data folder.
///
/// # Errors
/// The folder is taken or cannot be written, or what is in force cannot be used.
pub fn start(options: Options) -> Result<Running, StartError> {
    let lock = Lock::take(&options.data)?;
    let clock = Clock::start();
    let (log, opened) = open_log(&options.data)?;
    // After the log's repair, for which it leaves room. Without room for it
    // there is none, and that stops nothing.
    let has_reserve =
        reserve::keep(&RealDisk, &options.data).map_err(|source| StartError::Reserve {
            data: options.data.clone(),
            source,
        })?;
    let captures = options.data.join("captures");
    // Of the counting's start: reading a long log would set every row's time ahead.
    let began = clock.began();
    let mut committer = Committer::new(log);
    // Before the new capture is there: the newest one is the one to end.
    let before = names::before(&RealDisk, &captures, opened.last_capture.as_deref())
        .unwrap_or_else(|e| unreadable(&e));
    let name = new_capture(&mut committer, &captures, began)?;
    let plans = port_plans(&options.settings)?;
    let begin = begin(opened, before, &name, began, options.settings);
    let continued = Begin {
        before: None,
        unfinished: Vec::new(),
        proved: Vec::new(),
        repaired: Vec::new(),
        continues: true,
        ..begin.clone()
    };

    let (sender, receiver) = queue(Limit::default());
    let commands = Commands::new(clock, sender.clone(), options.data.join("log"));
    let (view, _) = watch::channel(Arc::new(View::default()));
    let (rows, _) = broadcast::channel(ROWS_BEHIND);
    let exchange = Arc::new(Exchange::default());
    let shown = Arc::new(Shown::new(view.clone()));

    let mut engine = Engine::new();
    let first = Input {
        at: Stamp::ZERO,
        what: What::Begin(Box::new(begin)),
    };
    let mut output = Output::default();
    engine.input(&first, &mut output)?;
    let mut batch = Batch::default();
    batch.add(first);
    batch.rows = output.rows;
    exchange.give(batch);

    let committing = Committing {
        clock,
        committer,
        exchange: Arc::clone(&exchange),
        rows: rows.clone(),
        commands: commands.clone(),
        shown: Arc::clone(&shown),
        data: options.data,
        began,
        name,
        bounds: options.captures,
    };
    let committer = spawn("committer", move || committing.run())?;
    let engine_loop = EngineLoop {
        clock,
        queue: receiver,
        engine,
        exchange,
        shown,
        continued,
    };
    let engine = spawn("engine", move || engine_loop.run())?;
    let source = source::start(plans, clock, sender)?;
    Ok(Running {
        clock,
        lock,
        has_reserve,
        commands,
        view,
        rows,
        source,
        engine,
        committer,
    })
}

/// On a full disk the reserve gives the room that a repair of the tail needs.
fn open_log(data: &Path) -> Result<(Log<RealDisk>, OpenedLog), LogError> {
    let dir = data.join("log");
    match Log::open(&dir, RealDisk) {
        Err(error) if error.disk_full() => match reserve::release(&RealDisk, data) {
            Ok(()) => Log::open(&dir, RealDisk),
            Err(_) => Err(error),
        },
        other => other,
    }
}

fn spawn<T: Send + 'static>(
    name: &str,
    run: impl FnOnce() -> T + Send + 'static,
) -> Result<thread::JoinHandle<T>, StartError> {
    thread::Builder::new()
        .name(name.to_owned())
        .spawn(run)
        .map_err(StartError::Thread)
}

/// A capture that cannot be read has no digest; `verify` names it too.
fn unreadable(error: &io::Error) -> Before {
    Before {
        finished: None,
        repaired: Some(format!("the capture before this run: {error}")),
    }
}

fn begin(opened: OpenedLog, before: Before, name: &str, wall: Wall, settings: Settings) -> Begin {
    let repaired = opened.repaired.iter().chain(&before.repaired);
    Begin {
        schema: SCHEMA,
        engine: REVISION,
        version: Text::clean(env!("CARGO_PKG_VERSION")),
        wall,
        continues: false,
        next_seq: opened.next_seq,
        chain: Text::clean(&opened.chain),
        capture: Text::clean(name),
        before: before.finished,
        log_id: Text::clean(&opened.log_id.unwrap_or_else(|| new_log_id(wall))),
        repaired: repaired.map(|why| Text::clean(why)).collect(),
        unfinished: opened.unfinished,
        proved: opened.proved,
        settings,
    }
}

/// Tells two logs apart; not a secret.
fn new_log_id(wall: Wall) -> String {
    let seed = format!("{} {}", wall.0, std::process::id());
    hex(&Sha256::digest(seed.as_bytes())[..8])
}

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a String cannot fail.
        _ = write!(text, "{byte:02x}");
        text
    })
}

fn new_capture(
    committer: &mut Committer<RealDisk>,
    captures: &Path,
    wall: Wall,
) -> Result<String, StartError> {
    let refused = |source| StartError::Capture {
        path: captures.to_owned(),
        source,
    };
    RealDisk.create_dirs(captures).map_err(refused)?;
    let name = names::new_run(&RealDisk, captures, wall).map_err(refused)?;
    let writer = capture::Writer::create(RealDisk, captures, &name, wall).map_err(refused)?;
    committer.start_capture(writer);
    Ok(name)
}

pub(super) fn port_plans(settings: &Settings) -> Result<Vec<PortPlan>, StartError> {
    (0_u16..)
        .map(PortId)
        .zip(&settings.ports)
        .map(|(id, port)| {
            let units: Vec<Option<u8>> = settings
                .meters
                .iter()
                .filter(|m| m.port == id)
                .map(|m| m.unit)
                .collect();
            let text = settings
                .descriptions
                .get(&port.protocol)
                .map_or("", String::as_str);
            let plan = Plan::parse(port.protocol.as_str(), text).map_err(|cause| {
                StartError::Description {
                    name: port.protocol.clone(),
                    cause,
                }
            })?;
            Ok(PortPlan {
                id,
                address: port.address.clone(),
                requests: plan.requests(&units),
                gatt: plan.gatt(),
            })
        })
        .collect()
}
