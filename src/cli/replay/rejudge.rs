//! The same inputs judged twice: as they were, and by other limits.
//!
//! *Before* is the capture's own limits, or the log that the run wrote; *after*
//! is a second engine. Rows of one input belong together by job, test and
//! point, since the numbers of rows may drift: a point that fails is asked for
//! once more. For the same reason a job may have another name after, and
//! commands are told so. A job ends after when it ended before: what would
//! still be asked for then, nobody measured.

use std::collections::{BTreeMap, VecDeque};

use serde_json::Value;

use super::super::Fail;
use super::limits::Limits;
use crate::engine::{Engine, Output};
use crate::input::{Act, Command, Input, What};
use crate::row::{Event, JobOutcome, Recorded, Row};
use crate::text::Text;

/// What is held against the second engine.
pub(in crate::cli) enum Before {
    /// An engine by the capture's own limits.
    Engine(Box<Engine>),
    /// The log, by capture and offset.
    Log(BTreeMap<(String, u64), VecDeque<Recorded>>),
}

/// A row whose verdict or finding differs.
#[derive(Clone, Debug, Default)]
pub(in crate::cli) struct Change {
    /// Before; none: there was no such row.
    pub(in crate::cli) seq: Option<u64>,
    pub(in crate::cli) job: String,
    pub(in crate::cli) asset: String,
    pub(in crate::cli) motor: String,
    pub(in crate::cli) test: String,
    pub(in crate::cli) point: String,
    pub(in crate::cli) shown: String,
    /// Verdict or job outcome, and finding.
    pub(in crate::cli) before: (String, String),
    pub(in crate::cli) after: (String, String),
    pub(in crate::cli) why: String,
    /// The whole row after.
    pub(in crate::cli) row: Option<Box<Row>>,
    /// The row before that a later verdict is on, where it has no row of its own before.
    pub(in crate::cli) of: Option<u64>,
}

/// What one input came to.
#[derive(Default)]
pub(in crate::cli) struct Step {
    /// The rows after.
    pub(in crate::cli) rows: Vec<Row>,
    pub(in crate::cli) changes: Vec<Change>,
    /// Rows that belong together: their numbers before, their places in `rows`.
    pub(in crate::cli) pairs: Vec<(u64, usize)>,
    /// What could not be done.
    pub(in crate::cli) missing: Vec<String>,
}

/// A job on both sides, by its name before.
#[derive(Default)]
struct Both {
    after: String,
    /// The notes of their first rows, which hold their plans.
    plans: (Value, Value),
    /// Outcomes, as they end.
    ended: (Option<Row>, Option<Row>),
    changed: Vec<String>,
}

/// Both sides.
pub(in crate::cli) struct Rejudge<'a> {
    limits: Option<&'a Limits>,
    /// Why rows differ where no limits do.
    otherwise: String,
    before: Before,
    after: Engine,
    capture: String,
    offset: u64,
    seq: (u64, u64),
    seqs: BTreeMap<u64, u64>,
    jobs: BTreeMap<String, Both>,
}

impl<'a> Rejudge<'a> {
    pub(in crate::cli) fn new(limits: Option<&'a Limits>, before: Before) -> Self {
        Self {
            limits,
            otherwise: String::new(),
            before,
            after: Engine::new(),
            capture: String::new(),
            offset: 0,
            seq: (1, 1),
            seqs: BTreeMap::new(),
            jobs: BTreeMap::new(),
        }
    }

    /// The engine that judges by the other limits.
    pub(in crate::cli) fn engine(&self) -> &Engine {
        &self.after
    }

    /// Says why rows differ where no limits do.
    pub(in crate::cli) fn otherwise(&mut self, why: String) {
        self.otherwise = why;
    }

