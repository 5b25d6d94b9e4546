//! What happens on the clips, by family, and what may be logged of it.
//!
//! A scene writes resistances on a 10 ms grid and says for each contact what
//! is right; what the meter and the link made of it decides from when. All
//! parameters are invented and harsher than most shops: clips that scrape,
//! windings of 10 s, links that stall for 3 s.

use super::label::{self, Contact};
use super::traces::{GRID, Link, Meter, Reading, Rng};

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

/// The families, each with its own physics. The first ones are plain work, of
/// which next to nothing may go wrong.
pub(crate) const FAMILIES: &[&str] = &[
    "clean",
    "seating",
    "bumps",
    "swap",
    "near equal",
    "link",
    "slow meter",
    "short",
    "open",
    "dither",
    "session",
    "plateaus",
    "inductive",
    "capacitive",
    "drift",
    "fast drift",
    "thermal",
    "hand",
    "mains",
    "noise",
    "spikes",
    "hunting",
    "body",
    "body free",
    "walk",
    "wander",
    "swing",
    "loose",
];

/// How many of [`FAMILIES`] are plain work.
pub(crate) const PLAIN: usize = 9;

/// A scene that is being written.
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
        self.contacts.push(Contact::new(from, self.now(), right));
    }

    /// A contact as it is pressed on: resistance in series that jumps about.
    fn chatter(&mut self, rng: &mut Rng, ohms: f64, seconds: f64) {
        let end = self.now() + seconds;
        while self.now() < end {
            let rest = rng.log_between(0.02, 0.9).min(end - self.now() + 0.01);
            let extra = if rng.chance(0.2) {
                f64::NAN
            } else {
                ohms * rng.log_between(0.02, 3.0)
            };
            self.hold(rest, |_| ohms + extra);
        }
    }
}

/// Seconds of an ordinary contact.
fn length(rng: &mut Rng, meter: &Meter) -> f64 {
    rng.between(6.0, 14.0) + 8.0 / meter.rate
}

/// A trace of a family; `seed` decides everything else.
pub(crate) fn trace(family: &str, seed: u64) -> Trace {
    let mut rng = Rng(seed.wrapping_mul(0x2545_f491_4f6c_dd1d) ^ 0x5117);
    let rng = &mut rng;
    let mut meter = Meter::random(rng);
    if family == "slow meter" {
        let rate = rng.log_between(0.9, 2.2);
        meter = Meter::at_rate(rng, rate);
    }
    let mut link = Link::default();
    if rng.chance(0.2) {
        // A link that is a little bad now and then is everybody's.
        link.lost = 0.05;
        link.doubled = 0.03;
    }
    if family == "link" {
        link = Link::bad(rng);
    }
    let mut scene = Scene {
        world: Vec::new(),
        contacts: Vec::new(),
    };
    let before = rng.between(1.0, 3.0) + 2.0 / meter.rate;
    scene.open(before);
    let ohms = meter.off_the_edge(rng.log_between(0.1, 400.0).max(20.0 * meter.count_at(0.0)));
    match family {
        "inductive" | "capacitive" | "drift" | "fast drift" | "thermal" => {
            curve(family, &mut scene, rng, &meter, ohms);
        }
        "hand" | "walk" | "wander" | "swing" | "loose" | "body" | "body free" => {
            restless(family, &mut scene, rng, &meter, ohms);
        }
        "mains" | "noise" | "spikes" | "hunting" | "dither" => {
            rough(family, &mut scene, rng, &mut meter, ohms);
        }
        _ => plain(family, &mut scene, rng, &meter, ohms),
    }
    scene.open(2.5);
    let sent = meter.readings(&scene.world, rng);
    let readings = link.carry(&sent, rng);
    let mut trace = Trace {
        world: scene.world,
        contacts: scene.contacts,
        meter,
        readings,
    };
    label::from_readings(&mut trace);
    trace
}

