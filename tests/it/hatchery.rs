//! The demo's scene in simulated time: meters, a person and the engine alone,
//! without a clock, so that many days at the bench take a second.

use std::path::Path;

use bytes::Bytes;
use stillohm::catalogue::Catalogue;
use stillohm::description;
use stillohm::engine::{Engine, Output, REVISION};
use stillohm::input::{Act, Begin, Command, Input, JobPlan, SCHEMA, Settings, What};
use stillohm::limits::{Acceptance, GroundReference, MeasuredAt, Stage};
use stillohm::meter::{Address, Measures, Meter, Port, PortId};
use stillohm::quantity::Ohms;
use stillohm::row::{Event, Row, Verdict};
use stillohm::sim::hatchery::{self, Patient, Stand};
use stillohm::sim::person::{Deed, Person};
use stillohm::sim::serve::Instrument;
use stillohm::stamp::{Stamp, Wall};
use stillohm::text::Text;

const STEP: f64 = 0.01;
/// A day at the bench that is longer than this has come to a stand.
const LONG: f64 = 100.0;

/// A meter at simulated time.
struct Hand {
    name: &'static str,
    instrument: Instrument,
    leads: Ohms,
    due: Stamp,
}

/// The engine, its rows, and the number of commands so far.
struct Day {
    engine: Engine,
    output: Output,
    asked: u64,
}

impl Day {
    fn put(&mut self, at: Stamp, what: What) {
        self.engine
            .input(&Input { at, what }, &mut self.output)
            .expect("goes on");
    }

    fn ask(&mut self, at: Stamp, act: Act) -> Option<String> {
        self.asked += 1;
        let command = Command {
            id: self.asked,
            by: None,
            act,
        };
        self.put(at, What::Command(Box::new(command)));
        let (id, outcome) = self.output.outcomes.pop().expect("an outcome");
        assert_eq!(id, self.asked);
        outcome
            .expect("a simulated person asks for nothing that is refused")
            .job
    }
}

fn settings(stands: &[Stand]) -> Settings {
    let mut settings = Settings::default();
    for (name, text) in description::shipped() {
        settings
            .descriptions
            .insert(Text::clean(name), (*text).to_owned());
    }
    for stand in stands {
        for meter in &stand.meters {
            let port = PortId(u16::try_from(settings.ports.len()).expect("few"));
            settings.ports.push(Port {
                address: Address::Replay {
                    name: Text::clean(meter.name),
                },
                protocol: Text::clean(meter.instrument.protocol()),
            });
            let mut of = Meter::plain(Text::clean(meter.name), port);
            of.bench = Text::clean(stand.bench);
            of.over_range_above = Some(Ohms(60e6));
            if matches!(meter.instrument, Instrument::Insulation(_)) {
                of.measures = vec![Measures::Insulation];
            }
            settings.meters.push(of);
        }
    }
    settings
}

fn plan(bench: &str, patient: &Patient) -> JobPlan {
    let mut catalogue = Catalogue::default();
    catalogue.add_motors(Path::new("motors.csv"), hatchery::CATALOGUE.as_bytes());
    JobPlan {
        bench: Some(Text::clean(bench)),
        motor: catalogue.motor(patient.model).expect(patient.model).clone(),
        asset: Text::clean(patient.asset),
        tester: Text::clean("simulated person"),
        stage: Stage::Arrival,
        measured_at: MeasuredAt::Motor,
        ground_reference: GroundReference::Frame,
        temperature: None,
        cable: None,
        limits: None,
        bands: Vec::new(),
        sheet: None,
        baseline: None,
        acceptance: Acceptance::Simple,
        profile: None,
        condition: None,
    }
}

/// Every row of a day at the benches.
fn day(stands: Vec<Stand>) -> Vec<Row> {
    let mut day = Day {
        engine: Engine::new(),
        output: Output::default(),
        asked: 0,
    };
    day.put(Stamp::ZERO, What::Begin(Box::new(begin(settings(&stands)))));
    let mut first = 0;
    for stand in stands {
        // One bench after the other: they share nothing.
        let (ports, bench) = (stand.meters.len(), stand.bench);
        let mut hands: Vec<Hand> = stand
            .meters
            .into_iter()
            .map(|m| Hand {
                name: m.name,
                instrument: m.instrument,
                leads: m.leads,
                due: day.engine.now(),
            })
            .collect();
        let ids: Vec<PortId> = (first..first + ports)
            .map(|n| PortId(u16::try_from(n).expect("few")))
            .collect();
        for port in &ids {
            let now = day.engine.now();
            day.put(now, What::Opened { port: *port });
        }
        for patient in &stand.patients {
            at_the_bench(&mut day, bench, patient, &mut hands, &ids);
        }
        first += ports;
    }
    day.output.rows
}

fn begin(settings: Settings) -> Begin {
    Begin {
        schema: SCHEMA,
        engine: REVISION,
        version: Text::clean("0"),
        wall: Wall(1_700_000_000_000_000_000),
        continues: false,
        next_seq: 1,
        chain: Text::clean(&"0".repeat(32)),
        capture: Text::clean("day.pcapng"),
        before: None,
        log_id: Text::clean("day"),
        repaired: Vec::new(),
        unfinished: Vec::new(),
        proved: Vec::new(),
        settings,
    }
}

