//! A value that describes itself: Characteristic Presentation Format, 0x2904.
//!
//! Formats, units and special values: Bluetooth SIG assigned numbers; layout:
//! Core Specification, volume 3, part G, 3.3.3.5; medfloats: IEEE 11073-20601.
//! The exponent holds for integers only. One count is the resolution of an
//! integer and of a medfloat; an IEEE float shows 6 digits and 4 decimals (own).
//! A standard characteristic says by its name alone what its value is (GATT
//! Specification Supplement): that outranks a format beside it.

use crate::quantity::{Decimal, Shown, Unit};
use crate::reading::{Got, Quantity};

use super::{Float, Order};

/// Battery Level, Temperature, Humidity, Voltage (Bluetooth assigned numbers).
const BATTERY_LEVEL: u16 = 0x2A19;
const TEMPERATURE: u16 = 0x2A6E;
const HUMIDITY: u16 = 0x2A6F;
const VOLTAGE: u16 = 0x2B18;

/// A value and what its meter says of it.
#[derive(Clone, Copy, Debug)]
pub struct Described<'a> {
    /// Its presentation format: the format's code, a power of ten, the unit's number.
    pub format: Option<(u8, i8, u16)>,
    /// Its characteristic's assigned number, if that alone says what its value is; else 0.
    pub assigned: u16,
    /// Whether another characteristic of the meter tells ohms.
    pub beside_ohm: bool,
    /// Whether another characteristic tells the same unit.
    pub twice: bool,
    /// Its bytes.
    pub value: &'a [u8],
}

/// What a format is, by its code.
enum Kind {
    Unsigned { bits: u32 },
    Signed { bits: u32 },
    Float { bytes: usize },
    Med { bytes: usize },
}

/// Name, bytes and kind of a format that is a number.
fn kind(code: u8) -> Option<(&'static str, usize, Kind)> {
    let unsigned = |bits| Kind::Unsigned { bits };
    let signed = |bits| Kind::Signed { bits };
    Some(match code {
        0x02 => ("uint2", 1, unsigned(2)),
        0x03 => ("uint4", 1, unsigned(4)),
        0x04 => ("uint8", 1, unsigned(8)),
        0x05 => ("uint12", 2, unsigned(12)),
        0x06 => ("uint16", 2, unsigned(16)),
        0x07 => ("uint24", 3, unsigned(24)),
        0x08 => ("uint32", 4, unsigned(32)),
        0x09 => ("uint48", 6, unsigned(48)),
        0x0A => ("uint64", 8, unsigned(64)),
        0x0B => ("uint128", 16, unsigned(128)),
        0x0C => ("sint8", 1, signed(8)),
        0x0D => ("sint12", 2, signed(12)),
        0x0E => ("sint16", 2, signed(16)),
        0x0F => ("sint24", 3, signed(24)),
        0x10 => ("sint32", 4, signed(32)),
        0x11 => ("sint48", 6, signed(48)),
        0x12 => ("sint64", 8, signed(64)),
        0x13 => ("sint128", 16, signed(128)),
        0x14 => ("float32", 4, Kind::Float { bytes: 4 }),
        0x15 => ("float64", 8, Kind::Float { bytes: 8 }),
        0x16 => ("medfloat16", 2, Kind::Med { bytes: 2 }),
        0x17 => ("medfloat32", 4, Kind::Med { bytes: 4 }),
        _ => return None,
    })
}

