//! A job by bytes: two meters' streams and a person's words through the
//! engine, as a live run has them, without a clock.

use stillohm::description;
use stillohm::engine::{Engine, Output};
use stillohm::input::{Act, Attestation, Begin, Command, Input, JobPlan, SCHEMA, Settings, What};
use stillohm::limits::{
    Acceptance, Electronics, GroundReference, Kind, MeasuredAt, Motor, Point, Range, Stage, Test,
};
use stillohm::meter::{Accuracy, Address, Measures, Meter, Port, PortId};
use stillohm::quantity::{Celsius, Ohms, Unit, Volts};
use stillohm::row::{Event, Recorded, Row};
use stillohm::stamp::{Stamp, Wall};
use stillohm::text::Text;
use stillohm::view::Ask;

pub(crate) const OHMS: PortId = PortId(0);
pub(crate) const MEGA: PortId = PortId(1);

/// A day at the bench, by bytes.
pub(crate) struct Day {
    pub(crate) engine: Engine,
    pub(crate) output: Output,
    pub(crate) millis: u64,
}

fn settings() -> Settings {
    let names = ["text-line", "insulation-line"];
    let port = |name: &str| Port {
        address: Address::Tcp {
            address: Text::clean(name),
        },
        protocol: Text::clean(name),
    };
    let accuracy = |percent| Accuracy {
        up_to: None,
        unit: Unit::Ohm,
        percent,
        counts: 2.0,
    };
    let mut ohms = Meter::plain(Text::clean("ohms-1"), OHMS);
    ohms.accuracy = vec![accuracy(0.5)];
    ohms.over_range_above = Some(Ohms(40e6));
    let mut mega = Meter::plain(Text::clean("mega-1"), MEGA);
    mega.accuracy = vec![accuracy(5.0)];
    mega.measures = vec![Measures::Insulation];
    Settings {
        ports: names.iter().map(|name| port(name)).collect(),
        meters: vec![ohms, mega],
        descriptions: description::shipped()
            .iter()
            .filter(|(name, _)| names.contains(name))
            .map(|(name, text)| (Text::clean(name), (*text).to_owned()))
            .collect(),
        require_calibrated: false,
    }
}

impl Day {
    pub(crate) fn begin(next_seq: u64, unfinished: Vec<String>) -> Self {
        Self::with(settings(), next_seq, unfinished)
    }

    pub(crate) fn with(settings: Settings, next_seq: u64, unfinished: Vec<String>) -> Self {
        let begin = Begin {
            schema: SCHEMA,
            engine: stillohm::engine::REVISION,
            version: Text::clean("0.1.0"),
            wall: Wall(1_700_000_000_000_000_000),
            continues: false,
            next_seq,
            chain: Text::clean(&"0".repeat(32)),
            capture: Text::clean("run.pcapng"),
            before: None,
            log_id: Text::clean("a log"),
            repaired: Vec::new(),
            unfinished,
            proved: Vec::new(),
            settings,
        };
        let mut day = Self {
            engine: Engine::new(),
            output: Output::default(),
            millis: 0,
        };
        day.input(What::Begin(Box::new(begin)));
        for port in [OHMS, MEGA] {
            day.input(What::Opened { port });
        }
        day
    }

    pub(crate) fn input(&mut self, what: What) {
        let at = Stamp::from_nanos(self.millis * 1_000_000);
        self.engine
            .input(&Input { at, what }, &mut self.output)
            .expect("goes on");
    }

    pub(crate) fn act(&mut self, act: Act) {
        self.output.outcomes.clear();
        self.input(What::Command(Box::new(Command {
            id: 1,
            by: None,
            act,
        })));
        for (_, outcome) in &self.output.outcomes {
            assert!(outcome.is_ok(), "{outcome:?}");
        }
    }

    pub(crate) fn confirm(&mut self, what: Attestation) {
        let job = self.job();
        self.act(Act::Confirm { job, what });
    }

    pub(crate) fn job(&self) -> Text {
        Text::clean(&self.engine.view().jobs[0].job)
    }

    pub(crate) fn ask(&self) -> Ask {
        self.engine.view().jobs[0].ask.clone()
    }

    /// What is asked for a meter that is being checked.
    pub(crate) fn says(&self) -> String {
        let view = self.engine.view();
        view.proving
            .first()
            .map(|p| p.say.clone())
            .unwrap_or_default()
    }

    /// Both meters send for `seconds`, ten lines a second each.
    pub(crate) fn lines(&mut self, ohms: &str, mega: &str, seconds: u64) {
        for _ in 0..seconds * 10 {
            self.millis += 100;
            for (port, line) in [(OHMS, ohms), (MEGA, mega)] {
                self.input(What::Bytes {
                    port,
                    data: format!("{line}\r\n").into(),
                });
            }
        }
    }

