//! How frames are cut and prepared.

use core::time::Duration;

use toml::Spanned;

use crate::decode::{Check, Crc, Prepare, Sum};
use crate::description::framer::Framer;
use crate::description::schema::{self, CheckKind, CheckText, Frame, Order};
use crate::frame::{
    Counts, Delimited, Fixed, Gatt, Length, Packet, Rtu, Silence, Tagged, Tcp, Window,
};

use super::{Wrong, wrong};

/// The longest frame that a description may ask for.
const FRAME_MAX: usize = 4096;

/// The framer, and the gap for frames that end by silence.
pub(super) fn framer(written: &Spanned<Frame>) -> Result<(Framer, Option<Duration>), Wrong> {
    let bounded = |max: usize, least: usize| {
        if (least.max(1)..=FRAME_MAX).contains(&max) {
            Ok(max)
        } else {
            Err(wrong(
                written,
                format!(
                    "expected a longest frame from {} to {FRAME_MAX} bytes, found {max}",
                    least.max(1)
                ),
            ))
        }
    };
    let framer = match written.get_ref() {
        Frame::Delimited { ends, max } => {
            let ends: Vec<Vec<u8>> = ends.iter().map(|e| e.clone().into_bytes()).collect();
            let framer = Delimited::new(&ends, bounded(*max, 1)?).ok_or_else(|| {
                wrong(
                    written,
                    "expected `ends` of one to three single bytes, or one pair of bytes",
                )
            })?;
            Framer::Delimited(framer)
        }
        Frame::Fixed { sync, bytes, tail } => {
            if sync.0.is_empty() {
                return Err(wrong(written, "expected a `sync` of at least one byte"));
            }
            Framer::Fixed(Window::new(Fixed {
                bytes: bounded(*bytes, sync.0.len() + tail.0.len())?,
                sync: sync.0.clone(),
                tail: tail.0.clone(),
            }))
        }
        Frame::Length {
            sync,
            at,
            width,
            order,
            counts,
            check,
            max,
        } => {
            if sync.0.is_empty() {
                return Err(wrong(written, "expected a `sync` of at least one byte"));
            }
            if !matches!(width, 1 | 2) || *at < sync.0.len() {
                return Err(wrong(
                    written,
                    "expected a length of 1 or 2 bytes behind `sync`",
                ));
            }
            Framer::Length(Window::new(Length {
                sync: sync.0.clone(),
                at: *at,
                width: *width,
                little: little(*order).ok_or_else(|| words(written))?,
                counts: match counts {
                    schema::Counts::Body => Counts::Body,
                    schema::Counts::BodyAndCheck => Counts::BodyAndCheck,
                    schema::Counts::All => Counts::All,
                },
                check: *check,
                max: bounded(*max, at.saturating_add(*width).saturating_add(*check))?,
            }))
        }
        Frame::Silence { gap_ms, max } => {
            if *gap_ms == 0 {
                return Err(wrong(written, "expected a gap of at least 1 ms, found 0"));
            }
            let gap = Duration::from_millis(u64::from(*gap_ms));
            let framer = Framer::Silence(Silence::new(bounded(*max, 1)?));
            return Ok((framer, Some(gap)));
        }
        Frame::Packet { max } => Framer::Packet(Packet {
            max: bounded(*max, 1)?,
        }),
        Frame::Gatt { .. } => Framer::Gatt(Gatt::default()),
        Frame::TaggedNibbles { first, last, index } => {
            if first > last || *last > 15 {
                return Err(wrong(
                    written,
                    "expected indexes from 0 to 15, the first before the last",
                ));
            }
            Framer::Tagged(Window::new(Tagged {
                first: *first,
                last: *last,
                low: matches!(index, schema::Half::Low),
            }))
        }
        Frame::ModbusRtu {} => Framer::Rtu(Window::new(Rtu::default())),
        Frame::ModbusTcp {} => Framer::Tcp(Window::new(Tcp::default())),
    };
    Ok((framer, None))
}

/// Whether the low byte comes first; orders of words mean nothing for a length or a check.
fn little(order: Order) -> Option<bool> {
    match order {
        Order::Big => Some(false),
        Order::Little => Some(true),
        Order::BigSwapped | Order::LittleSwapped => None,
    }
}

fn words<T>(at: &Spanned<T>) -> Wrong {
    wrong(at, "expected the order \"big\" or \"little\" here")
}