    /// Takes one input on both sides.
    pub(in crate::cli) fn step(&mut self, input: &Input) -> Result<Step, Fail> {
        let mut step = Step::default();
        self.begin(input);
        let before = self.rows_before(input)?;
        let mut other = input.clone();
        if let Some(limits) = self.limits {
            step.missing = limits.apply(&mut other);
        }
        if let What::Begin(begin) = &input.what
            && let What::Begin(changed) = &other.what
        {
            self.unfinished(&begin.unfinished, &changed.unfinished);
        }
        self.rename(&mut other);
        step.rows = self.rows_after(&other, &mut step.missing)?;
        self.started(&before, &step.rows);
        if let Some((_, start)) = before.iter().find(|(_, r)| r.event == Event::JobStart) {
            for words in &mut step.missing {
                *words = format!("{} {words}", start.job);
            }
        }
        self.end_with(&before, input, &mut step)?;
        self.compare(before, &mut step);
        self.seq.1 += step.rows.len() as u64;
        Ok(step)
    }

    /// Jobs that ended after and not before, at the end of the file.
    pub(in crate::cli) fn finish(&mut self) -> Vec<Change> {
        let ends = self.jobs.iter();
        let only_after = ends.filter(|(_, both)| both.ended.0.is_none() && both.ended.1.is_some());
        only_after
            .map(|(name, both)| ended(name, None, both))
            .collect()
    }

    fn begin(&mut self, input: &Input) {
        let What::Begin(begin) = &input.what else {
            self.offset += 1;
            return;
        };
        begin.capture.as_str().clone_into(&mut self.capture);
        self.offset = 0;
        if !begin.continues || self.jobs.is_empty() && self.seqs.is_empty() {
            self.seq = (begin.next_seq, begin.next_seq);
            self.jobs.clear();
            self.seqs.clear();
        }
    }

    fn rows_before(&mut self, input: &Input) -> Result<Vec<(u64, Row)>, Fail> {
        match &mut self.before {
            Before::Engine(engine) => {
                let mut output = Output::default();
                engine
                    .input(input, &mut output)
                    .map_err(|e| Fail::No(e.to_string()))?;
                let from = self.seq.0;
                self.seq.0 += output.rows.len() as u64;
                Ok((from..).zip(output.rows).collect())
            }
            Before::Log(rows) => {
                let key = (self.capture.clone(), self.offset);
                let rows = rows.remove(&key).unwrap_or_default();
                Ok(rows.into_iter().map(|r| (r.seq, r.row)).collect())
            }
        }
    }

    fn rows_after(&mut self, input: &Input, missing: &mut Vec<String>) -> Result<Vec<Row>, Fail> {
        let mut output = Output::default();
        self.after
            .input(input, &mut output)
            .map_err(|e| Fail::No(e.to_string()))?;
        if let What::Command(command) = &input.what
            && let Act::StartJob(plan) = &command.act
        {
            let refused = output
                .outcomes
                .iter()
                .filter_map(|(_, said)| said.as_ref().err());
            missing.extend(refused.map(|why| format!("{}: not begun after: {why}", plan.asset)));
        }
        // A job that was ended here moved the engine's own count.
        for row in &mut output.rows {
            row.capture_offset = row.capture_offset.map(|_| self.offset);
        }
        Ok(output.rows)
    }

    /// Jobs that began before this capture have one name on both sides.
    fn unfinished(&mut self, before: &[String], after: &[String]) {
        for (before, after) in before.iter().zip(after) {
            let (Ok(before), Ok(after)) = (Recorded::from_line(before), Recorded::from_line(after))
            else {
                continue;
            };
            if before.row.event == Event::JobStart {
                self.job(&before.row, &after.row);
            }
        }
    }

    fn job(&mut self, before: &Row, after: &Row) {
        let plan = |row: &Row| serde_json::from_str(&row.note).unwrap_or_default();
        let both = Both {
            after: after.job.clone(),
            plans: (plan(before), plan(after)),
            ..Both::default()
        };
        self.jobs.insert(before.job.clone(), both);
    }

