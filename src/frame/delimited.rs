//! Frames that end with a delimiter: lines, mostly.
//!
//! What comes before the first delimiter after an opening is half a line and
//! never a frame. A line longer than the bound is refused before its end is
//! known, and what is left of it is discarded. Blank lines are nothing, so
//! `\r\n` may be two delimiters.

use super::{Cut, HALF, LONG, Sink, UNENDED, offer};

/// Cuts at delimiters.
#[derive(Clone, Debug)]
pub struct Delimited {
    ends: Ends,
    max: usize,
    held: Vec<u8>,
    state: State,
}

#[derive(Clone, Debug)]
enum Ends {
    One(u8),
    Two(u8, u8),
    Three(u8, u8, u8),
    /// Both, in this order; the second is searched for.
    Pair(u8, u8),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// A frame begins or goes on.
    Whole,
    /// The stream opened in the middle of a frame; whether bytes were seen.
    Half(bool),
    /// The rest of an overlong frame.
    Discard,
}

impl Ends {
    /// Whether this byte alone is an end.
    fn has(&self, byte: u8) -> bool {
        match *self {
            Self::One(a) => byte == a,
            Self::Two(a, b) => byte == a || byte == b,
            Self::Three(a, b, c) => byte == a || byte == b || byte == c,
            Self::Pair(..) => false,
        }
    }
}

impl Delimited {
    /// Ends are up to three single bytes, or one pair of bytes; `None` for anything else.
    pub fn new(ends: &[Vec<u8>], max: usize) -> Option<Self> {
        let ends = match ends {
            [pair] if pair.len() == 2 => Ends::Pair(pair[0], pair[1]),
            _ if ends.iter().any(|end| end.len() != 1) => return None,
            [a] => Ends::One(a[0]),
            [a, b] => Ends::Two(a[0], b[0]),
            [a, b, c] => Ends::Three(a[0], b[0], c[0]),
            _ => return None,
        };
        Some(Self {
            ends,
            max,
            held: Vec::with_capacity(max + 1),
            state: State::Whole,
        })
    }

    /// The stream opened or lost bytes: it may be in the middle of a frame.
    pub fn restart(&mut self) {
        self.held.clear();
        self.state = State::Half(false);
    }

    /// A question went out, to a meter that speaks only when asked: if nothing
    /// was heard since the opening, what comes now begins a frame. What an
    /// answer cut short left behind is refused up to the next end, since
    /// joined to the next answer it would read as another number.
    pub fn asked(&mut self, sink: &mut impl Sink) {
        if self.state == State::Half(false) {
            self.state = State::Whole;
        } else if self.state == State::Whole && !blank(&self.held) {
            sink.cut(Cut::Bad(UNENDED, &self.held));
            self.held.clear();
            self.state = State::Discard;
        }
    }

    /// Cuts a chunk.
    pub fn push(&mut self, mut data: &[u8], sink: &mut impl Sink) {
        while let [first, rest @ ..] = data {
            // The second half of CR LF: no frame lies between.
            if self.state == State::Whole && self.held.is_empty() && self.ends.has(*first) {
                data = rest;
                continue;
            }
            let found = match self.ends {
                Ends::One(a) => memchr::memchr(a, data),
                Ends::Two(a, b) => memchr::memchr2(a, b, data),
                Ends::Three(a, b, c) => memchr::memchr3(a, b, c, data),
                Ends::Pair(_, last) => memchr::memchr(last, data),
            };
            let Some(at) = found else {
                self.gather(data, sink);
                return;
            };
            let (line, rest) = (&data[..at], &data[at + 1..]);
            if let Ends::Pair(first, _) = self.ends {
                let before = line.last().or(self.held.last());
                if before != Some(&first) {
                    // The second byte alone is no end: it belongs to the frame.
                    self.gather(&data[..=at], sink);
                    data = rest;
                    continue;
                }
                match line.split_last() {
                    Some((_, own)) if self.direct(own) => self.end(own, sink),
                    _ => {
                        // As it would arrive byte by byte: kept, then taken back.
                        self.gather(line, sink);
                        self.held.pop();
                        self.end(&[], sink);
                    }
                }
            } else {
                self.end(line, sink);
            }
            data = rest;
        }
    }

    /// Whether `line` is a frame without being kept first.
    fn direct(&self, line: &[u8]) -> bool {
        self.state == State::Whole && self.held.is_empty() && line.len() <= self.max
    }

    /// A delimiter was found behind `line`.
    fn end(&mut self, line: &[u8], sink: &mut impl Sink) {
        if self.direct(line) {
            if !blank(line) {
                offer(line, sink);
            }
            return;
        }
        self.gather(line, sink);
        match self.state {
            State::Whole if self.held.len() > self.max => sink.cut(Cut::Bad(LONG, &self.held)),
            State::Whole if !blank(&self.held) => offer(&self.held, sink),
            State::Half(true) if !blank(&self.held) => sink.cut(Cut::Bad(HALF, &self.held)),
            _ => {}
        }
        self.held.clear();
        self.state = State::Whole;
    }

    /// No more bytes will come: a last line without its end is refused.
    pub fn finish(&mut self, sink: &mut impl Sink) {
        if !blank(&self.held) && self.state != State::Discard {
            sink.cut(Cut::Bad(UNENDED, &self.held));
        }
        self.restart();
    }

    /// Bytes without a delimiter: kept up to the bound, refused once for each bound beyond it.
    fn gather(&mut self, mut data: &[u8], sink: &mut impl Sink) {
        if data.is_empty() {
            return;
        }
        if let State::Half(seen) = &mut self.state {
            *seen = true;
        }
        // The first byte of a pair may lie behind the longest frame.
        let bound = self.max + usize::from(matches!(self.ends, Ends::Pair(..)));
        while data.len() > bound - self.held.len() {
            let (fits, rest) = data.split_at(bound - self.held.len());
            self.held.extend_from_slice(fits);
            sink.cut(Cut::Bad(LONG, &self.held));
            self.held.clear();
            self.state = State::Discard;
            data = rest;
        }
        self.held.extend_from_slice(data);
    }
}

fn blank(line: &[u8]) -> bool {
    line.iter()
        .all(|b| matches!(b, b' ' | b'\t' | b'\r' | b'\n' | 0))
}
