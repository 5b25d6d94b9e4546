//! Framing: bytes in, whole frames out, the same at every split point.
//!
//! A framer holds at most one frame. Its bound is tested before the end is
//! found, and it always has a way back into step. It never looks at time: what
//! ends by silence is told so. What it cuts is a candidate; the [`Sink`] says
//! whether it stands, and one that does not is searched again from its second
//! byte where a start can be told from the middle.

pub mod att;
mod burst;
mod delimited;
pub mod gatt;
mod modbus;
mod rules;
mod window;

pub use burst::{Packet, Silence};
pub use delimited::Delimited;
pub use gatt::Gatt;
pub use modbus::{Expect, Rtu, Tcp};
pub use rules::{Counts, Fixed, Length, Tagged};
pub use window::{Rule, Step, Window};

/// What a framer found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut<'a> {
    /// A whole frame that stands.
    Frame(&'a [u8]),
    /// Bytes that are no frame, at most a frame of them, and why.
    Bad(&'static str, &'a [u8]),
}

/// Who receives frames.
pub trait Sink {
    /// Whether a candidate stands: checks and constants.
    ///
    /// # Errors
    /// Why it does not.
    fn stands(&mut self, frame: &[u8]) -> Result<(), &'static str>;

    /// A frame that was just found to stand, or bytes that are none.
    fn cut(&mut self, cut: Cut<'_>);
}

/// A candidate that is refused whole if it does not stand.
fn offer(frame: &[u8], sink: &mut impl Sink) {
    match sink.stands(frame) {
        Ok(()) => sink.cut(Cut::Frame(frame)),
        Err(why) => sink.cut(Cut::Bad(why, frame)),
    }
}

/// Why bytes before the first end or start are no frame.
pub const HALF: &str = "half a frame at the start of the stream";
const LONG: &str = "no end within the longest frame allowed";
const UNENDED: &str = "the end of the frame is missing";

#[cfg(test)]
mod tests;
