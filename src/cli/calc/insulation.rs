//! Insulation: what depends on its temperature, its profile, its bands.
//!
//! The profiles and bands are those that come with the program.

use std::sync::LazyLock;

use super::formula::{Answer, Given, Refused};
use super::number::{Number, quoted, written};
use super::wires::hot;
use crate::judge::ratio as judged;
use crate::judge::{correction, profile};
use crate::limits::profile::{find, shipped, shipped_bands};
use crate::limits::{Bands, InsulationKind, Profile, RatioKind};
use crate::quantity::{Celsius, Decimal, EXP_MAX, Volts};
use crate::text::instead;

/// The file inside the program, read once for all rows.
static PROFILES: LazyLock<Vec<Profile>> = LazyLock::new(shipped);
static BANDS: LazyLock<Vec<Bands>> = LazyLock::new(shipped_bands);

pub(super) fn at_40(given: &Given) -> Result<Answer, Refused> {
    let t = given.number("temp_c")?;
    // The word is checked by its key.
    let kind = given
        .word("insulation")
        .and_then(InsulationKind::from_word)
        .unwrap_or(InsulationKind::Thermoplastic);
    let corrected = correction::insulation_at_40(given.number("megohm")?, Celsius(t), kind)
        .map_err(Refused::new)?;
    Ok(hot(Answer::number(corrected), &[t]).noted(
        kind == InsulationKind::Thermosetting,
        "the two thermosetting coefficients are from memory",
    ))
}

fn named(given: &Given) -> Result<&'static Profile, Refused> {
    let name = given.word("profile").unwrap_or_default();
    find(&PROFILES, name).ok_or_else(|| {
        let near = instead(name, PROFILES.iter().map(|p| p.name.as_str()));
        Refused(format!("profile: unknown: {}; {near}", quoted(name)))
    })
}

pub(super) fn minimum(given: &Given) -> Result<Answer, Refused> {
    let (profile, rated) = (named(given)?, given.number("rated_v")?);
    let found = profile::insulation_minimum(profile, Some(Volts(rated)), given.word("condition"))
        .map_err(Refused::new)?;
    // The judge asks for this much where no decimal holds the minimum.
    if found.ohms >= Decimal::one(EXP_MAX) {
        return Err(Refused(format!("rated_v: {rated} is no motor's voltage")));
    }
    let mut answer = Answer::number(found.ohms.to_f64() / 1e6);
    answer.source = Some(found.source.to_string());
    Ok(answer)
}

pub(super) fn test_voltage(given: &Given) -> Result<Answer, Refused> {
    let (profile, rated) = (named(given)?, given.number("rated_v")?);
    let band =
        |profile| profile::test_voltage_band(profile, Some(Volts(rated))).map_err(Refused::new);
    let found = band(profile)?;
    let mut answer = Answer::several([Some(found.low.0), Some(found.high.0)]);
    answer.source = Some(profile.source.to_string());
    // Both rules are shown where they disagree.
    let other = if profile.name.as_str() == "ieee43" {
        "twice"
    } else {
        "ieee43"
    };
    if let Some(Ok(told)) = find(&PROFILES, other).map(band)
        && (told.high.0 < found.low.0 || told.low.0 > found.high.0)
    {
        let volts = Answer::several([Some(told.low.0), Some(told.high.0)])
            .result
            .replace(';', " to ");
        answer = answer.noted(
            true,
            format_args!("{other} says {volts} V: the rules disagree"),
        );
    }
    Ok(answer)
}

pub(super) fn ratio(given: &Given) -> Result<Answer, Refused> {
    // The word is checked by its key.
    let kind = given
        .word("kind")
        .and_then(RatioKind::from_word)
        .unwrap_or(RatioKind::Pi);
    let bands = given.word("profile").map(|name| {
        BANDS
            .iter()
            .find(|b| b.name.as_str() == name)
            .ok_or_else(|| {
                let near = instead(name, BANDS.iter().map(|b| b.name.as_str()));
                Refused(format!("profile: unknown: {}; {near}", quoted(name)))
            })
    });
    let bands = bands.transpose()?;
    let (early, late) = (
        given.written("early_megohm")?,
        given.written("late_megohm")?,
    );
    let found =
        judged::ratio(kind, bands, decimal(early)?, decimal(late)?).map_err(Refused::new)?;
    let mut answer = Answer::words([written(found.number), found.band.clone()]);
    if !found.source.is_empty() {
        answer.source = Some(found.source.to_string());
    }
    let judged = found.band != "not_judged";
    Ok(answer
        .noted(bands.is_none(), "no profile: not judged")
        .noted(
            !judged && bands.is_some(),
            "above 5000 megohm a polarization index is not judged (IEEE 43-2013 clause 12.2)",
        )
        .noted(
            judged && kind == RatioKind::Pi,
            "it may say nothing of a small random-wound winding (IEEE 43-2013 clause 5.4)",
        )
        .noted(
            judged && kind == RatioKind::Dar,
            "three band sets of the trade disagree",
        ))
}

/// As a display could show it, rounded to 17 digits where there are more.
fn decimal(number: &Number) -> Result<Decimal, Refused> {
    let size = number.value().abs();
    if let Some(decimal) = number.decimal() {
        return Ok(decimal);
    }
    let place = libm::floor(libm::log10(size)) - 16.0;
    let place = if size > 0.0 { place.max(-15.0) } else { 0.0 };
    let rounded = if place <= f64::from(EXP_MAX) {
        Decimal::rounded(number.value(), place as i8)
    } else {
        None
    };
    rounded
        .filter(|d| size >= 1e-6 || d.is_zero() && size == 0.0)
        .ok_or_else(|| {
            let size = written(size);
            Refused(format!("no insulation has {size} megohm: check the unit"))
        })
}
