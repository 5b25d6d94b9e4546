//! Holds with several marks, and the ratio of two of them.
//!
//! One mark is judged: the first that is not before the profile's. An earlier
//! value says nothing yet, unless it is a fault already; a later one that lies
//! worse is the point's. A ratio is of one hold without interruption, and
//! neither completes nor clears a job.

use core::time::Duration;

use crate::judge::Judgement;
use crate::judge::absorption::{At, absorption};
use crate::limits::RatioKind;
use crate::limits::profile::shipped_bands;
use crate::meter::Meter;
use crate::quantity::{Decimal, Unit};
use crate::reading::{Outcome, Take};
use crate::row::{Event, Row, Verdict};
use crate::stamp::Stamp;
use crate::text::Text;

use super::job::Job;
use super::sheet::{Role, Wants};
use super::{Now, Out, rows};

/// Two takes of one hold agree on its beginning within this: what a reading may come late.
const ONE_HOLD: Duration = Duration::from_secs(3);
/// A value this long after its mark is no value for it (rule 15).
const LATE: f64 = 2.0;

/// A hold that runs, as far as it was read.
#[derive(Clone, Debug)]
pub(super) struct Run {
    /// Its point.
    pub(super) entry: usize,
    since: Stamp,
    read: Vec<Read>,
}

/// What was read at a mark.
#[derive(Clone, Copy, Debug)]
struct Read {
    seq: u64,
    elapsed_s: f64,
    /// None: over-range.
    ohms: Option<Decimal>,
    resolution: Decimal,
}

/// Whether a take goes on with the hold that runs.
pub(super) fn goes_on(job: &Job, at: usize, since: Stamp) -> bool {
    job.live.run.as_ref().is_some_and(|run| {
        run.entry == at && run.since.since(since).max(since.since(run.since)) <= ONE_HOLD
    })
}

/// What a row at a mark says of its point, where its hold has several. The row
/// alone tells, so that the log does too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Says {
    /// Whether a hold begins with it.
    pub(super) begins: bool,
    /// Whether it is what the point comes to.
    pub(super) counts: bool,
    /// Whether the hold has ended with it.
    pub(super) ends: bool,
}

/// What `row` says of a point that is wanted so.
pub(super) fn says(wants: &Wants, row: &Row) -> Says {
    let Some(elapsed) = row.elapsed_s.filter(|_| wants.marks.len() > 1) else {
        return Says {
            begins: true,
            counts: true,
            ends: true,
        };
    };
    let mark = wants.mark_of(elapsed.to_f64());
    let fails = row.verdict == Some(Verdict::Fail);
    // A later value at another voltage is no pass either; one for the ratio alone has no finding.
    let open = match row.verdict {
        Some(Verdict::Undecided) => true,
        Some(Verdict::NotJudged) => row.finding.is_some(),
        _ => false,
    };
    let worse = mark > Some(wants.judged_at) && open;
    Says {
        begins: mark.is_none_or(|m| m == 0),
        counts: fails || worse || mark == Some(wants.judged_at),
        ends: fails || mark.is_some_and(|m| m + 1 == wants.marks.len()),
    }
}

/// Takes the verdict from a value at a mark that is not the judged one, where
/// it says nothing that the judged one will not say.
pub(super) fn not_the_judged(wants: &Wants, take: &Take, judgement: &mut Judgement) {
    let (Some(elapsed), Some(judged)) = (take.elapsed, wants.marks.get(wants.judged_at)) else {
        return;
    };
    if wants.marks.len() < 2
        || !matches!(take.outcome, Outcome::Value(_) | Outcome::OverRange { .. })
    {
        return;
    }
    let mark = wants.mark_of(elapsed.as_secs_f64());
    let early = mark < Some(wants.judged_at);
    let over = mark > Some(wants.judged_at) && matches!(take.outcome, Outcome::OverRange { .. });
    let open = matches!(judgement.verdict, Verdict::Pass | Verdict::Undecided);
    if (early || over) && open {
        judgement.verdict = Verdict::NotJudged;
        judgement.finding = None;
        judgement.reason = format!("read for its ratio: the value at {judged} s is judged");
    }
}

