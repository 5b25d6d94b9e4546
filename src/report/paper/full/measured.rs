//! What was measured: the table of rows with their terms, the rules, the
//! meters, the traces.

use super::super::job::when;
use super::super::points::{judged, place};
use super::super::{Block, Column, Job, Line, Picture, Table};
use crate::limits::Acceptance;
use crate::meter::Meter;
use crate::report::curve::{drawing, is_taken};
use crate::report::later::{Later, same_place};
use crate::report::{blank, brief, limits, measures, ohms};
use crate::row::{Event, Recorded, Row, Verdict};
use crate::text::Text;

pub(super) fn points(blocks: &mut Vec<Block>, job: &Job, later: &Later<'_>) {
    let points: Vec<&Recorded> = job.rows.iter().filter(|r| measures(&r.row)).collect();
    if points.is_empty() {
        blocks.push(Block::Text(String::from("Nothing.")));
        return;
    }
    blocks.push(Block::Table(Table {
        columns: vec![
            Column::numbers("row", 0.75),
            Column::words("point", 1.7),
            Column::numbers("shown", 1.2),
            Column::numbers("judged", 1.1),
            Column::words("limits", 1.3),
            Column::numbers("U (k = 2)", 1.0),
            Column::words("verdict", 1.9),
        ],
        rows: points.iter().map(|r| point(job, later, r)).collect(),
    }));
}

fn point(job: &Job, later: &Later<'_>, recorded: &Recorded) -> Line {
    let (seq, row) = (recorded.seq, &recorded.row);
    let back = later.back.get(&seq);
    let shown = match (row.event, row.of_seq) {
        (Event::Aborted, _) => String::from("broke off"),
        (Event::Judged, Some(of)) => format!("(row {of})"),
        _ => row.shown.clone(),
    };
    let judged_ohms = row.judged_ohms.map(|v| ohms(brief(v, 5)));
    let u = row.uncertainty_ohms.map(|u| ohms(brief(u, 3)));
    let mut under = Vec::new();
    if let Some(by) = back {
        let who = blank(&by.row.tester);
        under.push(format!(
            "WITHDRAWN in row {}, {}: {}",
            by.seq, who, by.row.reason
        ));
    }
    under.extend(
        later
            .again
            .get(&seq)
            .map(|by| format!("measured again in row {by}")),
    );
    under.extend(
        later
            .judged
            .get(&seq)
            .map(|by| format!("judged again in row {by}")),
    );
    if let Some(of) = row.of_seq.filter(|_| row.event == Event::Judged) {
        under.push(if is_from_elsewhere(row) {
            format!("judges row {of} by other limits, after its job")
        } else if same_place(&job.rows, of, row) {
            format!("judges row {of} with what came after it")
        } else {
            format!("judges values together, up to row {of}")
        });
    }
    under.push(row.reason.clone());
    if !is_from_elsewhere(row) {
        under.push(row.note.clone());
    }
    under.push(beside(row));
    under.retain(|words| !words.is_empty());
    Line {
        cells: vec![
            seq.to_string(),
            place(&row.test, &row.point),
            shown,
            judged_ohms.unwrap_or_default(),
            limits(row),
            u.unwrap_or_default(),
            judged(row.verdict, row.finding),
        ],
        under,
        struck: back.is_some(),
        loud: matches!(row.verdict, Some(Verdict::Fail | Verdict::Undecided)) && back.is_none(),
    }
}

/// Whether a verdict was come to after its job, by other limits: its reason says
/// by which, its note says so to machines.
fn is_from_elsewhere(row: &Row) -> bool {
    row.event == Event::Judged && row.note.starts_with("{\"rejudged\":")
}

/// Where limits are from, what with and when it was measured.
fn beside(row: &Row) -> String {
    let mut words = Vec::new();
    if !row.limits_from.is_empty() {
        words.push(format!("limits from: {}", row.limits_from));
    }
    words.extend(
        row.acceptance
            .map(|a| format!("{} acceptance", a.word().replace('_', " "))),
    );
    words.extend(row.test_voltage_v.map(|v| format!("test voltage {v} V")));
    words.extend(row.elapsed_s.map(|s| format!("held {s} s")));
    words.extend(row.temperature_c.map(|t| format!("winding at {t} °C")));
    if !row.meter.is_empty() {
        words.push(format!("meter {}", row.meter));
    }
    words.push(when(row.recorded_at));
    words.join("; ")
}

