//! What a description says of a Bluetooth meter: which characteristics, how
//! each is heard, and what stands beside its value.

use core::time::Duration;
use std::sync::Arc;

use crate::decode::{self, Prepare};
use crate::frame::att::Uuid;
use crate::frame::gatt::named;
use crate::text::Text;

/// What is asked of a Bluetooth meter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GattAsked {
    /// Every characteristic that tells its value unasked and describes it, and the battery.
    Described,
    /// These, in this order.
    Named(Arc<[Asked]>),
}

/// A characteristic that a description names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// Its name.
    pub name: Text,
    /// Its UUID.
    pub uuid: Uuid,
    /// The UUID of its service, if the description says it.
    pub service: Option<Uuid>,
    /// What is done with it.
    pub how: How,
    /// Whether it is read once after each connection, since others need its value.
    pub at_once: bool,
}

/// What is done with a characteristic.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// It tells its value unasked.
    Notify,
    /// It tells its value unasked and has each confirmed.
    Indicate,
    /// It is read again and again.
    Read {
        /// The time between.
        every: Duration,
    },
    /// It is written to.
    Write {
        /// Whether it confirms.
        response: bool,
    },
}

/// A characteristic and how its values are read.
#[derive(Clone, Debug)]
pub(super) struct Characteristic {
    pub(super) asked: Asked,
    pub(super) length: Length,
    pub(super) prepare: Vec<Prepare>,
    /// The characteristic whose last value stands behind this one's.
    pub(super) beside: Option<usize>,
}

/// How many bytes a value has.
#[derive(Clone, Copy, Debug)]
pub(super) enum Length {
    Exactly(usize),
    AtMost(usize),
}

impl Length {
    fn holds(self, found: usize) -> Result<(), String> {
        match self {
            Self::Exactly(bytes) if found != bytes => {
                Err(format!("expected {bytes} bytes, found {found}"))
            }
            Self::AtMost(bytes) if found > bytes => {
                Err(format!("expected at most {bytes} bytes, found {found}"))
            }
            _ => Ok(()),
        }
    }
}

/// The last values that stand beside others, of one connection.
#[derive(Debug, Default)]
pub(super) struct Beside {
    last: Vec<Option<Vec<u8>>>,
    /// Whether it changed since the value that it stands beside was told.
    turned: Vec<bool>,
}

impl Beside {
    /// The connection is another one: nothing is known.
    pub(super) fn forget(&mut self) {
        self.last.clear();
        self.turned.clear();
    }

    /// Writes a frame's value, prepared and with what stands beside it, to
    /// `body`. Returns the number of its characteristic.
    ///
    /// # Errors
    /// The value is of another length, does not stand, or what belongs beside
    /// it is not known or has just changed: then it may still be a value of
    /// what the meter showed before.
    pub(super) fn body(
        &mut self,
        all: &[Characteristic],
        frame: &[u8],
        body: &mut Vec<u8>,
    ) -> Result<usize, String> {
        let (number, value) = named(frame).ok_or("a frame of another kind")?;
        let of = all.get(number).ok_or("a frame of another kind")?;
        of.length.holds(value.len())?;
        if !decode::prepare(&of.prepare, value, body)? {
            body.clear();
            body.extend_from_slice(value);
        }
        self.last.resize(all.len(), None);
        self.turned.resize(all.len(), false);
        if all.iter().any(|other| other.beside == Some(number)) {
            self.keep(all, number, body);
        }
        let Some(beside) = of.beside else {
            return Ok(number);
        };
        let name = &all[beside].asked.name;
        let Some(known) = &self.last[beside] else {
            return Err(format!("a value before {name} was told"));
        };
        if core::mem::take(&mut self.turned[number]) {
            return Err(format!("{name} changed just before this value"));
        }
        body.extend_from_slice(known);
        Ok(number)
    }

    fn keep(&mut self, all: &[Characteristic], number: usize, value: &[u8]) {
        let last = &mut self.last[number];
        if last.as_deref() == Some(value) {
            return;
        }
        let first = last.is_none();
        *last = Some(value.to_vec());
        for (at, other) in all.iter().enumerate() {
            if other.beside == Some(number) && !first {
                self.turned[at] = true;
            }
        }
    }
}
