//! An ohmmeter of two clips: chatter on clipping, a winding's slow approach,
//! ranging, and a display of so many counts.

use crate::quantity::Ohms;
use crate::sim::motor::Load;
use crate::sim::noise::Noise;
use crate::sim::range::{OHMMETER, Range, step};
use crate::stamp::Stamp;

/// The resistance of the meter's own source, in series with what it reads (guessed).
const SOURCE: Ohms = Ohms(120.0);

/// An ohmmeter and what its clips are on.
#[derive(Clone, Debug)]
pub struct Ohmmeter {
    noise: Noise,
    ranges: &'static [Range],
    at: usize,
    load: Load,
    since: Stamp,
    chatter: f64,
}

impl Ohmmeter {
    /// A meter with its clips in the air.
    pub const fn new(seed: u64) -> Self {
        Self::with(seed, OHMMETER)
    }

    /// One with other ranges, in rising order.
    pub const fn with(seed: u64, ranges: &'static [Range]) -> Self {
        Self {
            noise: Noise::new(seed),
            ranges,
            at: ranges.len() - 1,
            load: Load::OPEN,
            since: Stamp::ZERO,
            chatter: 0.0,
        }
    }

    /// The clips go somewhere else; for a moment they scratch.
    pub fn touch(&mut self, at: Stamp, load: Load) {
        self.load = load;
        self.since = at;
        self.chatter = self.noise.between(0.15, 0.6);
    }

    /// The line that is sent now; none while the range changes.
    pub fn line(&mut self, at: Stamp) -> Option<String> {
        let held = at.since(self.since).as_secs_f64();
        let mut ohms = approach(&self.load, held);
        if held < self.chatter && ohms.0.is_finite() {
            if self.noise.chance(0.3) {
                return Some(String::from("OL"));
            }
            // A film of oxide under the teeth of the clip, rubbed through.
            ohms.0 += self.noise.between(0.0, 40.0) * (1.0 - held / self.chatter);
        }
        let next = step(self.ranges, self.at, ohms);
        let over = self.ranges[self.at].counts_of(ohms).is_none();
        if next != self.at {
            self.at = next;
            // On the way up the display says over-range, on the way down nothing.
            return over.then(|| String::from("OL"));
        }
        let range = self.ranges[self.at];
        let Some(counts) = range.counts_of(ohms) else {
            return Some(String::from("OL"));
        };
        let flicker = i64::from(self.noise.chance(0.06)) - i64::from(self.noise.chance(0.06));
        Some(range.write((counts + flicker).max(0)))
    }
}

/// What the meter reads `held` seconds after contact: while the current still
/// rises through the inductance, the voltage across it counts as resistance.
/// With a source V behind R_s: i = V/(R+R_s) · (1 − e^(−t/τ)), τ = L/(R+R_s),
/// and v/i = R + (R+R_s)/(e^(t/τ) − 1).
pub fn approach(load: &Load, held: f64) -> Ohms {
    let r = load.ohms.0;
    let series = r + SOURCE.0;
    if load.henries.0 <= 0.0 || !r.is_finite() {
        return Ohms(r);
    }
    let x = held.max(1e-3) * series / load.henries.0;
    Ohms(r + series / libm::expm1(x))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Volts;
    use crate::sim::motor::{Clips, Farads, Henries, Insulation, Leg, Motor};

    fn motor(ohms: f64, henries: f64) -> Motor {
        let leg = |ohms, henries| Leg {
            ohms: Ohms(ohms),
            henries: Henries(henries),
        };
        Motor {
            legs: vec![leg(ohms, henries), leg(0.0, 0.0)],
            ground: Insulation {
                leakage: Ohms(2e9),
                absorption: Ohms(4e8),
                farads: Farads(2e-8),
            },
            path: Ohms(0.05),
        }
    }

    fn lines(meter: &mut Ohmmeter, from: f64, to: f64) -> Vec<String> {
        let ticks = ((to - from) * 9.0) as u32;
        (0..ticks)
            .filter_map(|n| meter.line(Stamp::from_seconds(from + f64::from(n) / 9.0)))
            .collect()
    }

    #[test]
    fn a_winding_comes_within_one_percent_of_the_loop_after_4_6_time_constants() {
        // R + R_s = 200 Ω and L = 20 H: τ = 0.1 s. (e^4.615 − 1) is 100.
        let load = motor(80.0, 20.0).load(Clips::Between(0, 1), Ohms(0.0));
        let off = |tau: f64| (approach(&load, tau * 0.1).0 - 80.0) / 200.0;
        assert!((off(4.615) - 0.01).abs() < 1e-4, "{}", off(4.615));
        assert!(off(4.5) > 0.01 && off(4.7) < 0.01);
        // Long after it is the resistance alone.
        assert!(off(30.0).abs() < 1e-9);
    }

    #[test]
    fn clips_in_the_air_read_over_range_and_nothing_else() {
        let mut meter = Ohmmeter::new(1);
        assert!(lines(&mut meter, 0.0, 20.0).iter().all(|l| l == "OL"));
    }

    #[test]
    fn a_contact_chatters_ranges_down_and_then_stands_within_a_count() {
        for seed in 0..50 {
            let mut meter = Ohmmeter::new(seed);
            meter.touch(
                Stamp::from_seconds(1.0),
                motor(4.21, 0.02).load(Clips::Between(0, 1), Ohms(0.08)),
            );
            lines(&mut meter, 1.0, 3.0);
            let seen = lines(&mut meter, 3.0, 13.0);
            assert_eq!(seen.len(), 90, "{seen:?}");
            for line in &seen {
                let ohms: f64 = line.strip_suffix(" Ohm").expect(line).parse().expect(line);
                assert!((ohms - 4.29).abs() < 0.0015, "seed {seed}: {line}");
            }
        }
    }

    #[test]
    fn joined_clips_read_the_leads() {
        let mut meter = Ohmmeter::new(3);
        meter.touch(Stamp::ZERO, motor(4.0, 0.0).load(Clips::Joined, Ohms(0.12)));
        lines(&mut meter, 0.0, 2.5);
        let last = lines(&mut meter, 2.5, 4.0).pop().expect("lines");
        assert!(
            ["0.119 Ohm", "0.120 Ohm", "0.121 Ohm"].contains(&last.as_str()),
            "{last}"
        );
    }

    #[test]
    fn taking_the_clips_off_goes_up_through_over_range() {
        let mut meter = Ohmmeter::new(9);
        meter.touch(
            Stamp::ZERO,
            motor(4.0, 0.0).load(Clips::Between(0, 1), Ohms(0.1)),
        );
        lines(&mut meter, 0.0, 3.0);
        meter.touch(Stamp::from_seconds(3.0), Load::OPEN);
        assert!(lines(&mut meter, 3.0, 5.0).iter().all(|l| l == "OL"));
        // The volts of an insulation test are no business of an ohmmeter.
        assert!(motor(4.0, 0.0).ground.current(Volts(500.0), 60.0).0 < 1e-6);
    }
}
