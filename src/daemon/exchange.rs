//! Between engine and committer: what waits for the disk.
//!
//! While a sync runs, the engine adds to one pending batch; the committer
//! takes all of it at once, so the next batch shares one sync. The batch is
//! bounded in bytes: at the bound the engine waits, inputs gather in the queue,
//! and sources stop reading. Nothing is dropped on the way.

use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

use crate::bench::{Done, Refusal};
use crate::input::{Input, What};
use crate::row::Row;

/// Bytes of inputs that may wait for the disk.
const BYTES_MAX: usize = 64 << 20;
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

    fn is_empty(&self) -> bool {
        self.inputs.is_empty() && self.rows.is_empty() && self.outcomes.is_empty()
    }
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
    /// A batch is on its way to the disk.
    busy: bool,
    closed: bool,
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
        drop(state);
        self.changed.notify_all();
    }

    /// Takes all that is pending; `None` when nothing more will come.
    pub(super) fn take(&self) -> Option<Batch> {
        let mut state = self.lock();
        state.busy = false;
        self.changed.notify_all();
        while state.pending.is_empty() {
            if state.closed {
                return None;
            }
            state = self
                .changed
                .wait(state)
                .unwrap_or_else(PoisonError::into_inner);
        }
        state.busy = true;
        let batch = core::mem::take(&mut state.pending);
        drop(state);
        self.changed.notify_all();
        Some(batch)
    }

    /// Waits until all that was given has been taken and dealt with.
    pub(super) fn drained(&self) {
        let mut state = self.lock();
        while (state.busy || !state.pending.is_empty()) && !state.closed {
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
