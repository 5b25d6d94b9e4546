//! Frames of a Bluetooth meter: each value it tells, with what its table says of it.
//!
//! The table of attributes comes first and is forgotten when the port opens
//! anew; a value without it, or of a handle that it does not name, is no frame.
//! A frame begins with a head of [`HEAD`] bytes, which [`told`] reads.

use super::att::{self, BATTERY_LEVEL, Format, Pdu};
use super::{Cut, Sink, offer};

/// What stands before the value in a frame.
const HEAD: usize = 5;
const DESCRIBED: u8 = 1;
const BATTERY: u8 = 2;
const BESIDE_OHM: u8 = 4;
const TWICE: u8 = 8;
/// The unit of resistance (Bluetooth assigned numbers).
const OHM: u16 = 0x272A;
/// The longest value: one of a characteristic has 512 bytes at most (volume 3, part F, 3.2.9).
const LONGEST: usize = 512;

/// Follows one meter's PDUs.
#[derive(Clone, Debug, Default)]
pub struct Gatt {
    known: Vec<Known>,
    /// The handle that was asked for last.
    asked: Option<u16>,
}

#[derive(Clone, Copy, Debug)]
struct Known {
    value: u16,
    battery: bool,
    format: Option<Format>,
}

/// A frame, taken apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Told<'a> {
    /// How the characteristic describes its values.
    pub format: Option<Format>,
    /// Whether it is the battery's level.
    pub battery: bool,
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
        battery: has(BATTERY),
        beside_ohm: has(BESIDE_OHM),
        twice: has(TWICE),
        value,
    })
}

impl Gatt {
    /// The port opened anew: whatever was known is of another connection.
    pub fn restart(&mut self) {
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
            Ok(Pdu::Services(_)) => {}
            Ok(Pdu::Characteristics(all)) => {
                for characteristic in all {
                    self.known.retain(|k| k.value != characteristic.value);
                    self.known.push(Known {
                        value: characteristic.value,
                        battery: characteristic.uuid == BATTERY_LEVEL,
                        format: None,
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

    fn value(&self, handle: u16, value: &[u8], chunk: &[u8], sink: &mut impl Sink) {
        let Some(of) = self.known.iter().find(|k| k.value == handle) else {
            let why = match self.known.is_empty() {
                true => "a value before the meter's table of attributes",
                false => "a value at a handle that the meter's table does not name",
            };
            return sink.cut(Cut::Bad(why, chunk));
        };
        let others = || self.known.iter().filter(|k| k.value != handle);
        let unit = |k: &Known| k.format.map(|format| format.unit);
        let mut flags = 0;
        for (holds, flag) in [
            (of.format.is_some(), DESCRIBED),
            (of.battery, BATTERY),
            (others().any(|k| unit(k) == Some(OHM)), BESIDE_OHM),
            (
                of.format.is_some()
                    && !of.battery
                    && others().any(|k| unit(k) == unit(of) && !k.battery),
                TWICE,
            ),
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
        let head = [flags, format.format, exponent, low, high];
        offer(&[&head[..], value].concat(), sink);
    }
}
