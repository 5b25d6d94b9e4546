//! From what is written to what runs: every check of a description happens here, once.

use core::ops::Range;
use core::time::Duration;

use toml::Spanned;

use crate::decode::{Field, Large, Place, Suffix, TextNumber, UnitSet, Value, Words};
use crate::frame::Delimited;
use crate::text::Text;

use super::When;
use super::check::Problem;
use super::message::{Data, Message};
use super::plan::{Framer, Plan, ReadingPlan};
use super::schema::{self, Description};

/// The longest frame that a description may ask for.
const FRAME_MAX: usize = 4096;

/// Where in the text, and what is wrong there.
pub(super) type Wrong = (Range<usize>, String);

/// Reads, checks and compiles; the first problem ends it.
pub(super) fn compile(name: &str, text: &str) -> Result<Plan, Problem> {
    let written = read(text)?;
    plan(name, &written).map_err(|wrong| Problem::at(text, wrong))
}

/// Reads what is written.
pub(super) fn read(text: &str) -> Result<Description, Problem> {
    toml::from_str(text)
        .map_err(|e| Problem::at(text, (e.span().unwrap_or(0..0), e.message().to_owned())))
}

fn plan(name: &str, written: &Description) -> Result<Plan, Wrong> {
    let framer = framer(&written.frame)?;
    if let Some(first) = written.prepare.first() {
        return Err(wrong(first, "`prepare` is not supported yet"));
    }
    let mut messages: Vec<Message> = Vec::new();
    for send in &written.send {
        let message = message(send)?;
        if messages.iter().any(|m| m.name == message.name) {
            return Err(wrong(
                send,
                format!(
                    "expected a name of its own, found a second {:?}",
                    send.get_ref().name
                ),
            ));
        }
        messages.push(message);
    }
    if written.reading.is_empty() {
        return Err((0..0, String::from("expected at least one `reading`")));
    }
    let readings = written
        .reading
        .iter()
        .map(|reading| reading_plan(reading, &messages))
        .collect::<Result<_, _>>()?;
    Ok(Plan {
        name: Text::clean(name),
        framer,
        messages,
        readings,
        shows_held: false,
    })
}

/// A problem at something written.
pub(super) fn wrong<T>(at: &Spanned<T>, message: impl Into<String>) -> Wrong {
    (at.span(), message.into())
}

fn framer(written: &Spanned<schema::Frame>) -> Result<Framer, Wrong> {
    let bounded = |max: usize| {
        if (1..=FRAME_MAX).contains(&max) {
            Ok(max)
        } else {
            Err(wrong(
                written,
                format!("expected a longest frame from 1 to {FRAME_MAX} bytes, found {max}"),
            ))
        }
    };
    match written.get_ref() {
        schema::Frame::Delimited { ends, max } => {
            let ends: Vec<Vec<u8>> = ends.iter().map(|e| e.clone().into_bytes()).collect();
            Delimited::new(&ends, bounded(*max)?)
                .map(Framer::Delimited)
                .ok_or_else(|| {
                    wrong(
                        written,
                        "expected `ends` of one to three single bytes, or one pair of bytes",
                    )
                })
        }
        _ => Err(wrong(written, "this framing is not supported yet")),
    }
}

fn message(written: &Spanned<schema::Send>) -> Result<Message, Wrong> {
    let send = written.get_ref();
    let ms = |n: u32| Duration::from_millis(u64::from(n));
    let when = match send.when {
        schema::When::Start => When::Start,
        schema::When::KeepAlive { every_ms } => When::KeepAlive {
            every: ms(every_ms),
        },
        schema::When::Poll {
            every_ms,
            timeout_ms,
            quiet_ms,
        } => When::Poll {
            every: ms(every_ms),
            timeout: ms(timeout_ms),
            quiet: ms(quiet_ms),
        },
    };
    let data = match &send.bytes {
        schema::Bytes::Text(text) => Data::Plain(text.clone().into_bytes().into()),
        schema::Bytes::Hex(hex) => Data::Plain(hex.0.clone().into()),
        schema::Bytes::ModbusRead { .. } => {
            return Err(wrong(written, "`modbus_read` is not supported yet"));
        }
    };
    let name = Text::new(&send.name).map_err(|e| wrong(written, format!("`name`: {e}")))?;
    Ok(Message { name, data, when })
}

fn reading_plan(
    written: &Spanned<schema::Reading>,
    messages: &[Message],
) -> Result<ReadingPlan, Wrong> {
    let reading = written.get_ref();
    let answer_to = match &reading.answer_to {
        None => None,
        Some(name) => Some(
            messages
                .iter()
                .position(|m| m.name.as_str() == name.get_ref())
                .ok_or_else(|| {
                    let known: Vec<&str> = messages.iter().map(|m| m.name.as_str()).collect();
                    wrong(name, unknown("a message of `send`", name.get_ref(), &known))
                })?,
        ),
    };
    Ok(ReadingPlan {
        answer_to,
        quantity: reading.quantity,
        field: field(written, reading)?,
    })
}

/// An unknown name, with the names that are known.
pub(super) fn unknown(what: &str, found: &str, known: &[&str]) -> String {
    let known = if known.is_empty() {
        String::from("there is none")
    } else {
        format!("there are: {}", known.join(", "))
    };
    format!("expected the name of {what}, found {found:?}; {known}")
}

fn field(at: &Spanned<schema::Reading>, reading: &schema::Reading) -> Result<Field, Wrong> {
    let value = match &reading.value {
        schema::Value::Number { .. } => number(at, reading)?,
        _ => return Err(wrong(at, "this kind of value is not supported yet")),
    };
    Ok(Field {
        value,
        unit: reading.unit,
    })
}

fn number(at: &Spanned<schema::Reading>, reading: &schema::Reading) -> Result<Value, Wrong> {
    let schema::Value::Number {
        suffix,
        point,
        field,
        separator,
        at: column,
        length,
        label: _,
    } = &reading.value
    else {
        return Err(wrong(at, "expected a number"));
    };
    let place = match (field, separator, column, length) {
        (None, None, None, None) => Place::Whole,
        (Some(nth @ 1..), Some(separator), None, None) if separator.is_ascii() => {
            Place::Field(nth - 1, *separator as u8)
        }
        (None, None, Some(column), Some(length)) => Place::Columns(*column, *length),
        _ => {
            return Err(wrong(
                at,
                "expected `field` (from 1) with an ASCII `separator`, or `at` with `length`, or none of them",
            ));
        }
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
    let words = |words: &[String]| Words::new(words.iter().map(String::as_str));
    Ok(Value::Text(
        place,
        TextNumber {
            suffix: match suffix {
                schema::Suffix::None => Suffix::None,
                schema::Suffix::Display => Suffix::Display,
                schema::Suffix::Scpi => Suffix::Scpi,
            },
            point: match point {
                schema::Point::Point => b'.',
                schema::Point::Comma => b',',
            },
            unit: reading.unit,
            units: reading
                .units
                .iter()
                .fold(UnitSet::default().with(reading.unit), |set, u| set.with(*u)),
            over: words(&reading.over.words),
            nothing: words(&reading.nothing.words),
            over_from: large(&reading.over.at_least)?,
            nothing_at: large(&reading.nothing.equals)?,
            beyond: reading.over.beyond,
        },
    ))
}