/// Resistances that stand still once the clips do.
fn plain(family: &str, scene: &mut Scene, rng: &mut Rng, meter: &Meter, ohms: f64) {
    let long = length(rng, meter);
    let right = Right::Ohms(ohms);
    match family {
        "clean" | "slow meter" => scene.contact(long + 4.0 / meter.rate, right, |_| ohms),
        "seating" => {
            let from = scene.now();
            let seconds = rng.between(0.3, 3.5);
            scene.chatter(rng, ohms, seconds);
            scene.contact(long, right, |_| ohms);
            scene.contacts[0].from = from;
        }
        "bumps" => {
            let from = scene.now();
            for _ in 0..rng.pick(&[1, 2, 3]) {
                let rest = rng.between(1.0, 6.0);
                scene.hold(rest, |_| ohms);
                let seconds = rng.between(0.1, 0.8);
                scene.chatter(rng, ohms, seconds);
            }
            scene.contact(long, right, |_| ohms);
            let to = scene.now();
            scene.contacts = vec![Contact::new(from, to, right)];
        }
        "swap" | "near equal" | "link" => {
            for _ in 0..rng.pick(&[2, 3]) {
                let ohms = match family {
                    "swap" => rng.log_between(0.1, 400.0).max(20.0 * meter.count_at(0.0)),
                    _ => ohms * rng.between(0.99, 1.01),
                };
                scene.contact(long * 0.8, Right::Ohms(ohms), |_| ohms);
                let away = rng.between(1.5, 4.0) + 3.0 / meter.rate;
                let away = away + if family == "link" { 2.0 } else { 0.0 };
                // Make before break: nothing opens.
                if family == "swap" && rng.chance(0.15) {
                    continue;
                }
                scene.open(away);
            }
            for at in 1..scene.contacts.len() {
                let gap = scene.contacts[at].from - scene.contacts[at - 1].to;
                scene.contacts[at].apart = gap > 1.2 + 2.0 / meter.rate;
            }
        }
        "session" => {
            for _ in 0..rng.pick(&[3, 4, 5]) {
                let ohms = ohms * rng.between(0.98, 1.02);
                let from = scene.now();
                if rng.chance(0.5) {
                    let seconds = rng.between(0.1, 1.5);
                    scene.chatter(rng, ohms, seconds);
                }
                let seconds = if rng.chance(0.15) {
                    rng.between(0.5, 2.0)
                } else {
                    long * 0.8
                };
                scene.contact(seconds, Right::Ohms(ohms), |_| ohms);
                let last = scene.contacts.len() - 1;
                scene.contacts[last].from = from;
                let away = rng.between(1.5, 4.0) + 3.0 / meter.rate;
                scene.open(away);
            }
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
                scene.contacts[last].apart = (ohms - before).abs() > 10.0 * tol;
                before = ohms;
                ohms *= rng.pick(&[0.3, 0.6, 1.5, 4.0]);
            }
        }
        other => unreachable!("no family {other}"),
    }
}

/// Resistances that run towards an end, or on.
fn curve(family: &str, scene: &mut Scene, rng: &mut Rng, meter: &Meter, ohms: f64) {
    let long = length(rng, meter);
    let limit = (0.000_2 * ohms).max(0.2 * meter.count_at(ohms));
    match family {
        "inductive" => {
            let tau = rng.log_between(0.3, 10.0);
            let start = rng.log_between(1.0, 100.0);
            let settles = tau * libm::log((start / meter.tolerance(ohms)).max(1.0));
            let seconds = if rng.chance(0.15) {
                0.6 * settles
            } else {
                settles + long
            };
            scene.contact(seconds, Right::Ohms(ohms), |t| {
                ohms * (1.0 + start * libm::exp(-t / tau))
            });
        }
        "capacitive" => {
            let ends = rng.log_between(3e3, 0.5 * meter.top());
            let tau = rng.log_between(0.3, 7.0);
            if rng.chance(0.2) {
                // It never ends: the reading climbs through the ranges.
                let end = 40.0 * meter.top();
                return scene.contact(6.0 + 4.0 * tau, Right::Nothing, |t| {
                    end * (1.0 - libm::exp(-(t + 0.02) / (20.0 * tau)))
                });
            }
            let settles = tau * libm::log(1.0 / meter.tolerance(ends));
            scene.contact(settles + long, Right::Ohms(ends), |t| {
                ends * (1.0 - 0.98 * libm::exp(-t / tau))
            });
        }
        "drift" | "fast drift" => {
            let sign = rng.pick(&[-1.0, 1.0]);
            let (times, right) = if family == "drift" {
                (rng.between(0.1, 0.9), Right::World)
            } else {
                (rng.log_between(4.0, 30.0), Right::Nothing)
            };
            let slope = sign * limit * times;
            let seconds = long.min(16.0);
            let start = ohms - slope.min(0.0) * seconds * 1.5;
            scene.contact(seconds, right, |t| start + slope * t);
        }
        "thermal" => {
            let tau = rng.between(3.0, 30.0);
            let part = rng.between(0.01, 0.06) * rng.pick(&[-1.0, 1.0]);
            let slow = tau * libm::log((part.abs() * ohms / tau / limit).max(1.0));
            scene.contact(slow + long, Right::World, |t| {
                ohms * (1.0 + part * libm::exp(-t / tau))
            });
            // Three times the limit must not be taken, the limit must.
            let calm = tau * libm::log((part.abs() * ohms / tau / (3.0 * limit)).max(1.0));
            scene.contacts[0].calm += calm;
            scene.contacts[0].slow += slow;
        }
        other => unreachable!("no family {other}"),
    }
}

