//! `scan`: Bluetooth meters near by.

mod join;

use std::time::Duration;

use serde_json::json;

use super::{Fail, Out};
use crate::config::library;
use crate::description::GattAsked;
use crate::source::{self, Nearby};

/// How long somebody has to join the clips.
const PATIENCE: Duration = Duration::from_secs(60);

/// How long is looked, and how the list is printed.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// For how long to look
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = clap::value_parser!(u64).range(1..=120))]
    seconds: u64,
    /// As JSON lines
    #[arg(long)]
    json: bool,
    /// Of several devices with this name, find the one whose clips you join
    #[arg(long, value_name = "NAME")]
    join: Option<String>,
    /// How those devices speak
    #[arg(
        long,
        value_name = "P",
        default_value = "gatt-described",
        requires = "join"
    )]
    protocol: String,
}

/// Looks for devices and lists them, the strongest first.
///
/// # Errors
/// No service, no adapter, or one that is switched off; nobody of the name, or
/// nobody joined the clips; stdout cannot be written.
pub(crate) fn run(args: &Args) -> Result<(), Fail> {
    let found = source::scan(Duration::from_secs(args.seconds))
        .map_err(|e| Fail::Around(anyhow::Error::new(e)))?;
    let known = known()?;
    let mut out = Out::new();
    let mut tell = |device: &Nearby| match args.json {
        true => out.line(json!({
            "address": device.address,
            "name": device.name,
            "rssi_dbm": device.rssi_dbm,
            "services": services(device),
            "fits": fits(device, &known),
        })),
        false => out.line(line(device, &known).trim_end()),
    };
    match &args.join {
        None => {
            for device in &found {
                tell(device)?;
            }
        }
        Some(name) => {
            let alike: Vec<Nearby> = found
                .iter()
                .filter(|device| device.name.as_str() == name)
                .cloned()
                .collect();
            let one = match alike.as_slice() {
                [] => return Err(Fail::No(none_called(name, &found))),
                [one] => one,
                _ => join::join(&alike, &args.protocol, PATIENCE)?,
            };
            tell(one)?;
            say_bound(one);
        }
    }
    out.flush()?;
    if found.is_empty() {
        say_none();
    }
    Ok(())
}

fn none_called(name: &str, found: &[Nearby]) -> String {
    let names: Vec<&str> = found
        .iter()
        .map(|device| device.name.as_str())
        .filter(|name| !name.is_empty())
        .collect();
    match names.is_empty() {
        true => {
            format!("nothing near by is called {name:?}: switch the meter and its Bluetooth on")
        }
        false => format!(
            "nothing near by is called {name:?}; there are: {}",
            names.join(", ")
        ),
    }
}

/// Descriptions of Bluetooth meters: what each asks of one.
fn known() -> Result<Vec<(String, GattAsked)>, Fail> {
    let library = library(None)?;
    let asked = library.iter().filter_map(|(name, entry)| {
        let plan = library::compile(name, entry).ok()?;
        Some((name.to_owned(), plan.gatt()?))
    });
    Ok(asked.collect())
}

/// Which descriptions could fit: those whose services it advertises; if none
/// does, those that need no certain service, which only a connection tells.
fn fits<'a>(device: &Nearby, known: &'a [(String, GattAsked)]) -> Vec<&'a str> {
    let advertised = |asked: &GattAsked| match asked {
        GattAsked::Described => false,
        GattAsked::Named(all) => {
            let mut services = all.iter().filter_map(|c| c.service).peekable();
            services.peek().is_some() && services.all(|s| device.services.contains(&s))
        }
    };
    let sure: Vec<&str> = known
        .iter()
        .filter(|(_, asked)| advertised(asked))
        .map(|(name, _)| name.as_str())
        .collect();
    if !sure.is_empty() {
        return sure;
    }
    let open = |asked: &GattAsked| match asked {
        GattAsked::Described => true,
        GattAsked::Named(all) => all.iter().all(|c| c.service.is_none()),
    };
    known
        .iter()
        .filter(|(_, asked)| open(asked))
        .map(|(name, _)| name.as_str())
        .collect()
}

fn services(device: &Nearby) -> Vec<String> {
    device.services.iter().map(ToString::to_string).collect()
}

fn line(device: &Nearby, known: &[(String, GattAsked)]) -> String {
    let rssi = device.rssi_dbm.map_or_else(
        || String::from("not heard now"),
        |rssi| format!("{rssi} dBm"),
    );
    format!(
        "{:<18} {rssi:<14} {:<24} could be {:<20} {}",
        device.address,
        device.name,
        fits(device, known).join(", "),
        services(device).join(" ")
    )
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn say_bound(device: &Nearby) {
    eprintln!(
        "stillohm: write ble = {{ address = \"{}\" }} in its [[meter]]",
        device.address
    );
}

#[expect(clippy::print_stderr, reason = "talk goes to stderr")]
fn say_none() {
    eprintln!(
        "stillohm: nothing is near by: switch the meter and its Bluetooth on; one that is connected to a phone or another computer hides"
    );
}
