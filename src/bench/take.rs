//! A settled value on its way to its point: which one, judged how, and what
//! follows from it.

use core::time::Duration;

use crate::judge::{
    Around, Case, Contact, LeadProof, Part, Through, leads_after, leads_before, proven_after,
    three_phase, three_wire, value,
};
use crate::limits::Kind;
use crate::meter::Meter;
use crate::quantity::{Decimal, Unit};
use crate::reading::{Outcome, Take};
use crate::row::{Event, Finding, Row, Verdict};
use crate::stamp::Stamp;

use super::job::Job;
use super::ledger::{CONTACT, SHOWN};
use super::proof::{Pending, Proof, device};
use super::sheet::Role;
use super::step::{Step, meter_of};
use super::{Now, Out, rows};

/// A value that no job asked for. Over-range without a job says nothing.
pub(super) fn without_job(now: &Now<'_>, meter: &Meter, take: &Take, out: &mut Out) {
    if matches!(take.outcome, Outcome::Open { .. }) && take.method != crate::reading::Method::Manual
    {
        return;
    }
    let mut row = Row::new(Event::Value, now.wall);
    rows::with_meter(&mut row, now.settings, meter);
    rows::unjudged(&mut row, take, "no job: logged and not judged");
    out.row(row);
}

/// A value that arrives while a job runs on the bench.
pub(super) fn arrived(
    job: &mut Job,
    now: &Now<'_>,
    meter: &Meter,
    take: &Take,
    step: Step,
    out: &mut Out,
) {
    let mine = |at: usize| job.entries[at].meter.as_ref() == Some(&meter.name);
    match step {
        Step::Measure(at) if mine(at) => _ = measured(job, now, at, meter, take, out),
        Step::Contact(at) if mine(at) => contact(job, now, at, meter, take, out),
        Step::Stop => {
            let why = "voltage is on the clips: no value of an ohm test counts";
            unasked(
                job,
                now,
                meter,
                take,
                Some(Finding::VoltagePresent),
                why,
                out,
            );
        }
        _ => {
            let asked = super::ask::ask(job, now, step).say;
            let why = format!("not what was asked for, so no point has it; asked was: {asked}");
            unasked(job, now, meter, take, None, &why, out);
        }
    }
}

/// A value that no point takes: it is kept, and says why it counts for nothing.
fn unasked(
    job: &mut Job,
    now: &Now<'_>,
    meter: &Meter,
    take: &Take,
    finding: Option<Finding>,
    why: &str,
    out: &mut Out,
) {
    let mut row = rows::of_job(now, job, Event::Value);
    rows::with_meter(&mut row, now.settings, meter);
    rows::unjudged(&mut row, take, why);
    row.finding = finding;
    job.put(row, out);
}

/// A value of the point at `at`. Gives its row's `seq`.
pub(super) fn measured(
    job: &mut Job,
    now: &Now<'_>,
    at: usize,
    meter: &Meter,
    take: &Take,
    out: &mut Out,
) -> u64 {
    let entry = &job.entries[at];
    let mut row = rows::of_job(now, job, Event::Value);
    rows::with_meter(&mut row, now.settings, meter);
    if let Outcome::Value(shown) = take.outcome
        && shown.unit != Unit::Ohm
    {
        let why = format!(
            "expected ohms for {}, found {}: set the meter to ohms",
            entry.point,
            shown.unit.word()
        );
        rows::unjudged(&mut row, take, &why);
        return job.put(row, out);
    }
    rows::at_point(&mut row, &entry.point);
    rows::fill(&mut row, take);
    match entry.role {
        Role::LeadsBefore => before(job, now, meter, take, row, out),
        Role::LeadsAfter => after(job, now, meter, take, row, out),
        _ => on_motor(job, now, at, meter, take, row, out),
    }
}

fn before(
    job: &mut Job,
    now: &Now<'_>,
    meter: &Meter,
    take: &Take,
    mut row: Row,
    out: &mut Out,
) -> u64 {
    let leads = leads_before(meter, take);
    rows::judged(&mut row, &leads.judgement);
    // Leads that are read anew end what waited for the old ones.
    job.unprove(Some(&meter.name));
    if leads.proven {
        job.live.forced.remove(&meter.name);
        job.live.returned = false;
        job.live.proofs.insert(
            meter.name.clone(),
            Proof {
                at: take.at,
                shown: leads.shown,
                null: leads.null,
                aged: false,
                device: device(now.settings, meter),
            },
        );
    }
    job.put(row, out)
}

