//! What a person asks for, carried out or refused.
//!
//! A refusal says what was expected, what was found and what to do, and then
//! nothing has changed: everything is checked before the first row goes out.

use crate::input::{Act, Attestation, Command, JobPlan};
use crate::judge::{CLEARS_NONE, clears_a_motor};
use crate::limits::Point;
use crate::row::{Event, Row};
use crate::settle::Reset;
use crate::text::Text;
use crate::view::JobState;

use super::job::Job;
use super::ledger::{AGAIN, GONE_ON, SKIPPED};
use super::sheet::Role;
use super::step::{Step, step};
use super::{Benches, Done, Now, Out, Refusal, Steer, refuse, rows, start, take, typed, withdraw};

impl Benches {
    pub(super) fn act(
        &mut self,
        now: &Now<'_>,
        command: &Command,
        out: &mut Out,
    ) -> Result<Done, Refusal> {
        match &command.act {
            Act::StartJob(plan) => self.start(now, plan, out),
            Act::Confirm { job, what } => self.confirm(now, job, *what, out),
            Act::ClipsOn { job } => self.clips_on(now, job, out),
            Act::Again { meter } => again(now, meter, out),
            Act::Redo { job, point } => self.redo(now, job, point, out),
            Act::Skip { job, point, reason } => self.skip(now, job, point.as_ref(), reason, out),
            Act::Withdraw { seq, reason } => withdraw::withdraw(self, now, *seq, reason, out),
            Act::Review { seq, words } => reviewed(now, command.by.as_ref(), *seq, words, out),
            Act::Park { job, reason } => self.park(now, job, reason, out),
            Act::GoOn { job } => self.go_on(now, job, out),
            Act::EndJob { job } => self.end_job(now, job, out),
            Act::Prove(asked) => self.prove(now, command.by.as_ref(), asked, out),
            Act::Enter(entered) => typed::enter(self, now, entered, out),
            Act::Note { job, note } => self.note(now, job.as_ref(), note, out),
        }
    }

    fn start(&mut self, now: &Now<'_>, plan: &JobPlan, out: &mut Out) -> Result<Done, Refusal> {
        let bench = start::bench(now, plan.bench.as_ref())?;
        if let Some(at) = self.active(&bench) {
            return Err(refuse(format!(
                "bench {bench} has job {} ({}); park or end it first",
                self.jobs[at].name, self.jobs[at].plan.asset
            )));
        }
        let meters = start::meters(now, &bench)?;
        start::check_profile(plan)?;
        start::check_numbers(plan)?;
        if let Some(left) = self.discharging(&plan.asset, now) {
            return Err(refuse(format!(
                "{} is being discharged: keep it shorted to ground for {left} s more, then start",
                plan.asset
            )));
        }
        let charged = |j: &&Job| j.plan.asset == plan.asset && j.live.charge.is_any();
        if let Some(left) = self.jobs.iter().find(charged) {
            return Err(refuse(format!(
                "{} is charged or being discharged in job {}, which is set aside: go on with it and short it to ground, or end it",
                plan.asset, left.name
            )));
        }
        let name = format!("J{}", out.next_seq);
        let mut job = Job::new(name, bench, plan.clone(), meters);
        start::check_sheet(&job)?;
        self.tell_again();
        job.warmth.last = now.wall;
        let seq = out.row(start::start_row(now, &job));
        self.charge_left(&mut job, now, out);
        let done = done(&job, seq);
        self.jobs.push(job);
        Ok(done)
    }

    fn clips_on(&mut self, now: &Now<'_>, job: &Text, out: &mut Out) -> Result<Done, Refusal> {
        let at = self.job(job)?;
        let asked = self.step_of(at, now);
        let job = &self.jobs[at];
        let ask = super::ask::ask(job, now, asked);
        let meter = rows::named(now, &ask.meter);
        match meter {
            Some((meter, _)) if ask.clips_on => {
                out.steer.push((meter, Steer::ClipsOn));
                Ok(Done {
                    job: Some(job.name.clone()),
                    seq: None,
                })
            }
            _ => Err(refuse(format!(
                "\"clips on\" is no answer now; asked is: {}",
                ask.say
            ))),
        }
    }

    fn redo(
        &mut self,
        now: &Now<'_>,
        job: &Text,
        point: &Point,
        out: &mut Out,
    ) -> Result<Done, Refusal> {
        let at = self.running(job)?;
        let asked = self.step_of(at, now);
        let place = place(&self.jobs[at], point)?;
        let job = &mut self.jobs[at];
        let role = job.entries[place].role;
        if matches!(role, Role::Dead | Role::Set | Role::Ratio) {
            return Err(refuse(format!(
                "{point} is not measured; redo the points that it rests on"
            )));
        }
        let chosen = &job.entries[place];
        if chosen.searched() && chosen.taken.is_none() && chosen.skipped.is_none() {
            return Err(refuse(format!(
                "{point} was not measured yet, and the search chooses what comes next; asked is: {}",
                super::ask::ask(job, now, asked).say
            )));
        }
        let mut row = word(now, job, place);
        row.reason = AGAIN.to_owned();
        row.of_seq = job.entries[place].taken.as_ref().map(|t| t.seq);
        let seq = job.put(row, out);
        if role == Role::LeadsBefore {
            let meter = job.entries[place].meter.clone();
            job.unprove(meter.as_ref());
            job.live.forced.extend(meter);
        }
        if role == Role::Ground {
            // Its clip may have fallen: nobody shows the contact of what is read anew.
            for pending in job.live.pending.iter_mut().filter(|p| p.entry == place) {
                pending.contact_due = false;
            }
        }
        let meter = job.entries[place].meter.clone();
        if let Some((id, _)) = meter.and_then(|m| rows::named(now, m.as_str())) {
            out.steer.push((id, Steer::Reset(Reset::Again)));
        }
        Ok(done(&self.jobs[at], seq))
    }

