//! News for a terminal: views, rows, what is typed, in one queue.

use std::io::BufRead as _;
use std::net::SocketAddr;
use std::sync::mpsc::{SyncSender, TrySendError};
use std::time::Duration;

use serde::Deserialize;
use serde_json::{Map, Value};
use tokio::sync::broadcast::error::RecvError;

use super::super::Fail;
use super::http;
use crate::daemon::Running;
use crate::view::View;
use crate::web::row_object;

/// At most so many views a second reach a terminal.
const VIEW_EVERY: Duration = Duration::from_millis(200);

/// Something that happened.
#[derive(Debug)]
pub(crate) enum News {
    /// The latest state.
    View(Box<Seen>),
    /// A row, after its sync.
    Row(Map<String, Value>),
    /// A key of a terminal.
    Key(char),
    /// A line of a script.
    Line(String),
    /// Nothing more is typed.
    TypedAll,
    /// The program is told to stop.
    Stop(&'static str),
    /// The daemon is gone.
    Gone(String),
}

/// A view, as much of it as a terminal shows.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct Seen {
    pub(crate) at: u64,
    pub(crate) trouble: String,
    pub(crate) meters: Vec<SeenMeter>,
    pub(crate) jobs: Vec<SeenJob>,
    #[serde(default)]
    pub(crate) proving: Vec<SeenProving>,
}

/// A meter that is being checked.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct SeenProving {
    pub(crate) meter: String,
    pub(crate) say: String,
}

/// A meter.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct SeenMeter {
    pub(crate) name: String,
    pub(crate) bench: String,
    pub(crate) connected: bool,
    pub(crate) trouble: String,
    pub(crate) shown: String,
    pub(crate) shown_at: Option<u64>,
    pub(crate) flags: Vec<String>,
    pub(crate) settle: String,
    pub(crate) progress: f32,
    pub(crate) hold: Option<(f32, f32)>,
    pub(crate) bad_frames: u64,
}

/// A job.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct SeenJob {
    pub(crate) job: String,
    pub(crate) bench: String,
    pub(crate) asset: String,
    pub(crate) motor: String,
    pub(crate) tester: String,
    pub(crate) state: String,
    pub(crate) ask: SeenAsk,
    pub(crate) points: Vec<SeenPoint>,
    pub(crate) banners: Vec<String>,
    pub(crate) discharge_until: Option<u64>,
}

/// What is asked.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
pub(crate) struct SeenAsk {
    pub(crate) test: String,
    pub(crate) point: String,
    pub(crate) meter: String,
    pub(crate) say: String,
    pub(crate) cautions: Vec<String>,
    pub(crate) confirm: Option<String>,
    pub(crate) clips_on: bool,
}

/// A point.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct SeenPoint {
    pub(crate) test: String,
    pub(crate) point: String,
    pub(crate) state: String,
    pub(crate) shown: String,
    pub(crate) verdict: Option<String>,
    pub(crate) finding: Option<String>,
    pub(crate) limits: String,
}

impl Seen {
    fn of(view: &View) -> Option<Self> {
        serde_json::to_value(view)
            .ok()
            .and_then(|v| serde_json::from_value(v).ok())
    }
}

/// News of a daemon in this process. Each thread ends with its source or its listener.
pub(super) fn here(running: &Running, news: &SyncSender<News>) -> Result<(), Fail> {
    let mut rows = running.rows();
    let to = news.clone();
    spawn("rows", move || {
        loop {
            match rows.blocking_recv() {
                Ok(row) => {
                    if to.send(News::Row(row_object(&row))).is_err() {
                        return;
                    }
                }
                Err(RecvError::Lagged(_)) => {}
                Err(RecvError::Closed) => return,
            }
        }
    })?;
    let views = running.watch();
    let to = news.clone();
    spawn("views", move || {
        loop {
            let view = views.borrow().clone();
            if let Some(seen) = Seen::of(&view) {
                // The next view is newer anyway: a full queue is no reason to wait.
                if let Err(TrySendError::Disconnected(_)) = to.try_send(News::View(Box::new(seen)))
                {
                    return;
                }
            }
            if views.has_changed().is_err() {
                return;
            }
            std::thread::sleep(VIEW_EVERY);
        }
    })
}

/// News of a daemon elsewhere on this machine; the stream is open when this returns.
pub(super) fn there(at: SocketAddr, news: &SyncSender<News>) -> Result<(), Fail> {
    let events = http::events(at)?;
    let to = news.clone();
    spawn("events", move || {
        let mut event = String::new();
        for line in events.lines() {
            let Ok(line) = line else { break };
            if let Some(name) = line.strip_prefix("event: ") {
                name.clone_into(&mut event);
            } else if let Some(data) = line.strip_prefix("data: ") {
                let sent = match event.as_str() {
                    "view" => match serde_json::from_str(data) {
                        Ok(seen) => match to.try_send(News::View(seen)) {
                            Err(TrySendError::Disconnected(_)) => Err(()),
                            Ok(()) | Err(TrySendError::Full(_)) => Ok(()),
                        },
                        Err(_) => Ok(()),
                    },
                    "row" => match serde_json::from_str(data) {
                        Ok(row) => to.send(News::Row(row)).map_err(|_| ()),
                        Err(_) => Ok(()),
                    },
                    _ => Ok(()),
                };
                if sent.is_err() {
                    return;
                }
            }
        }
        // Nobody may be listening any more.
        drop(to.send(News::Gone(format!("the daemon at {at} ended"))));
    })
}

fn spawn(name: &str, run: impl FnOnce() + Send + 'static) -> Result<(), Fail> {
    std::thread::Builder::new()
        .name(name.to_owned())
        .spawn(run)
        .map(drop)
        .map_err(|e| Fail::Around(anyhow::Error::new(e).context("the system gives no thread")))
}
