//! Values of a frame: places, numbers, marks.

use std::collections::BTreeMap;
use std::sync::Arc;

use toml::Spanned;

use crate::decode::{
    Code, Digits, Field, Float, Int, Large, Mark, Order, Over, Place, Power, Segments, Suffix,
    Table, TextNumber, UnitSet, Value, Words,
};
use crate::description::schema::{self, Reading, Source};
use crate::reading::Got;

use super::{Wrong, unknown, wrong};

/// A reading's value with all that is said about it.
pub(super) fn field(
    at: &Spanned<Reading>,
    tables: &BTreeMap<&str, Arc<Table>>,
) -> Result<Field, Wrong> {
    let reading = at.get_ref();
    let (exponent, power) = match &reading.exponent {
        None => (0, None),
        Some(schema::Exponent::Fixed(exponent)) => (*exponent, None),
        Some(schema::Exponent::From(Source::Int(written))) => {
            (0, Some(Power::Int(int(at, written)?)))
        }
        Some(schema::Exponent::From(Source::Bits(bits))) => {
            (0, Some(Power::Bits(checked_bits(at, bits)?)))
        }
        Some(schema::Exponent::From(_)) => {
            return Err(wrong(at, "expected an exponent from `int` or `bits`"));
        }
    };
    Ok(Field {
        value: value(at)?,
        unit: reading.unit,
        exponent,
        power,
        marks: reading
            .marks
            .iter()
            .map(|mark| self::mark(at, mark, tables))
            .collect::<Result<_, _>>()?,
        full_scale: reading.full_scale,
        over: over(at)?,
        nan: reading.nothing.nan,
    })
}

fn mark(
    at: &Spanned<Reading>,
    mark: &schema::Mark,
    tables: &BTreeMap<&str, Arc<Table>>,
) -> Result<Mark, Wrong> {
    let name = mark.table.get_ref().as_str();
    let table = tables.get(name).ok_or_else(|| {
        let known = tables.keys().copied();
        wrong(&mark.table, unknown("a table", name, known))
    })?;
    let from = match &mark.from {
        Source::Int(written) => Code::Int(int(at, written)?),
        Source::Bits(bits) => Code::Bits(checked_bits(at, bits)?),
        Source::Word { at, length } => Code::Word(*at, *length),
        Source::Field { field, separator } => {
            Code::Field(place(at, (Some(*field), Some(*separator)), (None, None))?)
        }
    };
    let numbers = matches!(from, Code::Int(_) | Code::Bits(_));
    if numbers && !table.words.is_empty() || !numbers && !table.numbers.is_empty() {
        return Err(wrong(
            &mark.table,
            "expected `is` for codes that are numbers and `word` for codes that are text",
        ));
    }
    Ok(Mark {
        from,
        table: Arc::clone(table),
    })
}

/// What is over-range beside words; only what this kind of value can be.
fn over(at: &Spanned<Reading>) -> Result<Over, Wrong> {
    let Reading {
        value,
        over,
        nothing,
        ..
    } = at.get_ref();
    use schema::Value as V;
    let text = matches!(value, V::Number { .. });
    let float = matches!(value, V::Float { .. });
    let count = matches!(value, V::Int(_) | V::Bcd { .. } | V::Digits { .. });
    let digits = matches!(value, V::Bcd { .. } | V::Digits { .. } | V::Segments { .. });
    let misplaced = [
        (!over.words.is_empty() && !text, "over.words"),
        (over.beyond && !text, "over.beyond"),
        (over.at_least.is_some() && !text && !float, "over.at_least"),
        (over.maximum.is_some() && !count, "over.maximum"),
        (over.non_digit && !digits, "over.non_digit"),
        (over.infinity && !float, "over.infinity"),
        (!nothing.words.is_empty() && !text, "nothing.words"),
        (nothing.equals.is_some() && !text, "nothing.equals"),
        (nothing.nan && !float, "nothing.nan"),
    ];
    if let Some((_, key)) = misplaced.iter().find(|(wrong, _)| *wrong) {
        return Err(wrong(
            at,
            format!("`{key}` means nothing for this kind of value"),
        ));
    }
    let float_from = match &over.at_least {
        Some(text) if float => Some(text.parse::<f64>().map_err(|_| {
            wrong(
                at,
                format!("expected a number such as 9.9E37, found {text:?}"),
            )
        })?),
        _ => None,
    };
    Ok(Over {
        maximum: over.maximum,
        bit: over.bit,
        non_digit: over.non_digit,
        infinity: over.infinity,
        float_from,
    })
}

