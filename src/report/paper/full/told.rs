//! What persons said, what it may mean, and who has reviewed it.

use super::super::job::{rows, when};
use super::super::points::place;
use super::super::{Block, Job};
use crate::report::later::Later;
use crate::report::{attested, blank, diagnoses, measures};
use crate::row::{Event, Recorded};

/// What persons said, what was left out or repeated, and what is missing.
pub(super) fn said(blocks: &mut Vec<Block>, job: &Job, later: &Later<'_>) {
    let spoken = job.rows.iter().filter(|r| {
        !measures(&r.row)
            && !matches!(
                r.row.event,
                Event::JobStart | Event::JobEnd | Event::Reviewed
            )
    });
    let items: Vec<String> = spoken.map(|r| word(later, r)).collect();
    if !items.is_empty() {
        let words = "What was said, left out, repeated or missing";
        blocks.push(Block::Head(String::from(words)));
        blocks.push(Block::List {
            title: String::new(),
            items,
        });
    }
}

fn word(later: &Later<'_>, recorded: &Recorded) -> String {
    let row = &recorded.row;
    let mut words = format!(
        "row {}: {}",
        recorded.seq,
        row.event.word().replace('_', " ")
    );
    if let Some(of) = row.of_seq {
        words += &format!(" of row {of}");
    }
    let says = match row.event {
        Event::Attested => attested(row),
        _ => row.reason.as_str(),
    };
    for part in [place(&row.test, &row.point).as_str(), &row.meter] {
        if !part.is_empty() {
            words += &format!(", {part}");
        }
    }
    for part in [says, &row.note] {
        if !part.is_empty() {
            words += &format!(": {part}");
        }
    }
    if let Some(by) = later.back.get(&recorded.seq) {
        words += &format!(" (withdrawn in row {}: {})", by.seq, by.row.reason);
    }
    words
}

/// What it may mean: what to mind stands before any step.
pub(super) fn meaning(blocks: &mut Vec<Block>, job: &Job) {
    let found = job.end().map(|end| diagnoses(&end.row)).unwrap_or_default();
    if found.is_empty() {
        return;
    }
    blocks.push(Block::Head(String::from("What it may mean")));
    let mut minded: Vec<String> = Vec::new();
    for caution in found.iter().flat_map(|d| &d.cautions) {
        if !minded.contains(caution) {
            minded.push(caution.clone());
        }
    }
    if !minded.is_empty() {
        blocks.push(Block::List {
            title: String::from("Mind, before any step"),
            items: minded,
        });
    }
    for diagnosis in found {
        blocks.push(Block::Sub(diagnosis.says.replace('_', " ")));
        let from = rows(&diagnosis.rows);
        blocks.push(Block::Text(format!("From {from} ({}).", diagnosis.source)));
        for (title, items) in [
            ("May be", diagnosis.causes),
            ("Check next", diagnosis.next_checks),
        ] {
            if !items.is_empty() {
                blocks.push(Block::List {
                    title: String::from(title),
                    items,
                });
            }
        }
    }
}

pub(super) fn reviewed(blocks: &mut Vec<Block>, job: &Job, later: &Later<'_>) {
    let items: Vec<String> = job
        .rows
        .iter()
        .filter(|r| r.row.event == Event::Reviewed)
        .map(|r| {
            let at = when(r.row.recorded_at);
            format!("{}, {at}, {}", blank(&r.row.tester), word(later, r))
        })
        .collect();
    if !items.is_empty() {
        blocks.push(Block::Head(String::from("Reviewed")));
        blocks.push(Block::List {
            title: String::from("A review is words: it changes no verdict and clears nothing"),
            items,
        });
    }
}
