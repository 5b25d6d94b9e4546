//! A job told as text, from its rows alone: what was measured, what it was
//! judged by, what it came to and what that means, for somebody who has no
//! manual at hand. 80 columns; a line that begins with `!!` must not be missed.
//!
//! Nothing is judged here, and nothing is said that the rows do not say.

use crate::judge::STANDING;
use crate::quantity::Decimal;
use crate::report::{
    Said, attested, blank, brief, concluded, diagnoses, is_loud, limits, measures, ohms, planned,
};
use crate::row::{Event, Recorded, Row};

/// The width of a page.
const WIDTH: usize = 80;
/// What stands under a row begins here.
const INDENT: &str = "      ";

/// The names of the jobs of these rows, in the order they began.
pub fn jobs(rows: &[Recorded]) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    for job in rows.iter().map(|r| r.row.job.as_str()) {
        if !job.is_empty() && !names.contains(&job) {
            names.push(job);
        }
    }
    names
}

/// The job of this name, told from those of `rows` that are its own.
pub fn job(rows: &[Recorded], name: &str) -> String {
    let rows: Vec<&Recorded> = rows.iter().filter(|r| r.row.job == name).collect();
    let mut page = Page::default();
    header(&mut page, name, &rows);
    measured(&mut page, &rows);
    said(&mut page, &rows);
    let end = rows.iter().rev().find(|r| r.row.event == Event::JobEnd);
    outcome(&mut page, end.map(|r| &r.row));
    meaning(&mut page, end.map(|r| &r.row));
    page.head("What these tests cannot show");
    page.text("", STANDING);
    page.done()
}

/// The diagnosis that a `job_end` row carries, told alone; empty if it has none.
pub fn diagnosis(end: &Row) -> String {
    let mut page = Page::default();
    meaning(&mut page, Some(end));
    page.done()
}

/// Lines of text.
#[derive(Default)]
struct Page(String);

impl Page {
    fn line(&mut self, line: &str) {
        self.0.push_str(line.trim_end());
        self.0.push('\n');
    }

    fn head(&mut self, words: &str) {
        if !self.0.is_empty() {
            self.0.push('\n');
        }
        self.line(&words.to_uppercase());
    }

    /// Words behind a mark, broken at the width; further lines stand under the first word.
    fn text(&mut self, mark: &str, words: &str) {
        let indent = " ".repeat(mark.chars().count());
        let mut line = String::from(mark);
        let mut empty = true;
        for word in words.split_whitespace() {
            let long = line.chars().count() + usize::from(!empty) + word.chars().count();
            if long > WIDTH && !empty {
                self.line(&line);
                line.clone_from(&indent);
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(word);
            empty = false;
        }
        if !empty {
            self.line(&line);
        }
    }

    fn done(self) -> String {
        self.0
    }
}

fn header(page: &mut Page, name: &str, rows: &[&Recorded]) {
    let Some(first) = rows.first().map(|r| &r.row) else {
        page.text("", &format!("Job {name}: no rows"));
        return;
    };
    page.text(
        "",
        &format!("JOB {name}, {}, motor {}", first.asset, first.motor),
    );
    page.line(&"=".repeat(WIDTH));
    let end = rows.iter().rev().find(|r| r.row.event == Event::JobEnd);
    for part in end.iter().flat_map(|r| r.row.reason.split("; ")) {
        if is_loud(part) {
            page.text("!! ", part);
        }
    }
    let when = first.recorded_at.rfc3339();
    page.text(
        "",
        &format!(
            "begun {when}, bench {}, tested by {}",
            first.bench,
            blank(&first.tester)
        ),
    );
    let start = rows.iter().find(|r| r.row.event == Event::JobStart);
    match start.and_then(|r| planned(&r.row)) {
        Some(lines) => lines.iter().for_each(|line| page.text("", line)),
        None => page.text(
            "",
            "The row that began it is not among these rows: what was planned stands in the log.",
        ),
    }
    let proven = rows
        .iter()
        .find(|r| r.row.event == Event::Attested && r.row.test == "dead");
    match proven {
        Some(row) => page.text(
            "! ",
            &format!("attested in row {}: {}", row.seq, attested(&row.row)),
        ),
        None => page.text(
            "!! ",
            "nobody attested that the motor was off, locked out and proven dead",
        ),
    }
    page.text(
        "! ",
        "who may test, and how, is for local code and licensed people to say",
    );
}

/// The cells of a point's line.
struct Cells([String; 8]);

const TITLES: [&str; 8] = [
    "row", "point", "shown", "judged", "limits", "U", "verdict", "finding",
];

impl Cells {
    fn of(seq: u64, row: &Row) -> Self {
        let ohms = |value: Option<Decimal>| value.map(ohms).unwrap_or_default();
        Self([
            seq.to_string(),
            format!("{} {}", row.test, row.point).trim().to_owned(),
            match row.event {
                Event::Aborted => String::from("aborted"),
                Event::Judged => row
                    .of_seq
                    .map(|of| format!("(row {of})"))
                    .unwrap_or_default(),
                _ => row.shown.clone(),
            },
            ohms(row.judged_ohms.map(|v| brief(v, 5))),
            limits(row),
            ohms(row.uncertainty_ohms.map(|v| brief(v, 3))),
            row.verdict
                .map(|v| v.word().replace('_', " "))
                .unwrap_or_default(),
            row.finding
                .map(|f| f.word().replace('_', " "))
                .unwrap_or_default(),
        ])
    }
}

fn measured(page: &mut Page, rows: &[&Recorded]) {
    page.head("What was measured");
    let points: Vec<&&Recorded> = rows.iter().filter(|r| measures(&r.row)).collect();
    if points.is_empty() {
        page.text("", "nothing");
        return;
    }
    let cells: Vec<Cells> = points.iter().map(|r| Cells::of(r.seq, &r.row)).collect();
    let count = |text: &str| text.chars().count();
    let mut widths = TITLES.map(count);
    for Cells(row) in &cells {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(count(cell));
        }
    }
    // What does not fit beside the rest stands in the terms below: the finding, then U.
    let fits =
        |columns: &[usize]| columns.iter().map(|c| widths[*c] + 1).sum::<usize>() <= WIDTH + 1;
    let columns: &[usize] = match () {
        () if fits(&[0, 1, 2, 3, 4, 5, 6, 7]) => &[0, 1, 2, 3, 4, 5, 6, 7],
        () if fits(&[0, 1, 2, 3, 4, 5, 6]) => &[0, 1, 2, 3, 4, 5, 6],
        () if fits(&[0, 1, 2, 3, 4, 6]) => &[0, 1, 2, 3, 4, 6],
        () => &[0, 1, 2, 3, 6],
    };
    let beside = columns.contains(&7);
    let line = |row: &[String; 8]| {
        let mut line = String::new();
        for at in columns.iter().copied() {
            let gap = " ".repeat(widths[at] - count(&row[at]));
            // Numbers to the right, words to the left.
            let right = matches!(at, 0 | 2 | 3 | 5);
            line += &if right {
                gap + &row[at]
            } else {
                row[at].clone() + &gap
            };
            line.push(' ');
        }
        line
    };
    page.line(&line(&TITLES.map(str::to_owned)));
    for (row, Cells(cells)) in points.iter().zip(&cells) {
        page.line(&line(cells));
        let finding = if beside || cells[7].is_empty() {
            String::new()
        } else {
            format!("{}: ", cells[7])
        };
        page.text(INDENT, &format!("{finding}{}", row.row.reason));
    }
}

