//! Captures: the inputs written down, so that a run can be replayed alone.
//!
//! Our own are pcapng; hexlogs and plain text files are read as well. The
//! ordinal of an input is its place in its file: `Begin` is 0.
//!
//! Never here: an input interpreted, an order changed, a finished file written
//! to again. A torn end is cut to the last whole block at the next start; a run
//! that follows a crash begins a new file with a section of its own.

pub mod hexlog;
mod json;
pub mod names;
pub mod pcapng;
pub mod read;
pub mod retain;
pub mod text;
pub mod write;

#[cfg(test)]
pub(crate) mod tests;

pub use read::{CaptureError, Inputs, Kind, kind, read};
pub use text::Pace;
pub use write::Writer;
