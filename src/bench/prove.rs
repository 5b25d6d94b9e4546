//! Checks of meters on known resistors: asked for, taken, remembered (rule 20).
//!
//! What is known of a meter's checks is what its `proved` rows say, taken in
//! by [`Checks`] as they go out and as they stand in the log. A failed check
//! blocks passes until one holds. What runs now is forgotten by a stop and
//! asked for anew; nothing here clears a meter by being forgotten.

use core::time::Duration;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::input::{Known, Prove, Read};
use crate::judge::{Judgement, Null, prove as judge};
use crate::meter::{Address, Meter};
use crate::quantity::{Decimal, Ohms};
use crate::reading::{Flags, Method, Outcome, Take};
use crate::row::{Event, Finding, Recorded, Row, Verdict};
use crate::settle::Reset;
use crate::stamp::Stamp;
use crate::text::Text;

use super::job::{Job, overdue};
use super::{Benches, Done, Now, Out, Refusal, Steer, command, refuse, rows};

/// A check of which nothing is heard for so long is broken off (own): what is
/// clipped later belongs to something else.
const PATIENCE: Duration = Duration::from_secs(5 * 60);
/// The test in the row of joined clips.
const LEADS: &str = "leads";

/// What a `proved` row says in its note, as JSON.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Note {
    /// The resistor.
    known_ohms: Decimal,
    percent: Decimal,
    /// Which of how many, from 1.
    number: usize,
    of: usize,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    serial_number: Option<Text>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    certificate: Option<Text>,
    /// In the last row: the ranges in which no resistor lay.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    not_checked: Vec<String>,
}

/// What `proved` rows say of each meter, by its name and serial number.
#[derive(Clone, Debug, Default)]
pub struct Checks {
    meters: BTreeMap<(String, String), Check>,
}

#[derive(Clone, Debug, Default)]
struct Check {
    /// The resistors of the last check, as far as it came.
    last: Vec<Line>,
    /// What failed and was not made up for.
    failed: Vec<Failed>,
}

#[derive(Clone, Debug)]
struct Line {
    seq: u64,
    known: Decimal,
    held: bool,
}

#[derive(Clone, Debug)]
struct Failed {
    seq: u64,
    known: Decimal,
    /// The value was of the resistor's size, or over-range, as a broken range
    /// reads: a check that makes up for it must come near it.
    near: bool,
    words: String,
}

impl Checks {
    /// Takes in a row. Rows that are no check of a meter are passed over.
    pub fn apply(&mut self, seq: u64, row: &Row) {
        if row.event != Event::Proved || row.test == LEADS {
            return;
        }
        // One that was read again says nothing of the meter.
        let undecided = row.verdict == Some(Verdict::Undecided);
        if undecided && row.finding != Some(Finding::LimitsTooNarrow) {
            return;
        }
        let Ok(note) = serde_json::from_str::<Note>(&row.note) else {
            return;
        };
        let number = note.serial_number.as_ref().map_or("", Text::as_str);
        let key = (row.meter.clone(), number.to_owned());
        let check = self.meters.entry(key).or_default();
        if note.number == 1 {
            check.last.clear();
        }
        let held = row.verdict == Some(Verdict::Pass);
        let known = note.known_ohms;
        check.last.push(Line { seq, known, held });
        if row.verdict == Some(Verdict::Fail) {
            let near = |net| judge::near(net, known);
            check.failed.push(Failed {
                seq,
                known,
                near: row.judged_ohms.is_none_or(near),
                words: format!("row {seq}: {} read {}", row.limits_from, row.shown),
            });
        }
        let whole = note.number == note.of && check.last.len() == note.of;
        if whole && check.last.iter().all(|line| line.held) {
            let last = &check.last;
            check.failed.retain(|failed| {
                let made_up = |line: &Line| judge::covers(line.known, failed.known);
                failed.near && !last.iter().any(made_up)
            });
        }
    }

    /// Whether a row still says something of a meter: it is of its last check,
    /// or failed and was not made up for.
    pub fn counts(&self, seq: u64) -> bool {
        self.meters.values().any(|check| {
            check.last.iter().any(|line| line.seq == seq)
                || check.failed.iter().any(|failed| failed.seq == seq)
        })
    }

