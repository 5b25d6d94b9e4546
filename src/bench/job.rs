//! A job: one motor under test, and what is known about it now.
//!
//! Its sheet is filled by rows (`ledger`); what no row can bring back after a
//! stop is [`Live`]: proofs, what waits for a proof, what a person just
//! attested. Everything in `Live` is safe to forget: it is asked for again.

use core::time::Duration;
use std::collections::{BTreeMap, BTreeSet};

use crate::input::{Attestation, JobPlan};
use crate::judge::diagnosis::Facts;
use crate::judge::{Around, Contact, GroundPath, LeadProof, PointResult, Standing, judged_by};
use crate::limits::{GroundReference, Profile, Test};
use crate::meter::Meter;
use crate::quantity::Volts;
use crate::row::{Event, Finding, Row, Verdict};
use crate::stamp::Stamp;
use crate::text::Text;
use crate::view::JobState;

use super::discharge::Charge;
use super::marks::Run;
use super::proof::{HOLDS, Pending, Proof, device};
use super::sheet::{Entry, Meters, Role, Usual, entries};
use super::warmth::Warmth;
use super::{Now, Out, ledger, rows, start};

/// A job that has no end yet.
#[derive(Clone, Debug)]
pub(super) struct Job {
    pub(super) name: String,
    pub(super) bench: Text,
    pub(super) plan: JobPlan,
    profile: Option<Profile>,
    planned: Option<Volts>,
    pub(super) meters: Meters,
    pub(super) state: JobState,
    pub(super) entries: Vec<Entry>,
    /// What the rows said, for the diagnosis.
    pub(super) facts: Facts,
    /// Rows of test voltages on a motor that may have none.
    pub(super) exposed: Vec<u64>,
    /// How far its temperatures are those of now.
    pub(super) warmth: Warmth,
    pub(super) live: Live,
}

/// What is forgotten when the program stops or the job is parked.
#[derive(Clone, Debug, Default)]
pub(super) struct Live {
    /// By the meter's name.
    pub(super) proofs: BTreeMap<Text, Proof>,
    pub(super) pending: Vec<Pending>,
    /// Meters whose display was seen to change.
    pub(super) follows: BTreeSet<Text>,
    /// What was in the circuit is out.
    pub(super) disconnected: bool,
    /// What a person said, by its row, with the meter it is about.
    pub(super) words: BTreeMap<u64, (Attestation, Text)>,
    /// Since when everyone stands clear, for the press to come.
    pub(super) clear: Option<Stamp>,
    /// Meters whose leads are asked for again although the proof holds.
    pub(super) forced: BTreeSet<Text>,
    /// A hold was lost under a voltage that only a person can say is off.
    pub(super) let_go: bool,
    /// It was set aside or interrupted: what was proven dead may not be so now.
    pub(super) returned: bool,
    /// The hold that runs, as far as it was read.
    pub(super) run: Option<Run>,
    /// Which insulation point the clips were last on for a test voltage.
    pub(super) charged: Option<usize>,
    /// Meters whose last check on known resistors failed, and how: kept in
    /// line by the benches, which remember the checks.
    pub(super) unfit: BTreeMap<Text, String>,
    /// The charge in the winding. Parking does not forget it.
    pub(super) charge: Charge,
}

impl Job {
    pub(super) fn new(name: String, bench: Text, mut plan: JobPlan, meters: Meters) -> Self {
        // A cable of no ohms subtracts nothing: it is none.
        plan.cable = plan.cable.filter(|cable| !cable.ohms.is_zero());
        let profile = start::profile(&plan);
        let planned = start::planned(profile.as_ref(), &plan.motor);
        let mut job = Self {
            name,
            bench,
            plan,
            profile,
            planned,
            meters,
            state: JobState::Active,
            entries: Vec::new(),
            facts: Facts::default(),
            exposed: Vec::new(),
            warmth: Warmth::default(),
            live: Live::default(),
        };
        let (plan, meters) = (&job.plan, &job.meters);
        job.entries = entries(plan.sheet.as_deref(), &plan.motor, job.usual(), meters);
        job
    }

