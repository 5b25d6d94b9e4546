//! The engine's ports: each one's bytes on their way to frames.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::EngineError;
use super::meters::sooner;
use crate::bench::Shows;
use crate::description::{Heard, Plan, Stream};
use crate::input::Settings;
use crate::meter::{MeterId, PortId};
use crate::reading::Quantity;
use crate::stamp::Stamp;

/// Every port with the stream that follows its description.
#[derive(Debug, Default)]
pub struct Ports {
    ports: Vec<PortState>,
    /// Not later than any port's deadline; exact after [`Ports::expire`].
    due: Option<Stamp>,
}

#[derive(Debug)]
struct PortState {
    stream: Stream,
    /// When the last byte came: a frame that ends by silence bears this stamp.
    last_byte: Stamp,
    open: bool,
    /// When it went away, if it was open before.
    gone: Option<Stamp>,
    trouble: String,
}

impl Ports {
    /// Compiles the descriptions in force, each once.
    ///
    /// # Errors
    /// A port's description is missing or does not compile.
    pub fn new(settings: &Settings) -> Result<Self, EngineError> {
        let mut plans = BTreeMap::new();
        for (name, text) in &settings.descriptions {
            let plan =
                Plan::parse(name.as_str(), text).map_err(|cause| EngineError::Description {
                    name: name.clone(),
                    cause,
                })?;
            plans.insert(name, Arc::new(plan));
        }
        let port = |(at, port): (usize, &crate::meter::Port)| {
            let plan = plans
                .get(&port.protocol)
                .ok_or_else(|| EngineError::NoDescription {
                    port: port.address.to_string(),
                    protocol: port.protocol.clone(),
                })?;
            let meters: Vec<(MeterId, Option<u8>)> = (0_u16..)
                .zip(&settings.meters)
                .filter(|(_, meter)| usize::from(meter.port.0) == at)
                .map(|(id, meter)| (MeterId(id), meter.unit))
                .collect();
            Ok::<_, EngineError>(PortState {
                stream: Stream::new(Arc::clone(plan), &meters),
                last_byte: Stamp::ZERO,
                open: false,
                gone: None,
                trouble: String::new(),
            })
        };
        Ok(Self {
            ports: settings
                .ports
                .iter()
                .enumerate()
                .map(port)
                .collect::<Result<_, _>>()?,
            due: None,
        })
    }

    /// A chunk arrived; each whole frame in it bears the chunk's stamp.
    pub fn bytes(
        &mut self,
        port: PortId,
        at: Stamp,
        data: &[u8],
        sink: &mut impl FnMut(Stamp, Heard<'_>),
    ) {
        if let Some(port) = self.ports.get_mut(usize::from(port.0)) {
            port.last_byte = at;
            port.stream.bytes(at, data, &mut |heard| sink(at, heard));
            self.due = sooner(self.due, port.stream.deadline());
        }
    }

    /// A message went out.
    pub fn sent(&mut self, port: PortId, at: Stamp, data: &[u8]) {
        if let Some(port) = self.ports.get_mut(usize::from(port.0)) {
            port.stream.sent(at, data);
            self.due = sooner(self.due, port.stream.deadline());
        }
    }

    /// A port opened. Returns since when it was gone, if it was open before.
    pub fn opened(&mut self, port: PortId) -> Option<Stamp> {
        let port = self.ports.get_mut(usize::from(port.0))?;
        port.stream.opened();
        port.open = true;
        port.trouble.clear();
        port.gone.take()
    }

    /// A port went away. Returns whether it was open.
    pub fn closed(&mut self, port: PortId, at: Stamp, why: &str) -> bool {
        let Some(port) = self.ports.get_mut(usize::from(port.0)) else {
            return false;
        };
        port.stream.broken();
        why.clone_into(&mut port.trouble);
        let was_open = core::mem::replace(&mut port.open, false);
        if was_open {
            port.gone = Some(at);
        }
        was_open
    }

    /// Bytes were lost: a half frame is dropped.
    pub fn lost(&mut self, port: PortId, why: &str) {
        if let Some(port) = self.ports.get_mut(usize::from(port.0)) {
            port.stream.broken();
            why.clone_into(&mut port.trouble);
        }
    }

    /// Ends frames that end by silence.
    pub fn expire(&mut self, due: Stamp, sink: &mut impl FnMut(Stamp, Heard<'_>)) {
        for port in &mut self.ports {
            if port.stream.deadline().is_some_and(|at| at <= due) {
                let at = port.last_byte;
                port.stream.expire(due, &mut |heard| sink(at, heard));
            }
        }
        self.due = self
            .ports
            .iter()
            .filter_map(|port| port.stream.deadline())
            .min();
    }

    /// When [`Ports::expire`] wants to be called, or earlier.
    pub fn deadline(&self) -> Option<Stamp> {
        self.due
    }

    /// Whether a port is open, and what troubles it.
    pub fn state(&self, port: PortId) -> (bool, &str) {
        self.ports
            .get(usize::from(port.0))
            .map_or((false, ""), |port| (port.open, port.trouble.as_str()))
    }

    /// Since when a port is gone that was open before.
    pub(super) fn gone(&self, port: PortId) -> Option<Stamp> {
        self.ports.get(usize::from(port.0))?.gone
    }

    /// What a port's description can show.
    pub(super) fn shows(&self, port: PortId) -> Shows {
        self.ports
            .get(usize::from(port.0))
            .map_or_else(Shows::default, |port| {
                let plan = port.stream.plan();
                Shows {
                    held: plan.shows_held(),
                    test_voltage: plan.gives(Quantity::TestVoltage),
                }
            })
    }
}
