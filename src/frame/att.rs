//! ATT PDUs: how what a Bluetooth meter offers and tells stands in a capture.
//!
//! Bluetooth Core Specification, volume 3, part F; little-endian throughout. A
//! chunk is one PDU: after each connection the table of attributes (services,
//! characteristics, presentation formats), then values as they are told or read.

use core::fmt;
use core::str::FromStr;

/// Read By Type Response: characteristic declarations, or formats.
const BY_TYPE: u8 = 0x09;
/// Read Request and Read Response.
const READ: u8 = 0x0A;
const READ_ANSWER: u8 = 0x0B;
/// Read By Group Type Response: services.
const BY_GROUP: u8 = 0x11;
/// Write Request and Write Command.
const WRITE: u8 = 0x12;
const WRITE_COMMAND: u8 = 0x52;
/// Handle Value Notification and Indication.
const NOTIFY: u8 = 0x1B;
const INDICATE: u8 = 0x1D;

/// The lengths of entries tell them apart.
const SERVICE: [usize; 2] = [6, 20];
const CHARACTERISTIC: [usize; 2] = [7, 21];
const FORMAT: usize = 9;
/// A PDU of ours holds so many bytes of entries at most; their length is one byte.
const ENTRIES: usize = 240;

/// A name of a service or a characteristic, 128 bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Uuid(pub u128);

/// What short names are short for: 0000xxxx-0000-1000-8000-00805F9B34FB.
const BASE: u128 = 0x0000_0000_0000_1000_8000_0080_5F9B_34FB;

/// Battery Level (Bluetooth assigned numbers).
pub const BATTERY_LEVEL: u16 = 0x2A19;
/// Temperature: hundredths of a degree Celsius.
pub const TEMPERATURE: u16 = 0x2A6E;
/// Humidity: hundredths of a percent.
pub const HUMIDITY: u16 = 0x2A6F;
/// Voltage: sixty-fourths of a volt.
pub const VOLTAGE: u16 = 0x2B18;

/// Whether a characteristic of this assigned number says by its name alone
/// what its value is (Bluetooth SIG, GATT Specification Supplement).
pub const fn speaks_for_itself(assigned: u16) -> bool {
    matches!(assigned, BATTERY_LEVEL | TEMPERATURE | HUMIDITY | VOLTAGE)
}

impl Uuid {
    /// An assigned number of 16 bits.
    pub const fn short(number: u16) -> Self {
        Self(((number as u128) << 96) | BASE)
    }

    /// Its 16 bits, if it is an assigned number.
    pub fn as_short(self) -> Option<u16> {
        let number = u16::try_from(self.0 >> 96).ok()?;
        (Self::short(number) == self).then_some(number)
    }

    fn read(bytes: &[u8]) -> Option<Self> {
        match bytes.len() {
            2 => Some(Self::short(u16::from_le_bytes(bytes.try_into().ok()?))),
            16 => Some(Self(u128::from_le_bytes(bytes.try_into().ok()?))),
            _ => None,
        }
    }
}

impl fmt::Display for Uuid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(number) = self.as_short() {
            return write!(f, "{number:04x}");
        }
        let hex = format!("{:032x}", self.0);
        write!(
            f,
            "{}-{}-{}-{}-{}",
            &hex[..8],
            &hex[8..12],
            &hex[12..16],
            &hex[16..20],
            &hex[20..]
        )
    }
}

impl FromStr for Uuid {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || {
            format!(
                "expected a UUID: 4 hexadecimal digits, or 32 with dashes such as 5a1c0001-8d2f-4f6e-9b3a-0c7d1e2f3a4b; found {text:?}"
            )
        };
        let digits = text.bytes().all(|b| b.is_ascii_hexdigit() || b == b'-');
        let short = text.strip_prefix("0x").unwrap_or(text);
        if short.len() == 4 && short.bytes().all(|b| b.is_ascii_hexdigit()) {
            let number = u16::from_str_radix(short, 16).map_err(|_| wrong())?;
            return Ok(Self::short(number));
        }
        let dashes: Vec<usize> = text.match_indices('-').map(|(at, _)| at).collect();
        if !digits || dashes != [8, 13, 18, 23] || text.len() != 36 {
            return Err(wrong());
        }
        let hex = text.replace('-', "");
        u128::from_str_radix(&hex, 16)
            .map(Self)
            .map_err(|_| wrong())
    }
}

