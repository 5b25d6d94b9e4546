//! Captures: the inputs written down, so that a run can be replayed alone.
//!
//! Our own are pcapng; hexlogs and plain text files are read as well. The
//! ordinal of an input is its place in its file: `Begin` is 0.
//!
//! Never here: an input interpreted, an order changed, a finished file written
//! to again. A run that follows a crash begins a new file.

mod json;
pub mod pcapng;
pub mod write;

#[cfg(test)]
mod tests;

pub use write::Writer;
