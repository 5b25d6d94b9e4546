//! An insulation tester: its source, its display, its manners. All invented.

use super::presses::Moment;
use super::traces::{GRID, Rng, ten};

/// What the display says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Face {
    Counts(i64),
    Over,
    Blank,
}

/// One line of a tester.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    /// Seconds at which it was sent.
    pub(crate) sent: f64,
    /// Seconds at which it arrived.
    pub(crate) at: f64,
    pub(crate) face: Face,
    /// One count is 10 to this power, in ohms.
    pub(crate) place: i8,
    /// Counts of full scale.
    pub(crate) full: i64,
    /// Volts shown beside it.
    pub(crate) volts: f64,
    /// Seconds by the tester's own clock.
    pub(crate) own: Option<f64>,
}

impl Line {
    /// What is shown in ohms, if a number is.
    pub(crate) fn ohms(&self) -> Option<f64> {
        match self.face {
            Face::Counts(counts) => Some(counts as f64 * ten(self.place)),
            Face::Over | Face::Blank => None,
        }
    }
}

/// How the voltage rises.
#[derive(Clone, Copy, Debug)]
enum Rise {
    /// Towards its end, with this time constant.
    Curve(f64),
    /// Evenly, in so many seconds.
    Even(f64),
}

/// What is shown while the button is up.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Idle {
    Over,
    Blank,
    /// The last number.
    Last,
    /// Numbers without sense and over-range, as long as voltage is left.
    Junk,
}

/// What happens while the range changes.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Ranging {
    Shows,
    Over,
    Silent,
}

/// A tester.
#[derive(Clone, Debug)]
pub(crate) struct Tester {
    /// Readings a second.
    pub(crate) rate: f64,
    /// Volts without load.
    pub(crate) open: f64,
    /// The largest current in amperes.
    pub(crate) largest: f64,
    rise: Rise,
    /// Time constant in seconds with which what is left dies away.
    pub(crate) fall: f64,
    counts: i64,
    lowest: i8,
    top: i8,
    filter: usize,
    /// Noise of the resistance and of the voltage, as parts of them.
    pub(crate) noise: f64,
    volt_noise: f64,
    /// Part of the lines in which the voltage alone is read far too low.
    pub(crate) glitches: f64,
    idle: Idle,
    ranging: Ranging,
    jitter: f64,
    /// Whether the stream says which range is shown.
    pub(crate) says_range: bool,
    /// Step in seconds of its own clock, if it sends one.
    pub(crate) own: Option<f64>,
    /// Whether that clock starts with the button and not with the voltage.
    pub(crate) own_from_press: bool,
}

impl Tester {
    /// A tester of harsh but possible manners.
    pub(crate) fn random(rng: &mut Rng, nominal: f64) -> Self {
        let rate = rng.log_between(1.0, 20.0);
        let counts = rng.pick(&[2000, 4000, 6000, 20_000, 40_000, 60_000, 120_000]);
        // Full scale from 1 gigaohm to 10 teraohms, over four or five decades.
        let decades = rng.between(9.0, 13.0) - libm::log10(counts as f64);
        let top = libm::round(decades) as i8;
        let filter = (rng.log_between(0.05, 1.0) * rate) as usize;
        Self {
            rate,
            open: nominal * rng.between(1.0, 1.08),
            largest: rng.log_between(0.001, 0.005),
            rise: if rng.chance(0.5) {
                Rise::Curve(rng.log_between(0.05, 1.0))
            } else {
                Rise::Even(rng.log_between(0.1, 2.5))
            },
            fall: rng.log_between(0.03, 4.0),
            counts,
            lowest: top - 5,
            top,
            filter: filter.clamp(1, 8),
            noise: rng.pick(&[0.0, 0.001, 0.004, 0.008, 0.014]),
            volt_noise: rng.pick(&[0.0, 0.001, 0.003, 0.006]),
            glitches: 0.0,
            idle: rng.pick(&[Idle::Over, Idle::Over, Idle::Blank, Idle::Last, Idle::Junk]),
            ranging: rng.pick(&[
                Ranging::Shows,
                Ranging::Shows,
                Ranging::Over,
                Ranging::Silent,
            ]),
            jitter: rng.pick(&[0.0, 0.02, 0.05]),
            says_range: rng.chance(0.7),
            own: None,
            own_from_press: false,
        }
    }

    /// One that shows nonsense while voltage is left.
    pub(crate) fn junk(&mut self) {
        self.idle = Idle::Junk;
    }

    /// One whose voltage takes long.
    pub(crate) fn slow(&mut self, rng: &mut Rng) {
        self.rise = if rng.chance(0.5) {
            Rise::Curve(rng.between(1.0, 5.0))
        } else {
            Rise::Even(rng.between(2.5, 15.0))
        };
    }

    /// One that gives little current, and shows its voltage soon.
    pub(crate) fn weak(&mut self, rng: &mut Rng) {
        self.largest = rng.log_between(0.000_25, 0.001_5);
        self.rise = if rng.chance(0.5) {
            Rise::Curve(rng.between(0.05, 1.5))
        } else {
            Rise::Even(rng.between(0.1, 5.0))
        };
    }