/// The rules by which values were decided on, those that were used alone.
pub(super) fn rules(blocks: &mut Vec<Block>, job: &Job) {
    let mut used: Vec<Acceptance> = Vec::new();
    for acceptance in job.rows.iter().filter_map(|r| r.row.acceptance) {
        if !used.contains(&acceptance) {
            used.push(acceptance);
        }
    }
    let mut items = vec![String::from(
        "U is the expanded uncertainty with k = 2, about 95 % (common practice)",
    )];
    items.extend(used.into_iter().map(|acceptance| {
        String::from(match acceptance {
            Acceptance::Simple => "simple acceptance: a value passes inside its limits; one that lies within U of a limit is noted as such",
            Acceptance::Guarded => "guarded acceptance: a value passes only where it lies inside its limits by U; one within U of a limit is undecided",
        })
    }));
    items.push(String::from(
        "minimums of ground and insulation are always guarded",
    ));
    blocks.push(Block::List {
        title: String::from("Decision rule"),
        items,
    });
}

pub(super) fn meters(blocks: &mut Vec<Block>, job: &Job) {
    let names = job.measured_by();
    if names.is_empty() {
        return;
    }
    let line = |name: &str| {
        let set = job.meters.iter().find(|m| m.name.as_str() == name);
        let text = |of: fn(&Meter) -> &Option<Text>| {
            let text = set.and_then(|m| of(m).as_ref());
            text.map_or_else(|| String::from("not given"), ToString::to_string)
        };
        let checks = job.checks.iter().filter(|r| r.row.meter == name);
        let mut under: Vec<String> = checks
            .map(|r| {
                let (row, at) = (&r.row, when(r.row.recorded_at));
                let said = judged(row.verdict, row.finding);
                format!("checked, row {}, {at}: {said}: {}", r.seq, row.reason)
            })
            .collect();
        if under.is_empty() {
            under.push(String::from("no check on known resistors in this log"));
        }
        Line {
            cells: vec![
                name.to_owned(),
                text(|m| &m.serial_number),
                text(|m| &m.certificate),
                text(|m| &m.calibrated_on),
                text(|m| &m.calibration_due),
            ],
            under,
            ..Line::default()
        }
    };
    blocks.push(Block::Head(String::from("Meters")));
    blocks.push(Block::Table(Table {
        columns: vec![
            Column::words("meter", 1.2),
            Column::words("serial number", 1.2),
            Column::words("certificate", 1.2),
            Column::words("calibrated on", 1.0),
            Column::words("due", 1.0),
        ],
        rows: names.into_iter().map(line).collect(),
    }));
}

pub(super) fn traces(blocks: &mut Vec<Block>, job: &Job, later: &Later<'_>) {
    let mut pictures = Vec::new();
    let mut none = Vec::new();
    for recorded in job.rows.iter().filter(|r| is_taken(&r.row)) {
        let row = &recorded.row;
        match job.traces.get(&recorded.seq) {
            Some(Ok(trace)) => pictures.push(Picture {
                row: recorded.seq,
                caption: format!(
                    "row {}, {}{}",
                    recorded.seq,
                    place(&row.test, &row.point),
                    if later.back.contains_key(&recorded.seq) {
                        ", withdrawn"
                    } else {
                        ""
                    }
                ),
                drawing: drawing(trace, recorded, &job.rows),
            }),
            Some(Err(why)) => none.push(format!("row {}: {}", recorded.seq, why.words())),
            None => {}
        }
    }
    if pictures.is_empty() && none.is_empty() {
        return;
    }
    blocks.push(Block::Head(String::from("Traces")));
    if !pictures.is_empty() {
        let words = "Resistance over time as the meter sent it; dashed: limits; the triangle: what was taken; below, where there was one, the test voltage.";
        blocks.push(Block::Text(String::from(words)));
        blocks.push(Block::Traces(pictures));
    }
    if !none.is_empty() {
        blocks.push(Block::List {
            title: String::new(),
            items: none,
        });
    }
}
