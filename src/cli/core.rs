//! Acting on a data folder: through the daemon that holds it, else as one.

mod feed;
mod http;

use std::net::SocketAddr;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

use serde_json::{Map, Value};

use super::Fail;
use super::options::{Options, catalogue};
use crate::catalogue::Catalogue;
use crate::daemon::{self, Running, StartError};
use crate::input::Act;
use crate::log::lock::LockError;
use crate::web::asked;

pub(crate) use feed::{News, Seen, SeenJob, SeenMeter, SeenPoint};

/// News that may wait to be looked at.
const NEWS_WAITING: usize = 256;

/// Where commands go and news come from.
pub(crate) struct Core {
    place: Place,
    news: SyncSender<News>,
}

enum Place {
    Here {
        running: Box<Running>,
        catalogue: Catalogue,
    },
    There(SocketAddr),
}

/// What something asked for came to.
pub(crate) enum Said {
    /// It is done and on the disk.
    Done {
        /// The job it began or touched.
        job: Option<String>,
        /// The first row it made.
        seq: Option<u64>,
    },
    /// It is refused, and why.
    Refused(String),
}

impl Core {
    /// Starts on the data folder, or finds the daemon that holds it.
    #[expect(clippy::print_stderr, reason = "talk goes to stderr")]
    pub(crate) fn reach(options: &Options) -> Result<(Self, Receiver<News>), Fail> {
        let config = options.load()?;
        let catalogue = catalogue(&config)?;
        let (news, receiver) = sync_channel(NEWS_WAITING);
        let started = daemon::start(daemon::Options::configured(&config));
        let place = match started {
            Ok(running) => {
                feed::here(&running, &news)?;
                Place::Here {
                    running: Box::new(running),
                    catalogue,
                }
            }
            Err(StartError::Lock(LockError::Locked { dir, note })) => {
                let Some(at) = address(&note) else {
                    return Err(Fail::around(format!(
                        "{}: another stillohm holds this data folder ({note}) and serves no API: stop it first, or start it without --no-web",
                        dir.display()
                    )));
                };
                eprintln!(
                    "stillohm: through the daemon that holds {} ({note})",
                    dir.display()
                );
                feed::there(at, &news)?;
                Place::There(at)
            }
            Err(e) => return Err(Fail::Around(e.into())),
        };
        Ok((Self { place, news }, receiver))
    }

    /// Where further news go, such as what is typed.
    pub(crate) fn news(&self) -> SyncSender<News> {
        self.news.clone()
    }

    /// Starts a job; what is missing or wrong is a [`Fail::Asked`].
    pub(crate) fn start_job(&self, said: &Map<String, Value>) -> Result<Said, Fail> {
        match &self.place {
            Place::Here { running, catalogue } => {
                let plan = asked::job_plan(said, catalogue).map_err(|e| Fail::Asked(e.into()))?;
                let by = Some(plan.tester.clone());
                Ok(ask(running, by, Act::StartJob(Box::new(plan))))
            }
            Place::There(at) => http::post(*at, "/api/jobs", said),
        }
    }

    /// Asks for something else by its name.
    pub(crate) fn act(&self, name: &str, said: &Map<String, Value>) -> Result<Said, Fail> {
        match &self.place {
            Place::Here { running, .. } => {
                let (by, act) = asked::act(name, None, said).map_err(|e| Fail::Asked(e.into()))?;
                Ok(ask(running, by, act))
            }
            Place::There(at) => {
                let mut said = said.clone();
                said.insert(String::from("act"), name.into());
                http::post(*at, "/api/commands", &said)
            }
        }
    }

    /// Leaves the folder; a daemon that holds it goes on.
    pub(crate) fn leave(self, why: &str) -> Result<(), Fail> {
        match self.place {
            Place::Here { running, .. } => running.stop(why).map_err(|e| Fail::Around(e.into())),
            Place::There(_) => Ok(()),
        }
    }
}

fn ask(running: &Running, by: Option<crate::text::Text>, act: Act) -> Said {
    match running.commands().ask(by, act) {
        Ok(done) => Said::Done {
            job: done.job,
            seq: done.seq,
        },
        Err(refusal) => Said::Refused(refusal.message),
    }
}

/// The loopback address in a holder's note, `pid N http ADDRESS`.
fn address(note: &str) -> Option<SocketAddr> {
    let mut words = note.split_whitespace().skip_while(|w| *w != "http");
    let at: SocketAddr = words.nth(1)?.parse().ok()?;
    at.ip().is_loopback().then_some(at)
}
