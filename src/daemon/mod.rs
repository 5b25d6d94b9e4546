//! The daemon: sources, one queue, the engine's thread, the committer's thread.
//!
//! Nothing is announced before its row is synced: rows and the outcomes of
//! commands leave only through the committer. Live digits leave at once.

pub mod commit;
mod committing;
mod engine_loop;
mod exchange;
mod shown;
mod start;
pub mod trial;

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::{broadcast, watch};

use crate::bench::{Done, Refusal};
use crate::clock::Clock;
use crate::disk::RealDisk;
use crate::engine::EngineError;
use crate::input::{Act, Command, Input, What};
use crate::log::lock::Lock;
use crate::review::baseline;
use crate::row::Recorded;
use crate::source;
use crate::source::queue::Sender;
use crate::text::Text;
use crate::view::View;
pub use start::{Bounds, Options, StartError, start};

/// How long a command may wait for room in the queue, and for its rows to be synced.
const PATIENCE: Duration = Duration::from_secs(10);
/// Rows kept for a listener that is behind; one further behind is told so.
const ROWS_BEHIND: usize = 4096;

/// A daemon at work.
#[derive(Debug)]
pub struct Running {
    clock: Clock,
    lock: Lock,
    has_reserve: bool,
    commands: Commands,
    view: watch::Sender<Arc<View>>,
    rows: broadcast::Sender<Arc<Recorded>>,
    source: source::Running,
    engine: JoinHandle<Result<(), EngineError>>,
    committer: JoinHandle<()>,
}

/// Why a daemon did not stop in order.
#[derive(Debug, thiserror::Error)]
pub enum StopError {
    /// The log could not be written; what was not acknowledged is not recorded.
    #[error("not everything was recorded: {0}")]
    NotRecorded(String),
    /// The engine had to stop before.
    #[error(transparent)]
    Engine(#[from] EngineError),
    /// A part ended in a way that nobody planned.
    #[error("the {part} ended unexpectedly: this is a defect of the program")]
    Panicked {
        /// Which part.
        part: &'static str,
    },
}

impl Running {
    /// The latest state. Its digits are live, not recorded.
    pub fn view(&self) -> Arc<View> {
        Arc::clone(&self.view.borrow())
    }

    /// The latest state, and each later one. Whoever holds it is counted as looking.
    pub fn watch(&self) -> watch::Receiver<Arc<View>> {
        self.view.subscribe()
    }

    /// Where views come from, for those that look by themselves.
    pub fn view_sender(&self) -> watch::Sender<Arc<View>> {
        self.view.clone()
    }

    /// Rows from now on, each after its sync.
    pub fn rows(&self) -> broadcast::Receiver<Arc<Recorded>> {
        self.rows.subscribe()
    }

    /// The sender of rows, for those that subscribe by themselves.
    pub fn rows_sender(&self) -> broadcast::Sender<Arc<Recorded>> {
        self.rows.clone()
    }

    /// Where commands go in.
    pub fn commands(&self) -> Commands {
        self.commands.clone()
    }

    /// Whether there was room for the reserve at the start; if not, the disk is nearly full.
    pub fn has_reserve(&self) -> bool {
        self.has_reserve
    }

    /// Engine time now.
    pub fn clock(&self) -> Clock {
        self.clock
    }

    /// Waits until every port is open or being retried.
    pub fn all_tried(&self) {
        self.source.all_tried();
    }

    /// Leaves words beside the lock, so that other commands find this daemon.
    ///
    /// # Errors
    /// The lock file cannot be written.
    pub fn note(&mut self, words: &str) -> std::io::Result<()> {
        self.lock.note(words)
    }

