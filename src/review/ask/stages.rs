//! The stage of each job: it stands in the row that begins the job, not in the others.

use core::sync::atomic::AtomicU64;
use std::io;

use crate::log::scan::{Gather, Line, Scan, column, plain};

/// Stages of jobs, if they are asked about; else nothing.
#[derive(Clone, Debug, Default)]
pub struct Stages {
    /// Which words there are.
    /// All stages that there are.
    pub words: Vec<String>,
    /// A job's number and its word, by number.
    jobs: Vec<(u64, u8)>,
    /// Only jobs of these are asked about; none: all.
    only: Vec<String>,
}

impl Stages {
    /// Reads the stages of all jobs; only those of `only` are asked about, if it names any.
    ///
    /// # Errors
    /// The disk's own.
    pub fn read(scan: &Scan, done: &AtomicU64, only: Vec<String>) -> io::Result<Self> {
        let (mut stages, _) = scan.gather(done, Self::default)?;
        stages.jobs.sort_unstable();
        stages.only = only;
        Ok(stages)
    }

    /// The stage of a row's job; empty: not known.
    pub fn of(&self, line: &Line<'_>) -> &str {
        let number = job(line.cell(column::JOB));
        let at = number.and_then(|job| self.jobs.binary_search_by_key(&job, |(job, _)| *job).ok());
        at.map_or("", |at| &self.words[usize::from(self.jobs[at].1)])
    }

    /// Whether a row's job is of a stage that is asked about.
    pub fn hold(&self, line: &Line<'_>) -> bool {
        self.only.is_empty() || self.only.iter().any(|only| only == self.of(line))
    }

    fn word(&mut self, stage: &str) -> u8 {
        let at = self.words.iter().position(|word| word == stage);
        let at = at.unwrap_or_else(|| {
            self.words.push(stage.to_owned());
            self.words.len() - 1
        });
        // Stages are a closed set of a few words.
        u8::try_from(at).unwrap_or(u8::MAX)
    }
}

/// `J12` is 12.
pub(super) fn job(cell: &[u8]) -> Option<u64> {
    core::str::from_utf8(cell.strip_prefix(b"J")?)
        .ok()?
        .parse()
        .ok()
}

impl Gather for Stages {
    fn last_column(&self) -> usize {
        column::NOTE
    }

    fn wants(&self, event: &[u8]) -> bool {
        event == b"job_start"
    }

    fn row(&mut self, line: &Line<'_>) {
        #[derive(serde::Deserialize)]
        struct Plan {
            #[serde(default)]
            stage: String,
        }
        let note = plain(line.cell(column::NOTE));
        let plan = serde_json::from_slice::<Plan>(&note);
        if let (Some(job), Ok(plan)) = (job(line.cell(column::JOB)), plan) {
            let word = self.word(&plan.stage);
            self.jobs.push((job, word));
        }
    }

    fn take_back(&mut self, _: &Line<'_>) {}

    fn merge(&mut self, other: Self) {
        for (job, word) in other.jobs {
            let word = self.word(&other.words[usize::from(word)]);
            self.jobs.push((job, word));
        }
    }
}
