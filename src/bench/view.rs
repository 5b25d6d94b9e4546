//! A job as a person may look at it now.

use crate::judge::{MinimumError, do_not_energize, insulation_minimum, job_outcome};
use crate::limits::{Range, Test};
use crate::quantity::Decimal;
use crate::text::Text;
use crate::view::{JobView, PointView};

use super::ask::ask;
use super::job::{Job, overdue};
use super::sheet::Entry;
use super::step::{Step, meter_of};
use super::{Now, diagnose};

/// The job with what it asks for.
pub(super) fn view(job: &Job, now: &Now<'_>, step: Step) -> JobView {
    let results = job.results();
    let outcome = job_outcome(&results, &job.plan.motor);
    let mut banners: Vec<String> = do_not_energize(&results, false).into_iter().collect();
    if step == Step::Stop {
        banners.push(String::from("VOLTAGE ON THE CLIPS"));
    }
    banners.extend(unnamed_condition(job));
    banners.extend(meters(job, now));
    JobView {
        job: job.name.clone(),
        bench: job.bench.to_string(),
        asset: job.plan.asset.to_string(),
        motor: job.plan.motor.model.to_string(),
        tester: job.plan.tester.to_string(),
        state: job.state,
        ask: ask(job, now, step),
        points: job
            .entries
            .iter()
            .enumerate()
            .map(|(at, entry)| point(job, entry, step.entry() == Some(at) && !entry.done()))
            .collect(),
        outcome: outcome.outcome,
        why: outcome.why,
        banners,
        discharge_until: job.live.charge.until(),
        diagnosis: diagnose::diagnosis(job),
    }
}

/// A profile that judges nothing until its condition is named.
fn unnamed_condition(job: &Job) -> Option<String> {
    let condition = job.plan.condition.as_ref().map(Text::as_str);
    let lacks = insulation_minimum(job.profile()?, job.plan.motor.rated_v, condition);
    match lacks {
        Err(why @ MinimumError::NeedsCondition { .. }) => {
            Some(format!("ground and insulation will not be judged: {why}"))
        }
        _ => None,
    }
}

/// What holds for the meters of a job all the time (rules 19 and 20).
fn meters(job: &Job, now: &Now<'_>) -> Vec<String> {
    let mut banners: Vec<String> = Vec::new();
    for meter in job.entries.iter().filter_map(|e| meter_of(now, e)) {
        let mut say = |words: String| {
            if !banners.contains(&words) {
                banners.push(words);
            }
        };
        if meter.accuracy.is_empty() {
            say(format!(
                "{}: accuracy not configured, a wide one is assumed",
                meter.name
            ));
        }
        if let Some(words) = job.unfit_banner(meter) {
            say(words);
        }
        if overdue(now, meter) {
            let blocks = match now.settings.require_calibrated {
                true => ", so nothing passes on it: have it calibrated, or use another meter",
                false => "",
            };
            say(format!("{}: calibration is overdue{blocks}", meter.name));
        }
    }
    banners
}

fn point(job: &Job, entry: &Entry, now: bool) -> PointView {
    let row = entry.taken.as_ref().map(|t| &t.row);
    let range = limits(job, entry);
    PointView {
        test: entry.point.test.to_string(),
        point: entry.point.name.to_string(),
        meter: entry
            .meter
            .as_ref()
            .map(Text::to_string)
            .unwrap_or_default(),
        state: match (now, entry.done(), entry.skipped.is_some() || entry.needless) {
            (true, _, _) => "now",
            (_, true, _) => "done",
            (_, _, true) => "skipped",
            _ => "due",
        },
        shown: row.map(|r| r.shown.clone()).unwrap_or_default(),
        verdict: row.and_then(|r| r.verdict),
        finding: row.and_then(|r| r.finding),
        reason: match (row, &entry.skipped) {
            (Some(row), _) => row.reason.clone(),
            (None, Some(why)) => why.clone(),
            (None, None) => String::new(),
        },
        seq: entry.taken.as_ref().map(|t| t.judged.unwrap_or(t.seq)),
        limits: in_words(range),
        lower_ohms: range.lower.map(Decimal::to_f64),
        upper_ohms: range.upper.map(Decimal::to_f64),
        judged_ohms: row.and_then(|r| r.judged_ohms).map(Decimal::to_f64),
    }
}

/// The limits in ohms: those it was judged by, else those of the catalogue.
fn limits(job: &Job, entry: &Entry) -> Range {
    let judged = entry.taken.as_ref().map(|t| Range {
        lower: t.row.lower_ohms,
        upper: t.row.upper_ohms,
    });
    match judged {
        Some(range) if !range.is_empty() => range,
        _ if entry.point.test == Test::Winding => {
            job.plan.motor.winding_limits(entry.point.name.as_str())
        }
        // What it will be held against stands beside the hold.
        _ if entry.point.test == Test::Insulation => Range {
            lower: minimum(job),
            upper: None,
        },
        _ => Range::default(),
    }
}

fn minimum(job: &Job) -> Option<Decimal> {
    let condition = job.plan.condition.as_ref().map(Text::as_str);
    let minimum = insulation_minimum(job.profile()?, job.plan.motor.rated_v, condition);
    minimum.ok().map(|minimum| minimum.ohms)
}

fn in_words(range: Range) -> String {
    match (range.lower, range.upper) {
        (Some(lower), Some(upper)) => format!("{lower} to {upper}"),
        (Some(lower), None) => format!("at least {lower}"),
        (None, Some(upper)) => format!("at most {upper}"),
        (None, None) => String::new(),
    }
}
