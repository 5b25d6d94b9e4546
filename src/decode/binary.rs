//! Binary numbers: integers, floats, packed and plain digits, bits.

use crate::quantity::Decimal;

use super::Refused;
use super::field::slice;

/// The order of bytes and words.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Order {
    /// ABCD.
    #[default]
    Big,
    /// DCBA.
    Little,
    /// CDAB: the words change places.
    BigSwapped,
    /// BADC: the bytes of each word change places.
    LittleSwapped,
}

/// A binary integer and where it stands.
#[derive(Clone, Copy, Debug)]
pub struct Int {
    /// The first byte.
    pub at: i32,
    /// 1 to 8.
    pub bytes: usize,
    /// Its order.
    pub order: Order,
    /// Whether it is signed.
    pub signed: bool,
    /// Added to it.
    pub bias: i32,
}

/// Up to 8 bytes as a big-endian number.
fn gather(bytes: &[u8], order: Order) -> u64 {
    let n = bytes.len();
    let mut number = 0;
    for place in 0..n {
        let from = match order {
            Order::Big => place,
            Order::Little => n - 1 - place,
            // Words from the last to the first, each with its high byte first.
            Order::BigSwapped => (n - 1 - place) ^ 1,
            Order::LittleSwapped => place ^ 1,
        };
        number = number << 8 | u64::from(bytes[from.min(n - 1)]);
    }
    number
}

impl Int {
    /// Reads it.
    ///
    /// # Errors
    /// The frame is too short or the number too large.
    pub fn read(&self, frame: &[u8]) -> Result<i64, Refused> {
        let bytes = slice(frame, self.at, self.bytes)?;
        let raw = gather(bytes, self.order);
        let unused = 64 - 8 * self.bytes as u32;
        let number = if self.signed {
            (raw << unused) as i64 >> unused
        } else {
            i64::try_from(raw).map_err(|_| Refused::DoesNotFit)?
        };
        number
            .checked_add(i64::from(self.bias))
            .ok_or(Refused::DoesNotFit)
    }
}

/// A binary float and where it stands.
#[derive(Clone, Copy, Debug)]
pub struct Float {
    /// The first byte.
    pub at: i32,
    /// 4 or 8.
    pub bytes: usize,
    /// Its order.
    pub order: Order,
    /// How many significant digits a display would show at most.
    pub digits: Option<u8>,
    /// How many places behind the point a display would show at most.
    pub decimals: Option<u8>,
}

impl Float {
    /// Reads it.
    ///
    /// # Errors
    /// The frame is too short.
    pub fn read(&self, frame: &[u8]) -> Result<f64, Refused> {
        let raw = gather(slice(frame, self.at, self.bytes)?, self.order);
        Ok(if self.bytes == 4 {
            f64::from(f32::from_bits(raw as u32))
        } else {
            f64::from_bits(raw)
        })
    }

    /// As a display would show it.
    ///
    /// # Errors
    /// Beyond 10^±15.
    pub fn shown(&self, value: f64) -> Result<Decimal, Refused> {
        let least = -i32::from(self.decimals.unwrap_or(15));
        let Some(digits) = self.digits.map(i32::from) else {
            return Decimal::rounded(value, least as i8).ok_or(Refused::DoesNotFit);
        };
        let order = if value == 0.0 {
            i32::MIN / 2
        } else {
            libm::floor(libm::log10(value.abs())) as i32
        };
        let place = |order: i32| {
            let exp = (order + 1 - digits).max(least).max(-15);
            i8::try_from(exp)
                .ok()
                .and_then(|exp| Decimal::rounded(value, exp))
                .ok_or(Refused::DoesNotFit)
        };
        let shown = place(order)?;
        // 9.99999996 rounds up to one digit more than a display has.
        if shown.count().unsigned_abs() >= 10_u64.pow(digits.unsigned_abs().min(18)) {
            return place(order + 1);
        }
        Ok(shown)
    }
}

/// Decimal digits packed two a byte or one a byte.
#[derive(Clone, Copy, Debug)]
pub struct Digits {
    /// The first byte.
    pub at: i32,
    /// How many digits.
    pub count: u8,
    /// Whether two share a byte.
    pub packed: bool,
    /// The byte that means 0.
    pub zero: u8,
    /// 10 or 16.
    pub base: u8,
    /// Whether the last digits come first.
    pub little: bool,
}

