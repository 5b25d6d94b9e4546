//! The cable at the door: in segments, or as a loop that was measured.
//!
//! A segment is an object or words such as `120 m 2.5 mm2 copper 12 C`; words
//! are joined by ` + `. What comes out is one resistance there and back, with
//! its doubt and what it was computed from.

use serde_json::{Map, Value};

use super::fields::Fields;
use super::heat::{self, Scale};
use crate::judge::conductor::{ConductorError, Core, Stranding, Wire};
use crate::limits::{Cable, Conductor, Laid};
use crate::quantity::{Celsius, Decimal};
use crate::text::{Text, instead};

const EXAMPLE: &str = "write such as \"120 m 2.5 mm2 copper 12 C\" or \"80 m awg 10 stranded\"";
const WORDS: [&str; 5] = ["copper", "aluminium", "solid", "stranded", "awg"];
/// Metres in a foot (international foot, exact).
const FOOT: f64 = 0.3048;

/// What of a job's cable is said; one of 0 ohm is none.
pub(super) fn cable(fields: &mut Fields<'_>) -> Option<Cable> {
    let measured = fields.number("cable_ohms");
    let doubt = fields.number("cable_doubt_percent");
    let laid = fields.get("cable");
    let doubt = match doubt {
        Some(doubt) if doubt <= Decimal::ZERO || doubt > Decimal::one(2) => {
            fields.wrong(
                "cable_doubt_percent",
                format!("expected percent above 0 and up to 100, found {doubt}: no cable is known exactly"),
            );
            return None;
        }
        doubt => doubt,
    };
    let cable = match (measured, laid) {
        (Some(_), Some(_)) => {
            fields.wrong(
                "cable",
                "expected cable or cable_ohms, found both: leave one out",
            );
            return None;
        }
        (Some(ohms), None) if ohms < Decimal::ZERO => {
            fields.wrong(
                "cable_ohms",
                format!("expected ohms that are not below 0, found {ohms}"),
            );
            return None;
        }
        (Some(ohms), None) => Cable::of(ohms, Text::clean("loop as given")),
        (None, Some(laid)) => segments(fields, laid)?,
        (None, None) => {
            if doubt.is_some() {
                fields.wrong(
                    "cable_doubt_percent",
                    "expected cable or cable_ohms beside it, found neither",
                );
            }
            return None;
        }
    };
    let cable = match doubt {
        Some(doubt_percent) => Cable {
            doubt_percent,
            ..cable
        },
        None => cable,
    };
    Some(cable).filter(|cable| !cable.ohms.is_zero())
}

/// All segments in a row.
fn segments(fields: &mut Fields<'_>, laid: &Value) -> Option<Cable> {
    let mut each: Vec<&Value> = Vec::new();
    match laid {
        Value::Array(all) => each.extend(all),
        one => each.push(one),
    }
    let (mut ohms, mut from, mut laid) = (0.0, Vec::new(), Vec::new());
    let mut whole = !each.is_empty();
    if !whole {
        fields.wrong("cable", format!("expected a segment; {EXAMPLE}"));
    }
    let mut add = |(part, said, lies): (f64, String, Laid)| {
        ohms += part;
        from.push(said);
        laid.push(lies);
    };
    for (at, one) in each.into_iter().enumerate() {
        match one {
            Value::String(words) => {
                for words in words.split('+') {
                    match Segment::of_words(words).and_then(|s| s.finish()) {
                        Ok(done) => add(done),
                        Err(why) => {
                            whole = false;
                            fields.wrong("cable", format!("{:?}: {}", words.trim(), why.message));
                        }
                    }
                }
            }
            Value::Object(said) => match of_object(fields, at, said) {
                Some(done) => add(done),
                None => whole = false,
            },
            other => {
                whole = false;
                fields.wrong(
                    "cable",
                    format!(
                        "expected words or {{length_m, area_mm2 or awg}}, found {other}; {EXAMPLE}"
                    ),
                );
            }
        }
    }
    // A thousandth of an ohm is far below the doubt of any length.
    let place = if ohms < 0.1 { -5 } else { -3 };
    let rounded = Decimal::rounded(ohms, place);
    if whole && rounded.is_none() {
        fields.wrong("cable", format!("{ohms} ohm is no cable; {EXAMPLE}"));
    }
    let from = format!("{}, there and back", from.join(" + "));
    let mut cable = Cable::of(rounded.filter(|_| whole)?, Text::clean(&from));
    if let [one] = laid[..] {
        cable.laid = Some(one);
    }
    Some(cable)
}

