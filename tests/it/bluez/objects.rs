//! The service's objects: adapter, device, service, characteristic, descriptor.

#![expect(
    clippy::disallowed_types,
    reason = "the macro that makes an interface keeps its properties in maps of its own"
)]

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use zbus::fdo;
use zbus::object_server::SignalEmitter;
use zbus::zvariant::OwnedValue;

use super::World;

type Options = HashMap<String, OwnedValue>;

pub(super) struct Adapter {
    pub(super) world: Arc<Mutex<World>>,
    pub(super) powered: bool,
}

#[zbus::interface(name = "org.bluez.Adapter1")]
impl Adapter {
    #[zbus(property)]
    fn address(&self) -> &str {
        "02:00:00:00:00:01"
    }
    #[zbus(property)]
    fn address_type(&self) -> &str {
        "public"
    }
    #[zbus(property)]
    fn name(&self) -> &str {
        "hatchery"
    }
    #[zbus(property)]
    fn alias(&self) -> &str {
        "hatchery"
    }
    #[zbus(property)]
    fn modalias(&self) -> &str {
        "usb:v1D6Bp0246d0542"
    }
    #[zbus(property)]
    pub(super) fn powered(&self) -> bool {
        self.powered
    }
    #[zbus(property)]
    fn set_powered(&mut self, on: bool) {
        if on && !self.powered {
            self.world.lock().unwrap().switched_on += 1;
        }
        self.powered = on;
    }
    #[zbus(property)]
    fn discovering(&self) -> bool {
        self.world.lock().unwrap().discovering
    }

    fn start_discovery(&self) -> fdo::Result<()> {
        self.world.lock().unwrap().discovering = true;
        Ok(())
    }
    fn stop_discovery(&self) -> fdo::Result<()> {
        self.world.lock().unwrap().discovering = false;
        Ok(())
    }
    fn set_discovery_filter(&self, _filter: Options) -> fdo::Result<()> {
        Ok(())
    }
}

pub(super) struct Device {
    pub(super) world: Arc<Mutex<World>>,
    pub(super) address: String,
    pub(super) name: String,
    pub(super) uuids: Vec<String>,
    pub(super) connected: bool,
    pub(super) rssi: i16,
}

#[zbus::interface(name = "org.bluez.Device1")]
impl Device {
    #[zbus(property)]
    fn address(&self) -> &str {
        &self.address
    }
    #[zbus(property)]
    fn address_type(&self) -> &str {
        "random"
    }
    #[zbus(property)]
    fn name(&self) -> &str {
        &self.name
    }
    #[zbus(property)]
    fn alias(&self) -> &str {
        &self.name
    }
    #[zbus(property)]
    fn paired(&self) -> bool {
        false
    }
    #[zbus(property)]
    fn trusted(&self) -> bool {
        false
    }
    #[zbus(property)]
    fn blocked(&self) -> bool {
        false
    }
    #[zbus(property)]
    fn legacy_pairing(&self) -> bool {
        false
    }
    #[zbus(property, name = "RSSI")]
    pub(super) fn rssi(&self) -> i16 {
        self.rssi
    }
    #[zbus(property)]
    pub(super) fn connected(&self) -> bool {
        self.connected
    }
    #[zbus(property)]
    fn services_resolved(&self) -> bool {
        self.connected
    }
    #[zbus(property, name = "UUIDs")]
    fn uuids(&self) -> Vec<String> {
        self.uuids.clone()
    }

    async fn connect(
        &mut self,
        #[zbus(signal_emitter)] emitter: SignalEmitter<'_>,
    ) -> fdo::Result<()> {
        {
            let mut world = self.world.lock().unwrap();
            if world.in_range.get(&self.address) != Some(&true) {
                return Err(fdo::Error::Failed(
                    "le-connection-abort-by-local".to_owned(),
                ));
            }
            world.connects += 1;
        }
        self.connected = true;
        self.connected_changed(&emitter).await?;
        self.services_resolved_changed(&emitter).await?;
        Ok(())
    }

    async fn disconnect(
        &mut self,
        #[zbus(signal_emitter)] emitter: SignalEmitter<'_>,
    ) -> fdo::Result<()> {
        self.connected = false;
        self.connected_changed(&emitter).await?;
        Ok(())
    }
}

pub(super) struct Service {
    pub(super) uuid: String,
}

#[zbus::interface(name = "org.bluez.GattService1")]
impl Service {
    #[zbus(property, name = "UUID")]
    fn uuid(&self) -> &str {
        &self.uuid
    }
    #[zbus(property)]
    fn primary(&self) -> bool {
        true
    }
}

pub(super) struct Attribute {
    pub(super) world: Arc<Mutex<World>>,
    pub(super) uuid: String,
    pub(super) flags: Vec<String>,
    pub(super) value: Vec<u8>,
    pub(super) notifying: bool,
}

#[zbus::interface(name = "org.bluez.GattCharacteristic1")]
impl Attribute {
    #[zbus(property, name = "UUID")]
    fn uuid(&self) -> &str {
        &self.uuid
    }
    #[zbus(property)]
    fn flags(&self) -> Vec<String> {
        self.flags.clone()
    }
    #[zbus(property)]
    pub(super) fn value(&self) -> Vec<u8> {
        self.value.clone()
    }
    #[zbus(property)]
    fn notifying(&self) -> bool {
        self.notifying
    }

    fn start_notify(&mut self) -> fdo::Result<()> {
        self.notifying = true;
        Ok(())
    }
    fn stop_notify(&mut self) -> fdo::Result<()> {
        self.notifying = false;
        Ok(())
    }
    fn read_value(&self, _options: Options) -> fdo::Result<Vec<u8>> {
        Ok(self.value.clone())
    }
    fn write_value(&self, value: Vec<u8>, options: Options) -> fdo::Result<()> {
        let kind = options
            .get("type")
            .and_then(|kind| String::try_from(kind.clone()).ok())
            .unwrap_or_default();
        let mut world = self.world.lock().unwrap();
        world.written.push((self.uuid.clone(), value, kind));
        Ok(())
    }
}

pub(super) struct Descriptor {
    pub(super) uuid: String,
    pub(super) value: Vec<u8>,
}

#[zbus::interface(name = "org.bluez.GattDescriptor1")]
impl Descriptor {
    #[zbus(property, name = "UUID")]
    fn uuid(&self) -> &str {
        &self.uuid
    }
    fn read_value(&self, _options: Options) -> fdo::Result<Vec<u8>> {
        Ok(self.value.clone())
    }
}
