//! Checks over a frame: sums and cyclic redundancy.

use super::Refused;
use super::field::{place, slice};

/// A check and where it stands.
#[derive(Clone, Debug)]
pub struct Check {
    /// Which.
    pub sum: Sum,
    /// The first byte covered.
    pub from: i32,
    /// The first byte not covered.
    pub to: i32,
    /// Where it stands.
    pub at: i32,
    /// Whether it is written as hexadecimal digits.
    pub hex: bool,
    /// Whether its low byte comes first.
    pub little: bool,
}

/// Kinds of checks.
#[derive(Clone, Debug)]
pub enum Sum {
    /// The sum modulo 256.
    Sum8,
    /// Its two's complement.
    TwosComplement,
    /// The sum modulo 65536.
    Sum16,
    /// Exclusive or.
    Xor,
    /// Cyclic redundancy.
    Crc(Box<Crc>),
}

/// Cyclic redundancy of 16 or 32 bits, with its parameters as catalogues give them.
#[derive(Clone, Debug)]
pub struct Crc {
    table: [u32; 256],
    width: u32,
    init: u32,
    reflect_in: bool,
    reflect_out: bool,
    xor_out: u32,
}

impl Crc {
    /// From the parameters, `width` 16 or 32.
    pub fn new(
        width: u32,
        poly: u32,
        init: u32,
        reflect_in: bool,
        reflect_out: bool,
        xor_out: u32,
    ) -> Self {
        // One register of 32 bits, left-aligned, serves both widths.
        let poly = poly << (32 - width);
        let table = core::array::from_fn(|byte| {
            let byte = byte as u8;
            let byte = if reflect_in {
                byte.reverse_bits()
            } else {
                byte
            };
            let mut register = u32::from(byte) << 24;
            for _ in 0..8 {
                let carry = register >> 31 == 1;
                register <<= 1;
                if carry {
                    register ^= poly;
                }
            }
            register
        });
        Self {
            table,
            width,
            init,
            reflect_in,
            reflect_out,
            xor_out,
        }
    }

    /// CRC-16/MODBUS (MODBUS over Serial Line V1.02 6.2.2, clause from memory).
    pub fn modbus() -> Self {
        Self::new(16, 0x8005, 0xFFFF, true, true, 0)
    }

    /// Over these bytes.
    pub fn of(&self, bytes: &[u8]) -> u32 {
        let mut register = self.init << (32 - self.width);
        for &byte in bytes {
            let top = (register >> 24) as u8;
            let top = if self.reflect_in {
                top.reverse_bits()
            } else {
                top
            };
            register = register << 8 ^ self.table[usize::from(top ^ byte)];
        }
        let crc = if self.reflect_out {
            register.reverse_bits() & (u32::MAX >> (32 - self.width))
        } else {
            register >> (32 - self.width)
        };
        crc ^ self.xor_out
    }
}

impl Sum {
    /// Its width in bytes.
    pub const fn width(&self) -> usize {
        match self {
            Self::Sum8 | Self::TwosComplement | Self::Xor => 1,
            Self::Sum16 => 2,
            Self::Crc(crc) => crc.width as usize / 8,
        }
    }

    /// Over these bytes.
    pub fn of(&self, bytes: &[u8]) -> u32 {
        let sum = || {
            bytes
                .iter()
                .fold(0_u32, |sum, b| sum.wrapping_add(u32::from(*b)))
        };
        match self {
            Self::Sum8 => sum() & 0xFF,
            Self::TwosComplement => sum().wrapping_neg() & 0xFF,
            Self::Sum16 => sum() & 0xFFFF,
            Self::Xor => bytes.iter().fold(0, |x, b| x ^ u32::from(*b)),
            Self::Crc(crc) => crc.of(bytes),
        }
    }
}