fn of_object(
    fields: &mut Fields<'_>,
    at: usize,
    said: &Map<String, Value>,
) -> Option<(f64, String, Laid)> {
    let mut inner = Fields::inside(said, format!("cable[{}].", at + 1));
    let length = inner.need("length_m", Fields::number);
    let area = inner.number("area_mm2");
    let awg = inner.get("awg").map(|size| match size {
        Value::String(words) => words.trim().to_owned(),
        other => other.to_string(),
    });
    let size = match (area, awg) {
        (Some(area), None) => Some(Size::Area(area)),
        (None, Some(awg)) => Some(Size::Awg(awg)),
        (None, None) => {
            inner.miss("area_mm2");
            None
        }
        (Some(_), Some(_)) => {
            inner.wrong("awg", "expected area_mm2 or awg, found both");
            None
        }
    };
    let segment = Segment {
        length: length.map(|m| (m.to_f64(), m.to_string())),
        size,
        material: inner.choice("material", Conductor::ALL, Conductor::word),
        at: inner.number("temp_c").map(|c| Celsius(c.to_f64())),
        stranding: inner.choice("stranding", Stranding::ALL, Stranding::word),
    };
    let done = if segment.length.is_some() && segment.size.is_some() {
        let done = segment.finish();
        done.map_err(|why| inner.wrong(why.field, why.message)).ok()
    } else {
        None
    };
    fields.join(inner);
    done
}

/// A segment as far as it is said.
#[derive(Debug, Default)]
struct Segment {
    /// In metres, and as it was said.
    length: Option<(f64, String)>,
    size: Option<Size>,
    material: Option<Conductor>,
    at: Option<Celsius>,
    stranding: Option<Stranding>,
}

#[derive(Debug)]
enum Size {
    Area(Decimal),
    Awg(String),
}

/// What is wrong with a segment, and the field of it.
#[derive(Debug)]
struct Why {
    field: &'static str,
    message: String,
}

fn why(message: impl Into<String>) -> Why {
    Why {
        field: "length_m",
        message: message.into(),
    }
}

