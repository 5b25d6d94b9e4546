//! Sources: bytes in from ports, requests out, into one bounded queue.
//!
//! A **source** opens ports, stamps what arrives and asks what is to be asked.
//! It never interprets a byte. On Unix one thread waits on all descriptors,
//! another on the radio. A port that is missing, taken or lost is said once and
//! tried on.

mod ble;
mod poll;
mod ports;
pub mod queue;
mod why;

#[cfg(unix)]
mod blocks;
#[cfg(unix)]
mod link;
#[cfg(unix)]
mod serial;
#[cfg(unix)]
mod tcp;
#[cfg(unix)]
mod unix;
#[cfg(unix)]
mod wait;

#[cfg(not(unix))]
mod threads;

#[cfg(all(test, unix))]
mod tests;

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::JoinHandle;

pub use ble::{Nearby, ScanError, scan};
pub use ports::{PortInfo, list};

use crate::clock::Clock;
use crate::description::{GattAsked, Request};
use crate::meter::{Address, PortId};
use crate::text::Text;
use queue::Sender;

/// One port to be listened to.
#[derive(Clone, Debug)]
pub struct PortPlan {
    /// The port, as its inputs name it.
    pub id: PortId,
    /// Where it is and how it is set.
    pub address: Address,
    /// What is sent on it, in order.
    pub requests: Vec<Request>,
    /// What is asked of a Bluetooth meter, if the description says it.
    pub gatt: Option<GattAsked>,
}

/// Why listening could not begin at all. A port that does not open is no such reason.
#[derive(Debug, thiserror::Error)]
#[error("the system gives no thread or no descriptor to listen with")]
pub struct StartError(#[source] std::io::Error);

/// Ports being listened to, until stopped or dropped.
#[derive(Debug)]
pub struct Running {
    stop: Stop,
    tried: Arc<Tried>,
    threads: Vec<JoinHandle<()>>,
}

/// Begins to listen. Replayed ports are left alone.
///
/// # Errors
/// The system refuses a thread or a descriptor.
pub fn start(ports: Vec<PortPlan>, clock: Clock, sender: Sender) -> Result<Running, StartError> {
    start_with(ports, clock, sender, |serial| {
        ports::by_usb(&list(), serial)
    })
}

/// As [`start`], with another way to find the path that has a USB serial number.
///
/// # Errors
/// As [`start`].
pub fn start_with(
    mut ports: Vec<PortPlan>,
    clock: Clock,
    sender: Sender,
    usb: impl Fn(&Text) -> Option<Text> + Clone + Send + 'static,
) -> Result<Running, StartError> {
    ports.retain(|port| !matches!(port.address, Address::Replay { .. }));
    let tried = Arc::new(Tried {
        left: Mutex::new(ports.len()),
        none_left: Condvar::new(),
    });
    let (radio, wired): (Vec<_>, Vec<_>) = ports
        .into_iter()
        .partition(|port| matches!(port.address, Address::Ble { .. }));
    // Nothing of Bluetooth is begun that nobody asked for.
    let radio = match radio.is_empty() {
        true => None,
        false => Some(ble::start(radio, clock, sender.clone(), &tried).map_err(StartError)?),
    };
    #[cfg(unix)]
    let started = unix::start(wired, clock, sender, usb, &tried);
    #[cfg(not(unix))]
    let started = threads::start(wired, clock, sender, usb, &tried);
    let (mut stop, mut threads) = started.map_err(StartError)?;
    if let Some((farewell, thread)) = radio {
        stop.radio = Some(farewell);
        threads.push(thread);
    }
    Ok(Running {
        stop,
        tried,
        threads,
    })
}

impl Running {
    /// Waits until every port is open or was tried once and is being tried
    /// again: at most about 2 s, the time a connection may take.
    pub fn all_tried(&self) {
        let left = self.tried.lock();
        drop(
            self.tried
                .none_left
                .wait_while(left, |left| *left > 0)
                .unwrap_or_else(PoisonError::into_inner),
        );
    }

    /// Whether it still listens. Only a failure of the system or a defect here
    /// ends it early, and then somebody must be told.
    pub fn listens(&self) -> bool {
        self.threads.iter().all(|thread| !thread.is_finished())
    }

    /// Reads what has arrived, hands it over and closes all ports.
    pub fn stop(self) {
        // Dropping does it.
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.stop.stop();
        for thread in self.threads.drain(..) {
            // A panic was printed by its thread; there is nothing to add here.
            drop(thread.join());
        }
    }
}

/// Says to the threads that it is over.
#[derive(Debug)]
struct Stop {
    asked: Arc<AtomicBool>,
    radio: Option<tokio::sync::watch::Sender<bool>>,
    #[cfg(unix)]
    waker: wait::Waker,
}

impl Stop {
    fn stop(&self) {
        self.asked.store(true, Ordering::Release);
        if let Some(radio) = &self.radio {
            radio.send_replace(true);
        }
        #[cfg(unix)]
        self.waker.wake();
    }
}

/// How many ports were not tried yet.
#[derive(Debug)]
struct Tried {
    left: Mutex<usize>,
    none_left: Condvar,
}

impl Tried {
    fn lock(&self) -> std::sync::MutexGuard<'_, usize> {
        self.left.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn count(&self, more: usize) {
        let mut left = self.lock();
        *left = left.saturating_sub(more);
        if *left == 0 {
            self.none_left.notify_all();
        }
    }
}
