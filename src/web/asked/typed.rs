//! Values as a person types them from a display: `22.7 kΩ`, `0.5ohm`, `OL`.

use crate::quantity::{Decimal, Shown, Unit};

/// Words that mean over-range.
const OVER: [&str; 5] = ["ol", "o.l", "o.l.", "over", "over-range"];

/// Reads a value as shown; `None` is over-range. A number without a unit is
/// ohm. On a display case decides: m is milli, M is mega.
///
/// # Errors
/// What was expected, what was found.
pub fn shown(words: &str) -> Result<Option<Shown>, String> {
    let words = words.trim();
    if OVER.contains(&words.to_lowercase().as_str()) {
        return Ok(None);
    }
    let end = words
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '+' | '-')))
        .unwrap_or(words.len());
    let (digits, rest) = words.split_at(end);
    let value: Decimal = digits.parse().map_err(|_| wrong(words))?;
    let (prefix, unit) = suffix(rest.trim()).ok_or_else(|| wrong(words))?;
    let value = value.shifted(prefix).ok_or_else(|| wrong(words))?;
    Ok(Some(Shown {
        prefix,
        ..Shown::plain(value, unit)
    }))
}

fn wrong(words: &str) -> String {
    format!("expected a value as on the display, such as 22.7 kΩ, 0.5ohm or OL, found {words:?}")
}

/// A prefix and a unit; a prefix alone is of ohms.
fn suffix(rest: &str) -> Option<(i8, Unit)> {
    if let Some(unit) = unit(rest) {
        return Some((0, unit));
    }
    let prefix = match rest.chars().next()? {
        'm' => -3,
        'µ' | 'μ' | 'u' => -6,
        'n' => -9,
        'k' | 'K' => 3,
        'M' => 6,
        'G' => 9,
        'T' => 12,
        _ => return None,
    };
    let behind = rest.char_indices().nth(1).map_or("", |(at, _)| &rest[at..]);
    unit(behind.trim()).map(|unit| (prefix, unit))
}

fn unit(word: &str) -> Option<Unit> {
    // U+03A9 and U+2126 look the same.
    match word {
        "" | "\u{3a9}" | "\u{2126}" => return Some(Unit::Ohm),
        "V" => return Some(Unit::Volt),
        "A" => return Some(Unit::Ampere),
        "°C" | "C" => return Some(Unit::Celsius),
        "%" => return Some(Unit::Percent),
        "s" => return Some(Unit::Second),
        _ => {}
    }
    ["ohm", "ohms"]
        .iter()
        .any(|ohm| word.eq_ignore_ascii_case(ohm))
        .then_some(Unit::Ohm)
}

/// The value of an analog scale: reading times multiplier, exact. One count is
/// the last digit that was read, times the multiplier.
///
/// # Errors
/// A product of more than 18 digits, or a multiplier that is not above 0.
pub fn analog(scale: Decimal, multiplier: Decimal) -> Result<Shown, String> {
    if multiplier <= Decimal::ZERO {
        return Err(format!(
            "expected a multiplier above 0 such as 10, found {multiplier}"
        ));
    }
    let (mut factor, mut power) = (multiplier.count(), multiplier.exp());
    // ×10 moves the point and adds no digit that was read.
    while factor % 10 == 0 {
        factor /= 10;
        power += 1;
    }
    let too_long = || format!("{scale} × {multiplier} has more digits than a reading");
    let times = |count: i64| {
        let count = count.checked_mul(factor)?;
        let exp = scale.exp().checked_add(power)?;
        Decimal::new(count, exp).ok()
    };
    let value = times(scale.count()).ok_or_else(too_long)?;
    Ok(Shown {
        resolution: times(1).ok_or_else(too_long)?,
        ..Shown::plain(value, Unit::Ohm)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(words: &str, expected: &str) {
        let said = match shown(words) {
            Ok(Some(s)) => format!("{} {} of {}", s.value, s.unit.word(), s.resolution),
            Ok(None) => String::from("over-range"),
            Err(_) => String::from("refused"),
        };
        assert_eq!(said, expected, "{words}");
    }

    #[test]
    fn a_value_is_typed_as_it_is_shown() {
        check("22.7 kΩ", "22700 ohm of 100");
        check("22.7 k\u{2126}", "22700 ohm of 100");
        check("22.7k", "22700 ohm of 100");
        check("0.5ohm", "0.5 ohm of 0.1");
        check("12.01 V", "12.01 volt of 0.01");
        check("4.3", "4.3 ohm of 0.1");
        check("2 M", "2000000 ohm of 1000000");
        check("2.00 mΩ", "0.00200 ohm of 0.00001");
        check(" -0.3 Ohms ", "-0.3 ohm of 0.1");
        check("OL", "over-range");
        check("22,7 k", "refused");
        check("k", "refused");
        check("1 2", "refused");
        check("5 Q", "refused");
        check("", "refused");
    }

    #[test]
    fn an_analog_scale_is_multiplied_exactly() {
        let d = |text: &str| text.parse::<Decimal>().expect("a decimal");
        let read = analog(d("3.2"), d("10")).expect("fits");
        assert_eq!((read.value, read.resolution), (d("32"), d("1")));
        let kilo = analog(d("3.25"), d("1000")).expect("fits");
        assert_eq!((kilo.value, kilo.resolution), (d("3250"), d("10")));
        assert_eq!(read.to_string(), "32 Ω");
        assert!(analog(d("3.2"), d("0")).is_err());
    }
}
