//! Frames that end when nothing comes, and frames that are one chunk.

use super::{Cut, HALF, LONG, Sink, offer};

/// Ends when nothing comes for a while; somebody else watches the time.
#[derive(Clone, Debug)]
pub struct Silence {
    max: usize,
    held: Vec<u8>,
    half: bool,
    long: bool,
}

impl Silence {
    /// With the longest frame.
    pub fn new(max: usize) -> Self {
        Self {
            max,
            held: Vec::with_capacity(max),
            half: false,
            long: false,
        }
    }

    /// The stream opened or lost bytes: it may be in the middle of a frame.
    pub fn restart(&mut self) {
        self.held.clear();
        self.half = true;
        self.long = false;
    }

    /// A request went out: if nothing was heard since the opening, what comes now begins a frame.
    pub fn asked(&mut self) {
        if self.held.is_empty() {
            self.half = false;
        }
    }

    /// Whether a frame may be going on.
    pub fn waits(&self) -> bool {
        self.long || !self.held.is_empty()
    }

    /// Takes a chunk.
    pub fn push(&mut self, mut data: &[u8], sink: &mut impl Sink) {
        while data.len() > self.max - self.held.len() {
            let (fits, rest) = data.split_at(self.max - self.held.len());
            self.held.extend_from_slice(fits);
            sink.cut(Cut::Bad(LONG, &self.held));
            self.held.clear();
            self.long = true;
            data = rest;
        }
        self.held.extend_from_slice(data);
    }

    /// Nothing came for long enough.
    pub fn end(&mut self, sink: &mut impl Sink) {
        if self.half && !self.held.is_empty() {
            sink.cut(Cut::Bad(HALF, &self.held));
        } else if !self.long && !self.held.is_empty() {
            offer(&self.held, sink);
        }
        self.held.clear();
        self.half = false;
        self.long = false;
    }
}

/// One chunk is one frame.
#[derive(Clone, Debug)]
pub struct Packet {
    /// The longest frame.
    pub max: usize,
}

impl Packet {
    /// Takes a chunk.
    pub fn push(&mut self, data: &[u8], sink: &mut impl Sink) {
        if data.len() > self.max {
            sink.cut(Cut::Bad(
                "longer than the longest frame allowed",
                &data[..self.max],
            ));
        } else if !data.is_empty() {
            offer(data, sink);
        }
    }
}
