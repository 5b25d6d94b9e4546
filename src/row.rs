//! A row of the log: what happened, in the columns that are fixed.
//!
//! A row knows how to write itself as a CSV line up to the comma before its
//! chain, and how to read one back. It never knows the chain: the log adds
//! `seq` and `chain`, and nothing else.

use std::fmt::Write as _;

use serde::{Deserialize, Serialize};

use crate::limits::{Acceptance, words};
use crate::quantity::{Decimal, Unit};
use crate::reading::Method;
use crate::stamp::Wall;

words! {
    /// What a row says happened.
    Event {
        /// A value was taken.
        Value = "value",
        /// Over-range was taken.
        Open = "open",
        /// Beyond the top range at a hold's mark.
        OverRange = "over_range",
        /// A hold ended before its mark.
        Aborted = "aborted",
        /// A verdict on an earlier row, or on several.
        Judged = "judged",
        /// A person's word.
        Attested = "attested",
        /// Something is missing here.
        Gap = "gap",
        /// The clock stepped.
        Clock = "clock",
        /// An earlier row does not count any more.
        Withdrawn = "withdrawn",
        /// Words.
        Note = "note",
        /// A reviewer's word.
        Reviewed = "reviewed",
        /// A meter was proven on known resistors.
        Proved = "proved",
        /// The program began to listen.
        RunStart = "run_start",
        /// The program stopped.
        RunEnd = "run_end",
        /// A job begins.
        JobStart = "job_start",
        /// A job ends.
        JobEnd = "job_end",
        /// A capture file is whole; its digest is in the note.
        CaptureEnd = "capture_end",
        /// A capture file was deleted.
        Expired = "expired",
    }
}

words! {
    /// What a value is judged to be. Ordered: the worst first.
    Verdict {
        /// It does not meet what it must.
        Fail = "fail",
        /// It cannot be said.
        Undecided = "undecided",
        /// There is nothing to judge it by.
        NotJudged = "not_judged",
        /// It meets what it must.
        Pass = "pass",
    }
}

words! {
    /// Why, in one word.
    #[expect(missing_docs, reason = "the table of test, case, verdict and finding in DEVELOPERS.md says what each means")]
    Finding {
        Within = "within",
        Low = "low",
        High = "high",
        Open = "open",
        ToGround = "to_ground",
        BelowMinimum = "below_minimum",
        NoFaultSeen = "no_fault_seen",
        AboveRange = "above_range",
        Unbalanced = "unbalanced",
        SumMismatch = "sum_mismatch",
        LeadsMixed = "leads_mixed",
        RangeSuspect = "range_suspect",
        Unstable = "unstable",
        NullSuspect = "null_suspect",
        LimitsTooNarrow = "limits_too_narrow",
        LeadsUnproven = "leads_unproven",
        ContactUnproven = "contact_unproven",
        GroundPathUnproven = "ground_path_unproven",
        VoltagePresent = "voltage_present",
        TestForbidden = "test_forbidden",
        WrongTestVoltage = "wrong_test_voltage",
        Changed = "changed",
        Shorted = "shorted",
    }
}

words! {
    /// What a job came to, worst first.
    JobOutcome {
        /// Something failed.
        FaultFound = "fault_found",
        /// Something cannot be said.
        Undecided = "undecided",
        /// Something is missing.
        Incomplete = "incomplete",
        /// These tests found nothing; they cannot show everything.
        NoFaultFound = "no_fault_found",
    }
}

/// The columns of the log, in order; `seq` and `chain` are the log's own.
pub const COLUMNS: [&str; 41] = [
    "seq",
    "recorded_at",
    "event",
    "of_seq",
    "bench",
    "meter",
    "protocol",
    "job",
    "tester",
    "asset",
    "motor",
    "test",
    "point",
    "shown",
    "value",
    "unit",
    "value_ohms",
    "resolution_ohms",
    "method",
    "samples",
    "window_s",
    "spread_ohms",
    "elapsed_s",
    "test_voltage_v",
    "leakage_a",
    "temperature_c",
    "leads_ohms",
    "cable_ohms",
    "judged_ohms",
    "lower_ohms",
    "upper_ohms",
    "limits_from",
    "acceptance",
    "uncertainty_ohms",
    "verdict",
    "finding",
    "reason",
    "capture",
    "capture_offset",
    "note",
    "chain",
];

