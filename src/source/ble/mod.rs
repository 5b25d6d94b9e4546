//! Bluetooth meters: found by address or name, listened to, found again.
//!
//! One thread with a runtime of its own, since connecting and losing on a
//! runtime of several threads leaks match rules until nothing connects any
//! more. [`radio`] watches the adapter and the service behind it; each port is
//! a [`device`] task that goes from looking to listening and back for ever.
//! What is heard leaves as ATT PDUs, one a chunk, led by the meter's table of
//! attributes; no byte of a value is interpreted here.

mod device;
mod find;
mod link;
mod radio;
mod scan;
mod table;
mod why;

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use bytes::Bytes;
use futures_core::Stream;
use tokio::sync::watch;
use tokio::time::sleep;

pub use scan::{Nearby, ScanError, scan};

use super::queue::{SendError, Sender};
use super::{PortPlan, Tried};
use crate::clock::Clock;
use crate::input::{Input, What};
use crate::meter::PortId;
use crate::stamp::Stamp;
use crate::text::Text;

/// A full queue is asked again this often; meanwhile notifications wait in order.
const QUEUE_FULL: Duration = Duration::from_millis(10);
/// A meter that stays away counts as tried after this long.
const FIRST_TRY: Duration = Duration::from_secs(2);
/// What a stopping program gives the radio to let go of the meters.
const FAREWELL: Duration = Duration::from_secs(1);

/// Begins to look for the meters of `ports` and to listen to them.
///
/// # Errors
/// The system gives no thread or no runtime.
pub(super) fn start(
    ports: Vec<PortPlan>,
    clock: Clock,
    sender: Sender,
    tried: &Arc<Tried>,
) -> io::Result<(watch::Sender<bool>, JoinHandle<()>)> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        .build()?;
    let (stop, stopped) = watch::channel(false);
    let tried = Arc::clone(tried);
    let thread = std::thread::Builder::new()
        .name(String::from("bluetooth"))
        .spawn(move || {
            let all = tokio::task::LocalSet::new();
            all.block_on(&runtime, listen(ports, clock, sender, tried, stopped));
        })?;
    Ok((stop, thread))
}

async fn listen(
    ports: Vec<PortPlan>,
    clock: Clock,
    sender: Sender,
    tried: Arc<Tried>,
    mut stopped: watch::Receiver<bool>,
) {
    let radio = radio::Radio::start();
    let mut tasks = Vec::new();
    for plan in ports {
        let hand = Hand {
            clock,
            sender: sender.clone(),
            port: plan.id,
        };
        let first = FirstTry::new(Arc::clone(&tried));
        let device = device::Device::new(plan, hand, first, radio.air(), stopped.clone());
        tasks.push(tokio::task::spawn_local(device.run()));
    }
    // A dropped sender stops it too.
    drop(stopped.wait_for(|stop| *stop).await);
    for task in tasks {
        // A panic was printed by its thread; there is nothing to add here.
        drop(tokio::time::timeout(FAREWELL, task).await);
    }
}

/// Where what a port gives goes: the one queue, each stamped at arrival.
struct Hand {
    clock: Clock,
    sender: Sender,
    port: PortId,
}

impl Hand {
    fn now(&self) -> Stamp {
        self.clock.now()
    }

    async fn opened(&self) {
        self.give(vec![What::Opened { port: self.port }]).await;
    }

    async fn closed(&self, why: &str) {
        let why = Text::clean(why);
        self.give(vec![What::Closed {
            port: self.port,
            why,
        }])
        .await;
    }

    async fn heard(&self, chunks: Vec<Vec<u8>>) {
        let port = self.port;
        let chunk = |data: Vec<u8>| What::Bytes {
            port,
            data: Bytes::from(data),
        };
        self.give(chunks.into_iter().map(chunk).collect()).await;
    }

    async fn sent(&self, data: Vec<u8>) {
        self.give(vec![What::Sent {
            port: self.port,
            data: Bytes::from(data),
        }])
        .await;
    }

    async fn give(&self, whats: Vec<What>) {
        let at = self.now();
        let mut round: Vec<Input> = whats.into_iter().map(|what| Input { at, what }).collect();
        loop {
            round = match self.sender.try_send(round) {
                Ok(()) | Err(SendError::Closed(_)) => return,
                Err(SendError::Full(round)) => round,
            };
            sleep(QUEUE_FULL).await;
        }
    }
}

/// Counts a port as tried, once: when it is open or its trouble was said, at
/// the latest when the task ends.
struct FirstTry(Option<Arc<Tried>>);

impl FirstTry {
    fn new(tried: Arc<Tried>) -> Self {
        Self(Some(tried))
    }

    fn done(&mut self) {
        if let Some(tried) = self.0.take() {
            tried.count(1);
        }
    }
}

impl Drop for FirstTry {
    fn drop(&mut self) {
        self.done();
    }
}

/// A stream of the Bluetooth library.
type Events<T> = Pin<Box<dyn Stream<Item = T> + Send>>;

async fn next<T>(events: &mut Events<T>) -> Option<T> {
    core::future::poll_fn(|cx| events.as_mut().poll_next(cx)).await
}

/// What is there already; `None` when one must wait, or nothing comes any more.
async fn at_once<T>(events: &mut Events<T>) -> Option<T> {
    tokio::select! {
        biased;
        event = next(events) => event,
        () = core::future::ready(()) => None,
    }
}
