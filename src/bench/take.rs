//! A settled value on its way to its point: which one, judged how, and what
//! follows from it.

use core::time::Duration;

use crate::judge::pairs;
use crate::judge::{
    Around, Case, Contact, LeadProof, Part, Through, leads_after, leads_before, proven_after,
    three_phase, three_wire, value,
};
use crate::limits::Kind;
use crate::meter::Meter;
use crate::quantity::{Decimal, Unit};
use crate::reading::{Method, Outcome, Take};
use crate::row::{Event, Finding, Row, Verdict};
use crate::stamp::Stamp;

use super::job::Job;
use super::ledger::{CONTACT, SHOWN};
use super::proof::{Pending, Proof, device};
use super::sheet::Role;
use super::step::{Step, meter_of};
use super::{Now, Out, marks, rows, warmth};

/// A value that no job asked for. Over-range without a job says nothing.
pub(super) fn without_job(now: &Now<'_>, meter: &Meter, take: &Take, out: &mut Out) {
    if matches!(take.outcome, Outcome::Open { .. }) && take.method != Method::Manual {
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
    // A temperature may come from any meter of the bench.
    let mine = |at: usize| {
        let entry = &job.entries[at];
        entry.role == Role::Temperature || entry.meter.as_ref() == Some(&meter.name)
    };
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
    if entry.role == Role::Temperature {
        return warmth::took(job, now, at, meter, take, out);
    }
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
        let around = job.around(now, entry, meter, pending.since);
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
    let since = voltage_on(take);
    let went_on = went_on(job, take);
    let around = job.around(now, entry, meter, went_on);
    let mut judgement = with_case(job, at, meter, take, &around, value);
    marks::not_the_judged(&entry.wants, take, &mut judgement);
    rows::judged(&mut row, &judgement);
    if let Some(read) = job
        .temperature()
        .filter(|t| job.plan.temperature != Some(*t))
    {
        row.temperature_c = row.temperature_c.or_else(|| rows::tidy(read.0, -3));
    }
    let role = entry.role;
    let aborted = matches!(take.outcome, Outcome::Aborted(_));
    let goes_on = marks::goes_on(job, at, since);
    if role == Role::Insulation {
        job.live.charge.took(now.at, take.elapsed);
        job.live.charged = Some(at);
        job.live.let_go = aborted && super::step::typed_voltage(job, now, at);
    }
    if aborted || !goes_on {
        job.live.pending.retain(|p| p.entry != at);
    }
    if let Outcome::Aborted(why) = take.outcome {
        // An aborted hold is no value: it is not judged, and its point stays due.
        row.reason = format!("{}; press again", rows::abort_words(why));
        (row.verdict, row.finding) = (None, None);
        job.live.run = None;
        return job.put(row, out);
    }
    let seq = job.put(row, out);
    let counts = job.entries[at].taken.as_ref().is_some_and(|t| t.seq == seq);
    if counts {
        job.live.pending.retain(|p| p.entry != at);
    }
    if counts && around.leads == LeadProof::Before && job.entries[at].pending {
        job.live.pending.push(Pending {
            entry: at,
            seq,
            take: *take,
            since: went_on,
            contact: Contact::Unproven,
            contact_due: true,
        });
    }
    match role {
        Role::Winding => sets(job, now, at, meter, seq, out),
        Role::Insulation => {
            marks::read(job, now, at, meter, take, (since, seq), out);
            // Who stood clear for a hold stands clear until its last mark.
            job.live.clear = job.live.clear.filter(|_| job.live.run.is_some());
        }
        _ => {}
    }
    seq
}

/// What holds over several values, as soon as all of them are there.
fn sets(job: &mut Job, now: &Now<'_>, at: usize, meter: &Meter, seq: u64, out: &mut Out) {
    let name = job.entries[at].point.name.clone();
    for place in 0..job.entries.len() {
        let entry = &job.entries[place];
        if entry.role == Role::Set && entry.wants.of.contains(&name) {
            set(job, now, place, meter, seq, out);
        }
    }
}

fn set(job: &mut Job, now: &Now<'_>, place: usize, meter: &Meter, seq: u64, out: &mut Out) {
    let wants = &job.entries[place].wants;
    let mut parts: Vec<Part> = Vec::with_capacity(wants.of.len());
    for name in &wants.of {
        let mut windings = job.entries.iter().filter(|e| e.role == Role::Winding);
        let entry = windings.find(|e| e.point.name == *name);
        let part = entry.filter(|e| !e.due).and_then(|entry| {
            let meter = meter_of(now, entry)?;
            Part::from_row(meter, &entry.taken.as_ref()?.row)
        });
        match part {
            Some(part) => parts.push(part),
            None => return,
        }
    }
    let motor = &job.plan.motor;
    let through = Through::of(job.plan.measured_at, job.plan.cable.as_ref());
    let judgement = match (wants.group(&job.entries[place].point), parts.as_slice()) {
        (Some(group), parts) => pairs::group(motor, &group, parts, through),
        (None, [a, b, c]) if motor.kind == Kind::ThreeWire => three_wire(motor, a, b, c, through),
        (None, [a, b, c]) => three_phase(motor, [a, b, c], through),
        (None, _) => return,
    };
    let judgement = job.unless_unfit(now, meter, judgement);
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
        .filter(|e| e.role == Role::Winding && !e.is_loop())
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

/// When it went on by what is known of a typed time: whoever said that everyone
/// stands clear pressed after that word, so a proof before it came first (rule 21).
fn went_on(job: &Job, take: &Take) -> Stamp {
    let since = voltage_on(take);
    match (take.method, job.live.clear) {
        (Method::Manual, Some(said)) => since.max(said),
        _ => since,
    }
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
