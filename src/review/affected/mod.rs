//! Which verdicts turn if a meter was off since a day.
//!
//! Every value that counts is taken without the error and judged again by the
//! limits, the acceptance and the U of its own row. What was measured by the
//! same meter and is in the value goes with it: the leads, if their reading
//! fell into the same time, so that an error in ohms cancels. Who measured the
//! loop of a cable stands in no row, so that value is judged with the cable as
//! it was given and with the error in it too, and the worse verdict counts.
//!
//! A ratio, a sum of windings and an unbalance are as they were after an error in
//! percent, where it is in all their parts. Never here: a ground or insulation
//! that comes out better than it was judged. It must be measured again.

mod again;
mod off;

use std::collections::{BTreeMap, BTreeSet};

pub use off::{Off, OffError};

use crate::quantity::{Decimal, EXP_MIN};
use crate::row::{Event, Recorded, Row, Verdict};
use crate::stamp::Wall;
use again::Plan;

/// What is asked.
#[derive(Clone, Debug)]
pub struct Question {
    /// The meter, by its name.
    pub meter: String,
    /// From when on it was off.
    pub since: Wall,
    /// Until when, itself not; none: to the end of the log.
    pub until: Option<Wall>,
    /// How.
    pub off: Off,
}

/// What became of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// Its verdict is a worse one.
    Worse,
    /// Its verdict is a better one.
    Better,
    /// It stays.
    Same,
    /// Nothing can be said of it.
    NotJudgeable,
}

impl Turn {
    /// One word, as a machine reads it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Worse => "worse",
            Self::Better => "better",
            Self::Same => "same",
            Self::NotJudgeable => "not_judgeable",
        }
    }
}

/// A row that the error may have reached.
#[derive(Clone, Debug, PartialEq)]
pub struct Affected {
    /// Its number.
    pub seq: u64,
    /// Its job.
    pub job: String,
    /// Its asset.
    pub asset: String,
    /// Its test.
    pub test: String,
    /// Its point.
    pub point: String,
    /// How it was judged, a later verdict on it included.
    pub then: Option<Verdict>,
    /// How it would be judged; none: not judgeable.
    pub now: Option<Verdict>,
    /// What met the limits.
    pub judged_then: Option<Decimal>,
    /// What would meet them.
    pub judged_now: Option<Decimal>,
    /// What became of it.
    pub turn: Turn,
    /// Why, where that does not follow from the numbers.
    pub why: &'static str,
}

/// All of an answer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answer {
    /// The rows, in the order of the log.
    pub rows: Vec<Affected>,
    /// Every meter that rows name, for one that is mistyped.
    pub meters: BTreeSet<String>,
}

impl Answer {
    /// How many rows turned so.
    pub fn count(&self, turn: Turn) -> usize {
        self.rows.iter().filter(|row| row.turn == turn).count()
    }

    /// How many rows passed and turned so.
    pub fn passes(&self, turn: Turn) -> usize {
        let passed = |row: &&Affected| row.then == Some(Verdict::Pass) && row.turn == turn;
        self.rows.iter().filter(passed).count()
    }
}

/// Looks through the rows of a log, in its order.
pub fn affected(rows: impl IntoIterator<Item = Recorded>, question: &Question) -> Answer {
    let mut looking = Looking::new(question);
    for recorded in rows {
        looking.row(recorded);
    }
    looking.answer()
}

/// A look through a log that is too long to be held.
pub struct Looking<'q> {
    question: &'q Question,
    gathered: Gathered,
}

impl<'q> Looking<'q> {
    /// Nothing was looked at yet.
    pub fn new(question: &'q Question) -> Self {
        Self {
            question,
            gathered: Gathered::default(),
        }
    }

    /// Whether the row of an event and a meter has to be looked at; others may be left out.
    pub fn needs(&self, event: Event, meter: &str) -> bool {
        match event {
            Event::JobStart | Event::JobEnd | Event::Withdrawn | Event::Judged => true,
            Event::Value | Event::Open | Event::OverRange => meter == self.question.meter,
            _ => false,
        }
    }

    /// A meter that a row names.
    pub fn meter(&mut self, name: &str) {
        self.gathered.meter(name);
    }

    /// The next row.
    pub fn row(&mut self, recorded: Recorded) {
        self.gathered.row(recorded, self.question);
    }

