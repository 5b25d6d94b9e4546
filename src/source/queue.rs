//! The one bounded queue: its order is the truth.
//!
//! It carries rounds, whole lists of inputs: whatever a source read at once,
//! or one command, or one tick. It is bounded in inputs and in bytes. A full
//! queue takes nothing and gives the round back: nothing is ever dropped here,
//! and what to do about it is the sender's to decide.

use core::time::Duration;
use std::collections::VecDeque;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

use crate::input::{Input, What};

/// How much the queue holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limit {
    /// Inputs.
    pub inputs: usize,
    /// Bytes received and sent, in all inputs together.
    pub bytes: usize,
}

impl Default for Limit {
    /// More than 5 s of 1000 ports with 20 lines a second each, a line an
    /// input: 100 000 inputs. The bytes allow lines of 160 characters.
    fn default() -> Self {
        Self {
            inputs: 128 * 1024,
            bytes: 16 * 1024 * 1024,
        }
    }
}

/// Why a round was not taken.
#[derive(Debug, thiserror::Error)]
pub enum SendError {
    /// There is no room; the round comes back.
    #[error("the queue of inputs is full: the disk or the engine does not keep up")]
    Full(Vec<Input>),
    /// Nobody receives any more; the round comes back.
    #[error("nobody takes inputs any more: the program is stopping")]
    Closed(Vec<Input>),
}

/// What woke the receiver.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Woken {
    /// There are inputs.
    Inputs,
    /// The time was up.
    Timeout,
    /// All senders are gone and all rounds are taken.
    Closed,
}

#[derive(Debug)]
struct Shared {
    state: Mutex<State>,
    filled: Condvar,
    emptied: Condvar,
}

