//! Which device a port means: by address, by the system's id, or by name.

use btleplug::api::{Central as _, Peripheral as _};
use btleplug::platform::{Adapter, Peripheral};
use tokio::time::timeout;

use super::radio::ANSWER;
use super::why::{self, Why};

/// The one device that `wanted` means, among those that the system knows.
pub(super) async fn find(adapter: &Adapter, wanted: &str) -> Result<Peripheral, Why> {
    let known = match timeout(ANSWER, adapter.peripherals()).await {
        Ok(Ok(known)) => known,
        Ok(Err(e)) => return Err(why::connecting(&e)),
        Err(_) => return Err(Why::NoService(String::from("no answer"))),
    };
    if let Some(found) = known.iter().find(|device| is_at(device, wanted)) {
        return Ok(found.clone());
    }
    let mut alike = Vec::new();
    for device in known {
        if name(&device).await.as_deref() == Some(wanted) {
            alike.push(device);
        }
    }
    match alike.len() {
        0 => Err(Why::NotSeen),
        1 => Ok(alike.remove(0)),
        _ => {
            let mut addresses: Vec<String> = alike.iter().map(address).collect();
            addresses.sort();
            Err(Why::Alike(wanted.to_owned(), addresses))
        }
    }
}

fn is_at(device: &Peripheral, wanted: &str) -> bool {
    address(device).eq_ignore_ascii_case(wanted)
        || device.id().to_string().eq_ignore_ascii_case(wanted)
}

/// Its address; the system's id where the system gives no addresses.
pub(super) fn address(device: &Peripheral) -> String {
    let address = device.address();
    if address == btleplug::api::BDAddr::default() {
        return device.id().to_string();
    }
    address.to_string()
}

/// What it calls itself.
pub(super) async fn name(device: &Peripheral) -> Option<String> {
    let said = timeout(ANSWER, device.properties()).await.ok()?.ok()??;
    said.advertisement_name.or(said.local_name)
}
