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

/// Why a resistance or a temperature cannot be corrected.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum CorrectionError {
    /// k is where the resistance would be 0, in °C below 0.
    #[error("expected a k above 0, such as 234.5 for copper; found {0}")]
    K(f64),
    /// At or below −k or absolute zero.
    #[error("expected a temperature above {least} °C, found {found}")]
    Temperature {
        /// What it must be above, in °C.
        least: f64,
        /// What was given, in °C.
        found: f64,
    },
    /// Not a resistance that can be corrected.
    #[error("expected a resistance of 0 or more, found {0}")]
    Resistance(f64),
    /// Not a resistance that shows a temperature.
    #[error("expected a resistance above 0, found {0}")]
    Nothing(f64),
    /// The formulas for thermosetting insulation are not given there.
    #[error("expected a temperature from 10 to 85 °C for thermosetting insulation, found {0}")]
    Thermosetting(f64),
    /// The result is beyond what a number here can hold.
    #[error("the result is too large or too small to write: check the numbers")]
    Beyond,
}

/// Absolute zero in °C.
const ABSOLUTE_ZERO: f64 = -273.15;

/// A winding's resistance at another temperature: R1 (k + T2)/(k + T1), IEEE 112.
///
/// # Errors
/// A resistance below 0, k not above 0, a temperature at or below −k or
/// absolute zero, or a result beyond what a number can hold.
pub fn winding_at_temperature(
    r1: f64,
    t1: Celsius,
    t2: Celsius,
    k: f64,
) -> Result<f64, CorrectionError> {
    if !(r1.is_finite() && r1 >= 0.0) {
        return Err(CorrectionError::Resistance(r1));
    }
    allowed(t1, k)?;
    allowed(t2, k)?;
    let r2 = r1 * ((k + t2.0) / (k + t1.0));
    if r2.is_normal() || r1 == 0.0 {
        Ok(r2)
    } else {
        Err(CorrectionError::Beyond)
    }
}

/// The temperature at which a winding of `r1` at `t1` has `r2`:
/// R2/R1 (k + T1) − k, IEEE 112. The temperature, not the rise.
///
/// # Errors
/// A resistance not above 0, k not above 0, a temperature at or below −k or
/// absolute zero, or a result there.
pub fn winding_temperature(
    r1: f64,
    t1: Celsius,
    r2: f64,
    k: f64,
) -> Result<Celsius, CorrectionError> {
    for r in [r1, r2] {
        if !(r.is_finite() && r > 0.0) {
            return Err(CorrectionError::Nothing(r));
        }
    }
    allowed(t1, k)?;
    let t2 = Celsius(r2 / r1 * (k + t1.0) - k);
    if t2.0.is_finite() {
        allowed(t2, k)?;
        Ok(t2)
    } else {
        Err(CorrectionError::Beyond)
    }
}

/// The factor from a temperature to the reference; none at or below absolute zero or −k.
pub fn to_reference(conductor: Conductor, at: Celsius, reference: Celsius) -> Option<f64> {
    winding_at_temperature(1.0, at, reference, k(conductor)).ok()
}