    /// These lines cannot say that a display is held: a visible change is asked
    /// for, once a job and meter.
    pub(crate) fn follows(&mut self) {
        assert_eq!(self.ask().confirm, Some(Attestation::DisplayFollows));
        self.confirm(Attestation::DisplayFollows);
        self.told();
    }

    /// The ohmmeter's clips come off, then a value stands for 4 s.
    pub(crate) fn ohms(&mut self, value: &str) {
        self.lines("OL", IDLE, 2);
        self.lines(value, IDLE, 4);
    }

    /// The tester's clips are joined, as `leads` wants it.
    pub(crate) fn joined(&mut self) {
        self.lines("OL", IDLE, 2);
        self.lines("OL", "0.01 MOhm;0 V;0.0 s", 4);
    }

    /// The tester's button held for `seconds` over a steady insulation.
    pub(crate) fn hold(&mut self, seconds: u64) {
        self.lines("OL", IDLE, 2);
        for second in 0..seconds {
            self.lines("OL", &format!("120.0 MOhm;510 V;{second}.0 s"), 1);
        }
        self.lines("OL", "120.0 MOhm;0 V;0.0 s", 3);
        self.lines("OL", IDLE, 2);
    }

    /// The rows since the last call, in few words.
    pub(crate) fn told(&mut self) -> Vec<String> {
        self.output.rows.drain(..).map(|row| short(&row)).collect()
    }
}

const IDLE: &str = "OL;0 V;0.0 s";

fn short(row: &Row) -> String {
    let mut words = vec![row.event.to_string()];
    if !row.test.is_empty() {
        words.push(format!("{}/{}", row.test, row.point));
    }
    words.push(row.shown.clone());
    words.extend(row.verdict.map(|v| v.to_string()));
    words.extend(row.finding.map(|f| f.to_string()));
    if row.event == Event::JobEnd {
        words.extend(row.reason.split(':').next().map(str::to_owned));
    }
    words.retain(|w| !w.is_empty());
    words.join(" ")
}

/// A circulation pump of the hatchery (invented): 2.0 Ω, 400 V.
pub(crate) fn plan() -> JobPlan {
    let mut motor = Motor::unlisted(
        Text::clean("RUNNEL-4"),
        Kind::TwoWire,
        Some(Volts(400.0)),
        Electronics::No,
    );
    motor.in_catalogue = true;
    motor.main = Range {
        lower: "1.8".parse().ok(),
        upper: "2.2".parse().ok(),
    };
    JobPlan {
        bench: None,
        motor,
        asset: Text::clean("pump 3"),
        tester: Text::clean("Ada"),
        stage: Stage::Arrival,
        measured_at: MeasuredAt::Motor,
        ground_reference: GroundReference::Frame,
        temperature: Some(Celsius(20.0)),
        cable: None,
        limits: None,
        bands: Vec::new(),
        sheet: None,
        baseline: None,
        acceptance: Acceptance::Simple,
        profile: Some(Text::clean("machinery")),
        condition: None,
    }
}

#[test]
fn a_two_wire_motor_is_led_through_by_its_meters_streams() {
    let mut day = Day::begin(1, Vec::new());
    day.act(Act::StartJob(Box::new(plan())));
    day.confirm(Attestation::Dead);
    day.follows();
    day.ohms("0.20");
    assert_eq!(day.told(), ["value leads/before 0.20 Ω pass within"]);
    day.follows();
    day.joined();
    assert_eq!(day.told(), ["value leads/before 0.01 MΩ pass within"]);
    day.ohms("0.30");
    assert_eq!(day.told(), ["value ground_path/path 0.30 Ω pass within"]);
    day.ohms("2.20");
    assert_eq!(day.told(), ["value winding/main 2.20 Ω pass within"]);
    // Clips in the air read the same as perfect insulation: without a word nothing is taken.
    day.lines("OL", IDLE, 20);
    assert_eq!(day.told(), [""; 0]);
    let job = day.job();
    day.act(Act::ClipsOn { job });
    day.lines("OL", IDLE, 5);
    assert_eq!(
        day.told(),
        ["open ground/all_to_ground over-range undecided leads_unproven"]
    );
    assert!(day.ask().say.contains("second lead"), "{:?}", day.ask());
    day.lines("2.20", IDLE, 4);
    assert_eq!(day.told(), ["value ground/contact 2.20 Ω not_judged"]);
    day.confirm(Attestation::Disconnected);
    day.confirm(Attestation::StandClear);
    day.told();
    day.hold(70);
    assert_eq!(
        day.told(),
        ["value insulation/all_to_ground 120.0 MΩ pass within"]
    );
    day.confirm(Attestation::ShortedToGround);
    day.told();
    day.ohms("0.21");
    assert_eq!(
        day.told(),
        [
            "value leads/after 0.21 Ω pass within",
            "judged ground/all_to_ground pass no_fault_seen"
        ]
    );
    day.joined();
    assert_eq!(
        day.told(),
        [
            "value leads/after 0.01 MΩ pass within",
            "job_end no_fault_found"
        ]
    );
    assert!(day.engine.view().jobs.is_empty());
}