fn after(
    job: &mut Job,
    now: &Now<'_>,
    meter: &Meter,
    take: &Take,
    mut row: Row,
    out: &mut Out,
) -> u64 {
    // A proof that ended proves nothing any more, but the leads can still be compared.
    let known = job.live.proofs.get(&meter.name).map(|p| p.shown);
    let compared = known.unwrap_or_else(|| {
        job.place(Role::LeadsBefore, Some(&meter.name))
            .and_then(|at| job.entries[at].taken.as_ref())
            .and_then(|taken| taken.row.value_ohms)
    });
    let leads = leads_after(meter, take, compared);
    rows::judged(&mut row, &leads.judgement);
    let broken = leads.judgement.verdict == Verdict::Fail
        && matches!(leads.judgement.finding, Some(Finding::Open | Finding::High));
    let seq = job.put(row, out);
    if broken {
        // A lead that is broken now and whole a moment later was so before too:
        // what it read beyond the range is measured again.
        job.unprove(Some(&meter.name));
    }
    if leads.proven && known.is_some() {
        second_proof(job, now, meter, true, out);
    }
    seq
}

/// Judges again what waited for the second proof of a meter's leads: it held,
/// or (`held` false) it was left out, and what waited stays undecided.
pub(super) fn second_proof(job: &mut Job, now: &Now<'_>, meter: &Meter, held: bool, out: &mut Out) {
    let all = core::mem::take(&mut job.live.pending);
    let (mine, others): (Vec<Pending>, Vec<Pending>) = all
        .into_iter()
        .partition(|p| job.entries[p.entry].meter.as_ref() == Some(&meter.name));
    job.live.pending = others;
    for pending in mine {
        let entry = &job.entries[pending.entry];
        let around = job.around(now, entry, meter, voltage_on(&pending.take));
        let judgement = with_case(job, pending.entry, meter, &pending.take, &around, |case| {
            if held {
                proven_after(case, pending.contact)
            } else {
                value(case)
            }
        });
        let mut row = rows::of_job(now, job, Event::Judged);
        rows::with_meter(&mut row, now.settings, meter);
        rows::at_point(&mut row, &job.entries[pending.entry].point);
        rows::judged(&mut row, &judgement);
        if !held {
            row.reason = format!("leads after was left out; {}", row.reason);
        }
        row.of_seq = Some(pending.seq);
        job.put(row, out);
    }
}

fn on_motor(
    job: &mut Job,
    now: &Now<'_>,
    at: usize,
    meter: &Meter,
    take: &Take,
    mut row: Row,
    out: &mut Out,
) -> u64 {
    let entry = &job.entries[at];
    let around = job.around(now, entry, meter, voltage_on(take));
    let judgement = with_case(job, at, meter, take, &around, value);
    rows::judged(&mut row, &judgement);
    let role = entry.role;
    if role == Role::Insulation {
        job.live.charge.took(now.at, take.elapsed);
        let aborted = matches!(take.outcome, Outcome::Aborted(_));
        job.live.let_go = aborted && super::step::typed_voltage(job, now, at);
        job.live.clear = aborted && job.live.clear;
    }
    job.live.pending.retain(|p| p.entry != at);
    if let Outcome::Aborted(why) = take.outcome {
        // An aborted hold is no value: it is not judged, and its point stays due.
        row.reason = format!("{}; press again", rows::abort_words(why));
        (row.verdict, row.finding) = (None, None);
        return job.put(row, out);
    }
    let seq = job.put(row, out);
    if around.leads == LeadProof::Before && job.entries[at].pending {
        job.live.pending.push(Pending {
            entry: at,
            seq,
            take: *take,
            contact: Contact::Unproven,
            contact_due: true,
        });
    }
    if role == Role::Winding {
        set(job, now, meter, seq, out);
    }
    seq
}

