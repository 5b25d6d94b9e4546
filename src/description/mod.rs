//! Descriptions: how a meter speaks, as data, and the stream that follows one.
//!
//! A description is read from TOML, checked once and compiled to a flat
//! [`Plan`]. A [`Stream`] follows a plan on one port: bytes in, whole frames
//! of readings or bad frames out, the same at every split point of the bytes.

pub mod hex;
pub mod say;
pub mod schema;
mod compile;
mod check;
mod framer;
mod gatt;
mod message;
mod plan;
mod shipped;
mod stream;
mod typed;

use core::time::Duration;

use bytes::Bytes;

use crate::meter::MeterId;
use crate::reading::Reading;
use crate::text::Text;

pub use check::{Example, Problem, check, examples, run, try_bytes, try_hex};
pub use gatt::{Asked, GattAsked, How};
pub use plan::Plan;
pub use shipped::shipped;
pub use stream::Stream;
pub use typed::typed;

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
    /// The characteristic of a Bluetooth meter that it is written to, by its
    /// place in [`GattAsked::Named`].
    pub to: Option<usize>,
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

#[cfg(test)]
mod gatt_tests;
#[cfg(test)]
mod reference_tests;
#[cfg(test)]
mod stream_tests;
