//! Uncertainty: how far a reading can be off, expanded with k = 2.
//!
//! What is not known is never zero: an accuracy that nobody configured takes a
//! careful default, and the reason says so.

use crate::meter::Meter;
use crate::quantity::{Decimal, Unit};

/// 30 % of reading: the ceiling of IEC 61557-2 for insulation testers. Never
/// less than one count (own), so that a reading of 0 has a doubt too.
const INSULATION_DEFAULT: f64 = 0.30;
/// 1 % of reading (own), for windings.
const WINDING_DEFAULT: f64 = 0.01;

/// U by its parts, in ohms, each expanded with k = 2.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Uncertainty {
    /// The meter's accuracy and resolution.
    pub meter: f64,
    /// The null that was subtracted.
    pub null: f64,
    /// The cable that was subtracted.
    pub cable: f64,
    /// The winding's temperature.
    pub temperature: f64,
    /// Whether the meter's accuracy is configured for this range.
    pub configured: bool,
    /// Whether the meter reads with four wires.
    pub four_wire: bool,
    /// What is known of the temperature.
    pub heat: Heat,
}

/// What is known of a winding's temperature.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Heat {
    /// Nothing.
    #[default]
    Unknown,
    /// It is typed, but the limits have no temperature that they hold at.
    NoReference,
    /// It is typed, and the value was corrected by it.
    Corrected,
}

impl Uncertainty {
    /// All parts together.
    pub fn total(&self) -> f64 {
        let [meter, null, cable, heat] = [self.meter, self.null, self.cable, self.temperature];
        (meter * meter + null * null + cable * cable + heat * heat).sqrt()
    }

    /// The parts times `factor`, as a corrected value has them.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            meter: self.meter * factor,
            null: self.null * factor,
            cable: self.cable * factor,
            temperature: self.temperature * factor,
            ..self
        }
    }

    /// The largest part, and the cheapest way to shrink it. Where nothing
    /// shrinks it (a typed temperature), the largest of the others.
    pub fn largest(&self) -> (&'static str, &'static str) {
        let heat = match self.heat {
            Heat::Unknown | Heat::NoReference => self.temperature,
            Heat::Corrected => 0.0,
        };
        let most = heat.max(self.cable).max(self.null).max(self.meter);
        if self.cable > 0.0 && self.cable >= most {
            ("cable", "measure at the splice")
        } else if heat > 0.0 && heat >= most {
            match self.heat {
                Heat::NoReference => (
                    "temperature",
                    "write in motors.csv at which reference_c the limits hold",
                ),
                _ => ("temperature", "enter the winding's temperature"),
            }
        } else if self.null >= most && self.null > 0.0 {
            ("leads", "join the clips again on the range of the reading")
        } else if !self.configured {
            ("meter", "configure the meter's accuracy")
        } else if self.four_wire {
            ("meter", "use a finer range or a more accurate meter")
        } else {
            ("meter", "use a finer range or a four-wire meter")
        }
    }
}

/// Whether a value is read on an ohmmeter's winding range or as insulation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reading {
    /// Ohms of a winding.
    Winding,
    /// Megohms to ground or between windings, whatever the meter.
    Insulation,
}

/// Standard uncertainty of a display by GUM type B (JCGM 100, 4.3.7 and
/// F.2.2.1): √(a²/3 + (resolution/2)²/3), a = percent of value and counts.
pub fn standard(value: f64, resolution: f64, percent: f64, counts: f64) -> f64 {
    let a = percent * value.abs() / 100.0 + counts * resolution;
    let half = resolution / 2.0;
    let u = (a * a / 3.0 + half * half / 3.0).sqrt();
    if (1e-150..1e150).contains(&u) {
        return u;
    }
    // Here a square would vanish or overflow.
    let a = percent / 100.0 * value.abs() + counts * resolution;
    libm::hypot(a, half) / 3.0_f64.sqrt()
}

