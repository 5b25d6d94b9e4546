//! Traces of our own: a display meter, its link, and what both do to a world.
//!
//! The physics here is not the corpus's: resistances live on a 10 ms grid, the
//! meter integrates, filters, ranges by its own rules and rounds; the link
//! loses, doubles, holds back and bunches. All parameters are invented. The
//! same seed gives the same trace. Nothing here knows the engine.

/// A small generator (splitmix64): the same numbers on every machine.
#[derive(Clone, Debug)]
pub(crate) struct Rng(pub(crate) u64);

impl Rng {
    /// 64 random bits.
    pub(crate) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From `a` to `b`, even.
    pub(crate) fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// From `a` to `b`, even in the logarithm.
    pub(crate) fn log_between(&mut self, a: f64, b: f64) -> f64 {
        libm::exp(self.between(libm::log(a), libm::log(b)))
    }

    /// Normal with standard deviation 1.
    pub(crate) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.between(0.0, 1.0)).sum::<f64>() - 6.0
    }

    /// True in `part` of all cases.
    pub(crate) fn chance(&mut self, part: f64) -> bool {
        self.between(0.0, 1.0) < part
    }

    /// One of a few.
    pub(crate) fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[(self.bits() % of.len() as u64) as usize]
    }
}

/// One reading as it reached the host.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reading {
    /// Arrival in seconds.
    pub(crate) at: f64,
    /// Counts shown, `None` for over-range.
    pub(crate) counts: Option<i64>,
    /// One count is 10 to this power, in ohms.
    pub(crate) place: i8,
    /// Counts of full scale.
    pub(crate) full: i64,
    /// When the meter sent it, in seconds.
    pub(crate) sent: f64,
    /// What it would have shown without noise and spikes, in ohms; NaN for over-range.
    pub(crate) clean: f64,
}

impl Reading {
    /// One count in ohms.
    pub(crate) fn count(&self) -> f64 {
        ten(self.place)
    }
}

/// Seconds of a step of the world's grid.
pub(crate) const GRID: f64 = 0.01;

/// What happens while the meter changes its range.
#[derive(Clone, Copy, Debug)]
enum Ranging {
    /// It shows what it can on each range for some readings.
    Shows,
    /// It shows over-range.
    Over,
    /// It sends nothing.
    Silent,
}

/// How the display smooths.
#[derive(Clone, Copy, Debug)]
enum Filter {
    /// Mean of so many readings.
    Mean(usize),
    /// The newest reading moves it by this part of the way.
    Lag(f64),
}

/// A display meter.
#[derive(Clone, Debug)]
pub(crate) struct Meter {
    /// Readings a second.
    pub(crate) rate: f64,
    counts: i64,
    lowest: i8,
    ranges: i8,
    filter: Filter,
    /// Whether the filter begins anew on each range.
    fresh: bool,
    /// Readings on a range before the next.
    rests: usize,
    ranging: Ranging,
    direct: bool,
    /// Noise in counts.
    pub(crate) noise: f64,
    /// Mains pickup in counts, and beats per reading.
    pub(crate) beat: f64,
    beats: f64,
    jitter: f64,
    /// Part of readings that are spikes.
    pub(crate) spikes: f64,
    /// Seconds until which it changes its range to and fro, and how often.
    pub(crate) hunts: Option<(f64, f64)>,
}

impl Meter {
    /// A meter of harsh but possible manners.
    pub(crate) fn random(rng: &mut Rng) -> Self {
        let rate = rng.log_between(1.6, 20.0);
        Self::at_rate(rng, rate)
    }

    /// A meter of this many readings a second.
    pub(crate) fn at_rate(rng: &mut Rng, rate: f64) -> Self {
        let filter = if rng.chance(0.4) {
            let tau = rng.log_between(0.05, 0.6);
            Filter::Lag(1.0 - libm::exp(-1.0 / (tau * rate).max(0.2)))
        } else {
            Filter::Mean(((rng.log_between(0.06, 1.6) * rate) as usize).clamp(1, 8))
        };
        Self {
            rate,
            counts: rng.pick(&[2000, 4000, 6000, 20000, 40000, 60000, 120_000]),
            lowest: rng.pick(&[-4, -3, -3, -2, -2, -1]),
            ranges: 6,
            filter,
            fresh: rng.chance(0.6),
            rests: rng.pick(&[0, 0, 1, 1, 2, 3]).min((1.3 * rate) as usize),
            ranging: rng.pick(&[
                Ranging::Shows,
                Ranging::Shows,
                Ranging::Over,
                Ranging::Silent,
            ]),
            direct: rng.chance(0.4),
            noise: rng.pick(&[0.0, 0.15, 0.3, 0.5, 0.8]),
            beat: 0.0,
            beats: rng.between(0.02, 0.5),
            jitter: rng.pick(&[0.0, 0.02, 0.05]),
            spikes: 0.0,
            hunts: None,
        }
    }

