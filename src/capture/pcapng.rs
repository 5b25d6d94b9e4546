//! Reading a capture: pcapng blocks to inputs, streamed, up to the last whole block.
//!
//! Both byte orders and any time resolution are read; blocks and options that
//! are not ours are passed over. A file that ends inside a block, or in zeros,
//! was torn by a crash: what is whole before it is read and [`Pcapng::torn`]
//! says where it ends. Anything else that is not as it should be is an error
//! with its place.
//!
//! Own reader instead of a crate: packets are slices of one large buffer, and
//! a torn end must be told from a damaged middle. The writer is checked
//! against `pcap-parser` in the tests.

use std::io::Read;

use bytes::{Buf, Bytes, BytesMut};

use super::json;
use super::write::{
    BYTE_ORDER, INTERFACE, LINK_BYTES, LINK_JSON, OPTION_EPB_FLAGS, OPTION_IF_DESCRIPTION,
    OPTION_IF_TSRESOL, OUTBOUND, PACKET, SECTION,
};
use crate::input::{Input, What};
use crate::meter::PortId;
use crate::stamp::{Stamp, Wall};

/// No block of ours is longer; a longer one is damage, not data.
const BLOCK_MAX: usize = 64 * 1024 * 1024;
const READ: usize = 256 * 1024;

/// What is wrong with a capture, without the file's name.
#[derive(Debug, thiserror::Error)]
pub enum Fault {
    /// The system cannot read it.
    #[error("cannot be read: {0}")]
    Io(#[from] std::io::Error),
    /// A block that is not as it should be.
    #[error("byte {at}: expected {expected}, found {found}")]
    Block {
        /// Where the block begins.
        at: u64,
        /// What would be right.
        expected: &'static str,
        /// What stands there.
        found: String,
    },
    /// A line that is not as it should be.
    #[error("line {line}: expected {expected}, found {found}")]
    Line {
        /// Which, from 1.
        line: u64,
        /// What would be right.
        expected: &'static str,
        /// What stands there.
        found: String,
    },
    /// An input that does not read.
    #[error("byte {at}: input {ordinal} does not read: {source}")]
    Json {
        /// Where the block begins.
        at: u64,
        /// The ordinal of the input.
        ordinal: u64,
        /// Why.
        source: serde_json::Error,
    },
}

#[derive(Clone, Copy)]
enum Carries {
    Port(PortId),
    Json,
    Other,
}

#[derive(Clone, Copy)]
struct Interface {
    carries: Carries,
    ticks: Ticks,
}

/// How many ticks a second a time counts.
#[derive(Clone, Copy)]
struct Ticks(u64);

impl Ticks {
    fn nanos(self, time: u64) -> u64 {
        match self.0 {
            1_000_000_000 => time,
            ticks => (u128::from(time) * 1_000_000_000 / u128::from(ticks)) as u64,
        }
    }
}

/// A capture being read.
pub struct Pcapng<R> {
    from: R,
    buffer: BytesMut,
    /// Offset of the buffer's first byte in the file.
    at: u64,
    ended: bool,
    big: bool,
    interfaces: Vec<Interface>,
    ports: u16,
    wall: Option<Wall>,
    ordinal: u64,
    torn: Option<u64>,
}

impl<R: Read> Pcapng<R> {
    /// Reads from the beginning of a file.
    pub fn new(from: R) -> Self {
        Self {
            from,
            buffer: BytesMut::new(),
            at: 0,
            ended: false,
            big: false,
            interfaces: Vec::new(),
            ports: 0,
            wall: None,
            ordinal: 0,
            torn: None,
        }
    }

    /// Where the last whole block ends, if the file does not end there. Known
    /// once the inputs are at their end.
    pub fn torn(&self) -> Option<u64> {
        self.torn
    }

    /// The offset behind the last block read.
    pub fn offset(&self) -> u64 {
        self.at
    }

    /// The next input, `None` at the end.
    ///
    /// # Errors
    /// Says where, what was expected and what was found.
    pub fn next_input(&mut self) -> Result<Option<Input>, Fault> {
        loop {
            let begin = self.at;
            let Some((kind, body)) = self.block()? else {
                return Ok(None);
            };
            let input = match kind {
                SECTION => {
                    self.interfaces.clear();
                    self.ports = 0;
                    None
                }
                INTERFACE => {
                    self.interface(begin, &body)?;
                    None
                }
                PACKET => self.packet(begin, body)?,
                _ => None,
            };
            if let Some(input) = input {
                self.ordinal += 1;
                return Ok(Some(input));
            }
        }
    }

