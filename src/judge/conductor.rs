//! Conductors: what a length of wire measures, and how far a short lies.
//!
//! A core is one wire of a cable, given by its area or its gauge. Tables of
//! cable makers and installers disagree by some percent, so it is computed.
//! Nothing here knows what hangs at the end of the cable.

use super::correction;
use crate::limits::{Conductor, words};
use crate::quantity::Celsius;

/// Copper at 20 °C in ohm mm²/m: 1/58, 100 % IACS (IEC 60028).
const COPPER: f64 = 1.0 / 58.0;
/// Aluminium at 20 °C in ohm mm²/m: 61 % IACS (IEC 60889).
const ALUMINIUM: f64 = 0.028_264;
/// The wires of a strand lie askew and are longer than the strand: 2 % (common practice).
const LAY: f64 = 1.02;
/// The temperature of both figures.
const AT: Celsius = Celsius(20.0);
/// The finest gauge (ASTM B258, from memory).
const FINEST: u8 = 56;

words! {
    /// How a core is built.
    Stranding {
        /// One wire.
        Solid = "solid",
        /// Several wires laid together: 2 % more.
        Stranded = "stranded",
    }
}

/// The metal of a core across its length, by its area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wire {
    mm2: f64,
}

/// Why a wire, a length or a temperature gives no resistance.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ConductorError {
    /// Not an area.
    #[error("expected an area above 0 mm2, found {0}")]
    Area(f64),
    /// Not a gauge.
    #[error(
        "expected an AWG size: a whole number from 0 to 56, or 1/0, 2/0, 3/0, 4/0; found {0:?}"
    )]
    Gauge(String),
    /// Not a length.
    #[error("expected a length above 0 m, found {0}")]
    Length(f64),
    /// Not a loop's resistance.
    #[error("expected a loop of 0 ohm or more, found {0}")]
    Loop(f64),
    /// Below what the metal's line allows.
    #[error(
        "expected a temperature above {least} °C, where {material} would lose its resistance; found {found}"
    )]
    Temperature {
        /// The metal.
        material: Conductor,
        /// Its −k in °C.
        least: f64,
        /// What was given, in °C.
        found: f64,
    },
    /// The result is beyond what a number here can hold.
    #[error("the result is too large or too small to write: check the length and the area")]
    Beyond,
}

impl Wire {
    /// A wire of so many square millimetres.
    ///
    /// # Errors
    /// Not above 0, or not finite.
    pub fn area(mm2: f64) -> Result<Self, ConductorError> {
        if mm2.is_finite() && mm2 > 0.0 {
            Ok(Self { mm2 })
        } else {
            Err(ConductorError::Area(mm2))
        }
    }

    /// A wire of an American gauge: `14`, `0`, `1/0`, `00`, `2/0` …
    /// A decimal is refused, since `2.0` may be meant as `2/0`.
    ///
    /// # Errors
    /// Neither a whole number up to 56 nor an aught size up to 4/0.
    pub fn awg(size: &str) -> Result<Self, ConductorError> {
        let refused = || ConductorError::Gauge(size.to_owned());
        let gauge: i32 = match size {
            "0" | "1/0" => 0,
            "00" | "2/0" => -1,
            "000" | "3/0" => -2,
            "0000" | "4/0" => -3,
            _ if size.starts_with('0') || !size.bytes().all(|b| b.is_ascii_digit()) => {
                return Err(refused());
            }
            _ => match size.parse::<u8>() {
                Ok(gauge) if gauge <= FINEST => i32::from(gauge),
                _ => return Err(refused()),
            },
        };
        // ASTM B258: 0.127 mm at gauge 36, a factor of 92 over 39 gauges.
        let diameter_mm = 0.127 * libm::pow(92.0, f64::from(36 - gauge) / 39.0);
        Self::area(core::f64::consts::FRAC_PI_4 * diameter_mm * diameter_mm)
    }

    /// Its area in square millimetres.
    pub const fn mm2(self) -> f64 {
        self.mm2
    }
}

/// One wire of a cable as it lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Core {
    /// Its area.
    pub wire: Wire,
    /// Its metal.
    pub material: Conductor,
    /// How it is built.
    pub stranding: Stranding,
    /// How warm it is.
    pub at: Celsius,
}

impl Core {
    /// Solid copper at 20 °C.
    pub const fn of(wire: Wire) -> Self {
        Self {
            wire,
            material: Conductor::Copper,
            stranding: Stranding::Solid,
            at: AT,
        }
    }

    /// Its resistivity as it lies, in ohm mm²/m.
    ///
    /// # Errors
    /// A temperature at or below −k of its metal.
    pub fn resistivity(&self) -> Result<f64, ConductorError> {
        let at_20 = match self.material {
            Conductor::Copper => COPPER,
            Conductor::Aluminium => ALUMINIUM,
        };
        let lay = match self.stranding {
            Stranding::Solid => 1.0,
            Stranding::Stranded => LAY,
        };
        let warmer = correction::to_reference(self.material, AT, self.at).ok_or(
            ConductorError::Temperature {
                material: self.material,
                least: -correction::k(self.material),
                found: self.at.0,
            },
        )?;
        Ok(at_20 * lay * warmer)
    }

