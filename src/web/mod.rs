//! The API: what the page and other commands use. It looks and asks, nothing more.
//!
//! State changes only by an [`Asked`] that goes to the engine; what comes back
//! comes after the sync of its rows. No client is ever waited for, no path,
//! port or address to open ever comes from a request, and every answer passes
//! the [`doors`].

pub mod asked;
pub mod doors;
mod events;
mod hands;
mod minute;
mod page;
mod query;
pub mod reviews;
mod routes;
mod setting;
mod socket;

use std::net::SocketAddr;
use std::sync::Arc;
use std::thread::JoinHandle;

use tokio::sync::{broadcast, mpsc, oneshot, watch};

use crate::bench::{Done, Refusal};
use crate::catalogue::Catalogue;
use crate::input::Act;
use crate::row::Recorded;
use crate::text::Text;
use crate::view::View;
use doors::Doors;
pub use events::row_object;
pub use page::{JobsLog, Traces};
pub use reviews::Reviews;
pub use setting::{Offer, Offers, Setup};

/// Commands that may wait for their turn.
pub const ASKED_WAITING: usize = 64;

/// Something asked for over the network, and where its outcome goes.
#[derive(Debug)]
pub struct Asked {
    /// Who asks, as typed.
    pub by: Option<Text>,
    /// What for.
    pub act: Act,
    /// The outcome, after the sync of its rows.
    pub reply: oneshot::Sender<Result<Done, Refusal>>,
}

/// What the API holds of the program.
#[derive(Clone, Debug)]
pub struct Shared {
    /// The latest view. Its sender: whoever subscribes is counted as looking.
    pub view: watch::Sender<Arc<View>>,
    /// Rows, each after its sync.
    pub rows: broadcast::Sender<Arc<Recorded>>,
    /// Where commands go, [`ASKED_WAITING`] deep.
    pub asked: mpsc::Sender<Asked>,
    /// The motors a job may be of.
    pub catalogue: Arc<Catalogue>,
    /// Jobs that are in the log.
    pub jobs: Arc<JobsLog>,
    /// How meters are set up; none: they cannot be here.
    pub setup: Option<Arc<dyn Setup>>,
    /// The readings that values came from.
    pub traces: Arc<dyn Traces>,
    /// Who answers questions over many rows.
    pub reviews: Arc<dyn Reviews>,
}

/// An address that is listened on.
#[derive(Debug)]
pub struct Open {
    listener: std::net::TcpListener,
    doors: Doors,
}

impl Open {
    /// Binds an address; port 0 takes any.
    ///
    /// # Errors
    /// The address is taken or not this machine's.
    pub fn bind(listen: SocketAddr, token: Option<Text>, commands: bool) -> std::io::Result<Self> {
        let listener = std::net::TcpListener::bind(listen)?;
        listener.set_nonblocking(true)?;
        let at = listener.local_addr()?;
        let doors = Doors::new(at, token, commands);
        Ok(Self { listener, doors })
    }

    /// Where it listens.
    pub fn address(&self) -> SocketAddr {
        self.doors.listening()
    }
}

/// The API at work, in a thread of its own.
#[derive(Debug)]
pub struct Web {
    stop: oneshot::Sender<()>,
    thread: JoinHandle<std::io::Result<()>>,
}

impl Web {
    /// Serves every open address.
    ///
    /// # Errors
    /// The thread cannot be started.
    pub fn start(open: Vec<Open>, shared: Shared) -> std::io::Result<Self> {
        let (stop, stopped) = oneshot::channel();
        let thread = std::thread::Builder::new()
            .name(String::from("web"))
            .spawn(move || serve(open, shared, stopped))?;
        Ok(Self { stop, thread })
    }

    /// Closes every door at once: streams end, no client is waited for.
    ///
    /// # Errors
    /// What had ended it before.
    pub fn stop(self) -> std::io::Result<()> {
        // Fails only when the thread has ended already; its join says why.
        _ = self.stop.send(());
        match self.thread.join() {
            Ok(ended) => ended,
            Err(_) => Err(std::io::Error::other("the web thread ended unexpectedly")),
        }
    }
}

fn serve(open: Vec<Open>, shared: Shared, stopped: oneshot::Receiver<()>) -> std::io::Result<()> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        .build()?;
    let ended = runtime.block_on(async move {
        let hub = events::Hub::start(&shared);
        for Open { listener, doors } in open {
            let listener = socket::Listener::new(tokio::net::TcpListener::from_std(listener)?);
            let service = routes::router(shared.clone(), hub.clone(), doors)
                .into_make_service_with_connect_info::<socket::Ends>();
            tokio::spawn(async move {
                // Ends only with the runtime: accept errors are waited out inside.
                drop(axum::serve(listener, service).await);
            });
        }
        // A dropped sender stops it too.
        drop(stopped.await);
        Ok(())
    });
    // A log that is being read for somebody is not waited for.
    runtime.shutdown_background();
    ended
}

#[cfg(test)]
mod tests;