/// A row before the log gives it its `seq` and chain. An empty field is an empty cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(
    missing_docs,
    reason = "each field is the column of its name, described in README"
)]
pub struct Row {
    pub recorded_at: Wall,
    pub event: Event,
    pub of_seq: Option<u64>,
    pub bench: String,
    pub meter: String,
    pub protocol: String,
    pub job: String,
    pub tester: String,
    pub asset: String,
    pub motor: String,
    pub test: String,
    pub point: String,
    pub shown: String,
    pub value: Option<Decimal>,
    pub unit: Option<Unit>,
    pub value_ohms: Option<Decimal>,
    pub resolution_ohms: Option<Decimal>,
    pub method: Option<Method>,
    pub samples: Option<u32>,
    pub window_s: Option<Decimal>,
    pub spread_ohms: Option<Decimal>,
    pub elapsed_s: Option<Decimal>,
    pub test_voltage_v: Option<Decimal>,
    pub leakage_a: Option<Decimal>,
    pub temperature_c: Option<Decimal>,
    pub leads_ohms: Option<Decimal>,
    pub cable_ohms: Option<Decimal>,
    pub judged_ohms: Option<Decimal>,
    pub lower_ohms: Option<Decimal>,
    pub upper_ohms: Option<Decimal>,
    pub limits_from: String,
    pub acceptance: Option<Acceptance>,
    pub uncertainty_ohms: Option<Decimal>,
    pub verdict: Option<Verdict>,
    pub finding: Option<Finding>,
    pub reason: String,
    pub capture: String,
    pub capture_offset: Option<u64>,
    pub note: String,
}

/// A row as it stands in the log.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Recorded {
    /// Its number.
    pub seq: u64,
    /// What it says.
    pub row: Row,
    /// Its chain: 32 hexadecimal digits.
    pub chain: String,
}

/// Why a line is not a row.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RowError {
    /// The wrong number of cells.
    #[error("expected 41 cells, found {found}")]
    Cells {
        /// How many.
        found: usize,
    },
    /// A cell that does not read.
    #[error("column {column}: {found:?} is not {expected}")]
    Cell {
        /// The column's name.
        column: &'static str,
        /// What would be right.
        expected: &'static str,
        /// What stands there.
        found: String,
    },
}

impl Row {
    /// An empty row of an event.
    pub fn new(event: Event, recorded_at: Wall) -> Self {
        Self {
            recorded_at,
            event,
            of_seq: None,
            bench: String::new(),
            meter: String::new(),
            protocol: String::new(),
            job: String::new(),
            tester: String::new(),
            asset: String::new(),
            motor: String::new(),
            test: String::new(),
            point: String::new(),
            shown: String::new(),
            value: None,
            unit: None,
            value_ohms: None,
            resolution_ohms: None,
            method: None,
            samples: None,
            window_s: None,
            spread_ohms: None,
            elapsed_s: None,
            test_voltage_v: None,
            leakage_a: None,
            temperature_c: None,
            leads_ohms: None,
            cable_ohms: None,
            judged_ohms: None,
            lower_ohms: None,
            upper_ohms: None,
            limits_from: String::new(),
            acceptance: None,
            uncertainty_ohms: None,
            verdict: None,
            finding: None,
            reason: String::new(),
            capture: String::new(),
            capture_offset: None,
            note: String::new(),
        }
    }