    /// One count in ohms on the range that fits `ohms`.
    pub(crate) fn count_at(&self, ohms: f64) -> f64 {
        let mut place = self.lowest;
        while place < self.lowest + self.ranges && ohms > self.counts as f64 * ten(place) {
            place += 1;
        }
        ten(place)
    }

    /// `ohms`, or less where two ranges overlap and either may be shown.
    pub(crate) fn off_the_edge(&self, ohms: f64) -> f64 {
        let fills = ohms / (self.counts as f64 * self.count_at(ohms));
        if fills > 0.9 { 0.8 * ohms } else { ohms }
    }

    /// What is right about `ohms`, as a part of it.
    pub(crate) fn tolerance(&self, ohms: f64) -> f64 {
        0.002_f64.max(2.0 * self.count_at(ohms) / ohms)
    }

    /// Full scale of the highest range in ohms.
    pub(crate) fn top(&self) -> f64 {
        self.counts as f64 * ten(self.lowest + self.ranges)
    }

    /// The readings of a world: ohms on the grid, NaN for open.
    pub(crate) fn readings(&self, world: &[f64], rng: &mut Rng) -> Vec<Reading> {
        let top = self.lowest + self.ranges;
        let full = self.counts as f64;
        let ceiling = 20.0 * full * ten(top);
        let mut readings = Vec::new();
        let mut place = top;
        let mut display = Display::new(self.filter, ceiling);
        let mut wait = 0;
        let mut phase = rng.between(0.0, 1.0);
        let mut at = rng.between(0.2, 1.0) / self.rate;
        loop {
            at += (1.0 + self.jitter * rng.normal().clamp(-3.0, 3.0)) / self.rate;
            let cell = (at / GRID) as usize;
            if cell >= world.len() {
                return readings;
            }
            // Integrates over half its interval.
            let from = cell.saturating_sub((0.5 / self.rate / GRID) as usize);
            let cells = &world[from..=cell];
            let mean = cells.iter().sum::<f64>() / cells.len() as f64;
            phase += self.beats;
            let count = ten(place);
            let clean = match cells.iter().find(|ohms| !ohms.is_nan()) {
                _ if !mean.is_nan() => mean,
                // Partly open: anything above.
                Some(ohms) if rng.chance(0.5) => ohms * rng.log_between(1.5, 500.0),
                _ => f64::INFINITY,
            };
            let beat = self.beat * libm::sin(core::f64::consts::TAU * phase);
            let mut raw = clean + count * (self.noise * rng.normal() + beat);
            if rng.chance(self.spikes) {
                raw *= rng.log_between(0.7, 6.0);
            }
            let (clean, shown) = display.next(clean.min(ceiling), raw.min(ceiling));
            let mut reading = Reading {
                at,
                counts: None,
                place,
                full: self.counts,
                sent: at,
                clean: f64::NAN,
            };
            let show = |reading: &mut Reading| {
                reading.counts = rounded(shown, count, full);
                let clean = rounded(clean, count, full);
                reading.clean = clean.map_or(f64::NAN, |counts| counts as f64 * count);
            };
            if wait > 0 {
                wait -= 1;
                match self.ranging {
                    Ranging::Silent => continue,
                    Ranging::Over => {}
                    Ranging::Shows => show(&mut reading),
                }
                readings.push(reading);
                continue;
            }
            show(&mut reading);
            readings.push(reading);
            let mut next = place;
            if shown > full * count && place < top {
                next = if raw.is_infinite() || self.direct {
                    top
                } else {
                    place + 1
                };
            } else {
                while next > self.lowest && shown.abs() < 0.095 * full * ten(next) {
                    next -= 1;
                    if !self.direct {
                        break;
                    }
                }
            }
            if let Some((until, often)) = self.hunts
                && at < until
                && shown < 0.5 * ceiling
                && next == place
                && rng.chance(often)
            {
                next = (place + rng.pick(&[-1, 1])).clamp(self.lowest, top);
            }
            if next != place {
                place = next;
                wait = self.rests;
                if self.fresh {
                    display.past.clear();
                }
                // Noise in counts of the range before is none of this one.
                display
                    .past
                    .iter_mut()
                    .for_each(|(clean, raw)| *raw = *clean);
            }
        }
    }
}

