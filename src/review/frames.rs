//! Inputs on their way to frames of readings, without settling or judging:
//! what `replay --readings` prints and traces are drawn from.

use crate::description::Heard;
use crate::engine::{EngineError, Ports};
use crate::input::{Input, Settings, What};
use crate::stamp::Stamp;

/// The ports of a run, followed by their descriptions.
#[derive(Debug, Default)]
pub struct Frames {
    ports: Ports,
    begun: bool,
}

impl Frames {
    /// Takes one input; frames go to `sink` with their stamps. Gives the
    /// settings that are in force from here on, where they are new.
    ///
    /// # Errors
    /// What is in force cannot be used.
    pub fn input<'a>(
        &mut self,
        input: &'a Input,
        sink: &mut impl FnMut(Stamp, Heard<'_>),
    ) -> Result<Option<&'a Settings>, EngineError> {
        self.expire(input.at, sink);
        let settings = match &input.what {
            What::Begin(begin) if !begin.continues || !self.begun => &begin.settings,
            What::Settings(settings) => settings,
            other => {
                self.bytes(input.at, other, sink);
                return Ok(None);
            }
        };
        self.begun = true;
        self.ports = Ports::new(settings)?;
        Ok(Some(settings))
    }

    fn bytes(&mut self, at: Stamp, what: &What, sink: &mut impl FnMut(Stamp, Heard<'_>)) {
        match what {
            What::Bytes { port, data } => self.ports.bytes(*port, at, data, sink),
            What::Sent { port, data } => self.ports.sent(*port, at, data),
            What::Opened { port } => _ = self.ports.opened(*port),
            What::Closed { port, why } => _ = self.ports.closed(*port, at, why.as_str()),
            What::Lost { port, why, .. } => self.ports.lost(*port, why.as_str()),
            _ => {}
        }
    }

    /// Ends the frames that had ended by silence before `at`.
    fn expire(&mut self, at: Stamp, sink: &mut impl FnMut(Stamp, Heard<'_>)) {
        let mut last = None;
        while let Some(due) = self
            .ports
            .deadline()
            .filter(|due| *due <= at && last != Some(*due))
        {
            self.ports.expire(due, sink);
            last = Some(due);
        }
    }
}
