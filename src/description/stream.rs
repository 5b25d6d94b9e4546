//! One port's bytes on their way to readings.

use core::fmt::Write as _;
use std::sync::Arc;

use crate::decode::{self, Described};
use crate::frame::{Cut, Expect, Sink, gatt};
use crate::meter::MeterId;
use crate::reading::{Flags, Reading};
use crate::stamp::Stamp;

use super::framer::{Bus, Framer};
use super::gatt::Beside;
use super::message::UNIT;
use super::{Heard, Plan};

/// One port's bytes on their way to readings.
#[derive(Debug)]
pub struct Stream {
    plan: Arc<Plan>,
    framer: Framer,
    desk: Desk,
    last: Stamp,
    /// Refused bytes that a request cut off, told with the next bytes or tick.
    late: Vec<(&'static str, Vec<u8>, Option<MeterId>)>,
    late_at: Stamp,
}

/// What decoding needs at hand; nothing here is allocated per frame.
#[derive(Debug)]
struct Desk {
    bus: Bus,
    meters: Vec<(MeterId, Option<u8>)>,
    readings: Vec<Reading>,
    scratch: Vec<u8>,
    prepared: bool,
    beside: Beside,
    why: String,
    frame: u32,
    asked: Option<usize>,
    unit: Option<u8>,
    /// The frame that `readings` came from, and what had been asked.
    same: Vec<u8>,
    same_asked: Option<usize>,
}

impl Stream {
    /// A stream for the meters on one port, each with its unit on a shared bus.
    /// It begins with a whole frame unless [`Stream::opened`] is called.
    pub fn new(plan: Arc<Plan>, meters: &[(MeterId, Option<u8>)]) -> Self {
        let bus = plan.framer.bus();
        let mut framer = plan.framer.clone();
        let mut asked = None;
        // A recording of answers alone: with one question only there is no doubt what was asked.
        if let [message] = plan.messages.as_slice() {
            let expect: Vec<Expect> = meters
                .iter()
                .filter_map(|(_, unit)| message.expect(0, *unit))
                .collect();
            if !expect.is_empty() {
                framer.listen(expect);
                asked = Some(0);
            }
        }
        Self {
            framer,
            desk: Desk {
                bus,
                meters: meters.to_vec(),
                readings: Vec::with_capacity(plan.readings.len()),
                scratch: Vec::new(),
                beside: Beside::default(),
                prepared: false,
                why: String::new(),
                frame: 0,
                asked,
                unit: None,
                same: Vec::new(),
                same_asked: None,
            },
            plan,
            last: Stamp::ZERO,
            late: Vec::new(),
            late_at: Stamp::ZERO,
        }
    }

    /// The plan it follows.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The port opened: what comes before the first frame start is not a frame.
    pub fn opened(&mut self) {
        self.broken();
    }

    /// Bytes were lost or the port closed: a half frame is dropped.
    pub fn broken(&mut self) {
        self.desk.asked = None;
        self.desk.unit = None;
        self.desk.beside.forget();
        self.framer.restart();
    }

    /// A message went out; an answer is expected.
    pub fn sent(&mut self, at: Stamp, data: &[u8]) {
        let (asked, expect) = self.plan.asked(data);
        let question = self.plan.is_question(asked);
        let meter = self.desk.meter();
        let mut cut_off = CutOff(&mut self.late, meter);
        self.framer.asked(question, expect, data, &mut cut_off);
        self.late_at = at;
        self.desk.asked = asked;
        self.desk.unit = expect.map(|e| e.unit);
    }

