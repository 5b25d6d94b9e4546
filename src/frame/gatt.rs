//! Frames of a Bluetooth meter: each value it tells, with what its table says of it.
//!
//! The table of attributes comes first and is forgotten when the port opens
//! anew; a value without it, or of a handle that it does not name, is no frame.
//! Where the values describe themselves, a frame begins with a head of [`HEAD`]
//! bytes, which [`told`] reads; where a description names the characteristics,
//! it begins with the number of one, which [`named`] reads.

use std::sync::Arc;

use super::att::{self, Format, Pdu, Service, Uuid};
use super::{Cut, Sink, offer};

/// What stands before the value in a frame.
const HEAD: usize = 7;
const DESCRIBED: u8 = 1;
const BESIDE_OHM: u8 = 2;
const TWICE: u8 = 4;
/// Units of resistance, voltage and temperature (Bluetooth assigned numbers).
const OHM: u16 = 0x272A;
const VOLT: u16 = 0x2728;
const CELSIUS: u16 = 0x272F;
/// The longest value: one of a characteristic has 512 bytes at most (volume 3, part F, 3.2.9).
const LONGEST: usize = 512;

/// A characteristic that a description names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Named {
    /// Its UUID.
    pub uuid: Uuid,
    /// The service it belongs to, where several have one of that UUID.
    pub service: Option<Uuid>,
}

/// Follows one meter's PDUs.
#[derive(Clone, Debug, Default)]
pub struct Gatt {
    /// None: every value that describes itself is read.
    names: Option<Arc<[Named]>>,
    services: Vec<Service>,
    known: Vec<Known>,
    /// The handle that was asked for last.
    asked: Option<u16>,
}

#[derive(Clone, Copy, Debug)]
struct Known {
    value: u16,
    /// Its assigned number, if that alone says what its value is; else 0.
    assigned: u16,
    format: Option<Format>,
    /// Which of the names it has.
    named: Option<u8>,
}

impl Known {
    /// The unit of its values, if that is known and matters beside others.
    fn unit(&self) -> Option<u16> {
        match self.assigned {
            att::TEMPERATURE => Some(CELSIUS),
            att::VOLTAGE => Some(VOLT),
            0 => self.format.map(|format| format.unit),
            _ => None,
        }
    }
}

/// A frame, taken apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Told<'a> {
    /// How the characteristic describes its values.
    pub format: Option<Format>,
    /// Its assigned number, if that alone says what its value is; else 0.
    pub assigned: u16,
    /// Whether another characteristic of the meter tells ohms.
    pub beside_ohm: bool,
    /// Whether another characteristic tells the same unit.
    pub twice: bool,
    /// The value's bytes.
    pub value: &'a [u8],
}

/// Takes a frame apart; none: it was not cut here.
pub fn told(frame: &[u8]) -> Option<Told<'_>> {
    let (head, value) = frame.split_at_checked(HEAD)?;
    let has = |flag: u8| head[0] & flag != 0;
    let format = Format {
        format: head[1],
        exponent: i8::from_le_bytes([head[2]]),
        unit: u16::from_le_bytes([head[3], head[4]]),
    };
    Some(Told {
        format: has(DESCRIBED).then_some(format),
        assigned: u16::from_le_bytes([head[5], head[6]]),
        beside_ohm: has(BESIDE_OHM),
        twice: has(TWICE),
        value,
    })
}

/// Takes a frame of a named characteristic apart: which one, and its value.
pub fn named(frame: &[u8]) -> Option<(usize, &[u8])> {
    let (&number, value) = frame.split_first()?;
    Some((usize::from(number), value))
}

impl Gatt {
    /// Reads these characteristics instead of those that describe themselves;
    /// at most 256 of them.
    pub fn of(names: Arc<[Named]>) -> Self {
        Self {
            names: Some(names),
            ..Self::default()
        }
    }