/// What is read of a told value.
///
/// # Errors
/// Why it is no reading, in words.
pub fn described(told: &Described<'_>) -> Result<(Quantity, Got), String> {
    let twice = |what: &str| {
        format!("two characteristics tell {what}: which of them is meant is not known")
    };
    match told.assigned {
        TEMPERATURE if told.twice => return Err(twice("a temperature")),
        VOLTAGE if told.twice => return Err(twice("volts")),
        TEMPERATURE => return temperature(told.value),
        VOLTAGE => return voltage(told),
        HUMIDITY => return Err(String::from("a humidity: nothing that is measured here")),
        _ => {}
    }
    let Some((code, exponent, unit)) = told.format else {
        return match told.assigned {
            BATTERY_LEVEL => battery(told.value),
            _ => Err(String::from(
                "a value that does not describe itself (no 0x2904)",
            )),
        };
    };
    if told.twice {
        return Err(twice(&format!("the unit 0x{unit:04X}")));
    }
    let (quantity, unit) = quantity(unit, told)?;
    let (name, bytes, kind) =
        kind(code).ok_or_else(|| format!("the format 0x{code:02X} of the value is no number"))?;
    if told.value.len() != bytes {
        return Err(format!(
            "expected {bytes} bytes ({name}), found {}",
            told.value.len()
        ));
    }
    // uint2 and uint4 use no exponent (assigned numbers).
    let exponent = if code < 0x04 { 0 } else { exponent };
    let got = match kind {
        Kind::Unsigned { bits } => number(unsigned(told.value, bits, name)?, exponent, unit)?,
        Kind::Signed { bits } => number(signed(told.value, bits, name)?, exponent, unit)?,
        Kind::Float { bytes } => float(told.value, bytes, unit)?,
        Kind::Med { bytes } => medfloat(told.value, bytes, unit)?,
    };
    Ok((quantity, got))
}

/// Battery Level: a percentage in one byte.
fn battery(value: &[u8]) -> Result<(Quantity, Got), String> {
    let &[percent @ 0..=100] = value else {
        let why = "expected a battery level of 0 to 100 in one byte";
        return Err(String::from(why));
    };
    let got = number(i128::from(percent), 0, Unit::Percent)?;
    Ok((Quantity::Battery, got))
}

/// Temperature: sint16 in hundredths of a degree; the lowest count: not known.
fn temperature(value: &[u8]) -> Result<(Quantity, Got), String> {
    let &[low, high] = value else {
        return Err(format!(
            "expected 2 bytes (temperature), found {}",
            value.len()
        ));
    };
    let got = match i16::from_le_bytes([low, high]) {
        i16::MIN => Got::Nothing,
        // Below absolute zero: reserved.
        -32_767..-27_315 => return Err(String::from("a reserved value of a temperature")),
        count => number(i128::from(count), -2, Unit::Celsius)?,
    };
    Ok((Quantity::Temperature, got))
}

/// Voltage: uint16 in sixty-fourths of a volt, 1022 V at most; all ones: not known.
fn voltage(told: &Described<'_>) -> Result<(Quantity, Got), String> {
    let quantity = if told.beside_ohm {
        Quantity::TestVoltage
    } else {
        Quantity::Main
    };
    let &[low, high] = told.value else {
        return Err(format!(
            "expected 2 bytes (voltage), found {}",
            told.value.len()
        ));
    };
    let got = match u16::from_le_bytes([low, high]) {
        u16::MAX => Got::Nothing,
        count if count > 1022 * 64 => return Err(String::from("a reserved value of a voltage")),
        count => {
            let volts = |count: i64| Decimal::new(count * 15_625, -6).map_err(|_| too_large());
            let mut shown = Shown::plain(volts(i64::from(count))?, Unit::Volt);
            shown.resolution = volts(1)?;
            Got::Value(shown)
        }
    };
    Ok((quantity, got))
}

/// What a unit is of, on a meter that has the others beside it.
fn quantity(unit: u16, told: &Described<'_>) -> Result<(Quantity, Unit), String> {
    Ok(match unit {
        0x272A => (Quantity::Main, Unit::Ohm),
        0x2728 if told.beside_ohm => (Quantity::TestVoltage, Unit::Volt),
        0x2728 => (Quantity::Main, Unit::Volt),
        0x2704 if told.beside_ohm => (Quantity::Leakage, Unit::Ampere),
        0x2703 if told.beside_ohm => (Quantity::Elapsed, Unit::Second),
        0x272F => (Quantity::Temperature, Unit::Celsius),
        0x27AC => (Quantity::Temperature, Unit::Fahrenheit),
        0x27AD if told.assigned == BATTERY_LEVEL => (Quantity::Battery, Unit::Percent),
        _ => {
            return Err(format!(
                "the unit 0x{unit:04X} of the value is none that is read here"
            ));
        }
    })
}