    /// What became of the values.
    pub fn answer(self) -> Answer {
        let values = self.gathered.values.values();
        let rows = values
            .map(|value| self.gathered.answer(value, self.question))
            .collect();
        Answer {
            rows,
            meters: self.gathered.meters,
        }
    }
}

/// A value that counts so far.
struct Value {
    seq: u64,
    /// As it was written.
    row: Row,
    /// Later verdicts on it.
    later: Vec<(u64, Row)>,
    /// Whether the error is in it, and in the leads that were taken off.
    off: bool,
    leads_off: bool,
}

#[derive(Default)]
struct Gathered {
    values: BTreeMap<u64, Value>,
    plans: BTreeMap<String, Plan>,
    /// When the leads of a job were last read.
    leads: BTreeMap<String, Wall>,
    /// Which value a later verdict is on.
    judged: BTreeMap<u64, u64>,
    /// Jobs and tests of which a value is without the error.
    without: BTreeSet<(String, String)>,
    /// Jobs with values: what is known of others is forgotten with their end.
    jobs: BTreeSet<String>,
    meters: BTreeSet<String>,
}

impl Question {
    fn covers(&self, at: Wall) -> bool {
        at >= self.since && self.until.is_none_or(|until| at < until)
    }
}

impl Gathered {
    fn row(&mut self, Recorded { seq, row, .. }: Recorded, question: &Question) {
        self.meter(&row.meter);
        match row.event {
            Event::JobEnd if !self.jobs.contains(&row.job) => {
                self.plans.remove(&row.job);
                self.leads.remove(&row.job);
                let others = |(job, _): &(String, String)| *job != row.job;
                self.without.retain(others);
            }
            Event::JobStart => {
                if let Some(plan) = Plan::of(&row) {
                    self.plans.insert(row.job, plan);
                }
            }
            Event::Withdrawn => {
                if let Some(of) = row.of_seq {
                    self.values.remove(&of);
                    let value = self.judged.remove(&of);
                    if let Some(value) = value.and_then(|value| self.values.get_mut(&value)) {
                        value.later.retain(|(by, _)| *by != of);
                    }
                }
            }
            Event::Judged => self.judged(seq, row, question),
            Event::Value | Event::Open | Event::OverRange if row.meter == question.meter => {
                if row.test == "leads" && row.point == "before" {
                    self.leads.insert(row.job.clone(), row.recorded_at);
                }
                let taken_off = row.leads_ohms.is_some();
                let leads = self.leads.get(&row.job).filter(|_| taken_off);
                // What joined clips read is the leads themselves: nothing came off it.
                let leads_off = row.test != "leads" && leads.is_some_and(|at| question.covers(*at));
                let off = question.covers(row.recorded_at);
                if !off && row.event == Event::Value {
                    self.without.insert((row.job.clone(), row.test.clone()));
                }
                self.keep(seq, row, off, leads_off);
            }
            _ => {}
        }
    }

    fn meter(&mut self, name: &str) {
        if !name.is_empty() && !self.meters.contains(name) {
            self.meters.insert(name.to_owned());
        }
    }

    /// A later verdict on a value, or one over several.
    fn judged(&mut self, seq: u64, row: Row, question: &Question) {
        let of = row
            .of_seq
            .map(|of| self.judged.get(&of).copied().unwrap_or(of));
        let value = of.and_then(|of| self.values.get_mut(&of));
        if let Some(value) = value.filter(|v| v.row.test == row.test && v.row.point == row.point) {
            self.judged.insert(seq, value.seq);
            value.later.push((seq, row));
        } else if row.meter == question.meter {
            let off = question.covers(row.recorded_at);
            self.keep(seq, row, off, false);
        }
    }

    fn keep(&mut self, seq: u64, row: Row, off: bool, leads_off: bool) {
        if !(off || leads_off) {
            return;
        }
        self.jobs.insert(row.job.clone());
        self.values.insert(
            seq,
            Value {
                seq,
                row,
                later: Vec::new(),
                off,
                leads_off,
            },
        );
    }

