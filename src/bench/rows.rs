//! Makers of rows: the columns that a take, an attestation or a word fills.

use crate::input::Settings;
use crate::judge::Judgement;
use crate::limits::Point;
use crate::meter::{Meter, MeterId};
use crate::quantity::{Decimal, Unit};
use crate::reading::{Abort, Outcome, Take};
use crate::row::{Event, Row, Verdict};

use super::Now;
use super::job::Job;

/// A row that belongs to a job.
pub(super) fn of_job(now: &Now<'_>, job: &Job, event: Event) -> Row {
    let mut row = Row::new(event, now.wall);
    row.bench = job.bench.to_string();
    row.job.clone_from(&job.name);
    row.tester = job.plan.tester.to_string();
    row.asset = job.plan.asset.to_string();
    row.motor = job.plan.motor.model.to_string();
    row
}

/// Names the point.
pub(super) fn at_point(row: &mut Row, point: &Point) {
    row.test = point.test.to_string();
    row.point = point.name.to_string();
}

/// Names the meter and what it speaks.
pub(super) fn with_meter(row: &mut Row, settings: &Settings, meter: &Meter) {
    row.bench = meter.bench.to_string();
    row.meter = meter.name.to_string();
    row.protocol = settings
        .ports
        .get(usize::from(meter.port.0))
        .map(|port| port.protocol.to_string())
        .unwrap_or_default();
}

/// The meter of an id, if the settings still have it.
pub(super) fn meter<'a>(now: &Now<'a>, id: MeterId) -> Option<&'a Meter> {
    now.settings.meters.get(usize::from(id.0))
}

/// The id and the meter of a name.
pub(super) fn named<'a>(now: &Now<'a>, name: &str) -> Option<(MeterId, &'a Meter)> {
    let at = now
        .settings
        .meters
        .iter()
        .position(|m| m.name.as_str() == name)?;
    Some((MeterId(u16::try_from(at).ok()?), &now.settings.meters[at]))
}

/// Everything that a take says, and its event.
pub(super) fn fill(row: &mut Row, take: &Take) {
    row.event = match take.outcome {
        Outcome::Value(_) | Outcome::PulledDown { .. } => Event::Value,
        Outcome::Open { .. } => Event::Open,
        Outcome::OverRange { .. } => Event::OverRange,
        Outcome::Aborted(_) => Event::Aborted,
    };
    let shown = match take.outcome {
        Outcome::Value(shown) => Some(shown),
        Outcome::PulledDown { last, .. } => last,
        Outcome::Open { .. } | Outcome::OverRange { .. } | Outcome::Aborted(_) => None,
    };
    if let Some(shown) = shown {
        row.shown = shown.to_string();
        row.value = Some(shown.value);
        row.unit = Some(shown.unit);
        if shown.unit == Unit::Ohm {
            row.value_ohms = Some(shown.value);
            row.resolution_ohms = Some(shown.resolution);
            row.spread_ohms = tidy(take.spread.0, -9);
        }
    } else if matches!(
        take.outcome,
        Outcome::Open { .. } | Outcome::OverRange { .. }
    ) {
        row.shown = String::from("over-range");
    }
    row.method = Some(take.method);
    row.samples = Some(take.samples);
    row.window_s = seconds(take.window);
    row.elapsed_s = take.elapsed.and_then(seconds);
    let voltage = match take.outcome {
        Outcome::PulledDown { reached, .. } => Some(reached),
        _ => take.test_voltage,
    };
    row.test_voltage_v = voltage.and_then(|v| tidy(v.0, -3));
    row.leakage_a = take.leakage.and_then(|a| tidy(a.0, -12));
    row.temperature_c = take.temperature.and_then(|t| tidy(t.0, -3));
}

/// What judging said.
pub(super) fn judged(row: &mut Row, judgement: &Judgement) {
    row.verdict = Some(judgement.verdict);
    row.finding = judgement.finding;
    row.reason.clone_from(&judgement.reason);
    row.leads_ohms = judgement.leads_ohms;
    row.cable_ohms = judgement.cable_ohms;
    row.judged_ohms = judgement.judged_ohms;
    row.lower_ohms = judgement.lower_ohms;
    row.upper_ohms = judgement.upper_ohms;
    row.limits_from.clone_from(&judgement.limits_from);
    row.acceptance = judgement.acceptance;
    row.uncertainty_ohms = judgement.uncertainty_ohms;
}

/// A take that no point asked for: kept, said why, judged by nothing.
pub(super) fn unjudged(row: &mut Row, take: &Take, why: &str) {
    fill(row, take);
    row.verdict = Some(Verdict::NotJudged);
    row.reason = why.to_owned();
}

/// Why a hold ended before its mark, in words.
pub(super) fn abort_words(abort: Abort) -> &'static str {
    match abort {
        Abort::Released => "let go too early: hold the button until the value is taken",
        Abort::Sagged => "the test voltage fell below what the hold needs",
        Abort::Silent => "no reading within 2 s of the mark: nothing is interpolated",
        Abort::LeadOff => "a lead came off during the hold",
        Abort::Interrupted => "the connection was lost or the clock stepped during the hold",
    }
}

/// Seconds to the millisecond.
pub(super) fn seconds(time: core::time::Duration) -> Option<Decimal> {
    let millis = i64::try_from(time.as_millis()).ok()?;
    Decimal::new(millis, -3).ok().map(trimmed)
}

/// The nearest decimal with at most the places of `exp`, without trailing zeros.
pub(super) fn tidy(value: f64, exp: i8) -> Option<Decimal> {
    // A spread of gigaohms does not fit beside nano-ohms: whole ones are enough then.
    Decimal::rounded(value, exp)
        .or_else(|| Decimal::rounded(value, 0))
        .map(trimmed)
}

fn trimmed(value: Decimal) -> Decimal {
    let (mut count, mut exp) = (value.count(), value.exp());
    while exp < 0 && count % 10 == 0 {
        count /= 10;
        exp += 1;
    }
    // The loop only brings both nearer to zero.
    Decimal::new(count, exp).unwrap_or(value)
}
