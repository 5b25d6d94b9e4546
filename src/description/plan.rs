//! The compiled description: flat, checked, never changed.

use crate::decode::Field;
use crate::frame::Delimited;
use crate::reading::Quantity;
use crate::text::Text;

use super::message::Message;
use super::{DescriptionError, Request, compile};

/// A compiled description.
#[derive(Debug)]
pub struct Plan {
    pub(super) name: Text,
    pub(super) framer: Framer,
    pub(super) messages: Vec<Message>,
    pub(super) readings: Vec<ReadingPlan>,
    pub(super) shows_held: bool,
}

/// How frames are cut.
#[derive(Clone, Debug)]
pub(super) enum Framer {
    Delimited(Delimited),
}

/// A reading that a frame gives.
#[derive(Debug)]
pub(super) struct ReadingPlan {
    /// Only in answers to this message.
    pub(super) answer_to: Option<usize>,
    pub(super) quantity: Quantity,
    pub(super) field: Field,
}

impl Plan {
    /// Reads, checks and compiles a description.
    ///
    /// # Errors
    /// Says line, column, what was expected and what was found.
    pub fn parse(name: &str, text: &str) -> Result<Self, DescriptionError> {
        compile::compile(name, text).map_err(|problem| DescriptionError {
            message: format!("{name}: {problem}"),
        })
    }

    /// The name it was read under.
    pub fn name(&self) -> &Text {
        &self.name
    }

    /// The messages for a port with these units, in order.
    pub fn requests(&self, units: &[Option<u8>]) -> Vec<Request> {
        self.messages
            .iter()
            .enumerate()
            .flat_map(|(index, message)| message.requests(index, units))
            .collect()
    }

    /// Which message went out, by its bytes.
    pub(super) fn asked(&self, data: &[u8]) -> Option<usize> {
        self.messages.iter().position(|m| m.is(data))
    }

    /// Whether the stream can say that a display is held (any flag that means "not now").
    pub fn shows_held(&self) -> bool {
        self.shows_held
    }

    /// Whether the stream gives a quantity at all.
    pub fn gives(&self, quantity: Quantity) -> bool {
        self.readings
            .iter()
            .any(|reading| reading.quantity == quantity)
    }
}
