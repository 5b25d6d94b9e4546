//! A device's table of attributes, as the PDUs that a discovery would bring.
//!
//! The library gives no handles, so they are counted up here, in the order of
//! UUIDs: the same device gives the same table each time.

use std::collections::BTreeMap;

use btleplug::api::{Characteristic, Peripheral as _, Service};
use btleplug::platform::Peripheral;
use tokio::time::timeout;

use super::radio::ANSWER;
use crate::frame::att::{self, Uuid};

/// Characteristic Presentation Format (Bluetooth assigned numbers).
const FORMAT: Uuid = Uuid::short(0x2904);

/// What a device offers, and the handle of each characteristic's value.
#[derive(Debug, Default)]
pub(super) struct Table {
    /// One PDU each: services, characteristics, formats.
    pub(super) chunks: Vec<Vec<u8>>,
    /// Whether a characteristic has a format.
    described: Vec<(Uuid, Uuid)>,
    handles: BTreeMap<(Uuid, Uuid), u16>,
    characteristics: Vec<Characteristic>,
}

impl Table {
    /// Reads the formats of a device whose services were discovered.
    pub(super) async fn read(device: &Peripheral) -> Self {
        let mut formats = BTreeMap::new();
        for characteristic in device.characteristics() {
            let wanted = |uuid: u128| Uuid(uuid) == FORMAT;
            let described = characteristic
                .descriptors
                .iter()
                .find(|d| wanted(d.uuid.as_u128()));
            if let Some(descriptor) = described
                && let Ok(Ok(format)) = timeout(ANSWER, device.read_descriptor(descriptor)).await
                && let Ok(format) = <[u8; 7]>::try_from(format)
            {
                formats.insert(place(&characteristic), format);
            }
        }
        Self::of(device.services().into_iter().collect(), &formats)
    }

    fn of(services: Vec<Service>, formats: &BTreeMap<(Uuid, Uuid), [u8; 7]>) -> Self {
        let mut table = Self::default();
        let mut next: u16 = 1;
        let mut handle = || {
            let handle = next;
            next = next.saturating_add(1);
            handle
        };
        let (mut declared, mut characteristics, mut described) =
            (Vec::new(), Vec::new(), Vec::new());
        for service in services {
            let start = handle();
            let mut end = start;
            for characteristic in service.characteristics {
                let place = place(&characteristic);
                let (declaration, value) = (handle(), handle());
                end = value;
                characteristics.push(att::Characteristic {
                    handle: declaration,
                    properties: characteristic.properties.bits(),
                    value,
                    uuid: place.1,
                });
                if let Some(format) = formats.get(&place) {
                    end = handle();
                    described.push((end, *format));
                    table.described.push(place);
                }
                table.handles.insert(place, value);
                table.characteristics.push(characteristic);
            }
            declared.push(att::Service {
                start,
                end,
                uuid: Uuid(service.uuid.as_u128()),
            });
        }
        table.chunks.extend(att::services(&declared));
        table.chunks.extend(att::characteristics(&characteristics));
        table.chunks.extend(att::formats(&described));
        table
    }

    /// Where the value of a characteristic stands.
    pub(super) fn handle(&self, service: u128, characteristic: u128) -> Option<u16> {
        self.handles
            .get(&(Uuid(service), Uuid(characteristic)))
            .copied()
    }

    /// Every characteristic that there is.
    pub(super) fn characteristics(&self) -> impl Iterator<Item = &Characteristic> {
        self.characteristics.iter()
    }

    /// Every characteristic that tells its value unasked and has a format, or
    /// whose name alone says what it is.
    pub(super) fn described(&self) -> impl Iterator<Item = &Characteristic> {
        use btleplug::api::CharPropFlags;
        let tells = CharPropFlags::NOTIFY | CharPropFlags::INDICATE;
        self.characteristics.iter().filter(move |c| {
            let place = place(c);
            let by_name = place.1.as_short().is_some_and(att::speaks_for_itself);
            let known = by_name || self.described.contains(&place);
            known && c.properties.intersects(tells)
        })
    }
}

/// A service and a characteristic of it.
fn place(characteristic: &Characteristic) -> (Uuid, Uuid) {
    (
        Uuid(characteristic.service_uuid.as_u128()),
        Uuid(characteristic.uuid.as_u128()),
    )
}