    /// The resistance of `length_m` of it, one way, in ohms.
    ///
    /// # Errors
    /// A length not above 0 m, a temperature out of its domain, or a result
    /// beyond what a number can hold.
    pub fn one_way(&self, length_m: f64) -> Result<f64, ConductorError> {
        if !(length_m.is_finite() && length_m > 0.0) {
            return Err(ConductorError::Length(length_m));
        }
        writable(self.resistivity()? * length_m / self.wire.mm2)
    }

    /// The resistance of a cable `length_m` long, there and back, in ohms.
    ///
    /// # Errors
    /// As [`Core::one_way`].
    pub fn there_and_back(&self, length_m: f64) -> Result<f64, ConductorError> {
        writable(2.0 * self.one_way(length_m)?)
    }

    /// Metres to a dead short between two such cores whose loop reads
    /// `loop_ohms`, the test leads subtracted: R·A/(2ρ). A short with a
    /// resistance of its own lies nearer than this says.
    ///
    /// # Errors
    /// A negative loop, a temperature out of its domain, or a result beyond
    /// what a number can hold.
    pub fn fault_distance(&self, loop_ohms: f64) -> Result<f64, ConductorError> {
        if !(loop_ohms.is_finite() && loop_ohms >= 0.0) {
            return Err(ConductorError::Loop(loop_ohms));
        }
        let metres = loop_ohms * self.wire.mm2 / (2.0 * self.resistivity()?);
        if loop_ohms == 0.0 {
            Ok(0.0)
        } else {
            writable(metres)
        }
    }
}

/// A result that neither overflowed nor lost its digits near 0.
fn writable(result: f64) -> Result<f64, ConductorError> {
    if result.is_normal() {
        Ok(result)
    } else {
        Err(ConductorError::Beyond)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(got: f64, expected: f64, part: f64) {
        assert!((got / expected - 1.0).abs() < part, "{got}, not {expected}");
    }

    /// Areas as ASTM B258 prints them (tests/reference/conductor_resistance.csv, `area_mm2`).
    #[test]
    fn gauges_have_their_areas() {
        for (size, mm2) in [
            ("18", 0.8230),
            ("14", 2.0809),
            ("10", 5.2612),
            ("1", 42.4077),
            ("0", 53.4751),
            ("1/0", 53.4751),
            ("00", 67.4309),
            ("2/0", 67.4309),
            ("3/0", 85.0288),
            ("000", 85.0288),
            ("4/0", 107.2193),
            ("0000", 107.2193),
        ] {
            near(Wire::awg(size).expect(size).mm2(), mm2, 1e-4);
        }
    }

    #[test]
    fn what_is_no_gauge_is_refused() {
        for size in [
            "", "14.0", "-1", "+14", "5/0", "0/0", "00000", "014", "57", "300", "AWG 14", "14 ",
            "1e1", "٣",
        ] {
            let error = Wire::awg(size).expect_err(size);
            assert!(error.to_string().contains("4/0"), "{error}");
        }
    }

    /// 100 m of 1 mm² copper: 100/58 ohm, by hand; warmer by (234.5 + 75)/254.5.
    #[test]
    fn copper_and_aluminium_by_hand() {
        let mut core = Core::of(Wire::area(1.0).expect("an area"));
        near(core.one_way(100.0).expect("ohms"), 1.724_137_931, 1e-9);
        near(
            core.there_and_back(100.0).expect("ohms"),
            3.448_275_862,
            1e-9,
        );
        core.at = Celsius(75.0);
        near(
            core.one_way(100.0).expect("ohms"),
            1.724_137_931 * 309.5 / 254.5,
            1e-9,
        );
        core.stranding = Stranding::Stranded;
        near(
            core.one_way(100.0).expect("ohms"),
            1.724_137_931 * 309.5 / 254.5 * 1.02,
            1e-9,
        );
        core.material = Conductor::Aluminium;
        core.at = Celsius(20.0);
        near(core.one_way(100.0).expect("ohms"), 2.8264 * 1.02, 1e-9);
    }

    #[test]
    fn what_has_no_resistance_is_refused() {
        let core = Core::of(Wire::area(2.5).expect("an area"));
        for length in [0.0, -5.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(
                core.one_way(length),
                Err(ConductorError::Length(_))
            ));
        }
        for area in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(Wire::area(area), Err(ConductorError::Area(_))));
        }
        assert!(matches!(
            core.fault_distance(-0.1),
            Err(ConductorError::Loop(_))
        ));
        assert_eq!(
            core.one_way(1e-308).expect_err("no digits left"),
            ConductorError::Beyond
        );
        let cold = Core {
            at: Celsius(-234.5),
            ..core
        };
        assert!(matches!(
            cold.one_way(1.0),
            Err(ConductorError::Temperature { .. })
        ));
    }

    proptest! {
        #[test]
        fn the_distance_to_the_end_of_a_cable_is_its_length(length in 0.1f64..5000.0, mm2 in 0.05f64..500.0, at in -40.0f64..100.0, aluminium: bool, stranded: bool) {
            let core = Core {
                wire: Wire::area(mm2).expect("an area"),
                material: if aluminium { Conductor::Aluminium } else { Conductor::Copper },
                stranding: if stranded { Stranding::Stranded } else { Stranding::Solid },
                at: Celsius(at),
            };
            let back = core.fault_distance(core.there_and_back(length).expect("ohms")).expect("metres");
            prop_assert!((back / length - 1.0).abs() < 1e-12);
        }
    }
}
