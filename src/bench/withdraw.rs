//! Withdrawing a row: it stays in the log and does not count any more, and
//! neither does what rests on it.

use crate::input::Attestation;
use crate::judge::Contact;
use crate::row::Event;
use crate::row::Row;
use crate::text::Text;

use super::job::Job;
use super::sheet::Role;
use super::{Benches, Done, Now, Out, Refusal, refuse, rows};

/// Takes back the row `seq` and what rests on it.
pub(super) fn withdraw(
    benches: &mut Benches,
    now: &Now<'_>,
    seq: u64,
    reason: &Text,
    out: &mut Out,
) -> Result<Done, Refusal> {
    super::command::is_there(seq, out)?;
    if reason.is_empty() {
        return Err(refuse("a row is withdrawn only with a reason; say why"));
    }
    if benches.checks.counts(seq) {
        return Err(refuse(format!(
            "row {seq} is a check of a meter, which stands; check the meter again: stillohm prove"
        )));
    }
    let owner = benches
        .jobs
        .iter_mut()
        .find(|job| place(job, seq).is_some() || said(job, seq));
    let Some(job) = owner else {
        // A value of no job, or of one that has ended.
        let mut row = Row::new(Event::Withdrawn, now.wall);
        row.of_seq = Some(seq);
        row.reason = reason.to_string();
        return Ok(Done {
            job: None,
            seq: Some(out.row(row)),
        });
    };
    let Some(at) = place(job, seq) else {
        return Ok(word(job, now, seq, reason.as_str(), out));
    };
    if job.entries[at].role == Role::Set && job.entries[at].wants.search.is_some() {
        return Err(refuse(
            "what was found follows from its readings; withdraw the one that is wrong",
        ));
    }
    let rests: Vec<usize> = (0..job.entries.len())
        .filter(|other| *other != at && rests_on(job, *other, at, seq))
        .collect();
    let read = job.entries[at].taken.as_ref();
    let read = read.filter(|t| t.judged == Some(seq)).map(|t| t.seq);
    let first = one(job, now, at, seq, reason.as_str(), out);
    if let Some(read) = read {
        // A reading goes with the verdict on it: the point is measured again.
        let why = format!("it was judged by row {seq}, which was withdrawn");
        one(job, now, at, read, &why, out);
    }
    for other in rests {
        if let Some(taken) = &job.entries[other].taken {
            let (of, why) = (
                taken.seq,
                format!("it rests on row {seq}, which was withdrawn"),
            );
            one(job, now, other, of, &why, out);
        }
    }
    let meter = job.entries[at].meter.clone();
    match job.entries[at].role {
        _ if job.entries[at].before.contains(&seq) => {}
        Role::LeadsBefore | Role::LeadsAfter => job.unprove(meter.as_ref()),
        Role::Dead => job.set_aside(),
        _ => {}
    }
    Ok(super::command::done(job, first))
}

fn one(job: &mut Job, now: &Now<'_>, at: usize, seq: u64, reason: &str, out: &mut Out) -> u64 {
    let mut row = rows::of_job(now, job, Event::Withdrawn);
    let entry = &job.entries[at];
    rows::at_point(&mut row, &entry.point);
    row.meter = entry
        .meter
        .as_ref()
        .map(Text::to_string)
        .unwrap_or_default();
    row.of_seq = Some(seq);
    row.reason = reason.to_owned();
    job.put(row, out)
}

/// Whether `seq` is a person's word, or shows a contact.
fn said(job: &Job, seq: u64) -> bool {
    job.live.words.contains_key(&seq) || contact_of(job, seq).is_some()
}

fn contact_of(job: &Job, seq: u64) -> Option<usize> {
    let shown = |e: &super::sheet::Entry| e.taken.as_ref().and_then(|t| t.contact) == Some(seq);
    job.entries.iter().position(shown)
}

/// Takes a word or a contact back: it is asked for again.
fn word(job: &mut Job, now: &Now<'_>, seq: u64, reason: &str, out: &mut Out) -> Done {
    let of = contact_of(job, seq);
    let mut row = rows::of_job(now, job, Event::Withdrawn);
    if let Some(at) = of {
        rows::at_point(&mut row, &job.entries[at].point);
    }
    row.of_seq = Some(seq);
    row.reason = reason.to_owned();
    let first = job.put(row, out);
    let live = &mut job.live;
    for pending in live.pending.iter_mut().filter(|p| Some(p.entry) == of) {
        pending.contact = Contact::Unproven;
        pending.contact_due = true;
    }
    match live.words.remove(&seq) {
        Some((Attestation::Disconnected, _)) => live.disconnected = false,
        Some((Attestation::StandClear, _)) => live.clear = None,
        Some((Attestation::DisplayFollows, meter)) => _ = live.follows.remove(&meter),
        Some((Attestation::VoltageOff, _)) => live.charge.on(now.at),
        Some((Attestation::ShortedToGround, _)) => live.charge.not_shorted(),
        // What was on stays counted; the others have a place of their own.
        Some((Attestation::VoltageOn | Attestation::BothEnds | Attestation::Dead, _)) | None => {}
    }
    super::command::done(job, first)
}

fn place(job: &Job, seq: u64) -> Option<usize> {
    job.entries.iter().position(|e| {
        e.beside.contains(&seq)
            || e.before.contains(&seq)
            || e.taken
                .as_ref()
                .is_some_and(|t| t.seq == seq || t.judged == Some(seq))
    })
}

/// Whether the value at `other` was judged with the help of the row `seq` of
/// the point at `at`: after it, and before it was measured again.
fn rests_on(job: &Job, other: usize, at: usize, seq: u64) -> bool {
    let (rests, on) = (&job.entries[other], &job.entries[at]);
    let Some(taken) = &rests.taken else {
        return false;
    };
    let (from, until) = if on.before.contains(&seq) {
        let after = on.before.iter().copied().find(|before| *before > seq);
        (seq, after.or(on.taken.as_ref().map(|t| t.seq)))
    } else {
        (on.taken.as_ref().map_or(seq, |t| t.seq), None)
    };
    let within = |seq: u64| seq > from && until.is_none_or(|until| seq < until);
    let later = within(taken.seq) || taken.judged.is_some_and(within);
    later
        && match on.role {
            Role::LeadsBefore => {
                rests.meter == on.meter && (rests.on_motor() || rests.role == Role::LeadsAfter)
                    || rests.role == Role::Set
            }
            // Only what the second proof judged anew.
            Role::LeadsAfter => {
                rests.meter == on.meter
                    && rests.to_ground()
                    && rests.taken.as_ref().is_some_and(|t| t.judged.is_some())
            }
            Role::GroundPath => rests.to_ground(),
            Role::Winding => rests.role == Role::Set && rests.wants.of.contains(&on.point.name),
            Role::Insulation => {
                rests.role == Role::Ratio && rests.wants.of.contains(&on.point.name)
            }
            Role::Temperature => on.point.name.as_str() == "winding" && rests.on_motor(),
            Role::Dead | Role::Set | Role::Sensor | Role::Ground | Role::Ratio => false,
        }
}