impl Check {
    /// Whether it holds; an error when the frame has no such places.
    ///
    /// # Errors
    /// The frame is too short, or the check is no hexadecimal text.
    pub fn holds(&self, frame: &[u8]) -> Result<bool, Refused> {
        let (from, to) = (place(frame, self.from)?, place(frame, self.to)?);
        let covered = frame.get(from..to).ok_or(Refused::TooShort)?;
        let width = self.sum.width();
        let written = slice(frame, self.at, if self.hex { width * 2 } else { width })?;
        let mut found: u32 = 0;
        let mut digit = |bits: u32, value: u32, nth: usize, of: usize| {
            let nth = if self.little { nth } else { of - 1 - nth };
            found |= value << (bits * nth as u32);
        };
        if self.hex {
            for (nth, pair) in written.chunks_exact(2).enumerate() {
                let nibble = |b: u8| char::from(b).to_digit(16).ok_or(Refused::NotANumber);
                digit(8, nibble(pair[0])? << 4 | nibble(pair[1])?, nth, width);
            }
        } else {
            for (nth, byte) in written.iter().enumerate() {
                digit(8, u32::from(*byte), nth, width);
            }
        }
        Ok(found == self.sum.of(covered))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check values over `123456789` as CRC catalogues list them (from memory; the first is in
    /// `tests/reference/modbus_vectors.csv` too).
    #[test]
    fn crcs_give_the_check_values_of_the_catalogue() {
        let cases = [
            ("MODBUS", Crc::modbus(), 0x4B37),
            ("XMODEM", Crc::new(16, 0x1021, 0, false, false, 0), 0x31C3),
            (
                "IBM-3740",
                Crc::new(16, 0x1021, 0xFFFF, false, false, 0),
                0x29B1,
            ),
            ("KERMIT", Crc::new(16, 0x1021, 0, true, true, 0), 0x2189),
            (
                "X-25",
                Crc::new(16, 0x1021, 0xFFFF, true, true, 0xFFFF),
                0x906E,
            ),
            (
                "ISO-HDLC",
                Crc::new(32, 0x04C1_1DB7, u32::MAX, true, true, u32::MAX),
                0xCBF4_3926,
            ),
            (
                "BZIP2",
                Crc::new(32, 0x04C1_1DB7, u32::MAX, false, false, u32::MAX),
                0xFC89_1918,
            ),
        ];
        for (name, crc, expected) in cases {
            assert_eq!(crc.of(b"123456789"), expected, "{name}");
        }
    }

    fn check(sum: Sum, hex: bool, little: bool, at: i32, frame: &[u8]) -> Result<bool, Refused> {
        Check {
            sum,
            from: 0,
            to: at,
            at,
            hex,
            little,
        }
        .holds(frame)
    }

    #[test]
    fn sums_hold_as_bytes_and_as_text() {
        assert_eq!(check(Sum::Sum8, false, false, -1, &[0xFF, 2, 1]), Ok(true));
        assert_eq!(check(Sum::Sum8, false, false, -1, &[0xFF, 2, 2]), Ok(false));
        assert_eq!(
            check(Sum::TwosComplement, false, false, -1, &[1, 2, 0xFD]),
            Ok(true)
        );
        assert_eq!(check(Sum::Xor, false, false, -1, &[1, 3, 2]), Ok(true));
        assert_eq!(
            check(Sum::Sum16, false, false, -2, &[0xFF, 2, 1, 1]),
            Ok(true)
        );
        assert_eq!(
            check(Sum::Sum16, false, true, -2, &[0xFF, 3, 2, 1]),
            Ok(true)
        );
        assert_eq!(check(Sum::Xor, true, false, -2, b"AB03"), Ok(true));
        assert_eq!(
            check(Sum::Xor, true, false, -2, b"AB0x"),
            Err(Refused::NotANumber)
        );
        assert_eq!(
            check(Sum::Sum16, false, false, -2, &[1]),
            Err(Refused::TooShort)
        );
    }
}
