//! Ports as they are typed: a path, `PATH@BAUD`, `tcp:HOST:PORT`, `ble:ADDRESS`.

use crate::meter::{Address, Line};
use crate::text::Text;

/// A `--meter NAME=PROTOCOL@PORT`, taken apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Typed {
    /// The meter's name.
    pub name: Text,
    /// The description: a name or a file.
    pub protocol: String,
    /// The port.
    pub address: Address,
}

/// Takes `NAME=PROTOCOL@PORT` apart.
///
/// # Errors
/// What was expected.
pub fn typed(given: &str) -> Result<Typed, String> {
    let shape = "expected NAME=PROTOCOL@PORT, such as ohms-1=text-line@/dev/ttyUSB0";
    let (name, rest) = given.split_once('=').ok_or(shape)?;
    let (protocol, port) = rest.split_once('@').ok_or(shape)?;
    if name.is_empty() || protocol.is_empty() || port.is_empty() {
        return Err(shape.to_owned());
    }
    Ok(Typed {
        name: Text::new(name).map_err(|e| format!("name: {e}"))?,
        protocol: protocol.to_owned(),
        address: port_address(port)?,
    })
}

/// Reads a PORT.
///
/// # Errors
/// What was expected, what was found.
pub fn port_address(port: &str) -> Result<Address, String> {
    if let Some(address) = port.strip_prefix("tcp:") {
        return tcp(address);
    }
    if let Some(address) = port.strip_prefix("ble:") {
        return ble(address);
    }
    let (path, baud) = match port.rsplit_once('@') {
        // A slash behind it: the sign belongs to the path.
        Some((path, rate)) if !rate.contains(['/', '\\']) => {
            let rate = rate.parse().map_err(|_| {
                format!("expected a whole number of bits a second after @, found {rate:?}")
            })?;
            (path, baud(rate)?)
        }
        _ => (port, Line::default().baud),
    };
    Ok(Address::Serial {
        path: words("the port's path", path)?,
        line: Line {
            baud,
            ..Line::default()
        },
    })
}

/// `HOST:PORT`.
pub(super) fn tcp(address: &str) -> Result<Address, String> {
    let fits = address.rsplit_once(':').is_some_and(|(host, port)| {
        !host.is_empty() && port.parse::<u16>().is_ok_and(|port| port > 0)
    });
    if !fits {
        return Err(format!(
            "expected HOST:PORT with a port from 1 to 65535, found {address:?}"
        ));
    }
    Ok(Address::Tcp {
        address: words("the address", address)?,
    })
}

/// A device's address, or its name.
pub(super) fn ble(address: &str) -> Result<Address, String> {
    let address = address.trim();
    if looks_like_an_address(address) && !is_an_address(address) {
        return Err(format!(
            "expected a Bluetooth address of six pairs such as C4:00:00:00:0A:01, found {address:?}; `stillohm scan` shows them"
        ));
    }
    Ok(Address::Ble {
        address: words("the Bluetooth address", address)?,
    })
}

/// Pairs with colons or dashes between, however many: a name is written otherwise.
fn looks_like_an_address(text: &str) -> bool {
    let pairs = text.split([':', '-']);
    pairs.clone().count() > 2 && pairs.clone().all(|pair| pair.len() <= 2)
}

fn is_an_address(text: &str) -> bool {
    let hex = |pair: &str| pair.len() == 2 && pair.bytes().all(|b| b.is_ascii_hexdigit());
    text.split(':').count() == 6 && text.split(':').all(hex)
}

/// A rate that a line can have.
pub(super) fn baud(rate: i64) -> Result<u32, String> {
    match u32::try_from(rate) {
        Ok(baud @ 50..=4_000_000) => Ok(baud),
        _ => Err(format!(
            "expected 50 to 4000000 bits a second, found {rate}"
        )),
    }
}

/// Words that may not be empty.
pub(super) fn words(what: &str, words: &str) -> Result<Text, String> {
    if words.trim().is_empty() {
        return Err(format!("{what}: expected something, found nothing"));
    }
    Text::new(words).map_err(|e| format!("{what}: {e}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(port: &str, expected: &str) {
        let said = match port_address(port) {
            Ok(Address::Serial { path, line }) => format!("serial {path} {}", line.baud),
            Ok(address) => address.to_string(),
            Err(message) => message,
        };
        assert_eq!(said, expected, "{port}");
    }

    #[test]
    fn a_port_is_a_path_a_rate_a_host_or_a_bluetooth_address() {
        check("/dev/ttyUSB0", "serial /dev/ttyUSB0 9600");
        check("/dev/ttyUSB0@115200", "serial /dev/ttyUSB0 115200");
        check("COM3@2400", "serial COM3 2400");
        check("/dev/by@path/x", "serial /dev/by@path/x 9600");
        check("tcp:localhost:5020", "tcp:localhost:5020");
        check("tcp:[::1]:5020", "tcp:[::1]:5020");
        check("ble:00:11:22:33:44:55", "ble:00:11:22:33:44:55");
    }

    #[test]
    fn a_wrong_port_hears_what_was_expected() {
        check(
            "/dev/ttyUSB0@fast",
            "expected a whole number of bits a second after @, found \"fast\"",
        );
        check(
            "/dev/ttyUSB0@7",
            "expected 50 to 4000000 bits a second, found 7",
        );
        check(
            "tcp:localhost",
            "expected HOST:PORT with a port from 1 to 65535, found \"localhost\"",
        );
        check(
            "tcp:localhost:99999",
            "expected HOST:PORT with a port from 1 to 65535, found \"localhost:99999\"",
        );
        for none in [
            "C4:00:00:00:0A",
            "C4:00:00:00:0A:0G",
            "C4-00-00-00-0A-01",
            "::",
        ] {
            let said = format!(
                "expected a Bluetooth address of six pairs such as C4:00:00:00:0A:01, found {none:?}; `stillohm scan` shows them"
            );
            check(&format!("ble:{none}"), &said);
        }
        check("ble:weir-1", "ble:weir-1");
        check(
            "ble:",
            "the Bluetooth address: expected something, found nothing",
        );
    }

    #[test]
    fn a_meter_is_typed_as_name_protocol_and_port() {
        let meter = typed("ohms-1=text-line@/dev/ttyUSB0@2400").expect("well formed");
        assert_eq!(
            (meter.name.as_str(), meter.protocol.as_str()),
            ("ohms-1", "text-line")
        );
        assert!(typed("ohms-1").is_err() && typed("=a@b").is_err() && typed("a=@b").is_err());
        assert!(typed("=SUM(A1)=text-line@/dev/x").is_err());
    }
}
