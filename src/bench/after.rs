//! What follows from whatever happened: jobs that are complete end, and
//! settling waits for what is asked.

use std::collections::BTreeMap;

use crate::meter::MeterId;
use crate::settle::Spec;
use crate::text::Text;
use crate::view::JobState;

use super::step::{self, Step, step};
use super::{Benches, Now, Out, Steer, guided, rows, start};

impl Benches {
    /// The job that is worked on at a bench.
    pub(super) fn active(&self, bench: &Text) -> Option<usize> {
        self.jobs
            .iter()
            .position(|j| j.state == JobState::Active && j.bench == *bench)
    }

    /// Whether voltage stands on the clips of a bench.
    pub(super) fn voltage_on(&self, bench: &Text, now: &Now<'_>) -> bool {
        let meters = self.watches.iter().zip(&now.settings.meters);
        meters
            .into_iter()
            .any(|(watch, meter)| watch.present && meter.bench == *bench)
    }

    /// Seconds for which an asset stays shorted after its job ended.
    pub(super) fn discharging(&self, asset: &Text, now: &Now<'_>) -> Option<u64> {
        let until = self.discharges.iter().find(|(of, _)| of == asset)?.1;
        (until > now.at).then(|| until.since(now.at).as_secs() + 1)
    }

    pub(super) fn refresh(&mut self, now: &Now<'_>) {
        self.refresh_checks(now);
        for job in &mut self.jobs {
            job.refresh(now);
        }
        self.discharges.retain(|(_, until)| *until > now.at);
    }

    /// What follows from whatever happened: jobs that are complete end, and
    /// settling waits for what is asked.
    pub(super) fn after(&mut self, now: &Now<'_>, out: &mut Out) {
        self.refresh(now);
        for job in &mut self.jobs {
            guided::settle(job, now, out);
        }
        let mut at = 0;
        while at < self.jobs.len() {
            if self.step_of(at, now) == Step::Finished {
                self.finish(at, now, out);
            } else {
                at += 1;
            }
        }
        self.respec(now, out);
    }

    /// Writes a job's end and forgets it; its bench is free.
    pub(super) fn finish(&mut self, at: usize, now: &Now<'_>, out: &mut Out) -> u64 {
        let mut job = self.jobs.remove(at);
        let seq = start::end(&mut job, now, out);
        if job.live.charge.needs_short() {
            let on = job.live.charge.on_for(now.at);
            let asset = job.plan.asset.clone();
            self.charged.push((asset, job.name.clone(), on));
        }
        if let Some(until) = job.live.charge.until() {
            self.discharges.push((job.plan.asset, until));
        }
        seq
    }

    /// Tells settling what each bench waits for, where it changed.
    pub(super) fn respec(&mut self, now: &Now<'_>, out: &mut Out) {
        let mut wanted: BTreeMap<MeterId, Spec> = BTreeMap::new();
        for (id, spec) in &self.specs {
            // A hold stays until its meter is asked for something steady: the
            // value that stands while the button is let go is not another one.
            let job = rows::meter(now, *id).and_then(|meter| self.active(&meter.bench));
            let stays = job.is_some() && matches!(spec, Spec::Hold(_));
            wanted.insert(
                *id,
                if stays {
                    spec.clone()
                } else {
                    Self::idle_spec()
                },
            );
        }
        for job in self.jobs.iter().filter(|j| j.state == JobState::Active) {
            let asked = step(job, now, self.voltage_on(&job.bench, now));
            if let Some((name, spec)) = step::spec(job, now, asked)
                && let Some((id, _)) = rows::named(now, name.as_str())
            {
                wanted.insert(id, spec);
            }
        }
        for (id, spec) in wanted {
            let known = self.specs.entry(id).or_insert_with(Self::idle_spec);
            if *known != spec {
                known.clone_from(&spec);
                out.steer.push((id, Steer::Respec(spec)));
            }
        }
    }
}
