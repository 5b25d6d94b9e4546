//! Corrections for temperature: copper to its reference, insulation to 40 °C.
//!
//! Where the temperature or the insulation is not known, the careful factor
//! decides a pass and the generous one a fail.

use crate::limits::{Conductor, InsulationKind};
use crate::quantity::Celsius;

/// k of copper, R2/R1 = (k + T2)/(k + T1): IEEE 112 uses 234.5, IEC 60034-1 uses 235.
const COPPER: f64 = 234.5;
/// k of aluminium: 228 here, IEC 60034-1 uses 225.
const ALUMINIUM: f64 = 228.0;
/// How far a typed temperature may be off, in kelvin either way (own).
pub const DOUBT_K: f64 = 2.0;
/// A temperature nobody knows lies within this of 20 °C (own).
pub const UNKNOWN_K: f64 = 20.0;
/// The coldest winding that is assumed (own).
pub const COLDEST: Celsius = Celsius(-10.0);
/// The hottest winding that is assumed (own).
pub const HOTTEST: Celsius = Celsius(80.0);

/// The conductor's k.
pub const fn k(conductor: Conductor) -> f64 {
    match conductor {
        Conductor::Copper => COPPER,
        Conductor::Aluminium => ALUMINIUM,
    }
}

/// The factor from a temperature to the reference; none below absolute zero or −k.
pub fn to_reference(conductor: Conductor, at: Celsius, reference: Celsius) -> Option<f64> {
    let k = k(conductor);
    let allowed = |t: f64| t.is_finite() && t > -k && t > -273.15;
    (allowed(at.0) && allowed(reference.0)).then(|| (k + reference.0) / (k + at.0))
}

/// U (k = 2) of a rectangular ± `kelvin`, as a part of the resistance at `at`.
pub fn doubt(conductor: Conductor, at: Celsius, kelvin: f64) -> f64 {
    2.0 * kelvin / 3.0_f64.sqrt() / (k(conductor) + at.0)
}

/// Halving every 10 K: IEEE 43-2013 clause 6.3, 0.5^((40 − T)/10).
pub fn halving(at: Celsius) -> f64 {
    libm::exp2((at.0 - 40.0) / 10.0)
}

/// Thermosetting insulation, 10 to 85 °C: IEEE 43-2013 clause 6.3, the
/// coefficients from memory.
pub fn thermosetting(at: Celsius) -> Option<f64> {
    if !(10.0..=85.0).contains(&at.0) {
        return None;
    }
    let coefficient = if at.0 > 40.0 { -4230.0 } else { -1245.0 };
    Some(libm::exp(
        coefficient * (1.0 / (at.0 + 273.0) - 1.0 / 313.0),
    ))
}

/// The factor to 40 °C that clears nothing it should not: the smaller one
/// where the kind is unknown, halving below 10 °C, no growth above 85 °C, where
/// neither formula is given.
pub fn careful(kind: Option<InsulationKind>, at: Celsius) -> f64 {
    let at = Celsius(at.0.min(85.0));
    match (kind, thermosetting(at)) {
        (Some(InsulationKind::Thermoplastic), _) | (_, None) => halving(at),
        (Some(InsulationKind::Thermosetting), Some(set)) => set,
        (None, Some(set)) => set.min(halving(at)),
    }
}

/// The factor to 40 °C that condemns nothing it should not: the larger one.
pub fn generous(kind: Option<InsulationKind>, at: Celsius) -> f64 {
    let set = thermosetting(Celsius(at.0.clamp(10.0, 85.0)));
    match (kind, set) {
        (Some(InsulationKind::Thermosetting), Some(set)) => set,
        (None, Some(set)) => set.max(halving(at)),
        _ => halving(at),
    }
}

/// U (k = 2) of the factor from the temperature's own doubt, as a part of the
/// value: by halving about 7 % a kelvin.
pub fn factor_doubt() -> f64 {
    core::f64::consts::LN_2 / 10.0 * 2.0 * DOUBT_K / 3.0_f64.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of tests/reference/insulation_temperature.csv.
    #[test]
    fn factors_to_40_meet_the_reference_rows() {
        for (t, factor) in [
            (0.0, 0.0625),
            (20.0, 0.25),
            (50.0, 2.0),
            (40.0, 1.0),
            (70.0, 8.0),
        ] {
            assert!((halving(Celsius(t)) / factor - 1.0).abs() < 1e-4, "{t}");
        }
        for (t, factor) in [
            (10.0, 0.655_959),
            (20.0, 0.762_227),
            (40.0, 1.0),
            (70.0, 3.260_94),
            (85.0, 5.467_02),
        ] {
            let got = thermosetting(Celsius(t)).expect("inside 10 to 85");
            assert!((got / factor - 1.0).abs() < 1e-4, "{t}");
        }
        assert_eq!(thermosetting(Celsius(9.9)), None);
        assert_eq!(thermosetting(Celsius(85.1)), None);
    }

    /// Rows W08, W10, W13 of tests/reference/copper_temperature.csv.
    #[test]
    fn copper_and_aluminium_meet_the_reference_rows() {
        let at =
            |c, from, to| to_reference(c, Celsius(from), Celsius(to)).expect("inside the domain");
        assert!((at(Conductor::Copper, 20.0, 75.0) - 1.216_11).abs() < 1e-5);
        assert!((at(Conductor::Copper, 20.0, 115.0) - 1.373_281).abs() < 1e-5);
        assert!((at(Conductor::Aluminium, 20.0, 21.0) - 1.004_032).abs() < 1e-6);
        assert_eq!(
            to_reference(Conductor::Copper, Celsius(-234.5), Celsius(20.0)),
            None
        );
        assert_eq!(
            to_reference(Conductor::Copper, Celsius(f64::NAN), Celsius(20.0)),
            None
        );
    }

    #[test]
    fn careful_is_never_above_generous() {
        for tenth in -300..1200 {
            let t = Celsius(f64::from(tenth) / 10.0);
            for kind in [
                None,
                Some(InsulationKind::Thermoplastic),
                Some(InsulationKind::Thermosetting),
            ] {
                assert!(careful(kind, t) <= generous(kind, t), "{kind:?} at {t:?}");
            }
        }
    }
}