impl Digits {
    /// Reads them; `None` when one is no digit.
    ///
    /// # Errors
    /// The frame is too short or the number too large.
    pub fn read(&self, frame: &[u8]) -> Result<Option<i64>, Refused> {
        let count = usize::from(self.count);
        let width = if self.packed {
            count.div_ceil(2)
        } else {
            count
        };
        let bytes = slice(frame, self.at, width)?;
        let mut number: i64 = 0;
        for nth in 0..count {
            let digit = if self.packed {
                // An odd number of digits leaves the first half unused.
                let half = nth + width * 2 - count;
                let byte = if self.little {
                    bytes[width - 1 - half / 2]
                } else {
                    bytes[half / 2]
                };
                if half % 2 == 0 { byte >> 4 } else { byte & 15 }
            } else {
                let byte = if self.little {
                    bytes[count - 1 - nth]
                } else {
                    bytes[nth]
                };
                let digit = byte.wrapping_sub(self.zero);
                // Hexadecimal digits as text go on with letters.
                match byte {
                    b'A'..=b'F' if self.base == 16 && self.zero == b'0' => byte - b'A' + 10,
                    b'a'..=b'f' if self.base == 16 && self.zero == b'0' => byte - b'a' + 10,
                    _ if self.zero == b'0' && digit > 9 => return Ok(None),
                    _ => digit,
                }
            };
            if digit >= self.base {
                return Ok(None);
            }
            number = number
                .checked_mul(i64::from(self.base))
                .and_then(|n| n.checked_add(i64::from(digit)))
                .ok_or(Refused::DoesNotFit)?;
        }
        Ok(Some(number))
    }
}

/// One bit; bit 0 is the lowest of byte 0, bit 8 the lowest of byte 1.
///
/// # Errors
/// The frame is too short.
pub(super) fn bit(frame: &[u8], nth: u16) -> Result<bool, Refused> {
    let byte = frame.get(usize::from(nth / 8)).ok_or(Refused::TooShort)?;
    Ok(byte >> (nth % 8) & 1 == 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn int(bytes: &[u8], order: Order, signed: bool) -> i64 {
        let int = Int {
            at: 0,
            bytes: bytes.len(),
            order,
            signed,
            bias: 0,
        };
        int.read(bytes).expect("in range")
    }

    #[test]
    fn four_orders_of_the_same_number() {
        assert_eq!(
            int(&[0x12, 0x34, 0x56, 0x78], Order::Big, false),
            0x1234_5678
        );
        assert_eq!(
            int(&[0x78, 0x56, 0x34, 0x12], Order::Little, false),
            0x1234_5678
        );
        assert_eq!(
            int(&[0x56, 0x78, 0x12, 0x34], Order::BigSwapped, false),
            0x1234_5678
        );
        assert_eq!(
            int(&[0x34, 0x12, 0x78, 0x56], Order::LittleSwapped, false),
            0x1234_5678
        );
        assert_eq!(int(&[0xFF, 0xFE], Order::Big, true), -2);
        assert_eq!(int(&[0xFF, 0xFE], Order::Big, false), 0xFFFE);
        assert_eq!(int(&[0xFE, 0xFF, 0xFF], Order::Little, true), -2);
    }

    fn float(digits: Option<u8>, decimals: Option<u8>) -> Float {
        Float {
            at: 0,
            bytes: 4,
            order: Order::Big,
            digits,
            decimals,
        }
    }

    #[test]
    fn a_float_shows_the_digits_of_a_display() {
        let check = |value: f32, expected: &str| {
            let shown = float(Some(6), Some(4)).shown(f64::from(value));
            assert_eq!(
                shown.map(|d| d.to_string()).as_deref(),
                Ok(expected),
                "{value}"
            );
        };
        check(12.34, "12.3400");
        check(0.05, "0.0500");
        check(0.0, "0.0000");
        check(-9.999_999, "-10.0000");
        check(99_999.96, "100000");
        check(4_700_000.0, "4700000");
        check(4_712_345.0, "4712340");
        assert_eq!(
            float(Some(6), None).shown(f64::from(f32::MAX)),
            Err(Refused::DoesNotFit)
        );
    }

    #[test]
    fn digits_are_read_in_both_orders_and_none_is_guessed() {
        let bcd = |bytes: &[u8], count: u8, little: bool| {
            Digits {
                at: 0,
                count,
                packed: true,
                zero: 0,
                base: 10,
                little,
            }
            .read(bytes)
        };
        assert_eq!(bcd(&[0x12, 0x34], 4, false), Ok(Some(1234)));
        assert_eq!(bcd(&[0x34, 0x12], 4, true), Ok(Some(1234)));
        assert_eq!(bcd(&[0xF2, 0x34], 3, false), Ok(Some(234)));
        assert_eq!(bcd(&[0x1A, 0x34], 4, false), Ok(None));
        let text = |bytes: &[u8], base: u8| {
            Digits {
                at: 0,
                count: bytes.len() as u8,
                packed: false,
                zero: b'0',
                base,
                little: false,
            }
            .read(bytes)
        };
        assert_eq!(text(b"0427", 10), Ok(Some(427)));
        assert_eq!(text(b"1fA", 16), Ok(Some(0x1FA)));
        assert_eq!(text(b"1:2", 16), Ok(None));
        assert_eq!(text(b" 427", 10), Ok(None));
    }
}
