//! Jobs on paper: what a printed report, a customer's page and a label say, as
//! one value that is drawn as HTML or PDF.
//!
//! A renderer adds no words, so both say the same. Nothing is judged here,
//! nothing is said that the rows do not say, and nothing ever says that a motor
//! may be energized: whatever is not `no_fault_found` says DO NOT ENERGIZE.

mod customer;
mod full;
pub mod html;
mod job;
mod label;
pub mod pdf;
mod points;
pub mod qr;

use super::curve::Drawing;
use qr::Qr;

pub use customer::customer;
pub use full::full;
pub use job::Job;
pub use label::label;

/// The size of a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// 210 x 297 mm.
    A4,
    /// 8.5 x 11 inches.
    Letter,
    /// 100 x 60 mm.
    Label,
}

impl Size {
    /// Width and height in millimetres.
    pub const fn mm(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
            Self::Label => (100.0, 60.0),
        }
    }
}

/// Who measures, as the head of a report names them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shop {
    /// The name.
    pub name: String,
    /// The address, a line each.
    pub address: Vec<String>,
    /// The logo.
    pub logo: Option<Logo>,
}

/// A logo as its file holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Logo {
    /// A PNG file.
    Png(Vec<u8>),
    /// An SVG file.
    Svg(Vec<u8>),
}

/// Everything that a print says, in order.
#[derive(Clone, Debug, PartialEq)]
pub struct Paper {
    /// What the document is called.
    pub title: String,
    /// What stands at the foot of each page, beside its number.
    pub foot: String,
    /// The sheet.
    pub size: Size,
    /// Who measures.
    pub shop: Shop,
    /// What it says.
    pub blocks: Vec<Block>,
}

/// A part of a print.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// What it is about, at the head of a page.
    Title {
        /// In large letters.
        words: String,
        /// Below it.
        under: String,
    },
    /// Begins a section.
    Head(String),
    /// Begins a part of a section.
    Sub(String),
    /// What must not be missed.
    Banner(String),
    /// A paragraph.
    Text(String),
    /// A paragraph in larger letters.
    Large(String),
    /// Names with what they stand for.
    Facts(Vec<(String, String)>),
    /// Several things, a line each.
    List {
        /// What they are; may be empty.
        title: String,
        /// The things.
        items: Vec<String>,
    },
    /// Rows and columns.
    Table(Table),
    /// Traces of values.
    Traces(Vec<Picture>),
    /// Where the rows stand in the log.
    Seal(Seal),
    /// Room to sign, a line for each role.
    Sign(Vec<Signer>),
    /// A label: a sheet of its own.
    Tag(Box<Tag>),
    /// What follows begins a new page.
    Break,
}

/// Rows and columns.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows.
    pub rows: Vec<Line>,
}

/// A column.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Above it.
    pub title: String,
    /// How wide it is beside the others.
    pub share: f64,
    /// Whether what it holds are numbers.
    pub number: bool,
}

impl Column {
    fn words(title: impl Into<String>, share: f64) -> Self {
        Self {
            title: title.into(),
            share,
            number: false,
        }
    }

    fn numbers(title: impl Into<String>, share: f64) -> Self {
        Self {
            number: true,
            ..Self::words(title, share)
        }
    }
}

/// A row of a table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Line {
    /// A cell for each column.
    pub cells: Vec<String>,
    /// What stands below it across all columns.
    pub under: Vec<String>,
    /// Whether it does not count any more: struck through.
    pub struck: bool,
    /// Whether its last cell must not be missed.
    pub loud: bool,
}

/// A trace with its words.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// The number of its row.
    pub row: u64,
    /// Above it.
    pub caption: String,
    /// What is drawn.
    pub drawing: Drawing,
}

/// Where the rows of a job stand in the log: `SEQ:CHAIN`.
#[derive(Clone, Debug, PartialEq)]
pub struct Seal {
    /// As text.
    pub text: String,
    /// The same to be read by a machine.
    pub qr: Qr,
    /// What it is good for.
    pub words: String,
}

/// Who signs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signer {
    /// For what.
    pub role: String,
    /// The name, if it is known.
    pub name: String,
}

/// A label for a motor.
#[derive(Clone, Debug, PartialEq)]
pub struct Tag {
    /// The asset.
    pub asset: String,
    /// Motor, stage, day, job.
    pub under: String,
    /// What it came to, or that it must not be energized.
    pub outcome: String,
    /// Why.
    pub why: String,
    /// Until when the winding stays shorted, where a test voltage was on it.
    pub short: Option<String>,
    /// What was measured, a line each.
    pub values: Vec<String>,
    /// Where the rows stand in the log.
    pub seal: Option<Seal>,
    /// What these tests cannot show.
    pub standing: String,
}
