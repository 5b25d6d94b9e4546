//! Diagnosis: what the points of a whole job mean together.
//!
//! A pattern is a small function from [`Whole`] to hits, each with the rows it
//! rests on; what a hit means stands in `texts`, in one table. A slipped clip,
//! a wrong range or mixed leads come before a costly conclusion and silence
//! the ones that rest on the same rows. Nothing here changes a verdict.

mod facts;
mod grounds;
mod measuring;
mod texts;
mod windings;

use crate::limits::{Electronics, MeasuredAt, Motor};
use crate::quantity::Celsius;
use crate::view::Diagnosis;

pub use facts::Facts;
#[cfg(test)]
pub(super) use texts::texts as table;
use texts::{Class, Meaning, texts};

/// Everything that a job is diagnosed by.
#[derive(Clone, Copy, Debug)]
pub struct Whole<'a> {
    /// What its rows said.
    pub facts: &'a Facts,
    /// The motor.
    pub motor: &'a Motor,
    /// Where the clips were.
    pub measured_at: MeasuredAt,
    /// The winding's temperature, if it was entered.
    pub temperature: Option<Celsius>,
    /// Whether the cable's resistance is known.
    pub cable_known: bool,
}

/// A pattern that was seen.
#[derive(Clone, Debug)]
struct Hit {
    /// Its name in the table.
    name: &'static str,
    /// What is special about it here: which lead, how many times.
    detail: String,
    /// The rows that it rests on.
    rows: Vec<u64>,
}

impl Hit {
    fn new<'a>(name: &'static str, heard: impl IntoIterator<Item = &'a facts::Heard>) -> Self {
        let mut rows: Vec<u64> = heard.into_iter().map(|h| h.seq).collect();
        rows.sort_unstable();
        rows.dedup();
        Self {
            name,
            detail: String::new(),
            rows,
        }
    }

    fn saying(mut self, detail: impl Into<String>) -> Self {
        self.detail = detail.into();
        self
    }

    /// None without a row to rest on.
    fn seen(self) -> Option<Self> {
        (!self.rows.is_empty()).then_some(self)
    }
}

/// Looks for one pattern.
type Pattern = fn(&Whole<'_>) -> Option<Hit>;

/// What the job means, the first first: what can hurt, what must be measured
/// again before anything is concluded, special patterns, general ones. Empty
/// while nothing was measured that could mean something.
pub fn diagnose(whole: &Whole<'_>) -> Vec<Diagnosis> {
    let patterns = measuring::PATTERNS
        .iter()
        .chain(windings::PATTERNS)
        .chain(grounds::PATTERNS);
    let mut hits: Vec<(usize, &Meaning, Hit)> = patterns
        .filter_map(|pattern| {
            let hit = pattern(whole)?;
            let (place, meaning) = texts().enumerate().find(|(_, t)| t.name == hit.name)?;
            Some((place, meaning, hit))
        })
        .collect();
    // In a class the table stands in the order of rank.
    hits.sort_by_key(|(place, meaning, _)| (meaning.class, *place));
    let mut doubted: Vec<u64> = Vec::new();
    let mut explained: Vec<u64> = Vec::new();
    let mut said = Vec::new();
    let mut found = false;
    for (_, meaning, hit) in hits {
        let silent = match meaning.class {
            Class::Hurts | Class::Again | Class::Firm | Class::Caution => false,
            Class::Special => hit.rows.iter().any(|row| doubted.contains(row)),
            Class::General => hit.rows.iter().all(|row| explained.contains(row)),
        };
        if silent {
            continue;
        }
        found |= meaning.class != Class::Caution;
        match meaning.class {
            Class::Hurts | Class::Caution => {}
            Class::Again => {
                doubted.extend(&hit.rows);
                explained.extend(&hit.rows);
            }
            Class::Firm | Class::Special | Class::General => explained.extend(&hit.rows),
        }
        said.push(told(meaning, &hit));
    }
    if !found {
        said.extend(grounds::nothing_found(whole).map(|hit| told(texts::nothing_found(), &hit)));
    }
    said
}

fn told(meaning: &Meaning, hit: &Hit) -> Diagnosis {
    let owned = |lines: &[&str]| lines.iter().map(|l| (*l).to_owned()).collect();
    Diagnosis {
        name: meaning.name.to_owned(),
        says: if hit.detail.is_empty() {
            meaning.says.to_owned()
        } else {
            format!("{}: {}", meaning.says, hit.detail)
        },
        rows: hit.rows.clone(),
        causes: owned(meaning.causes),
        next_checks: owned(meaning.next_checks),
        cautions: owned(meaning.cautions),
        source: meaning.source.to_owned(),
    }
}

impl Whole<'_> {
    /// Whether a test voltage is out of the question or not yet allowed.
    fn has_electronics(&self) -> bool {
        self.motor.electronics != Electronics::No
    }

    /// Whether a cable is in that nobody subtracted.
    fn cable_is_in(&self) -> bool {
        self.measured_at == MeasuredAt::Panel && !self.cable_known
    }
}
