//! `scan`: Bluetooth meters near by.

use std::time::Duration;

use serde_json::json;

use super::{Fail, Out};
use crate::source::{self, Nearby};

/// How long is looked, and how the list is printed.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// For how long to look
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = clap::value_parser!(u64).range(1..=120))]
    seconds: u64,
    /// As JSON lines
    #[arg(long)]
    json: bool,
}

/// Looks for devices and lists them, the strongest first.
///
/// # Errors
/// No service, no adapter, or one that is switched off; stdout cannot be written.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let found = source::scan(Duration::from_secs(args.seconds))
        .map_err(|e| Fail::Around(anyhow::Error::new(e)))?;
    let mut out = Out::new();
    for device in &found {
        match args.json {
            true => out.line(json!({
                "address": device.address,
                "name": device.name,
                "rssi_dbm": device.rssi_dbm,
                "services": services(device),
            }))?,
            false => out.line(line(device).trim_end())?,
        }
    }
    out.flush()?;
    if found.is_empty() {
        say_none();
    }
    Ok(())
}

fn services(device: &Nearby) -> Vec<String> {
    device.services.iter().map(ToString::to_string).collect()
}

fn line(device: &Nearby) -> String {
    let rssi = device.rssi_dbm.map_or_else(
        || String::from("not heard now"),
        |rssi| format!("{rssi} dBm"),
    );
    format!(
        "{:<18} {rssi:<14} {:<24} {}",
        device.address,
        device.name,
        services(device).join(" ")
    )
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn say_none() {
    eprintln!(
        "stillohm: nothing is near by: switch the meter and its Bluetooth on; one that is connected to a phone or another computer hides"
    );
}
