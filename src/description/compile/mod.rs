//! From what is written to what runs: every check of a description happens here, once.

mod framing;
mod gatt;
mod table;
mod value;

use core::ops::Range;
use core::time::Duration;

use toml::Spanned;

use crate::frame::Gatt;
use crate::frame::gatt::Named;
use crate::text::Text;

use super::When;
use super::check::Problem;
use super::framer::{Bus, Framer};
use super::gatt::{Characteristic, How};
use super::message::{Data, Message};
use super::plan::{Plan, ReadingPlan};
use super::schema::{self, Description};

/// Where in the text, and what is wrong there.
pub(super) type Wrong = (Range<usize>, String);

/// The most messages of a description: their number is half of a transaction.
const MESSAGES_MAX: usize = 64;

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
    let (framer, gap) = framing::framer(&written.frame)?;
    let characteristics = gatt::characteristics(&written.frame, &written.characteristic)?;
    let framer = match characteristics.as_slice() {
        [] => framer,
        all => Framer::Gatt(Gatt::of(
            all.iter()
                .map(|c| Named {
                    uuid: c.asked.uuid,
                    service: c.asked.service,
                })
                .collect(),
        )),
    };
    let bus = framer.bus();
    let mut messages: Vec<Message> = Vec::new();
    for send in &written.send {
        let message = message(send, bus, &characteristics)?;
        if messages.iter().any(|m| m.name == message.name) {
            let found = &send.get_ref().name;
            return Err(wrong(
                send,
                format!("expected a name of its own, found a second {found:?}"),
            ));
        }
        messages.push(message);
        if messages.len() > MESSAGES_MAX {
            let message = format!("expected at most {MESSAGES_MAX} messages");
            return Err(wrong(send, message));
        }
    }
    let described = matches!(framer, Framer::Gatt(_)) && characteristics.is_empty();
    if described && (!written.reading.is_empty() || !written.prepare.is_empty()) {
        let message = "expected neither `reading` nor `prepare`: the meter's own table says how its values are read";
        return Err(wrong(&written.frame, message));
    }
    if written.reading.is_empty() && !described {
        return Err((0..0, String::from("expected at least one `reading`")));
    }
    if let (Some(first), [_, ..]) = (written.prepare.first(), characteristics.as_slice()) {
        let message = "expected `prepare` in the `characteristic` whose values it is done to";
        return Err(wrong(first, message));
    }
    let tables = table::tables(&written.table)?;
    let mut readings: Vec<ReadingPlan> = Vec::new();
    for at in &written.reading {
        let reading = at.get_ref();
        let answer_to = match &reading.answer_to {
            None => None,
            Some(name) if !characteristics.is_empty() => {
                let message = "expected `of`: a value is told from others by its characteristic";
                return Err(wrong(name, message));
            }
            Some(name) => Some(message_named(name, &messages)?),
        };
        let of = of(at, &characteristics)?;
        // A reading of every answer overlaps with one of a certain answer.
        let twice = readings.iter().any(|r| {
            r.quantity == reading.quantity
                && (r.answer_to == answer_to || r.answer_to.is_none() || answer_to.is_none())
        });
        if twice {
            return Err(wrong(
                at,
                "expected one reading of each quantity in a frame, found a second",
            ));
        }
        readings.push(ReadingPlan {
            answer_to,
            of,
            quantity: reading.quantity,
            field: value::field(at, &tables)?,
        });
    }
    gatt::all_used(
        &written.characteristic,
        &characteristics,
        &readings,
        &messages,
    )?;
    for example in &written.example {
        if let Some(name) = &example.get_ref().answer_to {
            message_named(name, &messages)?;
        }
    }
    let used = |name: &str| {
        let marks = |r: &Spanned<schema::Reading>| {
            r.get_ref().marks.iter().any(|m| m.table.get_ref() == name)
        };
        written.reading.iter().any(marks)
    };
    if let Some((name, entries)) = written.table.iter().find(|(name, _)| !used(name)) {
        let at = entries.first().map_or(0..0, Spanned::span);
        return Err((
            at,
            format!("expected a mark that uses table {name:?}, found none"),
        ));
    }
    Ok(Plan {
        name: Text::clean(name),
        about: written.about.clone().unwrap_or_default(),
        shows_held: readings.iter().any(|r| {
            let tables = r.field.marks.iter().map(|mark| &mark.table);
            tables
                .flat_map(|table| &table.meanings)
                .any(|meaning| meaning.flags.not_now())
        }),
        prepare: framing::prepare(&written.frame, &written.prepare)?,
        characteristics,
        framer,
        gap,
        messages,
        readings,
    })
}

