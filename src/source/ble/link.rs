//! A connection that is listened to: what tells, what is read and what is written, and when.

use std::sync::Arc;
use std::time::Duration;

use btleplug::api::{CharPropFlags, Characteristic, Peripheral as _, ValueNotification, WriteType};
use btleplug::platform::Peripheral;
use tokio::time::{Instant, timeout};

use super::radio::ANSWER;
use super::table::Table;
use super::why::{self, Why};
use crate::description::{Asked, GattAsked, How, Request, When};
use crate::frame::att;

/// A read that failed so many times in a row ends the connection.
const FAILURES: u32 = 3;

/// What is done on a connection.
pub(super) struct Link {
    pub(super) table: Table,
    /// What was asked to tell its value unasked.
    pub(super) told: Vec<Characteristic>,
    errands: Vec<Errand>,
    failures: u32,
}

/// Something to be read or written, once or again and again.
struct Errand {
    name: String,
    characteristic: Characteristic,
    handle: u16,
    what: What,
    every: Option<Duration>,
    due: Option<Instant>,
}

#[derive(Clone)]
enum What {
    Read,
    Write(Arc<[u8]>, WriteType),
}

/// An errand on its way.
pub(super) struct Away {
    at: usize,
    device: Peripheral,
    characteristic: Characteristic,
    what: What,
}

/// What became of it: the bytes of a read.
pub(super) struct Back {
    at: usize,
    got: Result<Option<Vec<u8>>, Why>,
}

impl Link {
    /// What is asked of a device with this table.
    ///
    /// # Errors
    /// It lacks what the description names.
    pub(super) fn new(gatt: &GattAsked, requests: &[Request], table: Table) -> Result<Self, Why> {
        let mut link = Self {
            told: Vec::new(),
            errands: Vec::new(),
            failures: 0,
            table,
        };
        match gatt {
            GattAsked::Described => {
                link.told = link.table.described().cloned().collect();
                if link.told.is_empty() {
                    let what = "characteristic that tells its value and describes it (0x2904)";
                    return Err(Why::Lacks(what.to_owned()));
                }
            }
            GattAsked::Named(all) => {
                let found: Vec<Characteristic> = all
                    .iter()
                    .map(|asked| link.find(asked))
                    .collect::<Result<_, _>>()?;
                // What is written first may be what makes the meter tell.
                for request in requests {
                    link.write(request, all, &found);
                }
                for (asked, characteristic) in all.iter().zip(found) {
                    link.hear(asked, characteristic);
                }
            }
        }
        Ok(link)
    }

    fn find(&self, asked: &Asked) -> Result<Characteristic, Why> {
        let (needs, does) = match asked.how {
            How::Notify => (CharPropFlags::NOTIFY, "notifies"),
            How::Indicate => (CharPropFlags::INDICATE, "indicates"),
            How::Read { .. } => (CharPropFlags::READ, "can be read"),
            How::Write { response: true } => (CharPropFlags::WRITE, "can be written"),
            How::Write { response: false } => (
                CharPropFlags::WRITE_WITHOUT_RESPONSE,
                "can be written without response",
            ),
        };
        self.table
            .characteristics()
            .find(|c| {
                c.uuid.as_u128() == asked.uuid.0
                    && asked
                        .service
                        .is_none_or(|s| s.0 == c.service_uuid.as_u128())
                    && c.properties.contains(needs)
            })
            .cloned()
            .ok_or_else(|| {
                let Asked { name, uuid, .. } = asked;
                Why::Lacks(format!("characteristic {uuid} ({name}) that {does}"))
            })
    }

    fn write(&mut self, request: &Request, all: &[Asked], found: &[Characteristic]) {
        let Some(to) = request.to else { return };
        let (Some(asked), Some(characteristic)) = (all.get(to), found.get(to)) else {
            return;
        };
        let kind = match asked.how {
            How::Write { response: false } => WriteType::WithoutResponse,
            _ => WriteType::WithResponse,
        };
        let every = match request.when {
            When::KeepAlive { every } | When::Poll { every, .. } => Some(every),
            When::Start => None,
        };
        let what = What::Write(request.data.as_ref().into(), kind);
        self.errand(request.name.as_str(), characteristic.clone(), what, every);
    }