    /// Stops listening, drains what was heard, ends the log's run.
    ///
    /// # Errors
    /// The log could not be written, or a part had stopped before.
    pub fn stop(self, why: &str) -> Result<(), StopError> {
        self.source.stop();
        let end = Input {
            at: self.clock.now(),
            what: What::End {
                why: Text::clean(why),
            },
        };
        // A queue that is closed means that the engine has stopped; its join says why.
        let sent = self.commands.0.sender.send(vec![end], PATIENCE);
        let engine = self
            .engine
            .join()
            .map_err(|_| StopError::Panicked { part: "engine" })?;
        self.committer
            .join()
            .map_err(|_| StopError::Panicked { part: "committer" })?;
        drop(self.lock);
        engine?;
        match (self.commands.trouble(), sent) {
            (Some(trouble), _) => Err(StopError::NotRecorded(trouble)),
            (None, Err(_)) => Err(StopError::Panicked { part: "queue" }),
            (None, Ok(())) => Ok(()),
        }
    }
}

/// Where commands go in and their outcomes come out, after the sync of their rows.
#[derive(Clone, Debug)]
pub struct Commands(Arc<Shared>);

#[derive(Debug)]
struct Shared {
    clock: Clock,
    log: PathBuf,
    sender: Sender,
    next_id: AtomicU64,
    waiting: Mutex<BTreeMap<u64, SyncSender<Result<Done, Refusal>>>>,
    trouble: Mutex<Option<String>>,
}

impl Commands {
    fn new(clock: Clock, sender: Sender, log: PathBuf) -> Self {
        Self(Arc::new(Shared {
            clock,
            log,
            sender,
            next_id: AtomicU64::new(1),
            waiting: Mutex::default(),
            trouble: Mutex::default(),
        }))
    }

    /// Asks for something and waits until it is on the disk.
    ///
    /// # Errors
    /// It is refused, or nothing can be recorded any more.
    pub fn ask(&self, by: Option<Text>, act: Act) -> Result<Done, Refusal> {
        if let Some(trouble) = self.trouble() {
            return Err(Refusal {
                message: format!("NOT RECORDED, restart first: {trouble}"),
            });
        }
        let act = self.with_baseline(act);
        let id = self.0.next_id.fetch_add(1, Ordering::Relaxed);
        let (reply, answer) = sync_channel(1);
        self.waiting().insert(id, reply);
        let command = What::Command(Box::new(Command { id, by, act }));
        let input = Input {
            at: self.0.clock.now(),
            what: command,
        };
        let sent = self.0.sender.send(vec![input], PATIENCE);
        let outcome = match sent {
            Ok(()) => answer.recv_timeout(PATIENCE).map_err(|_| ()),
            Err(_) => Err(()),
        };
        self.waiting().remove(&id);
        outcome.unwrap_or_else(|()| {
            Err(Refusal {
                message: String::from(
                    "no answer within 10 s: whether it was done shows in the log; look before asking again",
                ),
            })
        })
    }

    /// A job goes in with what its asset read before, so that its capture
    /// replays alone. The log is read here, on the thread of whoever asks.
    fn with_baseline(&self, mut act: Act) -> Act {
        if let Act::StartJob(plan) = &mut act
            && plan.baseline.is_none()
        {
            let asset = plan.asset.as_str();
            let found = baseline::last(&RealDisk, &self.0.log, asset, plan.measured_at);
            plan.baseline = found.map(Box::new);
        }
        act
    }

    fn answer(&self, id: u64, outcome: Result<Done, Refusal>) {
        if let Some(reply) = self.waiting().remove(&id) {
            // Whoever asked may have gone; then nobody wants the answer.
            drop(reply.try_send(outcome));
        }
    }

    /// Why nothing is recorded any more, if that is so.
    pub fn trouble(&self) -> Option<String> {
        self.0
            .trouble
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    fn set_trouble(&self, why: String) {
        *self
            .0
            .trouble
            .lock()
            .unwrap_or_else(PoisonError::into_inner) = Some(why);
    }

    fn waiting(
        &self,
    ) -> std::sync::MutexGuard<'_, BTreeMap<u64, SyncSender<Result<Done, Refusal>>>> {
        self.0
            .waiting
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }
}