/// Notes what was read, and judges the ratios that end with it.
pub(super) fn read(
    job: &mut Job,
    now: &Now<'_>,
    at: usize,
    meter: &Meter,
    take: &Take,
    (since, seq): (Stamp, u64),
    out: &mut Out,
) {
    let wants = &job.entries[at].wants;
    if wants.marks.len() < 2 {
        return;
    }
    let (ohms, resolution) = match take.outcome {
        Outcome::Value(shown) if shown.unit == Unit::Ohm => (Some(shown.value), shown.resolution),
        Outcome::OverRange { .. } => (None, Decimal::ZERO),
        _ => {
            job.live.run = None;
            return;
        }
    };
    let Some(elapsed) = take.elapsed else {
        job.live.run = None;
        return;
    };
    let elapsed_s = elapsed.as_secs_f64();
    let mark = wants
        .mark_of(elapsed_s)
        .and_then(|m| wants.marks.get(m).copied());
    let ends = mark.is_none_or(|m| wants.marks.last() == Some(&m));
    let name = job.entries[at].point.name.clone();
    let goes_on = goes_on(job, at, since);
    let mut run = job.live.run.take().filter(|_| goes_on).unwrap_or(Run {
        entry: at,
        since,
        read: Vec::new(),
    });
    run.read.push(Read {
        seq,
        elapsed_s,
        ohms,
        resolution,
    });
    for place in 0..job.entries.len() {
        let entry = &job.entries[place];
        let [early, late] = entry.wants.marks[..] else {
            continue;
        };
        let mine = entry.role == Role::Ratio && entry.wants.of.contains(&name);
        if mine && mark == Some(late) {
            ratio_row(job, now, place, meter, &run, [early, late], out);
        }
    }
    // A fault ends a hold before its last mark.
    let due = job.entries[at].due;
    job.live.run = (!ends && due).then_some(run);
}

/// The row of a ratio.
fn ratio_row(
    job: &mut Job,
    now: &Now<'_>,
    place: usize,
    meter: &Meter,
    run: &Run,
    marks: [u32; 2],
    out: &mut Out,
) {
    let at = |mark: u32| {
        let of = |read: &&Read| {
            let late = read.elapsed_s - f64::from(mark);
            (0.0..=LATE).contains(&late)
        };
        run.read.iter().find(of)
    };
    let read = marks.map(at);
    let entry = &job.entries[place];
    let (value, judgement) = match read {
        [Some(early), Some(late)] => judged(job, place, meter, early, late),
        _ => (
            None,
            nothing(format!(
                "no value of one hold at both {} and {} s: hold through, nothing is interpolated",
                marks[0], marks[1]
            )),
        ),
    };
    let judgement = job.unless_unfit(now, meter, judgement);
    let mut row = rows::of_job(now, job, Event::Judged);
    rows::with_meter(&mut row, now.settings, meter);
    rows::at_point(&mut row, &entry.point);
    rows::judged(&mut row, &judgement);
    if let Some(value) = value {
        row.shown = value.to_string();
        (row.value, row.unit) = (Some(value), Some(Unit::Ratio));
    }
    row.of_seq = run.read.last().map(|read| read.seq);
    job.put(row, out);
}

/// The number and what its bands say.
fn judged(
    job: &Job,
    place: usize,
    meter: &Meter,
    early: &Read,
    late: &Read,
) -> (Option<Decimal>, Judgement) {
    let entry = &job.entries[place];
    let (Some(first), Some(last)) = (early.ohms, late.ohms) else {
        let why = "beyond the range at a mark: more than F is no number";
        return (None, nothing(String::from(why)));
    };
    let Some(kind) = RatioKind::from_word(entry.point.name.as_str()) else {
        return (None, nothing(String::from("expected pi or dar")));
    };
    let named = entry.wants.bands.as_ref();
    let shipped = shipped_bands();
    let mut known = job.plan.bands.iter().chain(&shipped);
    let bands = named.and_then(|name| known.find(|b| b.name == *name));
    let at = |read: &Read, ohms| At {
        ohms,
        resolution: read.resolution,
    };
    let named = named.map(Text::as_str);
    absorption(kind, bands, named, meter, at(early, first), at(late, last))
}

fn nothing(why: String) -> Judgement {
    Judgement::bare(Verdict::NotJudged, None, why)
}