impl Segment {
    /// Reads `120 m 2.5 mm2 copper 12 C`, in any order, blanks before a unit or not.
    fn of_words(words: &str) -> Result<Self, Why> {
        let mut segment = Self::default();
        let tokens: Vec<String> = words.split_whitespace().flat_map(apart).collect();
        let mut tokens = tokens.iter().map(String::as_str);
        while let Some(token) = tokens.next() {
            if token.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '.')) {
                segment.number(token, tokens.next().unwrap_or_default())?;
            } else {
                let word = token.to_lowercase();
                let twice = match word.as_str() {
                    "copper" => segment.material.replace(Conductor::Copper).is_some(),
                    "aluminium" | "aluminum" => {
                        segment.material.replace(Conductor::Aluminium).is_some()
                    }
                    "solid" => segment.stranding.replace(Stranding::Solid).is_some(),
                    "stranded" => segment.stranding.replace(Stranding::Stranded).is_some(),
                    "awg" => {
                        let size = tokens.next().unwrap_or_default().to_owned();
                        segment.size.replace(Size::Awg(size)).is_some()
                    }
                    _ => {
                        let instead = instead(&word, WORDS.into_iter());
                        return Err(why(format!("{token:?} is unknown; {instead}; {EXAMPLE}")));
                    }
                };
                once(twice, token)?;
            }
        }
        Ok(segment)
    }

    /// A number with the unit behind it.
    fn number(&mut self, digits: &str, unit: &str) -> Result<(), Why> {
        let lower = unit.to_lowercase();
        if lower == "awg" {
            let twice = self.size.replace(Size::Awg(digits.to_owned())).is_some();
            return once(twice, unit);
        }
        let number: Decimal = digits
            .parse()
            .map_err(|e| why(format!("{e}, found {digits:?}; {EXAMPLE}")))?;
        let twice = match lower.as_str() {
            "m" => self
                .length
                .replace((number.to_f64(), number.to_string()))
                .is_some(),
            "ft" => {
                let metres = number.to_f64() * FOOT;
                let said = Decimal::rounded(metres, -1).map_or_else(String::new, |m| m.to_string());
                self.length.replace((metres, said)).is_some()
            }
            "mm2" | "mm²" => self.size.replace(Size::Area(number)).is_some(),
            "c" | "°c" => self
                .at
                .replace(heat::celsius(number, Scale::Celsius))
                .is_some(),
            "f" | "°f" => self
                .at
                .replace(heat::celsius(number, Scale::Fahrenheit))
                .is_some(),
            _ => {
                return Err(why(format!(
                    "expected a unit behind {digits}: m, ft, mm2, awg, C or F, found {unit:?}; {EXAMPLE}"
                )));
            }
        };
        once(twice, unit)
    }

    /// Its ohms there and back, what they were computed from, and how it lies.
    fn finish(&self) -> Result<(f64, String, Laid), Why> {
        let Some((metres, said)) = &self.length else {
            return Err(why(format!("expected a length in m; {EXAMPLE}")));
        };
        let at = |field| {
            move |e: ConductorError| Why {
                field,
                message: format!("{e}; {EXAMPLE}"),
            }
        };
        let (wire, size) = match &self.size {
            Some(Size::Area(mm2)) => (
                Wire::area(mm2.to_f64()).map_err(at("area_mm2"))?,
                format!("{mm2} mm²"),
            ),
            Some(Size::Awg(size)) => (Wire::awg(size).map_err(at("awg"))?, format!("AWG {size}")),
            None => {
                return Err(why(format!("expected a size in mm2 or awg; {EXAMPLE}")));
            }
        };
        let mut core = Core::of(wire);
        core.material = self.material.unwrap_or(core.material);
        core.stranding = self.stranding.unwrap_or(core.stranding);
        core.at = self.at.unwrap_or(core.at);
        // From the coldest yard to the hottest cable (own).
        if !(-50.0..=150.0).contains(&core.at.0) {
            return Err(Why {
                field: "temp_c",
                message: format!(
                    "expected a cable's temperature from -50 to 150 °C, found {}",
                    core.at.0
                ),
            });
        }
        let ohms = core.there_and_back(*metres).map_err(at("length_m"))?;
        let laid = match core.stranding {
            Stranding::Solid => "",
            Stranding::Stranded => "stranded ",
        };
        let assumed = if self.at.is_none() { " (assumed)" } else { "" };
        Ok((
            ohms,
            format!(
                "{said} m of {size} {laid}{} at {} °C{assumed}",
                core.material, core.at.0
            ),
            Laid {
                metres: *metres,
                mm2: core.wire.mm2(),
                material: core.material,
                stranded: core.stranding == Stranding::Stranded,
                at: self.at,
            },
        ))
    }
}

fn once(twice: bool, what: &str) -> Result<(), Why> {
    if twice {
        Err(why(format!(
            "{what:?} is said twice: expected one length and one size a segment, segments joined by +"
        )))
    } else {
        Ok(())
    }
}

