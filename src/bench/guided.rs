//! Sheets that look for something: which of their points is due is chosen by
//! what was read, and what was found is a row that names its readings.
//!
//! Where a search stands is worked out anew from the points, which rows alone
//! fill: so a job that is rebuilt after a crash goes on where it was. A place
//! that somebody left out is no place of the run any more. Nothing found here
//! clears a motor.

use crate::judge::fault_place::{Place, Seen, again, along, halve, loop_of};
use crate::judge::guide::{Guide, Next};
use crate::judge::{Judgement, Part, insulation_minimum};
use crate::limits::{Search, Test};
use crate::quantity::Decimal;
use crate::row::{Event, Finding, Verdict};
use crate::text::Text;
use crate::view::JobState;

use super::job::Job;
use super::sheet::{Entry, Role};
use super::step::meter_of;
use super::{Now, Out, rows};

/// The name of the point that says where a fault lies.
pub(super) const PLACE: &str = "set_place";

/// Where a search stands.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Stand {
    /// This entry is due, in these words.
    Ask(usize, Next),
    /// What was read waits for its proof.
    Waits,
    /// It has found something, or cannot.
    Ends(Judgement),
}

/// Where the search of a job's sheet stands, if it has one.
pub(super) fn stand(job: &Job, now: &Now<'_>) -> Option<Stand> {
    let set = &job.entries[set(job)?];
    match set.wants.search? {
        Search::FaultPlace => Some(fault_place(job, now)),
    }
}

/// The entry that says what was found.
fn set(job: &Job) -> Option<usize> {
    let finds = |e: &Entry| e.role == Role::Set && e.wants.search.is_some();
    job.entries.iter().position(finds)
}

/// The place that a ground point of a run is.
fn place(entry: &Entry) -> &str {
    let name = entry.point.name.as_str();
    name.strip_suffix("_to_ground").unwrap_or(name)
}

fn fault_place(job: &Job, now: &Now<'_>) -> Stand {
    let entries = &job.entries;
    let run: Vec<usize> = (0..entries.len())
        .filter(|at| entries[*at].searched() && entries[*at].role == Role::Ground)
        .filter(|at| entries[*at].skipped.is_none())
        .collect();
    let names: Vec<&str> = run.iter().map(|at| place(&entries[*at])).collect();
    if let Some(at) = (0..run.len()).find(|at| entries[run[*at]].again) {
        let why = "what it read before does not count";
        return Stand::Ask(run[at], again(names[at], why));
    }
    if run.iter().any(|at| entries[*at].pending) {
        return Stand::Waits;
    }
    let mut read: Vec<(u64, usize)> = (0..run.len())
        .filter_map(|at| Some((entries[run[at]].taken.as_ref()?.seq, at)))
        .collect();
    read.sort_unstable();
    let mut seen = Vec::with_capacity(read.len());
    for (seq, at) in &read {
        let entry = &entries[run[*at]];
        let Some(taken) = &entry.taken else { continue };
        match Seen::from_row(*at, &taken.row, entry.twice) {
            Ok(one) => seen.push(one),
            Err(why) if unproven(taken.finding()) => {
                return undecided(
                    taken.finding(),
                    format!(
                        "row {seq} at {} separates nothing: {why}; join the clips, begin again",
                        names[*at]
                    ),
                );
            }
            Err(why) => return Stand::Ask(run[*at], again(names[*at], why)),
        }
    }
    let rated = job.plan.motor.rated_v;
    let condition = job.plan.condition.as_ref().map(Text::as_str);
    let minimum = job
        .profile()
        .and_then(|p| insulation_minimum(p, rated, condition).ok());
    let limit = minimum.map_or(Decimal::ZERO, |m| m.ohms);
    let named = |says: String| {
        let rows: Vec<String> = read.iter().map(|(seq, _)| seq.to_string()).collect();
        format!("{says}; read in rows {}", rows.join(", "))
    };
    match halve(&names, limit, &seen) {
        Guide::Next(next) => {
            let wanted = next.point.split("_to_").next().unwrap_or_default();
            match names.iter().position(|name| *name == wanted) {
                Some(at) => Stand::Ask(run[at], next),
                None => undecided(None, next.say),
            }
        }
        Guide::Found { says, what } => {
            let open = match what {
                Place::Between(from, to) => Some((names[from], names[to])),
                Place::Motor => None,
            };
            let metres = open.filter(|_| seen.iter().any(Seen::is_short));
            match metres.map_or(Metres::None, |(_, open)| {
                metres_of(job, now, names[0], open)
            }) {
                Metres::Ask(stand) => stand,
                Metres::Says(metres) => located(named(format!("{says}; {metres}"))),
                Metres::None => located(named(says)),
            }
        }
        Guide::Refused { says } => undecided(None, named(says)),
    }
}