    /// Appends the line up to and including the comma before `chain`.
    pub fn write(&self, seq: u64, out: &mut String) {
        number(out, Some(seq));
        out.push_str(&self.recorded_at.rfc3339());
        out.push(',');
        word(out, Some(self.event.word()));
        number(out, self.of_seq);
        for cell in [
            &self.bench,
            &self.meter,
            &self.protocol,
            &self.job,
            &self.tester,
            &self.asset,
            &self.motor,
            &self.test,
            &self.point,
            &self.shown,
        ] {
            quoted(out, cell);
        }
        number(out, self.value);
        word(out, self.unit.map(Unit::word));
        number(out, self.value_ohms);
        number(out, self.resolution_ohms);
        word(out, self.method.map(Method::word));
        number(out, self.samples);
        for cell in [
            self.window_s,
            self.spread_ohms,
            self.elapsed_s,
            self.test_voltage_v,
            self.leakage_a,
            self.temperature_c,
            self.leads_ohms,
            self.cable_ohms,
            self.judged_ohms,
            self.lower_ohms,
            self.upper_ohms,
        ] {
            number(out, cell);
        }
        quoted(out, &self.limits_from);
        word(out, self.acceptance.map(Acceptance::word));
        number(out, self.uncertainty_ohms);
        word(out, self.verdict.map(Verdict::word));
        word(out, self.finding.map(Finding::word));
        quoted(out, &self.reason);
        quoted(out, &self.capture);
        number(out, self.capture_offset);
        quoted(out, &self.note);
    }
}

fn number(out: &mut String, value: Option<impl core::fmt::Display>) {
    if let Some(value) = value {
        // Writing to a String cannot fail.
        _ = write!(out, "{value}");
    }
    out.push(',');
}

fn word(out: &mut String, value: Option<&str>) {
    out.push_str(value.unwrap_or_default());
    out.push(',');
}

/// Appends a cell and its comma. RFC 4180: quoted when it holds a comma, a quote or a line break.
pub fn quoted(out: &mut String, cell: &str) {
    if cell.contains([',', '"', '\n', '\r']) {
        out.push('"');
        for piece in cell.split_inclusive('"') {
            out.push_str(piece);
            if piece.ends_with('"') {
                out.push('"');
            }
        }
        out.push('"');
    } else {
        out.push_str(cell);
    }
    out.push(',');
}

impl Recorded {
    /// Reads the cells of one line of the log.
    ///
    /// # Errors
    /// The wrong number of cells, or a cell that does not read; the chain is
    /// not checked here.
    pub fn from_cells<'a>(cells: impl Iterator<Item = &'a str>) -> Result<Self, RowError> {
        let cells: Vec<&str> = cells.collect();
        if cells.len() != COLUMNS.len() {
            return Err(RowError::Cells { found: cells.len() });
        }
        let mut at = Cells {
            cells: &cells,
            next: 0,
        };
        let seq = at.needed("a whole number", |c| c.parse().ok())?;
        let row = Row {
            recorded_at: at.needed("a date and time", Wall::parse)?,
            event: at.needed("an event", Event::from_word)?,
            of_seq: at.parsed()?,
            bench: at.text(),
            meter: at.text(),
            protocol: at.text(),
            job: at.text(),
            tester: at.text(),
            asset: at.text(),
            motor: at.text(),
            test: at.text(),
            point: at.text(),
            shown: at.text(),
            value: at.parsed()?,
            unit: at.optional("a unit", unit)?,
            value_ohms: at.parsed()?,
            resolution_ohms: at.parsed()?,
            method: at.optional("a method", method)?,
            samples: at.parsed()?,
            window_s: at.parsed()?,
            spread_ohms: at.parsed()?,
            elapsed_s: at.parsed()?,
            test_voltage_v: at.parsed()?,
            leakage_a: at.parsed()?,
            temperature_c: at.parsed()?,
            leads_ohms: at.parsed()?,
            cable_ohms: at.parsed()?,
            judged_ohms: at.parsed()?,
            lower_ohms: at.parsed()?,
            upper_ohms: at.parsed()?,
            limits_from: at.text(),
            acceptance: at.optional("simple or guarded", Acceptance::from_word)?,
            uncertainty_ohms: at.parsed()?,
            verdict: at.optional("a verdict", Verdict::from_word)?,
            finding: at.optional("a finding", Finding::from_word)?,
            reason: at.text(),
            capture: at.text(),
            capture_offset: at.parsed()?,
            note: at.text(),
        };
        Ok(Self {
            seq,
            row,
            chain: at.text(),
        })
    }

    /// Reads one CSV line, with or without its line end.
    ///
    /// # Errors
    /// As [`Recorded::from_cells`]; text that is not CSV has the wrong number of cells.
    pub fn from_line(line: &str) -> Result<Self, RowError> {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .from_reader(line.as_bytes());
        match reader.records().next() {
            Some(Ok(record)) => Self::from_cells(record.iter()),
            Some(Err(_)) | None => Err(RowError::Cells { found: 0 }),
        }
    }
}