/// A service: its handles and its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Service {
    /// Its first handle.
    pub start: u16,
    /// Its last.
    pub end: u16,
    /// Its name.
    pub uuid: Uuid,
}

/// A characteristic as it is declared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Characteristic {
    /// Where it is declared.
    pub handle: u16,
    /// What can be done with it: bits of the declaration.
    pub properties: u8,
    /// Where its value stands.
    pub value: u16,
    /// Its name.
    pub uuid: Uuid,
}

/// A Characteristic Presentation Format (0x2904; volume 3, part G, 3.3.3.5).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Format {
    /// The format's code.
    pub format: u8,
    /// A power of ten, for integers.
    pub exponent: i8,
    /// The unit's assigned number.
    pub unit: u16,
}

impl Format {
    /// Reads its 7 bytes; name space and description say nothing that is used.
    pub fn of(bytes: [u8; 7]) -> Self {
        Self {
            format: bytes[0],
            exponent: i8::from_le_bytes([bytes[1]]),
            unit: u16::from_le_bytes([bytes[2], bytes[3]]),
        }
    }
}

/// What a chunk says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Pdu<'a> {
    /// Services that there are.
    Services(Vec<Service>),
    /// Characteristics that there are.
    Characteristics(Vec<Characteristic>),
    /// The format that stands at a handle, of the characteristic before it.
    Formats(Vec<(u16, Format)>),
    /// A value that was told unasked.
    Value {
        /// Where it stands.
        handle: u16,
        /// The bytes.
        value: &'a [u8],
    },
    /// The answer to the last read.
    ReadAnswer(&'a [u8]),
}

/// Reads one chunk.
///
/// # Errors
/// It is no PDU that a meter sends.
pub fn parse(chunk: &[u8]) -> Result<Pdu<'_>, &'static str> {
    let (&code, rest) = chunk.split_first().ok_or("an empty chunk")?;
    match code {
        NOTIFY | INDICATE => match rest {
            [low, high, value @ ..] => Ok(Pdu::Value {
                handle: u16::from_le_bytes([*low, *high]),
                value,
            }),
            _ => Err("a value without its handle"),
        },
        READ_ANSWER => Ok(Pdu::ReadAnswer(rest)),
        BY_GROUP | BY_TYPE => entries(code, rest),
        _ => Err("not a value or a table of a Bluetooth meter (an ATT PDU)"),
    }
}

fn entries(code: u8, rest: &[u8]) -> Result<Pdu<'_>, &'static str> {
    const HALF: &str = "a table of attributes that ends inside an entry";
    let (&length, list) = rest.split_first().ok_or(HALF)?;
    let length = usize::from(length);
    if length == 0 || list.is_empty() || !list.len().is_multiple_of(length) {
        return Err(HALF);
    }
    let u16_at = |entry: &[u8], at: usize| u16::from_le_bytes([entry[at], entry[at + 1]]);
    let list = list.chunks_exact(length);
    if code == BY_GROUP && SERVICE.contains(&length) {
        let service = |entry: &[u8]| {
            Some(Service {
                start: u16_at(entry, 0),
                end: u16_at(entry, 2),
                uuid: Uuid::read(&entry[4..])?,
            })
        };
        return Ok(Pdu::Services(list.filter_map(service).collect()));
    }
    if code == BY_TYPE && CHARACTERISTIC.contains(&length) {
        let characteristic = |entry: &[u8]| {
            Some(Characteristic {
                handle: u16_at(entry, 0),
                properties: entry[2],
                value: u16_at(entry, 3),
                uuid: Uuid::read(&entry[5..])?,
            })
        };
        return Ok(Pdu::Characteristics(
            list.filter_map(characteristic).collect(),
        ));
    }
    if code == BY_TYPE && length == FORMAT {
        let format = |entry: &[u8]| {
            let bytes: [u8; 7] = entry[2..].try_into().ok()?;
            Some((u16_at(entry, 0), Format::of(bytes)))
        };
        return Ok(Pdu::Formats(list.filter_map(format).collect()));
    }
    Err("a table of attributes with entries of another length")
}

