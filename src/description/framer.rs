//! The framer that a description asks for: one arm a kind, no table of functions.

use crate::frame::{
    Delimited, Expect, Fixed, Gatt, Length, Packet, Rtu, Silence, Sink, Tagged, Tcp, Window,
};

/// How frames are cut.
#[derive(Clone, Debug)]
pub(super) enum Framer {
    Delimited(Delimited),
    Fixed(Window<Fixed>),
    Length(Window<Length>),
    Tagged(Window<Tagged>),
    Silence(Silence),
    Packet(Packet),
    Gatt(Gatt),
    Rtu(Window<Rtu>),
    Tcp(Window<Tcp>),
}

/// How units share the port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Bus {
    None,
    Rtu,
    Tcp,
}

impl Framer {
    pub(super) fn bus(&self) -> Bus {
        match self {
            Self::Rtu(_) => Bus::Rtu,
            Self::Tcp(_) => Bus::Tcp,
            _ => Bus::None,
        }
    }

    /// What may be heard before anything was asked.
    pub(super) fn listen(&mut self, expect: Vec<Expect>) {
        match self {
            Self::Rtu(f) => (f.rule.expect, f.rule.listening) = (expect, true),
            Self::Tcp(f) => (f.rule.expect, f.rule.listening) = (expect, true),
            _ => {}
        }
    }

    pub(super) fn restart(&mut self) {
        match self {
            Self::Delimited(f) => f.restart(),
            Self::Fixed(f) => f.restart(),
            Self::Length(f) => f.restart(),
            Self::Tagged(f) => f.restart(),
            Self::Silence(f) => f.restart(),
            Self::Packet(_) => {}
            Self::Gatt(f) => f.restart(),
            Self::Rtu(f) => {
                f.restart();
                f.rule.asked(None, &[]);
            }
            Self::Tcp(f) => {
                f.restart();
                f.rule.asked(None);
            }
        }
    }

    /// A message went out, a question or not. On a serial bus what came before it is no answer to it.
    pub(super) fn asked(
        &mut self,
        question: bool,
        expect: Option<Expect>,
        data: &[u8],
        sink: &mut impl Sink,
    ) {
        match self {
            Self::Delimited(f) if question => f.asked(sink),
            Self::Silence(f) if question => f.asked(),
            Self::Rtu(f) => {
                f.finish(sink);
                f.rule.asked(expect, data);
            }
            Self::Tcp(f) => f.rule.asked(expect),
            Self::Gatt(f) => f.asked(data),
            _ => {}
        }
    }

    pub(super) fn push(&mut self, data: &[u8], sink: &mut impl Sink) {
        match self {
            Self::Delimited(f) => f.push(data, sink),
            Self::Fixed(f) => f.push(data, sink),
            Self::Length(f) => f.push(data, sink),
            Self::Tagged(f) => f.push(data, sink),
            Self::Silence(f) => f.push(data, sink),
            Self::Packet(f) => f.push(data, sink),
            Self::Gatt(f) => f.push(data, sink),
            Self::Rtu(f) => f.push(data, sink),
            Self::Tcp(f) => f.push(data, sink),
        }
    }

    /// No more bytes will come.
    pub(super) fn finish(&mut self, sink: &mut impl Sink) {
        match self {
            Self::Delimited(f) => f.finish(sink),
            Self::Fixed(f) => f.finish(sink),
            Self::Length(f) => f.finish(sink),
            Self::Tagged(f) => f.finish(sink),
            Self::Silence(f) => f.end(sink),
            Self::Packet(_) | Self::Gatt(_) => {}
            Self::Rtu(f) => f.finish(sink),
            Self::Tcp(f) => f.finish(sink),
        }
    }
}
