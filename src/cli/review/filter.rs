//! Which rows are asked about, from the command line; and how the log is gone through.

use std::path::PathBuf;
use std::sync::atomic::AtomicU64;

use crate::cli::Fail;
use crate::cli::data::log_of;
use crate::cli::progress::watched;
use crate::cli::table::Form;
use crate::log::scan::{Scan, Seen, column};
use crate::review::ask::filter::Filter;
use crate::review::ask::stages::Stages;
use crate::review::ask::words::words;
use crate::text::instead;

/// Which rows; a flag given twice means one or the other.
#[derive(Debug, clap::Args)]
pub(super) struct Which {
    /// The data folder
    #[arg(long, value_name = "DIR", default_value = "stillohm-data")]
    pub(super) data: PathBuf,
    /// Recorded at a date or after it (UTC): 2026-03, 2026-03-01
    #[arg(long, value_name = "DATE", help_heading = "Which rows")]
    since: Option<String>,
    /// Recorded at a date or before it; 2026-03 is meant to its end
    #[arg(long, value_name = "DATE", help_heading = "Which rows")]
    until: Option<String>,
    /// Of an asset
    #[arg(long, value_name = "A", help_heading = "Which rows")]
    asset: Vec<String>,
    /// Of a motor model
    #[arg(long, value_name = "M", help_heading = "Which rows")]
    model: Vec<String>,
    /// Of a job, such as J12
    #[arg(long, value_name = "J", help_heading = "Which rows")]
    job: Vec<String>,
    /// By a tester
    #[arg(long, value_name = "T", help_heading = "Which rows")]
    tester: Vec<String>,
    /// From a meter
    #[arg(long, value_name = "M", help_heading = "Which rows")]
    meter: Vec<String>,
    /// Of a test: winding, ground, insulation, …
    #[arg(long, value_name = "T", help_heading = "Which rows")]
    test: Vec<String>,
    /// Of a point: main, line_12, all_to_ground, …
    #[arg(long, value_name = "P", help_heading = "Which rows")]
    point: Vec<String>,
    /// With a verdict: pass, fail, undecided, not_judged
    #[arg(long, value_name = "V", help_heading = "Which rows")]
    verdict: Vec<String>,
    /// With a finding: low, below_minimum, …
    #[arg(long, value_name = "F", help_heading = "Which rows")]
    finding: Vec<String>,
    /// Of jobs of a stage: arrival, after_repair, installed, …
    #[arg(long, value_name = "S", help_heading = "Which rows")]
    stage: Vec<String>,
}

/// Which rows, and how the answer is printed: all that most questions need.
#[derive(Debug, clap::Args)]
pub(crate) struct Question {
    #[command(flatten)]
    pub(super) which: Which,
    #[command(flatten)]
    pub(super) form: Form,
}

impl Which {
    /// The log's files.
    pub(super) fn open(&self) -> Result<Scan, Fail> {
        Scan::open(&log_of(&self.data)?).map_err(unreadable)
    }

    /// The rows that are asked about.
    pub(super) fn filter(&self) -> Result<Filter, Fail> {
        let mut filter = self.of_any_meter()?;
        filter.one_of(column::METER, self.meter.iter().map(String::as_str));
        Ok(filter)
    }

    /// Whether a meter is asked about.
    pub(super) fn has_meter(&self, meter: &str) -> bool {
        self.meter.is_empty() || self.meter.iter().any(|m| m == meter)
    }

    /// The rows that are asked about, whatever meter they are from.
    pub(super) fn of_any_meter(&self) -> Result<Filter, Fail> {
        let mut filter = Filter::default();
        let wrong = |e| Fail::Asked(anyhow::Error::new(e));
        if let Some(since) = &self.since {
            filter.since(since).map_err(wrong)?;
        }
        if let Some(until) = &self.until {
            filter.until(until).map_err(wrong)?;
        }
        for (_, column, words) in self.named() {
            filter.one_of(column, words.iter().map(String::as_str));
        }
        Ok(filter)
    }

    /// What must stand in which cell, but for the meter: flag, column, words.
    fn named(&self) -> [(&'static str, usize, &[String]); 8] {
        [
            ("asset", column::ASSET, &self.asset),
            ("model", column::MOTOR, &self.model),
            ("job", column::JOB, &self.job),
            ("tester", column::TESTER, &self.tester),
            ("test", column::TEST, &self.test),
            ("point", column::POINT, &self.point),
            ("verdict", column::VERDICT, &self.verdict),
            ("finding", column::FINDING, &self.finding),
        ]
    }

    /// An answer is empty: a name that no row has is refused with those like
    /// it; else it is said that no row fits.
    #[expect(clippy::print_stderr, reason = "talk goes to stderr")]
    pub(super) fn nothing(&self, scan: &Scan) -> Result<(), Fail> {
        let meter = [("meter", column::METER, self.meter.as_slice())];
        for (flag, column, asked) in self.named().into_iter().chain(meter) {
            if asked.is_empty() {
                continue;
            }
            let there = words(scan, column).map_err(unreadable)?;
            if let Some(word) = asked.iter().find(|word| !there.contains(word)) {
                return Err(Fail::asked(format!(
                    "--{flag} {word:?} is in no row of {}; {}",
                    self.data.display(),
                    instead(word, there.iter().map(String::as_str))
                )));
            }
        }
        eprintln!(
            "stillohm: no row of {} fits all that is asked",
            self.data.display()
        );
        Ok(())
    }

    /// The stages of jobs, where they are asked about.
    pub(super) fn stages(&self, scan: &Scan, by_stage: bool) -> Result<Stages, Fail> {
        if !by_stage && self.stage.is_empty() {
            return Ok(Stages::default());
        }
        let stages = Stages::read(scan, &AtomicU64::new(0), self.stage.clone());
        let stages = stages.map_err(unreadable)?;
        let there = || stages.words.iter().map(String::as_str);
        match self
            .stage
            .iter()
            .find(|stage| !there().any(|word| word == *stage))
        {
            Some(stage) => Err(Fail::asked(format!(
                "--stage {stage:?} is of no job of {}; {}",
                self.data.display(),
                instead(stage, there())
            ))),
            None => Ok(stages),
        }
    }
}

/// The log cannot be read.
pub(super) fn unreadable(e: std::io::Error) -> Fail {
    Fail::Around(anyhow::Error::new(e).context("the log cannot be read"))
}

/// Goes through the log, and shows on a terminal how far it has come.
pub(super) fn gone_through<T>(
    scan: &Scan,
    work: impl FnOnce(&AtomicU64) -> std::io::Result<(T, Seen)>,
) -> Result<T, Fail> {
    let (found, seen) = watched("read", scan.bytes, work).map_err(unreadable)?;
    say_odd(&seen);
    Ok(found)
}

/// Says what was not as rows are; the answer leaves it out.
#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
pub(super) fn say_odd(seen: &Seen) {
    if let Some((file, seq)) = &seen.first_odd {
        eprintln!(
            "stillohm: {file}: something is wrong near row {seq} (lines that are no rows, or numbers out of order: {}); the answer may lack rows; run stillohm verify",
            seen.odd
        );
    }
}
