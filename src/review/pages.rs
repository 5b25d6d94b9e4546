//! Questions that pages ask over many rows, answered from the log's files.
//!
//! The same questions as the `review` commands', and the same answers.

use std::io;
use std::path::PathBuf;
use std::sync::atomic::AtomicU64;

use super::ask::aging::{Aging, percent_a_year};
use super::ask::count::{self, Count, Tally};
use super::ask::drift::drift;
use super::ask::filter::{DateError, Dates, Filter};
use super::ask::newest::newest;
use super::ask::stages::Stages;
use super::ask::values::{ByGroup, Imports, Value, values};
use super::stats::chart::{SETTLED, settled};
use super::stats::share::share;
use crate::log::cells::cells;
use crate::log::scan::{Beside, Scan, Seen, column};
use crate::web::reviews::{
    By, Control, Counted, Course, Found, Lie, Line, Mark, Reviews, Rows, Rule, Which, Years,
};

mod bins;
#[cfg(test)]
mod tests;

/// Marks of a chart that are drawn (own: what can be told apart on a screen).
const MARKS: usize = 250;

/// Who answers, from the files in a folder.
#[derive(Debug)]
pub struct Questions {
    dir: PathBuf,
}

/// Verdicts of each group, by the group's cells as they stand in the file.
type Tallies = Vec<(Vec<u8>, Tally)>;

/// A log, and which of its rows are asked about.
struct Asked {
    scan: Scan,
    filter: Filter,
    stages: Stages,
    done: AtomicU64,
}

impl Questions {
    /// Of the log in this folder.
    pub fn new(dir: PathBuf) -> Self {
        Self { dir }
    }

    fn asked(&self, which: &Which, by_stage: bool, beside: &Beside) -> io::Result<Asked> {
        let scan = Scan::open(&self.dir)?.beside(beside.clone());
        let done = AtomicU64::new(0);
        let stages = match by_stage || !which.stage.is_empty() {
            true => {
                let only = Some(which.stage.clone()).filter(|stage| !stage.is_empty());
                Stages::read(&scan, &done, only.into_iter().collect())?
            }
            false => Stages::default(),
        };
        Ok(Asked {
            scan,
            filter: filter(which).map_err(|e| io::Error::new(io::ErrorKind::InvalidInput, e))?,
            stages,
            done,
        })
    }
}

impl Asked {
    fn values(&self, by: &[usize], imports: Imports) -> io::Result<(ByGroup, Seen)> {
        let of = (&self.filter, &self.stages);
        values(&self.scan, &self.done, of, by, imports)
    }

    /// The same of any time, and the time that is shown.
    fn of_any_time(self) -> (Self, Dates) {
        let (filter, dates) = self.filter.of_any_time();
        (Self { filter, ..self }, dates)
    }

    /// The values of one model and point, in the order of the log.
    fn one(&self) -> io::Result<(Vec<Value>, Seen)> {
        let (groups, seen) = self.values(&[], Imports::Out)?;
        let all = groups.into_iter().next();
        Ok((all.map(|(_, values)| values).unwrap_or_default(), seen))
    }

    fn counted(&self, by: &[count::By]) -> io::Result<(Tallies, Seen)> {
        let make = || Count::new(&self.filter, by, &self.stages);
        let (counted, seen) = self.scan.gather(&self.done, make)?;
        Ok((counted.sorted(), seen))
    }
}

fn filter(which: &Which) -> Result<Filter, DateError> {
    let mut filter = Filter::default();
    if !which.since.is_empty() {
        filter.since(&which.since)?;
    }
    if !which.until.is_empty() {
        filter.until(&which.until)?;
    }
    for (column, words) in [
        (column::ASSET, &which.asset),
        (column::MOTOR, &which.model),
        (column::TESTER, &which.tester),
        (column::METER, &which.meter),
        (column::BENCH, &which.bench),
        (column::TEST, &which.test),
        (column::POINT, &which.point),
        (column::VERDICT, &which.verdict),
        (column::FINDING, &which.finding),
    ] {
        if !words.is_empty() {
            filter.one_of(column, [words.as_str()]);
        }
    }
    Ok(filter)
}

fn grouped(by: By) -> count::By {
    match by {
        By::Model => count::By::Column(column::MOTOR),
        By::Asset => count::By::Column(column::ASSET),
        By::Test => count::By::Column(column::TEST),
        By::Point => count::By::Column(column::POINT),
        By::Tester => count::By::Column(column::TESTER),
        By::Meter => count::By::Column(column::METER),
        By::Bench => count::By::Column(column::BENCH),
        By::Finding => count::By::Column(column::FINDING),
        By::Year => count::By::Date(4),
        By::Month => count::By::Date(7),
        By::Day => count::By::Date(10),
        By::Stage => count::By::Stage,
    }
}

fn found<T>(of: T, seen: &Seen) -> Found<T> {
    let odd = seen.first_odd.as_ref().map(|(file, seq)| {
        format!(
            "{file}: something is wrong near row {seq} (lines that are no rows, or numbers out of order: {}); the answer may lack rows; run stillohm verify",
            seen.odd
        )
    });
    Found { of, odd }
}

impl Reviews for Questions {
    fn date(&self, words: &str) -> Result<(), String> {
        let mut filter = Filter::default();
        filter.since(words).map_err(|e| e.to_string())
    }