    fn started(&mut self, before: &[(u64, Row)], after: &[Row]) {
        let starts = |row: &&Row| row.event == Event::JobStart;
        let before = before.iter().map(|(_, row)| row).find(starts).cloned();
        if let (Some(before), Some(after)) = (before, after.iter().find(starts)) {
            self.job(&before, after);
        }
    }

    /// Commands name jobs and rows as they were before.
    fn rename(&self, input: &mut Input) {
        let What::Command(command) = &mut input.what else {
            return;
        };
        if let Act::Withdraw { seq, .. } | Act::Review { seq, .. } = &mut command.act {
            *seq = self.seqs.get(seq).copied().unwrap_or(*seq);
        }
        let job = match &mut command.act {
            Act::Confirm { job, .. }
            | Act::ClipsOn { job }
            | Act::Redo { job, .. }
            | Act::Skip { job, .. }
            | Act::Park { job, .. }
            | Act::GoOn { job }
            | Act::EndJob { job } => Some(job),
            Act::Note { job, .. } => job.as_mut(),
            Act::Enter(entered) => entered.job.as_mut(),
            Act::StartJob(_)
            | Act::Again { .. }
            | Act::Withdraw { .. }
            | Act::Review { .. }
            | Act::Prove(_) => None,
        };
        if let Some(job) = job
            && let Some(both) = self.jobs.get(job.as_str())
        {
            *job = Text::clean(&both.after);
        }
    }

    /// Ends after what ended before.
    fn end_with(
        &mut self,
        before: &[(u64, Row)],
        input: &Input,
        step: &mut Step,
    ) -> Result<(), Fail> {
        let ends = before.iter().filter(|(_, r)| r.event == Event::JobEnd);
        for name in ends.map(|(_, row)| &row.job) {
            let Some(both) = self.jobs.get(name) else {
                continue;
            };
            let after = &both.after;
            let is = |row: &Row| row.event == Event::JobEnd && row.job == *after;
            if both.ended.1.is_some() || step.rows.iter().any(is) {
                continue;
            }
            let end = Command {
                id: u64::MAX,
                by: None,
                act: Act::EndJob {
                    job: Text::clean(after),
                },
            };
            let end = Input {
                at: input.at,
                what: What::Command(Box::new(end)),
            };
            let rows = self.rows_after(&end, &mut step.missing)?;
            step.rows.extend(rows);
        }
        Ok(())
    }

    fn compare(&mut self, before: Vec<(u64, Row)>, step: &mut Step) {
        let mut left: Vec<Option<&Row>> = step.rows.iter().map(Some).collect();
        let mut alone = Vec::new();
        let mut pairs = Vec::new();
        for (seq, row) in &before {
            let job = self
                .jobs
                .get(&row.job)
                .map_or("", |both| both.after.as_str());
            let is = |n: &Row| {
                n.job == job
                    && (n.test == row.test && n.point == row.point)
                    && class(n.event) == class(row.event)
            };
            match take(&mut left, is) {
                Some((at, after)) => pairs.push((*seq, row, at, after)),
                None => alone.push((*seq, row)),
            }
        }
        // The same value that went to another point, or to none.
        alone.retain(|(seq, row)| {
            let is =
                |n: &Row| !row.shown.is_empty() && n.shown == row.shown && n.meter == row.meter;
            let found = take(&mut left, is);
            pairs.extend(found.map(|(at, after)| (*seq, *row, at, after)));
            found.is_none()
        });
        pairs.sort_by_key(|(seq, ..)| *seq);
        for (seq, row, at, after) in pairs {
            self.seqs.insert(seq, self.seq.1 + at as u64);
            step.pairs.push((seq, at));
            if row.event == Event::JobEnd {
                continue;
            }
            if (row.verdict, row.finding) != (after.verdict, after.finding) {
                step.changes
                    .push(self.change(Some(seq), Some(row), Some(after)));
            }
        }
        for (seq, row) in alone.iter().filter(|(_, row)| row.verdict.is_some()) {
            step.changes.push(self.change(Some(*seq), Some(*row), None));
        }
        for row in left.into_iter().flatten().filter(|r| r.verdict.is_some()) {
            step.changes.push(self.change(None, None, Some(row)));
        }
        for change in &step.changes {
            if let Some(both) = self.jobs.get_mut(&change.job) {
                both.changed.push(format!(
                    "{} {} {} → {}",
                    change.test,
                    change.point,
                    said(&change.before),
                    said(&change.after)
                ));
            }
        }
        let ends = |row: &&Row| row.event == Event::JobEnd;
        for row in step.rows.iter().filter(ends) {
            let both = self.jobs.values_mut().find(|both| both.after == row.job);
            if let Some(both) = both {
                both.ended.1 = Some(row.clone());
            }
        }
        for (seq, row) in before.into_iter().filter(|(_, r)| r.event == Event::JobEnd) {
            if let Some(both) = self.jobs.get_mut(&row.job) {
                let name = row.job.clone();
                both.ended.0 = Some(row);
                let change = ended(&name, Some(seq), both);
                if change.before != change.after {
                    step.changes.push(change);
                }
            }
        }
    }

