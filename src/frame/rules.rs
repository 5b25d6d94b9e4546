//! Frames of one length, frames that say their length, frames of tagged halves.

use super::{Rule, Step};

/// Begins with a sync and has always the same length.
#[derive(Clone, Debug)]
pub struct Fixed {
    /// What a frame begins with, at least one byte.
    pub sync: Vec<u8>,
    /// Its length, all counted.
    pub bytes: usize,
    /// What it ends with.
    pub tail: Vec<u8>,
}

/// How many bytes at the front cannot begin a frame; 0 if they may.
fn out_of_step(window: &[u8], sync: &[u8]) -> usize {
    let seen = window.len().min(sync.len());
    if window[..seen] == sync[..seen] {
        return 0;
    }
    match memchr::memchr(sync[0], &window[1..]) {
        Some(next) => next + 1,
        None => window.len(),
    }
}

impl Rule for Fixed {
    fn step(&mut self, window: &[u8]) -> Step {
        match out_of_step(window, &self.sync) {
            0 => {}
            noise => return Step::Noise(noise),
        }
        match window.get(..self.bytes) {
            None => Step::More,
            Some(frame) if frame.ends_with(&self.tail) => Step::Frame(self.bytes),
            Some(_) => Step::Refuse("the bytes that end a frame are not where they must be"),
        }
    }

    fn longest(&self) -> usize {
        self.bytes
    }
}

/// Says how long it is.
#[derive(Clone, Debug)]
pub struct Length {
    /// What a frame begins with; may be empty where a check finds the start.
    pub sync: Vec<u8>,
    /// Where the length stands.
    pub at: usize,
    /// Its width, 1 or 2.
    pub width: usize,
    /// Whether its low byte comes first.
    pub little: bool,
    /// What it counts.
    pub counts: Counts,
    /// Bytes of the check behind the body.
    pub check: usize,
    /// The longest frame, all counted.
    pub max: usize,
}

/// What a length counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counts {
    /// What follows it, without the check.
    Body,
    /// What follows it, with the check.
    BodyAndCheck,
    /// The whole frame.
    All,
}

impl Rule for Length {
    fn step(&mut self, window: &[u8]) -> Step {
        if !self.sync.is_empty() {
            match out_of_step(window, &self.sync) {
                0 => {}
                noise => return Step::Noise(noise),
            }
        }
        let head = self.at + self.width;
        let Some(field) = window.get(self.at..head) else {
            return Step::More;
        };
        let length = match *field {
            [a] => usize::from(a),
            [a, b] if self.little => usize::from(u16::from_le_bytes([a, b])),
            [a, b] => usize::from(u16::from_be_bytes([a, b])),
            _ => 0,
        };
        let total = match self.counts {
            Counts::Body => head + length + self.check,
            Counts::BodyAndCheck => head + length,
            Counts::All => length,
        };
        if total > self.max || total < head + self.check {
            Step::Refuse("a length outside the bounds of a frame")
        } else if window.len() < total {
            Step::More
        } else {
            Step::Frame(total)
        }
    }

    fn longest(&self) -> usize {
        self.max
    }
}

/// Bytes of which one half counts from `first` to `last`.
#[derive(Clone, Debug)]
pub struct Tagged {
    /// The first index.
    pub first: u8,
    /// The last index.
    pub last: u8,
    /// Whether the low half is the index.
    pub low: bool,
}

impl Rule for Tagged {
    fn step(&mut self, window: &[u8]) -> Step {
        let expected = self.first..=self.last;
        let length = expected.len();
        for (at, (byte, index)) in window.iter().zip(expected).enumerate() {
            let found = if self.low { byte & 15 } else { byte >> 4 };
            if found != index {
                // What stands before the break is no start either: only the first index begins.
                return Step::Noise(at.max(1));
            }
        }
        if window.len() < length {
            Step::More
        } else {
            Step::Frame(length)
        }
    }

    fn longest(&self) -> usize {
        usize::from(self.last - self.first) + 1
    }
}
