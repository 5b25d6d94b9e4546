//! Memory that bytes are received into.
//!
//! A chunk is a piece of a block, not a copy; a block is freed when its last
//! chunk is. Whoever keeps a few bytes for long copies them out.

use std::os::fd::OwnedFd;

use bytes::{Bytes, BytesMut};

/// Blocks that received bytes lie in; a chunk is a piece of one, not a copy.
pub(super) struct Blocks(BytesMut);

impl Blocks {
    const BLOCK: usize = 64 * 1024;
    /// At most this in one read, so that a flood on one port leaves room for the others.
    const READ: usize = 8 * 1024;

    pub(super) fn new() -> Self {
        Self(BytesMut::new())
    }

    pub(super) fn read(&mut self, fd: &OwnedFd) -> rustix::io::Result<Bytes> {
        if self.0.len() < Self::READ {
            self.0 = BytesMut::zeroed(Self::BLOCK);
        }
        let count = rustix::io::read(fd, &mut self.0[..Self::READ])?;
        Ok(self.0.split_to(count).freeze())
    }
}