    /// Takes a row that went out, or that stands in the log, into the sheet.
    pub(super) fn apply(&mut self, seq: u64, row: &Row) {
        self.facts.row(seq, row);
        if row.event == Event::Withdrawn {
            self.exposed.retain(|of| Some(*of) != row.of_seq);
        } else if row.finding == Some(Finding::TestForbidden) {
            self.exposed.push(seq);
        }
        self.warms(row);
        ledger::apply(&mut self.entries, seq, row);
    }

    /// Puts a row out and into the sheet.
    pub(super) fn put(&mut self, row: Row, out: &mut Out) -> u64 {
        self.apply(out.next_seq, &row);
        out.row(row)
    }

    /// The profile of insulation limits: the plan's, else the motor's.
    pub(super) const fn profile(&self) -> Option<&Profile> {
        self.profile.as_ref()
    }

    /// What the profile asks of an insulation test.
    pub(super) fn usual(&self) -> Usual {
        Usual {
            planned: self.planned,
            mark: crate::judge::mark(self.profile()),
        }
    }

    /// The test voltage that is set for an entry: its sheet's, else the profile's.
    pub(super) fn planned(&self, entry: &Entry) -> Option<Volts> {
        entry.wants.volts.or(self.usual().planned)
    }

    /// The test voltage that an entry's value is held against. Less than the
    /// profile's proves less: then its value is not judged (rule 15).
    fn judged_by(&self, entry: &Entry) -> Option<Volts> {
        judged_by(entry.wants.volts, self.usual().planned, &self.plan.motor)
    }

