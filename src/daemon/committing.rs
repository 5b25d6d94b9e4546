//! The committer's thread: batches to the disk, then acknowledgements.

use std::path::PathBuf;
use std::sync::Arc;

use tokio::sync::broadcast;

use super::commit::Committer;
use super::exchange::{Batch, Exchange, NewCapture, Work};
use super::shown::Shown;
use super::{Bounds, Commands};
use crate::bench::Refusal;
use crate::capture::retain::{self, Kept};
use crate::capture::{self, names};
use crate::clock::Clock;
use crate::disk::{Disk as _, RealDisk, reserve};
use crate::input::{Input, What};
use crate::row::Recorded;
use crate::stamp::Wall;
use crate::text::Text;

pub(super) struct Committing {
    pub(super) clock: Clock,
    pub(super) committer: Committer<RealDisk>,
    pub(super) exchange: Arc<Exchange>,
    pub(super) rows: broadcast::Sender<Arc<Recorded>>,
    pub(super) commands: Commands,
    pub(super) shown: Arc<Shown>,
    /// The data folder.
    pub(super) data: PathBuf,
    /// Wall time at stamp 0.
    pub(super) began: Wall,
    /// The capture file at hand.
    pub(super) name: String,
    pub(super) bounds: Bounds,
}

impl Committing {
    /// Runs until the engine has closed the exchange and all is dealt with.
    pub(super) fn run(mut self) {
        self.ask_for_expiry();
        while let Some(work) = self.exchange.take() {
            match work {
                Work::Batch(batch) => self.batch(batch),
                Work::ChangeCapture => {
                    let new = self.change_capture();
                    self.exchange.changed_capture(new);
                }
            }
        }
    }

    fn batch(&mut self, mut batch: Batch) {
        match self.committer.commit(&batch.inputs, &mut batch.rows) {
            Ok(committed) => {
                let last = committed.recorded.last().map(|row| row.seq);
                for row in committed.recorded {
                    // Nobody may be listening; the row is on the disk all the same.
                    drop(self.rows.send(Arc::new(row)));
                }
                // Whoever asked looks next: it is shown before the answer.
                if let Some(seq) = last {
                    self.shown.acknowledge(seq);
                }
                for (id, outcome) in batch.outcomes {
                    self.commands.answer(id, outcome);
                }
                if let Some(why) = committed.capture_failed {
                    self.tell_capture_failed(&why);
                }
                self.delete_expired(&batch.inputs);
            }
            Err(error) => {
                if error.disk_full() {
                    // Room for saying so, and for the next start.
                    drop(reserve::release(&RealDisk, &self.data));
                }
                self.not_recorded(&error.to_string(), batch);
            }
        }
        if self
            .committer
            .capture()
            .is_some_and(|capture| capture.bytes_written() > self.bounds.file_bytes)
        {
            self.exchange.want_new_capture();
        }
    }

    fn not_recorded(&self, why: &str, batch: Batch) {
        self.shown.not_recorded(why);
        if self.commands.trouble().is_none() {
            self.commands.set_trouble(why.to_owned());
        }
        for (id, _) in batch.outcomes {
            let message = format!("NOT RECORDED: {why}");
            self.commands.answer(id, Err(Refusal { message }));
        }
    }

    /// Ends the capture and begins the run's next one: `RUN.2.pcapng` after `RUN.pcapng`.
    fn change_capture(&mut self) -> Option<NewCapture> {
        let name = names::further(&self.name);
        let made = self.committer.finish_capture().and_then(|before| {
            let writer = capture::Writer::create(RealDisk, &self.captures(), &name, self.began)?;
            self.committer.start_capture(writer);
            Ok(before)
        });
        match made {
            Ok(before) => {
                self.name.clone_from(&name);
                self.ask_for_expiry();
                Some(NewCapture {
                    name,
                    before,
                    next_seq: self.committer.log().next_seq(),
                    chain: self.committer.log().chain().to_owned(),
                })
            }
            Err(error) => {
                self.tell_capture_failed(&format!("{name}: {error}"));
                None
            }
        }
    }

    fn captures(&self) -> PathBuf {
        self.data.join("captures")
    }

    /// Captures that are too old or too many become inputs, and so rows.
    fn ask_for_expiry(&self) {
        let retention = self.bounds.retention;
        if retention.age.is_none() && retention.bytes.is_none() {
            return;
        }
        let captures = self.captures();
        // What cannot be looked at is not deleted; the next start tries again.
        let names = RealDisk.list(&captures).unwrap_or_default();
        let kept: Vec<Kept> = names
            .into_iter()
            .filter_map(|name| {
                let bytes = RealDisk.len(&captures.join(&name)).ok()?;
                Some(Kept { name, bytes })
            })
            .collect();
        for (capture, why) in retain::to_expire(&kept, &self.name, retention, self.clock.wall()) {
            self.tell(What::Expired {
                capture: Text::clean(&capture),
                why: Text::clean(&why),
            });
        }
    }

    /// Deletes what was said to go, now that the row that says so is on the disk.
    fn delete_expired(&self, inputs: &[Input]) {
        for input in inputs {
            if let What::Expired { capture, .. } = &input.what {
                // A file that stays is said to go again at the next start.
                drop(RealDisk.remove(&self.captures().join(capture.as_str())));
            }
        }
    }

    fn tell_capture_failed(&self, why: &str) {
        self.tell(What::CaptureFailed {
            why: Text::clean(why),
        });
    }

    /// An input like any other, so that a replay knows it too. The engine may
    /// have ended already; then no row will need it.
    fn tell(&self, what: What) {
        let input = Input {
            at: self.clock.now(),
            what,
        };
        drop(self.commands.0.sender.try_send(vec![input]));
    }
}
