//! A check of a meter as it is asked for: which resistors, and what is read on them.

use serde_json::Value;

use super::fields::Fields;
use super::typed::shown;
use crate::input::{Known, Prove, Read};
use crate::quantity::{Decimal, Shown, Unit};

/// Reads `meter`, `known` and `leads`.
pub(super) fn prove(fields: &mut Fields<'_>) -> Option<Prove> {
    let meter = fields.need("meter", Fields::text);
    let known = fields.need("known", resistors);
    let leads = fields.words("leads");
    let leads = leads.map(|words| match shown(&words) {
        Ok(Some(shown)) if shown.unit == Unit::Ohm => Some(shown),
        Ok(_) => {
            fields.wrong("leads", format!("expected ohms, found {words:?}"));
            None
        }
        Err(e) => {
            fields.wrong("leads", e);
            None
        }
    });
    let leads: Option<Shown> = match leads {
        Some(None) => return None,
        Some(leads) => leads,
        None => None,
    };
    Some(Prove {
        meter: meter?,
        known: known?,
        leads,
    })
}

/// A list of resistors, each `{"resistor": "100 ohm 0.1 %"}`, with what is
/// `shown` on it where that is typed. An empty list breaks a check off.
fn resistors(fields: &mut Fields<'_>, key: &'static str) -> Option<Vec<Known>> {
    let Some(list) = fields.get(key)?.as_array() else {
        fields.wrong(key, "expected a list of resistors");
        return None;
    };
    let mut known = Vec::with_capacity(list.len());
    for each in list {
        let Value::Object(said) = each else {
            fields.wrong(key, format!("expected an object, found {each}"));
            return None;
        };
        let mut inside = Fields::inside(said, "known.");
        let read = match inside.words("shown") {
            None => Some(Read::Live),
            Some(words) => match shown(&words) {
                Ok(Some(shown)) => Some(Read::Shown(shown)),
                Ok(None) => Some(Read::OverRange),
                Err(e) => {
                    inside.wrong("shown", e);
                    None
                }
            },
        };
        let of = inside
            .need("resistor", Fields::words)
            .and_then(|words| match resistor(&words) {
                Ok(of) => Some(of),
                Err(e) => {
                    inside.wrong("resistor", e);
                    None
                }
            });
        fields.join(inside);
        let ((ohms, percent), read) = of.zip(read)?;
        known.push(Known {
            ohms,
            percent,
            read,
        });
    }
    Some(known)
}

/// Reads a resistor and its tolerance: `100 ohm 0.1 %`, `10k 1%`, `1 M ±5 %`.
fn resistor(words: &str) -> Result<(Decimal, Decimal), String> {
    let wrong = || {
        format!(
            "expected a resistor and its tolerance, such as \"100 ohm 0.1 %\" or \"10k 1%\", found {words:?}"
        )
    };
    let rest = words.trim().strip_suffix('%').ok_or_else(wrong)?;
    let (value, percent) = rest.trim().rsplit_once(' ').ok_or_else(wrong)?;
    let percent = percent.trim_start_matches('±');
    let percent: Decimal = percent.parse().map_err(|_| wrong())?;
    let value = value.trim().trim_end_matches('±');
    match shown(value).map_err(|_| wrong())? {
        Some(shown) if shown.unit == Unit::Ohm => Ok((shown.value, percent)),
        _ => Err(wrong()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(words: &str, expected: &str) {
        let found = match resistor(words) {
            Ok((ohms, percent)) => format!("{ohms} {percent}"),
            Err(_) => String::from("refused"),
        };
        assert_eq!(found, expected, "{words}");
    }

    #[test]
    fn a_resistor_is_typed_as_it_is_marked() {
        check("100 ohm 0.1 %", "100 0.1");
        check("10k 0.1 %", "10000 0.1");
        check("4.7 kΩ 1%", "4700 1");
        check("1M ±5 %", "1000000 5");
        check("1 MΩ ± 5 %", "1000000 5");
        check("100 ohm", "refused");
        check("0.1 %", "refused");
        check("100 V 1 %", "refused");
        check("OL 1 %", "refused");
    }
}
