//! Digits as the segments that a display lights.

use crate::quantity::Decimal;

use super::Refused;
use super::binary::bit;

/// Where the segments stand.
#[derive(Clone, Debug)]
pub struct Segments {
    /// For each digit, the bits of its segments a to g.
    pub digits: Vec<[u16; 7]>,
    /// The bits of the points; the first stands behind the first digit.
    pub points: Vec<u16>,
    /// The bit of the minus sign.
    pub minus: Option<u16>,
}

/// Lit segments, a is bit 0, to what they show (common practice; 6, 7 and 9 have two forms).
fn digit(lit: u8) -> Option<Glyph> {
    Some(Glyph::Digit(match lit {
        0x3F => 0,
        0x06 => 1,
        0x5B => 2,
        0x4F => 3,
        0x66 => 4,
        0x6D => 5,
        0x7D | 0x7C => 6,
        0x07 | 0x27 => 7,
        0x7F => 8,
        0x6F | 0x67 => 9,
        0x00 => return Some(Glyph::Blank),
        // As in OL.
        0x38 => return Some(Glyph::L),
        _ => return None,
    }))
}

enum Glyph {
    Digit(i64),
    Blank,
    L,
}

impl Segments {
    /// Reads the number; `None` when an L is among the digits, as in `OL`.
    ///
    /// # Errors
    /// The frame is too short, two points are lit, or a digit is neither.
    pub fn read(&self, frame: &[u8]) -> Result<Option<Decimal>, Refused> {
        let mut count: i64 = 0;
        let (mut any, mut seen) = (false, false);
        for bits in &self.digits {
            let mut lit = 0;
            for (nth, at) in bits.iter().enumerate() {
                lit |= u8::from(bit(frame, *at)?) << nth;
            }
            match digit(lit) {
                Some(Glyph::Digit(n)) => {
                    any = true;
                    count = count * 10 + n;
                }
                // Blanks stand before digits, never between or behind them.
                Some(Glyph::Blank) if !any || seen => {}
                Some(Glyph::L) => seen = true,
                _ if seen => {}
                _ => return Err(Refused::NotANumber),
            }
        }
        if seen {
            return Ok(None);
        }
        if !any {
            return Err(Refused::NotANumber);
        }
        let mut point = None;
        for (nth, at) in self.points.iter().enumerate() {
            if bit(frame, *at)? && point.replace(nth).is_some() {
                return Err(Refused::NotANumber);
            }
        }
        let places = point.map_or(0, |nth| self.digits.len() - 1 - nth);
        let negative = match self.minus {
            Some(at) => bit(frame, at)?,
            None => false,
        };
        let exp = i8::try_from(places).map_err(|_| Refused::DoesNotFit)?;
        Decimal::new(if negative { -count } else { count }, -exp)
            .map(Some)
            .map_err(|_| Refused::DoesNotFit)
    }
}