/// U of a reading, and whether the meter's accuracy was configured for it.
pub fn of_reading(
    meter: &Meter,
    value: Decimal,
    resolution: Decimal,
    full_scale: Option<Decimal>,
    reading: Reading,
) -> (f64, bool) {
    let (v, r) = (value.to_f64().abs(), resolution.to_f64());
    match (accuracy(meter, value, full_scale), reading) {
        (Some((percent, counts)), _) => (2.0 * standard(v, r, percent, counts), true),
        (None, Reading::Winding) => (WINDING_DEFAULT * v + 2.0 * r, false),
        (None, Reading::Insulation) => ((INSULATION_DEFAULT * v).max(r), false),
    }
}

/// The most by which a meter that is as accurate as it says may be off at this
/// reading, and whether that was configured; else the careful default.
pub fn limit(
    meter: &Meter,
    value: Decimal,
    resolution: Decimal,
    full_scale: Option<Decimal>,
    reading: Reading,
) -> (f64, bool) {
    let (v, r) = (value.to_f64().abs(), resolution.to_f64());
    match (accuracy(meter, value, full_scale), reading) {
        (Some((percent, counts)), _) => (percent * v / 100.0 + counts * r, true),
        (None, Reading::Winding) => (WINDING_DEFAULT * v + 2.0 * r, false),
        (None, Reading::Insulation) => ((INSULATION_DEFAULT * v).max(r), false),
    }
}

/// U of a difference of two readings on one range of one meter: the offset
/// counts cancel, the percentage stays and the resolution counts twice.
pub fn of_difference(
    meter: &Meter,
    net: Decimal,
    shown: Decimal,
    resolution: Decimal,
    full_scale: Option<Decimal>,
) -> (f64, bool) {
    let (v, r) = (net.to_f64().abs(), resolution.to_f64());
    match accuracy(meter, shown, full_scale) {
        Some((percent, _)) => {
            let a = percent * v / 100.0;
            (2.0 * (a * a / 3.0 + r * r / 6.0).sqrt(), true)
        }
        None => (WINDING_DEFAULT * v + 2.0 * r, false),
    }
}

