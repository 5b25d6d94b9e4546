//! Readings as written: places, numbers, marks and tables.

use serde::Deserialize;
use toml::Spanned;

use crate::quantity::{Decimal, Unit};
use crate::reading::Quantity;

/// A reading that a frame gives.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// Only in answers to this message.
    pub answer_to: Option<Spanned<String>>,
    /// The characteristic whose value it reads, of a Bluetooth meter.
    pub of: Option<Spanned<String>>,
    /// Of what.
    pub quantity: Quantity,
    /// The unit, when the frame does not say.
    #[serde(default = "ohm")]
    pub unit: Unit,
    /// Units that the frame may say; without it only `unit`.
    #[serde(default)]
    pub units: Vec<Unit>,
    /// Where the number stands and how it is written.
    pub value: Value,
    /// A power of ten.
    pub exponent: Option<Exponent>,
    /// What else says something about it.
    #[serde(default)]
    pub marks: Vec<Mark>,
    /// The range's full scale in base units, if it is always the same.
    pub full_scale: Option<Decimal>,
    /// What is over-range.
    #[serde(default)]
    pub over: Over,
    /// What is no result.
    #[serde(default)]
    pub nothing: Nothing,
}

/// Where a number stands and how it is written.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Value {
    /// Text.
    Number {
        /// How prefix and unit are written.
        #[serde(default)]
        suffix: Suffix,
        /// The decimal mark.
        #[serde(default)]
        point: Point,
        /// Which field of the line, from 1; without it the whole.
        field: Option<u8>,
        /// What separates fields.
        separator: Option<char>,
        /// The first byte, in columns; without it the whole.
        at: Option<i32>,
        /// How many bytes from there.
        length: Option<usize>,
    },
    /// A binary integer.
    Int(Int),
    /// A binary float of IEEE 754.
    Float {
        /// The first byte.
        at: i32,
        /// 4 or 8.
        #[serde(default = "four")]
        bytes: usize,
        /// The order of bytes and words.
        #[serde(default)]
        order: Order,
        /// How many significant digits a display would show.
        digits: Option<u8>,
        /// How many places behind the point a display would show.
        decimals: Option<u8>,
    },
    /// Two decimal digits a byte.
    Bcd {
        /// The first byte.
        at: i32,
        /// How many digits.
        nibbles: u8,
        /// The order of bytes.
        #[serde(default)]
        order: Order,
    },
    /// A byte a digit.
    Digits {
        /// The first byte.
        at: i32,
        /// How many digits.
        count: u8,
        /// The byte that means 0: 48 for text.
        #[serde(default = "ascii_zero")]
        zero: u8,
        /// 10 or 16.
        #[serde(default = "ten")]
        base: u8,
        /// The order of digits.
        #[serde(default)]
        order: Order,
    },
    /// Segments of a display.
    Segments {
        /// For each digit, the bits of its segments a to g.
        digits: Vec<[u16; 7]>,
        /// The bits of the points between digits.
        #[serde(default)]
        points: Vec<u16>,
        /// The bit of the minus sign.
        minus: Option<u16>,
    },
}

/// A binary integer.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Int {
    /// The first byte.
    pub at: i32,
    /// 1 to 8.
    pub bytes: usize,
    /// The order of bytes and words.
    #[serde(default)]
    pub order: Order,
    /// Whether it is signed.
    #[serde(default)]
    pub signed: bool,
    /// Added to it: −128 for an exponent with that bias.
    #[serde(default)]
    pub bias: i32,
}

/// The order of bytes and words.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Order {
    /// ABCD.
    #[default]
    Big,
    /// DCBA.
    Little,
    /// CDAB: the words change places.
    BigSwapped,
    /// BADC: the bytes of each word change places.
    LittleSwapped,
}

/// How prefix and unit are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Suffix {
    /// Not at all.
    #[default]
    None,
    /// As on a display: case decides.
    Display,
    /// As IEEE 488.2: case means nothing, `MOHM` is mega.
    Scpi,
}

/// The decimal mark.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each name is its own mark")]
pub enum Point {
    #[default]
    Point,
    Comma,
}

/// A power of ten.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Exponent {
    /// Always the same.
    Fixed(i8),
    /// From the frame.
    From(Source),
}

/// Where a code stands.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Source {
    /// A binary integer.
    Int(Int),
    /// Some bits, the first one counts 1, the next 2. Bit 0 is the lowest of byte 0, bit 8 the lowest of byte 1.
    Bits(Vec<u16>),
    /// Bytes of text.
    Word {
        /// The first byte.
        at: i32,
        /// How many.
        length: usize,
    },
    /// A field of a line.
    Field {
        /// Which, from 1.
        field: u8,
        /// What separates fields.
        separator: char,
    },
}

/// A code that is looked up.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// Where it stands.
    pub from: Source,
    /// The table it is looked up in.
    pub table: Spanned<String>,
}

/// An entry of a table: codes, and what they mean.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Codes that are numbers.
    #[serde(default)]
    pub is: Vec<i64>,
    /// Codes that are words, compared as written after spaces are cut.
    #[serde(default)]
    pub word: Vec<String>,
    /// A power of ten.
    #[serde(default)]
    pub exponent: i8,
    /// A prefix that the display shows: also a power of ten.
    pub prefix: Option<String>,
    /// The unit.
    pub unit: Option<Unit>,
    /// Whether the number is negative.
    #[serde(default)]
    pub negative: bool,
    /// Whether it is over-range.
    #[serde(default)]
    pub over: bool,
    /// Whether it is no result.
    #[serde(default)]
    pub nothing: bool,
    /// Flags.
    #[serde(default)]
    pub flags: Vec<Spanned<String>>,
    /// The range's full scale in base units.
    pub full_scale: Option<Decimal>,
    /// Why such a frame is refused.
    pub reject: Option<String>,
}

/// What is over-range.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Over {
    /// Words.
    #[serde(default)]
    pub words: Vec<String>,
    /// Any magnitude from here on, written `9.9E37`.
    pub at_least: Option<String>,
    /// `>` before a number: more than that.
    #[serde(default)]
    pub beyond: bool,
    /// A binary count from here on.
    pub maximum: Option<i64>,
    /// A bit.
    pub bit: Option<u16>,
    /// A digit that is none.
    #[serde(default)]
    pub non_digit: bool,
    /// An infinite float.
    #[serde(default)]
    pub infinity: bool,
}

/// What is no result.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Nothing {
    /// Words.
    #[serde(default)]
    pub words: Vec<String>,
    /// Exactly this number, written `9.91E37`.
    pub equals: Option<String>,
    /// A float that is not a number.
    #[serde(default)]
    pub nan: bool,
}

const fn four() -> usize {
    4
}

const fn ten() -> u8 {
    10
}

const fn ascii_zero() -> u8 {
    b'0'
}

const fn ohm() -> Unit {
    Unit::Ohm
}
