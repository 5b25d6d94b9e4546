//! Weak testers on wet motors, and testers of every strength on good ones.
//!
//! The tester is a source with a ramp and a largest current; the motor a
//! resistance that absorbs, dries or gives way. All parameters are invented.

use super::traces::Rng;
use super::*;

/// Runs one press and says what it came to.
fn press(rng: &mut Rng, wet: bool) -> String {
    let nominal = rng.pick(&[250.0, 500.0, 1000.0]);
    let largest = rng.log_between(0.000_5, 0.001_5);
    let start = 0.9 * nominal;
    // A wet motor draws all that the tester has; a good one a tenth at most.
    let ohms = if wet {
        start / largest * rng.between(0.2, 0.85)
    } else {
        nominal / largest * rng.log_between(10.0, 10_000.0)
    };
    let ramp = rng.log_between(0.1, if wet { 1.5 } else { 4.0 });
    let drying = if wet {
        rng.between(-0.004, 0.004)
    } else {
        rng.between(0.0, 0.02)
    };
    let rate = rng.log_between(1.0, 8.0);
    let noise = rng.between(0.0, 0.004);
    let marks = [Duration::from_secs(rng.pick(&[5, 10, 30]))];
    let mut settle = Settle::new(Spec::Hold(Hold::new(Volts(nominal), &marks)));
    let held = 40.0;
    let mut outcomes = Vec::new();
    let mut now = 0.0;
    while now < 50.0 {
        now += 1.0 / rate;
        let since = now - 3.0;
        let on = (0.0..held).contains(&since);
        let ohms = ohms * (1.0 + drying * since.max(0.0));
        let open = if on {
            1.02 * nominal * (1.0 - libm::exp(-since / ramp))
        } else {
            0.0
        };
        let volts = open.min(largest * ohms) * (1.0 + noise * rng.normal());
        let shown = if on {
            format!("{:.0}", ohms / 1000.0) + "000"
        } else {
            String::from("OL")
        };
        let mut sample = text(&shown, Unit::Ohm);
        sample.test_voltage = Some(Volts(volts));
        let stamp = at(now);
        if let Some(deadline) = settle.deadline().filter(|deadline| *deadline <= stamp) {
            outcomes.extend(settle.expire(deadline).map(|t| word(&t.outcome)));
        }
        outcomes.extend(settle.push(stamp, &sample).map(|t| word(&t.outcome)));
    }
    outcomes.join(" ")
}

#[test]
fn every_wet_motor_on_a_weak_tester_is_pulled_down() {
    for seed in 0..2000 {
        let came_to = press(&mut Rng(seed), true);
        assert!(came_to.starts_with("pulled:"), "seed {seed}: {came_to:?}");
    }
}

#[test]
fn no_good_motor_is_pulled_down_and_each_gives_its_value() {
    for seed in 0..2000 {
        let came_to = press(&mut Rng(10_000 + seed), false);
        let value = came_to.parse::<f64>().is_ok();
        assert!(value, "seed {seed}: {came_to:?}");
    }
}
