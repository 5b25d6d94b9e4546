//! Being told to stop: SIGTERM, SIGINT, SIGHUP.

use std::sync::mpsc::{Receiver, sync_channel};
use std::time::Duration;

/// Waits for the word to stop.
pub(crate) struct Stop(Receiver<&'static str>);

impl Stop {
    /// Waits at most this long; why to stop, if that was said.
    pub(crate) fn wait(&self, most: Duration) -> Option<&'static str> {
        match self.0.recv_timeout(most) {
            Ok(why) => Some(why),
            Err(std::sync::mpsc::RecvTimeoutError::Timeout) => None,
            Err(std::sync::mpsc::RecvTimeoutError::Disconnected) => {
                // No signal can come any more where there are none: go on waiting.
                std::thread::sleep(most);
                None
            }
        }
    }
}

/// From now on a signal does not end the process but is waited for.
///
/// # Errors
/// The system does not let signals be watched.
#[cfg(unix)]
pub(crate) fn stop() -> std::io::Result<Stop> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let mut signals = signal_hook::iterator::Signals::new([SIGTERM, SIGINT, SIGHUP])?;
    let (sender, receiver) = sync_channel(1);
    std::thread::Builder::new()
        .name(String::from("signals"))
        .spawn(move || {
            for signal in signals.forever() {
                let why = match signal {
                    SIGTERM => "told to stop (SIGTERM)",
                    SIGINT => "told to stop (Ctrl-C)",
                    _ => "told to stop (the terminal closed)",
                };
                // Told already: once is enough.
                _ = sender.try_send(why);
            }
        })?;
    Ok(Stop(receiver))
}

/// Without signals the process ends with its console; the log holds what was synced.
#[cfg(not(unix))]
pub(crate) fn stop() -> std::io::Result<Stop> {
    Ok(Stop(sync_channel(1).1))
}
