//! What pages ask over many rows, and what comes back: words and numbers,
//! without a picture. The wiring answers, since a page may not read the log for it.

use std::fmt::Debug;
use std::io;

use crate::log::scan::Beside;
use crate::row::Recorded;
use crate::stamp::Wall;

/// Which rows; all that is named must hold, what is empty is not asked about.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[expect(missing_docs, reason = "each field is what its name says, as typed")]
pub struct Which {
    pub since: String,
    pub until: String,
    pub asset: String,
    pub model: String,
    pub tester: String,
    pub meter: String,
    pub bench: String,
    pub test: String,
    pub point: String,
    pub verdict: String,
    pub finding: String,
    pub stage: String,
}

impl Which {
    /// Each field and what is typed there.
    pub fn fields(&self) -> [(&'static str, &String); 12] {
        [
            ("since", &self.since),
            ("until", &self.until),
            ("model", &self.model),
            ("asset", &self.asset),
            ("test", &self.test),
            ("point", &self.point),
            ("tester", &self.tester),
            ("meter", &self.meter),
            ("bench", &self.bench),
            ("verdict", &self.verdict),
            ("finding", &self.finding),
            ("stage", &self.stage),
        ]
    }

    /// A field by its name.
    pub fn field(&mut self, name: &str) -> Option<&mut String> {
        Some(match name {
            "since" => &mut self.since,
            "until" => &mut self.until,
            "asset" => &mut self.asset,
            "model" => &mut self.model,
            "tester" => &mut self.tester,
            "meter" => &mut self.meter,
            "bench" => &mut self.bench,
            "test" => &mut self.test,
            "point" => &mut self.point,
            "verdict" => &mut self.verdict,
            "finding" => &mut self.finding,
            "stage" => &mut self.stage,
            _ => return None,
        })
    }
}

crate::limits::words! {
    /// What rows are grouped by.
    By {
        /// The motor's model.
        Model = "model",
        /// The month of the record, UTC.
        Month = "month",
        /// Its year.
        Year = "year",
        /// Its day.
        Day = "day",
        /// The asset.
        Asset = "asset",
        /// The test.
        Test = "test",
        /// The point.
        Point = "point",
        /// Who measured.
        Tester = "tester",
        /// With which meter.
        Meter = "meter",
        /// At which bench.
        Bench = "bench",
        /// What was found.
        Finding = "finding",
        /// The stage that the job began with.
        Stage = "stage",
    }
}

/// An answer, and what was wrong with the log that it is from.
#[derive(Clone, Debug, PartialEq)]
pub struct Found<T> {
    /// The answer.
    pub of: T,
    /// Where the log is not as logs are; the answer may lack rows.
    pub odd: Option<String>,
}

/// Verdicts of a group.
#[derive(Clone, Debug, Default, PartialEq)]
#[expect(missing_docs, reason = "each field counts the verdict of its name")]
pub struct Counted {
    /// The group's words.
    pub names: Vec<String>,
    pub pass: u64,
    pub fail: u64,
    pub undecided: u64,
    pub not_judged: u64,
    /// The share that failed of what was judged, and its 95 % interval.
    pub share: Option<[f64; 3]>,
}

/// How values of one model and point lie, in ohms.
#[derive(Clone, Debug, PartialEq)]
pub struct Lie {
    /// How many.
    pub n: usize,
    /// The least, a quarter, the median, three quarters, the greatest.
    pub quarters: [f64; 5],
    /// As a standard deviation that outliers do not move.
    pub robust_sigma: f64,
    /// The limits of the newest row.
    pub limits: (Option<f64>, Option<f64>),
    /// Below them, within, above; none: there are no limits.
    pub against: Option<[usize; 3]>,
    /// How many lie from one edge to the next.
    pub bins: Vec<Bin>,
    /// Whether the edges are even by their logarithm.
    pub log: bool,
    /// Beyond the first edge, and beyond the last.
    pub beyond: [usize; 2],
}

/// Values between two edges, the first edge with it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// In ohms.
    pub from: f64,
    /// In ohms.
    pub to: f64,
    /// How many.
    pub n: usize,
}