    /// Walks over whole blocks to the end without reading what is in them, and
    /// says where the last one ends if the file does not end there.
    ///
    /// # Errors
    /// A block that is not as it should be, or the system cannot read it.
    pub fn torn_end(&mut self) -> Result<Option<u64>, Fault> {
        while let Some((_, total)) = self.whole()? {
            self.buffer.advance(total);
            self.at += total as u64;
        }
        Ok(self.torn)
    }

    /// The next whole block's kind and body.
    fn block(&mut self) -> Result<Option<(u32, Bytes)>, Fault> {
        let Some((kind, total)) = self.whole()? else {
            return Ok(None);
        };
        let mut block = self.buffer.split_to(total).freeze();
        self.at += total as u64;
        block.advance(8);
        block.truncate(total - 12);
        Ok(Some((kind, block)))
    }

    /// The kind and length of the whole block that the buffer now begins with.
    fn whole(&mut self) -> Result<Option<(u32, usize)>, Fault> {
        if !self.fill(12)? {
            return Ok(self.end());
        }
        if self.buffer[..4] == SECTION.to_le_bytes() {
            self.big = self.buffer[8..12] == BYTE_ORDER.to_be_bytes();
            if !self.big && self.buffer[8..12] != BYTE_ORDER.to_le_bytes() {
                let found = format!("{:02x?}", &self.buffer[8..12]);
                return self.torn_or("a byte-order mark", found);
            }
        }
        let kind = self.u32(&self.buffer[..4]);
        let total = self.u32(&self.buffer[4..8]) as usize;
        if self.at == 0 && kind != SECTION {
            return self.torn_or("a pcapng section header", format!("block type {kind:#x}"));
        }
        if !(12..=BLOCK_MAX).contains(&total) || !total.is_multiple_of(4) {
            return self.torn_or("a block length from 12 to 64 MiB", total.to_string());
        }
        if !self.fill(total)? {
            return Ok(self.end());
        }
        let again = self.u32(&self.buffer[total - 4..total]) as usize;
        if again != total {
            return self.torn_or("the block's length again at its end", again.to_string());
        }
        Ok(Some((kind, total)))
    }

    /// Fills the buffer up to `want` bytes; false when the file ends before.
    fn fill(&mut self, want: usize) -> Result<bool, Fault> {
        while self.buffer.len() < want && !self.ended {
            let had = self.buffer.len();
            self.buffer.resize(had + READ.max(want - had), 0);
            let got = self.from.read(&mut self.buffer[had..]);
            self.buffer.truncate(had + *got.as_ref().unwrap_or(&0));
            match got {
                Ok(0) => self.ended = true,
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e.into()),
                Ok(_) => {}
            }
        }
        Ok(self.buffer.len() >= want)
    }

    fn end<T>(&mut self) -> Option<T> {
        if !self.buffer.is_empty() {
            self.torn = Some(self.at);
        }
        None
    }

    /// A block that is not as it should be: torn when it begins with zeros, or
    /// when the file is zeros from within it to its end, as a file is that was
    /// grown and not written; damaged otherwise.
    fn torn_or<T>(&mut self, expected: &'static str, found: String) -> Result<Option<T>, Fault> {
        let hole = self.buffer[..8] == [0; 8];
        while self.buffer.len() < BLOCK_MAX && self.fill(self.buffer.len() + 1)? {}
        let written = self
            .buffer
            .iter()
            .rposition(|b| *b != 0)
            .map_or(0, |last| last + 1);
        let total = self.u32(&self.buffer[4..8]) as usize;
        let inside = written < total.clamp(12, BLOCK_MAX) && written < self.buffer.len();
        if hole || inside {
            self.torn = Some(self.at);
            return Ok(None);
        }
        Err(self.wrong(expected, found))
    }

    fn wrong(&self, expected: &'static str, found: String) -> Fault {
        Fault::Block {
            at: self.at,
            expected,
            found,
        }
    }

    fn u32(&self, bytes: &[u8]) -> u32 {
        let bytes = [bytes[0], bytes[1], bytes[2], bytes[3]];
        if self.big {
            u32::from_be_bytes(bytes)
        } else {
            u32::from_le_bytes(bytes)
        }
    }

