//! Prefix and unit behind a number: `kΩ`, `MOHM`, `mV DC`.
//!
//! Two grammars that never share a rule: on a display case decides (m milli,
//! M mega); in IEEE 488.2 case means nothing, `MOHM` is mega and there is no
//! milliohm. The description says which one its meter speaks.

use crate::quantity::Unit;
use crate::reading::Flags;

/// How prefix and unit are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Suffix {
    /// Not at all.
    None,
    /// As on a display.
    Display,
    /// As IEEE 488.2-1992, tables 7-1 and 7-2.
    Scpi,
}

/// A set of units.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct UnitSet(u16);

impl UnitSet {
    /// This set and `unit`.
    #[must_use]
    pub const fn with(self, unit: Unit) -> Self {
        Self(self.0 | 1 << unit as u16)
    }

    /// Whether `unit` is in it.
    pub const fn has(self, unit: Unit) -> bool {
        self.0 & (1 << unit as u16) != 0
    }
}

/// A prefix and a unit, read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Read {
    /// Power of ten of the prefix.
    pub(super) prefix: i8,
    /// The unit; none: a bare number or a bare prefix.
    pub(super) unit: Option<Unit>,
    /// Base units in one: 60 for a minute.
    pub(super) factor: i64,
    /// AC or DC.
    pub(super) flags: Flags,
}

impl Read {
    const BARE: Self = Self {
        prefix: 0,
        unit: None,
        factor: 1,
        flags: Flags::NONE,
    };
}

impl Suffix {
    /// Reads what stands behind a number; `None` when it is not understood.
    pub(super) fn read(self, text: &[u8]) -> Option<Read> {
        if text.is_empty() {
            return Some(Read::BARE);
        }
        match self {
            Self::None => None,
            Self::Display => display(text),
            Self::Scpi => scpi(text),
        }
    }
}

fn display(text: &[u8]) -> Option<Read> {
    let (text, flags) = current(text);
    let (prefix, rest) = prefix_letter(text).unwrap_or((0, text));
    let (prefix, unit) = if let Some(unit) = display_unit(text) {
        (0, Some(unit))
    } else if rest.is_empty() {
        (prefix, None)
    } else {
        let unit = display_unit(rest.trim_ascii_start())?;
        if prefix == 0 || matches!(unit, Unit::Percent | Unit::Celsius | Unit::Fahrenheit) {
            return None;
        }
        (prefix, Some(unit))
    };
    if flags != Flags::NONE && !matches!(unit, Some(Unit::Volt | Unit::Ampere)) {
        return None;
    }
    Some(Read {
        prefix,
        unit,
        factor: 1,
        flags,
    })
}

/// Takes `AC` or `DC` from the end.
fn current(text: &[u8]) -> (&[u8], Flags) {
    let Some((head, tail)) = text.split_last_chunk::<2>() else {
        return (text, Flags::NONE);
    };
    let flags = match tail {
        b"AC" | b"ac" => Flags::AC,
        b"DC" | b"dc" => Flags::DC,
        _ => return (text, Flags::NONE),
    };
    (head.trim_ascii_end(), flags)
}

fn prefix_letter(text: &[u8]) -> Option<(i8, &[u8])> {
    Some(match text {
        // The Kelvin sign looks like K; both micro signs are in use, as is a Latin-1 or CP437 byte.
        [0xE2, 0x84, 0xAA, rest @ ..] => (3, rest),
        [0xC2, 0xB5, rest @ ..] | [0xCE, 0xBC, rest @ ..] => (-6, rest),
        [b'u' | 0xB5 | 0xE6, rest @ ..] => (-6, rest),
        [b'p', rest @ ..] => (-12, rest),
        [b'n', rest @ ..] => (-9, rest),
        [b'm', rest @ ..] => (-3, rest),
        [b'k' | b'K', rest @ ..] => (3, rest),
        [b'M', rest @ ..] => (6, rest),
        [b'G', rest @ ..] => (9, rest),
        [b'T', rest @ ..] => (12, rest),
        _ => return None,
    })
}