/// Metres along the cable, where it is known and a short is in it.
enum Metres {
    /// Its loop is to be read.
    Ask(Stand),
    /// They are so many, or cannot be told.
    Says(String),
    /// It is not known how the cable lies, or the loop was left out.
    None,
}

fn metres_of(job: &Job, now: &Now<'_>, place: &str, open: &str) -> Metres {
    let laid = job.plan.cable.as_ref().and_then(|cable| cable.laid);
    let at = job.entries.iter().position(Entry::is_loop);
    let (Some(laid), Some(at)) = (laid, at) else {
        return Metres::None;
    };
    let entry = &job.entries[at];
    match &entry.taken {
        _ if entry.skipped.is_some() => Metres::None,
        Some(taken) if !entry.again => {
            let meter = meter_of(now, entry);
            match meter.and_then(|meter| Part::from_row(meter, &taken.row)) {
                Some(part) => Metres::Says(format!("row {}: {}", taken.seq, along(&laid, &part))),
                None => Metres::None,
            }
        }
        _ => Metres::Ask(Stand::Ask(at, loop_of(place, open))),
    }
}

/// The readings bear the fault; a place for it is no verdict on the motor.
fn located(says: String) -> Stand {
    Stand::Ends(Judgement::bare(Verdict::NotJudged, None, says))
}

fn undecided(finding: Option<Finding>, says: String) -> Stand {
    Stand::Ends(Judgement::bare(Verdict::Undecided, finding, says))
}

/// Whether a proof is missing that no second reading alone brings.
const fn unproven(finding: Option<Finding>) -> bool {
    matches!(
        finding,
        Some(
            Finding::LeadsUnproven
                | Finding::ContactUnproven
                | Finding::GroundPathUnproven
                | Finding::AboveRange
                | Finding::TestForbidden
        )
    )
}

impl Job {
    /// Makes due what the search asks for, and nothing else of it.
    pub(super) fn refresh_search(&mut self, now: &Now<'_>) {
        let Some(stand) = stand(self, now) else {
            return;
        };
        for (at, entry) in self.entries.iter_mut().enumerate() {
            if entry.searched() {
                entry.due = matches!(&stand, Stand::Ask(asked, _) if *asked == at);
                entry.needless = !entry.due && entry.taken.is_none() && entry.skipped.is_none();
            }
        }
    }
}

/// Says what was found once it is found, and takes it back where what it
/// rested on is looked at anew.
pub(super) fn settle(job: &mut Job, now: &Now<'_>, out: &mut Out) {
    if job.state != JobState::Active {
        return;
    }
    let (Some(place), Some(stand)) = (set(job), stand(job, now)) else {
        return;
    };
    let said = job.entries[place].taken.as_ref();
    let read = job.entries.iter().filter(|e| e.searched());
    let last = read
        .filter_map(|e| Some((e.taken.as_ref()?, e)))
        .max_by_key(|(taken, _)| taken.judged.unwrap_or(taken.seq));
    let (event, of_seq) = match (&stand, said, last) {
        (Stand::Ends(found), said, Some((taken, _))) => {
            let of = Some(taken.judged.unwrap_or(taken.seq));
            if said.is_some_and(|s| s.row.of_seq == of && s.row.reason == found.reason) {
                return;
            }
            (Event::Judged, of)
        }
        (_, Some(said), _) => (Event::Withdrawn, Some(said.seq)),
        _ => return,
    };
    let mut row = rows::of_job(now, job, event);
    rows::at_point(&mut row, &job.entries[place].point);
    row.of_seq = of_seq;
    match stand {
        Stand::Ends(found) if event == Event::Judged => {
            if let Some(meter) = last.and_then(|(_, entry)| meter_of(now, entry)) {
                rows::with_meter(&mut row, now.settings, meter);
            }
            rows::judged(&mut row, &found);
        }
        _ => row.reason = String::from("what it rests on is looked at anew"),
    }
    job.put(row, out);
}

/// The words and the cautions of a point that a search asks for.
pub(super) fn words(job: &Job, now: &Now<'_>, at: usize) -> Option<(String, Vec<String>)> {
    match stand(job, now)? {
        Stand::Ask(asked, next) if asked == at => {
            let mut say = next.say;
            if let Some(first) = say.get(..1).map(str::to_uppercase) {
                say.replace_range(..1, &first);
            }
            let cautions = next.cautions.into_iter().map(str::to_owned).collect();
            Some((format!("{say}."), cautions))
        }
        _ => None,
    }
}

/// The entry of a search that says what was found in its points.
pub(super) fn finds(search: Search, of: Vec<Text>) -> Entry {
    let (test, name) = match search {
        Search::FaultPlace => (Test::Ground, PLACE),
    };
    let mut set = Entry::new(test, name, Role::Set, None);
    set.wants.search = Some(search);
    set.wants.of = of;
    set
}
