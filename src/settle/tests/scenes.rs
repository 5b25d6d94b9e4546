//! What happens on the clips, by family, and what may be logged of it.

use super::traces::{GRID, Link, Meter, Reading, Rng};

/// What may be logged of one contact.
#[derive(Clone, Debug)]
pub(crate) struct Contact {
    /// Seconds of the first touch.
    pub(crate) from: f64,
    /// Seconds from which the world itself is right.
    pub(crate) calm: f64,
    /// Seconds of release.
    pub(crate) to: f64,
    /// What is right.
    pub(crate) right: Right,
    /// Whether it must be taken.
    pub(crate) required: bool,
    /// Whether the opening or step before it shows.
    pub(crate) apart: bool,
}

/// What is right.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Right {
    /// This many ohms.
    Ohms(f64),
    /// What is on the clips at the moment.
    World,
    /// Nothing.
    Nothing,
}

/// A trace with its answers.
#[derive(Clone, Debug)]
pub(crate) struct Trace {
    /// Ohms on the grid, NaN for open.
    pub(crate) world: Vec<f64>,
    /// What may be logged.
    pub(crate) contacts: Vec<Contact>,
    /// The meter.
    pub(crate) meter: Meter,
    /// What reached the host.
    pub(crate) readings: Vec<Reading>,
}

/// The families, each with its own physics.
pub(crate) const FAMILIES: &[&str] = &[
    "clean",
    "seating",
    "bumps",
    "inductive",
    "absorbing",
    "drift",
    "fast drift",
    "thermal",
    "hand",
    "mains",
    "noise",
    "spikes",
    "body",
    "body free",
    "swap",
    "near equal",
    "link",
    "walk",
    "wander",
    "swing",
    "loose",
    "open",
    "short",
    "plateaus",
];

struct Scene {
    world: Vec<f64>,
    contacts: Vec<Contact>,
}

impl Scene {
    fn now(&self) -> f64 {
        self.world.len() as f64 * GRID
    }

    fn open(&mut self, seconds: f64) {
        self.hold(seconds, |_| f64::NAN);
    }

    fn hold(&mut self, seconds: f64, mut ohms: impl FnMut(f64) -> f64) {
        let cells = (seconds / GRID) as usize;
        self.world
            .extend((0..cells).map(|cell| ohms(cell as f64 * GRID)));
    }

    fn contact(&mut self, seconds: f64, right: Right, ohms: impl FnMut(f64) -> f64) {
        let from = self.now();
        self.hold(seconds, ohms);
        self.contacts.push(Contact {
            from,
            calm: from,
            to: self.now(),
            right,
            required: !matches!(right, Right::Nothing),
            apart: true,
        });
    }
}

/// A contact as it is pressed on: resistance in series that jumps about.
fn chatter(scene: &mut Scene, rng: &mut Rng, ohms: f64, seconds: f64) {
    let end = scene.now() + seconds;
    while scene.now() < end {
        let rest = rng.log_between(0.02, 0.9).min(end - scene.now() + 0.01);
        let extra = if rng.chance(0.2) {
            f64::NAN
        } else {
            ohms * rng.log_between(0.01, 3.0)
        };
        scene.hold(rest, |_| ohms + extra);
    }
}

fn length(rng: &mut Rng, meter: &Meter) -> f64 {
    rng.between(6.0, 14.0) + 12.0 / meter.rate
}

