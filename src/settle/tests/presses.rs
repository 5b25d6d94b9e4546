//! Presses of a test button: a tester, a motor under it, and what reaches the host.
//!
//! The tester is a source with a ramp and a largest current; the motor a leak
//! with absorbing branches beside it, which fill with the voltage and are full
//! or empty when the next press comes. All parameters are invented. The same
//! seed gives the same trace. Nothing here knows the engine.

use super::press_tester::{Line, Tester};
use super::traces::{GRID, Link, Reading, Rng};

/// One press of the button.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Push {
    /// Seconds at which it goes down.
    pub(crate) down: f64,
    /// Seconds at which it comes up.
    pub(crate) up: f64,
    /// From when to when the source gives only this part of its voltage.
    pub(crate) sag: Option<(f64, f64, f64)>,
    /// Seconds at which a lead falls off.
    pub(crate) lead_off: Option<f64>,
}

/// What is at the clips at one moment of the grid.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Moment {
    /// Volts.
    pub(crate) volts: f64,
    /// Ohms that a perfect tester would show, infinite without a motor.
    pub(crate) ohms: f64,
    /// The press that is down, if one is.
    pub(crate) push: Option<usize>,
}

/// What the run of a press comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fate {
    /// A value at each mark.
    Values,
    /// The tester cannot hold its voltage.
    PulledDown,
    /// Either: a lower step of the tester looks like a weak tester.
    Either,
}

/// A trace with what is true in it.
#[derive(Clone, Debug)]
pub(crate) struct Trace {
    /// Volts asked for.
    pub(crate) nominal: f64,
    /// Volts that the tester is set to.
    pub(crate) step: f64,
    /// Seconds at which a value is asked for.
    pub(crate) marks: Vec<f64>,
    /// Whether the voltage comes in the stream.
    pub(crate) measured: bool,
    /// Seconds at which a person says that the voltage is on or off.
    pub(crate) words: Vec<(f64, bool)>,
    pub(crate) presses: Vec<Push>,
    pub(crate) fate: Fate,
    pub(crate) world: Vec<Moment>,
    pub(crate) tester: Tester,
    /// What reached the host.
    pub(crate) lines: Vec<Line>,
}

/// The families: those of the corpus, then our own.
pub(crate) const FAMILIES: &[&str] = &[
    "spot",
    "sixty",
    "dar",
    "pi",
    "over-range",
    "released",
    "sag",
    "lead off",
    "residual",
    "restart",
    "slow ramp",
    "dips",
    "weak",
    "weak, drying",
    "gives way",
    "strong or slow",
    "lower step",
    "own time",
    "stall at mark",
    "released in stall",
    "person",
];

/// A motor: a leak, and branches that absorb.
#[derive(Clone, Debug)]
struct Motor {
    leak: f64,
    /// Part of the leak by which it changes in a second under voltage.
    drying: f64,
    /// Ohms and seconds of each branch.
    branches: Vec<(f64, f64)>,
}

impl Motor {
    /// A motor that reads `ohms` when it is full, and less before.
    fn absorbing(rng: &mut Rng, ohms: f64) -> Self {
        let parts: Vec<f64> = (0..5).map(|_| rng.log_between(0.05, 4.0)).collect();
        let most = (parts.iter().sum::<f64>() / 8.0).max(1.0);
        let branches = [0.4, 1.5, 9.0, 60.0, 250.0]
            .into_iter()
            .zip(parts)
            .map(|(tau, part)| (ohms * most / part, tau * rng.log_between(0.7, 1.4)))
            .collect();
        Self {
            leak: ohms,
            drying: 0.0,
            branches,
        }
    }

    /// A motor that does not absorb.
    fn plain(ohms: f64) -> Self {
        Self {
            leak: ohms,
            drying: 0.0,
            branches: Vec::new(),
        }
    }

    /// Siemens of the leak after so many seconds under voltage.
    fn conducts(&self, since: f64) -> f64 {
        1.0 / (self.leak * (1.0 + self.drying * since).max(0.05))
    }
}