/// One motor, until its job has an end.
fn at_the_bench(
    day: &mut Day,
    bench: &str,
    patient: &Patient,
    hands: &mut [Hand],
    ports: &[PortId],
) {
    let began = day.engine.now().seconds();
    let buttons: Vec<(&str, bool)> = hands
        .iter()
        .map(|h| (h.name, matches!(h.instrument, Instrument::Insulation(_))))
        .collect();
    let mut person = Person::new(patient.kind, &buttons);
    let now = day.engine.now();
    let name = day
        .ask(now, Act::StartJob(Box::new(plan(bench, patient))))
        .expect("a job");
    let job = Text::clean(&name);
    for n in 1_u32.. {
        let seconds = began + f64::from(n) * STEP;
        assert!(
            seconds - began < LONG,
            "{} came to a stand: {:?}",
            patient.asset,
            day.engine.view().jobs
        );
        let at = Stamp::from_seconds(seconds);
        for (hand, port) in hands.iter_mut().zip(ports) {
            if hand.due <= at {
                hand.due = hand.due.plus(hand.instrument.every());
                if let Some(line) = hand.instrument.line(at) {
                    let data = Bytes::from(format!("{line}\r\n"));
                    day.put(at, What::Bytes { port: *port, data });
                }
            }
        }
        if n % 5 != 0 {
            continue;
        }
        let view = day.engine.view();
        let Some(seen) = view.jobs.iter().find(|j| j.job == name) else {
            return;
        };
        match person.next(seen, &view) {
            None => {}
            Some(Deed::Clips { meter, to }) => {
                for hand in hands.iter_mut().filter(|h| h.name == meter) {
                    hand.instrument
                        .touch(at, patient.motor.load(to, hand.leads));
                }
            }
            Some(Deed::Button { meter, down }) => {
                for hand in hands.iter_mut().filter(|h| h.name == meter) {
                    hand.instrument.button(at, down);
                }
            }
            Some(Deed::Confirm(what)) => drop(day.ask(
                at,
                Act::Confirm {
                    job: job.clone(),
                    what,
                },
            )),
            Some(Deed::ClipsOn) => drop(day.ask(at, Act::ClipsOn { job: job.clone() })),
            Some(Deed::End) => drop(day.ask(at, Act::EndJob { job: job.clone() })),
        }
    }
}

/// `asset: outcome` of each job, and each fail as `asset test point`.
fn came_to(rows: &[Row]) -> (Vec<String>, Vec<String>) {
    let ends = rows.iter().filter(|r| r.event == Event::JobEnd);
    let ends = ends.map(|r| {
        format!(
            "{}: {}",
            r.asset,
            r.reason.split(':').next().unwrap_or_default()
        )
    });
    let fails = rows.iter().filter(|r| r.verdict == Some(Verdict::Fail));
    let fails = fails.map(|r| format!("{} {} {}", r.asset, r.test, r.point));
    (ends.collect(), fails.collect())
}

#[test]
fn three_motors_come_to_what_they_suffer_from_whatever_the_clips_do() {
    for seed in 0..25 {
        let (ends, fails) = came_to(&day(hatchery::stands(seed)));
        assert_eq!(
            ends,
            [
                "CP-07: no_fault_found",
                "AB-03: fault_found",
                "WP-02: fault_found"
            ],
            "seed {seed}"
        );
        assert_eq!(
            fails,
            [
                "AB-03 winding line_23",
                "AB-03 winding line_31",
                "AB-03 winding set",
                "WP-02 ground all_to_ground",
            ],
            "seed {seed}"
        );
    }
}

#[test]
fn a_wet_motor_pulls_the_tester_down_and_is_never_passed() {
    for seed in 0..10 {
        let mut stands = hatchery::stands(seed);
        stands.truncate(1);
        // 1 mA into 0.3 MΩ is 300 V: a low-voltage test may see nothing below 0.5 MΩ, this one does.
        stands[0].patients[0].motor.ground.leakage = Ohms(300e3);
        let rows = day(stands);
        let passed = rows.iter().any(|r| {
            (r.test == "ground" || r.test == "insulation") && r.verdict == Some(Verdict::Pass)
        });
        assert!(!passed, "seed {seed}");
        let (ends, _) = came_to(&rows);
        assert_eq!(ends, ["CP-07: fault_found"], "seed {seed}");
    }
}

#[test]
fn a_simulated_meter_sends_nothing_that_its_description_refuses() {
    let stands = hatchery::stands(3);
    let mut engine = Day {
        engine: Engine::new(),
        output: Output::default(),
        asked: 0,
    };
    engine.put(Stamp::ZERO, What::Begin(Box::new(begin(settings(&stands)))));
    let mut port = 0;
    for stand in stands {
        for mut meter in stand.meters {
            let of = &stand.patients[0].motor;
            engine.put(Stamp::ZERO, What::Opened { port: PortId(port) });
            let mut sent = 0;
            for (n, clips) in [
                (0_u32, None),
                (1, Some(stillohm::sim::motor::Clips::ToGround)),
                (2, None),
            ] {
                let at = |k: u32| Stamp::from_seconds(f64::from(n) * 20.0 + f64::from(k) * 0.1);
                let clips = clips.unwrap_or(stillohm::sim::motor::Clips::Open);
                meter.instrument.touch(at(0), of.load(clips, meter.leads));
                meter.instrument.button(at(0), n == 1);
                for k in 0..200 {
                    if let Some(line) = meter.instrument.line(at(k)) {
                        sent += 1;
                        let data = Bytes::from(format!("{line}\r\n"));
                        engine.put(
                            at(k),
                            What::Bytes {
                                port: PortId(port),
                                data,
                            },
                        );
                    }
                }
            }
            let view = &engine.engine.view().meters[usize::from(port)];
            // The first line may be half of one: nobody saw where it began. No other is refused.
            assert_eq!(
                (view.good_frames, view.bad_frames),
                (sent - 1, 1),
                "{}: {}",
                meter.name,
                view.last_bad
            );
            port += 1;
        }
    }
}
