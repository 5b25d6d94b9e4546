//! An insulation tester of 500 V that can give 1 mA and no more.
//!
//! It charges the winding through its current limit, so the voltage rises over
//! time; a wet winding pulls it down for good. A line is
//! `12.30 MOhm;512 V;7.2 s`.

use crate::quantity::{Amperes, Ohms, Volts};
use crate::sim::motor::Load;
use crate::sim::noise::Noise;
use crate::sim::range::{TESTER, step};
use crate::stamp::Stamp;

/// What it is set to, a little above its nominal 500 V as such testers are.
const SET: Volts = Volts(511.0);
/// What it can give (the least that IEC 61557-2 asks for; here also the most).
const LIMIT: Amperes = Amperes(0.001);
/// How fast its own converter rises, in seconds.
const RISE: f64 = 0.25;
/// Through what it discharges the winding when the button is let go.
const BLEED: Ohms = Ohms(200_000.0);
/// The step of the integration, in seconds.
const STEP: f64 = 0.000_5;

/// A tester, what its clips are on, and its voltage.
#[derive(Clone, Debug)]
pub struct Tester {
    noise: Noise,
    at: usize,
    load: Load,
    pressed: Option<Stamp>,
    volts: f64,
    moved: Stamp,
}

impl Tester {
    /// A tester with its clips in the air and its button up.
    pub const fn new(seed: u64) -> Self {
        Self {
            noise: Noise::new(seed),
            at: TESTER.len() - 1,
            load: Load::OPEN,
            pressed: None,
            volts: 0.0,
            moved: Stamp::ZERO,
        }
    }

    /// The clips go somewhere else.
    pub fn touch(&mut self, at: Stamp, load: Load) {
        self.run(at);
        self.load = load;
    }

    /// The button goes down.
    pub fn press(&mut self, at: Stamp) {
        self.run(at);
        self.pressed.get_or_insert(at);
    }

    /// The button is let go: the tester bleeds the winding.
    pub fn release(&mut self, at: Stamp) {
        self.run(at);
        self.pressed = None;
    }

    /// The voltage on the clips now.
    pub const fn volts(&self) -> Volts {
        Volts(self.volts)
    }

    /// The line that is sent now; none while the range changes.
    pub fn line(&mut self, at: Stamp) -> Option<String> {
        self.run(at);
        let volts = self.volts.round();
        let Some(pressed) = self.pressed else {
            // With the button up it measures nothing: beyond the top range.
            self.at = TESTER.len() - 1;
            return Some(format!("{};{volts} V;0.0 s", TESTER[self.at].beyond()));
        };
        let held = at.since(pressed).as_secs_f64();
        let amps = self.load.insulation.current(Volts(self.volts), held).0;
        // Two parts in a thousand of noise, as a moving-coil of digits would show.
        let ohms = if amps > 1e-12 {
            Ohms(self.volts / amps * (1.0 + 0.002 * self.noise.bell() / 3.0))
        } else {
            self.load.insulation.leakage
        };
        let next = step(TESTER, self.at, ohms);
        if next != self.at {
            self.at = next;
            return None;
        }
        let range = TESTER[self.at];
        let shown = match range.counts_of(ohms) {
            Some(counts) => range.write(counts.max(0)),
            None => range.beyond(),
        };
        Some(format!("{shown};{volts} V;{held:.1} s"))
    }

    /// Moves the voltage on to `at`.
    fn run(&mut self, at: Stamp) {
        let mut left = at.since(self.moved).as_secs_f64();
        let mut now = self.moved.seconds();
        self.moved = at.max(self.moved);
        // A button that has been up for long has nothing left to bleed.
        if self.pressed.is_none() && self.volts < 0.5 {
            self.volts = 0.0;
            return;
        }
        while left > 0.0 {
            let dt = left.min(STEP);
            self.volts = self.after(now, dt);
            now += dt;
            left -= dt;
        }
    }

