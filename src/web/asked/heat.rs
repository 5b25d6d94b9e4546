//! A winding's temperature as people type it: `20`, `20 C`, `68F`.
//!
//! A plain number that is more likely Fahrenheit is asked back, never taken.

use serde_json::Value;

use super::fields::Fields;
use crate::quantity::{Celsius, Decimal};

/// Plain numbers inside this are degrees Celsius without a question (own).
const PLAIN: core::ops::RangeInclusive<f64> = -30.0..=50.0;
/// From the coldest yard to the hottest winding class (own).
const ALLOWED: core::ops::RangeInclusive<f64> = -50.0..=200.0;

/// Which degrees.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Scale {
    Celsius,
    Fahrenheit,
}

/// Degrees in Celsius, those of Fahrenheit to a tenth.
pub(super) fn celsius(degrees: Decimal, scale: Scale) -> Celsius {
    let degrees = degrees.to_f64();
    match scale {
        Scale::Celsius => Celsius(degrees),
        Scale::Fahrenheit => {
            let tenths = ((degrees - 32.0) * 50.0 / 9.0).round();
            Celsius(tenths / 10.0)
        }
    }
}

/// The field `temperature`.
pub(super) fn temperature(fields: &mut Fields<'_>) -> Option<Celsius> {
    let said = match fields.get("temperature")? {
        Value::String(words) => words.trim().to_owned(),
        Value::Number(number) => number.to_string(),
        other => {
            let message = format!("expected degrees such as 20, 20C or 68F, found {other}");
            fields.wrong("temperature", message);
            return None;
        }
    };
    read(&said)
        .map_err(|why| fields.wrong("temperature", why))
        .ok()
}

fn read(said: &str) -> Result<Celsius, String> {
    let (digits, scale) = match said.chars().last() {
        Some('C' | 'c') => (&said[..said.len() - 1], Some(Scale::Celsius)),
        Some('F' | 'f') => (&said[..said.len() - 1], Some(Scale::Fahrenheit)),
        _ => (said, None),
    };
    let digits = digits.trim_end();
    let digits = match scale {
        Some(_) => digits.strip_suffix('°').unwrap_or(digits).trim_end(),
        None => digits,
    };
    let degrees: Decimal = digits
        .parse()
        .map_err(|_| format!("expected degrees such as 20, 20C or 68F, found {said:?}"))?;
    let at = celsius(degrees, scale.unwrap_or(Scale::Celsius));
    if scale.is_none() && !PLAIN.contains(&at.0) {
        let other = celsius(degrees, Scale::Fahrenheit);
        if ALLOWED.contains(&other.0) || ALLOWED.contains(&at.0) {
            return Err(format!(
                "{degrees}: degrees Celsius? {degrees} °F would be {} °C; write {degrees}C or {degrees}F",
                other.0
            ));
        }
    }
    if ALLOWED.contains(&at.0) {
        return Ok(at);
    }
    Err(format!(
        "expected degrees Celsius from -50 to 200, found {}",
        at.0
    ))
}

#[cfg(test)]
mod tests {
    use super::read;

    #[track_caller]
    fn check(said: &str, expected: &str) {
        let found = match read(said) {
            Ok(at) => at.0.to_string(),
            Err(why) => why,
        };
        assert_eq!(found, expected, "{said}");
    }

    #[test]
    fn degrees_are_read_as_they_are_written() {
        for (said, celsius) in [
            ("20", "20"),
            ("-10.5", "-10.5"),
            ("20 C", "20"),
            ("75c", "75"),
            ("20 °C", "20"),
            // Fixed points: 32 °F is 0 °C, 212 °F is 100 °C, -40 is both.
            ("32F", "0"),
            ("212 °F", "100"),
            ("-40F", "-40"),
            ("68F", "20"),
            ("70f", "21.1"),
            ("50", "50"),
            ("-30", "-30"),
        ] {
            check(said, celsius);
        }
    }

    #[test]
    fn a_plain_number_that_is_more_likely_fahrenheit_is_asked_back() {
        check(
            "68",
            "68: degrees Celsius? 68 °F would be 20 °C; write 68C or 68F",
        );
        check(
            "50.1",
            "50.1: degrees Celsius? 50.1 °F would be 10.1 °C; write 50.1C or 50.1F",
        );
        check(
            "-31",
            "-31: degrees Celsius? -31 °F would be -35 °C; write -31C or -31F",
        );
    }

    #[test]
    fn what_no_winding_has_is_refused() {
        let out = |found: &str| format!("expected degrees Celsius from -50 to 200, found {found}");
        check("900", &out("900"));
        check("201C", &out("201"));
        check("-51 C", &out("-51"));
        check("393F", &out("200.6"));
        for words in ["warm", "20,5", "20 K", "C", "", "20 C C", "°", "2 0"] {
            check(
                words,
                &format!("expected degrees such as 20, 20C or 68F, found {words:?}"),
            );
        }
    }
}
