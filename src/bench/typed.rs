//! A value read by eye, through the same rules as a streamed one (rule 21).

use core::time::Duration;

use crate::input::{Attestation, Entered};
use crate::judge::forbidden_voltage;
use crate::meter::{Measures, Meter};
use crate::quantity::Ohms;
use crate::reading::{Flags, Method, Outcome, Take};
use crate::row::Event;

use super::ask::charged;
use super::command::{done, no_meter, place};
use super::sheet::Role;
use super::step::{Step, typed_voltage};
use super::voltage::LOW;
use super::{Benches, Done, Now, Out, Refusal, refuse, rows, take};

/// How long a person may have held the voltage, in seconds: a day (own).
const HELD: core::ops::RangeInclusive<f64> = 0.0..=86_400.0;

/// Logs a typed value, for a point if a job is named.
pub(super) fn enter(
    benches: &mut Benches,
    now: &Now<'_>,
    entered: &Entered,
    out: &mut Out,
) -> Result<Done, Refusal> {
    let (_, meter) =
        rows::named(now, entered.meter.as_str()).ok_or_else(|| no_meter(now, &entered.meter))?;
    check_numbers(meter, entered)?;
    let Some(name) = &entered.job else {
        let take = typed(now, entered, false);
        let seq = out.next_seq;
        take::without_job(now, meter, &take, out);
        return Ok(Done {
            job: None,
            seq: Some(seq),
        });
    };
    let at = benches.running(name)?;
    let asked = benches.step_of(at, now);
    let voltage = benches.voltage_on(&benches.jobs[at].bench, now);
    let job = &mut benches.jobs[at];
    if let Some(judgement) = entered
        .test_voltage
        .and_then(|v| forbidden_voltage(&job.plan.motor, v))
    {
        // It happened: it is logged, whether its point is on the sheet or not.
        let take = typed(now, entered, true);
        let mut row = rows::of_job(now, job, Event::Value);
        rows::with_meter(&mut row, now.settings, meter);
        rows::at_point(&mut row, &charged());
        rows::fill(&mut row, &take);
        rows::judged(&mut row, &judgement);
        job.live.charge.took(now.at, take.elapsed);
        let seq = job.put(row, out);
        return Ok(done(job, seq));
    }
    let place = match (&entered.point, asked) {
        (Some(point), _) => place(job, point)?,
        (None, Step::Measure(place)) => place,
        (None, Step::Contact(place)) if job.entries[place].meter.as_ref() == Some(&meter.name) => {
            let take = typed(now, entered, false);
            let seq = out.next_seq;
            take::arrived(job, now, meter, &take, asked, out);
            return Ok(done(job, seq));
        }
        (None, step) => {
            return Err(refuse(format!(
                "no value is asked for now; asked is: {}",
                super::ask::ask(job, now, step).say
            )));
        }
    };
    let role = job.entries[place].role;
    if matches!(role, Role::Dead | Role::Set | Role::Ratio) {
        return Err(refuse(format!(
            "{} is not measured; name a point that is",
            job.entries[place].point
        )));
    }
    // Naming a point asks for no less than being asked for it does.
    if voltage && (role != Role::Insulation || asked == Step::Stop) {
        return Err(refuse(super::ask::ask(job, now, Step::Stop).say));
    }
    if job.entries[place].on_motor() && role != Role::Insulation && !job.holds(Attestation::Dead) {
        return Err(refuse(format!(
            "{} is measured on a motor that is proven dead; confirm that first",
            job.entries[place].point
        )));
    }
    if role == Role::Temperature {
        let take = typed(now, entered, false);
        super::warmth::of_take(&take).map_err(refuse)?;
        let seq = take::measured(job, now, place, meter, &take, out);
        return Ok(done(job, seq));
    }
    if role != Role::Insulation && entered.test_voltage.is_some_and(|v| v.0.abs() > LOW) {
        return Err(refuse(format!(
            "{} gets no test voltage: type a value under one for an insulation point; if it was on, short the winding to ground",
            job.entries[place].point
        )));
    }
    let needs = match role {
        Role::Insulation => Measures::Insulation,
        Role::LeadsBefore | Role::LeadsAfter if !meter.measures(Measures::Ohms) => {
            Measures::Insulation
        }
        _ => Measures::Ohms,
    };
    let wanted = job.entries[place].meter.as_ref();
    if !meter.measures(needs) || wanted != Some(&meter.name) {
        return Err(refuse(format!(
            "{} is measured with {}, found {}; a value of another meter has other leads and another accuracy",
            job.entries[place].point,
            wanted.map_or("no meter of this bench", |m| m.as_str()),
            meter.name
        )));
    }
    if role == Role::Insulation && job.planned(&job.entries[place]).is_none() {
        return Err(refuse(
            "no test voltage can be planned for this motor, so no insulation value is judged; find its rated voltage and the test voltage it may have, then begin a new job",
        ));
    }
    if role == Role::Insulation && entered.test_voltage.is_none() {
        // A person's "voltage on" is the only other word on it (rule 15).
        let attested = typed_voltage(job, now, place) && job.live.charge.needs_short();
        if !attested {
            return Err(refuse(
                "an insulation value needs its test voltage, as read or as set; type it too",
            ));
        }
    }
    let take = typed(now, entered, role == Role::Insulation);
    let seq = take::measured(job, now, place, meter, &take, out);
    Ok(done(job, seq))
}

/// Refuses a time that nobody held a button, and a range that the meter has not.
fn check_numbers(meter: &Meter, entered: &Entered) -> Result<(), Refusal> {
    if let Some(s) = entered.elapsed_s.filter(|s| !HELD.contains(&s.to_f64())) {
        return Err(refuse(format!(
            "expected elapsed_s from 0 to {} seconds, found {s}",
            HELD.end()
        )));
    }
    match (entered.full_scale, meter.over_range_above) {
        (Some(typed), Some(above)) if typed.to_f64() > above.0 => Err(refuse(format!(
            "expected full_scale_ohms up to {} of {} (over_range_above_ohms), found {typed}: over-range is no more than its highest range",
            above.0, meter.name
        ))),
        _ => Ok(()),
    }
}

fn typed(now: &Now<'_>, entered: &Entered, hold: bool) -> Take {
    let full_scale = entered.full_scale;
    Take {
        at: now.at,
        outcome: match entered.shown {
            Some(shown) => Outcome::Value(shown),
            None if hold => Outcome::OverRange { full_scale },
            None => Outcome::Open { full_scale },
        },
        method: Method::Manual,
        samples: 1,
        window: Duration::ZERO,
        spread: Ohms(0.0),
        elapsed: entered
            .elapsed_s
            .map(|s| Duration::try_from_secs_f64(s.to_f64()).unwrap_or(Duration::ZERO)),
        test_voltage: entered.test_voltage,
        leakage: None,
        temperature: None,
        flags: Flags::NONE,
    }
}
