//! For the owner of a motor: one page in plain words, without figures.
//!
//! It says less than the report and nothing else: each sentence stands for a
//! verdict of a row, and what was not measured or not decided is said as such.

use super::full::{by_asset, sealed};
use super::job::day;
use super::points::{Stands, points};
use super::{Block, Job, Paper, Shop, Size};
use crate::report::blank;
use crate::row::{Finding, JobOutcome, Verdict};

/// Jobs before the last that a page has room for (own).
const BEFORE: usize = 4;

/// A page for each asset: its last job, and in a line each those before it.
pub fn customer(jobs: &[Job], shop: &Shop, size: Size) -> Paper {
    let mut blocks = Vec::new();
    let groups = by_asset(jobs);
    for group in &groups {
        if !blocks.is_empty() {
            blocks.push(Block::Break);
        }
        if let [before @ .., last] = group.as_slice() {
            page(&mut blocks, before, last);
        }
    }
    let names: Vec<&str> = groups.iter().map(|group| group[0].asset()).collect();
    Paper {
        title: format!("Your motor: {}", names.join(", ")),
        foot: names.join(", "),
        size,
        shop: shop.clone(),
        blocks,
    }
}

fn page(blocks: &mut Vec<Block>, before: &[&Job], job: &Job) {
    blocks.push(Block::Title {
        words: format!("Your motor {}", job.asset()),
        under: format!(
            "{}; measured on {} by {}",
            job.motor(),
            day(job.begun()),
            blank(job.tester())
        ),
    });
    blocks.push(Block::Banner(String::from(outcome(job))));
    blocks.extend(job.short().map(Block::Banner));
    let list = |items: Vec<String>| Block::List {
        title: String::new(),
        items,
    };
    blocks.push(Block::Head(String::from("What was found")));
    blocks.push(list(found(job)));
    blocks.push(Block::Head(String::from("What it means")));
    blocks.push(Block::Text(String::from(means(job))));
    blocks.push(Block::Head(String::from("What to do next")));
    blocks.push(list(next(job).into_iter().map(String::from).collect()));
    if !before.is_empty() {
        blocks.push(Block::Head(String::from("Measured before")));
        let line = |job: &&Job| format!("{} ({}): {}", day(job.begun()), job.stage(), outcome(job));
        let newest = before.iter().rev().take(BEFORE).map(line);
        blocks.push(list(newest.collect()));
    }
    blocks.push(Block::Head(String::from("What was not looked at")));
    blocks.push(Block::Text(String::from(
        "These measurements are made with the motor switched off. They do not show weak spots between neighbouring turns of a winding, worn bearings or a damaged rotor. A motor that measures well may still have one of these.",
    )));
    if let Some(seal) = sealed(job) {
        blocks.push(Block::Text(format!(
            "The full report is job {}; its mark in our records is {}.",
            job.name, seal.text
        )));
    }
}

/// Whether the job stands and found nothing.
fn stands(job: &Job) -> bool {
    job.warning().is_none()
}

fn outcome(job: &Job) -> &'static str {
    match job.outcome() {
        _ if !job.back_after().is_empty() => {
            "DO NOT ENERGIZE, do not switch it on: a measurement was taken back afterwards, so it has to be measured again"
        }
        _ if job.overtaken().is_some() => {
            "DO NOT ENERGIZE, do not switch it on: a measurement was judged again afterwards and does not pass"
        }
        Some(JobOutcome::NoFaultFound) if stands(job) => "No fault was found by these measurements",
        Some(JobOutcome::FaultFound) => "DO NOT ENERGIZE, do not switch it on: a fault was found",
        Some(JobOutcome::Undecided) => {
            "DO NOT ENERGIZE, do not switch it on: the measurements do not decide"
        }
        Some(JobOutcome::Incomplete) => {
            "DO NOT ENERGIZE, do not switch it on: not everything was measured"
        }
        _ => "DO NOT ENERGIZE, do not switch it on: the measurements are not finished",
    }
}

/// What a customer knows of a test.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    Windings,
    Leak,
    Insulation,
}

impl Part {
    const ALL: [Self; 3] = [Self::Windings, Self::Leak, Self::Insulation];

    fn of(stands: &Stands) -> Option<Self> {
        match stands.test.as_str() {
            _ if stands.point == "contact" => None,
            "winding" => Some(Self::Windings),
            "ground" => Some(Self::Leak),
            "insulation" | "ratio" => Some(Self::Insulation),
            _ => None,
        }
    }
}