/// A problem at something written.
fn wrong<T>(at: &Spanned<T>, message: impl Into<String>) -> Wrong {
    (at.span(), message.into())
}

/// An unknown name, with the names that are known.
fn unknown<'a>(what: &str, found: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    let known: Vec<&str> = known.into_iter().collect();
    if known.is_empty() {
        format!("expected the name of {what}, found {found:?}; there is none")
    } else {
        let known = known.join(", ");
        format!("expected the name of {what}, found {found:?}; there are: {known}")
    }
}

fn message_named(name: &Spanned<String>, messages: &[Message]) -> Result<usize, Wrong> {
    let found = name.get_ref();
    messages
        .iter()
        .position(|m| m.name.as_str() == found)
        .ok_or_else(|| {
            let known = messages.iter().map(|m| m.name.as_str());
            wrong(name, unknown("a message of `send`", found, known))
        })
}

/// The characteristic that a reading is of; needed where there are any.
fn of(
    at: &Spanned<schema::Reading>,
    characteristics: &[Characteristic],
) -> Result<Option<usize>, Wrong> {
    let names = characteristics.iter().map(|c| c.asked.name.as_str());
    match (&at.get_ref().of, characteristics) {
        (None, []) => Ok(None),
        (None, _) => Err(wrong(
            at,
            "expected `of`: the characteristic whose value it reads",
        )),
        (Some(name), _) => {
            let number = gatt::named(name, names)?;
            match characteristics[number].asked.how {
                How::Write { .. } => Err(wrong(
                    name,
                    "expected one that tells a value, this one is only written",
                )),
                _ => Ok(Some(number)),
            }
        }
    }
}

/// The characteristic that a message is written to; needed where there are any.
fn to(
    written: &Spanned<schema::Send>,
    characteristics: &[Characteristic],
) -> Result<Option<usize>, Wrong> {
    let names = characteristics.iter().map(|c| c.asked.name.as_str());
    let send = written.get_ref();
    let number = match (&send.to, characteristics) {
        (None, []) => return Ok(None),
        (None, _) => {
            return Err(wrong(
                written,
                "expected `to`: the characteristic that it is written to",
            ));
        }
        (Some(name), _) => gatt::named(name, names)?,
    };
    if !matches!(characteristics[number].asked.how, How::Write { .. }) {
        return Err(wrong(
            written,
            "expected one with `how = \"write\"` or `\"write_without_response\"`",
        ));
    }
    if matches!(send.when, schema::When::Poll { .. }) {
        return Err(wrong(
            written,
            "expected `start` or `keep_alive`; a value is asked for by `how.read`",
        ));
    }
    Ok(Some(number))
}

fn message(
    written: &Spanned<schema::Send>,
    bus: Bus,
    characteristics: &[Characteristic],
) -> Result<Message, Wrong> {
    let send = written.get_ref();
    let to = to(written, characteristics)?;
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
    // Answers are told from requests by what was asked: nothing waits for ever, nothing floods.
    let waits = match when {
        When::Start => 1,
        When::KeepAlive { every } => every.as_millis(),
        When::Poll { every, timeout, .. } => every.min(timeout).as_millis(),
    };
    if waits == 0 {
        return Err(wrong(written, "expected times of at least 1 ms, found 0"));
    }
    let data = match &send.bytes {
        schema::Bytes::Text(text) if !text.is_empty() => {
            Data::Plain(text.clone().into_bytes().into())
        }
        schema::Bytes::Hex(hex) if !hex.0.is_empty() => Data::Plain(hex.0.clone().into()),
        schema::Bytes::Text(_) | schema::Bytes::Hex(_) => {
            return Err(wrong(written, "expected bytes to send, found none"));
        }
        &schema::Bytes::ModbusRead {
            function,
            register,
            count,
        } => {
            if bus == Bus::None {
                return Err(wrong(
                    written,
                    "expected `frame.modbus_rtu` or `frame.modbus_tcp` for a Modbus read",
                ));
            }
            if !matches!(function, 3 | 4) || !(1..=125).contains(&count) {
                return Err(wrong(
                    written,
                    "expected function 3 or 4 and a count from 1 to 125",
                ));
            }
            Data::Read {
                function,
                register,
                count: u16::from(count),
            }
        }
    };
    if bus != Bus::None && !matches!(data, Data::Read { .. }) {
        return Err(wrong(written, "expected a `modbus_read` on a Modbus port"));
    }
    let name = Text::new(&send.name).map_err(|e| wrong(written, format!("`name`: {e}")))?;
    Ok(Message {
        name,
        to,
        data,
        when,
    })
}

#[cfg(test)]
mod tests;
