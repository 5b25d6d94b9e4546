//! The demo's benches: served meters, the motors that wait, a person at each.

use std::collections::VecDeque;
use std::io;

use super::super::Fail;
use super::screen::Screen;
use crate::catalogue::Catalogue;
use crate::clock::Clock;
use crate::daemon::Commands;
use crate::input::{Act, JobPlan};
use crate::limits::{Acceptance, GroundReference, MeasuredAt, Stage};
use crate::quantity::Ohms;
use crate::sim::hatchery::{Instrumented, Patient, Stand};
use crate::sim::motor::Load;
use crate::sim::person::{Deed, Person};
use crate::sim::serve::{Instrument, Served};
use crate::text::Text;
use crate::view::View;

/// Who tests, as the log has it.
const TESTER: &str = "simulated person";

/// A bench at work.
pub(super) struct Bench {
    pub(super) name: &'static str,
    pub(super) meters: Vec<Hand>,
    waiting: VecDeque<Patient>,
    work: Option<Work>,
    through: Vec<Patient>,
}

/// A served meter.
pub(super) struct Hand {
    pub(super) name: &'static str,
    pub(super) protocol: &'static str,
    pub(super) served: Served,
    settings: &'static str,
    leads: Ohms,
    has_button: bool,
}

/// A motor on the bench.
struct Work {
    job: String,
    patient: Patient,
    person: Person,
    /// Whether the job was in a view: one that no longer is has ended.
    seen: bool,
}

/// Serves the meters of each stand.
pub(super) fn open(stands: Vec<Stand>, clock: Clock) -> io::Result<Vec<Bench>> {
    stands
        .into_iter()
        .map(|stand| {
            Ok(Bench {
                name: stand.bench,
                meters: stand
                    .meters
                    .into_iter()
                    .map(|meter| hand(meter, clock))
                    .collect::<io::Result<_>>()?,
                waiting: stand.patients.into(),
                work: None,
                through: Vec::new(),
            })
        })
        .collect()
}

fn hand(meter: Instrumented, clock: Clock) -> io::Result<Hand> {
    Ok(Hand {
        name: meter.name,
        protocol: meter.instrument.protocol(),
        has_button: matches!(meter.instrument, Instrument::Insulation(_)),
        served: Served::start(meter.instrument, clock)?,
        settings: meter.settings,
        leads: meter.leads,
    })
}

/// The benches' meters as `stillohm.toml` has them.
pub(super) fn settings(benches: &[Bench]) -> String {
    let mut text = String::from("# Written by `stillohm demo`: its simulated meters.\n");
    for bench in benches {
        for meter in &bench.meters {
            let address = meter.served.address();
            let port = match address.strip_prefix("tcp:") {
                Some(tcp) => format!("tcp = {{ address = \"{tcp}\" }}"),
                None => format!("serial = {{ path = \"{address}\" }}"),
            };
            text.push_str(&format!(
                "\n[[meter]]\nname = \"{}\"\nbench = \"{}\"\nprotocol = \"{}\"\n{port}\n{}",
                meter.name, bench.name, meter.protocol, meter.settings
            ));
        }
    }
    text
}

impl Bench {
    /// The motors that are still to come.
    pub(super) fn waiting(&self) -> impl Iterator<Item = &Patient> {
        self.waiting.iter()
    }

    /// Whether every motor of this bench is through.
    pub(super) fn is_through(&self) -> bool {
        self.work.is_none() && self.waiting.is_empty()
    }

    /// The same motors come again.
    pub(super) fn again(&mut self) {
        self.waiting.extend(self.through.drain(..));
    }

    /// One look at the view, and at most one deed.
    pub(super) fn step(
        &mut self,
        view: &View,
        commands: &Commands,
        catalogue: &Catalogue,
        screen: &mut Screen,
    ) -> Result<(), Fail> {
        let ready = view
            .meters
            .iter()
            .filter(|meter| meter.bench == self.name)
            .all(|meter| meter.good_frames > 0);
        if !ready || view.meters.is_empty() {
            return Ok(());
        }
        let Some(work) = &mut self.work else {
            // A winding that is still shorted to ground is left alone until then.
            let shorted = |patient: &Patient| {
                let mut assets = view.discharging.iter();
                assets.any(|of| of.asset == patient.asset && of.until > view.at)
            };
            if let Some(patient) = self.waiting.pop_front_if(|patient| !shorted(patient)) {
                self.work = Some(begin(
                    self.name,
                    &self.meters,
                    patient,
                    commands,
                    catalogue,
                )?);
            }
            return Ok(());
        };
        let Some(job) = view.jobs.iter().find(|job| job.job == work.job) else {
            if work.seen {
                self.lay_down();
            }
            return Ok(());
        };
        work.seen = true;
        screen.asked(job)?;
        let Some(deed) = work.person.next(job, view) else {
            return Ok(());
        };
        let act = match deed {
            Deed::Clips { meter, to } => {
                let load = |leads| work.patient.motor.load(to, leads);
                each(&self.meters, &meter, |hand| {
                    hand.served.touch(load(hand.leads))
                });
                return Ok(());
            }
            Deed::Button { meter, down } => {
                each(&self.meters, &meter, |hand| hand.served.button(down));
                return Ok(());
            }
            Deed::Confirm(what) => Act::Confirm {
                job: Text::clean(&work.job),
                what,
            },
            Deed::ClipsOn => Act::ClipsOn {
                job: Text::clean(&work.job),
            },
            Deed::End => Act::EndJob {
                job: Text::clean(&work.job),
            },
        };
        if let Err(refusal) = commands.ask(Some(Text::clean(TESTER)), act) {
            screen.refused(&work.patient, &refusal)?;
        }
        Ok(())
    }

    /// The job has an end: the hands put everything down.
    fn lay_down(&mut self) {
        for hand in &self.meters {
            hand.served.button(false);
            hand.served.touch(Load::OPEN);
        }
        self.through
            .extend(self.work.take().map(|work| work.patient));
    }
}

fn each(meters: &[Hand], name: &str, act: impl Fn(&Hand)) {
    meters.iter().filter(|hand| hand.name == name).for_each(act);
}

fn begin(
    bench: &str,
    meters: &[Hand],
    patient: Patient,
    commands: &Commands,
    catalogue: &Catalogue,
) -> Result<Work, Fail> {
    let plan = JobPlan {
        bench: Some(Text::clean(bench)),
        motor: catalogue.motor(patient.model)?.clone(),
        asset: Text::clean(patient.asset),
        tester: Text::clean(TESTER),
        stage: Stage::Arrival,
        measured_at: MeasuredAt::Motor,
        ground_reference: GroundReference::Frame,
        temperature: None,
        cable: None,
        acceptance: Acceptance::Simple,
        profile: None,
        condition: None,
        limits: None,
        bands: Vec::new(),
        sheet: None,
        baseline: None,
    };
    let done = commands
        .ask(Some(Text::clean(TESTER)), Act::StartJob(Box::new(plan)))
        .map_err(|refusal| Fail::around(format!("{}: {refusal}", patient.asset)))?;
    let meters: Vec<(&str, bool)> = meters.iter().map(|m| (m.name, m.has_button)).collect();
    Ok(Work {
        job: done.job.unwrap_or_default(),
        person: Person::new(patient.kind, &meters),
        patient,
        seen: false,
    })
}