    /// How a meter failed, if nothing has made up for it since.
    fn failed(&self, meter: &Meter) -> Option<&Failed> {
        let number = meter.serial_number.as_ref().map_or("", Text::as_str);
        let key = (meter.name.to_string(), number.to_owned());
        self.meters.get(&key)?.failed.last()
    }
}

/// A check whose values come from the meter's stream.
#[derive(Clone, Debug)]
pub(super) struct Proving {
    by: Option<Text>,
    known: Vec<Known>,
    /// How many resistors are read.
    read: usize,
    leads_due: bool,
    null: Option<Null>,
    until: Stamp,
}

impl Benches {
    /// Takes in the rows of checks that stand in the log.
    pub fn proved(&mut self, rows: &[Recorded]) {
        for row in rows {
            self.checks.apply(row.seq, &row.row);
        }
    }

    /// What is to be done next for a meter that is being checked, by its name.
    pub fn proving(&self) -> impl Iterator<Item = (&Text, String)> {
        self.proving.iter().map(|(name, proving)| {
            let say = match proving.known.get(proving.read) {
                _ if proving.leads_due => format!("Join clip A and clip B of {name}."),
                Some(known) => format!("Clip {name} on {}.", judge::named(known)),
                None => String::new(),
            };
            (name, say)
        })
    }

    /// Begins a check of a meter, or judges one whose values are typed.
    pub(super) fn prove(
        &mut self,
        now: &Now<'_>,
        by: Option<&Text>,
        asked: &Prove,
        out: &mut Out,
    ) -> Result<Done, Refusal> {
        let (id, meter) = rows::named(now, asked.meter.as_str())
            .ok_or_else(|| command::no_meter(now, &asked.meter))?;
        if asked.known.is_empty() {
            self.proving
                .remove(&meter.name)
                .ok_or_else(|| refuse(format!("{} is not being checked", meter.name)))?;
            return Ok(Done {
                job: None,
                seq: None,
            });
        }
        if let Some(at) = self.active(&meter.bench) {
            return Err(refuse(format!(
                "bench {} has job {} ({}); park or end it, then check the meter",
                meter.bench, self.jobs[at].name, self.jobs[at].plan.asset
            )));
        }
        for known in &asked.known {
            let percent = known.percent.to_f64();
            if known.ohms <= Decimal::ZERO || percent <= 0.0 || percent > 20.0 {
                return Err(refuse(format!(
                    "expected ohms above 0 and a tolerance above 0 and up to 20 %, found {}",
                    judge::named(known)
                )));
            }
        }
        let live = |known: &&Known| known.read == Read::Live;
        let typed = asked.known.iter().filter(|known| !live(known)).count();
        if typed != 0 && typed != asked.known.len() {
            return Err(refuse(
                "expected what is shown for each of the resistors or for none of them",
            ));
        }
        let port = now.settings.ports.get(usize::from(meter.port.0));
        if typed == 0 && port.is_some_and(|p| matches!(p.address, Address::Replay { .. })) {
            return Err(refuse(format!(
                "{} is read by eye: type what it shows on each resistor too (--shown), and on the joined clips (--leads)",
                meter.name
            )));
        }
        let wants = judge::wants_leads(meter);
        let (known, by) = (asked.known.clone(), by.cloned());
        let mut proving = Proving {
            by,
            known,
            read: 0,
            leads_due: wants,
            null: None,
            until: now.at.plus(PATIENCE),
        };
        if typed == 0 {
            if asked.leads.is_some() {
                return Err(refuse(
                    "leads are typed where the resistors are; else the meter reads them",
                ));
            }
            self.proving.insert(meter.name.clone(), proving);
            if wants {
                // Clips that are joined already are read at once.
                out.steer.push((id, Steer::Reset(Reset::Again)));
            }
            return Ok(Done {
                job: None,
                seq: None,
            });
        }
        let seq = out.next_seq;
        let leads = match (wants, asked.leads) {
            (true, Some(shown)) => Some(by_eye(now, Read::Shown(shown))),
            (true, None) => {
                return Err(refuse(format!(
                    "{} has two terminals: join its clips, and type what they read as its leads",
                    meter.name
                )));
            }
            (false, Some(_)) => {
                return Err(refuse(format!(
                    "nothing is subtracted for the leads of {}: leave them out",
                    meter.name
                )));
            }
            (false, None) => None,
        };
        if let Some(take) = &leads {
            let leads = judge::joined(meter, take);
            if !leads.proven {
                return Err(refuse(leads.judgement.reason));
            }
            self.leads(now, meter, &mut proving, take, out);
        }
        for (at, known) in asked.known.iter().enumerate() {
            // One that says nothing of the meter leaves the check not whole.
            proving.read = at;
            let take = by_eye(now, known.read);
            self.resistor(now, meter, &mut proving, &take, out);
        }
        Ok(Done {
            job: None,
            seq: Some(seq),
        })
    }