    fn change(&self, seq: Option<u64>, before: Option<&Row>, after: Option<&Row>) -> Change {
        let of = |row: Option<&Row>| match row {
            Some(row) => (
                row.verdict.map_or("", |v| v.word()).to_owned(),
                row.finding.map_or("", |f| f.word()).to_owned(),
            ),
            None => Default::default(),
        };
        let Some(row) = before.or(after) else {
            return Change::default();
        };
        let named = self.jobs.iter().find(|(_, both)| both.after == row.job);
        let job = match (before, named) {
            (None, Some((name, _))) => name.clone(),
            _ => row.job.clone(),
        };
        let why = match (before, after) {
            _ if self.limits.is_none() => self.otherwise.clone(),
            (Some(before), Some(after)) => self.why(&job, before, after),
            (Some(before), None) => self.alone(&job, before, "no such row after"),
            (None, Some(after)) => self.alone(&job, after, "no such row before"),
            (None, None) => String::new(),
        };
        Change {
            seq,
            job,
            asset: row.asset.clone(),
            motor: row.motor.clone(),
            test: row.test.clone(),
            point: row.point.clone(),
            shown: row.shown.clone(),
            before: of(before),
            after: of(after),
            why,
            row: after.cloned().map(Box::new),
            of: after.and_then(|row| self.before_of(row.of_seq?)),
        }
    }

    /// The number before of a row after.
    fn before_of(&self, after: u64) -> Option<u64> {
        let mut pairs = self.seqs.iter();
        pairs.find(|(_, at)| **at == after).map(|(seq, _)| *seq)
    }

    /// What changed in the limits of a row.
    fn why(&self, job: &str, before: &Row, after: &Row) -> String {
        let mut parts = Vec::new();
        let (was, is) = (range(before), range(after));
        if was != is {
            parts.push(format!("limits {was} → {is}"));
        }
        if before.limits_from != after.limits_from {
            parts.push(format!(
                "source {} → {}",
                or_none(&before.limits_from),
                or_none(&after.limits_from)
            ));
        }
        parts.extend(self.plan_changes(job, &before.test));
        if parts.is_empty() {
            parts.push(format!("it follows from other rows: {}", after.reason));
        }
        parts.join("; ")
    }

    fn alone(&self, job: &str, row: &Row, words: &str) -> String {
        let mut parts = vec![words.to_owned()];
        parts.extend(self.plan_changes(job, &row.test));
        parts.join("; ")
    }

