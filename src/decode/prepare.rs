//! What is done to a whole frame before values are read: checks, constants, byte transforms.

use super::checksum::Check;
use super::field::{place, slice};

/// One step of preparing a frame.
#[derive(Clone, Debug)]
pub enum Prepare {
    /// A check that must hold.
    Check(Check),
    /// Bytes that must be so.
    Constant(i32, Vec<u8>),
    /// So many fields between separators, no more and no fewer.
    Fields(u8, usize),
    /// Combined with a key that repeats, from a place on.
    Xor(i32, Vec<u8>),
    /// Added to modulo 256, from a place on.
    Add(i32, u8),
    /// The bits of each byte reversed.
    ReverseBits,
    /// The bytes reversed.
    ReverseBytes,
    /// The halves of each byte exchanged.
    SwapNibbles,
    /// For each new bit, the lowest first, the old one.
    PermuteBits([u8; 8]),
    /// The halves that are data joined to bytes, the first one low; whether the index is the low half.
    Untag(bool),
}

/// Prepares a frame; whether the result is in `scratch` and not the frame itself.
///
/// # Errors
/// Why the frame does not stand.
pub fn prepare(
    steps: &[Prepare],
    frame: &[u8],
    scratch: &mut Vec<u8>,
) -> Result<bool, &'static str> {
    let mut moved = false;
    for step in steps {
        match step {
            Prepare::Check(check) => {
                let bytes = if moved { scratch.as_slice() } else { frame };
                match check.holds(bytes) {
                    Ok(true) => {}
                    Ok(false) => return Err("the check does not hold"),
                    Err(_) => return Err("the frame has no place for its check"),
                }
            }
            Prepare::Constant(at, expected) => {
                let bytes = if moved { scratch.as_slice() } else { frame };
                if slice(bytes, *at, expected.len()) != Ok(expected.as_slice()) {
                    return Err("bytes that never change have changed");
                }
            }
            Prepare::Fields(separator, count) => {
                let bytes = if moved { scratch.as_slice() } else { frame };
                if bytes.split(|b| b == separator).count() != *count {
                    return Err("another number of fields than a line has");
                }
            }
            step => {
                if !moved {
                    scratch.clear();
                    scratch.extend_from_slice(frame);
                    moved = true;
                }
                transform(step, scratch)?;
            }
        }
    }
    Ok(moved)
}

fn transform(step: &Prepare, bytes: &mut Vec<u8>) -> Result<(), &'static str> {
    let from = |bytes: &[u8], at: i32| {
        place(bytes, at).map_err(|_| "the frame is shorter than a place in it")
    };
    match step {
        Prepare::Check(_) | Prepare::Constant(..) | Prepare::Fields(..) => {}
        Prepare::Xor(at, key) => {
            let at = from(bytes, *at)?;
            for (byte, key) in bytes[at..].iter_mut().zip(key.iter().cycle()) {
                *byte ^= key;
            }
        }
        Prepare::Add(at, value) => {
            let at = from(bytes, *at)?;
            for byte in &mut bytes[at..] {
                *byte = byte.wrapping_add(*value);
            }
        }
        Prepare::ReverseBits => bytes.iter_mut().for_each(|b| *b = b.reverse_bits()),
        Prepare::ReverseBytes => bytes.reverse(),
        Prepare::SwapNibbles => bytes.iter_mut().for_each(|b| *b = b.rotate_left(4)),
        Prepare::PermuteBits(old) => {
            for byte in bytes {
                let was = *byte;
                *byte = old
                    .iter()
                    .enumerate()
                    .fold(0, |new, (bit, old)| new | (was >> old & 1) << bit);
            }
        }
        Prepare::Untag(low) => {
            let data = |b: u8| if *low { b >> 4 } else { b & 15 };
            let joined = bytes.len().div_ceil(2);
            for at in 0..joined {
                let high = bytes.get(2 * at + 1).map_or(0, |b| data(*b));
                bytes[at] = data(bytes[2 * at]) | high << 4;
            }
            bytes.truncate(joined);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(step: Prepare, frame: &[u8], expected: &[u8]) {
        let mut scratch = Vec::new();
        assert_eq!(prepare(&[step], frame, &mut scratch), Ok(true));
        assert_eq!(scratch, expected);
    }

    #[test]
    fn each_transform_does_what_it_says() {
        check(Prepare::Xor(1, vec![1, 2]), &[9, 0, 0, 0], &[9, 1, 2, 1]);
        check(Prepare::Add(0, 250), &[6, 1], &[0, 251]);
        check(Prepare::ReverseBits, &[0b1000_0010], &[0b0100_0001]);
        check(Prepare::ReverseBytes, &[1, 2, 3], &[3, 2, 1]);
        check(Prepare::SwapNibbles, &[0x1F], &[0xF1]);
        check(
            Prepare::PermuteBits([7, 0, 1, 2, 3, 4, 5, 6]),
            &[0x81],
            &[0x03],
        );
        check(Prepare::Untag(false), &[0x1A, 0x2B, 0x3C], &[0xBA, 0x0C]);
        check(Prepare::Untag(true), &[0xA1, 0xB2], &[0xBA]);
    }

    #[test]
    fn a_constant_that_changed_is_refused() {
        let steps = [Prepare::Constant(-1, vec![7])];
        assert_eq!(prepare(&steps, &[1, 7], &mut Vec::new()), Ok(false));
        assert!(prepare(&steps, &[1, 8], &mut Vec::new()).is_err());
    }
}