    /// A value of a meter that is being checked; whether it was one.
    pub(super) fn proving_took(
        &mut self,
        now: &Now<'_>,
        meter: &Meter,
        take: &Take,
        out: &mut Out,
    ) -> bool {
        // Typed without a job it is a value of its own.
        if take.method == Method::Manual {
            return false;
        }
        let Some(mut proving) = self.proving.remove(&meter.name) else {
            return false;
        };
        proving.until = now.at.plus(PATIENCE);
        if proving.leads_due {
            self.leads(now, meter, &mut proving, take, out);
        } else {
            self.resistor(now, meter, &mut proving, take, out);
        }
        if proving.read < proving.known.len() {
            self.proving.insert(meter.name.clone(), proving);
        }
        true
    }

    /// The clips joined, before the resistors.
    fn leads(
        &mut self,
        now: &Now<'_>,
        meter: &Meter,
        proving: &mut Proving,
        take: &Take,
        out: &mut Out,
    ) {
        let leads = judge::joined(meter, take);
        let mut row = row(now, meter, proving, take, &leads.judgement);
        (row.test, row.point) = (String::from(LEADS), String::from("before"));
        proving.leads_due = !leads.proven;
        proving.null = leads.null.filter(|_| leads.proven);
        out.row(row);
    }

    /// The next resistor.
    fn resistor(
        &mut self,
        now: &Now<'_>,
        meter: &Meter,
        proving: &mut Proving,
        take: &Take,
        out: &mut Out,
    ) {
        let Some(known) = proving.known.get(proving.read) else {
            return;
        };
        let proved = judge::known(meter, known, proving.null, take);
        let mut row = row(now, meter, proving, take, &proved.judgement);
        let (number, of) = (proving.read + 1, proving.known.len());
        let all: Vec<Decimal> = proving.known.iter().map(|k| k.ohms).collect();
        let note = Note {
            known_ohms: known.ohms,
            percent: known.percent,
            number,
            of,
            serial_number: meter.serial_number.clone(),
            certificate: meter.certificate.clone(),
            not_checked: if number == of && !proved.again {
                judge::not_checked(meter, &all)
            } else {
                Vec::new()
            },
        };
        if !note.not_checked.is_empty() {
            row.reason = format!(
                "{}; not checked: {}",
                row.reason,
                note.not_checked.join(", ")
            );
        }
        if row.verdict == Some(Verdict::Fail) {
            row.reason
                .push_str("; nothing passes on this meter until a check holds");
            match self.passed_on(meter) {
                0 => {}
                count => {
                    row.reason = format!(
                        "{}; values of jobs without an end that passed on it before: {count}; they stay as they are, measure them again",
                        row.reason
                    );
                }
            }
        }
        row.note = serde_json::to_string(&note).unwrap_or_default();
        self.checks.apply(out.next_seq, &row);
        if let Some(failed) = self.checks.failed(meter).filter(|_| number == of)
            && row.verdict == Some(Verdict::Pass)
        {
            row.reason = format!(
                "{}; what failed before stays so: {}",
                row.reason, failed.words
            );
        }
        out.row(row);
        if !proved.again {
            proving.read += 1;
        }
    }

