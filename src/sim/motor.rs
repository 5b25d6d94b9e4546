//! A motor as its leads show it: legs that meet in one place, and insulation.
//!
//! Every kind of winding met here is a star. A two-wire motor has two legs, one
//! of them without resistance; a three-wire motor meets in its common lead; a
//! three-phase motor is a wye (a delta reads as its equivalent wye).

use crate::quantity::{Amperes, Ohms, Volts};

/// Inductance in henries.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Henries(pub f64);

/// Capacitance in farads.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Farads(pub f64);

/// From a lead to the place where the legs meet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    /// Its resistance; infinite when it is open.
    pub ohms: Ohms,
    /// Its inductance.
    pub henries: Henries,
}

/// Insulation to the frame. Its current has two parts: leakage, which stays,
/// and absorption, which falls with a power of time (Curie and von Schweidler),
/// so that the resistance read rises while the voltage is on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Insulation {
    /// Volts over the leakage that stays.
    pub leakage: Ohms,
    /// Volts over the absorption current one second after the voltage came on.
    pub absorption: Ohms,
    /// Winding to frame.
    pub farads: Farads,
}

impl Insulation {
    /// The power of time with which absorption falls (guessed; 0.5 to 1 is common practice).
    const POWER: f64 = 0.7;

    /// A dead short or a piece of wire: no absorption, no capacitance to speak of.
    pub const fn wire(ohms: Ohms) -> Self {
        Self {
            leakage: ohms,
            absorption: Ohms(f64::INFINITY),
            farads: Farads(1e-10),
        }
    }

    /// What flows at `volts`, `held` seconds after they came on.
    pub fn current(&self, volts: Volts, held: f64) -> Amperes {
        let absorbed = libm::pow(held.max(0.05), -Self::POWER) / self.absorption.0;
        Amperes(volts.0 * (1.0 / self.leakage.0 + absorbed))
    }
}

/// A motor on the bench.
#[derive(Clone, Debug, PartialEq)]
pub struct Motor {
    /// One leg a lead.
    pub legs: Vec<Leg>,
    /// The whole winding to the frame.
    pub ground: Insulation,
    /// The frame to a second ground.
    pub path: Ohms,
}

/// Where the two clips of a meter are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clips {
    /// In the air.
    Open,
    /// On each other.
    Joined,
    /// On two leads, counted from 0.
    Between(usize, usize),
    /// On the leads and on the frame.
    ToGround,
    /// On the ground reference and on a second ground.
    GroundPath,
}

/// What a meter feels at its sockets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Load {
    /// In series: leads, winding.
    pub ohms: Ohms,
    /// In series: the winding's inductance.
    pub henries: Henries,
    /// What a test voltage meets.
    pub insulation: Insulation,
}

impl Load {
    /// Nothing: clips in the air. A few picofarads, and more than any meter reads.
    pub const OPEN: Self = Self::plain(Ohms(f64::INFINITY));

    const fn plain(ohms: Ohms) -> Self {
        Self {
            ohms,
            henries: Henries(0.0),
            insulation: Insulation::wire(ohms),
        }
    }
}

impl Motor {
    /// What a meter with these leads feels when its clips are there.
    pub fn load(&self, clips: Clips, leads: Ohms) -> Load {
        match clips {
            Clips::Open => Load::OPEN,
            Clips::Joined => Load::plain(leads),
            Clips::GroundPath => Load::plain(Ohms(leads.0 + self.path.0)),
            Clips::Between(a, b) => match (self.legs.get(a), self.legs.get(b)) {
                (Some(a), Some(b)) => {
                    let ohms = Ohms(leads.0 + a.ohms.0 + b.ohms.0);
                    Load {
                        henries: Henries(a.henries.0 + b.henries.0),
                        ..Load::plain(ohms)
                    }
                }
                _ => Load::OPEN,
            },
            Clips::ToGround => Load {
                ohms: Ohms(leads.0 + self.ground.leakage.0),
                henries: Henries(0.0),
                insulation: self.ground,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn leg(ohms: f64) -> Leg {
        Leg {
            ohms: Ohms(ohms),
            henries: Henries(0.01),
        }
    }

    fn three(legs: [f64; 3]) -> Motor {
        Motor {
            legs: legs.map(leg).to_vec(),
            ground: Insulation {
                leakage: Ohms(2e9),
                absorption: Ohms(4e8),
                farads: Farads(2e-8),
            },
            path: Ohms(0.05),
        }
    }

    #[test]
    fn main_and_start_of_a_three_wire_motor_add_up_to_total() {
        let motor = three([0.0, 2.1, 5.4]);
        let read = |a, b| motor.load(Clips::Between(a, b), Ohms(0.2)).ohms.0 - 0.2;
        assert!((read(0, 1) + read(0, 2) - read(1, 2)).abs() < 1e-12);
    }

    #[test]
    fn an_open_leg_opens_two_of_three_pairs() {
        let motor = three([1.0, f64::INFINITY, 1.0]);
        let open = |a, b| {
            motor
                .load(Clips::Between(a, b), Ohms(0.2))
                .ohms
                .0
                .is_infinite()
        };
        assert_eq!((open(0, 1), open(1, 2), open(2, 0)), (true, true, false));
    }

    #[test]
    fn absorption_raises_the_resistance_while_the_voltage_is_on() {
        let ground = three([1.0; 3]).ground;
        let ohms = |t| 500.0 / ground.current(Volts(500.0), t).0;
        assert!(ohms(1.0) < ohms(10.0) && ohms(10.0) < ohms(60.0));
        // Long after, only the leakage is left.
        assert!((ohms(1e9) / 2e9 - 1.0).abs() < 1e-5);
        // At one second both parts are as given: 2 GΩ beside 0.4 GΩ.
        assert!((ohms(1.0) / (2e9 * 4e8 / 2.4e9) - 1.0).abs() < 1e-12);
    }
}