    fn skip(
        &mut self,
        now: &Now<'_>,
        job: &Text,
        point: Option<&Point>,
        reason: &Text,
        out: &mut Out,
    ) -> Result<Done, Refusal> {
        let at = self.running(job)?;
        if reason.is_empty() {
            return Err(refuse("a point is left out only with a reason; say why"));
        }
        let asked = self.step_of(at, now);
        let job = &mut self.jobs[at];
        let place = match point {
            Some(point) => place(job, point)?,
            None => asked
                .entry()
                .ok_or_else(|| refuse("nothing is asked for now; name the point to leave out"))?,
        };
        let refused = match (job.entries[place].role, asked) {
            (Role::Dead, _) => Some("proving it dead cannot be left out; end the job instead"),
            (Role::Set, _) => Some("the set is not measured; leave out one of its points"),
            (Role::Ratio, _) => Some("a ratio is not measured; leave out its insulation test"),
            _ if job.entries[place].wants.kept => {
                Some("the job's sheet lets nobody leave this out; end the job instead")
            }
            (_, Step::Confirm(Attestation::VoltageOff | Attestation::ShortedToGround, _))
                if point.is_none() =>
            {
                Some("a charged winding is not left: switch off and short it to ground")
            }
            _ => None,
        };
        if let Some(why) = refused {
            return Err(refuse(why));
        }
        let mut row = word(now, job, place);
        let waiting = job
            .live
            .pending
            .iter_mut()
            .find(|p| p.entry == place && p.contact_due);
        if let Some(pending) = waiting {
            // The reading stays; its contact is what is left out.
            pending.contact_due = false;
            row.point = super::ledger::CONTACT.to_owned();
            row.of_seq = Some(pending.seq);
        }
        row.reason = format!("{SKIPPED}{reason}");
        let seq = job.put(row, out);
        if job.entries[place].role == Role::LeadsAfter
            && let Some(meter) = super::step::meter_of(now, &job.entries[place])
        {
            take::second_proof(job, now, meter, false, out);
        }
        Ok(done(job, seq))
    }

    fn park(
        &mut self,
        now: &Now<'_>,
        job: &Text,
        reason: &Text,
        out: &mut Out,
    ) -> Result<Done, Refusal> {
        let at = self.running(job)?;
        let job = &mut self.jobs[at];
        if job.live.charge.is_on() {
            return Err(refuse(
                "the test voltage is on; let go, confirm that it is off, then park",
            ));
        }
        let mut row = rows::of_job(now, job, Event::Note);
        row.reason = String::from("parked");
        row.note = reason.to_string();
        let seq = job.put(row, out);
        job.state = JobState::Parked;
        job.set_aside();
        Ok(done(job, seq))
    }

    fn go_on(&mut self, now: &Now<'_>, job: &Text, out: &mut Out) -> Result<Done, Refusal> {
        let at = self.job(job)?;
        let job = &self.jobs[at];
        if job.state == JobState::Active {
            return Err(refuse(format!("job {} is not set aside", job.name)));
        }
        if let Some(other) = self.active(&job.bench) {
            return Err(refuse(format!(
                "bench {} has job {} ({}); park or end it first",
                job.bench, self.jobs[other].name, self.jobs[other].plan.asset
            )));
        }
        let asset = &job.plan.asset;
        let charged =
            |(of, j): &(usize, &Job)| *of != at && j.plan.asset == *asset && j.live.charge.is_any();
        if let Some((_, left)) = self.jobs.iter().enumerate().find(charged) {
            return Err(refuse(format!(
                "{asset} is charged or being discharged in job {}, which is set aside: go on with that one and short it to ground, or end it",
                left.name
            )));
        }
        self.tell_again();
        let job = &mut self.jobs[at];
        job.state = JobState::Active;
        let mut row = rows::of_job(now, job, Event::Note);
        row.reason = format!("{GONE_ON}: the leads must be proven again");
        let seq = job.put(row, out);
        let done = done(job, seq);
        // Another job of this asset may have ended meanwhile, and left a charge.
        let mut job = self.jobs.remove(at);
        self.charge_left(&mut job, now, out);
        self.jobs.insert(at, job);
        Ok(done)
    }