fn value(at: &Spanned<Reading>) -> Result<Value, Wrong> {
    let little = |o: schema::Order| match o {
        schema::Order::Big => Ok(false),
        schema::Order::Little => Ok(true),
        _ => Err(wrong(
            at,
            "expected the order \"big\" or \"little\" for digits",
        )),
    };
    Ok(match &at.get_ref().value {
        schema::Value::Number { .. } => number(at)?,
        schema::Value::Int(written) => Value::Int(int(at, written)?),
        schema::Value::Float {
            at: place,
            bytes,
            order,
            digits,
            decimals,
        } => {
            if !matches!(bytes, 4 | 8) {
                return Err(wrong(at, "expected a float of 4 or 8 bytes"));
            }
            if digits.is_none() && decimals.is_none() {
                return Err(wrong(
                    at,
                    "expected `digits` or `decimals`: a float does not say how many a display would show",
                ));
            }
            if !digits.is_none_or(|d| (1..=17).contains(&d)) || !decimals.is_none_or(|d| d <= 15) {
                return Err(wrong(at, "expected 1 to 17 digits and 0 to 15 decimals"));
            }
            Value::Float(Float {
                at: *place,
                bytes: *bytes,
                order: self::order(*order),
                digits: *digits,
                decimals: *decimals,
            })
        }
        &schema::Value::Bcd {
            at: place,
            nibbles,
            order,
        } => Value::Digits(Digits {
            at: place,
            count: width(at, nibbles)?,
            packed: true,
            zero: 0,
            base: 10,
            little: little(order)?,
        }),
        &schema::Value::Digits {
            at: place,
            count,
            zero,
            base,
            order,
        } => {
            if !matches!(base, 10 | 16) {
                return Err(wrong(at, "expected the base 10 or 16"));
            }
            Value::Digits(Digits {
                at: place,
                count: width(at, count)?,
                packed: false,
                zero,
                base,
                little: little(order)?,
            })
        }
        schema::Value::Segments {
            digits,
            points,
            minus,
        } => {
            width(at, u8::try_from(digits.len()).unwrap_or(u8::MAX))?;
            if points.len() >= digits.len() {
                return Err(wrong(
                    at,
                    "expected points between digits: one less than digits",
                ));
            }
            Value::Segments(Segments {
                digits: digits.clone(),
                points: points.clone(),
                minus: *minus,
            })
        }
    })
}

fn width(at: &Spanned<Reading>, digits: u8) -> Result<u8, Wrong> {
    if (1..=18).contains(&digits) {
        Ok(digits)
    } else {
        Err(wrong(
            at,
            format!("expected 1 to 18 digits, found {digits}"),
        ))
    }
}

fn order(written: schema::Order) -> Order {
    match written {
        schema::Order::Big => Order::Big,
        schema::Order::Little => Order::Little,
        schema::Order::BigSwapped => Order::BigSwapped,
        schema::Order::LittleSwapped => Order::LittleSwapped,
    }
}

fn int(at: &Spanned<Reading>, written: &schema::Int) -> Result<Int, Wrong> {
    let swapped = !matches!(written.order, schema::Order::Big | schema::Order::Little);
    if !(1..=8).contains(&written.bytes) || swapped && written.bytes % 2 == 1 {
        return Err(wrong(
            at,
            "expected 1 to 8 bytes, and whole words where they change places",
        ));
    }
    Ok(Int {
        at: written.at,
        bytes: written.bytes,
        order: order(written.order),
        signed: written.signed,
        bias: written.bias,
    })
}

fn checked_bits(at: &Spanned<Reading>, bits: &[u16]) -> Result<Vec<u16>, Wrong> {
    if bits.is_empty() || bits.len() > 16 {
        return Err(wrong(at, "expected 1 to 16 bits"));
    }
    Ok(bits.to_vec())
}

fn place<T>(
    at: &Spanned<T>,
    field: (Option<u8>, Option<char>),
    columns: (Option<i32>, Option<usize>),
) -> Result<Place, Wrong> {
    match (field, columns) {
        ((None, None), (None, None)) => Ok(Place::Whole),
        ((Some(nth @ 1..), Some(separator)), (None, None)) if separator.is_ascii() => {
            Ok(Place::Field(nth - 1, separator as u8))
        }
        ((None, None), (Some(column), Some(length))) => Ok(Place::Columns(column, length)),
        _ => Err(wrong(
            at,
            "expected `field` (from 1) with an ASCII `separator`, or `at` with `length`, or none of them",
        )),
    }
}

fn number(at: &Spanned<Reading>) -> Result<Value, Wrong> {
    let Reading {
        value,
        over,
        nothing,
        unit,
        units,
        ..
    } = at.get_ref();
    let &schema::Value::Number {
        suffix,
        point,
        field,
        separator,
        at: column,
        length,
    } = value
    else {
        return Err(wrong(at, "expected a number"));
    };
    let large = |text: &Option<String>| match text {
        None => Ok(None),
        Some(text) => Large::parse(text).map(Some).ok_or_else(|| {
            wrong(
                at,
                format!("expected a number such as 9.9E37, found {text:?}"),
            )
        }),
    };
    let mut number = TextNumber {
        suffix: match suffix {
            schema::Suffix::None => Suffix::None,
            schema::Suffix::Display => Suffix::Display,
            schema::Suffix::Scpi => Suffix::Scpi,
        },
        point: match point {
            schema::Point::Point => b'.',
            schema::Point::Comma => b',',
        },
        unit: *unit,
        units: units
            .iter()
            .fold(UnitSet::default().with(*unit), |set, u| set.with(*u)),
        over: Words::default(),
        nothing: Words::default(),
        over_from: large(&over.at_least)?,
        nothing_at: large(&nothing.equals)?,
        beyond: over.beyond,
    };
    for word in over.words.iter().chain(&nothing.words) {
        let reads = number.read(word.as_bytes());
        if word.trim().is_empty() || matches!(reads, Ok((Got::Value(_), _))) {
            return Err(wrong(
                at,
                format!("expected words that are no numbers, found {word:?}"),
            ));
        }
    }
    let both = |word: &&String| over.words.iter().any(|w| w.eq_ignore_ascii_case(word));
    if let Some(word) = nothing.words.iter().find(both) {
        return Err(wrong(
            at,
            format!("expected {word:?} to be over-range or no result, found both"),
        ));
    }
    number.over = Words::new(over.words.iter().map(String::as_str));
    number.nothing = Words::new(nothing.words.iter().map(String::as_str));
    let place = place(at, (field, separator), (column, length))?;
    Ok(Value::Text(place, number))
}
