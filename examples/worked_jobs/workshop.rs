//! A bench on a clock of its own: meters send, a person acts, the engine
//! takes it in, and every input goes into the capture.

use core::time::Duration;

use serde_json::Value;
use stillohm::capture::write::Encoder;
use stillohm::catalogue::Catalogue;
use stillohm::description;
use stillohm::engine::{Engine, Output, REVISION};
use stillohm::input::{Act, Begin, Command, Input, SCHEMA, Settings, What};
use stillohm::limits::Kind;
use stillohm::meter::{Accuracy, Address, Measures, Meter, Port, PortId};
use stillohm::quantity::{Ohms, Unit};
use stillohm::row::Finding;
use stillohm::sim::motor::{Clips, Load, Motor};
use stillohm::sim::ohmmeter::Ohmmeter;
use stillohm::sim::person::{Deed, Person};
use stillohm::sim::tester::Tester;
use stillohm::stamp::{Stamp, Wall};
use stillohm::text::Text;
use stillohm::view::{JobView, PointView};
use stillohm::web::asked;

use crate::scenes::{Bench, Scene, Slip};

/// When the first scene begins: an autumn morning.
const WALL: Wall = Wall(1_760_083_200_000_000_000);
/// How often the person looks.
const LOOKS: Duration = Duration::from_millis(100);
/// How long a person waits before they say that this is another contact.
const TIRED: Duration = Duration::from_millis(1500);
/// A job that takes longer is ended.
const PATIENCE: Duration = Duration::from_secs(420);
const OHMS: &str = "ohms-1";
const MEGS: &str = "megs-1";

/// Plays a scene; the capture's bytes and how long it took.
pub(crate) fn run(scene: &Scene, capture: &str) -> (Vec<u8>, f64) {
    let mut play = Play::new(scene, capture);
    play.act(Act::StartJob(Box::new(plan(scene))));
    let mut end = Stamp::ZERO.plus(PATIENCE);
    loop {
        let next = play.hands.iter().map(|hand| hand.due).chain([play.look]);
        let at = next.min().unwrap_or(end);
        play.now = at;
        if at >= end {
            break;
        }
        play.meters_send();
        if at == play.look {
            play.look = at.plus(LOOKS);
            match play.engine.view().jobs.first().cloned() {
                Some(job) if at.since(Stamp::ZERO) + Duration::from_secs(5) < PATIENCE => {
                    play.person_acts(&job);
                }
                Some(job) => play.act(Act::EndJob {
                    job: Text::clean(&job.job),
                }),
                // The hands put everything down; a moment later the day ends.
                None => end = end.min(at.plus(Duration::from_secs(2))),
            }
        }
    }
    play.input(What::End {
        why: Text::clean("the day ends"),
    });
    (play.encoder.take(), play.now.seconds())
}

struct Play<'a> {
    scene: &'a Scene,
    engine: Engine,
    output: Output,
    encoder: Encoder,
    person: Person,
    hands: Vec<Hand>,
    now: Stamp,
    look: Stamp,
    commands: u64,
    /// What still goes wrong.
    slips: Vec<Slip>,
    /// Until when a button is held that nobody asked for.
    pressed: Option<Stamp>,
}

/// A meter in the person's hands.
struct Hand {
    name: &'static str,
    port: PortId,
    instrument: Instrument,
    leads: Ohms,
    due: Stamp,
    every: Duration,
    /// The wire has left its clip: nothing is felt any more.
    wire_out: bool,
    /// The display is held now; since when; and was let go.
    frozen: bool,
    frozen_at: Option<Stamp>,
    let_go: bool,
    /// When the clips were last moved onto something, until that is said to be another contact.
    put_on: Option<Stamp>,
    last: Vec<u8>,
}

enum Instrument {
    /// Lines of text.
    Ohms(Ohmmeter),
    /// Frames with flags: `hatchery-fixed`.
    Flagged(Ohmmeter),
    Insulation(Tester),
}