    /// The least test voltage of the sheet, from which on a winding counts as charged.
    pub(super) fn least_voltage(&self) -> Option<Volts> {
        let holds = self.entries.iter().filter(|e| e.role == Role::Insulation);
        holds
            .filter_map(|e| self.planned(e))
            .chain(self.usual().planned)
            .min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// When the hold of an entry is read.
    pub(super) fn marks(&self, entry: &Entry) -> Vec<Duration> {
        let seconds = |m: &u32| Duration::from_secs(u64::from(*m));
        match entry.wants.marks.as_slice() {
            [] => vec![self.usual().mark],
            marks => marks.iter().map(seconds).collect(),
        }
    }

    /// The place of the first entry with this role, on this meter if one is named.
    pub(super) fn place(&self, role: Role, meter: Option<&Text>) -> Option<usize> {
        self.entries
            .iter()
            .position(|e| e.role == role && (meter.is_none() || e.meter.as_ref() == meter))
    }

    /// How far the ground reference is proven: the latest reading says.
    fn ground_path(&self) -> GroundPath {
        self.place(Role::GroundPath, None)
            .and_then(|at| self.entries[at].taken.as_ref())
            .map_or(GroundPath::Unproven, |taken| ledger::path_of(&taken.row))
    }

    /// What the value of an entry is judged by. `since` is when the voltage
    /// went on, or the moment of the reading.
    pub(super) fn around(
        &self,
        now: &Now<'_>,
        entry: &Entry,
        meter: &Meter,
        since: Stamp,
    ) -> Around {
        let proof = self.live.proofs.get(&meter.name);
        let insulation = entry.point.test == Test::Insulation;
        Around {
            acceptance: self.plan.acceptance,
            profile: self.profile().cloned(),
            condition: self.plan.condition.as_ref().map(Text::to_string),
            measured_at: self.plan.measured_at,
            ground_reference: self.plan.ground_reference,
            temperature: self.temperature(),
            // A loop along the cable is the cable itself.
            cable: self.plan.cable.clone().filter(|_| !entry.is_loop()),
            was: self.plan.baseline.as_ref().and_then(|b| b.of(&entry.point)),
            null: proof.and_then(|p| p.null),
            leads: match proof {
                Some(proof) if proof.fresh(since) => LeadProof::Before,
                _ => LeadProof::Unproven,
            },
            contact: Contact::Unproven,
            ground_path: self.ground_path(),
            planned_v: self.judged_by(entry).filter(|_| insulation),
            mark: insulation.then(|| self.usual().mark),
            meter_blocked: self.is_unfit(now, meter),
            meter_failed: self.live.unfit.contains_key(&meter.name),
            range_suspect_before: entry.suspect,
        }
    }

    /// The points as `judge` sums them up.
    pub(super) fn results(&self) -> Vec<PointResult> {
        let frame = self.plan.ground_reference == GroundReference::Frame;
        let mut results: Vec<PointResult> = self
            .entries
            .iter()
            // On the bare frame nothing rests on the ground path (rule 3): left out, it is not missing.
            .filter(|e| !(e.needless || frame && e.role == Role::GroundPath && e.skipped.is_some()))
            .map(|entry| PointResult {
                point: entry.point.clone(),
                standing: match &entry.taken {
                    Some(_) if entry.role == Role::Dead => Standing::Attested,
                    // What is to be measured again is cleared by nothing yet; a fault stays one.
                    Some(taken)
                        if entry.due
                            && entry.on_motor()
                            && taken.verdict() == Some(Verdict::Pass) =>
                    {
                        Standing::Due
                    }
                    Some(taken) => match taken.verdict() {
                        Some(verdict) => Standing::Judged {
                            verdict,
                            finding: taken.finding(),
                            proof_due: entry.pending,
                        },
                        None => Standing::Due,
                    },
                    None if entry.skipped.is_some() => Standing::Skipped,
                    None => Standing::Due,
                },
            })
            .collect();
        // On a motor that may have no test voltage no point holds what reached
        // it, and what it did nobody can say.
        let listed = results.iter().any(|r| r.point.test == Test::Insulation);
        if !listed && !self.exposed.is_empty() {
            results.push(PointResult {
                point: super::ask::charged(),
                standing: Standing::Judged {
                    verdict: Verdict::Undecided,
                    finding: Some(Finding::TestForbidden),
                    proof_due: false,
                },
            });
        }
        results
    }

    /// What a gap of a meter, parking or a stop ends.
    pub(super) fn unprove(&mut self, meter: Option<&Text>) {
        match meter {
            Some(name) => _ = self.live.proofs.remove(name),
            None => self.live.proofs.clear(),
        }
        let entries = &self.entries;
        self.live
            .pending
            .retain(|pending| meter.is_some() && entries[pending.entry].meter.as_ref() != meter);
    }

    /// When something ends by itself. Each is passed once.
    pub(super) fn deadlines(&self) -> impl Iterator<Item = Stamp> {
        let after = HOLDS + Duration::from_nanos(1);
        let proofs = self.live.proofs.values().filter(|p| !p.aged);
        let pending = self.live.pending.iter();
        proofs
            .map(move |p| p.at.plus(after))
            .chain(pending.map(move |p| p.take.at.plus(after)))
            .chain(self.live.charge.until())
    }

    /// Brings what is due in line with what still holds.
    pub(super) fn refresh(&mut self, now: &Now<'_>) {
        self.live.charge.expire(now.at);
        let settings = now.settings;
        self.live.proofs.retain(|name, proof| {
            proof.aged |= !proof.fresh(now.at);
            rows::named(now, name.as_str())
                .is_some_and(|(_, meter)| device(settings, meter) == proof.device)
        });
        let (entries, proofs) = (&self.entries, &self.live.proofs);
        self.live.pending.retain(|pending| {
            pending.open(now.at)
                && entries[pending.entry].pending
                && entries[pending.entry]
                    .meter
                    .as_ref()
                    .is_some_and(|m| proofs.contains_key(m))
        });
        for place in 0..self.entries.len() {
            let waits = self.live.pending.iter().any(|p| p.entry == place);
            let entry = &mut self.entries[place];
            if entry.pending && !waits {
                entry.pending = false;
                entry.due = true;
                entry.again = true;
                // A later mark alone ends no hold of it.
                entry.read = false;
            }
        }
        self.refresh_search(now);
        for place in 0..self.entries.len() {
            if matches!(
                self.entries[place].role,
                Role::LeadsBefore | Role::LeadsAfter
            ) {
                self.entries[place].needless = !self.uses(&self.entries[place]);
            }
            match self.entries[place].role {
                Role::LeadsBefore => self.refresh_before(now, place),
                Role::LeadsAfter => self.refresh_after(place),
                _ => {}
            }
        }
    }

    /// Whether something is or was measured with the meter of these leads.
    fn uses(&self, leads: &Entry) -> bool {
        leads.taken.is_some()
            || self
                .entries
                .iter()
                .any(|e| e.meter == leads.meter && e.on_motor() && (e.due || e.taken.is_some()))
    }

    /// `leads before` is due as long as something is to be measured on leads that are not proven.
    fn refresh_before(&mut self, now: &Now<'_>, place: usize) {
        let meter = self.entries[place].meter.clone();
        let mut next = self.entries.iter().filter(|e| e.due && e.on_motor());
        let wanted = if self.entries[place].taken.is_none() {
            next.any(|e| e.meter == meter)
        } else {
            // A proof that ended is asked for when its meter's turn comes.
            next.next().is_some_and(|e| e.meter == meter)
        };
        let proof = meter.as_ref().and_then(|m| self.live.proofs.get(m));
        let due = match proof {
            None => wanted,
            // The one before is at most that old when the voltage goes on; a hold that runs is not disturbed.
            Some(proof) => {
                let first = self.entries.iter().find(|e| e.due && e.on_motor());
                wanted
                    && !proof.fresh(now.at)
                    && first.is_some_and(Entry::to_ground)
                    && !self.live.charge.is_on()
            }
        };
        let forced = meter.is_some_and(|m| self.live.forced.contains(&m));
        let entry = &mut self.entries[place];
        entry.due = entry.skipped.is_none() && (due || forced);
    }

    /// Parking, a stop, and a motor that was not dead after all: what was
    /// proven or attested must be so again, and a discharge starts over.
    pub(super) fn set_aside(&mut self) {
        self.unprove(None);
        self.live.disconnected = false;
        self.live.clear = None;
        self.live.let_go = false;
        self.live.run = None;
        self.live.returned = true;
    }

    /// `leads after` has nothing to be compared with when `leads before` was left out,
    /// and is due again when something new waits for it.
    fn refresh_after(&mut self, place: usize) {
        let meter = self.entries[place].meter.clone();
        let waits = self
            .live
            .pending
            .iter()
            .any(|p| self.entries[p.entry].meter == meter);
        let left_out = self
            .place(Role::LeadsBefore, meter.as_ref())
            .is_some_and(|at| self.entries[at].skipped.is_some());
        let entry = &mut self.entries[place];
        if waits {
            entry.due = entry.skipped.is_none();
        } else if entry.needless {
            entry.due = false;
        } else if entry.taken.is_none() && entry.skipped.is_none() && !left_out {
            entry.due = true;
        } else if left_out && entry.taken.is_none() {
            entry.due = false;
            entry
                .skipped
                .get_or_insert_with(|| String::from("leads before was left out"));
        }
    }

    /// Whether a person has attested `what` where it still holds.
    pub(super) fn holds(&self, what: Attestation) -> bool {
        match what {
            Attestation::Disconnected => self.live.disconnected,
            Attestation::StandClear => self.live.clear.is_some(),
            Attestation::Dead => self
                .place(Role::Dead, None)
                .is_some_and(|at| self.entries[at].taken.is_some()),
            _ => false,
        }
    }
}

/// Whether a meter's calibration is overdue: from the end of its day, UTC.
pub(super) fn overdue(now: &Now<'_>, meter: &Meter) -> bool {
    meter
        .calibration_due
        .as_ref()
        .is_some_and(|due| now.wall.rfc3339()[..10] > *due.as_str())
}