/// A trace of a family; `seed` decides everything else.
pub(crate) fn trace(family: &str, seed: u64) -> Trace {
    let mut rng = Rng(seed.wrapping_mul(0x2545_f491_4f6c_dd1d) ^ 0x5117);
    let rng = &mut rng;
    let mut meter = Meter::random(rng);
    let ohms = rng.log_between(0.3, 200.0);
    let mut link = Link::default();
    let mut scene = Scene {
        world: Vec::new(),
        contacts: Vec::new(),
    };
    let before = rng.between(1.5, 3.0) + 2.0 / meter.rate;
    scene.open(before);
    let long = length(rng, &meter);
    let right = Right::Ohms(ohms);
    match family {
        "clean" => scene.contact(long, right, |_| ohms),
        "seating" => {
            let seconds = rng.between(0.3, 3.5);
            chatter(&mut scene, rng, ohms, seconds);
            scene.contact(long, right, |_| ohms);
        }
        "bumps" => {
            let from = scene.now();
            for _ in 0..3 {
                let rest = rng.between(1.0, 6.0);
                scene.hold(rest, |_| ohms);
                let seconds = rng.between(0.1, 0.8);
                chatter(&mut scene, rng, ohms, seconds);
            }
            scene.contact(long, right, |_| ohms);
            scene.contacts[0].from = from;
            scene.contacts[0].calm = from;
        }
        "inductive" | "absorbing" => {
            let tau = rng.log_between(0.3, if family == "inductive" { 10.0 } else { 7.0 });
            let start = if family == "inductive" {
                rng.log_between(1.0, 100.0)
            } else {
                -0.95
            };
            let tol = 0.002_f64.max(2.0 * meter.count_at(ohms) / ohms);
            let settles = tau * libm::log((start.abs() / tol).max(1.0));
            let seconds = if rng.chance(0.15) {
                0.6 * settles
            } else {
                settles + long
            };
            scene.contact(seconds, right, |t| {
                ohms * (1.0 + start * libm::exp(-t / tau))
            });
            scene.contacts[0].calm += settles;
            scene.contacts[0].required = seconds > settles;
        }
        "drift" | "fast drift" => {
            let limit = (0.000_2 * ohms).max(0.2 * meter.count_at(ohms));
            let sign = rng.pick(&[-1.0, 1.0]);
            let slope = sign
                * limit
                * if family == "drift" {
                    rng.between(0.1, 0.9)
                } else {
                    rng.log_between(4.0, 30.0)
                };
            let right = if family == "drift" {
                Right::World
            } else {
                Right::Nothing
            };
            let ohms = ohms.max(40.0 * limit);
            scene.contact(long.min(16.0), right, |t| ohms + slope * t);
        }
        "thermal" => {
            let tau = rng.between(5.0, 30.0);
            let part = rng.between(0.01, 0.05);
            let limit = 0.000_2_f64.max(0.2 * meter.count_at(ohms) / ohms);
            // The slope falls to three times the limit.
            let calm = tau * libm::log((part / tau / (3.0 * limit)).max(1.0));
            let slow = tau * libm::log((part / tau / limit).max(1.0));
            scene.contact(slow + long, Right::World, |t| {
                ohms * (1.0 + part * libm::exp(-t / tau))
            });
            scene.contacts[0].calm += calm;
            scene.contacts[0].from += calm;
        }
        "hand" => {
            for step in 0..3 {
                let ohms = ohms * rng.between(0.9, 1.1);
                let seconds = rng.between(2.0, 8.0);
                let mut held = ohms;
                let (mut noise, sway) = (rng.clone(), rng.between(0.0, 0.3) * meter.count_at(ohms));
                scene.contact(seconds, Right::World, move |_| {
                    held += 0.01 * (ohms - held) + 0.02 * sway * noise.normal();
                    held
                });
                let last = scene.contacts.len() - 1;
                scene.contacts[last].required = false;
                scene.contacts[last].apart = step > 0;
            }
        }
        "mains" => {
            let tol = 2.0_f64.max(0.002 * ohms / meter.count_at(ohms));
            meter.beat = tol * rng.between(0.2, 1.6);
            scene.contact(long + 4.0, right, |_| ohms);
            scene.contacts[0].required = meter.beat < tol;
        }
        "noise" => {
            let tol = 2.0_f64.max(0.002 * ohms / meter.count_at(ohms));
            meter.noise = tol * rng.between(0.2, 1.2);
            scene.contact(long + 4.0, right, |_| ohms);
            scene.contacts[0].required = meter.noise < 0.5 * tol;
        }
        "spikes" => {
            let often = rng.between(0.001, 0.004);
            let mut chance = rng.clone();
            scene.contact(long + 4.0, right, |_| {
                if chance.chance(often) {
                    ohms * chance.log_between(1.05, 20.0)
                } else {
                    ohms
                }
            });
            scene.contacts[0].required = false;
        }
        "body" | "body free" => {
            let skin = rng.log_between(50e3, 3e6);
            let (mut slow, mut noise) = (0.0, rng.clone());
            let pull = rng.between(0.001, 0.02);
            let mut body = move |_| {
                slow += -0.004 * slow + pull * noise.normal();
                skin * libm::exp(slow)
            };
            if family == "body" {
                scene.contact(long, Right::Nothing, body);
            } else {
                let high = rng.log_between(0.02, 0.8) * meter.top();
                let seconds = rng.between(1.0, 4.0);
                scene.hold(seconds, |t| 1.0 / (1.0 / body(t) + 1.0 / high));
                scene.contact(long, Right::Ohms(high), |_| high);
            }
        }
        "swap" | "near equal" => {
            for _ in 0..3 {
                let ohms = if family == "swap" {
                    rng.log_between(0.3, 200.0)
                } else {
                    ohms * rng.between(0.99, 1.01)
                };
                scene.contact(long * 0.8, Right::Ohms(ohms), |_| ohms);
                let away = rng.between(1.5, 4.0) + 3.0 / meter.rate;
                scene.open(away);
            }
        }
        "link" => {
            link = Link::bad(rng);
            for _ in 0..2 {
                let ohms = ohms * rng.between(0.98, 1.02);
                scene.contact(long + 4.0, Right::Ohms(ohms), |_| ohms);
                let away = rng.between(3.0, 5.0) + 4.0 / meter.rate;
                scene.open(away);
            }
        }
        "walk" => {
            let tol = 0.002_f64.max(2.0 * meter.count_at(ohms) / ohms);
            let step = tol * rng.log_between(0.5, 4.0);
            let (mut at, mut noise) = (0.0, rng.clone());
            scene.contact(long, Right::Nothing, move |_| {
                at += step * 0.4 * noise.normal();
                ohms * (1.0_f64 + at).max(0.2)
            });
        }
        "wander" => {
            let tol = 0.002_f64.max(2.0 * meter.count_at(ohms) / ohms);
            let size = tol * rng.log_between(5.0, 40.0);
            let pull = rng.log_between(0.01, 0.1);
            let (mut at, mut noise) = (0.0, rng.clone());
            scene.contact(long, Right::Nothing, move |_| {
                at += -pull * at + libm::sqrt(2.0 * pull) * noise.normal();
                ohms * (1.0 + size * at).max(0.2)
            });
        }
        "swing" => {
            let tol = 0.002_f64.max(2.0 * meter.count_at(ohms) / ohms);
            let size = tol * rng.log_between(5.0, 60.0);
            let period = rng.between(2.5, 9.0);
            let start = rng.between(0.0, core::f64::consts::TAU);
            scene.contact(long, Right::Nothing, |t| {
                let angle = start + core::f64::consts::TAU * t / period;
                ohms * (1.0 + size.min(0.8) * libm::sin(angle))
            });
        }
        "loose" => {
            let from = scene.now();
            chatter(&mut scene, rng, ohms, long);
            let to = scene.now();
            scene.contacts.push(Contact {
                from,
                calm: from,
                to,
                right: Right::Nothing,
                required: false,
                apart: true,
            });
        }
        "open" => scene.open(long),
        "short" => {
            let joined = rng.pick(&[0.0, 0.02, 0.15]);
            scene.contact(long, Right::Ohms(joined), |_| joined);
        }
        "plateaus" => {
            // A meter that sends values only: what is on the clips steps, and nothing opens.
            scene.world.clear();
            let mut ohms = ohms;
            let mut before = 0.0_f64;
            for _ in 0..4 {
                scene.contact(long, Right::Ohms(ohms), |_| ohms);
                let tol = (0.002 * before).max(2.0 * meter.count_at(before.max(ohms)));
                let last = scene.contacts.len() - 1;
                scene.contacts[last].required = (ohms - before).abs() > 10.0 * tol;
                before = ohms;
                ohms *= rng.pick(&[0.3, 0.6, 1.5, 4.0]);
            }
        }
        other => unreachable!("no family {other}"),
    }
    scene.open(2.5);
    let sent = meter.readings(&scene.world, rng);
    let readings = link.carry(&sent, rng);
    Trace {
        world: scene.world,
        contacts: scene.contacts,
        meter,
        readings,
    }
}