    /// A chunk arrived.
    pub fn bytes(&mut self, at: Stamp, data: &[u8], sink: &mut impl FnMut(Heard<'_>)) {
        self.tell_late(sink);
        if self.silence().is_some_and(|end| end <= at) {
            self.expire(at, sink);
        }
        self.last = at;
        let Self {
            plan, framer, desk, ..
        } = self;
        framer.push(data, &mut Hand { plan, desk, sink });
    }

    /// Time passed: a frame that ends by silence may have ended. The frame
    /// bears the stamp of its last byte, [`Stream::last_byte`].
    pub fn expire(&mut self, at: Stamp, sink: &mut impl FnMut(Heard<'_>)) {
        self.tell_late(sink);
        if self.silence().is_some_and(|end| end <= at) {
            self.end(sink);
        }
    }

    /// No more bytes will come: what is still held is a frame or is not.
    pub fn end(&mut self, sink: &mut impl FnMut(Heard<'_>)) {
        self.tell_late(sink);
        let Self {
            plan, framer, desk, ..
        } = self;
        framer.finish(&mut Hand { plan, desk, sink });
    }

    /// When [`Stream::expire`] wants to be called.
    pub fn deadline(&self) -> Option<Stamp> {
        if !self.late.is_empty() {
            return Some(self.late_at);
        }
        self.silence()
    }

    /// When a frame that ends by silence has ended.
    fn silence(&self) -> Option<Stamp> {
        match (&self.framer, self.plan.gap) {
            (Framer::Silence(framer), Some(gap)) if framer.waits() => Some(self.last.plus(gap)),
            _ => None,
        }
    }

    /// When the last byte arrived: the stamp of a frame that ends by silence.
    pub fn last_byte(&self) -> Stamp {
        self.last
    }

    fn tell_late(&mut self, sink: &mut impl FnMut(Heard<'_>)) {
        for (why, bytes, meter) in self.late.drain(..) {
            sink(Heard::Bad {
                meter,
                why,
                bytes: &bytes,
            });
        }
    }
}

/// Gathers what a new request cuts off: at most one frame of bytes.
struct CutOff<'a>(
    &'a mut Vec<(&'static str, Vec<u8>, Option<MeterId>)>,
    Option<MeterId>,
);

impl Sink for CutOff<'_> {
    fn stands(&mut self, _: &[u8]) -> Result<(), &'static str> {
        Err("an answer that came too late")
    }

    fn cut(&mut self, cut: Cut<'_>) {
        // Bounded even if requests go out and nothing ever asks what was heard.
        if let Cut::Bad(why, bytes) = cut
            && self.0.len() < 16
        {
            self.0.push((why, bytes.to_vec(), self.1));
        }
    }
}

/// Takes frames from a framer to the one who listens.
struct Hand<'a, F> {
    plan: &'a Plan,
    desk: &'a mut Desk,
    sink: &'a mut F,
}

impl<F: FnMut(Heard<'_>)> Sink for Hand<'_, F> {
    fn stands(&mut self, frame: &[u8]) -> Result<(), &'static str> {
        if !self.plan.prepare.is_empty() {
            let scratch = &mut self.desk.scratch;
            self.desk.prepared = decode::prepare(&self.plan.prepare, frame, scratch)?;
        }
        Ok(())
    }

    fn cut(&mut self, cut: Cut<'_>) {
        match cut {
            Cut::Bad(why, bytes) => (self.sink)(Heard::Bad {
                meter: self.desk.meter(),
                why,
                bytes,
            }),
            Cut::Frame(bytes) => match self.desk.decode(self.plan, bytes) {
                // What only stands beside other values gives no reading of its own.
                Ok(()) if self.desk.readings.is_empty() => {}
                Ok(()) => (self.sink)(Heard::Frame(&self.desk.readings)),
                Err(meter) => (self.sink)(Heard::Bad {
                    meter,
                    why: &self.desk.why,
                    bytes,
                }),
            },
        }
    }
}

impl Desk {
    /// The only meter, or the one that was asked.
    fn meter(&self) -> Option<MeterId> {
        match (self.meters.as_slice(), self.unit) {
            ([(meter, _)], _) => Some(*meter),
            (_, Some(unit)) => self.of_unit(unit),
            _ => None,
        }
    }

    /// A port's only meter, of which nobody said the unit, is whoever was asked.
    fn of_unit(&self, unit: u8) -> Option<MeterId> {
        if let [(meter, None)] = self.meters.as_slice() {
            return Some(*meter);
        }
        self.meters
            .iter()
            .find(|(_, u)| u.unwrap_or(UNIT) == unit)
            .map(|(meter, _)| *meter)
    }

    /// All readings of a frame; otherwise `why` says the reason, and whose it is comes back.
    fn decode(&mut self, plan: &Plan, bytes: &[u8]) -> Result<(), Option<MeterId>> {
        // Most displays stand still: the same bytes mean the same again.
        if !self.readings.is_empty() && self.same_asked == self.asked && self.same == bytes {
            self.frame = self.frame.wrapping_add(1);
            for reading in &mut self.readings {
                reading.frame = self.frame;
            }
            return Ok(());
        }
        let outcome = self.decode_new(plan, bytes);
        match outcome {
            Ok(()) => {
                self.same.clear();
                self.same.extend_from_slice(bytes);
                self.same_asked = self.asked;
            }
            Err(_) => self.readings.clear(),
        }
        outcome
    }