/// Hands, skin, and clips that never rest.
fn restless(family: &str, scene: &mut Scene, rng: &mut Rng, meter: &Meter, ohms: f64) {
    let long = length(rng, meter);
    let ohms = ohms.max(60.0 * meter.count_at(0.0));
    let tol = meter.tolerance(ohms);
    let mut noise = rng.clone();
    match family {
        "hand" => {
            // Probes held by hand: the pressure breathes, and now and then gives way.
            let sway = ohms * tol * rng.between(0.0, 0.4);
            let pull = rng.log_between(0.01, 0.1);
            let steps = 0.01 * GRID * rng.between(0.0, 20.0);
            let (mut slow, mut extra) = (0.0, 0.0);
            scene.contact(long + 4.0, Right::World, move |_| {
                slow += -pull * slow + libm::sqrt(2.0 * pull) * noise.normal();
                if noise.chance(steps) {
                    extra = ohms * tol * noise.between(0.0, 6.0);
                }
                ohms + extra + sway * slow
            });
            scene.contacts[0].breathes = sway;
        }
        "body" | "body free" => {
            let skin = rng.log_between(50e3, 3e6);
            let mut slow = 0.0;
            let pull = rng.between(0.002, 0.02);
            let mut body = move |_| {
                slow += -0.004 * slow + pull * noise.normal();
                skin * libm::exp(slow)
            };
            if family == "body" {
                scene.contact(long, Right::Nothing, body);
            } else {
                let high = (rng.log_between(0.02, 0.8) * meter.top()).max(1.5 * skin);
                let from = scene.now();
                let seconds = rng.between(1.0, 4.0);
                scene.hold(seconds, |t| 1.0 / (1.0 / body(t) + 1.0 / high));
                scene.contact(long, Right::Ohms(high), |_| high);
                scene.contacts[0].from = from;
            }
        }
        "walk" => {
            let second = rng.log_between(0.04, 0.2).max(6.0 * tol);
            let mut at = 0.0;
            scene.contact(long, Right::Nothing, move |_| {
                at += second * libm::sqrt(GRID) * noise.normal();
                // Where it ran to one count, it would stand still.
                at = if at < -0.7 {
                    -1.4 - at
                } else {
                    at.min(4.0 - at)
                };
                ohms * libm::exp(at)
            });
        }
        "wander" => {
            let size = rng.log_between(0.02, 0.2).max(8.0 * tol);
            let pull = GRID / rng.log_between(0.3, 1.5);
            let mut at = 0.0;
            scene.contact(long, Right::Nothing, move |_| {
                at += -pull * at + libm::sqrt(2.0 * pull) * noise.normal();
                ohms * libm::exp(size * at)
            });
        }
        "swing" => {
            let size = rng.log_between(0.08, 0.4).max(16.0 * tol).min(0.8);
            let period = rng.between(1.5, 8.0);
            let start = rng.between(0.0, core::f64::consts::TAU);
            scene.contact(long, Right::Nothing, |t| {
                let angle = start + core::f64::consts::TAU * t / period;
                ohms * (1.0 + size * libm::sin(angle))
            });
        }
        "loose" => {
            let from = scene.now();
            scene.chatter(rng, ohms, long);
            let to = scene.now();
            scene.contacts.push(Contact::new(from, to, Right::Nothing));
        }
        other => unreachable!("no family {other}"),
    }
}

/// A good contact and a meter or a place that is not.
fn rough(family: &str, scene: &mut Scene, rng: &mut Rng, meter: &mut Meter, ohms: f64) {
    let long = length(rng, meter) + 4.0;
    let tol = meter.tolerance(ohms) * ohms / meter.count_at(ohms);
    match family {
        "mains" => meter.beat = tol * rng.between(0.2, 2.0),
        "noise" => meter.noise = tol * rng.between(0.2, 1.2),
        "spikes" => meter.spikes = rng.between(0.005, 0.06),
        "hunting" => {
            let until = if rng.chance(0.3) {
                100.0
            } else {
                scene.now() + rng.between(1.5, 5.0)
            };
            meter.hunts = Some((until, rng.between(1.0, 3.0) / meter.rate));
        }
        // Halfway between two digits.
        _ => meter.noise = rng.between(0.1, 0.8),
    }
    let count = meter.count_at(ohms);
    let ohms = if family == "dither" {
        ((ohms / count).floor() + 0.5) * count
    } else {
        ohms
    };
    scene.contact(long, Right::Ohms(ohms), |_| ohms);
    scene.contacts[0].optional = match family {
        "mains" => meter.beat > tol,
        "noise" => meter.noise > 0.6 * tol,
        "spikes" => meter.spikes > 0.04,
        "hunting" => meter.hunts.is_some_and(|(until, _)| until > 50.0),
        _ => false,
    };
}
