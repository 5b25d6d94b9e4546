//! Insulation: what depends on its temperature, its profile, its bands.

use super::formula::{Answer, Given, Refused};
use super::wires::hot;
use crate::judge::correction;
use crate::limits::InsulationKind;
use crate::quantity::Celsius;

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
