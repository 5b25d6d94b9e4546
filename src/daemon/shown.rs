//! What is shown: digits at once, what was taken only when it is on the disk.
//!
//! The engine runs ahead of the disk by one sync, and for ever once the log
//! cannot be written. So jobs, and the words that say that something was
//! taken, wait until the rows behind them are acknowledged; until then the last
//! ones that were stay. The engine offers views, the committer lets what waits
//! through after the sync and before the answers: whoever asked for something
//! sees it when the answer is there.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::watch;

use crate::view::{JobView, MeterView, View};

/// Words of `settle` that say that a value was taken: each stands for a row.
const TAKEN: [&str; 3] = ["taken", "remove the clips", "pulled down"];
/// So many views wait; with more the newest is replaced, so that under steady
/// load the oldest still gets through (own).
const WAITING_MAX: usize = 8;

/// The latest view, and what waits for its rows.
#[derive(Debug)]
pub(super) struct Shown {
    held: Mutex<Held>,
    out: watch::Sender<Arc<View>>,
}

impl Shown {
    pub(super) fn new(out: watch::Sender<Arc<View>>) -> Self {
        Self {
            held: Mutex::default(),
            out,
        }
    }

    /// Whether somebody looks.
    pub(super) fn is_watched(&self) -> bool {
        self.out.receiver_count() > 0
    }

    /// The engine: how it stands, with rows up to `made` behind it.
    pub(super) fn offer(&self, view: View, made: u64) {
        let mut held = self.lock();
        held.offer(view, made);
        self.out.send_replace(Arc::new(held.visible()));
    }

    /// The committer: rows up to `seq` are on the disk.
    pub(super) fn acknowledge(&self, seq: u64) {
        let mut held = self.lock();
        if held.acknowledge(seq) {
            self.out.send_replace(Arc::new(held.visible()));
        }
    }

    /// The committer: nothing reaches the disk any more. The first reason stays.
    pub(super) fn not_recorded(&self, why: &str) {
        let mut held = self.lock();
        if held.trouble.is_empty() {
            held.trouble = format!("NOT RECORDED: {why}");
            self.out.send_replace(Arc::new(held.visible()));
        }
    }

    fn lock(&self) -> MutexGuard<'_, Held> {
        // Each change under this lock is whole by itself.
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[derive(Debug, Default)]
struct Held {
    /// As last offered.
    latest: View,
    /// Jobs whose rows are on the disk.
    jobs: Vec<JobView>,
    /// For each meter, whether what it says was taken is on the disk.
    recorded: Vec<bool>,
    acknowledged: u64,
    waiting: VecDeque<Waiting>,
    trouble: String,
}

#[derive(Debug)]
struct Waiting {
    /// The last row behind it.
    seq: u64,
    jobs: Vec<JobView>,
    taken: Vec<bool>,
}

impl Held {
    fn offer(&mut self, mut view: View, made: u64) {
        let taken: Vec<bool> = view.meters.iter().map(is_taken).collect();
        // A contact that has ended takes its word with it: the next one has its own row.
        self.recorded.resize(taken.len(), false);
        for (recorded, taken) in self.recorded.iter_mut().zip(&taken) {
            *recorded &= *taken;
        }
        if self.waiting.len() == WAITING_MAX {
            self.waiting.pop_back();
        }
        self.waiting.push_back(Waiting {
            seq: made,
            jobs: core::mem::take(&mut view.jobs),
            taken,
        });
        self.latest = view;
        self.let_through();
    }

    /// Returns whether something changed.
    fn acknowledge(&mut self, seq: u64) -> bool {
        self.acknowledged = seq;
        self.let_through()
    }

    fn let_through(&mut self) -> bool {
        let mut any = false;
        while let Some(done) = self
            .waiting
            .pop_front_if(|waiting| waiting.seq <= self.acknowledged)
        {
            any = true;
            self.jobs = done.jobs;
            let still = self.latest.meters.iter().map(is_taken);
            for ((recorded, taken), still) in self.recorded.iter_mut().zip(done.taken).zip(still) {
                *recorded |= taken && still;
            }
        }
        any
    }

    fn visible(&self) -> View {
        let mut view = self.latest.clone();
        view.jobs.clone_from(&self.jobs);
        for (meter, recorded) in view.meters.iter_mut().zip(&self.recorded) {
            if is_taken(meter) && !recorded {
                let holds = meter.hold.is_some();
                meter.settle = if holds { "holding" } else { "steady" };
            }
        }
        if !self.trouble.is_empty() {
            view.recording = false;
            view.trouble.clone_from(&self.trouble);
        }
        view
    }
}

fn is_taken(meter: &MeterView) -> bool {
    TAKEN.contains(&meter.settle)
}

#[cfg(test)]
mod tests;
