//! The committer's thread: batches to the disk, then acknowledgements.

use std::sync::Arc;

use tokio::sync::broadcast;

use super::Commands;
use super::commit::Committer;
use super::exchange::Exchange;
use crate::bench::Refusal;
use crate::clock::Clock;
use crate::disk::RealDisk;
use crate::input::{Input, What};
use crate::row::Recorded;
use crate::text::Text;

pub(super) struct Committing {
    pub(super) clock: Clock,
    pub(super) committer: Committer<RealDisk>,
    pub(super) exchange: Arc<Exchange>,
    pub(super) rows: broadcast::Sender<Arc<Recorded>>,
    pub(super) commands: Commands,
}

impl Committing {
    /// Runs until the engine has closed the exchange and all is dealt with.
    pub(super) fn run(mut self) {
        while let Some(mut batch) = self.exchange.take() {
            let committed = self.committer.commit(&batch.inputs, &mut batch.rows);
            match committed {
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
                Err(error) => {
                    let why = error.to_string();
                    if self.commands.trouble().is_none() {
                        self.commands.set_trouble(why.clone());
                    }
                    for (id, _) in batch.outcomes {
                        let message = format!("NOT RECORDED: {why}");
                        self.commands.answer(id, Err(Refusal { message }));
                    }
                }
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