struct Cells<'a> {
    cells: &'a [&'a str],
    next: usize,
}

impl<'a> Cells<'a> {
    fn cell(&mut self) -> (&'static str, &'a str) {
        let at = self.next;
        self.next += 1;
        (COLUMNS[at], self.cells[at])
    }

    fn text(&mut self) -> String {
        self.cell().1.to_owned()
    }

    fn needed<T>(
        &mut self,
        expected: &'static str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Result<T, RowError> {
        let (column, found) = self.cell();
        read(found).ok_or_else(|| RowError::Cell {
            column,
            expected,
            found: found.to_owned(),
        })
    }

    fn optional<T>(
        &mut self,
        expected: &'static str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Result<Option<T>, RowError> {
        if self.cells[self.next].is_empty() {
            self.next += 1;
            return Ok(None);
        }
        self.needed(expected, read).map(Some)
    }

    fn parsed<T: core::str::FromStr>(&mut self) -> Result<Option<T>, RowError> {
        self.optional("a plain number", |c| c.parse().ok())
    }
}

/// A unit by its word in the log.
pub(crate) fn unit(word: &str) -> Option<Unit> {
    use Unit::{Ampere, Celsius, Fahrenheit, Ohm, Percent, Ratio, Second, Siemens, Volt};
    [
        Ohm, Volt, Ampere, Siemens, Celsius, Fahrenheit, Second, Percent, Ratio,
    ]
    .into_iter()
    .find(|u| u.word() == word)
}

/// A method by its word in the log.
pub(crate) fn method(word: &str) -> Option<Method> {
    use Method::{Drifting, Manual, Steady, Timed};
    [Steady, Drifting, Timed, Manual]
        .into_iter()
        .find(|m| m.word() == word)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_header_is_the_fixed_one() {
        assert_eq!(
            COLUMNS.join(","),
            "seq,recorded_at,event,of_seq,bench,meter,protocol,job,tester,asset,motor,test,point,shown,value,unit,value_ohms,resolution_ohms,method,samples,window_s,spread_ohms,elapsed_s,test_voltage_v,leakage_a,temperature_c,leads_ohms,cable_ohms,judged_ohms,lower_ohms,upper_ohms,limits_from,acceptance,uncertainty_ohms,verdict,finding,reason,capture,capture_offset,note,chain"
        );
    }

    proptest! {
        #[test]
        fn a_row_reads_back_whatever_its_words(seq in any::<u64>(), reason in "[^\u{0}]{0,40}", note in "[a-z\",\r\n]{0,20}", count in -999_999i64..999_999, exp in -9i8..=0) {
            let mut row = Row::new(Event::Value, Wall(1_700_000_000_123_000_000));
            row.reason = reason;
            row.note = note;
            row.value = Decimal::new(count, exp).ok();
            row.unit = Some(Unit::Ohm);
            row.method = Some(Method::Steady);
            row.verdict = Some(Verdict::Undecided);
            row.of_seq = Some(7);
            let mut line = String::new();
            row.write(seq, &mut line);
            line.push_str("00");
            prop_assert_eq!(Recorded::from_line(&line), Ok(Recorded { seq, row, chain: "00".into() }));
        }
    }
}
