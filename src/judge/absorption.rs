//! Absorption: what the ratio of two insulation values of one hold says.
//!
//! Bands never fail a motor by themselves: a low ratio is a wet or a dirty
//! winding, or one that has little to absorb, and the value in megohms is what
//! fails. Below a least ratio (guarded, as all insulation), or falling under
//! voltage, it is undecided, so that nothing is cleared by it.

use super::Judgement;
use super::ratio::ratio;
use super::uncertainty::{Reading, of_reading};
use super::words::trimmed;
use crate::limits::{Bands, RatioKind};
use crate::meter::Meter;
use crate::quantity::Decimal;
use crate::row::{Finding, Verdict};

/// A value of the hold at one of its marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct At {
    /// In ohms.
    pub ohms: Decimal,
    /// One count of the range shown, in ohms.
    pub resolution: Decimal,
}

/// The ratio to three places, and what its bands say of it; no number where
/// there is none. `named` is the name of bands that were asked for and may not
/// be known.
pub fn absorption(
    kind: RatioKind,
    bands: Option<&Bands>,
    named: Option<&str>,
    meter: &Meter,
    early: At,
    late: At,
) -> (Option<Decimal>, Judgement) {
    let nothing = |why: String| Judgement::bare(Verdict::NotJudged, None, why);
    // Exact: ohms are megohms moved by six places.
    let megohm = |ohms: Decimal| ohms.shifted(-6).unwrap_or(ohms);
    let banded = match ratio(kind, bands, megohm(early.ohms), megohm(late.ohms)) {
        Ok(banded) => banded,
        Err(why) => return (None, nothing(why.to_string())),
    };
    let shown = Decimal::rounded(banded.number, -3).map(trimmed);
    let words = format!("{kind} {}", shown.unwrap_or_default());
    let Some(bands) = bands else {
        let why = named.map_or_else(
            || String::from("no bands are named"),
            |name| format!("bands {name} are not known"),
        );
        return (shown, nothing(format!("{words}; {why}")));
    };
    let u = doubt(meter, banded.number, early, late);
    let low = Some(Finding::BelowMinimum);
    let (verdict, finding, why) = match (banded.band.as_str(), bands.minimum) {
        ("not_judged", _) => (
            Verdict::NotJudged,
            None,
            String::from(
                "the early value is above 5000 MΩ, where it says nothing (IEEE 43-2013 clause 12.2)",
            ),
        ),
        _ if late.ohms < early.ohms => (
            Verdict::Undecided,
            low,
            format!("it falls under voltage: {DRY}"),
        ),
        (band, Some(least)) => {
            let terms = format!(
                "U {} (k = 2); at least {least}",
                Decimal::rounded(u, -2).map(trimmed).unwrap_or_default()
            );
            if band == "below_minimum" {
                (Verdict::Undecided, low, format!("{terms}: {DRY}"))
            } else if banded.number - u < least.to_f64() {
                let words = format!("{terms}, within U of it");
                (Verdict::Undecided, Some(Finding::LimitsTooNarrow), words)
            } else {
                (Verdict::Pass, Some(Finding::Within), terms)
            }
        }
        (band, None) => (Verdict::NotJudged, None, band.to_owned()),
    };
    let mut judgement = Judgement::bare(verdict, finding, format!("{words}; {why}"));
    judgement.limits_from = format!("{}: {}", bands.name, bands.source);
    (shown, judgement)
}

const DRY: &str = "stop, discharge, dry and clean, then repeat";

/// U of the ratio (k = 2). On one range of one meter the gain cancels and the
/// resolution is left (own); between two ranges the whole accuracy counts.
fn doubt(meter: &Meter, number: f64, early: At, late: At) -> f64 {
    let same_range = early.resolution == late.resolution;
    let relative = |at: At| {
        let u = if same_range {
            at.resolution.to_f64() / 3.0_f64.sqrt()
        } else {
            of_reading(meter, at.ohms, at.resolution, None, Reading::Insulation).0
        };
        u / at.ohms.to_f64()
    };
    let (a, b) = (relative(early), relative(late));
    number * (a * a + b * b).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::profile::shipped_bands;
    use crate::meter::PortId;
    use crate::text::Text;

    /// `pi ieee43-b 100M 250M`, the last two with the count they were shown by.
    fn check(text: &str, wanted: &str) {
        let words: Vec<&str> = text.split(' ').collect();
        let kind = RatioKind::from_word(words[0]).expect("pi or dar");
        let shipped = shipped_bands();
        let bands = shipped.iter().find(|b| b.name.as_str() == words[1]);
        let at = |digits: &str| {
            let value: Decimal = digits.parse().expect("megohms");
            At {
                ohms: value.shifted(6).expect("in range"),
                resolution: Decimal::one(value.exp()).shifted(6).expect("in range"),
            }
        };
        let meter = Meter::plain(Text::clean("m"), PortId(0));
        let named = Some(words[1]).filter(|name| *name != "-");
        let (number, said) = absorption(kind, bands, named, &meter, at(words[2]), at(words[3]));
        let number = number.map_or(String::from("none"), |n| n.to_string());
        let finding = said.finding.map_or("-", Finding::word);
        let real = format!("{number} {} {finding}", said.verdict);
        assert_eq!(real, wanted, "{text}: {}", said.reason);
    }

    #[test]
    fn a_least_ratio_is_guarded_and_never_fails_a_motor() {
        // Class B at least 2.0. 250/100 = 2.5; U is 2.5 √((1/√3/100)² + (1/√3/250)²) = 0.016.
        check("pi ieee43-b 100 250", "2.5 pass within");
        // 2.01 less 0.013 is below 2.
        check("pi ieee43-b 100 201", "2.01 undecided limits_too_narrow");
        check("pi ieee43-b 100 199", "1.99 undecided below_minimum");
        check("pi ieee43-a 120 180", "1.5 undecided limits_too_narrow");
        // Two ranges, accuracy not configured: 30 % of each, U 2.5 × 0.42 = 1.06.
        check("pi ieee43-b 99.9 250", "2.503 undecided limits_too_narrow");
        check("pi ieee43-b 99.9 500", "5.005 pass within");
    }

    #[test]
    fn falling_under_voltage_clears_nothing_and_trade_bands_only_name() {
        check("dar set-a 1.9 1.7", "0.895 undecided below_minimum");
        check("pi trade 100 300", "3 not_judged -");
        check("pi trade 100 100", "1 not_judged -");
        check("pi trade 100 99", "0.99 undecided below_minimum");
    }

    #[test]
    fn what_says_nothing_is_not_judged() {
        check("pi ieee43-b 5001 12000", "2.4 not_judged -");
        check("pi ieee43-b 5000 12000", "2.4 pass within");
        check("dar set-a 6000 9000", "1.5 not_judged -");
        check("pi set-a 100 200", "none not_judged -");
        check("pi - 100 200", "2 not_judged -");
        check("pi ours 100 200", "2 not_judged -");
        check("pi ieee43-b 0 200", "none not_judged -");
    }
}