/// What is at the clips from 0 to `end`.
fn world(
    rng: &mut Rng,
    tester: &Tester,
    motor: &Motor,
    presses: &[Push],
    before: f64,
    end: f64,
) -> Vec<Moment> {
    let slew = tester.open / rng.log_between(0.03, 1.2);
    let mut volts = before;
    let mut full = vec![0.0; motor.branches.len()];
    let mut sag = 1.0;
    let cells = (end / GRID) as usize;
    let mut world = Vec::with_capacity(cells);
    for cell in 0..cells {
        let now = cell as f64 * GRID;
        let push = presses.iter().position(|p| (p.down..p.up).contains(&now));
        let mut ohms = f64::INFINITY;
        let was = volts;
        if let Some(push) = push.map(|index| presses[index]) {
            let part = match push.sag {
                Some((from, to, part)) if (from..to).contains(&now) => part,
                _ => 1.0,
            };
            sag += (part - sag) * (GRID / 0.06);
            let open = tester.open * sag * tester.risen(now - push.down);
            let on = push.lead_off.is_none_or(|off| now < off);
            let (mut siemens, mut back) = (0.0, 0.0);
            if on {
                siemens = motor.conducts(now - push.down);
                for ((ohms, _), held) in motor.branches.iter().zip(&full) {
                    siemens += 1.0 / ohms;
                    back += held / ohms;
                }
            }
            let largest = (tester.largest + back) / siemens.max(1e-30);
            let target = open.min(largest);
            if target > volts {
                let spare = 1.0 - (volts * siemens - back) / tester.largest;
                volts = target.min(volts + slew * spare.max(0.02) * GRID);
            } else {
                volts = target + (volts - target) * libm::exp(-GRID / 0.08);
            }
            let charging = tester.largest / slew * ((volts - was) / GRID).max(0.0);
            let amperes = volts * siemens - back + charging;
            if on && amperes > 0.0 {
                ohms = volts / amperes;
            }
        } else {
            volts *= libm::exp(-GRID / tester.fall);
        }
        for ((_, tau), held) in motor.branches.iter().zip(&mut full) {
            *held += (volts - *held) * (GRID / tau);
        }
        world.push(Moment { volts, ohms, push });
    }
    world
}

/// A press of `seconds` after what came before.
fn push(down: f64, seconds: f64) -> Push {
    Push {
        down,
        up: down + seconds,
        sag: None,
        lead_off: None,
    }
}

/// A trace of a family; `seed` decides everything else.
pub(crate) fn trace(family: &str, seed: u64) -> Trace {
    let mut rng = Rng(seed.wrapping_mul(0x9e6c_63d0_876a_3f6b) ^ 0x0b0e);
    let rng = &mut rng;
    let nominal = rng.pick(&[50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0, 5000.0]);
    let mut tester = Tester::random(rng, nominal);
    let marks = marks(rng, family);
    let last = marks[marks.len() - 1];
    let over = family == "over-range";
    let full = tester.full();
    // A good motor draws at most a twentieth of what the tester has.
    let least = (60.0 * tester.count()).max(20.0 * nominal / tester.largest);
    let ohms = if over {
        full * rng.log_between(3.0, 100.0)
    } else {
        rng.log_between(least, 0.6 * full)
    };
    let mut motor = Motor::absorbing(rng, ohms);
    if over && rng.chance(0.3) {
        motor = Motor::plain(ohms);
    }
    let mut link = if rng.chance(0.5) {
        Link::bad(rng)
    } else {
        Link::default()
    };
    let tail = rng.between(2.5, 6.0) + 3.0 / tester.rate;
    let mut presses = vec![push(rng.between(1.0, 5.0), 0.0)];
    let mut before = 0.0;
    let mut step = nominal;
    let mut measured = true;
    let mut fate = Fate::Values;
    // From the press to the start of the clock, as far as the ramp goes.
    let mut ramp = tester.ramp();
    let mut held = last + rng.between(1.0, 4.0) + 3.0 / tester.rate;
    let early = last * rng.between(0.1, 0.95);
    if family.contains("stall") {
        link = Link::default();
    }
    match family {
        "released" | "released in stall" => held = early,
        "sag" => {
            let from = presses[0].down + ramp + early;
            let seconds = if rng.chance(0.5) {
                1e3
            } else {
                rng.between(2.5, 6.0)
            };
            presses[0].sag = Some((
                from,
                from + seconds,
                rng.between(0.15, 0.78) * nominal / tester.open,
            ));
        }
        "lead off" => presses[0].lead_off = Some(presses[0].down + ramp + early),
        "residual" => {
            before = nominal * rng.between(0.05, 0.7);
            tester.fall = rng.log_between(0.5, 9.0);
            tester.junk();
        }
        "restart" => tester.fall = rng.log_between(0.15, 8.0),
        "slow ramp" => {
            tester.slow(rng);
            ramp = tester.ramp();
        }
        "dips" => {
            tester.glitches = rng.log_between(0.002, 0.02);
            let from = presses[0].down + ramp + early;
            let seconds = rng.between(0.05, 0.55);
            presses[0].sag = Some((from, from + seconds, rng.between(0.1, 0.8)));
        }
        "weak" | "weak, drying" => {
            fate = Fate::PulledDown;
            tester.weak(rng);
            motor = Motor::plain(0.9 * nominal / tester.largest * rng.between(0.17, 0.93));
            if rng.chance(0.4) {
                motor = Motor::absorbing(rng, motor.leak);
            }
            if rng.chance(0.7) {
                tester.reaches(motor.leak);
            }
            if family == "weak, drying" {
                motor.drying = rng.between(-0.006, 0.006);
            }
            held = held.max(rng.between(12.0, 40.0));
        }
        "gives way" => {
            fate = Fate::PulledDown;
            tester.weak(rng);
            motor = Motor::plain(nominal / tester.largest * rng.between(1.1, 2.0));
            motor.drying = -rng.log_between(0.004, 0.15);
            tester.reaches(0.5 * motor.leak);
            held = held.max(rng.between(30.0, 90.0));
        }
        "strong or slow" => {
            tester.slow(rng);
            tester.largest *= rng.log_between(0.6, 10.0);
            ramp = tester.ramp();
        }
        "lower step" => {
            let below: Vec<f64> = [50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0]
                .into_iter()
                .filter(|step| *step < 0.8 * nominal && *step >= 0.2 * nominal)
                .collect();
            if !below.is_empty() {
                step = rng.pick(&below);
                tester.open *= step / nominal;
                fate = Fate::Either;
            }
        }
        "own time" => {
            tester.own = Some(rng.pick(&[1.0, 0.1, 0.5]));
            tester.own_from_press = rng.chance(0.5);
        }
        "person" => {
            measured = false;
            held += 1.0;
        }
        _ => {}
    }
    let first = presses[0];
    presses[0].up = first.down + ramp + held;
    if family == "restart" {
        presses[0].up = first.down + ramp + early.min(20.0);
        // Long enough away for anybody to see it.
        let away = tester.fall * 0.35 + rng.between(1.8, 6.0) + 4.0 / tester.rate;
        let again = rng.between(1.0, 4.0) + 3.0 / tester.rate;
        presses.push(push(presses[0].up + away, ramp + last + again));
    }
    let end = presses[presses.len() - 1].up + tail;
    let world = world(rng, &tester, &motor, &presses, before, end);
    let sent = tester.lines(&world, nominal, rng);
    let mut lines = carried(&link, &sent, rng);
    if family.contains("stall") {
        let near = if family == "stall at mark" {
            let start = lines.iter().find(|line| line.volts >= 0.9 * nominal);
            start.map_or(0.0, |line| line.at) + rng.pick(&marks)
        } else {
            presses[0].up
        };
        stall(&mut lines, near, rng);
    }
    let words = if measured {
        Vec::new()
    } else {
        words(&presses[0], last, rng)
    };
    Trace {
        nominal,
        step,
        marks,
        measured,
        words,
        presses,
        fate,
        world,
        tester,
        lines,
    }
}