fn gathered(value: &[u8]) -> u128 {
    value
        .iter()
        .rev()
        .fold(0, |all, byte| (all << 8) | u128::from(*byte))
}

fn unsigned(value: &[u8], bits: u32, name: &str) -> Result<i128, String> {
    let raw = gathered(value);
    if bits < 128 && raw >> bits != 0 {
        return Err(format!("reserved bits of a {name} are not 0"));
    }
    i128::try_from(raw).map_err(|_| too_large())
}

fn signed(value: &[u8], bits: u32, name: &str) -> Result<i128, String> {
    let raw = gathered(value);
    if bits < 128 && raw >> bits != 0 {
        return Err(format!("reserved bits of a {name} are not 0"));
    }
    let unused = 128 - bits;
    // The sign bit moves to the top and comes back with its copies.
    Ok((raw << unused).cast_signed() >> unused)
}

fn too_large() -> String {
    String::from("expected at most 18 digits and a power of ten from -15 to 15")
}

fn number(count: i128, exponent: i8, unit: Unit) -> Result<Got, String> {
    let count = i64::try_from(count).map_err(|_| too_large())?;
    let value = Decimal::new(count, exponent).map_err(|_| too_large())?;
    let mut shown = Shown::plain(value, unit);
    // Counts of more than a unit are read with a prefix: 200.000 MΩ.
    let size = value.to_f64().abs();
    if exponent > 0 && unit == Unit::Ohm {
        shown.prefix = if size >= 1e6 { 6 } else { 3 };
    }
    Ok(Got::Value(shown))
}

fn beyond(unit: Unit, more: bool) -> Result<Got, String> {
    match more && unit == Unit::Ohm {
        true => Ok(Got::Over {
            unit,
            full_scale: None,
        }),
        false => Err(String::from("an infinity that is no over-range of ohms")),
    }
}

fn float(value: &[u8], bytes: usize, unit: Unit) -> Result<Got, String> {
    let float = Float {
        at: 0,
        bytes,
        order: Order::Little,
        digits: Some(6),
        decimals: Some(4),
    };
    let read = float.read(value).map_err(|e| e.to_string())?;
    if read.is_nan() {
        return Ok(Got::Nothing);
    }
    if read.is_infinite() {
        return beyond(unit, read > 0.0);
    }
    let shown = float.shown(read).map_err(|e| e.to_string())?;
    Ok(Got::Value(Shown::plain(shown, unit)))
}

/// IEEE 11073-20601: 4 bits of exponent and 12 of mantissa, or 8 and 24; the
/// special values stand at exponent 0.
fn medfloat(value: &[u8], bytes: usize, unit: Unit) -> Result<Got, String> {
    let (mantissa_bits, exponent_bits) = if bytes == 2 { (12, 4) } else { (24, 8) };
    let raw = gathered(value);
    let part = |bits: u128, width: u32| {
        let unused = 128 - width;
        (bits << unused).cast_signed() >> unused
    };
    let mantissa = part(raw, mantissa_bits);
    let exponent = part(raw >> mantissa_bits, exponent_bits);
    let most = (1_i128 << (mantissa_bits - 1)) - 1;
    if exponent == 0 {
        // NaN, NRes, +INFINITY, −INFINITY, reserved.
        match mantissa {
            m if m == most || m == -most - 1 => return Ok(Got::Nothing),
            m if m == most - 1 => return beyond(unit, true),
            m if m == 1 - most => return beyond(unit, false),
            m if m == -most => return Err(String::from("a reserved value of a medfloat")),
            _ => {}
        }
    }
    let exponent = i8::try_from(exponent).map_err(|_| too_large())?;
    number(mantissa, exponent, unit)
}
