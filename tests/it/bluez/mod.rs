//! A stand-in for the BlueZ service, on a private bus: an adapter and meters
//! that can be lost, silenced, and brought back.
//!
//! Names of interfaces, properties and methods are those of the service's
//! public D-Bus interface. The program under test is a process of its own, and
//! finds this bus by its environment.

mod bus;
mod objects;

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use zbus::Connection;
use zbus::object_server::{InterfaceRef, ObjectServer};

pub(crate) use bus::Bus;
use objects::{Adapter, Attribute, Descriptor, Device, Service};

const ADAPTER: &str = "/org/bluez/hci0";

/// A meter as it is when it is switched on.
#[derive(Clone, Debug)]
pub(crate) struct Meter {
    pub(crate) address: &'static str,
    pub(crate) name: &'static str,
    pub(crate) service: &'static str,
    pub(crate) values: Vec<Value>,
}

/// A characteristic of a meter.
#[derive(Clone, Debug)]
pub(crate) struct Value {
    pub(crate) uuid: &'static str,
    pub(crate) flags: &'static [&'static str],
    /// Its presentation format, 7 bytes.
    pub(crate) format: Option<[u8; 7]>,
    pub(crate) value: Vec<u8>,
}

/// What the stand-in saw and what it lets happen.
#[derive(Debug, Default)]
pub(crate) struct World {
    /// Addresses that answer a connection.
    pub(crate) in_range: BTreeMap<String, bool>,
    /// Connections that were made.
    pub(crate) connects: u32,
    /// What was written, by characteristic.
    pub(crate) written: Vec<(String, Vec<u8>, String)>,
    /// Whether the program looks for devices.
    pub(crate) discovering: bool,
    /// Whether somebody switched the adapter on by asking.
    pub(crate) switched_on: u32,
}

/// The service, until it is stopped or dropped.
pub(crate) struct Bluez {
    runtime: tokio::runtime::Runtime,
    connection: Option<Connection>,
    pub(crate) world: Arc<Mutex<World>>,
}

impl Bluez {
    /// Begins to serve on `bus` with one adapter, switched on.
    pub(crate) fn start(bus: &Bus) -> Self {
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(1)
            .enable_all()
            .build()
            .expect("a runtime");
        let world = Arc::new(Mutex::new(World::default()));
        let adapter = Adapter {
            world: Arc::clone(&world),
            powered: true,
        };
        let connection = runtime.block_on(async {
            zbus::connection::Builder::address(bus.address())
                .expect("an address")
                .serve_at("/", zbus::fdo::ObjectManager)
                .expect("the manager")
                .serve_at(ADAPTER, adapter)
                .expect("the adapter")
                .name("org.bluez")
                .expect("the name")
                .build()
                .await
                .expect("the bus takes the service")
        });
        Self {
            runtime,
            connection: Some(connection),
            world,
        }
    }

    /// The service exits: the name is free again.
    pub(crate) fn stop(mut self) {
        let connection = self.connection.take().expect("it runs");
        self.runtime.block_on(async {
            connection.close().await.expect("the bus lets it go");
        });
    }

    fn server(&self) -> &ObjectServer {
        self.connection.as_ref().expect("it runs").object_server()
    }

    /// A meter is there, in range, and its objects are known.
    pub(crate) fn add(&self, meter: &Meter) {
        self.world
            .lock()
            .unwrap()
            .in_range
            .insert(meter.address.to_owned(), true);
        let server = self.server();
        let path = path(meter.address);
        let service = format!("{path}/service0001");
        self.runtime.block_on(async {
            for (at, value) in meter.values.iter().enumerate() {
                let own = format!("{service}/char{:04}", at * 4 + 2);
                if let Some(format) = value.format {
                    let descriptor = Descriptor {
                        uuid: "00002904-0000-1000-8000-00805f9b34fb".to_owned(),
                        value: format.to_vec(),
                    };
                    let below = format!("{own}/desc{:04}", at * 4 + 4);
                    server.at(below, descriptor).await.expect("a descriptor");
                }
                let attribute = Attribute {
                    world: Arc::clone(&self.world),
                    uuid: value.uuid.to_owned(),
                    flags: value.flags.iter().map(|f| (*f).to_owned()).collect(),
                    value: value.value.clone(),
                    notifying: false,
                };
                server.at(own, attribute).await.expect("a characteristic");
            }
            let of = Service {
                uuid: meter.service.to_owned(),
            };
            server.at(service, of).await.expect("a service");
            let device = Device {
                world: Arc::clone(&self.world),
                address: meter.address.to_owned(),
                name: meter.name.to_owned(),
                uuids: vec![meter.service.to_owned()],
                connected: false,
                rssi: -60,
            };
            server.at(path, device).await.expect("a device");
        });
    }