#[derive(Debug)]
struct State {
    rounds: VecDeque<Vec<Input>>,
    inputs: usize,
    bytes: usize,
    limit: Limit,
    senders: usize,
    receiving: bool,
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, State> {
        // No code that can panic runs under this lock, so a poisoned one is whole.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Puts rounds in; cloned for every source of inputs.
#[derive(Debug)]
pub struct Sender(Arc<Shared>);

/// Takes rounds out; there is one.
#[derive(Debug)]
pub struct Receiver(Arc<Shared>);

/// A queue within `limit`.
pub fn queue(limit: Limit) -> (Sender, Receiver) {
    let shared = Arc::new(Shared {
        state: Mutex::new(State {
            rounds: VecDeque::new(),
            inputs: 0,
            bytes: 0,
            limit,
            senders: 1,
            receiving: true,
        }),
        filled: Condvar::new(),
        emptied: Condvar::new(),
    });
    (Sender(Arc::clone(&shared)), Receiver(shared))
}

impl Sender {
    /// Puts a round in if there is room now. An empty round is nothing.
    ///
    /// A round goes in whole while the queue is below its bounds, so the queue
    /// can exceed them by one round; senders keep their rounds small.
    ///
    /// # Errors
    /// Full or closed; the round comes back.
    pub fn try_send(&self, round: Vec<Input>) -> Result<(), SendError> {
        self.send(round, Duration::ZERO)
    }

    /// Puts a round in, waiting for room at most as long as `patience`.
    ///
    /// # Errors
    /// As [`Sender::try_send`].
    pub fn send(&self, round: Vec<Input>, patience: Duration) -> Result<(), SendError> {
        if round.is_empty() {
            return Ok(());
        }
        let full = |s: &mut State| s.receiving && !s.has_room();
        let mut state = self.0.lock();
        if !patience.is_zero() {
            state = match self.0.emptied.wait_timeout_while(state, patience, full) {
                Ok((state, _)) => state,
                Err(poisoned) => poisoned.into_inner().0,
            };
        }
        if !state.receiving {
            return Err(SendError::Closed(round));
        }
        if !state.has_room() {
            return Err(SendError::Full(round));
        }
        state.inputs += round.len();
        state.bytes += round.iter().map(weight).sum::<usize>();
        state.rounds.push_back(round);
        drop(state);
        self.0.filled.notify_one();
        Ok(())
    }
}

impl Clone for Sender {
    fn clone(&self) -> Self {
        self.0.lock().senders += 1;
        Self(Arc::clone(&self.0))
    }
}

impl Drop for Sender {
    fn drop(&mut self) {
        let mut state = self.0.lock();
        state.senders -= 1;
        if state.senders == 0 {
            self.0.filled.notify_all();
        }
    }
}

impl Receiver {
    /// Takes everything there is, waiting for the first at most `wait`; for
    /// ever if that is `None`. Inputs are appended to `into`, in order.
    ///
    /// The wait does not count the time a suspended machine slept: whoever
    /// watches the clock asks for waits of a second.
    pub fn recv_all(&self, wait: Option<Duration>, into: &mut Vec<Input>) -> Woken {
        let nothing = |s: &mut State| s.rounds.is_empty() && s.senders > 0;
        let state = self.0.lock();
        let mut state = match wait {
            Some(wait) => match self.0.filled.wait_timeout_while(state, wait, nothing) {
                Ok((state, _)) => state,
                Err(poisoned) => poisoned.into_inner().0,
            },
            None => self
                .0
                .filled
                .wait_while(state, nothing)
                .unwrap_or_else(PoisonError::into_inner),
        };
        if state.rounds.is_empty() {
            return if state.senders == 0 {
                Woken::Closed
            } else {
                Woken::Timeout
            };
        }
        let rounds = core::mem::take(&mut state.rounds);
        state.inputs = 0;
        state.bytes = 0;
        drop(state);
        self.0.emptied.notify_all();
        for mut round in rounds {
            into.append(&mut round);
        }
        Woken::Inputs
    }
}

impl Drop for Receiver {
    fn drop(&mut self) {
        self.0.lock().receiving = false;
        self.0.emptied.notify_all();
    }
}

impl State {
    fn has_room(&self) -> bool {
        self.inputs < self.limit.inputs && self.bytes < self.limit.bytes
    }
}

fn weight(input: &Input) -> usize {
    match &input.what {
        What::Bytes { data, .. } | What::Sent { data, .. } => data.len(),
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::PortId;
    use crate::stamp::Stamp;
    use bytes::Bytes;

    fn chunk(text: &'static str) -> Vec<Input> {
        vec![Input {
            at: Stamp::ZERO,
            what: What::Bytes {
                port: PortId(0),
                data: Bytes::from_static(text.as_bytes()),
            },
        }]
    }

    #[test]
    fn what_goes_in_comes_out_in_order_and_at_once() {
        let (sender, receiver) = queue(Limit::default());
        let second = sender.clone();
        sender.try_send(chunk("one")).unwrap();
        second.try_send(chunk("two")).unwrap();
        let mut got = Vec::new();
        assert_eq!(receiver.recv_all(None, &mut got), Woken::Inputs);
        assert_eq!(got, [chunk("one"), chunk("two")].concat());
        let soon = Some(Duration::from_millis(1));
        assert_eq!(receiver.recv_all(soon, &mut got), Woken::Timeout);
        drop(sender);
        assert_eq!(receiver.recv_all(soon, &mut got), Woken::Timeout);
        drop(second);
        assert_eq!(receiver.recv_all(None, &mut got), Woken::Closed);
    }

    #[test]
    fn a_full_queue_gives_the_round_back_and_takes_it_later() {
        for limit in [
            Limit {
                inputs: 2,
                bytes: 1000,
            },
            Limit {
                inputs: 1000,
                bytes: 6,
            },
        ] {
            let (sender, receiver) = queue(limit);
            sender.try_send(chunk("one")).unwrap();
            sender.try_send(chunk("two")).unwrap();
            let Err(SendError::Full(back)) = sender.try_send(chunk("three")) else {
                panic!("a full queue took a round");
            };
            assert_eq!(back, chunk("three"));
            let mut got = Vec::new();
            receiver.recv_all(None, &mut got);
            sender.try_send(back).unwrap();
            receiver.recv_all(None, &mut got);
            assert_eq!(got, [chunk("one"), chunk("two"), chunk("three")].concat());
        }
    }

    #[test]
    fn a_patient_sender_waits_for_room() {
        let (sender, receiver) = queue(Limit {
            inputs: 1,
            bytes: 1000,
        });
        sender.try_send(chunk("one")).unwrap();
        let waits = std::thread::spawn(move || sender.send(chunk("two"), Duration::from_secs(30)));
        let mut got = Vec::new();
        while got.len() < 2 {
            receiver.recv_all(Some(Duration::from_secs(30)), &mut got);
        }
        waits.join().unwrap().unwrap();
        assert_eq!(got, [chunk("one"), chunk("two")].concat());
    }

    #[test]
    fn without_a_receiver_nothing_is_taken() {
        let (sender, receiver) = queue(Limit::default());
        drop(receiver);
        let sent = sender.send(chunk("one"), Duration::from_secs(30));
        assert!(matches!(sent, Err(SendError::Closed(back)) if back == chunk("one")));
    }
}
