//! A description as written: these types are the manual of the language.
//!
//! Everything is a closed set; an unknown key is refused with line and column.
//! What is checked and compiled lives in [`super::compile`]; nothing here decides.
//! Places count bytes from 0; a negative place counts from the end, −1 is the last byte.

mod reading;

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

pub use reading::{
    Entry, Exponent, Int, Mark, Nothing, Order, Over, Point, Reading, Source, Suffix, Value,
};

/// A whole description.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Description {
    /// What speaks like this, in one line.
    pub about: Option<String>,
    /// How frames are cut.
    pub frame: Spanned<Frame>,
    /// The characteristics of a Bluetooth meter that does not describe its values.
    #[serde(default)]
    pub characteristic: Vec<Spanned<Characteristic>>,
    /// What is sent, in order.
    #[serde(default)]
    pub send: Vec<Spanned<Send>>,
    /// What is done to a whole frame, in order, before values are read.
    #[serde(default)]
    pub prepare: Vec<Spanned<Prepare>>,
    /// Tables that marks refer to, by name.
    #[serde(default)]
    pub table: BTreeMap<String, Vec<Spanned<Entry>>>,
    /// The readings that a frame gives.
    #[serde(default)]
    pub reading: Vec<Spanned<Reading>>,
    /// Bytes, and what they must give. A test runs them.
    #[serde(default)]
    pub example: Vec<Spanned<Example>>,
}

/// How frames are cut from a stream.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Frame {
    /// Each frame ends with one of these.
    Delimited {
        /// One to three single bytes, or one pair of bytes.
        ends: Vec<String>,
        /// The longest frame, without its end.
        max: usize,
    },
    /// All frames have the same length.
    Fixed {
        /// The bytes that each frame begins with.
        sync: Hex,
        /// Its length, all counted.
        bytes: usize,
        /// The bytes that each frame ends with.
        #[serde(default)]
        tail: Hex,
    },
    /// Each frame says how long it is.
    Length {
        /// The bytes that each frame begins with.
        sync: Hex,
        /// Where the length stands.
        at: usize,
        /// Its width in bytes, 1 or 2.
        #[serde(default = "one")]
        width: usize,
        /// Its order of bytes.
        #[serde(default)]
        order: Order,
        /// What it counts.
        counts: Counts,
        /// Bytes of the check behind the body.
        #[serde(default)]
        check: usize,
        /// The longest frame, all counted.
        max: usize,
    },
    /// A frame ends when nothing comes for a while.
    Silence {
        /// For how long.
        gap_ms: u32,
        /// The longest frame.
        max: usize,
    },
    /// One chunk is one frame: a notification, a datagram.
    Packet {
        /// The longest frame.
        max: usize,
    },
    /// Values of a Bluetooth meter, each an ATT PDU behind the table of its
    /// attributes: see [`crate::frame::att`].
    Gatt {
        /// Whether each value is read by its own presentation format (0x2904);
        /// then neither `characteristic` nor `reading` is written.
        #[serde(default)]
        described: bool,
    },
    /// Bytes of which one half is an index and the other half is data.
    TaggedNibbles {
        /// The first index.
        first: u8,
        /// The last index.
        last: u8,
        /// Which half is the index.
        #[serde(default)]
        index: Half,
    },
    /// Modbus over a serial line, as the one who asks.
    ModbusRtu {},
    /// Modbus over TCP, as the one who asks.
    ModbusTcp {},
}

/// What a length counts.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Counts {
    /// What follows it, without the check.
    Body,
    /// What follows it, with the check.
    BodyAndCheck,
    /// The whole frame.
    All,
}

/// A half of a byte.
#[derive(Clone, Copy, Debug, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each name is its own half")]
pub enum Half {
    #[default]
    High,
    Low,
}

/// A characteristic of a Bluetooth meter: Bluetooth Core volume 3, part G, 3.3.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Characteristic {
    /// Its name, for `of`, `to` and `beside`.
    pub name: String,
    /// Its UUID: 4 hexadecimal digits, or 32 with dashes.
    pub uuid: Spanned<String>,
    /// The UUID of its service, where several services have one of that UUID;
    /// `scan` knows a meter by it.
    pub service: Option<Spanned<String>>,
    /// What is done with it.
    pub how: How,
    /// How many bytes its value has; every other length is refused.
    pub bytes: Option<usize>,
    /// How many it has at most, where their number varies.
    pub max: Option<usize>,
    /// What is done to a value, in order, before it is read.
    #[serde(default)]
    pub prepare: Vec<Spanned<Prepare>>,
    /// A characteristic whose last value, prepared, stands behind this one's:
    /// the one that tells what the dial is at.
    pub beside: Option<Spanned<String>>,
}

/// What is done with a characteristic.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum How {
    /// It tells its value unasked.
    Notify,
    /// It tells its value unasked, and each is confirmed.
    Indicate,
    /// It is read again and again.
    Read {
        /// The time between.
        every_ms: u32,
    },
    /// Messages of `send` are written to it, and it confirms each.
    Write,
    /// The same without a confirmation.
    WriteWithoutResponse,
}

