//! The characteristics of a Bluetooth meter.

use core::time::Duration;

use toml::Spanned;

use crate::description::gatt::{Asked, Characteristic, How, Length};
use crate::description::message::Message;
use crate::description::plan::ReadingPlan;
use crate::description::schema::{self, Frame};
use crate::frame::att::Uuid;
use crate::text::Text;

use super::{Wrong, framing, unknown, wrong};

/// The longest value of a characteristic (Bluetooth Core volume 3, part F, 3.2.9).
const VALUE_MAX: usize = 512;
/// Characteristics at most: their number is a byte of each frame.
const MOST: usize = 64;

/// The characteristics that a description names, in order.
pub(super) fn characteristics(
    frame: &Spanned<Frame>,
    written: &[Spanned<schema::Characteristic>],
) -> Result<Vec<Characteristic>, Wrong> {
    match (frame.get_ref(), written) {
        (Frame::Gatt { described: false }, []) => {
            let message = "expected at least one `characteristic`, or `described = true` for a meter that describes its values";
            return Err(wrong(frame, message));
        }
        (Frame::Gatt { described: false }, _) | (_, []) => {}
        (_, [first, ..]) => {
            return Err(wrong(
                first,
                "expected `frame.gatt = {}` for a `characteristic`",
            ));
        }
    }
    if let Some(more) = written.get(MOST) {
        return Err(wrong(more, format!("expected at most {MOST} of them")));
    }
    let mut all: Vec<Characteristic> = Vec::new();
    for at in written {
        all.push(characteristic(frame, at, written)?);
        let [before @ .., last] = all.as_slice() else {
            continue;
        };
        if before.iter().any(|c| c.asked.name == last.asked.name) {
            let found = &at.get_ref().name;
            return Err(wrong(
                at,
                format!("expected a name of its own, found a second {found:?}"),
            ));
        }
        let place = |c: &Characteristic| (c.asked.uuid, c.asked.service);
        if before.iter().any(|c| place(c) == place(last)) {
            return Err(wrong(
                &at.get_ref().uuid,
                "expected each characteristic once",
            ));
        }
    }
    for number in 0..all.len() {
        let needed = all.iter().any(|c| c.beside == Some(number));
        all[number].asked.at_once = needed;
    }
    Ok(all)
}

fn characteristic(
    frame: &Spanned<Frame>,
    at: &Spanned<schema::Characteristic>,
    all: &[Spanned<schema::Characteristic>],
) -> Result<Characteristic, Wrong> {
    let written = at.get_ref();
    let name = Text::new(&written.name).map_err(|e| wrong(at, format!("`name`: {e}")))?;
    let how = match written.how {
        schema::How::Notify => How::Notify,
        schema::How::Indicate => How::Indicate,
        schema::How::Read { every_ms: 0 } => {
            return Err(wrong(at, "expected times of at least 1 ms, found 0"));
        }
        schema::How::Read { every_ms } => How::Read {
            every: Duration::from_millis(u64::from(every_ms)),
        },
        schema::How::Write => How::Write { response: true },
        schema::How::WriteWithoutResponse => How::Write { response: false },
    };
    let length = match (how, written.bytes, written.max) {
        (How::Write { .. }, None, None) => Length::Exactly(0),
        (How::Write { .. }, ..) => {
            return Err(wrong(at, "expected no length of what is only written"));
        }
        (_, Some(bytes @ 1..=VALUE_MAX), None) => Length::Exactly(bytes),
        (_, None, Some(max @ 1..=VALUE_MAX)) => Length::AtMost(max),
        _ => {
            let message = format!(
                "expected how long a value is: `bytes`, or `max` where that varies, from 1 to {VALUE_MAX}"
            );
            return Err(wrong(at, message));
        }
    };
    let beside = match &written.beside {
        None => None,
        Some(name) => Some(beside(name, all)?),
    };
    Ok(Characteristic {
        asked: Asked {
            name,
            uuid: uuid(&written.uuid)?,
            service: written.service.as_ref().map(uuid).transpose()?,
            how,
            at_once: false,
        },
        length,
        prepare: framing::prepare(frame, &written.prepare)?,
        beside,
    })
}

fn uuid(written: &Spanned<String>) -> Result<Uuid, Wrong> {
    let parsed = written.get_ref().parse();
    parsed.map_err(|message: String| wrong(written, message))
}

/// What stands beside a value must be told when it changes: one that is read
/// now and then would be believed for too long.
fn beside(name: &Spanned<String>, all: &[Spanned<schema::Characteristic>]) -> Result<usize, Wrong> {
    let number = named(name, all.iter().map(|c| c.get_ref().name.as_str()))?;
    let other = all[number].get_ref();
    if !matches!(other.how, schema::How::Notify | schema::How::Indicate) {
        let message = "expected a characteristic with `notify` or `indicate`: what is read now and then would be believed after the dial was turned";
        return Err(wrong(name, message));
    }
    if other.beside.is_some() {
        return Err(wrong(name, "expected one that has nothing beside itself"));
    }
    Ok(number)
}

/// The number of a characteristic by its name.
pub(super) fn named<'a>(
    name: &Spanned<String>,
    known: impl Iterator<Item = &'a str> + Clone,
) -> Result<usize, Wrong> {
    let found = name.get_ref();
    known
        .clone()
        .position(|k| k == found)
        .ok_or_else(|| wrong(name, unknown("a `characteristic`", found, known)))
}

/// A characteristic that nothing uses is a mistake.
pub(super) fn all_used(
    written: &[Spanned<schema::Characteristic>],
    all: &[Characteristic],
    readings: &[ReadingPlan],
    messages: &[Message],
) -> Result<(), Wrong> {
    for (number, (at, of)) in written.iter().zip(all).enumerate() {
        let (used, expected) = match of.asked.how {
            How::Write { .. } => (
                messages.iter().any(|m| m.to == Some(number)),
                "expected a message of `send` that is written to it",
            ),
            _ => (
                readings.iter().any(|r| r.of == Some(number))
                    || all.iter().any(|c| c.beside == Some(number)),
                "expected a `reading` of it, or another characteristic that it stands `beside`",
            ),
        };
        if !used {
            return Err(wrong(at, expected));
        }
    }
    Ok(())
}
