//! The demo's scene: a fish hatchery with three motors on two benches.
//!
//! Makers, models, limits and faults are invented. What each motor suffers from
//! is known here and nowhere else; the program finds out by its readings.

use crate::limits::Kind;
use crate::quantity::Ohms;
use crate::sim::motor::{Farads, Henries, Insulation, Leg, Motor};
use crate::sim::ohmmeter::Ohmmeter;
use crate::sim::serve::Instrument;
use crate::sim::tester::Tester;

/// The hatchery's motor models, as a `motors.csv` holds them.
pub const CATALOGUE: &str = "\
model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source
HB-CP 40,two_wire,230,25,38.0,44.0,,,,,no,machinery,invented for the demo
HB-AB 7,three_phase,400,25,,,,,4.6,5.4,no,machinery,invented for the demo
HB-WP 22,three_wire,230,25,1.9,2.4,5.2,6.4,,,no,machinery,invented for the demo
";

/// A bench with its meters and the motors that come to it, one after the other.
#[derive(Debug)]
pub struct Stand {
    /// Its name.
    pub bench: &'static str,
    /// Its meters.
    pub meters: Vec<Instrumented>,
    /// Its motors, the first one first.
    pub patients: Vec<Patient>,
}

/// A meter of a bench.
#[derive(Debug)]
pub struct Instrumented {
    /// Its name.
    pub name: &'static str,
    /// The instrument.
    pub instrument: Instrument,
    /// Its two leads, joined.
    pub leads: Ohms,
    /// The rest of its table in `stillohm.toml`.
    pub settings: &'static str,
}

/// A motor that comes to a bench.
#[derive(Clone, Debug)]
pub struct Patient {
    /// Which machine it is.
    pub asset: &'static str,
    /// What it is, in words.
    pub what: &'static str,
    /// Its model in [`CATALOGUE`].
    pub model: &'static str,
    /// How it is wound.
    pub kind: Kind,
    /// What it is like inside.
    pub motor: Motor,
}

const OHMMETER: &str = r#"measures = ["ohms"]
terminals = 2
over_range_above_ohms = 60_000_000
accuracy = [{ up_to_ohms = 600, percent = 0.2, counts = 3 }, { percent = 0.8, counts = 3 }]
"#;

const TESTER: &str = r#"measures = ["insulation"]
accuracy = [{ percent = 5.0, counts = 5 }]
"#;

fn leg(ohms: f64, henries: f64) -> Leg {
    Leg {
        ohms: Ohms(ohms),
        henries: Henries(henries),
    }
}

fn body(leakage: f64, absorption: f64) -> Insulation {
    Insulation {
        leakage: Ohms(leakage),
        absorption: Ohms(absorption),
        farads: Farads(1.2e-8),
    }
}

/// The two benches of the demo; chatter and flicker follow `seed`.
pub fn stands(seed: u64) -> Vec<Stand> {
    vec![
        Stand {
            bench: "bench-1",
            meters: vec![
                Instrumented {
                    name: "ohms-1",
                    instrument: Instrument::Ohms(Ohmmeter::new(seed ^ 0x11)),
                    leads: Ohms(0.121),
                    settings: OHMMETER,
                },
                Instrumented {
                    name: "megs-1",
                    instrument: Instrument::Insulation(Tester::new(seed ^ 0x12)),
                    leads: Ohms(0.2),
                    settings: TESTER,
                },
            ],
            patients: vec![Patient {
                asset: "CP-07",
                what: "circulation pump",
                model: "HB-CP 40",
                kind: Kind::TwoWire,
                motor: Motor {
                    legs: vec![leg(40.6, 1.1), leg(0.0, 0.0)],
                    ground: body(6e9, 5e8),
                    path: Ohms(0.06),
                },
            }],
        },
        Stand {
            bench: "bench-2",
            meters: vec![Instrumented {
                name: "ohms-2",
                instrument: Instrument::Ohms(Ohmmeter::new(seed ^ 0x21)),
                leads: Ohms(0.184),
                settings: OHMMETER,
            }],
            patients: vec![
                Patient {
                    asset: "AB-03",
                    what: "aeration blower",
                    model: "HB-AB 7",
                    kind: Kind::ThreePhase,
                    motor: Motor {
                        // A part of the third leg's turns is shorted.
                        legs: vec![leg(2.48, 0.02), leg(2.49, 0.02), leg(1.71, 0.01)],
                        ground: body(3e9, 4e8),
                        path: Ohms(0.09),
                    },
                },
                Patient {
                    asset: "WP-02",
                    what: "well pump",
                    model: "HB-WP 22",
                    kind: Kind::ThreeWire,
                    motor: Motor {
                        legs: vec![leg(0.0, 0.0), leg(2.13, 0.02), leg(5.74, 0.05)],
                        // Water in the winding.
                        ground: body(84_000.0, f64::INFINITY),
                        path: Ohms(0.07),
                    },
                },
            ],
        },
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sim::motor::Clips;

    /// The catalogue's numbers in a column, read as anyone would read them.
    fn limit(model: &str, column: &str) -> f64 {
        let mut lines = CATALOGUE.lines();
        let names = lines.next().expect("a header").split(',');
        let at = names.clone().position(|n| n == column).expect(column);
        let line = lines
            .find(|l| l.split(',').next() == Some(model))
            .expect(model);
        line.split(',').nth(at).expect(column).parse().expect(line)
    }

    #[test]
    fn each_motor_has_the_fault_that_the_scene_needs_and_no_other() {
        let patients: Vec<Patient> = stands(0).into_iter().flat_map(|s| s.patients).collect();
        let [pump, blower, well] = patients.as_slice() else {
            panic!("three motors");
        };
        let ohms = |p: &Patient, a, b| p.motor.load(Clips::Between(a, b), Ohms(0.0)).ohms.0;
        let within = |p: &Patient, which: &str, ohms: f64| {
            limit(p.model, &format!("{which}_min_ohms")) < ohms
                && ohms < limit(p.model, &format!("{which}_max_ohms"))
        };
        assert!(within(pump, "main", ohms(pump, 0, 1)));
        assert!(pump.motor.ground.leakage.0 > 1e9);
        assert!(within(blower, "line", ohms(blower, 0, 1)));
        assert!(
            !within(blower, "line", ohms(blower, 1, 2))
                && !within(blower, "line", ohms(blower, 2, 0))
        );
        assert!(within(well, "main", ohms(well, 0, 1)) && within(well, "start", ohms(well, 0, 2)));
        assert!(well.motor.ground.leakage.0 < 500_000.0);
    }
}