/// A control chart.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// What it is of.
    pub name: String,
    /// `Ω` or `%`.
    pub unit: &'static str,
    /// The newest marks, in order.
    pub marks: Vec<Mark>,
    /// How many stand before them, and how many of these signal.
    pub earlier: [usize; 2],
    /// The limits, or why there are none.
    pub limits: Result<Control, String>,
}

/// The limits of a control chart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Control {
    /// The mean.
    pub center: f64,
    /// Three sigma below it.
    pub lower: f64,
    /// Three sigma above it.
    pub upper: f64,
    /// How many of the first values they come from.
    pub n: usize,
    /// Whether these are too few to rely on.
    pub provisional: bool,
}

/// A point of a control chart.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// When.
    pub at: Wall,
    /// The row, and its job.
    pub row: Option<(u64, Option<u64>)>,
    /// How many values it stands for.
    pub values: usize,
    /// In the chart's unit.
    pub value: f64,
    /// Which rules it breaks.
    pub signals: Vec<Rule>,
}

/// A rule of a control chart, as it is drawn and said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rule {
    /// One word.
    pub word: &'static str,
    /// In words.
    pub says: &'static str,
}

/// Insulation of one point over the years.
#[derive(Clone, Debug, PartialEq)]
pub struct Years {
    /// Which point.
    pub point: String,
    /// Days since 1970 and ohms at 40 °C.
    pub values: Vec<(f64, f64)>,
    /// Values without a temperature, which are left out.
    pub no_temperature: usize,
    /// Readings above the meter's range, which have no number.
    pub over_range: u64,
    /// In ohms.
    pub minimum: Option<f64>,
    /// The line through log10 of the ohms.
    pub line: Option<Line>,
    /// When the minimum is reached, or why that is not said.
    pub forecast: String,
}

/// A line that single bad points do not turn, with 95 % doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// A day and a log10 of ohms that all three go through.
    pub through: (f64, f64),
    /// Log10 a day: the line's, the least, the greatest.
    pub slopes: [f64; 3],
    /// Percent a year: the line's, the least, the greatest.
    pub percent_a_year: [f64; 3],
}

/// Rows with a verdict, the newest first.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rows {
    /// These.
    pub rows: Vec<Recorded>,
    /// How many older ones fit.
    pub older: u64,
}

/// Who answers. Each question may go through the whole log.
pub trait Reviews: Debug + Send + Sync {
    /// Whether words are a date, or the beginning of one; else why not.
    ///
    /// # Errors
    /// They are none.
    fn date(&self, words: &str) -> Result<(), String>;

    /// Verdicts by group, in the order of the groups.
    ///
    /// # Errors
    /// The disk's own, or it was stopped.
    fn counts(&self, which: &Which, by: &[By], beside: &Beside) -> io::Result<Found<Vec<Counted>>>;

    /// How values lie; of one model and point.
    ///
    /// # Errors
    /// The disk's own, or it was stopped.
    fn lie(&self, which: &Which, beside: &Beside) -> io::Result<Found<Option<Lie>>>;

    /// Values in their order; of one model and point.
    ///
    /// # Errors
    /// The disk's own, or it was stopped.
    fn chart(&self, which: &Which, beside: &Beside) -> io::Result<Found<Option<Course>>>;

    /// Each meter beside the others, week by week.
    ///
    /// # Errors
    /// The disk's own, or it was stopped.
    fn meters(&self, which: &Which, beside: &Beside) -> io::Result<Found<Vec<Course>>>;

    /// Insulation over the years; of one asset, a point each.
    ///
    /// # Errors
    /// The disk's own, or it was stopped.
    fn years(&self, which: &Which, beside: &Beside) -> io::Result<Found<Vec<Years>>>;

    /// Rows that are older than the row `before`, at most `most`.
    ///
    /// # Errors
    /// The disk's own, or it was stopped.
    fn rows(
        &self,
        which: &Which,
        before: Option<u64>,
        most: usize,
        beside: &Beside,
    ) -> io::Result<Found<Rows>>;
}