    fn answer(&self, value: &Value, question: &Question) -> Affected {
        let row = &value.as_judged();
        let then = row.verdict;
        let mut affected = Affected {
            seq: value.seq,
            job: row.job.clone(),
            asset: row.asset.clone(),
            test: row.test.clone(),
            point: row.point.clone(),
            then,
            now: None,
            judged_then: row.judged_ohms,
            judged_now: None,
            turn: Turn::NotJudgeable,
            why: "",
        };
        match self.again(value, row, question) {
            Ok((now, judged)) => {
                affected.now = Some(now);
                affected.judged_now = judged;
                affected.turn = match then {
                    Some(then) if now < then => Turn::Worse,
                    Some(then) if now > then => Turn::Better,
                    _ => Turn::Same,
                };
                if row.value_ohms.is_none() {
                    affected.why =
                        "an error in percent is in all its parts and leaves it as it was";
                }
            }
            Err(why) => affected.why = why,
        }
        affected
    }

    /// The verdict without the error and the value that gives it, or why there is none.
    fn again(
        &self,
        value: &Value,
        row: &Row,
        question: &Question,
    ) -> Result<(Verdict, Option<Decimal>), &'static str> {
        let then = row.verdict.ok_or("it was not judged")?;
        if row.event == Event::Judged || row.test == "ratio" {
            let parted = self.without.contains(&(row.job.clone(), row.test.clone()));
            return match question.off {
                Off::Percent(_) if parted => {
                    Err("only a part of its values was read in this time: measure them again")
                }
                Off::Percent(_) => Ok((then, None)),
                Off::Ohms(_) => Err("it is judged from several values: measure them again"),
            };
        }
        if row.event != Event::Value {
            return Err("over-range has no number to take an error from");
        }
        if again::proves(row) {
            let judged = value
                .without(row, question.off, false)
                .ok_or("its number without the error cannot be told")?;
            return again::proven(row, judged)
                .map(|same| (same, Some(judged)))
                .ok_or("without the error it lies beyond 1 Ω: prove it again");
        }
        let plan = self.plans.get(&row.job).ok_or(
            "the row that began its job is not in the log, or does not read: by what it was judged is not known",
        )?;
        let was = row.judged_ohms.ok_or("no number of it was judged")?;
        let by = |judged| again::by_numbers(row, plan, judged);
        let was = by(was).ok_or("its row has no limits to judge it by")?;
        let cables = [false, true];
        let ways = cables
            .iter()
            .filter(|off| !**off || row.cable_ohms.is_some());
        let judged = ways.filter_map(|cable_off| {
            let judged = value.without(row, question.off, *cable_off)?;
            Some((again::verdict(row, then, was, by(judged)?), Some(judged)))
        });
        let worst = judged.min_by_key(|(verdict, _)| *verdict);
        worst.ok_or("its number without the error cannot be told")
    }
}

impl Value {
    /// With its last verdict, and what that was judged by, where it says so: it may
    /// have been by other limits.
    fn as_judged(&self) -> Row {
        let mut row = self.row.clone();
        let Some((_, later)) = self.later.last() else {
            return row;
        };
        row.verdict = later.verdict;
        if later.lower_ohms.is_some() || later.upper_ohms.is_some() {
            (row.lower_ohms, row.upper_ohms) = (later.lower_ohms, later.upper_ohms);
            row.acceptance = later.acceptance.or(row.acceptance);
            row.uncertainty_ohms = later.uncertainty_ohms.or(row.uncertainty_ohms);
            row.judged_ohms = later.judged_ohms.or(row.judged_ohms);
        }
        row
    }

    /// What would have been judged without the error: value, leads and cable,
    /// brought to the same temperature as then.
    fn without(&self, row: &Row, off: Off, cable_off: bool) -> Option<Decimal> {
        let (read, resolution) = (row.value_ohms?, row.resolution_ohms?);
        let part = |ohms: Decimal, is_off: bool| match is_off {
            true => off.without(ohms, resolution),
            false => ohms,
        };
        let leads = row.leads_ohms.unwrap_or_default();
        let leads = if row.test == "leads" {
            Decimal::ZERO
        } else {
            leads
        };
        let cable = row.cable_ohms.unwrap_or_default();
        let then = read.checked_sub(leads)?.checked_sub(cable)?;
        let now = part(read, self.off)
            .checked_sub(part(leads, self.leads_off))?
            .checked_sub(part(cable, cable_off && self.off))?;
        let judged = row.judged_ohms.unwrap_or(then);
        if then == judged {
            return Some(now);
        }
        if then.is_zero() {
            return None;
        }
        let place = resolution.exp().saturating_sub(2).max(EXP_MIN);
        Decimal::rounded(judged.to_f64() / then.to_f64() * now.to_f64(), place)
    }
}

#[cfg(test)]
mod tests;