fn allowed(t: Celsius, k: f64) -> Result<(), CorrectionError> {
    if !(k.is_finite() && k > 0.0) {
        return Err(CorrectionError::K(k));
    }
    let least = ABSOLUTE_ZERO.max(-k);
    if t.0.is_finite() && t.0 > least {
        Ok(())
    } else {
        Err(CorrectionError::Temperature { least, found: t.0 })
    }
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

/// A resistance of insulation as it would be at 40 °C, in the same unit.
///
/// # Errors
/// A resistance below 0, a temperature at or below absolute zero or, for
/// thermosetting insulation, outside 10 to 85 °C, or a result beyond what a
/// number can hold.
pub fn insulation_at_40(
    measured: f64,
    at: Celsius,
    kind: InsulationKind,
) -> Result<f64, CorrectionError> {
    if !(measured.is_finite() && measured >= 0.0) {
        return Err(CorrectionError::Resistance(measured));
    }
    if !(at.0.is_finite() && at.0 > ABSOLUTE_ZERO) {
        return Err(CorrectionError::Temperature {
            least: ABSOLUTE_ZERO,
            found: at.0,
        });
    }
    let factor = match kind {
        InsulationKind::Thermoplastic => halving(at),
        InsulationKind::Thermosetting => {
            thermosetting(at).ok_or(CorrectionError::Thermosetting(at.0))?
        }
    };
    let corrected = measured * factor;
    if corrected.is_normal() || measured == 0.0 {
        Ok(corrected)
    } else {
        Err(CorrectionError::Beyond)
    }
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
    use proptest::prelude::*;

    #[test]
    fn thermosetting_formulas_end_where_they_are_given() {
        let at = |t, kind| insulation_at_40(100.0, Celsius(t), kind);
        let set = InsulationKind::Thermosetting;
        assert_eq!(at(9.9, set), Err(CorrectionError::Thermosetting(9.9)));
        assert_eq!(at(85.1, set), Err(CorrectionError::Thermosetting(85.1)));
        assert_eq!(at(40.0, set), Ok(100.0));
        assert_eq!(at(40.0, InsulationKind::Thermoplastic), Ok(100.0));
        assert!(at(-273.15, InsulationKind::Thermoplastic).is_err());
    }

    #[test]
    fn what_lies_outside_the_formula_is_refused() {
        use CorrectionError as E;
        let at = |r1, t1, t2, k| winding_at_temperature(r1, Celsius(t1), Celsius(t2), k);
        for k in [0.0, -234.5, f64::NAN] {
            assert!(matches!(at(1.0, 20.0, 25.0, k), Err(E::K(_))));
        }
        for (t1, t2, k) in [
            (-234.5, 20.0, 234.5),
            (20.0, f64::NAN, 234.5),
            (20.0, -273.15, 300.0),
        ] {
            assert!(
                matches!(at(1.0, t1, t2, k), Err(E::Temperature { .. })),
                "{t1} {t2}"
            );
        }
        assert_eq!(at(-1.0, 20.0, 25.0, 234.5), Err(E::Resistance(-1.0)));
        assert_eq!(at(0.0, 20.0, 25.0, 234.5), Ok(0.0));
        let t2 = |r1, r2, k| winding_temperature(r1, Celsius(20.0), r2, k);
        assert_eq!(t2(0.0, 1.0, 234.5), Err(E::Nothing(0.0)));
        assert_eq!(t2(1.0, 0.0, 234.5), Err(E::Nothing(0.0)));
        assert!(matches!(t2(1.0, 0.01, 300.0), Err(E::Temperature { .. })));
        assert_eq!(t2(1e-200, 1e200, 234.5), Err(E::Beyond));
        assert_eq!(
            to_reference(Conductor::Copper, Celsius(-234.5), Celsius(20.0)),
            None
        );
    }

    proptest! {
        #[test]
        fn a_temperature_and_its_resistance_lead_to_each_other(r1 in 1e-3f64..1e4, t1 in -40.0f64..180.0, t2 in -40.0f64..180.0, k in 225.0f64..236.0) {
            let r2 = winding_at_temperature(r1, Celsius(t1), Celsius(t2), k).expect("in the domain");
            let back = winding_temperature(r1, Celsius(t1), r2, k).expect("in the domain");
            prop_assert!((back.0 - t2).abs() < 1e-9, "{back:?}");
            let again = winding_at_temperature(r2, Celsius(t2), Celsius(t1), k).expect("in the domain");
            prop_assert!((again / r1 - 1.0).abs() < 1e-12);
            prop_assert_eq!(t2 > t1, r2 > r1);
        }
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

    #[test]
    fn rule_13_insulation_at_40_grows_below_it_by_less_and_refuses_what_is_none() {
        let (set, plastic) = (InsulationKind::Thermosetting, InsulationKind::Thermoplastic);
        assert_eq!(insulation_at_40(100.0, Celsius(20.0), plastic), Ok(25.0));
        assert_eq!(insulation_at_40(100.0, Celsius(60.0), plastic), Ok(400.0));
        assert_eq!(insulation_at_40(0.0, Celsius(20.0), plastic), Ok(0.0));
        for none in [-1.0, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(
                insulation_at_40(none, Celsius(20.0), plastic),
                Err(CorrectionError::Resistance(none))
            );
        }
        // A quarter of 1e-308 is below the least normal number.
        assert_eq!(
            insulation_at_40(1e-308, Celsius(20.0), plastic),
            Err(CorrectionError::Beyond)
        );
        // By hand e^(−1245 (1/293 − 1/313)) = 0.76223; halving gives 0.25 there.
        let factor = thermosetting(Celsius(20.0)).expect("in the domain");
        assert!((factor - 0.762_23).abs() < 1e-5, "{factor}");
        assert!((generous(None, Celsius(20.0)) - factor).abs() < 1e-12);
        assert!((careful(None, Celsius(20.0)) - 0.25).abs() < 1e-12);
        assert!((generous(Some(set), Celsius(20.0)) - factor).abs() < 1e-12);
    }
}
