//! The report: everything that the rows of one or several jobs say.

mod measured;
mod told;

use super::job::{day, when};
use super::points::{Stands, points};
use super::qr::Qr;
use super::{Block, Column, Job, Line, Paper, Seal, Shop, Signer, Size, Table};
use crate::judge::STANDING;
use crate::report::later::Later;
use crate::report::{attested, blank, concluded, planned};
use crate::row::Event;

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
    if let Some(last) = jobs.last() {
        blocks.extend(last.loud().into_iter().map(Block::Banner));
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
    measured::points(blocks, job, &later);
    measured::rules(blocks, job);
    measured::meters(blocks, job);
    measured::traces(blocks, job, &later);
    told::said(blocks, job, &later);
    told::meaning(blocks, job);
    blocks.push(Block::Head(String::from("What these tests cannot show")));
    blocks.push(Block::Text(format!("{STANDING}.")));
    told::reviewed(blocks, job, &later);
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
    if let Some(why) = job.overtaken() {
        blocks.push(Block::Text(format!(
            "This was concluded earlier and does not stand any more ({why}):"
        )));
    }
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
    let last = job.rows.last().map(|r| r.seq);
    let of = match job.end() {
        Some(end) if last == Some(end.seq) => "the row that ended it",
        Some(_) => "its last row, after it had ended",
        None => "its last row so far",
    };
    Some(Seal {
        qr: Qr::of(&text)?,
        words: format!(
            "The number and the chain of {of}. To check later that no row up to it was changed, left out or put in: stillohm verify DATA --expect {text}. Names are typed, not authenticated."
        ),
        text,
    })
}