    fn u16(&self, bytes: &[u8]) -> u16 {
        let bytes = [bytes[0], bytes[1]];
        if self.big {
            u16::from_be_bytes(bytes)
        } else {
            u16::from_le_bytes(bytes)
        }
    }

    /// The value of an option in a list of options.
    fn option<'a>(&self, mut list: &'a [u8], wanted: u16) -> Option<&'a [u8]> {
        while list.len() >= 4 {
            let (code, len) = (self.u16(list), usize::from(self.u16(&list[2..])));
            if code == 0 {
                return None;
            }
            let value = list.get(4..4 + len)?;
            if code == wanted {
                return Some(value);
            }
            list = list.get(4 + len.next_multiple_of(4)..)?;
        }
        None
    }

    fn interface(&mut self, at: u64, body: &[u8]) -> Result<(), Fault> {
        if body.len() < 8 {
            let found = format!("{} bytes", body.len());
            return Err(Fault::Block {
                at,
                expected: "an interface of 8 bytes or more",
                found,
            });
        }
        let options = &body[8..];
        let ticks = match self.option(options, OPTION_IF_TSRESOL) {
            Some([power @ 0..=18]) => Ticks(10_u64.pow(u32::from(*power))),
            Some([power @ 0x80..=0xBF]) => Ticks(1 << (power & 0x7F)),
            Some(other) => {
                let found = format!("{other:?}");
                return Err(Fault::Block {
                    at,
                    expected: "a time resolution we can count",
                    found,
                });
            }
            None => Ticks(1_000_000),
        };
        let carries = match self.u16(body) {
            LINK_JSON => Carries::Json,
            LINK_BYTES => {
                let said = self
                    .option(options, OPTION_IF_DESCRIPTION)
                    .and_then(|text| {
                        core::str::from_utf8(text)
                            .ok()?
                            .strip_prefix("port ")?
                            .parse()
                            .ok()
                    });
                // A capture that others wrote: ports in the order they are met.
                let port = PortId(said.unwrap_or(self.ports));
                self.ports += 1;
                Carries::Port(port)
            }
            _ => Carries::Other,
        };
        self.interfaces.push(Interface { carries, ticks });
        Ok(())
    }

    fn packet(&mut self, at: u64, mut body: Bytes) -> Result<Option<Input>, Fault> {
        let wrong = |expected, found| Fault::Block {
            at,
            expected,
            found,
        };
        if body.len() < 20 {
            return Err(wrong(
                "a packet of 20 bytes or more",
                format!("{} bytes", body.len()),
            ));
        }
        let interface = self.u32(&body) as usize;
        let time = u64::from(self.u32(&body[4..])) << 32 | u64::from(self.u32(&body[8..]));
        let length = self.u32(&body[12..]) as usize;
        body.advance(20);
        if length > body.len() {
            return Err(wrong(
                "a packet inside its block",
                format!("{length} bytes"),
            ));
        }
        let Some(interface) = self.interfaces.get(interface).copied() else {
            return Err(wrong(
                "an interface named before",
                format!("interface {interface}"),
            ));
        };
        let flags = body.get(length.next_multiple_of(4)..).and_then(|list| {
            self.option(list, OPTION_EPB_FLAGS)
                .filter(|v| v.len() == 4)
                .map(|v| self.u32(v))
        });
        body.truncate(length);
        let what = match interface.carries {
            Carries::Other => return Ok(None),
            Carries::Json => json::read(&body).map_err(|source| Fault::Json {
                at,
                ordinal: self.ordinal,
                source,
            })?,
            Carries::Port(port) if flags.is_some_and(|f| f & 3 == OUTBOUND) => {
                What::Sent { port, data: body }
            }
            Carries::Port(port) => What::Bytes { port, data: body },
        };
        let time = interface.ticks.nanos(time);
        if let (What::Begin(begin), true) = (&what, self.wall.is_none() || self.ordinal == 0) {
            self.wall = Some(begin.wall);
        }
        // A capture that others wrote has no Begin: its first packet is at 0.
        let zero = *self.wall.get_or_insert(Wall(time.cast_signed()));
        let at = Stamp::from_nanos(time.wrapping_sub(zero.0.cast_unsigned()));
        Ok(Some(Input { at, what }))
    }
}

impl<R: Read> Iterator for Pcapng<R> {
    type Item = Result<Input, Fault>;

    fn next(&mut self) -> Option<Self::Item> {
        self.next_input().transpose()
    }
}