/// A message that is sent.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Send {
    /// Its name, for `answer_to`.
    pub name: String,
    /// The characteristic that it is written to.
    pub to: Option<Spanned<String>>,
    /// What is sent.
    pub bytes: Bytes,
    /// When.
    pub when: When,
}

/// The bytes of a message.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Bytes {
    /// As text.
    Text(String),
    /// As hex.
    Hex(Hex),
    /// A Modbus read, framed for the unit of each meter.
    ModbusRead {
        /// 3 holding registers, 4 input registers.
        function: u8,
        /// The first register, from 0.
        register: u16,
        /// How many registers, 1 to 125.
        count: u8,
    },
}

/// When a message is sent.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum When {
    /// Once after each opening.
    Start,
    /// Again and again; no answer is waited for.
    KeepAlive {
        /// The time between.
        every_ms: u32,
    },
    /// Asked, and the answer waited for.
    Poll {
        /// At most one an interval.
        every_ms: u32,
        /// No answer after this: the next.
        timeout_ms: u32,
        /// Silence after an answer or time-out.
        #[serde(default)]
        quiet_ms: u32,
    },
}

/// What is done to a whole frame.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Prepare {
    /// A sum over some bytes stands in others.
    Check(Check),
    /// These bytes are always the same.
    Constant {
        /// Where.
        at: i32,
        /// What.
        hex: Hex,
    },
    /// A line has so many fields, no more and no fewer.
    Fields {
        /// What separates them.
        separator: char,
        /// How many.
        count: usize,
    },
    /// Every byte is combined with a key, which repeats.
    Xor {
        /// The key.
        key: Hex,
        /// The first byte it applies to.
        #[serde(default)]
        from: i32,
    },
    /// A number is added to every byte, modulo 256.
    Add {
        /// The number.
        value: u8,
        /// The first byte it applies to.
        #[serde(default)]
        from: i32,
    },
    /// The bits of every byte are reversed.
    ReverseBits,
    /// The bytes are reversed.
    ReverseBytes,
    /// The halves of every byte change places.
    SwapNibbles,
    /// The bits of every byte change places.
    PermuteBits {
        /// For each new bit, the lowest first, the old one.
        from: [u8; 8],
    },
}

/// A check over a frame.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Check {
    /// Which.
    pub kind: CheckKind,
    /// The first byte covered.
    #[serde(default)]
    pub from: i32,
    /// The first byte not covered.
    pub to: i32,
    /// Where it stands.
    pub at: i32,
    /// How it is written.
    #[serde(default)]
    pub written: CheckText,
    /// The order of its bytes.
    #[serde(default)]
    pub order: Order,
    /// Generator polynomial of a CRC, without the leading bit.
    pub poly: Option<u32>,
    /// What a CRC begins with.
    pub init: Option<u32>,
    /// Whether each byte enters a CRC with its lowest bit first.
    pub reflect_in: Option<bool>,
    /// Whether a CRC leaves with its lowest bit first.
    pub reflect_out: Option<bool>,
    /// What a CRC is combined with at the end.
    pub xor_out: Option<u32>,
}

/// Kinds of checks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CheckKind {
    /// The sum of the bytes modulo 256.
    Sum8,
    /// Its two's complement: sum and check give 0.
    TwosComplement,
    /// The sum of the bytes modulo 65536.
    Sum16,
    /// All bytes combined by exclusive or.
    Xor,
    /// CRC of 16 bits; Modbus by default.
    Crc16,
    /// CRC of 32 bits; that of IEEE 802.3 by default.
    Crc32,
}

/// How a check is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CheckText {
    /// As bytes.
    #[default]
    Binary,
    /// As hexadecimal digits, either case.
    HexText,
}

/// Bytes, and what they must give.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Example {
    /// The message that they answer.
    pub answer_to: Option<Spanned<String>>,
    /// The unit that answers.
    pub unit: Option<u8>,
    /// Chunks that were heard before, as hex: the table of a Bluetooth meter.
    /// One that reads a value (0A and a handle) was sent.
    #[serde(default)]
    pub before: Vec<Hex>,
    /// The bytes as hex.
    pub hex: Option<Hex>,
    /// The bytes as text.
    pub text: Option<String>,
    /// The readings, each `QUANTITY VALUE UNIT`, as [`super::say`] writes them.
    #[serde(default)]
    pub readings: Vec<String>,
    /// Words of the reason for which the bytes are refused.
    pub bad: Option<String>,
}

/// Bytes written as pairs of hexadecimal digits, with spaces as one likes.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(try_from = "String")]
pub struct Hex(pub Vec<u8>);

impl TryFrom<String> for Hex {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        super::hex::parse(&text).map(Self)
    }
}

const fn one() -> usize {
    1
}
