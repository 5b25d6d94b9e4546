//! Between engine and committer: what waits for the disk.
//!
//! While a sync runs, the engine adds to one pending batch; the committer
//! takes all of it at once, so the next batch shares one sync. The batch is
//! bounded in bytes: at the bound the engine waits, inputs gather in the queue,
//! and sources stop reading. Nothing is dropped on the way.
//!
//! A capture that has grown large is changed for a new one between two
//! batches: the committer says that it is large, the engine waits once until
//! it has the new name and the old file's digest, and goes on with a `Begin`.

use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use crate::bench::{Done, Refusal};
use crate::input::{Finished, Input, What};
use crate::row::Row;

/// Bytes of inputs that may wait for the disk.
const BYTES_MAX: usize = 64 << 20;
/// Inputs that made no row are gathered for this long before they are written:
/// waking the committer for each round would cost more than the readings.
const GATHER: Duration = Duration::from_millis(100);
/// Or until they take this many bytes.
const GATHER_BYTES: usize = 256 << 10;
/// What an input weighs beside its bytes.
const INPUT_WEIGHT: usize = 64;

/// Inputs and what the engine made of them, in order.
#[derive(Debug, Default)]
pub(super) struct Batch {
    pub(super) inputs: Vec<Input>,
    pub(super) rows: Vec<Row>,
    pub(super) outcomes: Vec<(u64, Result<Done, Refusal>)>,
    weight: usize,
}

impl Batch {
    pub(super) fn add(&mut self, input: Input) {
        self.weight += INPUT_WEIGHT
            + match &input.what {
                What::Bytes { data, .. } | What::Sent { data, .. } => data.len(),
                _ => 0,
            };
        self.inputs.push(input);
    }

    /// Somebody waits for this, or it has grown.
    fn is_urgent(&self) -> bool {
        !self.rows.is_empty() || !self.outcomes.is_empty() || self.weight > GATHER_BYTES
    }

    fn is_empty(&self) -> bool {
        self.inputs.is_empty() && self.rows.is_empty() && self.outcomes.is_empty()
    }
}

/// What the committer does next.
#[derive(Debug)]
pub(super) enum Work {
    /// Puts a batch on the disk.
    Batch(Batch),
    /// Changes the capture and answers with [`Exchange::changed_capture`].
    ChangeCapture,
}

/// A capture changed for a new one.
#[derive(Debug)]
pub(super) struct NewCapture {
    pub(super) name: String,
    pub(super) before: Option<Finished>,
    pub(super) next_seq: u64,
    pub(super) chain: String,
}

/// The pending batch with its two ends.
#[derive(Debug, Default)]
pub(super) struct Exchange {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug, Default)]
struct State {
    pending: Batch,
    closed: bool,
    capture: Change,
}

/// Where changing the capture stands.
#[derive(Debug, Default)]
enum Change {
    #[default]
    None,
    /// The committer found it large.
    Wanted,
    /// The engine has given all that belongs to the old one.
    Asked,
    /// The committer has a new one; none: it goes on without.
    Done(Option<NewCapture>),
}

impl Exchange {
    /// A panic elsewhere must not keep what was taken from the disk.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Adds a batch behind what is pending; waits while too much is.
    pub(super) fn give(&self, mut batch: Batch) {
        let mut state = self.lock();
        while state.pending.weight > BYTES_MAX && !state.closed {
            state = self
                .changed
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
        state.pending.weight += batch.weight;
        state.pending.inputs.append(&mut batch.inputs);
        state.pending.rows.append(&mut batch.rows);
        state.pending.outcomes.append(&mut batch.outcomes);
        let urgent = state.pending.is_urgent();
        drop(state);
        if urgent {
            self.changed.notify_all();
        }
    }

    /// Takes all that is pending; `None` when nothing more will come.
    pub(super) fn take(&self) -> Option<Work> {
        let mut state = self.lock();
        loop {
            if state.pending.is_urgent() {
                break;
            }
            let last = state.closed || matches!(state.capture, Change::Asked);
            if last && !state.pending.is_empty() {
                break;
            }
            if matches!(state.capture, Change::Asked) {
                return Some(Work::ChangeCapture);
            }
            if state.closed {
                return None;
            }
            let (woken, waited) = self
                .changed
                .wait_timeout(state, GATHER)
                .unwrap_or_else(PoisonError::into_inner);
            state = woken;
            if waited.timed_out() && !state.pending.is_empty() {
                break;
            }
        }
        let batch = core::mem::take(&mut state.pending);
        drop(state);
        self.changed.notify_all();
        Some(Work::Batch(batch))
    }

    /// The committer: the capture has grown large.
    pub(super) fn want_new_capture(&self) {
        let mut state = self.lock();
        if matches!(state.capture, Change::None) {
            state.capture = Change::Wanted;
        }
    }

    /// The committer: here is the new capture, or there is none to be had.
    pub(super) fn changed_capture(&self, new: Option<NewCapture>) {
        self.lock().capture = Change::Done(new);
        self.changed.notify_all();
    }

    /// The engine: waits for a new capture if one is wanted.
    pub(super) fn new_capture(&self) -> Option<NewCapture> {
        let mut state = self.lock();
        if !matches!(state.capture, Change::Wanted) {
            return None;
        }
        state.capture = Change::Asked;
        self.changed.notify_all();
        loop {
            if let Change::Done(new) = &mut state.capture {
                let new = new.take();
                state.capture = Change::None;
                return new;
            }
            state = self
                .changed
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// Nothing more comes; what is pending is still taken.
    pub(super) fn close(&self) {
        self.lock().closed = true;
        self.changed.notify_all();
    }
}