fn plan(scene: &Scene) -> stillohm::input::JobPlan {
    let mut catalogue = Catalogue::default();
    catalogue.add_motors(
        std::path::Path::new("motors.csv"),
        crate::scenes::MOTORS.as_bytes(),
    );
    assert_eq!(catalogue.problems, []);
    let said: Value = serde_json::from_str(scene.job).expect("JSON");
    let said = said.as_object().expect("an object");
    asked::job_plan(said, &catalogue).expect("a job")
}

impl<'a> Play<'a> {
    fn new(scene: &'a Scene, capture: &str) -> Self {
        let hands = hands(scene.bench);
        let meters: Vec<(&str, bool)> = hands
            .iter()
            .map(|hand| {
                let button = matches!(hand.instrument, Instrument::Insulation(_));
                (hand.name, button)
            })
            .collect();
        let mut play = Self {
            person: Person::new(kind(scene), &meters).thorough(),
            scene,
            engine: Engine::new(),
            output: Output::default(),
            encoder: Encoder::new(WALL),
            hands,
            now: Stamp::ZERO,
            look: Stamp::from_seconds(2.0),
            commands: 0,
            slips: scene.slips.to_vec(),
            pressed: None,
        };
        let settings = settings(scene.bench);
        let ports = settings.ports.len();
        play.input(What::Begin(Box::new(begin(capture, settings))));
        for port in 0..ports {
            let port = PortId(u16::try_from(port).expect("few ports"));
            play.input(What::Opened { port });
        }
        play
    }

    fn input(&mut self, what: What) {
        let input = Input { at: self.now, what };
        self.encoder.push(&input);
        self.engine
            .input(&input, &mut self.output)
            .expect("the engine goes on");
        self.output.rows.clear();
    }

    fn act(&mut self, act: Act) {
        self.commands += 1;
        self.input(What::Command(Box::new(Command {
            id: self.commands,
            by: Some(Text::clean("Ada")),
            act,
        })));
        // A refusal is part of the day: the person tries again.
        self.output.outcomes.clear();
    }

    fn meters_send(&mut self) {
        let now = self.now;
        let mut sent = Vec::new();
        for hand in self.hands.iter_mut().filter(|hand| hand.due <= now) {
            hand.due = now.plus(hand.every);
            let data = hand.send(now);
            if !data.is_empty() {
                sent.push((hand.port, data));
            }
        }
        for (port, data) in sent {
            self.input(What::Bytes {
                port,
                data: data.into(),
            });
        }
    }

    fn person_acts(&mut self, job: &JobView) {
        let view = self.engine.view();
        if let Some(until) = self.pressed {
            if self.now >= until {
                self.pressed = None;
                self.press(MEGS, false);
                self.clips(MEGS, Clips::Open);
            }
            return;
        }
        let asked = (job.ask.test.as_str(), job.ask.point.as_str());
        let rash = |slip: &Slip| matches!(slip, Slip::Presses { at, .. } if *at == asked);
        if let Some(at) = self.slips.iter().position(rash)
            && let Slip::Presses { seconds, .. } = self.slips.remove(at)
        {
            self.clips(MEGS, Clips::ToGround);
            self.press(MEGS, true);
            self.pressed = Some(self.now.plus(Duration::from_secs(seconds)));
            return;
        }
        self.held(asked);
        let job_name = || Text::clean(&job.job);
        // A clip without its wire is seen by now: there is nothing to go on with.
        let open = |p: &PointView| {
            (p.test.as_str(), p.point.as_str(), p.finding)
                == ("leads", "after", Some(Finding::Open))
        };
        if job.points.iter().any(open) {
            return self.act(Act::EndJob { job: job_name() });
        }
        match self.person.next(job, &view) {
            None => {}
            Some(Deed::Clips { meter, to }) => {
                self.slip(&meter, to, asked);
                self.clips(&meter, to);
            }
            Some(Deed::Button { meter, down }) => self.press(&meter, down),
            Some(Deed::Confirm(what)) => self.act(Act::Confirm {
                job: job_name(),
                what,
            }),
            Some(Deed::ClipsOn) => self.act(Act::ClipsOn { job: job_name() }),
            Some(Deed::End) => self.act(Act::EndJob { job: job_name() }),
        }
    }