fn marks(rng: &mut Rng, family: &str) -> Vec<f64> {
    match family {
        "spot" => vec![rng.pick(&[5.0, 10.0])],
        "sixty" => vec![60.0],
        "dar" => vec![30.0, 60.0],
        "pi" => vec![60.0, 600.0],
        _ => match rng.bits() % 5 {
            0 => vec![5.0],
            1 => vec![10.0],
            2 => vec![30.0],
            3 => vec![60.0],
            _ => vec![30.0, 60.0],
        },
    }
}

/// Nothing arrives for a while around `near`; then what was held back, or only what follows.
fn stall(lines: &mut Vec<Line>, near: f64, rng: &mut Rng) {
    let from = near - rng.between(0.0, 2.8);
    let to = near.max(from) + rng.between(0.05, 2.8).min(from + 3.0 - near).max(0.05);
    if rng.chance(0.5) {
        lines.retain(|line| !(from..to).contains(&line.at));
        return;
    }
    let mut late = to;
    for line in lines.iter_mut().filter(|line| line.at >= from) {
        if line.at < late {
            line.at = late;
            late += 0.004;
        }
    }
}

/// A person says when the voltage is on, and at times that it is off too early.
fn words(push: &Push, last: f64, rng: &mut Rng) -> Vec<(f64, bool)> {
    let on = push.down + rng.between(0.2, 1.0);
    let off = if rng.chance(0.3) {
        on + last * rng.between(0.1, 0.95)
    } else {
        push.up + rng.between(0.0, 2.0)
    };
    vec![(on, true), (off, false)]
}

/// What the link lets through: readings stand for lines by their number.
fn carried(link: &Link, sent: &[Line], rng: &mut Rng) -> Vec<Line> {
    let readings: Vec<Reading> = (0_i64..)
        .zip(sent)
        .map(|(number, line)| Reading {
            at: line.sent,
            counts: Some(number),
            place: 0,
            full: 0,
            sent: line.sent,
            clean: f64::NAN,
        })
        .collect();
    let arrived = link.carry(&readings, rng);
    let line = |reading: &Reading| Line {
        at: reading.at,
        ..sent[reading.counts.unwrap_or(0) as usize]
    };
    arrived.iter().map(line).collect()
}