/// What holds over three values, as soon as all three are there.
fn set(job: &mut Job, now: &Now<'_>, meter: &Meter, seq: u64, out: &mut Out) {
    let Some(place) = job.place(Role::Set, None) else {
        return;
    };
    let mut parts: Vec<Part> = Vec::with_capacity(3);
    for entry in job.entries.iter().filter(|e| e.role == Role::Winding) {
        let part = entry.taken.as_ref().and_then(|taken| {
            let meter = meter_of(now, entry)?;
            Part::from_row(meter, &taken.row)
        });
        match part {
            Some(part) if !entry.due => parts.push(part),
            _ => return,
        }
    }
    let [a, b, c] = parts.as_slice() else {
        return;
    };
    let motor = &job.plan.motor;
    let through = Through::of(job.plan.measured_at, job.plan.cable.as_ref());
    let judgement = match motor.kind {
        Kind::ThreeWire => three_wire(motor, a, b, c, through),
        _ => three_phase(motor, [a, b, c], through),
    };
    let mut row = rows::of_job(now, job, Event::Judged);
    rows::with_meter(&mut row, now.settings, meter);
    rows::at_point(&mut row, &job.entries[place].point);
    rows::judged(&mut row, &judgement);
    row.of_seq = Some(seq);
    job.put(row, out);
}

/// The value that shows the contact of a ground reading: the winding clip
/// stayed, the other moved to a second lead, and the winding's value returned.
fn contact(job: &mut Job, now: &Now<'_>, at: usize, meter: &Meter, take: &Take, out: &mut Out) {
    let Some(of) = job.live.pending.iter().position(|p| p.entry == at) else {
        return;
    };
    let seq = job.live.pending[of].seq;
    let mut row = rows::of_job(now, job, Event::Value);
    rows::with_meter(&mut row, now.settings, meter);
    let returned = match take.outcome {
        Outcome::Value(shown) if shown.unit == Unit::Ohm => Ok(shown.value),
        _ => Err("expected the winding's value in ohms"),
    }
    .and_then(|ohms| fits_winding(job, meter, ohms));
    let why = match returned {
        Ok(()) => format!("{SHOWN}: clip A had contact while row {seq} was read"),
        Err(why) => format!("contact of row {seq} is not shown: {why}"),
    };
    rows::unjudged(&mut row, take, &why);
    row.test = job.entries[at].point.test.to_string();
    row.point = CONTACT.to_owned();
    row.of_seq = Some(seq);
    job.put(row, out);
    if returned.is_ok() {
        let pending = &mut job.live.pending[of];
        pending.contact = Contact::SecondLead;
        pending.contact_due = false;
    }
}

/// Whether a value is that of a winding read before in this job, within a
/// tenth and one ohm (own); where none was read, at most 1 kΩ (own). Clips that
/// are joined must not look like a winding: the value lies nearer to the
/// winding's than to theirs, or beyond what leads may change (rule 1).
fn fits_winding(job: &Job, meter: &Meter, ohms: Decimal) -> Result<(), &'static str> {
    const JOINED: &str = "the clips joined read the same";
    let read = job
        .entries
        .iter()
        .filter(|e| e.role == Role::Winding)
        .filter_map(|e| e.taken.as_ref()?.row.value_ohms);
    let read: Vec<f64> = read.map(Decimal::to_f64).collect();
    let shown = ohms.to_f64();
    let leads = job.live.proofs.get(&meter.name).and_then(|p| p.shown);
    let joined = leads.map_or(0.0, Decimal::to_f64);
    if read.is_empty() {
        return match shown {
            _ if (shown - joined).abs() <= 0.5 => Err(JOINED),
            _ if shown <= 1000.0 => Ok(()),
            _ => Err("expected at most 1 kΩ, as a winding reads"),
        };
    }
    let fits = |w: &&f64| (**w - shown).abs() <= 1.0 + **w / 10.0;
    let nearer = |w: &f64| (w - shown).abs() < (shown - joined).abs();
    match read.iter().filter(fits).copied().find(nearer) {
        Some(_) => Ok(()),
        None if read.iter().any(|w| fits(&w)) => Err(JOINED),
        None => Err("it is not the value of a winding of this motor"),
    }
}

/// When the voltage of a hold went on; for a steady value the moment of it.
fn voltage_on(take: &Take) -> Stamp {
    let held = take.elapsed.unwrap_or(Duration::ZERO).as_nanos();
    let nanos = u128::from(take.at.nanos()).saturating_sub(held);
    Stamp::from_nanos(u64::try_from(nanos).unwrap_or(0))
}

fn with_case<T>(
    job: &Job,
    at: usize,
    meter: &Meter,
    take: &Take,
    around: &Around,
    judge: impl Fn(&Case<'_>) -> T,
) -> T {
    judge(&Case {
        point: &job.entries[at].point,
        motor: &job.plan.motor,
        meter,
        take,
        around,
    })
}
