//! `check`: a script in, rows and asks out.
//!
//! A line that begins with `>` is something that happens; the lines under it
//! are what must follow: rows, as `event test/point shown verdict finding`,
//! then a refusal, then what is asked if that changed.

use core::time::Duration;

use super::words::{entered, ohms, plan, point, recorded, row_text, shown_of, steady, time};
use crate::bench::{Benches, Now, Out, Refusal, Shows, Steer};
use crate::input::{Act, Attestation, Command, Settings};
use crate::meter::{Accuracy, Address, Measures, Meter, MeterId, Port, PortId};
use crate::quantity::{Ohms, Shown, Unit, Volts};
use crate::reading::{Abort, Flags, Got, Method, Outcome, Sample, Take};
use crate::row::Recorded;
use crate::stamp::{Stamp, Wall};
use crate::text::Text;
use crate::view::{JobState, JobView};

/// Runs `script` and compares; the script with what really followed is the message.
pub(super) fn check(script: &str) {
    let mut bench = Bench::new();
    let mut real = String::new();
    let lines = script.lines().map(str::trim).filter(|l| !l.is_empty());
    let wanted: Vec<&str> = lines.collect();
    for line in &wanted {
        if let Some(happens) = line.strip_prefix("> ") {
            real.push_str(line);
            real.push('\n');
            for follows in bench.run(happens) {
                real.push_str(&follows);
                real.push('\n');
            }
        }
    }
    let wanted = wanted.join("\n") + "\n";
    assert!(
        real == wanted,
        "--- wanted\n{wanted}--- real\n{real}--- rows\n{}",
        bench.reasons()
    );
}

/// A sample of the tester with its button pressed.
pub(super) fn under_voltage(volts: f64) -> Sample {
    Sample {
        test_voltage: Some(Volts(volts)),
        ..Sample::alone(Got::Nothing, Flags::NONE)
    }
}

/// A bench with an ohmmeter `ohms-1` and an insulation tester `mega-1`.
pub(super) struct Bench {
    pub(super) benches: Benches,
    pub(super) settings: Settings,
    pub(super) shows: Vec<Shows>,
    pub(super) at: Stamp,
    pub(super) rows: Vec<Recorded>,
    pub(super) steer: Vec<(MeterId, Steer)>,
    asked: String,
}

pub(super) const OHMS: MeterId = MeterId(0);
pub(super) const MEGA: MeterId = MeterId(1);

impl Bench {
    pub(super) fn new() -> Self {
        let port = |name: &str, protocol: &str| Port {
            address: Address::Tcp {
                address: Text::clean(name),
            },
            protocol: Text::clean(protocol),
        };
        let mut ohms = Meter::plain(Text::clean("ohms-1"), PortId(0));
        ohms.over_range_above = Some(Ohms(40e6));
        ohms.accuracy = vec![Accuracy {
            up_to: None,
            unit: Unit::Ohm,
            percent: 0.5,
            counts: 2.0,
        }];
        let mut mega = Meter::plain(Text::clean("mega-1"), PortId(1));
        mega.measures = vec![Measures::Insulation];
        mega.accuracy = vec![Accuracy {
            up_to: None,
            unit: Unit::Ohm,
            percent: 5.0,
            counts: 2.0,
        }];
        let shows = Shows {
            held: true,
            test_voltage: true,
        };
        Self {
            benches: Benches::new(),
            settings: Settings {
                ports: vec![port("hall:1", "text-line"), port("hall:2", "counted-frame")],
                meters: vec![ohms, mega],
                ..Settings::default()
            },
            shows: vec![shows; 2],
            at: Stamp::from_seconds(100.0),
            rows: Vec::new(),
            steer: Vec::new(),
            asked: String::from("nothing"),
        }
    }

