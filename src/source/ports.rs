//! Which serial ports there are, and which one has a USB serial number.

use serde::Serialize;

use crate::text::Text;

/// A serial port of this machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PortInfo {
    /// The path that opens it.
    pub path: Text,
    /// The USB serial number, by which it can be named whatever its path.
    pub usb: Option<Text>,
    /// What the device calls itself.
    pub product: Option<Text>,
}

/// The serial ports of this machine, by path. None where the system cannot tell.
pub fn list() -> Vec<PortInfo> {
    let found = serialport::available_ports().unwrap_or_default();
    let mut ports: Vec<PortInfo> = found.into_iter().map(PortInfo::from).collect();
    ports.sort_by(|a, b| a.path.cmp(&b.path));
    ports
}

impl From<serialport::SerialPortInfo> for PortInfo {
    fn from(port: serialport::SerialPortInfo) -> Self {
        let (usb, product) = match port.port_type {
            serialport::SerialPortType::UsbPort(usb) => (usb.serial_number, usb.product),
            _ => (None, None),
        };
        let clean = |words: Option<String>| words.map(|w| Text::clean(w.trim()));
        Self {
            path: Text::clean(&port.port_name),
            usb: clean(usb).filter(|u| !u.is_empty()),
            product: clean(product),
        }
    }
}

/// The path of the port with this USB serial number, the first by name if an
/// adapter has several.
pub(super) fn by_usb(ports: &[PortInfo], serial: &Text) -> Option<Text> {
    let has = |port: &&PortInfo| port.usb.as_ref() == Some(serial);
    ports.iter().find(has).map(|port| port.path.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(path: &str, usb: Option<&str>, product: Option<&str>) -> PortInfo {
        PortInfo::from(serialport::SerialPortInfo {
            port_name: path.to_owned(),
            port_type: serialport::SerialPortType::UsbPort(serialport::UsbPortInfo {
                vid: 0,
                pid: 0,
                serial_number: usb.map(str::to_owned),
                manufacturer: None,
                product: product.map(str::to_owned),
            }),
        })
    }

    #[test]
    fn a_port_is_found_by_serial_number_whatever_its_path() {
        let ports = [
            port("/dev/ttyUSB0", Some("HATCH-7"), None),
            port("/dev/ttyUSB1", None, None),
            port("/dev/ttyUSB2", Some("HATCH-9"), None),
        ];
        let path = |serial: &str| by_usb(&ports, &Text::clean(serial));
        assert_eq!(path("HATCH-9"), Some(Text::clean("/dev/ttyUSB2")));
        assert_eq!(path("HATCH-8"), None);
        assert_eq!(path(""), None);
    }

    #[test]
    fn what_a_device_says_is_cleaned() {
        let odd = port("/dev/ttyUSB0", Some(" "), Some("=1+1\n"));
        assert_eq!(odd.usb, None);
        let product = odd.product.unwrap();
        assert!(!product.as_str().starts_with('='), "{product}");
        assert!(!product.as_str().contains('\n'));
    }
}