/// The steps of preparing a frame.
pub(super) fn prepare(
    frame: &Spanned<Frame>,
    written: &[Spanned<schema::Prepare>],
) -> Result<Vec<Prepare>, Wrong> {
    let mut steps: Vec<Prepare> = match frame.get_ref() {
        // MODBUS over Serial Line V1.02, 6.2.2: over all before it, low byte first.
        Frame::ModbusRtu {} => vec![Prepare::Check(Check {
            sum: Sum::Crc(Box::new(Crc::modbus())),
            from: 0,
            to: -2,
            at: -2,
            hex: false,
            little: true,
        })],
        Frame::TaggedNibbles { index, .. } => {
            vec![Prepare::Untag(matches!(index, schema::Half::Low))]
        }
        _ => Vec::new(),
    };
    if let (Frame::ModbusRtu {} | Frame::ModbusTcp {}, Some(first)) =
        (frame.get_ref(), written.first())
    {
        return Err(wrong(first, "expected no `prepare` on a Modbus port"));
    }
    for at in written {
        steps.push(match at.get_ref() {
            schema::Prepare::Check(written) => Prepare::Check(check(at, written)?),
            schema::Prepare::Constant { at: place, hex } if !hex.0.is_empty() => {
                Prepare::Constant(*place, hex.0.clone())
            }
            schema::Prepare::Xor { key, from } if !key.0.is_empty() => {
                Prepare::Xor(*from, key.0.clone())
            }
            schema::Prepare::Constant { .. } | schema::Prepare::Xor { .. } => {
                return Err(wrong(at, "expected at least one byte, found none"));
            }
            &schema::Prepare::Fields { separator, count } => {
                if !separator.is_ascii() || count == 0 {
                    return Err(wrong(
                        at,
                        "expected an ASCII `separator` and at least one field",
                    ));
                }
                Prepare::Fields(separator as u8, count)
            }
            schema::Prepare::Add { value, from } => Prepare::Add(*from, *value),
            schema::Prepare::ReverseBits => Prepare::ReverseBits,
            schema::Prepare::ReverseBytes => Prepare::ReverseBytes,
            schema::Prepare::SwapNibbles => Prepare::SwapNibbles,
            schema::Prepare::PermuteBits { from } => {
                let mut sorted = *from;
                sorted.sort_unstable();
                if sorted != [0, 1, 2, 3, 4, 5, 6, 7] {
                    return Err(wrong(at, "expected each of the bits 0 to 7 once"));
                }
                Prepare::PermuteBits(*from)
            }
        });
    }
    Ok(steps)
}

fn check(at: &Spanned<schema::Prepare>, written: &schema::Check) -> Result<Check, Wrong> {
    let parameters = [written.poly, written.init, written.xor_out];
    let cyclic = matches!(written.kind, CheckKind::Crc16 | CheckKind::Crc32);
    let some = parameters.iter().any(Option::is_some)
        || written.reflect_in.is_some()
        || written.reflect_out.is_some();
    if some && !cyclic {
        return Err(wrong(at, "expected parameters of a CRC only with a CRC"));
    }
    let crc = |width: u32, poly: u32, init: u32, xor_out: u32| {
        let most = u32::MAX >> (32 - width);
        if parameters.iter().flatten().any(|p| *p > most) {
            return Err(wrong(
                at,
                format!("expected parameters of at most {width} bits"),
            ));
        }
        Ok(Sum::Crc(Box::new(Crc::new(
            width,
            written.poly.unwrap_or(poly),
            written.init.unwrap_or(init),
            written.reflect_in.unwrap_or(true),
            written.reflect_out.unwrap_or(true),
            written.xor_out.unwrap_or(xor_out),
        ))))
    };
    Ok(Check {
        sum: match written.kind {
            CheckKind::Sum8 => Sum::Sum8,
            CheckKind::TwosComplement => Sum::TwosComplement,
            CheckKind::Sum16 => Sum::Sum16,
            CheckKind::Xor => Sum::Xor,
            CheckKind::Crc16 => crc(16, 0x8005, 0xFFFF, 0)?,
            CheckKind::Crc32 => crc(32, 0x04C1_1DB7, u32::MAX, u32::MAX)?,
        },
        from: written.from,
        to: written.to,
        at: written.at,
        hex: written.written == CheckText::HexText,
        little: little(written.order).ok_or_else(|| words(at))?,
    })
}