#[test]
fn a_stop_in_the_middle_leaves_a_job_that_goes_on() {
    let mut day = Day::begin(1, Vec::new());
    day.act(Act::StartJob(Box::new(plan())));
    day.confirm(Attestation::Dead);
    day.confirm(Attestation::DisplayFollows);
    day.ohms("0.20");
    day.confirm(Attestation::DisplayFollows);
    day.joined();
    day.ohms("0.30");
    day.ohms("2.20");
    // The rows as the log keeps them: as lines.
    let rows: Vec<Recorded> = day
        .output
        .rows
        .drain(..)
        .zip(1..)
        .map(|(row, seq)| Recorded {
            seq,
            row,
            chain: String::from("00"),
        })
        .collect();
    let name = day.job();
    let lines = rows.iter().filter(|r| r.row.job == name.as_str()).map(|r| {
        let mut line = String::new();
        r.row.write(r.seq, &mut line);
        line + &r.chain
    });
    let mut next = Day::begin(rows.len() as u64 + 1, lines.collect());
    let view = &next.engine.view().jobs[0];
    assert_eq!(view.state, stillohm::view::JobState::Interrupted);
    let done = |p: &&stillohm::view::PointView| p.state == "done";
    let points = view.points.iter().filter(done).map(|p| p.test.as_str());
    // The leads of the ohmmeter are due again at once, those of the tester when its turn comes.
    assert_eq!(
        points.collect::<Vec<_>>(),
        ["dead", "leads", "ground_path", "winding"]
    );
    next.act(Act::GoOn { job: name });
    next.follows();
    next.ohms("0.20");
    assert_eq!(next.told(), ["value leads/before 0.20 Ω pass within"]);
    assert_eq!(
        (next.ask().test.as_str(), next.ask().clips_on),
        ("ground", true)
    );
}

#[test]
fn a_tester_that_sends_no_voltage_is_timed_by_a_persons_word() {
    // Its lines carry resistance only; the hold begins and ends with a word (rule 15).
    let mut settings = settings();
    settings.ports[1].protocol = Text::clean("text-line");
    let mut day = Day::with(settings, 1, Vec::new());
    day.act(Act::StartJob(Box::new(plan())));
    day.confirm(Attestation::Dead);
    for point in ["winding main", "ground all_to_ground", "ground_path path"] {
        let (test, name) = point.split_once(' ').expect("two words");
        let (job, test) = (day.job(), Test::from_word(test).expect("a test"));
        day.act(Act::Skip {
            job,
            point: Some(Point::new(test, name)),
            reason: Text::clean("measured this morning"),
        });
    }
    // Nothing is left for the ohmmeter, so its leads are not asked for.
    day.follows();
    day.lines("OL", "OL", 2);
    day.lines("OL", "0.01 MOhm", 4);
    assert_eq!(day.told(), ["value leads/before 0.01 MΩ pass within"]);
    day.lines("OL", "OL", 2);
    day.confirm(Attestation::Disconnected);
    day.confirm(Attestation::StandClear);
    day.told();
    // Before the word nothing counts, however steady.
    day.lines("OL", "120.0 MOhm", 8);
    assert_eq!(day.told(), [""; 0]);
    day.confirm(Attestation::VoltageOn);
    day.told();
    day.lines("OL", "120.0 MOhm", 12);
    let rows = &day.output.rows;
    assert_eq!(rows.len(), 1, "{rows:?}");
    assert_eq!(
        short(&rows[0]),
        "value insulation/all_to_ground 120.0 MΩ pass within"
    );
    assert!(
        rows[0].reason.contains("not measured"),
        "{}",
        rows[0].reason
    );
    day.told();
    assert_eq!(day.ask().confirm, Some(Attestation::VoltageOff));
    day.lines("OL", "120.0 MOhm", 3);
    day.confirm(Attestation::VoltageOff);
    day.confirm(Attestation::ShortedToGround);
    // 15 s on: 60 s shorted.
    let view = day.engine.view();
    let until = view.jobs[0].discharge_until.expect("a countdown");
    assert_eq!(until.since(view.at).as_secs(), 60);
}