/// A sentence for each part, from its worst verdict.
fn found(job: &Job) -> Vec<String> {
    let points = points(job);
    let said = Part::ALL.into_iter().map(|part| {
        let own = points.iter().filter(|s| Part::of(s) == Some(part));
        let judged: Vec<(Verdict, Option<Finding>)> =
            own.filter_map(|s| Some((s.verdict?, s.finding))).collect();
        let worst = judged.iter().map(|(verdict, _)| *verdict).min();
        // Where the rest passed, what was not judged is said behind it; it is
        // not needed where the whole job found nothing.
        let passed = judged.iter().any(|(verdict, _)| *verdict == Verdict::Pass);
        let partly = worst == Some(Verdict::NotJudged) && passed;
        let worst = if partly { Some(Verdict::Pass) } else { worst };
        let rest = if partly && job.outcome() != Some(JobOutcome::NoFaultFound) {
            " Not all of that was judged."
        } else {
            ""
        };
        let is = |finding| judged.contains(&(Verdict::Fail, Some(finding)));
        let sentence = match (part, worst) {
            (Part::Windings, Some(Verdict::Fail)) if is(Finding::Open) => {
                "A winding, the wire coils inside the motor, is broken or not connected."
            }
            (Part::Windings, Some(Verdict::Fail)) if is(Finding::Unbalanced) => {
                "The windings, the wire coils inside the motor, differ from each other more than they may."
            }
            (Part::Windings, Some(Verdict::Fail)) => {
                "A winding, one of the wire coils inside the motor, does not measure as it should."
            }
            (Part::Windings, Some(Verdict::Undecided)) => {
                "The windings, the wire coils inside the motor: the measurement does not decide."
            }
            (Part::Windings, Some(Verdict::Pass)) => {
                "The windings, the wire coils inside the motor, measure as they should."
            }
            (Part::Windings, _) => {
                "The windings, the wire coils inside the motor, were not judged."
            }
            (Part::Leak, Some(Verdict::Fail)) => {
                "Current can leak from the windings to the metal of the motor. That is dangerous to touch."
            }
            (Part::Leak, Some(Verdict::Undecided)) => {
                "Whether current can leak to the metal of the motor could not be decided."
            }
            (Part::Leak, Some(Verdict::Pass)) => {
                "A first check at low voltage saw no leak from the windings to the metal of the motor."
            }
            (Part::Leak, _) => "Leaks to the metal of the motor were not judged.",
            (Part::Insulation, Some(Verdict::Fail)) => {
                "The insulation, which keeps current inside the wires, is worse than it may be."
            }
            (Part::Insulation, Some(Verdict::Undecided)) => {
                "The insulation, which keeps current inside the wires: the measurement does not decide."
            }
            (Part::Insulation, Some(Verdict::Pass)) => {
                "The insulation, which keeps current inside the wires, measures above its minimum."
            }
            (Part::Insulation, _) => {
                "The insulation, which keeps current inside the wires, was not judged."
            }
        };
        format!("{sentence}{rest}")
    });
    said.collect()
}

fn means(job: &Job) -> &'static str {
    match job.outcome() {
        Some(JobOutcome::NoFaultFound) if stands(job) => {
            "These measurements found nothing wrong. That does not prove that the motor is sound: some faults do not show this way."
        }
        Some(JobOutcome::FaultFound) => {
            "The motor must not be switched on as it is. The fault may lie in the motor, its cable or its connections; the full report says what points where."
        }
        _ => {
            "Nothing can be concluded from these measurements yet. Until it is known, treat the motor as faulty."
        }
    }
}

fn next(job: &Job) -> Vec<&'static str> {
    let person =
        "Leave all work at its connections to a qualified person; local rules say who that is.";
    match job.outcome() {
        Some(JobOutcome::NoFaultFound) if stands(job) => vec![
            "If the motor gave trouble, the cause may lie elsewhere: in its supply, its control or what it drives. Have that looked at.",
            "Have a qualified person decide on what happens next, with the full report at hand.",
            person,
        ],
        Some(JobOutcome::FaultFound) => vec![
            "Keep the motor switched off and locked, so that nobody switches it on by mistake.",
            "Ask us what repair or replacement would mean.",
            "Have it measured again after any repair.",
            person,
        ],
        _ => vec![
            "Keep the motor switched off and locked, so that nobody switches it on by mistake.",
            "Have the missing or doubtful measurements made.",
            person,
        ],
    }
}
