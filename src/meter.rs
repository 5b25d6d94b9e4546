//! Meters and ports: what is connected, how, and how far it can be believed.

use serde::{Deserialize, Serialize};

use crate::quantity::{Decimal, Ohms, Unit};
use crate::text::Text;

/// A port's place in [`Settings::ports`](crate::input::Settings).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PortId(pub u16);

/// A meter's place in [`Settings::meters`](crate::input::Settings).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MeterId(pub u16);

/// One cable or device that bytes come from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Port {
    /// Where it is and how it is opened.
    pub address: Address,
    /// The description spoken on it, a name in [`Settings::descriptions`](crate::input::Settings).
    pub protocol: Text,
}

/// Where bytes come from.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Address {
    /// A serial device by its path.
    Serial {
        /// The device, or a link to it that is followed at each opening.
        path: Text,
        /// The line's settings.
        line: Line,
    },
    /// A serial device by the serial number of its USB adapter, since device names swap.
    Usb {
        /// The USB serial number.
        usb: Text,
        /// The line's settings.
        line: Line,
    },
    /// A host and a port.
    Tcp {
        /// `HOST:PORT`.
        address: Text,
    },
    /// A Bluetooth device by its address.
    Ble {
        /// The address, or the name where a system gives no addresses.
        address: Text,
    },
    /// Nothing is opened: a file being replayed, or values typed in.
    Replay {
        /// What the file calls it.
        name: Text,
    },
}

impl core::fmt::Display for Address {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Serial { path, .. } => write!(f, "{path}"),
            Self::Usb { usb, .. } => write!(f, "usb:{usb}"),
            Self::Tcp { address } => write!(f, "tcp:{address}"),
            Self::Ble { address } => write!(f, "ble:{address}"),
            Self::Replay { name } => write!(f, "{name}"),
        }
    }
}

/// How a serial line is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Line {
    /// Bits a second.
    pub baud: u32,
    /// 7 or 8.
    pub data_bits: u8,
    /// The parity bit.
    pub parity: Parity,
    /// 1 or 2.
    pub stop_bits: u8,
}

impl Default for Line {
    fn default() -> Self {
        Self {
            baud: 9600,
            data_bits: 8,
            parity: Parity::None,
            stop_bits: 1,
        }
    }
}

/// The parity bit of a serial line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[expect(missing_docs, reason = "each name is its own parity")]
pub enum Parity {
    None,
    Even,
    Odd,
}

/// An instrument on a port.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Meter {
    /// Its name in the log.
    pub name: Text,
    /// The bench it stands on.
    pub bench: Text,
    /// The port it is on.
    pub port: PortId,
    /// Its address on a shared bus.
    pub unit: Option<u8>,
    /// Accuracy by range, in the order of rising `up_to`; empty means not configured.
    pub accuracy: Vec<Accuracy>,
    /// 2 or 4.
    pub terminals: u8,
    /// What it measures; a job sends each point to the meter that measures it.
    pub measures: Vec<Measures>,
    /// What over-range means when the stream does not say.
    pub over_range_above: Option<Ohms>,
    /// The most that joined clips may read on an insulation tester.
    pub proof_max: Ohms,
    /// Its own serial number.
    pub serial_number: Option<Text>,
    /// Its calibration certificate.
    pub certificate: Option<Text>,
    /// `YYYY-MM-DD`.
    pub calibrated_on: Option<Text>,
    /// `YYYY-MM-DD`: at the end of that day (UTC) it is overdue.
    pub calibration_due: Option<Text>,
}

impl Meter {
    /// 100 kΩ (own): many insulation testers show more than zero when joined.
    pub const PROOF_MAX: Ohms = Ohms(100_000.0);

    /// A two-terminal ohmmeter of which nothing else is known.
    pub fn plain(name: Text, port: PortId) -> Self {
        Self {
            name,
            bench: Text::clean("bench-1"),
            port,
            unit: None,
            accuracy: Vec::new(),
            terminals: 2,
            measures: vec![Measures::Ohms],
            over_range_above: None,
            proof_max: Self::PROOF_MAX,
            serial_number: None,
            certificate: None,
            calibrated_on: None,
            calibration_due: None,
        }
    }

    /// Whether it measures `what`.
    pub fn measures(&self, what: Measures) -> bool {
        self.measures.contains(&what)
    }
}

/// What a meter measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Measures {
    /// Resistance at an ohmmeter's low voltage.
    Ohms,
    /// Insulation resistance at a test voltage.
    Insulation,
    /// Voltage.
    Volts,
}

/// Accuracy of one range: ± (percent of reading + counts).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Accuracy {
    /// The largest value it holds for, in base units; none: for all.
    pub up_to: Option<Decimal>,
    /// The unit it holds for.
    pub unit: Unit,
    /// Percent of reading.
    pub percent: f64,
    /// Counts of the range shown.
    pub counts: f64,
}
