//! Frames that are found by looking at a window of the stream.
//!
//! A [`Rule`] looks at the bytes from a possible start on and says what they
//! are. It sees the same bytes whatever the chunks were, and knows within its
//! longest frame, so every split gives the same. Bytes that are no frame are
//! gathered and told once, before the next frame or when they fill one.

use super::{Cut, HALF, Sink, UNENDED};

/// What a rule says of the bytes at a possible start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Not enough bytes to say.
    More,
    /// So many bytes are no start of a frame.
    Noise(usize),
    /// The first byte looked like a start and is none, for this reason.
    Refuse(&'static str),
    /// So many bytes are a candidate.
    Frame(usize),
    /// So many bytes are a frame that is refused whole.
    Bad(usize, &'static str),
    /// So many bytes mean nothing and are expected.
    Skip(usize),
}

/// How frames begin and how long they are.
pub trait Rule {
    /// Looks at the bytes from a possible start on, never empty. With
    /// [`Rule::longest`] bytes it knows.
    fn step(&mut self, window: &[u8]) -> Step;

    /// The longest frame.
    fn longest(&self) -> usize;

    /// The candidate stood.
    fn stood(&mut self) {}
}

/// Follows a rule along a stream.
#[derive(Clone, Debug)]
pub struct Window<R> {
    /// The rule.
    pub rule: R,
    held: Vec<u8>,
    noise: Vec<u8>,
    why: &'static str,
    fresh: bool,
}

const STRAY: &str = "bytes that belong to no frame";

impl<R: Rule> Window<R> {
    /// A stream that begins with a frame.
    pub fn new(rule: R) -> Self {
        let longest = rule.longest();
        Self {
            rule,
            held: Vec::with_capacity(longest),
            noise: Vec::with_capacity(longest),
            why: STRAY,
            fresh: false,
        }
    }

    /// The stream opened or lost bytes: it may be in the middle of a frame.
    pub fn restart(&mut self) {
        self.held.clear();
        self.noise.clear();
        self.fresh = true;
    }

    /// What is still held is no frame, and told so. What comes now is no half of one.
    pub fn finish(&mut self, sink: &mut impl Sink) {
        let held = core::mem::take(&mut self.held);
        self.drop_bytes(&held, Some(UNENDED), sink);
        self.tell(sink);
        self.held = held;
        self.held.clear();
        self.fresh = false;
    }

    /// Cuts a chunk.
    pub fn push(&mut self, mut data: &[u8], sink: &mut impl Sink) {
        while !self.held.is_empty() && !data.is_empty() {
            // Just enough of the chunk to get past what is held; then the chunk itself is looked at.
            let old = self.held.len();
            let take = data
                .len()
                .min(self.rule.longest().saturating_sub(old).max(1));
            let mut held = core::mem::take(&mut self.held);
            held.extend_from_slice(&data[..take]);
            let used = self.walk(&held, old, sink);
            if used >= old {
                data = &data[used - old..];
                held.clear();
            } else {
                data = &data[take..];
                held.drain(..used);
            }
            self.held = held;
        }
        if !data.is_empty() {
            let used = self.walk(data, usize::MAX, sink);
            self.held.extend_from_slice(&data[used..]);
        }
    }

    /// Looks at `bytes` until `until` of them are used or more are needed; how many were used.
    fn walk(&mut self, bytes: &[u8], until: usize, sink: &mut impl Sink) -> usize {
        let mut at = 0;
        while at < bytes.len() && at < until {
            let window = &bytes[at..];
            at += match self.rule.step(window) {
                Step::More => break,
                Step::Noise(n) => self.drop_bytes(&window[..n], None, sink),
                Step::Refuse(why) => self.drop_bytes(&window[..1], Some(why), sink),
                Step::Skip(n) => n,
                Step::Bad(n, why) => {
                    self.tell(sink);
                    sink.cut(Cut::Bad(why, &window[..n]));
                    n
                }
                Step::Frame(n) => match sink.stands(&window[..n]) {
                    Err(why) => self.drop_bytes(&window[..1], Some(why), sink),
                    Ok(()) => {
                        self.rule.stood();
                        self.fresh = false;
                        self.tell(sink);
                        sink.cut(Cut::Frame(&window[..n]));
                        n
                    }
                },
            };
        }
        at
    }

    /// Gathers bytes that are no frame; the first good reason is kept.
    fn drop_bytes(
        &mut self,
        bytes: &[u8],
        why: Option<&'static str>,
        sink: &mut impl Sink,
    ) -> usize {
        for &byte in bytes {
            if self.noise.len() == self.rule.longest() {
                self.tell(sink);
            }
            if self.noise.is_empty() {
                self.why = if self.fresh { HALF } else { STRAY };
            }
            if let Some(why) = why
                && self.why == STRAY
            {
                self.why = why;
            }
            self.noise.push(byte);
        }
        bytes.len()
    }

    fn tell(&mut self, sink: &mut impl Sink) {
        if !self.noise.is_empty() {
            sink.cut(Cut::Bad(self.why, &self.noise));
            self.noise.clear();
            self.fresh = false;
        }
    }
}
