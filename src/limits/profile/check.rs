//! What a profile must be before anything is judged by it.
//!
//! A slip of the unit or of the order would clear a bad motor or never pass a
//! good one: ohms written for megohms, a minimum that falls where the voltage
//! rises, a line that can never hold. Each check names the key to look at.

use super::{Bands, MinimumLine, Profile, VoltageLine};
use crate::quantity::Decimal;

/// The key, and what is wrong.
type Checked = Result<(), (&'static str, String)>;

/// No minimum is below this: IEC 60204-1 clause 18.3 allows 50 kΩ for parts
/// such as slip rings, the least of any standard known here (from memory).
const LEAST_MEGOHM: (i64, i8) = (5, -2);
/// No minimum is above this: above it over-range of few testers proves anything (own).
const MOST_MEGOHM: (i64, i8) = (1, 5);
/// The largest step of a tester, in volts.
const MOST_V: (i64, i8) = (1, 4);
/// No test is at more than so many times the rated voltage (own).
const MOST_TIMES: (i64, i8) = (5, 0);
/// No hold is longer than an hour (own).
const MOST_MARK_S: u32 = 3600;

fn d((count, exp): (i64, i8)) -> Decimal {
    Decimal::new(count, exp).unwrap_or_default()
}

pub(super) fn minimum(line: &MinimumLine) -> Checked {
    bounds(line.below_v, line.up_to_v)?;
    for (key, megohm) in [
        ("megohm", line.megohm),
        ("megohm_per_kv", line.megohm_per_kv),
        ("at_least_megohm", line.at_least_megohm),
    ] {
        if megohm < Decimal::ZERO || megohm > d(MOST_MEGOHM) {
            return wrong(
                key,
                format!("expected megohms from 0 to 100000, found {megohm}"),
            );
        }
    }
    let fixed = line.megohm.max(line.at_least_megohm);
    if fixed < d(LEAST_MEGOHM) {
        return wrong(
            "megohm",
            format!(
                "expected at least 0.05 in megohm or at_least_megohm at any rated voltage, found {fixed}; write megohms, so 0.5 for 500 kilohms"
            ),
        );
    }
    Ok(())
}

pub(super) fn voltage(line: &VoltageLine) -> Checked {
    bounds(line.below_v, line.up_to_v)?;
    match (line.low_v, line.high_v, line.times) {
        (Some(low), Some(high), None) => {
            for (key, volts) in [("low_v", low), ("high_v", high)] {
                if volts <= Decimal::ZERO || volts > d(MOST_V) {
                    return wrong(
                        key,
                        format!("expected volts above 0 and up to 10000, found {volts}"),
                    );
                }
            }
            if low > high {
                return wrong(
                    "low_v",
                    format!("low_v {low} is above high_v {high}; exchange them"),
                );
            }
            Ok(())
        }
        (None, None, Some(times)) => {
            if times <= Decimal::ZERO || times > d(MOST_TIMES) {
                return wrong(
                    "times",
                    format!("expected a factor above 0 and up to 5, found {times}"),
                );
            }
            Ok(())
        }
        _ => wrong(
            "times",
            String::from(
                "expected either low_v and high_v, or times: the test voltage is a band or a multiple of the rated one",
            ),
        ),
    }
}

pub(super) fn profile(profile: &Profile) -> Checked {
    if profile.mark_s.is_some_and(|s| s == 0 || s > MOST_MARK_S) {
        return wrong(
            "mark_s",
            "expected seconds from 1 to 3600; leave it out for a spot test of 5 to 10 s".to_owned(),
        );
    }
    if profile.correct_to_c.is_some_and(|c| c != 40) {
        return wrong(
            "correct_to_c",
            "expected 40, the only temperature that the corrections lead to; leave it out for values as read".to_owned(),
        );
    }
    if profile.minimum.is_empty() && profile.test_voltage.is_empty() {
        return wrong(
            "minimum",
            "neither minimum nor test_voltage: there is nothing to judge by; write minimum = [{ megohm = 1 }]".to_owned(),
        );
    }
    let mut conditions: Vec<_> = profile.minimum.iter().map(|l| &l.condition).collect();
    conditions.sort();
    conditions.dedup();
    for condition in conditions {
        let lines: Vec<&MinimumLine> = profile
            .minimum
            .iter()
            .filter(|l| l.condition == *condition)
            .collect();
        rising("minimum", lines.iter().map(|l| (l.below_v, l.up_to_v)))?;
        for pair in lines.windows(2) {
            falls(pair[0], pair[1])?;
        }
    }
    rising(
        "test_voltage",
        profile.test_voltage.iter().map(|l| (l.below_v, l.up_to_v)),
    )
}

pub(super) fn bands(bands: &Bands) -> Checked {
    match bands.minimum {
        Some(_) if !bands.bounds.is_empty() => {
            return wrong(
                "minimum",
                "expected bounds or minimum, found both; delete one".to_owned(),
            );
        }
        Some(minimum) if minimum <= Decimal::ZERO => {
            return wrong(
                "minimum",
                format!("expected a ratio above 0, found {minimum}"),
            );
        }
        Some(_) => return Ok(()),
        None => {}
    }
    if bands.bounds.is_empty() {
        return wrong(
            "bounds",
            "neither bounds nor minimum: write bounds = [1, 2, 4] or minimum = 2".to_owned(),
        );
    }
    if bands.bounds[0] <= Decimal::ZERO || bands.bounds.windows(2).any(|w| w[0] >= w[1]) {
        return wrong(
            "bounds",
            "expected ratios above 0 that rise, each once".to_owned(),
        );
    }
    Ok(())
}

fn bounds(below: Option<Decimal>, up_to: Option<Decimal>) -> Checked {
    if below.is_some() && up_to.is_some() {
        return wrong(
            "below_v",
            "expected below_v or up_to_v, found both; delete one".to_owned(),
        );
    }
    for (key, volts) in [("below_v", below), ("up_to_v", up_to)] {
        if volts.is_some_and(|v| v <= Decimal::ZERO) {
            return wrong(key, "expected volts above 0".to_owned());
        }
    }
    Ok(())
}

/// Lines that are tried in order must reach further each time: else one never holds.
fn rising(
    key: &'static str,
    lines: impl Iterator<Item = (Option<Decimal>, Option<Decimal>)>,
) -> Checked {
    // How far the line before reaches: the voltage, and whether it holds there too.
    let mut reached: Option<Option<(Decimal, bool)>> = None;
    for (below, up_to) in lines {
        let reach = below.map(|v| (v, false)).or(up_to.map(|v| (v, true)));
        let further = match (reached, reach) {
            (None, _) => true,
            (Some(None), _) => false,
            (Some(Some(_)), None) => true,
            (Some(Some(before)), Some(now)) => now > before,
        };
        if !further {
            return wrong(key, "a line never holds, since one before it covers its voltages; write the lowest voltages first, the line without a bound last".to_owned());
        }
        reached = Some(reach);
    }
    Ok(())
}

/// A minimum that is lower where the rated voltage is higher is a slip.
fn falls(before: &MinimumLine, after: &MinimumLine) -> Checked {
    let Some(edge) = before.below_v.or(before.up_to_v) else {
        return Ok(());
    };
    let at = |line: &MinimumLine| {
        let sum = line.megohm.to_f64() + line.megohm_per_kv.to_f64() * edge.to_f64() / 1000.0;
        sum.max(line.at_least_megohm.to_f64())
    };
    if at(after) < at(before) * (1.0 - 1e-9) {
        return wrong(
            "minimum",
            format!(
                "above {edge} V it asks for less than below ({} megohm, then {}); a minimum does not fall as the rated voltage rises",
                at(before),
                at(after)
            ),
        );
    }
    Ok(())
}

fn wrong(key: &'static str, message: String) -> Checked {
    Err((key, format!("{key}: {message}")))
}