    fn device(&self, address: &str) -> InterfaceRef<Device> {
        let server = self.server();
        self.runtime
            .block_on(server.interface::<_, Device>(path(address)))
            .expect("a device")
    }

    /// The characteristic `uuid` of a meter tells a value. Returns whether
    /// anybody had asked for it.
    pub(crate) fn tell(&self, meter: &Meter, uuid: &str, value: &[u8]) -> bool {
        let at = meter
            .values
            .iter()
            .position(|v| v.uuid == uuid)
            .expect("it has it");
        let own = format!("{}/service0001/char{:04}", path(meter.address), at * 4 + 2);
        let server = self.server();
        self.runtime.block_on(async {
            let found = server
                .interface::<_, Attribute>(own)
                .await
                .expect("a characteristic");
            let mut attribute = found.get_mut().await;
            attribute.value = value.to_vec();
            if !attribute.notifying {
                return false;
            }
            let told = attribute.value_changed(found.signal_emitter()).await;
            told.expect("the bus takes it");
            true
        })
    }

    /// The connection to a meter breaks, and it answers again only if `stays`.
    pub(crate) fn lose(&self, meter: &Meter, stays: bool) {
        let address = meter.address.to_owned();
        self.world.lock().unwrap().in_range.insert(address, stays);
        let at = meter.values.len();
        for place in 0..at {
            let own = format!(
                "{}/service0001/char{:04}",
                path(meter.address),
                place * 4 + 2
            );
            let server = self.server();
            self.runtime.block_on(async {
                let found = server.interface::<_, Attribute>(own).await.expect("there");
                found.get_mut().await.notifying = false;
            });
        }
        let device = self.device(meter.address);
        self.runtime.block_on(async {
            let mut own = device.get_mut().await;
            own.connected = false;
            let told = own.connected_changed(device.signal_emitter()).await;
            told.expect("the bus takes it");
        });
    }

    /// A meter is back in range and advertises.
    pub(crate) fn returns(&self, meter: &Meter) {
        let address = meter.address.to_owned();
        self.world.lock().unwrap().in_range.insert(address, true);
        let device = self.device(meter.address);
        self.runtime.block_on(async {
            let mut own = device.get_mut().await;
            own.rssi = -55;
            let told = own.r_s_s_i_changed(device.signal_emitter()).await;
            told.expect("the bus takes it");
        });
    }

    /// Somebody switches the adapter off or on.
    pub(crate) fn power(&self, on: bool) {
        let server = self.server();
        self.runtime.block_on(async {
            let found = server
                .interface::<_, Adapter>(ADAPTER)
                .await
                .expect("an adapter");
            let mut adapter = found.get_mut().await;
            adapter.powered = on;
            let told = adapter.powered_changed(found.signal_emitter()).await;
            told.expect("the bus takes it");
        });
    }

    /// How many match rules the bus holds, of all who are on it; none if it
    /// keeps no such figures.
    pub(crate) fn match_rules(&self) -> Option<usize> {
        let connection = self.connection.as_ref().expect("it runs");
        self.runtime.block_on(async {
            let answer = connection
                .call_method(
                    Some("org.freedesktop.DBus"),
                    "/org/freedesktop/DBus",
                    Some("org.freedesktop.DBus.Debug.Stats"),
                    "GetAllMatchRules",
                    &(),
                )
                .await
                .ok()?;
            let all: BTreeMap<String, Vec<String>> = answer.body().deserialize().ok()?;
            Some(all.values().map(Vec::len).sum())
        })
    }

    /// Waits until a meter is connected and tells `uuid` to somebody.
    pub(crate) fn wait_told(&self, meter: &Meter, uuid: &str) {
        let value = meter
            .values
            .iter()
            .find(|v| v.uuid == uuid)
            .expect("it has it");
        for _ in 0..1500 {
            if self.tell(meter, uuid, &value.value) {
                return;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("nobody asked {} for {uuid} within 15 s", meter.name);
    }
}

fn path(address: &str) -> String {
    format!("{ADAPTER}/dev_{}", address.replace(':', "_"))
}
