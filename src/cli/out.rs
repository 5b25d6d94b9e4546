//! Standard output: buffered, flushed at the end, quiet when nobody reads.

use std::io::{BufWriter, StdoutLock, Write};

use super::Fail;

/// Where data goes.
pub(crate) struct Out(BufWriter<StdoutLock<'static>>);

impl Out {
    pub(crate) fn new() -> Self {
        Self(BufWriter::with_capacity(
            64 * 1024,
            std::io::stdout().lock(),
        ))
    }

    /// One line.
    pub(crate) fn line(&mut self, line: impl core::fmt::Display) -> Result<(), Fail> {
        Ok(writeln!(self.0, "{line}")?)
    }

    /// Bytes as they are.
    pub(crate) fn bytes(&mut self, bytes: &[u8]) -> Result<(), Fail> {
        Ok(self.0.write_all(bytes)?)
    }

    /// What was written so far is out.
    pub(crate) fn flush(&mut self) -> Result<(), Fail> {
        Ok(self.0.flush()?)
    }
}