/// Services as PDUs.
pub fn services(all: &[Service]) -> Vec<Vec<u8>> {
    tables(
        BY_GROUP,
        all.iter().map(|s| {
            let mut entry = [s.start.to_le_bytes(), s.end.to_le_bytes()].concat();
            name(s.uuid, &mut entry);
            entry
        }),
    )
}

/// Characteristics as PDUs.
pub fn characteristics(all: &[Characteristic]) -> Vec<Vec<u8>> {
    tables(
        BY_TYPE,
        all.iter().map(|c| {
            let mut entry = c.handle.to_le_bytes().to_vec();
            entry.push(c.properties);
            entry.extend(c.value.to_le_bytes());
            name(c.uuid, &mut entry);
            entry
        }),
    )
}

/// Formats, each at its handle, as PDUs.
pub fn formats(all: &[(u16, [u8; 7])]) -> Vec<Vec<u8>> {
    tables(
        BY_TYPE,
        all.iter()
            .map(|(handle, format)| [&handle.to_le_bytes()[..], &format[..]].concat()),
    )
}

fn name(uuid: Uuid, entry: &mut Vec<u8>) {
    match uuid.as_short() {
        Some(number) => entry.extend(number.to_le_bytes()),
        None => entry.extend(uuid.0.to_le_bytes()),
    }
}

/// Entries of one length share a PDU, as long as there is room.
fn tables(code: u8, entries: impl Iterator<Item = Vec<u8>>) -> Vec<Vec<u8>> {
    let mut all: Vec<Vec<u8>> = Vec::new();
    for entry in entries {
        let length = u8::try_from(entry.len()).unwrap_or_default();
        match all.last_mut() {
            Some(last) if last[1] == length && last.len() + entry.len() <= ENTRIES => {
                last.extend(entry);
            }
            _ => {
                let mut first = vec![code, length];
                first.extend(entry);
                all.push(first);
            }
        }
    }
    all
}

fn with_handle(code: u8, handle: u16, value: &[u8]) -> Vec<u8> {
    let [low, high] = handle.to_le_bytes();
    [&[code, low, high], value].concat()
}

/// A value that is told, and not answered.
pub fn notification(handle: u16, value: &[u8]) -> Vec<u8> {
    with_handle(NOTIFY, handle, value)
}

/// A value that is told, and answered.
pub fn indication(handle: u16, value: &[u8]) -> Vec<u8> {
    with_handle(INDICATE, handle, value)
}

/// A value is asked for.
pub fn read(handle: u16) -> Vec<u8> {
    with_handle(READ, handle, &[])
}

/// Which value a sent PDU asks for, if it asks for one.
pub fn asks_for(sent: &[u8]) -> Option<u16> {
    match *sent {
        [READ, low, high] => Some(u16::from_le_bytes([low, high])),
        _ => None,
    }
}

/// The answer to a read.
pub fn read_answer(value: &[u8]) -> Vec<u8> {
    [&[READ_ANSWER], value].concat()
}

/// A value is written, and the meter answers or not.
pub fn write(handle: u16, value: &[u8], response: bool) -> Vec<u8> {
    let code = if response { WRITE } else { WRITE_COMMAND };
    with_handle(code, handle, value)
}