    /// The port opened anew: whatever was known is of another connection.
    pub fn restart(&mut self) {
        self.services.clear();
        self.known.clear();
        self.asked = None;
    }

    /// A message went out.
    pub fn asked(&mut self, sent: &[u8]) {
        self.asked = att::asks_for(sent).or(self.asked);
    }

    /// Takes a chunk.
    pub fn push(&mut self, chunk: &[u8], sink: &mut impl Sink) {
        if chunk.is_empty() {
            return;
        }
        if chunk.len() > LONGEST + 3 {
            let bytes = &chunk[..LONGEST];
            return sink.cut(Cut::Bad("longer than any value of a characteristic", bytes));
        }
        match att::parse(chunk) {
            Err(why) => sink.cut(Cut::Bad(why, chunk)),
            Ok(Pdu::Services(all)) => self.services.extend(all),
            Ok(Pdu::Characteristics(all)) => {
                for characteristic in all {
                    self.known.retain(|k| k.value != characteristic.value);
                    self.known.push(Known {
                        value: characteristic.value,
                        assigned: (characteristic.uuid.as_short())
                            .filter(|number| att::speaks_for_itself(*number))
                            .unwrap_or_default(),
                        format: None,
                        named: self.number(characteristic.uuid, characteristic.value),
                    });
                }
            }
            Ok(Pdu::Formats(all)) => {
                for (handle, format) in all {
                    let before = self.known.iter_mut().filter(|k| k.value < handle);
                    if let Some(of) = before.max_by_key(|k| k.value) {
                        of.format = Some(format);
                    }
                }
            }
            Ok(Pdu::Value { handle, value }) => self.value(handle, value, chunk, sink),
            Ok(Pdu::ReadAnswer(value)) => match self.asked {
                Some(handle) => self.value(handle, value, chunk, sink),
                None => sink.cut(Cut::Bad("an answer to no read", chunk)),
            },
        }
    }

    /// Which of the names a characteristic has, by its UUID and its service.
    fn number(&self, uuid: Uuid, value: u16) -> Option<u8> {
        let inside = |s: &Service| (s.start..=s.end).contains(&value);
        let of = self.services.iter().find(|s| inside(s)).map(|s| s.uuid);
        let has = |name: &Named| {
            name.uuid == uuid && name.service.is_none_or(|service| Some(service) == of)
        };
        let at = self.names.as_ref()?.iter().position(has)?;
        u8::try_from(at).ok()
    }

    fn value(&self, handle: u16, value: &[u8], chunk: &[u8], sink: &mut impl Sink) {
        let Some(of) = self.known.iter().find(|k| k.value == handle) else {
            let why = match self.known.is_empty() {
                true => "a value before the meter's table of attributes",
                false => "a value at a handle that the meter's table does not name",
            };
            return sink.cut(Cut::Bad(why, chunk));
        };
        if self.names.is_some() {
            return match of.named {
                Some(number) => offer(&[&[number], value].concat(), sink),
                None => sink.cut(Cut::Bad(
                    "a value that the description does not name",
                    chunk,
                )),
            };
        }
        let beside = |unit: u16| {
            let mut others = self.known.iter().filter(|k| k.value != handle);
            others.any(|other| other.unit() == Some(unit))
        };
        let mut flags = 0;
        for (holds, flag) in [
            (of.format.is_some(), DESCRIBED),
            (beside(OHM), BESIDE_OHM),
            (of.unit().is_some_and(beside), TWICE),
        ] {
            if holds {
                flags |= flag;
            }
        }
        let format = of.format.unwrap_or(Format {
            format: 0,
            exponent: 0,
            unit: 0,
        });
        let [low, high] = format.unit.to_le_bytes();
        let [exponent] = format.exponent.to_le_bytes();
        let [short, long] = of.assigned.to_le_bytes();
        let head = [flags, format.format, exponent, low, high, short, long];
        offer(&[&head[..], value].concat(), sink);
    }
}
