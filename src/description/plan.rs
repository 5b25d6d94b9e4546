//! The compiled description: flat, checked, never changed.

use core::time::Duration;

use crate::decode::{Field, Prepare};
use crate::frame::Expect;
use crate::reading::Quantity;
use crate::text::Text;

use super::framer::{Bus, Framer};
use super::gatt::Characteristic;
use super::message::{self, Data, Message};
use super::{DescriptionError, GattAsked, Request, When, compile};

/// A compiled description.
#[derive(Debug)]
pub struct Plan {
    pub(super) name: Text,
    pub(super) about: String,
    pub(super) framer: Framer,
    /// For frames that end by silence.
    pub(super) gap: Option<Duration>,
    pub(super) prepare: Vec<Prepare>,
    /// Of a Bluetooth meter that does not describe its values.
    pub(super) characteristics: Vec<Characteristic>,
    pub(super) messages: Vec<Message>,
    pub(super) readings: Vec<ReadingPlan>,
    pub(super) shows_held: bool,
}

/// A reading that a frame gives.
#[derive(Debug)]
pub(super) struct ReadingPlan {
    /// Only in answers to this message.
    pub(super) answer_to: Option<usize>,
    /// Only in values of this characteristic.
    pub(super) of: Option<usize>,
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

    /// What speaks like this, in one line; empty if the description does not say.
    pub fn about(&self) -> &str {
        &self.about
    }

    /// Whether several units may share one port.
    pub fn has_units(&self) -> bool {
        self.framer.bus() != Bus::None
    }

    /// The messages for a port with these units, in order.
    pub fn requests(&self, units: &[Option<u8>]) -> Vec<Request> {
        let bus = self.framer.bus();
        self.messages
            .iter()
            .enumerate()
            .flat_map(|(index, message)| message.requests(index, units, bus))
            .collect()
    }

    /// Which message went out, by its bytes, and what its answer looks like.
    /// A read that the description does not know counts as its only read of so
    /// many registers, so that captures made by others can be replayed.
    pub(super) fn asked(&self, sent: &[u8]) -> (Option<usize>, Option<Expect>) {
        let expect = message::asked(sent, self.framer.bus());
        let mut alike = (0, None);
        for (index, message) in self.messages.iter().enumerate() {
            match (&message.data, expect) {
                (Data::Plain(data), _) if data == sent => return (Some(index), expect),
                (
                    &Data::Read {
                        function,
                        register,
                        count,
                    },
                    Some(asked),
                ) if asked.count == count => {
                    if (asked.function, asked.register) == (function, register) {
                        return (Some(index), expect);
                    }
                    alike = (alike.0 + 1, Some(index));
                }
                _ => {}
            }
        }
        let index = if alike.0 == 1 { alike.1 } else { None };
        (index, expect)
    }

    /// Whether what went out waits for an answer. A message that the description
    /// does not know is taken for a question if it asks any.
    pub(super) fn is_question(&self, message: Option<usize>) -> bool {
        let poll = |m: &Message| matches!(m.when, When::Poll { .. });
        match message.and_then(|index| self.messages.get(index)) {
            Some(message) => poll(message),
            None => self.messages.iter().any(poll),
        }
    }

    /// What is asked of a Bluetooth meter; none: it is no such description.
    pub fn gatt(&self) -> Option<GattAsked> {
        matches!(self.framer, Framer::Gatt(_)).then(|| match self.characteristics.as_slice() {
            [] => GattAsked::Described,
            all => GattAsked::Named(all.iter().map(|c| c.asked.clone()).collect()),
        })
    }

    /// Whether each frame says itself how it is read.
    pub(super) fn is_described(&self) -> bool {
        matches!(self.framer, Framer::Gatt(_)) && self.characteristics.is_empty()
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