    /// What of a job's plan differs and matters to a test.
    fn plan_changes(&self, job: &str, test: &str) -> Vec<String> {
        const WINDING: &[&str] = &[
            "/motor/kind",
            "/motor/reference_c",
            "/motor/conductor",
            "/motor/unbalance_max_percent",
        ];
        const GROUND: &[&str] = &[
            "/conditions/condition",
            "/motor/rated_v",
            "/motor/electronics",
            "/motor/insulation_test",
            "/motor/max_test_v",
            "/motor/insulation",
        ];
        let Some(both) = self.jobs.get(job) else {
            return Vec::new();
        };
        let keys = match test {
            "winding" | "sensor" => WINDING,
            "ground" | "insulation" | "ratio" => GROUND,
            _ => &[],
        };
        let get = |plan: &Value, key: &str| match plan.pointer(key) {
            None | Some(Value::Null) => String::from("none"),
            Some(Value::String(words)) => words.clone(),
            Some(other) => other.to_string(),
        };
        let differs = |key: &&str| {
            let (was, is) = (get(&both.plans.0, key), get(&both.plans.1, key));
            let name = key.rsplit('/').next().unwrap_or_default();
            (was != is).then(|| format!("{name} {was} → {is}"))
        };
        let mut parts: Vec<String> = keys.iter().filter_map(differs).collect();
        let (was, is) = (profile(&both.plans.0), profile(&both.plans.1));
        if keys == GROUND && was != is {
            parts.insert(0, format!("profile {was} → {is}"));
        }
        parts
    }
}

/// The profile that a plan is judged by: the one named for the job, else the motor's.
fn profile(plan: &Value) -> &str {
    let named = ["/limits/name", "/conditions/profile", "/motor/profile"];
    let mut named = named.iter().filter_map(|key| plan.pointer(key)?.as_str());
    named.next().unwrap_or("none")
}

/// What a job came to on both sides.
fn ended(name: &str, seq: Option<u64>, both: &Both) -> Change {
    let outcome = |row: &Option<Row>| {
        let word = row.as_ref().and_then(|r| r.reason.split(':').next());
        let word = word.and_then(JobOutcome::from_word);
        (word.map_or("", JobOutcome::word).to_owned(), String::new())
    };
    let row = both.ended.0.as_ref().or(both.ended.1.as_ref());
    let cell = |of: fn(&Row) -> &String| row.map(of).cloned().unwrap_or_default();
    Change {
        seq,
        job: name.to_owned(),
        asset: cell(|r| &r.asset),
        motor: cell(|r| &r.motor),
        test: String::from("job_end"),
        before: outcome(&both.ended.0),
        after: outcome(&both.ended.1),
        why: match &both.ended.1 {
            _ if !both.changed.is_empty() => both.changed.join("; "),
            Some(after) => after.reason.clone(),
            None => String::from("it has no end after"),
        },
        ..Change::default()
    }
}

/// Events that say the same kind of thing.
fn class(event: Event) -> &'static str {
    match event {
        Event::Value | Event::Open | Event::OverRange | Event::Aborted => "taken",
        other => other.word(),
    }
}

fn take<'r>(left: &mut [Option<&'r Row>], is: impl Fn(&Row) -> bool) -> Option<(usize, &'r Row)> {
    let at = left.iter().position(|row| row.is_some_and(&is))?;
    left[at].take().map(|row| (at, row))
}

fn range(row: &Row) -> String {
    match (row.lower_ohms, row.upper_ohms) {
        (Some(lower), Some(upper)) => format!("{lower} to {upper} ohm"),
        (Some(lower), None) => format!("at least {lower} ohm"),
        (None, Some(upper)) => format!("at most {upper} ohm"),
        (None, None) => String::from("none"),
    }
}

fn or_none(words: &str) -> &str {
    if words.is_empty() { "none" } else { words }
}

fn said((verdict, finding): &(String, String)) -> String {
    match (verdict.as_str(), finding.as_str()) {
        ("", _) => String::from("nothing"),
        (verdict, "") => verdict.to_owned(),
        (verdict, finding) => format!("{verdict} {finding}"),
    }
}