    pub(super) fn now(&self) -> Now<'_> {
        Now {
            at: self.at,
            wall: Wall(1_700_000_000_000_000_000).plus(self.at.since(Stamp::ZERO)),
            settings: &self.settings,
            shows: &self.shows,
        }
    }

    /// Does one thing; gives what followed.
    fn run(&mut self, happens: &str) -> Vec<String> {
        let before = self.rows.len();
        let refused = self.happen(happens).err();
        let mut follows: Vec<String> = self.rows[before..].iter().map(row_text).collect();
        if happens.starts_with("proven ") {
            follows.clear();
        }
        follows.extend(refused.map(|r| format!("refused: {}", r.message)));
        let asked = self.asked_now();
        if asked != self.asked {
            follows.push(format!("? {asked}"));
            self.asked = asked;
        }
        follows
    }

    pub(super) fn asked_now(&self) -> String {
        let views = self.views();
        let job = views
            .iter()
            .find(|v| v.state == JobState::Active)
            .or(views.first());
        let Some(view) = job else {
            return String::from("nothing");
        };
        let ask = &view.ask;
        match (ask.confirm, view.state) {
            (_, JobState::Parked) => String::from("parked"),
            (_, JobState::Interrupted) => String::from("interrupted"),
            _ if ask.test.is_empty() => String::from("stop"),
            (Some(what), _) => format!("confirm {what}"),
            (None, _) if ask.say.contains("second lead") => String::from("second lead"),
            (None, _) => format!("{}/{} {}", ask.test, ask.point, ask.meter),
        }
    }

    pub(super) fn views(&self) -> Vec<JobView> {
        self.benches.view(self.now())
    }

    /// Every row with its reason: what a failed check prints.
    pub(super) fn reasons(&self) -> String {
        self.rows
            .iter()
            .map(|r| format!("{} {}\n     {}\n", r.seq, row_text(r), r.row.reason))
            .collect()
    }

    pub(super) fn with<T>(&mut self, act: impl FnOnce(&mut Benches, Now<'_>, &mut Out) -> T) -> T {
        let mut out = Out {
            next_seq: self.rows.len() as u64 + 1,
            ..Out::default()
        };
        let mut benches = core::mem::take(&mut self.benches);
        let result = act(&mut benches, self.now(), &mut out);
        self.benches = benches;
        for (row, seq) in out.rows.into_iter().zip(self.rows.len() as u64 + 1..) {
            self.rows.push(recorded(seq, row));
        }
        assert_eq!(out.next_seq, self.rows.len() as u64 + 1, "seq has a hole");
        self.steer.extend(out.steer);
        result
    }

    pub(super) fn act(&mut self, act: Act) -> Result<(), Refusal> {
        let command = Command {
            id: 1,
            by: None,
            act,
        };
        self.with(|benches, now, out| benches.command(now, &command, out))
            .map(|_| ())
    }

    pub(super) fn took(&mut self, meter: MeterId, take: Take) {
        self.with(|benches, now, out| benches.took(now, meter, &take, out));
    }

    pub(super) fn heard(&mut self, meter: MeterId, sample: Sample) {
        self.with(|benches, now, out| benches.heard(now, meter, &sample, out));
    }

    pub(super) fn gap(&mut self, meter: MeterId, long: Duration) {
        let since = self.at;
        self.pass(long);
        self.with(|benches, now, out| benches.gap(now, meter, since, "the cable was out", out));
    }

    /// Time passes, with a tick at each deadline.
    pub(super) fn pass(&mut self, long: Duration) {
        let end = self.at.plus(long);
        while let Some(due) = self.benches.deadline().filter(|due| *due <= end) {
            self.at = self.at.max(due);
            self.with(|benches, now, out| benches.expire(now, out));
            assert!(
                self.benches.deadline() > Some(due) || self.benches.deadline().is_none(),
                "a deadline that does not pass"
            );
        }
        self.at = end;
    }

    /// The program stops and begins again over the same log.
    pub(super) fn restart(&mut self) {
        self.benches = Benches::new();
        let rows = self.rows.clone();
        self.with(|benches, now, out| {
            benches.proved(&super::prove::still_counting(&rows));
            benches.resume(&rows, now, out);
        });
    }

    /// The job that is asked about: the one that is worked on, else the first.
    fn job(&self) -> Text {
        let views = self.views();
        let job = views
            .iter()
            .find(|v| v.state == JobState::Active)
            .or(views.first());
        Text::clean(job.map_or("J0", |v| v.job.as_str()))
    }

    fn meter(&self) -> MeterId {
        let views = self.views();
        let name = views
            .iter()
            .find(|v| v.state == JobState::Active)
            .map(|v| v.ask.meter.clone());
        if name.as_deref() == Some("mega-1") {
            MEGA
        } else {
            OHMS
        }
    }

    pub(super) fn happen(&mut self, happens: &str) -> Result<(), Refusal> {
        let (verb, rest) = happens.split_once(' ').unwrap_or((happens, ""));
        let job = self.job();
        match verb {
            // The motor is dead, all leads and the ground are proven.
            "proven" => {
                self.happen(&format!("start {rest}"))?;
                self.happen("confirm dead")?;
                loop {
                    let asked = self.asked_now();
                    let shown = match asked.split('/').next() {
                        Some("leads") if asked.ends_with("mega-1") => "0.01M",
                        Some("leads") => "0.2",
                        Some("ground_path") => "0.3",
                        _ => break,
                    };
                    self.happen(&format!("take {shown}"))?;
                }
            }
            "start" => {
                let plan = plan(rest);
                return self.act(Act::StartJob(Box::new(plan)));
            }
            "configure" => self.configure(rest),
            "confirm" => {
                let what = Attestation::from_word(rest).expect("an attestation");
                return self.act(Act::Confirm { job, what });
            }
            "clips" => return self.act(Act::ClipsOn { job }),
            "take" => {
                let (shown, meter) = rest.split_once(" on ").unwrap_or((rest, ""));
                let meter = match meter {
                    "" => self.meter(),
                    "mega-1" => MEGA,
                    "ohms-2" => MeterId(2),
                    _ => OHMS,
                };
                self.pass(Duration::from_secs(5));
                let take = steady(self.at, Outcome::Value(shown_of(shown)));
                self.took(meter, take);
            }
            "open" => {
                self.pass(Duration::from_secs(5));
                let full_scale = rest.strip_prefix("fs=").map(ohms);
                let meter = self.meter();
                self.took(meter, steady(self.at, Outcome::Open { full_scale }));
            }
            "hold" => self.hold(rest),
            "marks" => self.marks(rest),
            "volts" => self.volts(rest),
            "press" => self.press(rest),
            "gap" => {
                let (long, meter) = rest.split_once(' ').unwrap_or((rest, "ohms-1"));
                self.gap(if meter == "mega-1" { MEGA } else { OHMS }, time(long));
            }
            "tick" => self.pass(time(rest)),
            "restart" => self.restart(),
            "skip" => {
                let (point, reason) = match rest.split_once(": ") {
                    Some((at, reason)) => (Some(point(at)), reason),
                    None => (None, rest),
                };
                let reason = Text::clean(reason);
                return self.act(Act::Skip { job, point, reason });
            }
            "redo" => {
                let point = point(rest);
                return self.act(Act::Redo { job, point });
            }
            "withdraw" => {
                let (seq, reason) = rest.split_once(' ').unwrap_or((rest, ""));
                return self.act(Act::Withdraw {
                    seq: seq.parse().expect("a seq"),
                    reason: Text::clean(reason),
                });
            }
            "review" => {
                let (seq, words) = rest.split_once(' ').unwrap_or((rest, ""));
                return self.act(Act::Review {
                    seq: seq.parse().expect("a seq"),
                    words: Text::clean(words),
                });
            }
            "park" => {
                let reason = Text::clean(rest);
                return self.act(Act::Park { job, reason });
            }
            "go-on" => {
                let job = Text::clean(rest);
                return self.act(Act::GoOn { job });
            }
            "end" => return self.act(Act::EndJob { job }),
            "note" => {
                let note = Text::clean(rest);
                return self.act(Act::Note {
                    job: Some(job),
                    note,
                });
            }
            "again" => {
                let meter = Text::clean(rest);
                return self.act(Act::Again { meter });
            }
            "prove" => return self.act(super::prove::asked(rest)),
            "enter" => {
                let entered = entered(rest, job);
                return self.act(Act::Enter(Box::new(entered)));
            }
            other => panic!("no such line: {other}"),
        }
        Ok(())
    }

    fn configure(&mut self, rest: &str) {
        for word in rest.split(' ') {
            match word {
                "held-unseen" => self.shows[0].held = false,
                "voltage-unseen" => self.shows[1].test_voltage = false,
                "no-tester" => self.settings.meters.truncate(1),
                "two-benches" => {
                    let mut more = self.settings.meters[0].clone();
                    (more.name, more.bench) = (Text::clean("ohms-2"), Text::clean("bench-2"));
                    self.settings.meters.push(more);
                    self.shows.push(self.shows[0]);
                }
                "no-ohms" => self.settings.meters[0].measures = vec![Measures::Volts],
                "one-meter-for-all" => {
                    self.settings.meters.truncate(1);
                    self.settings.meters[0].measures = vec![Measures::Ohms, Measures::Insulation];
                }
                "overdue" => {
                    self.settings.meters[1].calibration_due = Some(Text::clean("2020-01-31"));
                    self.settings.require_calibrated = true;
                }
                "another-device" => {
                    self.settings.meters[0].serial_number = Some(Text::clean("B-77"));
                }
                other => panic!("no such setting: {other}"),
            }
        }
        self.with(|benches, now, out| benches.expire(now, out));
    }

    /// `hold 12M 500V 60s`: pressed, held, taken, let go.
    fn hold(&mut self, rest: &str) {
        let words: Vec<&str> = rest.split(' ').collect();
        let [what, volts, long] = words.as_slice() else {
            panic!("hold WHAT VOLTS TIME");
        };
        let meter = if self.settings.meters.len() == 1 {
            OHMS
        } else {
            MEGA
        };
        let volts = Volts(volts.trim_end_matches('V').parse().expect("volts"));
        let long = time(long);
        let shown = self.shows[usize::from(meter.0)].test_voltage;
        let pressed = |v: f64| Sample {
            test_voltage: shown.then_some(Volts(v)),
            ..Sample::alone(Got::Nothing, Flags::NONE)
        };
        self.heard(meter, pressed(volts.0));
        let step = Duration::from_millis(500);
        let mut left = long;
        while left > step {
            self.pass(step);
            left -= step;
            self.heard(meter, pressed(volts.0));
        }
        self.pass(left);
        let outcome = match *what {
            "released" => Outcome::Aborted(Abort::Released),
            over if over.starts_with("over") => Outcome::OverRange {
                full_scale: over.strip_prefix("over:").map(ohms),
            },
            value => Outcome::Value(shown_of(value)),
        };
        let released = matches!(outcome, Outcome::Aborted(_));
        if released {
            self.heard(meter, pressed(0.0));
        }
        let mut take = steady(self.at, outcome);
        take.method = Method::Timed;
        take.elapsed = Some(long);
        take.test_voltage = shown.then_some(volts);
        self.took(meter, take);
        if !released {
            self.heard(meter, pressed(0.0));
        }
    }

    /// `marks 500V 60s=120M 600s=300M`: one press, read at each mark, let go
    /// after the last. `released` and `over:200G` as in `hold`.
    fn marks(&mut self, rest: &str) {
        let (volts, marks) = rest.split_once(' ').expect("VOLTS MARK=VALUE …");
        let volts = Volts(volts.trim_end_matches('V').parse().expect("volts"));
        let mut sample = under_voltage(volts.0);
        let began = self.at;
        for mark in marks.split(' ') {
            let (at, what) = mark.split_once('=').expect("MARK=VALUE");
            let end = began.plus(time(at));
            while self.at < end {
                self.heard(MEGA, sample);
                let left = end.since(self.at);
                self.pass(left.min(Duration::from_secs(1)));
            }
            let outcome = match what {
                "released" => Outcome::Aborted(Abort::Released),
                over if over.starts_with("over") => Outcome::OverRange {
                    full_scale: over.strip_prefix("over:").map(ohms),
                },
                value => Outcome::Value(shown_of(value)),
            };
            let mut take = steady(self.at, outcome);
            take.method = Method::Timed;
            take.elapsed = Some(time(at));
            take.test_voltage = Some(volts);
            if matches!(outcome, Outcome::Aborted(_)) {
                sample.test_voltage = Some(Volts(0.0));
                self.heard(MEGA, sample);
            }
            self.took(MEGA, take);
        }
        sample.test_voltage = Some(Volts(0.0));
        self.heard(MEGA, sample);
    }

    /// `press 500V 2s`: the button, without a value.
    fn press(&mut self, rest: &str) {
        let (volts, long) = rest.split_once(' ').expect("VOLTS TIME");
        let mut sample = Sample::alone(Got::Nothing, Flags::NONE);
        let end = self.at.plus(time(long));
        sample.test_voltage = Some(Volts(volts.trim_end_matches('V').parse().expect("volts")));
        while self.at < end {
            self.heard(MEGA, sample);
            self.pass(Duration::from_millis(500));
        }
        sample.test_voltage = Some(Volts(0.0));
        self.heard(MEGA, sample);
    }

    /// `volts 230 ac 4s`: ten samples a second on the ohmmeter.
    fn volts(&mut self, rest: &str) {
        let words: Vec<&str> = rest.split(' ').collect();
        let (volts, kind, long) = (words[0], words[1], time(words[2]));
        let flags = match kind {
            "ac" => Flags::AC,
            "dc" => Flags::DC,
            _ => Flags::LIVE,
        };
        let shown = Shown::plain(volts.parse().expect("volts"), Unit::Volt);
        let end = self.at.plus(long);
        loop {
            self.heard(OHMS, Sample::alone(Got::Value(shown), flags));
            if self.at >= end {
                break;
            }
            self.pass(Duration::from_millis(100));
        }
    }
}