/// A word and the number before or behind it, apart: `120m`, `2.5mm2`, `awg10`.
fn apart(token: &str) -> Vec<String> {
    let number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '/' | '-');
    let at = match token.chars().next() {
        Some(first) if number(first) => token.find(|c| !number(c)),
        _ if token.to_lowercase().starts_with("awg") => Some(3),
        _ => None,
    };
    match at {
        Some(at) if at < token.len() => vec![token[..at].to_owned(), token[at..].to_owned()],
        _ => vec![token.to_owned()],
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use crate::catalogue::Catalogue;
    use crate::web::asked::job_plan;

    /// Its ohms, doubt and origin, or what is refused.
    fn said(cable: Value) -> String {
        let motor = json!({ "kind": "two_wire", "rated_v": 230, "electronics": "no" });
        let mut said = json!({ "motor": motor, "asset": "well 2", "measured_at": "panel" });
        let all = said.as_object_mut().expect("an object");
        all.extend(cable.as_object().expect("an object").clone());
        match job_plan(all, &Catalogue::default()) {
            Ok(plan) => plan.cable.map_or_else(
                || String::from("none"),
                |c| format!("{} ±{} %: {}", c.ohms, c.doubt_percent, c.from),
            ),
            Err(wrong) => wrong.to_string(),
        }
    }

    #[track_caller]
    fn check(cable: Value, expected: &str) {
        assert_eq!(said(cable), expected);
    }

    #[track_caller]
    fn refuses(cable: Value, words: &str) {
        let found = said(cable);
        assert!(found.contains(words), "{words:?} is not in {found:?}");
    }

    #[test]
    fn segments_add_up_there_and_back() {
        // By hand: 2 × 120/(58 × 2.5) × (234.5 + 12)/(234.5 + 20) = 1.6031.
        let deep = "1.603 ±10 %: 120 m of 2.5 mm² copper at 12 °C, there and back";
        for words in [
            "120 m 2.5 mm2 copper 12 C",
            "12C copper 2.5mm² 120m",
            " 120  m 2.5 MM2 12 °c ",
        ] {
            check(json!({ "cable": words }), deep);
        }
        let object =
            json!({ "length_m": 120, "area_mm2": "2.5", "material": "copper", "temp_c": 12 });
        check(json!({ "cable": object }), deep);
        // AWG 10 is 5.2612 mm² (ASTM B258): 2 × 80/(58 × 5.2612) × 1.02 = 0.5348.
        let two = "2.138 ±10 %: 120 m of 2.5 mm² copper at 12 °C + 80 m of AWG 10 stranded copper at 20 °C (assumed), there and back";
        check(
            json!({ "cable": "120 m 2.5 mm2 copper 12 C + 80 m awg 10 stranded" }),
            two,
        );
        let other = json!({ "length_m": 80, "awg": 10, "stranding": "stranded" });
        check(json!({ "cable": [object, other] }), two);
        check(
            json!({ "cable": ["120 m 2.5 mm2 12C", "80m awg10 stranded"] }),
            two,
        );
        // 2 × 50 × 0.028264/16 = 0.17665.
        check(
            json!({ "cable": "50 m 16 mm2 aluminium 20 C", "cable_doubt_percent": 5 }),
            "0.177 ±5 %: 50 m of 16 mm² aluminium at 20 °C, there and back",
        );
        // 100 ft are 30.48 m: 2 × 30.48/(58 × 1) = 1.0510; 68 °F is 20 °C.
        check(
            json!({ "cable": "100 ft 1 mm2 68 F" }),
            "1.051 ±10 %: 30.5 m of 1 mm² copper at 20 °C, there and back",
        );
    }

    #[test]
    fn a_measured_loop_may_be_known_better() {
        check(json!({}), "none");
        check(json!({ "cable_ohms": "1.40" }), "1.40 ±10 %: loop as given");
        check(
            json!({ "cable_ohms": 1.4, "cable_doubt_percent": "2.5" }),
            "1.4 ±2.5 %: loop as given",
        );
        refuses(json!({ "cable_ohms": -1 }), "cable_ohms: expected ohms");
        refuses(
            json!({ "cable_ohms": "1.4 ohm" }),
            "cable_ohms: expected a plain decimal number",
        );
        refuses(
            json!({ "cable_ohms": 1, "cable": "1 m 1 mm2" }),
            "cable: expected cable or cable_ohms, found both",
        );
        for doubt in [json!(0), json!(-1), json!(101)] {
            refuses(
                json!({ "cable_ohms": 1, "cable_doubt_percent": doubt }),
                "cable_doubt_percent: expected percent above 0 and up to 100",
            );
        }
        refuses(
            json!({ "cable_ohms": 1, "cable_doubt_percent": "10 %" }),
            "cable_doubt_percent: expected a plain decimal number",
        );
        refuses(
            json!({ "cable_doubt_percent": 5 }),
            "cable_doubt_percent: expected cable or cable_ohms beside it",
        );
    }

    #[test]
    fn what_is_no_cable_is_refused_with_what_to_write() {
        for (words, expected) in [
            (
                "-5 m 2.5 mm2",
                "expected a length above 0 m, found -5; write such as",
            ),
            ("0 m 2.5 mm2", "expected a length above 0 m, found 0"),
            ("120 m 0 mm2", "expected an area above 0 mm2, found 0"),
            ("120 m awg 99", "expected an AWG size"),
            ("120 m awg", "expected an AWG size"),
            ("120 m", "expected a size in mm2 or awg"),
            ("2.5 mm2", "expected a length in m"),
            ("", "expected a length in m"),
            ("120 2.5 mm2", "expected a unit behind 120"),
            ("120 km 2.5 mm2", "expected a unit behind 120"),
            (
                "120 m 2,5 mm2",
                "expected a plain decimal number such as 12.5 or -3e-2, found \"2,5\"",
            ),
            (
                "120 m 2.5 mm2 cooper",
                "\"cooper\" is unknown; nearest: copper",
            ),
            ("120 m 30 m 2.5 mm2", "is said twice"),
            ("120 m 2.5 mm2 awg 10", "is said twice"),
            (
                "120 m 2.5 mm2 400 C",
                "a cable's temperature from -50 to 150",
            ),
            ("120 m 2.5 mm2 +", "expected a length in m"),
        ] {
            refuses(json!({ "cable": words }), "cable: \"");
            refuses(json!({ "cable": words }), expected);
        }
        for (object, expected) in [
            (
                json!({ "length_m": -5, "area_mm2": 1 }),
                "cable[1].length_m: expected a length above 0",
            ),
            (
                json!({ "length_m": "120 m", "area_mm2": 1 }),
                "cable[1].length_m: expected a plain decimal number",
            ),
            (
                json!({ "length_m": 5, "area_mm2": 0 }),
                "cable[1].area_mm2: expected an area above 0",
            ),
            (
                json!({ "length_m": 5, "awg": 99 }),
                "cable[1].awg: expected an AWG size",
            ),
            (json!({ "length_m": 5 }), "missing: cable[1].area_mm2"),
            (json!({ "area_mm2": 5 }), "missing: cable[1].length_m"),
            (
                json!({ "length_m": 5, "area_mm2": 1, "awg": 10 }),
                "cable[1].awg: expected area_mm2 or awg, found both",
            ),
            (
                json!({ "length_m": 5, "area_mm2": 1, "material": "iron" }),
                "cable[1].material: \"iron\" is unknown",
            ),
            (
                json!({ "length_m": 5, "area_mm2": 1, "tmp_c": 1 }),
                "cable[1].tmp_c: unknown field; nearest: temp_c",
            ),
            (json!(120), "cable: expected words or"),
            (json!([]), "cable: expected a segment"),
            (
                json!([{ "length_m": 5, "area_mm2": 1 }, { "length_m": 0, "area_mm2": 1 }]),
                "cable[2].length_m: expected",
            ),
        ] {
            refuses(json!({ "cable": object }), expected);
        }
    }
}
