//! The report: everything that the rows of one or several jobs say.

use super::job::{day, rows, when};
use super::points::{Stands, judged, points};
use super::qr::Qr;
use super::{Block, Column, Job, Line, Paper, Picture, Seal, Shop, Signer, Size, Table};
use crate::judge::STANDING;
use crate::limits::Acceptance;
use crate::meter::Meter;
use crate::report::curve::{drawing, is_taken};
use crate::report::later::{Later, same_place};
use crate::report::{
    attested, blank, brief, concluded, diagnoses, limits, measures, ohms, planned,
};
use crate::row::{Event, Recorded, Row, Verdict};

/// The whole report of these jobs. Those of one asset stand together, in the
/// order they began.
pub fn full(jobs: &[Job], shop: &Shop, size: Size) -> Paper {
    let mut blocks = Vec::new();
    for group in by_asset(jobs) {
        if !blocks.is_empty() {
            blocks.push(Block::Break);
        }
        asset(&mut blocks, &group);
    }
    let names: Vec<String> = jobs
        .iter()
        .map(|job| format!("{}, {}", job.asset(), job.name))
        .collect();
    Paper {
        title: format!("Test report {}", names.join("; ")),
        foot: names.join("; "),
        size,
        shop: shop.clone(),
        blocks,
    }
}

/// Jobs of one asset together, each group in the order its jobs began.
pub(super) fn by_asset(jobs: &[Job]) -> Vec<Vec<&Job>> {
    let mut groups: Vec<Vec<&Job>> = Vec::new();
    for job in jobs {
        match groups.iter_mut().find(|g| g[0].asset() == job.asset()) {
            Some(group) => group.push(job),
            None => groups.push(vec![job]),
        }
    }
    for group in &mut groups {
        group.sort_by_key(|job| job.begun());
    }
    groups
}

fn asset(blocks: &mut Vec<Block>, jobs: &[&Job]) {
    let Some(first) = jobs.first() else { return };
    blocks.push(Block::Title {
        words: format!("Test report: {}", first.asset()),
        under: format!("motor {}", first.motor()),
    });
    if let [job] = jobs {
        one(blocks, job);
        return;
    }
    blocks.push(Block::Head(String::from("Stages side by side")));
    blocks.push(Block::Table(stages(jobs)));
    for job in jobs {
        blocks.push(Block::Break);
        blocks.push(Block::Title {
            words: format!("{}: {}", job.asset(), job.stage()),
            under: format!("job {}, motor {}", job.name, job.motor()),
        });
        one(blocks, job);
    }
}

/// A column for each job, a row for each point that one of them measured.
fn stages(jobs: &[&Job]) -> Table {
    let stands: Vec<Vec<Stands>> = jobs.iter().map(|job| points(job)).collect();
    let mut places: Vec<String> = Vec::new();
    for place in stands.iter().flatten().map(Stands::place) {
        if !places.contains(&place) {
            places.push(place);
        }
    }
    let mut columns = vec![Column::words("point", 1.4)];
    columns.extend(jobs.iter().map(|job| {
        Column::words(
            format!("{}, {}, {}", job.stage(), day(job.begun()), job.name),
            1.5,
        )
    }));
    let line = |first: String, cell: &dyn Fn(usize) -> String| {
        let mut cells = vec![first];
        cells.extend((0..jobs.len()).map(cell));
        Line {
            cells,
            ..Line::default()
        }
    };
    let mut lines = vec![line(String::from("outcome"), &|at| {
        jobs[at].warning().unwrap_or_else(|| jobs[at].came())
    })];
    lines.extend(places.into_iter().map(|place| {
        line(place.clone(), &|at| {
            let stands = stands[at].iter().find(|s| s.place() == place);
            stands.map_or_else(
                || String::from("not measured"),
                |s| {
                    format!("{} {}", s.value, s.judged())
                        .trim_start()
                        .to_owned()
                },
            )
        })
    }));
    Table {
        columns,
        rows: lines,
    }
}

fn one(blocks: &mut Vec<Block>, job: &Job) {
    let later = job.later();
    blocks.extend(job.loud().into_iter().map(Block::Banner));
    blocks.push(Block::Facts(facts(job)));
    came(blocks, job);
    plan(blocks, job, &later);
    blocks.push(Block::Head(String::from("What was measured")));
    measured(blocks, job, &later);
    rules(blocks, job);
    meters(blocks, job);
    traces(blocks, job);
    said(blocks, job, &later);
    meaning(blocks, job);
    blocks.push(Block::Head(String::from("What these tests cannot show")));
    blocks.push(Block::Text(format!("{STANDING}.")));
    reviewed(blocks, job, &later);
    seal(blocks, job);
    blocks.push(Block::Sign(vec![
        Signer {
            role: String::from("measured by"),
            name: job.tester().to_owned(),
        },
        Signer {
            role: String::from("authorised by"),
            name: String::new(),
        },
    ]));
}