    fn hear(&mut self, asked: &Asked, characteristic: Characteristic) {
        match asked.how {
            How::Write { .. } => return,
            How::Notify | How::Indicate => self.told.push(characteristic.clone()),
            How::Read { .. } => {}
        }
        let every = match asked.how {
            How::Read { every } => Some(every),
            _ => None,
        };
        let readable = characteristic.properties.contains(CharPropFlags::READ);
        if every.is_some() || (asked.at_once && readable) {
            self.errand(asked.name.as_str(), characteristic, What::Read, every);
        }
    }

    fn errand(
        &mut self,
        name: &str,
        characteristic: Characteristic,
        what: What,
        every: Option<Duration>,
    ) {
        let (service, uuid) = (characteristic.service_uuid, characteristic.uuid);
        let handle = self.table.handle(service.as_u128(), uuid.as_u128());
        self.errands.push(Errand {
            name: name.to_owned(),
            handle: handle.unwrap_or_default(),
            characteristic,
            what,
            every,
            due: Some(Instant::now()),
        });
    }

    /// When the next errand is due; in order where several are.
    pub(super) fn due(&self) -> Option<Instant> {
        self.errands.iter().filter_map(|e| e.due).min()
    }

    /// Sends the next errand off that is due; with it the PDU that goes out.
    pub(super) fn set_off(&mut self, device: &Peripheral) -> Option<(Vec<u8>, Away)> {
        let first = self.due()?;
        let at = self.errands.iter().position(|e| e.due == Some(first))?;
        let errand = &mut self.errands[at];
        // The time counts from here: what takes long makes no queue.
        errand.due = errand.every.map(|every| Instant::now() + every);
        let pdu = match &errand.what {
            What::Read => att::read(errand.handle),
            What::Write(data, kind) => {
                att::write(errand.handle, data, *kind == WriteType::WithResponse)
            }
        };
        let away = Away {
            at,
            device: device.clone(),
            characteristic: errand.characteristic.clone(),
            what: errand.what.clone(),
        };
        Some((pdu, away))
    }

    /// The PDU that came back, if any.
    ///
    /// # Errors
    /// It failed too often, or a write failed: the meter may not be what it should.
    pub(super) fn back(&mut self, back: Back) -> Result<Option<Vec<u8>>, Why> {
        match back.got {
            Ok(Some(value)) => {
                self.failures = 0;
                Ok(Some(att::read_answer(&value)))
            }
            Ok(None) => Ok(None),
            Err(why) => {
                self.failures += 1;
                let errand = &self.errands[back.at];
                match errand.what {
                    What::Read if self.failures < FAILURES => Ok(None),
                    What::Read => Err(failed("it does not let itself be read", errand, &why)),
                    What::Write(..) => Err(failed("it does not take", errand, &why)),
                }
            }
        }
    }

    /// The PDU of what a meter told; nothing for what nobody asked it to tell.
    pub(super) fn chunk(&self, told: &ValueNotification) -> Option<Vec<u8>> {
        let (service, uuid) = (told.service_uuid.as_u128(), told.uuid.as_u128());
        // The system also tells what was read; that is passed on as what it is.
        let asked = self
            .told
            .iter()
            .find(|c| c.uuid.as_u128() == uuid && c.service_uuid.as_u128() == service)?;
        let handle = self.table.handle(service, uuid)?;
        Some(match asked.properties.contains(CharPropFlags::NOTIFY) {
            true => att::notification(handle, &told.value),
            false => att::indication(handle, &told.value),
        })
    }
}

fn failed(what: &str, errand: &Errand, why: &Why) -> Why {
    match why {
        Why::Refuses(said) | Why::Failed(said) => {
            Why::Refuses(format!("{what}: {}: {said}", errand.name))
        }
        other => other.clone(),
    }
}

impl Away {
    /// Does it.
    pub(super) async fn run(self) -> Back {
        let read = async {
            match &self.what {
                What::Read => self.device.read(&self.characteristic).await.map(Some),
                What::Write(data, kind) => {
                    let written = self.device.write(&self.characteristic, data, *kind).await;
                    written.map(|()| None)
                }
            }
        };
        let got = match timeout(ANSWER, read).await {
            Ok(Ok(got)) => Ok(got),
            Ok(Err(e)) => Err(why::connecting(&e)),
            Err(_) => Err(Why::Refuses(String::from("no answer"))),
        };
        Back { at: self.at, got }
    }
}