    fn decode_new(&mut self, plan: &Plan, bytes: &[u8]) -> Result<(), Option<MeterId>> {
        self.readings.clear();
        self.why.clear();
        let mut prepared = core::mem::take(&mut self.scratch);
        let outcome = match plan.characteristics.as_slice() {
            [] => self.read(plan, if self.prepared { &prepared } else { bytes }, None),
            all => match self.beside.body(all, bytes, &mut prepared) {
                Ok(of) => self.read(plan, &prepared, Some(of)),
                Err(why) => {
                    self.say(why);
                    Err(self.meter())
                }
            },
        };
        self.scratch = prepared;
        outcome
    }

    /// Reads the values of a frame: of all of them, or of one characteristic.
    fn read(
        &mut self,
        plan: &Plan,
        frame: &[u8],
        of: Option<usize>,
    ) -> Result<(), Option<MeterId>> {
        let (meter, body) = match self.bus {
            Bus::None => match self.meters.as_slice() {
                [(meter, _)] => (*meter, frame),
                _ => {
                    self.say("several meters share this port, but its frames name no unit");
                    return Err(None);
                }
            },
            Bus::Rtu => self.answer(frame, frame.len().saturating_sub(2))?,
            Bus::Tcp => self.answer(frame.get(6..).unwrap_or_default(), usize::MAX)?,
        };
        let number = self.frame.wrapping_add(1);
        if plan.is_described() {
            let read = gatt::told(body)
                .ok_or_else(|| String::from("a frame of another kind"))
                .and_then(|told| {
                    decode::described(&Described {
                        format: told.format.map(|f| (f.format, f.exponent, f.unit)),
                        assigned: told.assigned,
                        beside_ohm: told.beside_ohm,
                        twice: told.twice,
                        value: told.value,
                    })
                });
            return match read {
                Ok((quantity, got)) => {
                    self.readings.push(Reading {
                        meter,
                        frame: number,
                        quantity,
                        got,
                        flags: Flags::NONE,
                    });
                    self.frame = number;
                    Ok(())
                }
                Err(why) => {
                    self.say(why);
                    Err(Some(meter))
                }
            };
        }
        for reading in &plan.readings {
            let elsewhere = reading.answer_to.is_some() && reading.answer_to != self.asked;
            if elsewhere || reading.of != of {
                continue;
            }
            match reading.field.read(body) {
                Ok((got, flags)) => self.readings.push(Reading {
                    meter,
                    frame: number,
                    quantity: reading.quantity,
                    got,
                    flags,
                }),
                Err(refused) => {
                    match reading.field.why(refused) {
                        Some(why) => self.say(why),
                        None => self.say(refused),
                    }
                    return Err(Some(meter));
                }
            }
        }
        if self.readings.is_empty() && of.is_none() {
            self.say("an answer to no message that the description reads");
            return Err(Some(meter));
        }
        self.frame = number;
        Ok(())
    }

    /// Whose Modbus answer this is, and its registers: unit, function, count, registers.
    fn answer<'f>(
        &mut self,
        frame: &'f [u8],
        end: usize,
    ) -> Result<(MeterId, &'f [u8]), Option<MeterId>> {
        let [unit, function, code, ..] = *frame else {
            self.say("an answer without content");
            return Err(None);
        };
        let Some(meter) = self.of_unit(unit) else {
            self.say(format_args!("unit {unit} is no meter of this port"));
            return Err(None);
        };
        if function & 0x80 != 0 {
            self.say(format_args!(
                "the meter answers with exception {code} ({})",
                exception(code)
            ));
            return Err(Some(meter));
        }
        Ok((meter, &frame[3..end.min(frame.len())]))
    }

    fn say(&mut self, why: impl core::fmt::Display) {
        self.why.clear();
        if write!(self.why, "{why}").is_err() {
            self.why.push_str("refused");
        }
    }
}

/// MODBUS Application Protocol V1.1b3, clause 7.
const fn exception(code: u8) -> &'static str {
    match code {
        1 => "illegal function",
        2 => "illegal data address",
        3 => "illegal data value",
        4 => "server device failure",
        5 => "acknowledge",
        6 => "server device busy",
        8 => "memory parity error",
        10 => "gateway path unavailable",
        11 => "gateway target device failed to respond",
        _ => "unknown",
    }
}