    /// The voltage `dt` later: charge in less charge out, over the capacitance;
    /// a load whose time constant is shorter than a step is at its end at once.
    fn after(&self, now: f64, dt: f64) -> f64 {
        let body = &self.load.insulation;
        let farads = body.farads.0;
        let Some(pressed) = self.pressed else {
            return self.volts * libm::exp(-dt / (BLEED.0 * farads).max(0.05));
        };
        let held = now - pressed.seconds();
        let out_per_volt = body.current(Volts(1.0), held).0;
        let wanted = SET.0 * (1.0 - libm::exp(-(held + dt) / RISE));
        let limited = if out_per_volt > 0.0 && farads / out_per_volt < dt {
            LIMIT.0 / out_per_volt
        } else {
            self.volts + (LIMIT.0 - self.volts * out_per_volt) / farads * dt
        };
        wanted.min(limited).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sim::motor::{Clips, Farads, Insulation, Motor};

    fn motor(leakage: f64, absorption: f64, farads: f64) -> Motor {
        Motor {
            legs: Vec::new(),
            ground: Insulation {
                leakage: Ohms(leakage),
                absorption: Ohms(absorption),
                farads: Farads(farads),
            },
            path: Ohms(0.05),
        }
    }

    fn parse(line: &str) -> (bool, f64, f64, f64) {
        let mut fields = line.split(';');
        let mut number = |unit: &str| {
            let (number, found) = fields.next().expect(line).split_once(' ').expect(line);
            assert!(found.ends_with(unit), "{line}");
            let scale = match found {
                "MOhm" => 1e6,
                "GOhm" => 1e9,
                _ => 1.0,
            };
            let digits = number.trim_start_matches('>');
            (
                number.starts_with('>'),
                digits.parse::<f64>().expect(line) * scale,
            )
        };
        let (over, ohms) = number("Ohm");
        let (_, volts) = number("V");
        let (_, held) = number("s");
        (over, ohms, volts, held)
    }

    /// Presses at 1 s and gives the last line before `at`.
    fn held(motor: &Motor, clips: Clips, at: f64) -> (bool, f64, f64, f64) {
        let mut tester = Tester::new(5);
        tester.touch(Stamp::ZERO, motor.load(clips, Ohms(0.2)));
        tester.press(Stamp::from_seconds(1.0));
        let mut last = None;
        for n in 5..=((at * 5.0) as u32) {
            last = tester
                .line(Stamp::from_seconds(f64::from(n) / 5.0))
                .or(last);
        }
        parse(&last.expect("a line"))
    }

    #[test]
    fn a_sound_winding_is_held_at_the_set_voltage_and_its_resistance_rises() {
        let motor = motor(5e9, 4e8, 2e-8);
        let (over, early, volts, _) = held(&motor, Clips::ToGround, 6.0);
        assert!(!over && (volts - 511.0).abs() < 2.0, "{volts}");
        let (_, late, _, seconds) = held(&motor, Clips::ToGround, 61.0);
        assert!(late > 2.0 * early, "{early} {late}");
        assert!((seconds - 60.0).abs() < 0.11);
        // 5 GΩ beside 0.4 GΩ × 60^0.7 = 7.03 GΩ: 2.92 GΩ, by the model's own law worked by hand.
        assert!((late / 2.92e9 - 1.0).abs() < 0.01, "{late}");
    }

    #[test]
    fn a_wet_winding_pulls_a_weak_tester_down() {
        // 1 mA into 120 kΩ is 120 V.
        let (over, ohms, volts, _) = held(&motor(120e3, f64::INFINITY, 2e-8), Clips::ToGround, 6.0);
        assert!(!over && (volts - 120.0).abs() < 1.5, "{volts}");
        assert!((ohms - 120e3).abs() < 3e3, "{ohms}");
    }

    #[test]
    fn a_long_cable_charges_no_faster_than_the_limit_lets_it() {
        // 1 mA into 4 µF is 250 V a second.
        let (_, _, volts, _) = held(&motor(5e10, f64::INFINITY, 4e-6), Clips::ToGround, 2.0);
        assert!((volts - 250.0).abs() < 15.0, "{volts}");
    }

    #[test]
    fn open_clips_are_beyond_the_range_and_joined_ones_read_zero() {
        let motor = motor(5e9, 4e8, 2e-8);
        let (over, ohms, volts, _) = held(&motor, Clips::Open, 6.0);
        assert!(over && (ohms - 20e9).abs() < 1.0 && volts > 500.0);
        let (over, ohms, volts, _) = held(&motor, Clips::Joined, 6.0);
        assert!(!over && ohms == 0.0 && volts == 0.0);
    }

    #[test]
    fn the_voltage_is_gone_soon_after_the_button_is_let_go() {
        let motor = motor(5e9, 4e8, 2e-8);
        let mut tester = Tester::new(5);
        tester.touch(Stamp::ZERO, motor.load(Clips::ToGround, Ohms(0.2)));
        tester.press(Stamp::ZERO);
        tester.line(Stamp::from_seconds(5.0));
        assert!(tester.volts().0 > 500.0);
        tester.release(Stamp::from_seconds(5.0));
        let line = tester.line(Stamp::from_seconds(7.0)).expect("a line");
        assert_eq!(line, ">20.00 GOhm;0 V;0.0 s");
    }
}
