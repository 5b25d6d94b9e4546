//! Framing: bytes in, whole frames out, the same at every split point.
//!
//! A framer holds at most one frame. Its bound is tested before the end is
//! found, and it always has a way back into step. It never looks at time: what
//! ends by silence is told so. What it cuts is a candidate; whoever receives it
//! says whether it stands, and one that does not is searched again from its
//! second byte where a start can be told from the middle.

mod delimited;

pub use delimited::Delimited;

/// What a framer found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut<'a> {
    /// A whole frame.
    Frame(&'a [u8]),
    /// Bytes that are no frame, at most a frame of them, and why.
    Bad(&'static str, &'a [u8]),
}

/// Why bytes before the first end or start are no frame.
pub const HALF: &str = "half a frame at the start of the stream";