/// Percent and counts of the range that shows `value`: the first that reaches
/// the range's full scale, else the first that reaches the value.
fn accuracy(meter: &Meter, value: Decimal, full_scale: Option<Decimal>) -> Option<(f64, f64)> {
    let reaching = |size: Decimal| {
        meter
            .accuracy
            .iter()
            .filter(|a| a.unit == Unit::Ohm)
            .find(|a| a.up_to.is_none_or(|up_to| size <= up_to))
    };
    full_scale
        .and_then(reaching)
        .or_else(|| reaching(value.abs()))
        .map(|a| (a.percent, a.counts))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::meter::{Accuracy, PortId};
    use crate::text::Text;

    fn d(text: &str) -> Decimal {
        text.parse().expect("a decimal")
    }

    fn meter(accuracy: &[(&str, f64, f64)]) -> Meter {
        let mut meter = Meter::plain(Text::clean("m"), PortId(0));
        meter.accuracy = accuracy
            .iter()
            .map(|(up_to, percent, counts)| Accuracy {
                up_to: Some(d(up_to)),
                unit: Unit::Ohm,
                percent: *percent,
                counts: *counts,
            })
            .collect();
        meter
    }

    /// Published and constructed values of tests/reference/conformity_decision.csv.
    #[test]
    fn standard_uncertainty_meets_the_reference_rows() {
        // APP1: 3.46 ohm, 1 % + 2 counts of 0.01.
        assert!((standard(3.46, 0.01, 1.0, 2.0) - 0.031_655_226).abs() < 1e-8);
        // GUM5: a step of 0.1 alone.
        assert!((standard(0.0, 0.1, 0.0, 0.0) - 0.028_867_513).abs() < 1e-9);
    }

    #[test]
    fn rule_19_accuracy_not_configured_is_never_zero() {
        let plain = meter(&[]);
        let u = |v: &str, r: &str, reading| of_reading(&plain, d(v), d(r), None, reading);
        assert_eq!(u("0", "0.1", Reading::Winding), (0.2, false));
        assert_eq!(u("100", "0.1", Reading::Winding), (1.2, false));
        assert_eq!(u("10e6", "1e4", Reading::Insulation), (3e6, false));
        assert!(u("0", "1e4", Reading::Insulation).0 > 0.0);
    }

    #[test]
    fn the_range_shown_gives_the_accuracy_not_the_value() {
        let two = meter(&[("40", 1.0, 5.0), ("400", 0.5, 2.0)]);
        let fine = of_reading(&two, d("3.9"), d("0.1"), Some(d("400")), Reading::Winding).0;
        assert!((fine - 2.0 * standard(3.9, 0.1, 0.5, 2.0)).abs() < 1e-12);
        assert!(!of_reading(&two, d("5000"), d("1"), None, Reading::Winding).1);
    }

    #[test]
    fn rule_06_offset_counts_cancel_against_a_null_of_the_same_range() {
        let m = meter(&[("400", 1.0, 5.0)]);
        let alone = of_reading(&m, d("2.3"), d("0.1"), None, Reading::Winding).0;
        let (less, _) = of_difference(&m, d("2.0"), d("2.3"), d("0.1"), None);
        assert!(less < alone / 3.0);
        // 2 √((0.02)²/3 + 2 (0.05)²/3), by hand.
        assert!((less - 0.084_853).abs() < 1e-5, "{less}");
    }

    #[test]
    fn parts_add_by_their_squares_and_grow_together() {
        let u = Uncertainty {
            meter: 2.0,
            null: 4.0,
            cable: 5.0,
            temperature: 6.0,
            ..Uncertainty::default()
        };
        // 4 + 16 + 25 + 36 is 81.
        assert!((u.total() - 9.0).abs() < 1e-12);
        let twice = u.times(2.0);
        let parts = [twice.meter, twice.null, twice.cable, twice.temperature];
        assert_eq!(parts, [4.0, 8.0, 10.0, 12.0]);
    }

    #[test]
    fn rule_06_a_part_is_named_only_when_no_other_is_larger() {
        let named = |meter, null, cable, temperature| {
            let u = Uncertainty {
                meter,
                null,
                cable,
                temperature,
                ..Uncertainty::default()
            };
            u.largest().0
        };
        assert_eq!(named(0.0, 0.0, 0.0, 0.0), "meter");
        assert_eq!(named(2.0, 1.0, 0.0, 0.0), "meter");
        assert_eq!(named(2.0, 0.0, 1.0, 0.0), "meter");
        assert_eq!(named(2.0, 0.0, 0.0, 1.0), "meter");
        assert_eq!(named(1.0, 2.0, 0.0, 0.0), "leads");
        assert_eq!(named(1.0, 0.0, 2.0, 0.0), "cable");
        assert_eq!(named(1.0, 0.0, 0.0, 2.0), "temperature");
    }

    #[test]
    fn rule_19_every_default_is_a_percentage_and_counts() {
        let plain = meter(&[]);
        let at = |v: &str, r: &str, reading| limit(&plain, d(v), d(r), None, reading);
        assert_eq!(at("100", "0.1", Reading::Winding), (1.2, false));
        assert_eq!(at("10e6", "1e4", Reading::Insulation), (3e6, false));
        // A count where 30 % is less.
        assert_eq!(at("1e4", "1e4", Reading::Insulation), (1e4, false));
        let (most, configured) = limit(
            &meter(&[("400", 1.0, 5.0)]),
            d("20.0"),
            d("0.1"),
            None,
            Reading::Winding,
        );
        assert!(configured && (most - 0.7).abs() < 1e-12);
        // 1 % of 2.0 and twice 0.1.
        let (u, configured) = of_difference(&plain, d("2.0"), d("2.3"), d("0.1"), None);
        assert!(!configured && (u - 0.22).abs() < 1e-12);
    }
}