fn facts(job: &Job) -> Vec<(String, String)> {
    let ended = job.end().map_or_else(
        || String::from("not ended"),
        |end| when(end.row.recorded_at),
    );
    let bench = job.rows.first().map_or("", |r| r.row.bench.as_str());
    [
        ("asset", job.asset().to_owned()),
        ("motor", job.motor().to_owned()),
        ("job", job.name.clone()),
        ("stage", job.stage()),
        ("measured by", blank(job.tester()).to_owned()),
        ("bench", bench.to_owned()),
        ("begun", when(job.begun())),
        ("ended", ended),
    ]
    .map(|(name, value)| (name.to_owned(), value))
    .to_vec()
}

fn came(blocks: &mut Vec<Block>, job: &Job) {
    blocks.push(Block::Head(String::from("What it came to")));
    let Some(end) = job.end() else {
        let words = "NOT ENDED: nothing is concluded.";
        blocks.push(Block::Large(String::from(words)));
        return;
    };
    let said = concluded(&end.row).into_iter().filter(|said| !said.loud);
    for (at, said) in said.enumerate() {
        let words = said.words.replace('_', " ");
        // Its two parts say the same.
        let words = words.strip_prefix("no fault found: ").unwrap_or(&words);
        let words = words.to_owned();
        blocks.push(if at == 0 {
            Block::Large(words)
        } else {
            Block::Text(words)
        });
    }
}

/// What was planned, and what was attested before anything was touched.
fn plan(blocks: &mut Vec<Block>, job: &Job, later: &Later<'_>) {
    blocks.push(Block::Head(String::from("How it was measured")));
    let mut items = job.start().and_then(planned).unwrap_or_else(|| {
        vec![String::from(
            "what was planned cannot be read from the row that began it",
        )]
    });
    let dead = job.rows.iter().find(|r| {
        r.row.event == Event::Attested && r.row.test == "dead" && !later.back.contains_key(&r.seq)
    });
    if let Some(row) = dead {
        let words = attested(&row.row);
        items.push(format!("attested in row {}: {words}", row.seq));
    } else {
        let words = "Nobody attested that the motor was off, locked out and proven dead";
        blocks.push(Block::Banner(String::from(words)));
    }
    items.push(String::from(
        "who may test, and how, is for local code and licensed people to say",
    ));
    blocks.push(Block::List {
        title: String::new(),
        items,
    });
}

/// Test and point in words.
fn place(row: &Row) -> String {
    format!("{} {}", row.test, row.point)
        .trim()
        .replace('_', " ")
}

fn measured(blocks: &mut Vec<Block>, job: &Job, later: &Later<'_>) {
    let points: Vec<&Recorded> = job.rows.iter().filter(|r| measures(&r.row)).collect();
    if points.is_empty() {
        blocks.push(Block::Text(String::from("Nothing.")));
        return;
    }
    blocks.push(Block::Table(Table {
        columns: vec![
            Column::numbers("row", 0.5),
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
        under.push(if same_place(&job.rows, of, row) {
            format!("judges row {of} with what came after it")
        } else {
            format!("judges values together, up to row {of}")
        });
    }
    under.extend([&row.reason, &row.note].map(String::clone));
    under.push(beside(row));
    under.retain(|words| !words.is_empty());
    Line {
        cells: vec![
            seq.to_string(),
            place(row),
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
fn rules(blocks: &mut Vec<Block>, job: &Job) {
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

fn meters(blocks: &mut Vec<Block>, job: &Job) {
    let names = job.measured_by();
    if names.is_empty() {
        return;
    }
    let line = |name: &str| {
        let set = job.meters.iter().find(|m| m.name.as_str() == name);
        let text = |of: fn(&Meter) -> &Option<crate::text::Text>| {
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

fn traces(blocks: &mut Vec<Block>, job: &Job) {
    let mut pictures = Vec::new();
    let mut none = Vec::new();
    for recorded in job.rows.iter().filter(|r| is_taken(&r.row)) {
        let row = &recorded.row;
        match job.traces.get(&recorded.seq) {
            Some(Ok(trace)) => pictures.push(Picture {
                row: recorded.seq,
                caption: format!("row {}, {}", recorded.seq, place(row)),
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

/// What persons said, what was left out or repeated, and what is missing.
fn said(blocks: &mut Vec<Block>, job: &Job, later: &Later<'_>) {
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
    for part in [place(row).as_str(), &row.meter] {
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
fn meaning(blocks: &mut Vec<Block>, job: &Job) {
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

fn reviewed(blocks: &mut Vec<Block>, job: &Job, later: &Later<'_>) {
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
            title: String::new(),
            items,
        });
    }
}

fn seal(blocks: &mut Vec<Block>, job: &Job) {
    blocks.push(Block::Head(String::from("Its place in the log")));
    blocks.push(match sealed(job) {
        Some(seal) => Block::Seal(seal),
        None => Block::Text(String::from(
            "These rows are not from a log: no chain holds them.",
        )),
    });
}

/// Where the rows of a job stand; none: in no log.
pub(super) fn sealed(job: &Job) -> Option<Seal> {
    let text = job.seal()?;
    let of = if job.end().is_some() {
        "the row that ended it"
    } else {
        "its last row so far"
    };
    Some(Seal {
        qr: Qr::of(&text)?,
        words: format!(
            "The number and the chain of {of}. To check later that no row up to it was changed, left out or put in: stillohm verify DATA --expect {text}. Names are typed, not authenticated."
        ),
        text,
    })
}