    /// The part of its voltage that it has reached after so many seconds.
    pub(crate) fn risen(&self, since: f64) -> f64 {
        match self.rise {
            Rise::Curve(tau) => 1.0 - libm::exp(-since / tau),
            Rise::Even(seconds) => (since / seconds).min(1.0),
        }
    }

    /// Seconds that the ramp takes at most, without a load.
    pub(crate) fn ramp(&self) -> f64 {
        match self.rise {
            Rise::Curve(tau) => 2.5 * tau + 1.5,
            Rise::Even(seconds) => seconds + 1.5,
        }
    }

    /// Full scale of the highest range in ohms.
    pub(crate) fn full(&self) -> f64 {
        self.counts as f64 * ten(self.top)
    }

    /// One count of the lowest range in ohms.
    pub(crate) fn count(&self) -> f64 {
        ten(self.lowest)
    }

    /// One count in ohms where `ohms` is shown.
    pub(crate) fn count_at(&self, ohms: f64) -> f64 {
        ten(self.place(ohms))
    }

    /// Seconds by which the display's filter is late.
    pub(crate) fn lag(&self) -> f64 {
        (self.filter as f64 + 0.5) / self.rate
    }

    /// Gives it ranges on which `ohms` is some counts.
    pub(crate) fn reaches(&mut self, ohms: f64) {
        let down = self.lowest - (libm::floor(libm::log10(ohms / 40.0)) as i8);
        self.lowest -= down.max(0);
    }

    fn place(&self, ohms: f64) -> i8 {
        let mut place = self.lowest;
        while place < self.top && ohms > self.counts as f64 * ten(place) {
            place += 1;
        }
        place
    }

    /// What it sends of a world.
    pub(crate) fn lines(&self, world: &[Moment], nominal: f64, rng: &mut Rng) -> Vec<Line> {
        let mut lines: Vec<Line> = Vec::new();
        let mut past: Vec<f64> = Vec::new();
        let mut place = self.top;
        let mut zero: Option<f64> = None;
        let mut sent = rng.between(0.2, 1.0) / self.rate;
        loop {
            sent += (1.0 + self.jitter * rng.normal().clamp(-3.0, 3.0)) / self.rate;
            let cell = (sent / GRID) as usize;
            if cell >= world.len() {
                return lines;
            }
            // Integrates over a third of its interval.
            let from = cell.saturating_sub((0.3 / self.rate / GRID) as usize);
            let cells = &world[from..=cell];
            let each = cells.len() as f64;
            let on = cells.iter().all(|moment| moment.push.is_some());
            let real = cells.iter().map(|moment| moment.volts).sum::<f64>() / each;
            let mut volts = real * (1.0 + self.volt_noise * rng.normal());
            if on && rng.chance(self.glitches) {
                volts *= rng.between(0.0, 0.8);
            }
            let mut line = Line {
                sent,
                at: sent,
                face: Face::Over,
                place,
                full: self.counts,
                volts: libm::round(volts / nominal * 2000.0) * nominal / 2000.0,
                own: None,
            };
            if !on {
                line.face = self.idle_face(&lines, &mut line.place, real / nominal, rng);
                (zero, place) = (None, self.top);
                past.clear();
                lines.push(line);
                continue;
            }
            if self.own_from_press || real >= 0.9 * nominal {
                let zero = *zero.get_or_insert(sent);
                let step = |step: f64| libm::floor((sent - zero) / step) * step;
                line.own = self.own.map(step);
            }
            let mean = cells.iter().map(|moment| moment.ohms).sum::<f64>() / each;
            if real < 0.04 * nominal || mean.is_infinite() {
                past.clear();
                (place, line.place) = (self.top, self.top);
                lines.push(line);
                continue;
            }
            past.push(mean * (1.0 + self.noise * rng.normal()));
            let keep = past.len().saturating_sub(self.filter);
            past.drain(..keep);
            let shown = past.iter().sum::<f64>() / past.len() as f64;
            // Down only where the number fits well.
            let mut fits = self.place(shown);
            if fits < place && self.place(1.15 * shown) == place {
                fits = place;
            }
            let counts = libm::round(shown / ten(fits)) as i64;
            let changes = fits != place && !lines.is_empty();
            line.place = fits;
            if changes && self.ranging == Ranging::Silent {
                place = fits;
                continue;
            }
            if changes && fits > place && self.ranging == Ranging::Over {
                line.place = place;
            } else if counts <= self.counts {
                line.face = Face::Counts(counts);
            }
            place = fits;
            lines.push(line);
        }
    }

    fn idle_face(&self, lines: &[Line], place: &mut i8, left: f64, rng: &mut Rng) -> Face {
        match self.idle {
            Idle::Over => Face::Over,
            Idle::Blank => Face::Blank,
            Idle::Last => {
                let last = lines.iter().rev().find(|line| line.ohms().is_some());
                *place = last.map_or(*place, |last| last.place);
                last.map_or(Face::Blank, |last| last.face)
            }
            Idle::Junk if left < 0.002 || rng.chance(0.4) => Face::Over,
            Idle::Junk => {
                *place = self.lowest + (rng.bits() % 5) as i8;
                Face::Counts((rng.bits() % self.counts as u64) as i64)
            }
        }
    }
}
