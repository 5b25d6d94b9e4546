//! Who is near by.

use std::collections::BTreeMap;
use std::time::Duration;

use btleplug::api::{Central as _, CentralState, Peripheral as _, ScanFilter};
use btleplug::platform::{Manager, Peripheral};
use tokio::time::{sleep, timeout};

use super::find::address;
use super::radio::{ANSWER, choose};
use super::why::{Why, short};
use crate::frame::att::Uuid;
use crate::text::Text;

/// A device near by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Nearby {
    /// Its address, or the system's id where the system gives no addresses.
    pub address: Text,
    /// What it calls itself; nothing if it does not.
    pub name: Text,
    /// Signal strength in dBm, nearer to 0 is nearer; none if it was not heard now.
    pub rssi_dbm: Option<i16>,
    /// The services that it advertises.
    pub services: Vec<Uuid>,
}

/// Why nobody can be looked for.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct ScanError(String);

/// Looks for devices for a while; the strongest first.
///
/// # Errors
/// There is no service, no adapter, or it is switched off.
pub fn scan(time: Duration) -> Result<Vec<Nearby>, ScanError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_io()
        .enable_time()
        .build()
        .map_err(|e| ScanError(format!("the system gives no runtime: {e}")))?;
    let found = runtime.block_on(look(time));
    runtime.shutdown_background();
    found.map_err(|why| ScanError(why.to_string()))
}

async fn look(time: Duration) -> Result<Vec<Nearby>, Why> {
    let said = |e: btleplug::Error| Why::NoService(short(&e.to_string()));
    let silent = || Why::NoService(String::from("no answer"));
    let manager = timeout(ANSWER, Manager::new())
        .await
        .map_err(|_| silent())?
        .map_err(said)?;
    let adapter = choose(&manager).await?;
    // Looking would switch it on; that is for a person to do.
    if !matches!(adapter.adapter_state().await, Ok(CentralState::PoweredOn)) {
        return Err(Why::Off);
    }
    adapter
        .start_scan(ScanFilter::default())
        .await
        .map_err(said)?;
    sleep(time).await;
    let devices = timeout(ANSWER, adapter.peripherals())
        .await
        .map_err(|_| silent())?
        .map_err(said)?;
    let mut found = BTreeMap::new();
    for device in devices {
        if let Some(nearby) = nearby(&device).await {
            found.insert(nearby.address.as_str().to_owned(), nearby);
        }
    }
    drop(timeout(ANSWER, adapter.stop_scan()).await);
    let mut found: Vec<Nearby> = found.into_values().collect();
    found.sort_by_key(|nearby| {
        (
            nearby
                .rssi_dbm
                .map(|rssi| -i32::from(rssi))
                .unwrap_or(i32::MAX),
            nearby.address.clone(),
        )
    });
    Ok(found)
}

async fn nearby(device: &Peripheral) -> Option<Nearby> {
    let said = timeout(ANSWER, device.properties()).await.ok()?.ok()??;
    let mut services: Vec<Uuid> = said.services.iter().map(|s| Uuid(s.as_u128())).collect();
    services.sort_unstable();
    let name = said.advertisement_name.or(said.local_name);
    Some(Nearby {
        address: Text::clean(&address(device)),
        name: Text::clean(&name.unwrap_or_default()),
        rssi_dbm: said.rssi,
        services,
    })
}
