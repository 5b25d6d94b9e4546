//! The engine's thread: takes rounds from the queue in their order, adds what
//! the clock has to say, and hands everything on to the committer.

use std::sync::Arc;
use std::time::Duration;

use super::exchange::{Batch, Exchange, NewCapture};
use super::shown::Shown;
use crate::clock::{Clock, Watch};
use crate::engine::{Engine, EngineError, Output};
use crate::input::{Begin, Input, What};
use crate::source::queue::{Receiver, Woken};
use crate::stamp::Stamp;
use crate::text::Text;

/// The clocks are compared at least this often.
const LOOK: Duration = Duration::from_secs(1);
/// Somebody looks: a new view at most this often.
const VIEW_WATCHED: Duration = Duration::from_millis(50);
/// Nobody looks.
const VIEW_UNWATCHED: Duration = Duration::from_secs(1);

pub(super) struct EngineLoop {
    pub(super) clock: Clock,
    pub(super) queue: Receiver,
    pub(super) engine: Engine,
    pub(super) exchange: Arc<Exchange>,
    pub(super) shown: Arc<Shown>,
    /// The `Begin` of the run's further captures, but for what changes.
    pub(super) continued: Begin,
}

impl EngineLoop {
    /// Runs until an `End` has gone through.
    pub(super) fn run(mut self) -> Result<(), EngineError> {
        let ran = self.until_end();
        self.exchange.close();
        ran
    }

    fn until_end(&mut self) -> Result<(), EngineError> {
        let mut clocks = Watch::new(self.clock.now(), self.clock.wall());
        let mut inputs = Vec::new();
        let mut viewed = Stamp::ZERO;
        self.show();
        loop {
            let now = self.clock.now();
            let due = self.engine.deadline().map_or(LOOK, |at| at.since(now));
            let look = self.view_every().saturating_sub(now.since(viewed));
            let woken = self
                .queue
                .recv_all(Some(due.min(LOOK).min(look)), &mut inputs);
            let now = self.clock.now();
            if let Some(step) = clocks.look(now, self.clock.wall()) {
                let what = What::Clock {
                    wall: step.wall,
                    moved: step.moved,
                };
                inputs.insert(0, Input { at: now, what });
            }
            if inputs.is_empty() && self.engine.deadline().is_some_and(|at| at <= now) {
                inputs.push(Input {
                    at: now,
                    what: What::Tick,
                });
            }
            let ended = woken == Woken::Closed
                || inputs
                    .iter()
                    .any(|input| matches!(input.what, What::End { .. }));
            if !inputs.is_empty() {
                self.round(&mut inputs)?;
            }
            if ended || now.since(viewed) >= self.view_every() {
                viewed = now;
                self.show();
            }
            if ended {
                return Ok(());
            }
        }
    }

    fn round(&mut self, inputs: &mut Vec<Input>) -> Result<(), EngineError> {
        let mut batch = Batch::default();
        let mut output = Output::default();
        for input in inputs.drain(..) {
            self.engine.input(&input, &mut output)?;
            batch.add(input);
        }
        if !output.outcomes.is_empty() {
            // Whoever asked looks next: the view is there before the answer.
            self.show();
        }
        batch.rows = output.rows;
        batch.outcomes = output.outcomes;
        self.exchange.give(batch);
        match self.exchange.new_capture() {
            Some(new) => self.go_on_in(new),
            None => Ok(()),
        }
    }

    /// The run goes on in its next capture file.
    fn go_on_in(&mut self, new: NewCapture) -> Result<(), EngineError> {
        let begin = Begin {
            next_seq: new.next_seq,
            chain: Text::clean(&new.chain),
            capture: Text::clean(&new.name),
            before: new.before,
            ..self.continued.clone()
        };
        let what = What::Begin(Box::new(begin));
        self.round(&mut vec![Input {
            at: self.clock.now(),
            what,
        }])
    }

    fn view_every(&self) -> Duration {
        if self.shown.is_watched() {
            VIEW_WATCHED
        } else {
            VIEW_UNWATCHED
        }
    }

    fn show(&self) {
        let mut view = self.engine.view();
        view.at = self.clock.now();
        self.shown
            .offer(view, self.engine.next_seq().saturating_sub(1));
    }
}
