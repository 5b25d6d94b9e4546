//! Plain text files: what a terminal program saved, bytes without time.
//!
//! At once: large chunks, all at stamp 0, for readings that are only counted
//! or listed. Paced: one chunk a line, a fixed time apart.

use core::time::Duration;
use std::io::{self, Read};

use bytes::{Bytes, BytesMut};

use crate::input::{Input, What};
use crate::meter::PortId;
use crate::stamp::Stamp;

const CHUNK: usize = 64 * 1024;
/// A line longer than this is given in pieces.
const LINE_MAX: usize = 1024 * 1024;

/// How a file without time is given one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// Everything at stamp 0.
    AtOnce,
    /// One line each time this has passed.
    Every(Duration),
}

/// A text file being read.
#[derive(Debug)]
pub struct TextFile<R> {
    from: R,
    pace: Pace,
    at: Stamp,
    /// Read and not yet given.
    buffer: Bytes,
    ended: bool,
}

impl<R: Read> TextFile<R> {
    /// Reads from the beginning of a file.
    pub fn new(from: R, pace: Pace) -> Self {
        Self {
            from,
            pace,
            at: Stamp::ZERO,
            buffer: Bytes::new(),
            ended: false,
        }
    }

    fn next_input(&mut self) -> io::Result<Option<Input>> {
        let data = match self.pace {
            Pace::AtOnce => {
                self.more()?;
                self.buffer.split_to(self.buffer.len())
            }
            Pace::Every(_) => self.line()?,
        };
        if data.is_empty() {
            return Ok(None);
        }
        let at = self.at;
        if let Pace::Every(step) = self.pace {
            self.at = at.plus(step);
        }
        Ok(Some(Input {
            at,
            what: What::Bytes {
                port: PortId(0),
                data,
            },
        }))
    }

    fn line(&mut self) -> io::Result<Bytes> {
        let mut searched = 0;
        loop {
            if let Some(feed) = memchr::memchr(b'\n', &self.buffer[searched..]) {
                return Ok(self.buffer.split_to(searched + feed + 1));
            }
            searched = self.buffer.len();
            if self.ended || searched >= LINE_MAX {
                return Ok(self.buffer.split_to(searched));
            }
            self.more()?;
        }
    }

    /// Adds a chunk to the buffer; only what is left of a line is copied.
    fn more(&mut self) -> io::Result<()> {
        let left = self.buffer.len();
        let mut next = BytesMut::zeroed(left + CHUNK);
        next[..left].copy_from_slice(&self.buffer);
        let got = loop {
            match self.from.read(&mut next[left..]) {
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                other => break other?,
            }
        };
        next.truncate(left + got);
        self.ended = got == 0;
        self.buffer = next.freeze();
        Ok(())
    }
}

impl<R: Read> Iterator for TextFile<R> {
    type Item = io::Result<Input>;

    fn next(&mut self) -> Option<Self::Item> {
        self.next_input().transpose()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A source that gives at most so many bytes at a time.
    struct Slow<'a>(&'a [u8], usize);

    impl Read for Slow<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let most = self.1.min(buffer.len());
            self.0.read(&mut buffer[..most])
        }
    }

    fn read(text: &[u8], step: usize, pace: Pace) -> Vec<(u64, Vec<u8>)> {
        TextFile::new(Slow(text, step), pace)
            .map(|input| match input.expect("memory") {
                Input {
                    at,
                    what: What::Bytes { data, .. },
                } => (at.nanos(), data.to_vec()),
                other => panic!("{other:?}"),
            })
            .collect()
    }

    #[test]
    fn a_line_comes_each_time_the_pace_has_passed() {
        let pace = Pace::Every(Duration::from_millis(250));
        let lines = read(b"1.2\r\n\n3", 2, pace);
        let expected: [(u64, &[u8]); 3] =
            [(0, b"1.2\r\n"), (250_000_000, b"\n"), (500_000_000, b"3")];
        assert_eq!(lines, expected.map(|(at, data)| (at, data.to_vec())));
    }

    proptest! {
        #[test]
        fn no_byte_is_lost_however_the_file_is_read(text in prop::collection::vec(prop::sample::select(b"12.\n".to_vec()), 0..300), step in 1usize..50) {
            for pace in [Pace::AtOnce, Pace::Every(Duration::from_secs(1))] {
                let joined: Vec<u8> = read(&text, step, pace).into_iter().flat_map(|(_, d)| d).collect();
                prop_assert_eq!(&joined, &text);
            }
        }
    }
}
