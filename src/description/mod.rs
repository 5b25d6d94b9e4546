//! Descriptions: how a meter speaks, as data, and the stream that follows one.
//!
//! A description is read from TOML, checked once and compiled to a flat
//! [`Plan`]. A [`Stream`] follows a plan on one port: bytes in, whole frames
//! of readings or bad frames out, the same at every split point of the bytes.

use core::time::Duration;
use std::sync::Arc;

use bytes::Bytes;

use crate::meter::MeterId;
use crate::reading::Reading;
use crate::stamp::Stamp;
use crate::text::Text;

/// A compiled description.
#[derive(Debug)]
pub struct Plan {
    name: Text,
}

/// Why a description is refused.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct DescriptionError {
    /// Line and column, what was expected, what was found.
    pub message: String,
}

/// A message that a source sends, ready for the wire.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Request {
    /// Its name, which `answer_to` may ask for.
    pub name: Text,
    /// The bytes.
    pub data: Bytes,
    /// When it is sent.
    pub when: When,
}

/// When a message is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// Once after each opening.
    Start,
    /// Again and again, without waiting for an answer.
    KeepAlive {
        /// The time between.
        every: Duration,
    },
    /// Asked, and the answer waited for.
    Poll {
        /// At most one an interval.
        every: Duration,
        /// No answer after this: the next.
        timeout: Duration,
        /// Silence after an answer or time-out.
        quiet: Duration,
    },
}

impl Plan {
    /// Reads, checks and compiles a description.
    ///
    /// # Errors
    /// Says line, column, what was expected and what was found.
    pub fn parse(name: &str, text: &str) -> Result<Self, DescriptionError> {
        let _ = text;
        Ok(Self {
            name: Text::clean(name),
        })
    }

    /// The name it was read under.
    pub fn name(&self) -> &Text {
        &self.name
    }

    /// The messages for a port with these units, in order.
    pub fn requests(&self, units: &[Option<u8>]) -> Vec<Request> {
        let _ = units;
        Vec::new()
    }

    /// Whether the stream can say that a display is held (any flag that means "not now").
    pub fn shows_held(&self) -> bool {
        false
    }
}

/// What a stream heard.
#[derive(Debug)]
pub enum Heard<'a> {
    /// A whole frame: its readings, at least one, all of one meter.
    Frame(&'a [Reading]),
    /// Bytes that are no frame or a frame that is refused.
    Bad {
        /// Whose it is, if that can be told.
        meter: Option<MeterId>,
        /// Why, in words.
        why: &'a str,
        /// The bytes, at most a frame of them.
        bytes: &'a [u8],
    },
}

/// One port's bytes on their way to readings.
#[derive(Debug)]
pub struct Stream {
    plan: Arc<Plan>,
}

impl Stream {
    /// A stream for the meters on one port, each with its unit on a shared bus.
    pub fn new(plan: Arc<Plan>, meters: &[(MeterId, Option<u8>)]) -> Self {
        let _ = meters;
        Self { plan }
    }

    /// The plan it follows.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The port opened: what comes before the first frame start is not a frame.
    pub fn opened(&mut self) {}

    /// Bytes were lost or the port closed: a half frame is dropped.
    pub fn broken(&mut self) {}

    /// A message went out; an answer is expected.
    pub fn sent(&mut self, at: Stamp, data: &[u8]) {
        let _ = (at, data);
    }

    /// A chunk arrived.
    pub fn bytes(&mut self, at: Stamp, data: &[u8], sink: &mut impl FnMut(Heard<'_>)) {
        let _ = (at, data, sink);
    }

    /// Time passed: a frame that ends by silence may have ended. The frame
    /// bears the stamp of its last byte.
    pub fn expire(&mut self, at: Stamp, sink: &mut impl FnMut(Heard<'_>)) {
        let _ = (at, sink);
    }

    /// When [`Stream::expire`] wants to be called.
    pub fn deadline(&self) -> Option<Stamp> {
        None
    }
}

/// The shipped descriptions by name, as text.
pub fn shipped() -> &'static [(&'static str, &'static str)] {
    &[]
}