    /// A display that is held goes on being held until its end; the person,
    /// sure that the clips were moved, says so again and again.
    fn held(&mut self, asked: (&str, &str)) {
        let now = self.now;
        let mut again = Vec::new();
        for slip in &self.slips {
            let Slip::Held {
                meter,
                until,
                seconds,
                ..
            } = slip
            else {
                continue;
            };
            for hand in self.hands.iter_mut().filter(|hand| hand.name == *meter) {
                let Some(at) = hand.frozen_at else { continue };
                let noticed = now.since(at) >= Duration::from_secs(*seconds);
                hand.frozen = !hand.let_go && *until != asked && !noticed;
                hand.let_go |= !hand.frozen;
                let waited = hand.put_on.is_some_and(|at| now.since(at) >= TIRED);
                if hand.frozen && waited {
                    hand.put_on = None;
                    again.push(Text::clean(meter));
                }
            }
        }
        for meter in again {
            self.act(Act::Again { meter });
        }
    }

    /// What goes wrong as these clips are put on.
    fn slip(&mut self, meter: &str, to: Clips, asked: (&str, &str)) {
        let now = self.now;
        let (hands, slips) = (&mut self.hands, &mut self.slips);
        let Some(hand) = hands.iter_mut().find(|hand| hand.name == meter) else {
            return;
        };
        slips.retain(|slip| match slip {
            Slip::WireOut { meter: of, at }
                if *of == meter && *at == asked && to != Clips::Open =>
            {
                hand.wire_out = true;
                false
            }
            Slip::Held {
                meter: of, from, ..
            } if *of == meter && *from == asked => {
                hand.frozen |= hand.frozen_at.is_none();
                hand.frozen_at.get_or_insert(now);
                true
            }
            _ => true,
        });
    }

    fn clips(&mut self, meter: &str, to: Clips) {
        let (now, scene) = (self.now, self.scene);
        let Some(hand) = self.hands.iter_mut().find(|hand| hand.name == meter) else {
            return;
        };
        let through = match to {
            Clips::Between(..) => Ohms(hand.leads.0 + scene.cable.0),
            _ => hand.leads,
        };
        hand.put_on = (to != Clips::Open).then_some(now);
        let motor: &Motor = &scene.motor;
        let load = match hand.wire_out {
            true => Load::OPEN,
            false => motor.load(to, through),
        };
        match &mut hand.instrument {
            Instrument::Ohms(meter) | Instrument::Flagged(meter) => meter.touch(now, load),
            Instrument::Insulation(tester) => tester.touch(now, load),
        }
    }

    fn press(&mut self, meter: &str, down: bool) {
        let now = self.now;
        for hand in self.hands.iter_mut().filter(|hand| hand.name == meter) {
            if let Instrument::Insulation(tester) = &mut hand.instrument {
                if down {
                    tester.press(now);
                } else {
                    tester.release(now);
                }
            }
        }
    }
}

impl Hand {
    fn send(&mut self, now: Stamp) -> Vec<u8> {
        let line = match &mut self.instrument {
            Instrument::Ohms(meter) | Instrument::Flagged(meter) => meter.line(now),
            Instrument::Insulation(tester) => tester.line(now),
        };
        let flagged = matches!(self.instrument, Instrument::Flagged(_));
        if self.frozen {
            // The hold key keeps what was shown; this display says so.
            let mut held = self.last.clone();
            if flagged && !held.is_empty() {
                held[3] = 1;
                held[8] = sum(&held);
            }
            return held;
        }
        let data = match line {
            None => Vec::new(),
            Some(line) if flagged => frame(&line),
            Some(line) => format!("{line}\r\n").into_bytes(),
        };
        if !data.is_empty() {
            self.last.clone_from(&data);
        }
        data
    }
}