    /// Values of jobs without an end that passed on a meter.
    fn passed_on(&self, meter: &Meter) -> usize {
        let entries = self.jobs.iter().flat_map(|job| &job.entries);
        entries
            .filter(|e| e.on_motor() && e.meter.as_ref() == Some(&meter.name))
            .filter(|e| {
                e.taken.as_ref().and_then(super::sheet::Taken::verdict) == Some(Verdict::Pass)
            })
            .count()
    }

    /// Ends checks that wait no longer or whose bench has a job, and tells each
    /// job which meters failed.
    pub(super) fn refresh_checks(&mut self, now: &Now<'_>) {
        let jobs = &self.jobs;
        self.proving.retain(|name, proving| {
            let bench = rows::named(now, name.as_str()).map(|(_, meter)| &meter.bench);
            let busy = |job: &Job| job.state == crate::view::JobState::Active;
            now.at <= proving.until
                && bench.is_some_and(|b| !jobs.iter().any(|job| busy(job) && job.bench == *b))
        });
        let meters = now.settings.meters.iter();
        let unfit: BTreeMap<Text, String> = meters
            .filter_map(|m| Some((m.name.clone(), self.checks.failed(m)?.words.clone())))
            .collect();
        for job in &mut self.jobs {
            if job.live.unfit != unfit {
                job.live.unfit.clone_from(&unfit);
            }
        }
    }

    /// A silence or other settings end a check: the leads may be others now.
    pub(super) fn unprove_meter(&mut self, meter: Option<&Text>) {
        match meter {
            Some(name) => _ = self.proving.remove(name),
            None => self.proving.clear(),
        }
    }

    pub(super) fn proving_deadlines(&self) -> impl Iterator<Item = Stamp> {
        let after = Duration::from_nanos(1);
        self.proving.values().map(move |p| p.until.plus(after))
    }
}

impl Job {
    /// Whether nothing may pass on a meter (rule 20).
    pub(super) fn is_unfit(&self, now: &Now<'_>, meter: &Meter) -> bool {
        self.live.unfit.contains_key(&meter.name)
            || now.settings.require_calibrated && overdue(now, meter)
    }

    /// What holds over several values does not pass on a meter on which none of them may.
    pub(super) fn unless_unfit(
        &self,
        now: &Now<'_>,
        meter: &Meter,
        mut judgement: Judgement,
    ) -> Judgement {
        if judgement.verdict == Verdict::Pass && self.is_unfit(now, meter) {
            judgement.verdict = Verdict::Undecided;
            judgement
                .reason
                .push_str("; the meter may pass nothing now; undecided");
        }
        judgement
    }

    /// What a person is told all the time of a meter that failed.
    pub(super) fn unfit_banner(&self, meter: &Meter) -> Option<String> {
        let words = self.live.unfit.get(&meter.name)?;
        Some(format!(
            "{name}: failed its check ({words}); nothing passes on it. Use another meter, or park the job and check it again: stillohm prove {name}",
            name = meter.name
        ))
    }
}

fn row(now: &Now<'_>, meter: &Meter, proving: &Proving, take: &Take, said: &Judgement) -> Row {
    let mut row = Row::new(Event::Proved, now.wall);
    rows::with_meter(&mut row, now.settings, meter);
    row.tester = proving.by.as_ref().map(Text::to_string).unwrap_or_default();
    rows::fill(&mut row, take);
    row.event = Event::Proved;
    rows::judged(&mut row, said);
    row
}

fn by_eye(now: &Now<'_>, read: Read) -> Take {
    Take {
        at: now.at,
        outcome: match read {
            Read::Shown(shown) => Outcome::Value(shown),
            Read::OverRange | Read::Live => Outcome::Open { full_scale: None },
        },
        method: Method::Manual,
        samples: 1,
        window: Duration::ZERO,
        spread: Ohms(0.0),
        elapsed: None,
        test_voltage: None,
        leakage: None,
        temperature: None,
        flags: Flags::NONE,
    }
}