fn display_unit(text: &[u8]) -> Option<Unit> {
    Some(match text {
        // Omega, the ohm sign, and omega in CP437.
        [0xCE, 0xA9] | [0xE2, 0x84, 0xA6] | [0xEA] => Unit::Ohm,
        b"OHM" | b"Ohm" | b"ohm" => Unit::Ohm,
        b"V" | b"v" => Unit::Volt,
        b"A" => Unit::Ampere,
        b"S" => Unit::Siemens,
        b"s" => Unit::Second,
        b"%" => Unit::Percent,
        // Degree sign and ordinal sign in UTF-8, the degree sign in Latin-1 and CP437.
        [0xC2, 0xB0 | 0xBA, b'C'] | [0xB0 | 0xF8, b'C'] => Unit::Celsius,
        [0xC2, 0xB0 | 0xBA, b'F'] | [0xB0 | 0xF8, b'F'] => Unit::Fahrenheit,
        _ => {
            const WORDS: [(&[u8], Unit); 11] = [
                (b"ohm", Unit::Ohm),
                (b"ohms", Unit::Ohm),
                (b"volt", Unit::Volt),
                (b"volts", Unit::Volt),
                (b"amp", Unit::Ampere),
                (b"amps", Unit::Ampere),
                (b"ampere", Unit::Ampere),
                (b"degC", Unit::Celsius),
                (b"degF", Unit::Fahrenheit),
                (b"sec", Unit::Second),
                (b"percent", Unit::Percent),
            ];
            return WORDS
                .iter()
                .find(|(word, _)| word.eq_ignore_ascii_case(text))
                .map(|(_, unit)| *unit);
        }
    })
}

/// Units with the base units in one, the longest first, so that `MIN` is not milli and `IN`.
const SCPI_UNITS: [(&[u8], Unit, i64); 10] = [
    (b"OHM", Unit::Ohm, 1),
    (b"SIE", Unit::Siemens, 1),
    (b"CEL", Unit::Celsius, 1),
    (b"FAR", Unit::Fahrenheit, 1),
    (b"PCT", Unit::Percent, 1),
    (b"MIN", Unit::Second, 60),
    (b"HR", Unit::Second, 3600),
    (b"V", Unit::Volt, 1),
    (b"A", Unit::Ampere, 1),
    (b"S", Unit::Second, 1),
];

fn scpi(text: &[u8]) -> Option<Read> {
    let mut upper = [0_u8; 8];
    let upper = upper.get_mut(..text.len())?;
    upper.copy_from_slice(text);
    upper.make_ascii_uppercase();
    for (word, unit, factor) in SCPI_UNITS {
        let Some(head) = upper.strip_suffix(word) else {
            continue;
        };
        // M before OHM is mega (IEEE 488.2-1992 7.7.3.3): there is no milliohm.
        let prefix = match head {
            b"" => Some(0),
            b"M" if unit == Unit::Ohm => Some(6),
            _ => multiplier(head),
        };
        if let Some(prefix) = prefix {
            return Some(Read {
                prefix,
                unit: Some(unit),
                factor,
                flags: Flags::NONE,
            });
        }
    }
    Some(Read {
        prefix: multiplier(upper)?,
        ..Read::BARE
    })
}

/// IEEE 488.2-1992 table 7-2.
fn multiplier(text: &[u8]) -> Option<i8> {
    Some(match text {
        b"EX" => 18,
        b"PE" => 15,
        b"T" => 12,
        b"G" => 9,
        b"MA" => 6,
        b"K" => 3,
        b"M" => -3,
        b"U" => -6,
        b"N" => -9,
        b"P" => -12,
        b"F" => -15,
        b"A" => -18,
        _ => return None,
    })
}
