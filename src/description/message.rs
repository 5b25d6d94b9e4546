//! What is sent to a meter, compiled.

use bytes::Bytes;

use crate::decode::Crc;
use crate::frame::Expect;
use crate::text::Text;

use super::framer::Bus;
use super::{Request, When};

/// The unit of a meter that names none: the first on a bus (common practice).
pub(super) const UNIT: u8 = 1;

/// A message of a description.
#[derive(Debug)]
pub(super) struct Message {
    pub(super) name: Text,
    pub(super) to: Option<usize>,
    pub(super) data: Data,
    pub(super) when: When,
}

/// Its bytes.
#[derive(Debug)]
pub(super) enum Data {
    /// The same for every meter.
    Plain(Bytes),
    /// A Modbus read, framed for each unit.
    Read {
        function: u8,
        register: u16,
        count: u16,
    },
}

impl Message {
    /// What an answer of `unit` looks like; the transaction names message and unit.
    pub(super) fn expect(&self, index: usize, unit: Option<u8>) -> Option<Expect> {
        let Data::Read {
            function,
            register,
            count,
        } = self.data
        else {
            return None;
        };
        let unit = unit.unwrap_or(UNIT);
        Some(Expect {
            transaction: (index as u16 + 1) << 8 | u16::from(unit),
            unit,
            function,
            register,
            count,
        })
    }

    /// Ready for the wire; a message that is the same for all units goes out once.
    pub(super) fn requests(&self, index: usize, units: &[Option<u8>], bus: Bus) -> Vec<Request> {
        let request = |data: Bytes| Request {
            name: self.name.clone(),
            to: self.to,
            data,
            when: self.when,
        };
        match &self.data {
            Data::Plain(data) => vec![request(data.clone())],
            Data::Read { .. } => units
                .iter()
                .filter_map(|unit| Some(request(wire(self.expect(index, *unit)?, bus))))
                .collect(),
        }
    }
}

/// A request as it goes out.
fn wire(expect: Expect, bus: Bus) -> Bytes {
    match bus {
        Bus::Tcp => expect.tcp().to_vec().into(),
        _ => {
            let mut bytes = expect.rtu().to_vec();
            let crc = Crc::modbus().of(&bytes) as u16;
            bytes.extend_from_slice(&crc.to_le_bytes());
            bytes.into()
        }
    }
}

/// What was asked, when these bytes are a read; its check must hold.
pub(super) fn asked(sent: &[u8], bus: Bus) -> Option<Expect> {
    match bus {
        Bus::None => None,
        Bus::Tcp => Expect::from_tcp(sent),
        Bus::Rtu => Expect::from_rtu(sent).filter(|_| Crc::modbus().of(sent) == 0),
    }
}
