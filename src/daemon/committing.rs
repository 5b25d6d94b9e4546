//! The committer's thread: batches to the disk, then acknowledgements.

use std::path::PathBuf;
use std::sync::Arc;

use tokio::sync::broadcast;

use super::Commands;
use super::commit::Committer;
use super::exchange::{Batch, Exchange, NewCapture, Work};
use crate::bench::Refusal;
use crate::capture;
use crate::clock::Clock;
use crate::disk::RealDisk;
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
    /// Where captures lie.
    pub(super) captures: PathBuf,
    /// The first capture's name without its ending.
    pub(super) run: String,
    /// Wall time at stamp 0.
    pub(super) began: Wall,
    /// Which file of the run this is.
    pub(super) part: u32,
    /// A capture larger than this is changed for a new one.
    pub(super) capture_max: u64,
}

impl Committing {
    /// Runs until the engine has closed the exchange and all is dealt with.
    pub(super) fn run(mut self) {
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
                for row in committed.recorded {
                    // Nobody may be listening; the row is on the disk all the same.
                    drop(self.rows.send(Arc::new(row)));
                }
                for (id, outcome) in batch.outcomes {
                    self.commands.answer(id, outcome);
                }
                if let Some(why) = committed.capture_failed {
                    self.tell_capture_failed(&why);
                }
            }
            Err(error) => self.not_recorded(&error.to_string(), batch),
        }
        if self
            .committer
            .capture()
            .is_some_and(|capture| capture.bytes_written() > self.capture_max)
        {
            self.exchange.want_new_capture();
        }
    }

    fn not_recorded(&self, why: &str, batch: Batch) {
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
        self.part += 1;
        let name = format!("{}.{}.pcapng", self.run, self.part);
        let made = self.committer.finish_capture().and_then(|before| {
            let writer = capture::Writer::create(RealDisk, &self.captures, &name, self.began)?;
            self.committer.start_capture(writer);
            Ok(before)
        });
        match made {
            Ok(before) => Some(NewCapture {
                name,
                before,
                next_seq: self.committer.log().next_seq(),
                chain: self.committer.log().chain().to_owned(),
            }),
            Err(error) => {
                self.tell_capture_failed(&format!("{name}: {error}"));
                None
            }
        }
    }

    /// An input like any other, so that a replay knows it too. The engine may
    /// have ended already; then no row will need it.
    fn tell_capture_failed(&self, why: &str) {
        let what = What::CaptureFailed {
            why: Text::clean(why),
        };
        let input = Input {
            at: self.clock.now(),
            what,
        };
        drop(self.commands.0.sender.try_send(vec![input]));
    }
}
