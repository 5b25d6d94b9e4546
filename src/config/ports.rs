//! The port of a meter, and who shares it.

use super::address::{baud, ble, tcp};
use super::check::{Source, expected};
use super::{ConfigError, written};
use crate::input::Settings;
use crate::meter::{Address, Line, Meter, Parity, Port, PortId};
use crate::text::Text;
use toml::Spanned;

/// Exactly one of `serial`, `tcp`, `ble`, and none when it is read by eye.
pub(super) fn port(
    source: &Source<'_>,
    written: &Spanned<written::Meter>,
) -> Result<(Address, usize), ConfigError> {
    let meter = written.get_ref();
    let start = meter.name.span().start;
    if meter.by_eye {
        let ports = [
            meter.serial.is_some(),
            meter.tcp.is_some(),
            meter.ble.is_some(),
        ];
        if ports.contains(&true) || meter.protocol.is_some() {
            let message = "by_eye: expected neither a protocol nor serial, tcp or ble beside it";
            return Err(source.at(start, message));
        }
        let name = format!("by eye: {}", meter.name.get_ref());
        return Ok((
            Address::Replay {
                name: Text::clean(&name),
            },
            start,
        ));
    }
    match (&meter.serial, &meter.tcp, &meter.ble) {
        (Some(serial), None, None) => Ok((self::serial(source, serial)?, serial.span().start)),
        (None, Some(value), None) => {
            let address = &value.get_ref().address;
            let checked =
                tcp(address.get_ref()).map_err(|e| source.key(address, "tcp.address", e))?;
            Ok((checked, value.span().start))
        }
        (None, None, Some(value)) => {
            let ((Some(name), None) | (None, Some(name))) =
                (&value.get_ref().address, &value.get_ref().name)
            else {
                return Err(source.key(value, "ble", "expected one of address and name"));
            };
            let checked = ble(name.get_ref()).map_err(|e| source.key(name, "ble", e))?;
            Ok((checked, value.span().start))
        }
        _ => Err(source.at(
            start,
            format!(
                "meter {:?}: expected exactly one of serial, tcp and ble, or by_eye = true",
                meter.name.get_ref()
            ),
        )),
    }
}

fn serial(source: &Source<'_>, written: &Spanned<written::Serial>) -> Result<Address, ConfigError> {
    let serial = written.get_ref();
    let mut line = Line::default();
    if let Some(rate) = &serial.baud {
        line.baud = baud(*rate.get_ref()).map_err(|e| source.key(rate, "baud", e))?;
    }
    if let Some(bits) = &serial.data_bits {
        line.data_bits = match bits.get_ref() {
            7 => 7,
            8 => 8,
            other => return Err(source.key(bits, "data_bits", expected("7 or 8", other))),
        };
    }
    if let Some(bits) = &serial.stop_bits {
        line.stop_bits = match bits.get_ref() {
            1 => 1,
            2 => 2,
            other => return Err(source.key(bits, "stop_bits", expected("1 or 2", other))),
        };
    }
    if let Some(parity) = &serial.parity {
        line.parity = match parity.get_ref().as_str() {
            "none" => Parity::None,
            "even" => Parity::Even,
            "odd" => Parity::Odd,
            other => {
                return Err(source.key(parity, "parity", expected("none, even or odd", other)));
            }
        };
    }
    match (&serial.path, &serial.usb) {
        (Some(path), None) => Ok(Address::Serial {
            path: source.words(path, "path")?,
            line,
        }),
        (None, Some(usb)) => Ok(Address::Usb {
            usb: source.words(usb, "usb")?,
            line,
        }),
        _ => Err(source.key(written, "serial", "expected one of path and usb")),
    }
}

/// The port with this address, new or shared. Who shares agrees on everything.
pub(super) fn share(
    settings: &mut Settings,
    address: Address,
    protocol: &Text,
) -> Result<PortId, String> {
    let named = address.to_string();
    if let Some(at) = settings
        .ports
        .iter()
        .position(|p| p.address.to_string() == named)
    {
        let port = &settings.ports[at];
        if port.address != address {
            return Err(format!(
                "{named} is set up in two ways: meters on one port agree on its line settings"
            ));
        }
        if port.protocol != *protocol {
            return Err(format!(
                "{named} speaks {} for another meter: meters on one port agree on its protocol, found {protocol}",
                port.protocol
            ));
        }
        return u16::try_from(at)
            .map(PortId)
            .map_err(|_| TOO_MANY.to_owned());
    }
    let id = u16::try_from(settings.ports.len()).map_err(|_| TOO_MANY)?;
    settings.ports.push(Port {
        address,
        protocol: protocol.clone(),
    });
    Ok(PortId(id))
}

const TOO_MANY: &str = "expected at most 65535 ports";

/// Adds a meter whose name is its own, and whose unit is too when it shares its port.
pub(super) fn settle_in(settings: &mut Settings, meter: Meter) -> Result<(), String> {
    for other in &settings.meters {
        if other.name == meter.name {
            return Err(format!(
                "meter {:?} is there twice: expected a name of its own",
                meter.name
            ));
        }
        if other.port == meter.port {
            if meter.unit.is_none() || other.unit.is_none() {
                return Err(format!(
                    "meters {:?} and {:?} share a port: expected a unit for each",
                    other.name, meter.name
                ));
            }
            if other.unit == meter.unit {
                return Err(format!(
                    "meters {:?} and {:?} share a port and a unit: expected a unit of its own for each",
                    other.name, meter.name
                ));
            }
        }
    }
    settings.meters.push(meter);
    Ok(())
}