    fn counts(&self, which: &Which, by: &[By], beside: &Beside) -> io::Result<Found<Vec<Counted>>> {
        let asked = self.asked(which, by.contains(&By::Stage), beside)?;
        let columns: Vec<count::By> = by.iter().map(|by| grouped(*by)).collect();
        let (groups, seen) = asked.counted(&columns)?;
        let counted = groups.iter().map(|(key, tally)| Counted {
            names: words(key, by.len()),
            pass: tally.pass,
            fail: tally.fail,
            undecided: tally.undecided,
            not_judged: tally.not_judged,
            share: share(tally.fail, tally.judged()),
        });
        Ok(found(counted.collect(), &seen))
    }

    fn lie(&self, which: &Which, beside: &Beside) -> io::Result<Found<Option<Lie>>> {
        let (values, seen) = self.asked(which, false, beside)?.one()?;
        Ok(found(bins::lie(&values), &seen))
    }

    fn chart(&self, which: &Which, beside: &Beside) -> io::Result<Found<Option<Course>>> {
        let (asked, dates) = self.asked(which, false, beside)?.of_any_time();
        let (values, seen) = asked.one()?;
        let marks: Vec<Mark> = values.iter().map(mark).collect();
        let name = format!("{} {} {}", which.model, which.test, which.point);
        let course = (!marks.is_empty()).then(|| course(name, "Ω", marks, &dates));
        Ok(found(course, &seen))
    }

    fn meters(&self, which: &Which, beside: &Beside) -> io::Result<Found<Vec<Course>>> {
        // Each is set beside all others, whichever is shown.
        let all = Which {
            meter: String::new(),
            ..which.clone()
        };
        let (asked, dates) = self.asked(&all, false, beside)?.of_any_time();
        let (meters, seen) = drift(&asked.scan, &asked.done, (&asked.filter, &asked.stages))?;
        let shown = meters
            .into_iter()
            .map(|(meter, weeks)| (words(meter.as_bytes(), 1).concat(), weeks))
            .filter(|(meter, _)| which.meter.is_empty() || which.meter == *meter);
        let courses = shown.map(|(meter, weeks)| {
            let week = |week: &super::ask::drift::Week| Mark {
                at: week.begins,
                row: None,
                values: week.values,
                value: week.percent,
                signals: Vec::new(),
            };
            course(meter, "%", weeks.iter().map(week).collect(), &dates)
        });
        Ok(found(courses.collect(), &seen))
    }

    fn years(&self, which: &Which, beside: &Beside) -> io::Result<Found<Vec<Years>>> {
        let which = Which {
            test: String::from("insulation"),
            ..which.clone()
        };
        let asked = self.asked(&which, false, beside)?;
        let (groups, seen) = asked.values(&[column::POINT], Imports::In)?;
        let by = [column::POINT, column::EVENT].map(count::By::Column);
        let (events, _) = asked.counted(&by)?;
        let over = |point: &[u8]| {
            let mut key = point.to_vec();
            key.extend(b",over_range");
            let tally = events.iter().find(|(named, _)| *named == key);
            tally.map_or(0, |(_, tally)| tally.judged() + tally.not_judged)
        };
        let years = groups.iter().map(|(point, values)| {
            let aging = Aging::of(values, None);
            Years {
                point: words(point, 1).concat(),
                no_temperature: aging.no_temperature,
                over_range: over(point),
                minimum: aging.minimum,
                line: aging.line.map(|line| {
                    let slopes = [line.slope, line.low, line.high];
                    Line {
                        through: line.through,
                        slopes,
                        percent_a_year: slopes.map(percent_a_year),
                    }
                }),
                forecast: aging.forecast,
                values: aging.points,
            }
        });
        Ok(found(years.collect(), &seen))
    }

    fn rows(
        &self,
        which: &Which,
        before: Option<u64>,
        most: usize,
        beside: &Beside,
    ) -> io::Result<Found<Rows>> {
        let asked = self.asked(which, false, beside)?;
        let of = (&asked.filter, &asked.stages);
        let (newest, seen) = newest(&asked.scan, &asked.done, of, before, most)?;
        let rows = Rows {
            // A line that does not read is no row here: verify names it.
            rows: newest
                .lines
                .iter()
                .filter_map(|kept| kept.recorded().ok())
                .collect(),
            older: newest.older,
        };
        Ok(found(rows, &seen))
    }
}

/// A group's cells without their quotes.
fn words(key: &[u8], count: usize) -> Vec<String> {
    cells(key)
        .take(count)
        .map(|cell| cell.into_owned())
        .collect()
}

fn mark(value: &Value) -> Mark {
    Mark {
        at: value.at,
        row: Some((value.seq, value.job)),
        values: 1,
        value: value.judged_ohms,
        signals: Vec::new(),
    }
}

/// A chart of the newest marks of a time; limits and signals are those of all.
fn course(name: String, unit: &'static str, mut marks: Vec<Mark>, dates: &Dates) -> Course {
    let all: Vec<f64> = marks.iter().map(|mark| mark.value).collect();
    let found = settled(&all).map_err(|e| e.to_string());
    if let Ok((_, signals)) = &found {
        for signal in signals {
            marks[signal.at].signals.push(Rule {
                word: signal.rule.word(),
                says: signal.rule.words(),
            });
        }
    }
    marks.retain(|mark| dates.hold(mark.at.rfc3339().as_bytes()));
    let shown = marks.split_off(marks.len().saturating_sub(MARKS));
    let signalling = marks.iter().filter(|mark| !mark.signals.is_empty());
    Course {
        name,
        unit,
        earlier: [marks.len(), signalling.count()],
        marks: shown,
        limits: found.map(|(limits, _)| Control {
            center: limits.center,
            lower: limits.lower,
            upper: limits.upper,
            n: limits.n,
            provisional: limits.n < SETTLED,
        }),
    }
}
