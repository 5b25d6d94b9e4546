//! One port's bytes on their way to readings.

use std::fmt::Write as _;
use std::sync::Arc;

use crate::frame::Cut;
use crate::meter::MeterId;
use crate::reading::Reading;
use crate::stamp::Stamp;

use super::Heard;
use super::plan::{Framer, Plan};

/// One port's bytes on their way to readings.
#[derive(Debug)]
pub struct Stream {
    plan: Arc<Plan>,
    framer: Framer,
    desk: Desk,
}

/// What decoding needs at hand; nothing here is allocated per frame.
#[derive(Debug)]
struct Desk {
    meters: Vec<(MeterId, Option<u8>)>,
    readings: Vec<Reading>,
    why: String,
    frame: u32,
    asked: Option<usize>,
}

impl Stream {
    /// A stream for the meters on one port, each with its unit on a shared bus.
    pub fn new(plan: Arc<Plan>, meters: &[(MeterId, Option<u8>)]) -> Self {
        Self {
            framer: plan.framer.clone(),
            desk: Desk {
                meters: meters.to_vec(),
                readings: Vec::with_capacity(plan.readings.len()),
                why: String::new(),
                frame: 0,
                asked: None,
            },
            plan,
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
        match &mut self.framer {
            Framer::Delimited(framer) => framer.restart(),
        }
    }

    /// A message went out; an answer is expected.
    pub fn sent(&mut self, at: Stamp, data: &[u8]) {
        let _ = at;
        self.desk.asked = self.plan.asked(data);
        match &mut self.framer {
            Framer::Delimited(framer) => framer.asked(),
        }
    }

    /// A chunk arrived.
    pub fn bytes(&mut self, at: Stamp, data: &[u8], sink: &mut impl FnMut(Heard<'_>)) {
        let _ = at;
        let Self { plan, framer, desk } = self;
        match framer {
            Framer::Delimited(framer) => framer.push(data, &mut |cut| desk.take(plan, cut, sink)),
        }
    }

    /// Time passed: a frame that ends by silence may have ended. The frame
    /// bears the stamp of its last byte.
    pub fn expire(&mut self, at: Stamp, sink: &mut impl FnMut(Heard<'_>)) {
        let _ = (at, sink);
    }

    /// No more bytes will come: what is still held is a frame or is not.
    pub fn end(&mut self, sink: &mut impl FnMut(Heard<'_>)) {
        let Self { plan, framer, desk } = self;
        match framer {
            Framer::Delimited(framer) => framer.finish(&mut |cut| desk.take(plan, cut, sink)),
        }
    }

    /// When [`Stream::expire`] wants to be called.
    pub fn deadline(&self) -> Option<Stamp> {
        None
    }
}

impl Desk {
    fn take(&mut self, plan: &Plan, cut: Cut<'_>, sink: &mut impl FnMut(Heard<'_>)) {
        let meter = match self.meters.as_slice() {
            [(meter, _)] => Some(*meter),
            _ => None,
        };
        match cut {
            Cut::Bad(why, bytes) => sink(Heard::Bad { meter, why, bytes }),
            Cut::Frame(bytes) => match self.decode(plan, meter, bytes) {
                true => sink(Heard::Frame(&self.readings)),
                false => sink(Heard::Bad {
                    meter,
                    why: &self.why,
                    bytes,
                }),
            },
        }
    }

    /// All readings of a frame, or the reason why there are none.
    fn decode(&mut self, plan: &Plan, meter: Option<MeterId>, bytes: &[u8]) -> bool {
        self.readings.clear();
        self.why.clear();
        let Some(meter) = meter else {
            self.why
                .push_str("expected one meter on this port, since its frames name no unit");
            return false;
        };
        let frame = self.frame.wrapping_add(1);
        for reading in &plan.readings {
            if reading.answer_to.is_some() && reading.answer_to != self.asked {
                continue;
            }
            match reading.field.read(bytes) {
                Ok((got, flags)) => self.readings.push(Reading {
                    meter,
                    frame,
                    quantity: reading.quantity,
                    got,
                    flags,
                }),
                Err(refused) => {
                    // Writing to a String cannot fail.
                    let _: Result<(), _> = write!(self.why, "{refused}");
                    return false;
                }
            }
        }
        if self.readings.is_empty() {
            self.why
                .push_str("expected an answer to a known message, found one to another");
            return false;
        }
        self.frame = frame;
        true
    }
}
