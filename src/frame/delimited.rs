//! Frames that end with a delimiter: lines, mostly.
//!
//! What comes before the first delimiter after an opening is half a line and
//! never a frame. A line longer than the bound is refused before its end is
//! known, and what is left of it is discarded. Blank lines are nothing, so
//! `\r\n` may be two delimiters.

use super::{Cut, HALF};

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

const LONG: &str = "no end within the longest frame allowed";

const UNENDED: &str = "the end of the frame is missing";

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

    /// A request went out: if nothing was heard since the opening, what comes now begins a frame.
    pub fn asked(&mut self) {
        if self.state == State::Half(false) {
            self.state = State::Whole;
        }
    }

    /// Cuts a chunk.
    pub fn push(&mut self, mut data: &[u8], sink: &mut impl FnMut(Cut<'_>)) {
        while !data.is_empty() {
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
    fn end(&mut self, line: &[u8], sink: &mut impl FnMut(Cut<'_>)) {
        if self.direct(line) {
            if !blank(line) {
                sink(Cut::Frame(line));
            }
            return;
        }
        self.gather(line, sink);
        match self.state {
            State::Whole if self.held.len() > self.max => sink(Cut::Bad(LONG, &self.held)),
            State::Whole if !blank(&self.held) => sink(Cut::Frame(&self.held)),
            State::Half(true) if !blank(&self.held) => sink(Cut::Bad(HALF, &self.held)),
            _ => {}
        }
        self.held.clear();
        self.state = State::Whole;
    }

    /// No more bytes will come: a last line without its end is refused.
    pub fn finish(&mut self, sink: &mut impl FnMut(Cut<'_>)) {
        if !blank(&self.held) && self.state != State::Discard {
            sink(Cut::Bad(UNENDED, &self.held));
        }
        self.restart();
    }

    /// Bytes without a delimiter: kept up to the bound, refused once for each bound beyond it.
    fn gather(&mut self, mut data: &[u8], sink: &mut impl FnMut(Cut<'_>)) {
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
            sink(Cut::Bad(LONG, &self.held));
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cut(framer: &mut Delimited, chunks: &[&[u8]]) -> Vec<String> {
        let mut got = Vec::new();
        for chunk in chunks {
            framer.push(chunk, &mut |cut| {
                got.push(match cut {
                    Cut::Frame(bytes) => String::from_utf8_lossy(bytes).into_owned(),
                    Cut::Bad(why, bytes) => {
                        format!("bad {}: {why}", String::from_utf8_lossy(bytes))
                    }
                });
            });
        }
        got
    }

    fn lines(max: usize) -> Delimited {
        Delimited::new(&[vec![b'\r'], vec![b'\n']], max).expect("two ends")
    }

    #[test]
    fn lines_end_three_ways_and_blank_ones_are_nothing() {
        assert_eq!(
            cut(&mut lines(8), &[b"1\r\n2\n\n \r3\r\n4"]),
            ["1", "2", "3"]
        );
    }

    #[test]
    fn half_a_line_after_an_opening_is_refused_with_its_reason() {
        let mut framer = lines(8);
        framer.restart();
        assert_eq!(
            cut(&mut framer, &[b"3.4\r\n12.3\n"]),
            [&format!("bad 3.4: {HALF}"), "12.3"]
        );
        framer.restart();
        framer.asked();
        assert_eq!(cut(&mut framer, &[b"12.3\n"]), ["12.3"]);
        framer.restart();
        cut(&mut framer, &[b"9"]);
        framer.asked();
        assert_eq!(
            cut(&mut framer, &[b"12.3\n"]),
            [format!("bad 912.3: {HALF}")]
        );
    }

    #[test]
    fn the_bound_is_tested_before_the_end_and_the_rest_is_discarded() {
        assert_eq!(
            cut(&mut lines(4), &[b"123456789\n5\n1234\n"]),
            [
                &format!("bad 1234: {LONG}"),
                &format!("bad 5678: {LONG}"),
                "5",
                "1234"
            ]
        );
    }

    #[test]
    fn an_end_of_several_bytes_is_found_whole() {
        let mut framer = Delimited::new(&[b"\r\n".to_vec()], 8).expect("a word");
        assert_eq!(cut(&mut framer, &[b"1\n2\r", b"\n3\r\n"]), ["1\n2", "3"]);
    }

    proptest! {
        #[test]
        fn every_split_gives_the_same_frames(
            bytes in proptest::collection::vec(prop_oneof![Just(b'\n'), Just(b'\r'), Just(b'1'), Just(b' '), any::<u8>()], 0..60),
            splits in proptest::collection::vec(0usize..60, 0..6),
            opened in any::<bool>(),
            word in any::<bool>(),
        ) {
            let make = || {
                let mut framer = if word { Delimited::new(&[b"\r\n".to_vec()], 7).expect("a word") } else { lines(7) };
                if opened { framer.restart(); }
                framer
            };
            let whole = cut(&mut make(), &[&bytes]);
            let mut splits: Vec<usize> = splits.into_iter().map(|s| s.min(bytes.len())).collect();
            splits.extend([0, bytes.len()]);
            splits.sort_unstable();
            let chunks: Vec<&[u8]> = splits.windows(2).map(|w| &bytes[w[0]..w[1]]).collect();
            prop_assert_eq!(&cut(&mut make(), &chunks), &whole);
            let single: Vec<&[u8]> = bytes.chunks(1).collect();
            prop_assert_eq!(cut(&mut make(), &single), whole);
        }

        #[test]
        fn whatever_came_before_the_next_line_is_whole(garbage in proptest::collection::vec(any::<u8>(), 0..200)) {
            let mut framer = lines(16);
            cut(&mut framer, &[&garbage, b"\n"]);
            prop_assert_eq!(cut(&mut framer, &[b"12.40\r\n"]), ["12.40"]);
        }
    }
}