/// A display's line as a frame of `hatchery-fixed`: AA 55, range, flags, count, sum.
fn frame(line: &str) -> Vec<u8> {
    let number = |unit: &str| line.strip_suffix(unit).map(|n| n.trim().parse::<f64>());
    let ohms = match (number(" kOhm"), number(" MOhm"), number(" Ohm")) {
        (Some(Ok(n)), _, _) => n * 1e3,
        (_, Some(Ok(n)), _) => n * 1e6,
        (_, _, Some(Ok(n))) => n,
        _ => f64::INFINITY,
    };
    let (range, count) = match ohms {
        n if n < 400.0 => (0, n * 100.0),
        n if n < 4_000.0 => (1, n),
        n if n < 400_000.0 => (2, n / 10.0),
        _ => (15, 0.0),
    };
    let mut frame = vec![0xAA, 0x55, range, 0];
    frame.extend((count.round() as i32).to_le_bytes());
    frame.push(0);
    frame[8] = sum(&frame);
    frame
}

fn sum(frame: &[u8]) -> u8 {
    frame[2..8]
        .iter()
        .fold(0, |sum, byte| sum.wrapping_add(*byte))
}

fn kind(scene: &Scene) -> Kind {
    plan(scene).motor.kind
}

fn hands(bench: Bench) -> Vec<Hand> {
    let ohms = match bench {
        Bench::Usual => Instrument::Ohms(Ohmmeter::new(0x11)),
        Bench::Pocket => Instrument::Ohms(Ohmmeter::with(0x11, stillohm::sim::range::POCKET)),
        Bench::Flagged => Instrument::Flagged(Ohmmeter::new(0x11)),
    };
    let hand = |name, port, instrument, leads, millis| Hand {
        name,
        port: PortId(port),
        instrument,
        leads: Ohms(leads),
        due: Stamp::from_seconds(0.5),
        every: Duration::from_millis(millis),
        wire_out: false,
        frozen: false,
        frozen_at: None,
        let_go: false,
        put_on: None,
        last: Vec::new(),
    };
    vec![
        hand(OHMS, 0, ohms, 0.121, 110),
        hand(MEGS, 1, Instrument::Insulation(Tester::new(0x12)), 0.2, 200),
    ]
}

fn settings(bench: Bench) -> Settings {
    let protocol = match bench {
        Bench::Usual | Bench::Pocket => "text-line",
        Bench::Flagged => "hatchery-fixed",
    };
    let accuracy = |up_to: Option<&str>, percent, counts| Accuracy {
        up_to: up_to.and_then(|ohms| ohms.parse().ok()),
        unit: Unit::Ohm,
        percent,
        counts,
    };
    let mut ohms = Meter::plain(Text::clean(OHMS), PortId(0));
    ohms.accuracy = match bench {
        Bench::Pocket => vec![accuracy(None, 0.8, 2.0)],
        _ => vec![accuracy(Some("600"), 0.2, 3.0), accuracy(None, 0.8, 3.0)],
    };
    ohms.over_range_above = Some(Ohms(match bench {
        Bench::Pocket => 20e6,
        Bench::Usual | Bench::Flagged => 40e6,
    }));
    let mut megs = Meter::plain(Text::clean(MEGS), PortId(1));
    megs.measures = vec![Measures::Insulation];
    megs.accuracy = vec![accuracy(None, 5.0, 5.0)];
    let port = |name: &str, protocol: &str| Port {
        address: Address::Replay {
            name: Text::clean(name),
        },
        protocol: Text::clean(protocol),
    };
    let used = [protocol, "insulation-line"];
    Settings {
        ports: vec![port(OHMS, protocol), port(MEGS, "insulation-line")],
        meters: vec![ohms, megs],
        descriptions: description::shipped()
            .iter()
            .filter(|(name, _)| used.contains(name))
            .map(|(name, text)| (Text::clean(name), (*text).to_owned()))
            .collect(),
        require_calibrated: false,
    }
}

fn begin(capture: &str, settings: Settings) -> Begin {
    Begin {
        schema: SCHEMA,
        engine: REVISION,
        version: Text::clean(env!("CARGO_PKG_VERSION")),
        wall: WALL,
        continues: false,
        next_seq: 1,
        chain: Text::clean(&"0".repeat(32)),
        capture: Text::clean(capture),
        before: None,
        log_id: Text::clean("worked jobs"),
        repaired: Vec::new(),
        unfinished: Vec::new(),
        proved: Vec::new(),
        settings,
    }
}