/// What persons said, what was left out or repeated, and what is missing.
fn said(page: &mut Page, rows: &[&Recorded]) {
    let spoken = rows
        .iter()
        .filter(|r| !measures(&r.row) && !matches!(r.row.event, Event::JobStart | Event::JobEnd));
    let spoken: Vec<&&Recorded> = spoken.collect();
    if spoken.is_empty() {
        return;
    }
    page.head("What was said, left out, repeated or missing");
    for recorded in spoken {
        let row = &recorded.row;
        let place = format!("{} {}", row.test, row.point);
        let mut words: Vec<String> = vec![row.event.word().to_owned()];
        words.extend(row.of_seq.map(|of| format!("of row {of}")));
        words.push(place.trim().to_owned());
        words.retain(|w| !w.is_empty());
        let by = if row.event == Event::Attested {
            attested(row)
        } else {
            row.reason.as_str()
        };
        let tail: Vec<&str> = [by, row.note.as_str()]
            .into_iter()
            .filter(|w| !w.is_empty())
            .collect();
        page.text(
            &format!("{:>5} ", recorded.seq),
            &format!("{}: {}", words.join(" "), tail.join(": ")),
        );
    }
}

fn outcome(page: &mut Page, end: Option<&Row>) {
    page.head("What it came to");
    let Some(end) = end else {
        page.text(
            "!! ",
            "NOT ENDED: nothing is concluded, DO NOT ENERGIZE on its account",
        );
        return;
    };
    for Said { words, loud } in concluded(end) {
        page.text(if loud { "!! " } else { "" }, &words);
    }
}

fn meaning(page: &mut Page, end: Option<&Row>) {
    let found = end.map(diagnoses).unwrap_or_default();
    if found.is_empty() {
        return;
    }
    page.head("What it may mean");
    // A caution that holds for several is said once.
    let mut minded: Vec<&str> = Vec::new();
    for (at, diagnosis) in found.iter().enumerate() {
        if at > 0 {
            page.line("");
        }
        page.text(&format!("{:>2}. ", at + 1), &diagnosis.says);
        let rows: Vec<String> = diagnosis.rows.iter().map(u64::to_string).collect();
        let word = if rows.len() == 1 { "row" } else { "rows" };
        page.text(
            "    ",
            &format!(
                "{}, from {word} {} ({})",
                diagnosis.name,
                rows.join(", "),
                diagnosis.source
            ),
        );
        for (title, lines) in [
            ("    may be:  ", &diagnosis.causes),
            ("    check:   ", &diagnosis.next_checks),
            ("    mind:    ", &diagnosis.cautions),
        ] {
            let mut mark = title;
            for line in lines {
                let caution = title.contains("mind");
                if caution && minded.contains(&line.as_str()) {
                    continue;
                }
                if caution {
                    minded.push(line);
                }
                page.text(&format!("{mark}- "), line);
                mark = "             ";
            }
        }
    }
}
