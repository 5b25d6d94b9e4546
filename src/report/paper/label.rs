//! A label for a motor: what must be known beside it, and where the rest stands.

use super::full::sealed;
use super::job::day;
use super::points::{Stands, points};
use super::{Block, Job, Paper, Shop, Size, Tag};
use crate::judge::STANDING;
use crate::row::Verdict;

/// A label for each job, each a sheet of its own.
pub fn label(jobs: &[Job], shop: &Shop) -> Paper {
    let tags = jobs.iter().map(|job| Block::Tag(Box::new(tag(job))));
    let names: Vec<&str> = jobs.iter().map(|job| job.name.as_str()).collect();
    Paper {
        title: format!("Label {}", names.join(", ")),
        foot: String::new(),
        size: Size::Label,
        shop: shop.clone(),
        blocks: tags.collect(),
    }
}

fn tag(job: &Job) -> Tag {
    let (outcome, why) = match job.warning() {
        Some(words) => match words.split_once(": ") {
            Some((outcome, why)) => (outcome.to_owned(), because(job, why)),
            None => (words, String::new()),
        },
        None => (String::from("No fault found by these tests"), String::new()),
    };
    let short = job.short();
    Tag {
        asset: job.asset().to_owned(),
        under: format!(
            "{}; {}, {}, {}",
            job.motor(),
            job.stage(),
            day(job.begun()),
            job.name
        ),
        outcome,
        why,
        values: match (&job.unsound, &short) {
            (Some(_), _) => Vec::new(),
            (None, Some(_)) => values(job, 4),
            (None, None) => values(job, 6),
        },
        short,
        seal: sealed(job),
        standing: format!("{STANDING}."),
    }
}

/// What was measured, what is worst first: so many lines are there room for.
fn values(job: &Job, most: usize) -> Vec<String> {
    let mut stands: Vec<Stands> = points(job)
        .into_iter()
        .filter(Stands::is_of_motor)
        .collect();
    stands.sort_by_key(|s| s.verdict.unwrap_or(Verdict::NotJudged));
    let more = match stands.len() {
        all if all > most => all + 1 - most,
        _ => 0,
    };
    stands.truncate(stands.len() - more);
    let mut lines: Vec<String> = stands
        .iter()
        .map(|s| format!("{}: {} {}", s.place(), s.value, s.judged()).replace("  ", " "))
        .collect();
    if more > 0 {
        lines.push(format!("and {more} more: see the report"));
    }
    lines
}

/// What it came to, and why that forbids to energize; not the same twice.
fn because(job: &Job, why: &str) -> String {
    let came = job.came();
    // What was concluded before that does not stand.
    if why == came || job.overtaken().is_some() || job.unsound.is_some() {
        why.to_owned()
    } else {
        format!("{came}; {why}")
    }
}