    fn end_job(&mut self, now: &Now<'_>, job: &Text, out: &mut Out) -> Result<Done, Refusal> {
        let at = self.job(job)?;
        let seq = self.finish(at, now, out);
        Ok(Done {
            job: Some(job.to_string()),
            seq: Some(seq),
        })
    }

    fn note(
        &mut self,
        now: &Now<'_>,
        job: Option<&Text>,
        note: &Text,
        out: &mut Out,
    ) -> Result<Done, Refusal> {
        let mut row = match job {
            Some(job) => rows::of_job(now, &self.jobs[self.job(job)?], Event::Note),
            None => Row::new(Event::Note, now.wall),
        };
        row.note = note.to_string();
        Ok(Done {
            job: job.map(Text::to_string),
            seq: Some(out.row(row)),
        })
    }

    /// The place of a job that has no end.
    pub(super) fn job(&self, name: &Text) -> Result<usize, Refusal> {
        self.jobs
            .iter()
            .position(|j| j.name == name.as_str())
            .ok_or_else(|| {
                let names: Vec<&str> = self.jobs.iter().map(|j| j.name.as_str()).collect();
                refuse(format!(
                    "no job {:?} without an end; the jobs are: {}",
                    name.as_str(),
                    start::listed(&names)
                ))
            })
    }

    /// The place of a job that is worked on.
    pub(super) fn running(&self, name: &Text) -> Result<usize, Refusal> {
        let at = self.job(name)?;
        match self.jobs[at].state {
            JobState::Active => Ok(at),
            JobState::Parked | JobState::Interrupted => Err(refuse(format!(
                "job {name} is set aside; go on with it first"
            ))),
        }
    }

    /// Voltage that stands on the clips is said in each job anew.
    fn tell_again(&mut self) {
        for watch in &mut self.watches {
            watch.tell_again();
        }
    }

    /// What the job at `at` asks for.
    pub(super) fn step_of(&self, at: usize, now: &Now<'_>) -> Step {
        let job = &self.jobs[at];
        step(job, now, self.voltage_on(&job.bench, now))
    }
}

/// What was done, for the one who asked.
pub(super) fn done(job: &Job, seq: u64) -> Done {
    Done {
        job: Some(job.name.clone()),
        seq: Some(seq),
    }
}

/// The place of a point on the sheet; of several (leads of two meters) the one that is due.
pub(super) fn place(job: &Job, point: &Point) -> Result<usize, Refusal> {
    let due = job.entries.iter().position(|e| e.point == *point && e.due);
    due.or_else(|| job.entries.iter().position(|e| e.point == *point))
        .ok_or_else(|| {
            let names: Vec<&Point> = job.entries.iter().map(|e| &e.point).collect();
            refuse(format!(
                "no point {point} on this sheet; its points are: {}",
                start::listed(&names)
            ))
        })
}

/// A `note` row of the program's own about a point.
fn word(now: &Now<'_>, job: &Job, place: usize) -> Row {
    let mut row = rows::of_job(now, job, Event::Note);
    let entry = &job.entries[place];
    rows::at_point(&mut row, &entry.point);
    row.meter = entry
        .meter
        .as_ref()
        .map(Text::to_string)
        .unwrap_or_default();
    row
}

/// Refuses a row that there is not.
pub(super) fn is_there(seq: u64, out: &Out) -> Result<(), Refusal> {
    if (1..out.next_seq).contains(&seq) {
        return Ok(());
    }
    Err(refuse(format!(
        "no row {seq}; the last one is {}",
        out.next_seq.saturating_sub(1)
    )))
}

/// A reviewer's word on a row: it changes nothing about it.
fn reviewed(
    now: &Now<'_>,
    by: Option<&Text>,
    seq: u64,
    words: &Text,
    out: &mut Out,
) -> Result<Done, Refusal> {
    is_there(seq, out)?;
    if clears_a_motor(words.as_str()) {
        return Err(refuse(CLEARS_NONE));
    }
    let Some(by) = by.filter(|by| !by.is_empty()) else {
        return Err(refuse("a review is signed with a name; say who reviews"));
    };
    if words.is_empty() {
        return Err(refuse(
            "a review says something; say what was looked at and found",
        ));
    }
    let mut row = Row::new(Event::Reviewed, now.wall);
    row.of_seq = Some(seq);
    row.tester = by.to_string();
    row.reason = words.to_string();
    Ok(Done {
        job: None,
        seq: Some(out.row(row)),
    })
}

fn again(now: &Now<'_>, meter: &Text, out: &mut Out) -> Result<Done, Refusal> {
    let (id, _) = rows::named(now, meter.as_str()).ok_or_else(|| no_meter(now, meter))?;
    out.steer.push((id, Steer::Reset(Reset::Again)));
    Ok(Done {
        job: None,
        seq: None,
    })
}

/// No meter of that name.
pub(super) fn no_meter(now: &Now<'_>, meter: &Text) -> Refusal {
    let names: Vec<&Text> = now.settings.meters.iter().map(|m| &m.name).collect();
    refuse(format!(
        "no meter {:?}; the meters are: {}",
        meter.as_str(),
        start::listed(&names)
    ))
}
