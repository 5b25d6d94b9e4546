//! What rows say about the points of a sheet.
//!
//! The same function takes rows as they go out and rows as they stand in the
//! log, so a job that is rebuilt after a crash knows exactly what it knew.
//! Words by which a `note` row is recognized stand in `reason`, which no person
//! writes; a person's words stand in `note`.

use crate::judge::GroundPath;
use crate::quantity::Decimal;
use crate::row::{Event, Finding, Row, Verdict};

use super::marks;
use super::sheet::{Entry, Role, Taken};

/// Begins the reason of a `note` row that leaves a point out.
pub(super) const SKIPPED: &str = "skipped: ";
/// The reason of a `note` row that asks for a point again.
pub(super) const AGAIN: &str = "to be measured again";
/// Begins the reason of a `note` row by which a job that was set aside goes on.
pub(super) const GONE_ON: &str = "gone on with";
/// The point name of the reading that shows the contact of a ground reading.
pub(super) const CONTACT: &str = "contact";
/// Begins the reason of a reading that shows it.
pub(super) const SHOWN: &str = "a second lead of the winding reads as the winding does";

/// Takes one row into the sheet.
pub(super) fn apply(entries: &mut [Entry], seq: u64, row: &Row) {
    if row.event == Event::Withdrawn {
        withdraw(entries, row);
        return;
    }
    shows_contact(entries, seq, row);
    let unproven_leads_allowed = entries.iter().any(|e| {
        e.role == Role::LeadsBefore && e.is("leads", "before", &row.meter) && e.skipped.is_some()
    });
    let Some(entry) = entries
        .iter_mut()
        .find(|e| e.is(&row.test, &row.point, &row.meter))
    else {
        return;
    };
    match row.event {
        // What was only heard, not taken, has no method: voltage on the clips.
        Event::Value | Event::Open | Event::OverRange if row.method.is_some() => {
            entry.skipped = None;
            entry.again = false;
            let says = marks::says(&entry.wants, row);
            if says.begins {
                entry.beside.clear();
                entry.read = false;
            }
            entry.read |= says.counts;
            // A hold whose judged mark was not read is no hold of this point.
            let ends = says.ends && entry.read;
            if !says.counts {
                entry.beside.push(seq);
                entry.due &= !ends;
                return;
            }
            // The first suspicion of a wrong range asks for a second take (rule 8).
            let suspect = entry.role == Role::Winding && row.finding == Some(Finding::RangeSuspect);
            let second = suspect && !entry.suspect && row.verdict == Some(Verdict::Undecided);
            entry.suspect |= suspect;
            entry.pending = entry.to_ground() && waits_for_proof(row) && !unproven_leads_allowed;
            entry.due = match entry.role {
                // Leads that are not proven are asked for until they are, or left out.
                Role::LeadsBefore | Role::LeadsAfter => row.verdict != Some(Verdict::Pass),
                _ => second || !ends,
            };
            if let Some(before) = &entry.taken {
                let kept = if says.begins {
                    &mut entry.before
                } else {
                    &mut entry.beside
                };
                kept.push(before.seq);
            }
            entry.twice = entry.taken.is_some();
            entry.taken = Some(taken(seq, row));
        }
        Event::Attested if entry.role == Role::Dead => {
            entry.due = false;
            entry.taken = Some(taken(seq, row));
        }
        Event::Judged if entry.judged_only() => entry.taken = Some(taken(seq, row)),
        Event::Judged => {
            if let Some(taken) = &mut entry.taken
                && Some(taken.seq) == row.of_seq
            {
                taken.judged = Some(seq);
                taken.row.verdict = row.verdict;
                taken.row.finding = row.finding;
                taken.row.reason.clone_from(&row.reason);
                entry.pending = false;
            }
        }
        Event::Note if row.reason == AGAIN => {
            entry.due = true;
            entry.again = entry.taken.is_some();
            entry.read = false;
            entry.skipped = None;
        }
        Event::Note => {
            if let Some(why) = row.reason.strip_prefix(SKIPPED) {
                // What waited for a proof waits no longer: it stays as it was judged.
                (entry.due, entry.pending) = (false, false);
                entry.again = false;
                entry.skipped = Some(why.to_owned());
            }
        }
        _ => {}
    }
}

fn taken(seq: u64, row: &Row) -> Taken {
    Taken {
        seq,
        judged: None,
        contact: None,
        row: row.clone(),
    }
}

/// Whether what a row says may still be turned by a proof.
fn waits_for_proof(row: &Row) -> bool {
    row.verdict == Some(Verdict::Undecided)
        && matches!(
            row.finding,
            Some(Finding::LeadsUnproven | Finding::ContactUnproven)
        )
}

/// A row that names a reading and shows or attests its contact.
fn shows_contact(entries: &mut [Entry], seq: u64, row: &Row) {
    let shows = row.event == Event::Attested
        || row.event == Event::Value && row.point == CONTACT && row.reason.starts_with(SHOWN);
    let taken = entries.iter_mut().filter_map(|e| e.taken.as_mut());
    for taken in taken.filter(|t| shows && Some(t.seq) == row.of_seq) {
        taken.contact = Some(seq);
    }
}

/// A withdrawn row takes its point back to due; so does a contact that was
/// not, where the point was judged by it.
fn withdraw(entries: &mut [Entry], row: &Row) {
    for entry in entries {
        let contact = entry.taken.as_mut().filter(|t| t.contact.is_some());
        if let Some(taken) = contact.filter(|t| t.contact == row.of_seq) {
            taken.contact = None;
            if taken.judged.is_some() {
                entry.taken = None;
                entry.pending = false;
                entry.due = true;
            }
            continue;
        }
        let beside = row.of_seq.is_some_and(|of| entry.beside.contains(&of));
        let names = entry.taken.as_ref().is_some_and(|t| {
            Some(t.seq) == row.of_seq || t.judged.is_some() && t.judged == row.of_seq
        });
        if names || beside {
            entry.taken = None;
            entry.beside.clear();
            entry.read = false;
            entry.pending = false;
            entry.again = false;
            entry.due = !entry.judged_only();
        }
    }
}

/// How far a `ground_path` row proves the reference. The verdict says whether
/// at all; metal is at most 1 Ω beyond the null (rule 3).
pub(super) fn path_of(row: &Row) -> GroundPath {
    let one = Decimal::one(0);
    match (row.verdict, row.judged_ohms.or(row.value_ohms)) {
        (Some(Verdict::Pass), Some(ohms)) if ohms <= one => GroundPath::Metal,
        (Some(Verdict::Pass), Some(_)) => GroundPath::Earth,
        _ => GroundPath::Unproven,
    }
}