/// What the display keeps: pairs without and with noise.
struct Display {
    filter: Filter,
    /// Ohms at and above which there is over-range on every range.
    ceiling: f64,
    past: Vec<(f64, f64)>,
}

impl Display {
    fn new(filter: Filter, ceiling: f64) -> Self {
        Self {
            filter,
            ceiling,
            past: Vec::new(),
        }
    }

    fn next(&mut self, clean: f64, raw: f64) -> (f64, f64) {
        match self.filter {
            Filter::Mean(of) => {
                self.past.push((clean, raw));
                let keep = self.past.len().saturating_sub(of);
                self.past.drain(..keep);
                let n = self.past.len() as f64;
                let sum = |which: fn(&(f64, f64)) -> f64| self.past.iter().map(which).sum::<f64>();
                (sum(|p| p.0) / n, sum(|p| p.1) / n)
            }
            Filter::Lag(part) => {
                // From and to over-range it jumps.
                let (a, b) = *self.past.last().unwrap_or(&(clean, raw));
                let far = raw >= self.ceiling || b >= self.ceiling;
                let (a, b) = if far { (clean, raw) } else { (a, b) };
                let now = (a + part * (clean - a), b + part * (raw - b));
                self.past.clear();
                self.past.push(now);
                now
            }
        }
    }
}

fn rounded(ohms: f64, count: f64, full: f64) -> Option<i64> {
    let counts = (ohms / count).round();
    (counts.abs() <= full).then_some(counts as i64)
}

/// 10 to a power.
pub(crate) fn ten(place: i8) -> f64 {
    libm::exp10(f64::from(place))
}

/// What a link does to readings.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Link {
    /// Part that is lost.
    pub(crate) lost: f64,
    /// Part that comes twice.
    pub(crate) doubled: f64,
    /// Stalls a second after which what was held back comes as a burst.
    pub(crate) bursts: f64,
    /// Stalls a second in which all is lost.
    pub(crate) stalls: f64,
    /// The longest stall in seconds.
    pub(crate) longest: f64,
}

impl Link {
    /// A bad link.
    pub(crate) fn bad(rng: &mut Rng) -> Self {
        Self {
            lost: rng.pick(&[0.0, 0.1, 0.25]),
            doubled: rng.pick(&[0.0, 0.05, 0.15]),
            bursts: rng.pick(&[0.0, 0.05, 0.15]),
            stalls: rng.pick(&[0.0, 0.03, 0.1]),
            longest: 3.0,
        }
    }

    /// What arrives.
    pub(crate) fn carry(&self, sent: &[Reading], rng: &mut Rng) -> Vec<Reading> {
        let mut arrived: Vec<Reading> = Vec::new();
        let (mut held_until, mut dead_until, mut last) = (0.0, 0.0, 0.0);
        for reading in sent {
            let since = reading.at - last;
            last = reading.at;
            if reading.at > held_until && rng.chance(self.bursts * since) {
                held_until = reading.at + rng.between(0.2, self.longest);
            }
            if reading.at > dead_until && rng.chance(self.stalls * since) {
                dead_until = reading.at + rng.between(0.2, self.longest);
            }
            if reading.at < dead_until || rng.chance(self.lost) {
                continue;
            }
            let after = arrived.last().map_or(0.0, |r| r.at);
            let mut reading = *reading;
            // `sent` keeps the moment it was measured.
            if reading.at < held_until {
                reading.at = held_until.max(after + 0.004);
            }
            reading.at = reading.at.max(after);
            arrived.push(reading);
            if rng.chance(self.doubled) {
                reading.at += rng.pick(&[0.0, 0.003, 0.02]);
                arrived.push(reading);
            }
        }
        arrived
    }
}
