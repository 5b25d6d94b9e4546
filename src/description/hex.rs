//! Bytes as people type them: pairs of hexadecimal digits.

/// Reads pairs of digits, with spaces as one likes.
///
/// # Errors
/// A character that is no digit, or a digit without its pair.
pub fn parse(text: &str) -> Result<Vec<u8>, String> {
    let mut bytes = Vec::with_capacity(text.len() / 3 + 1);
    let mut high: Option<u32> = None;
    for c in text.chars().filter(|c| !c.is_whitespace()) {
        let digit = c
            .to_digit(16)
            .ok_or_else(|| format!("expected pairs of hexadecimal digits, found {c:?}"))?;
        high = match high {
            None => Some(digit),
            Some(high) => {
                bytes.push((high << 4 | digit) as u8);
                None
            }
        };
    }
    match high {
        None => Ok(bytes),
        Some(_) => Err(String::from(
            "expected pairs of hexadecimal digits, found a last one alone",
        )),
    }
}

/// Writes pairs of digits with a space between.
pub fn show(bytes: &[u8]) -> String {
    let pairs: Vec<String> = bytes.iter().map(|b| format!("{b:02X}")).collect();
    pairs.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hex_is_read_with_or_without_spaces() {
        assert_eq!(parse("07 03fF"), Ok(vec![7, 3, 255]));
        assert!(parse("0").is_err_and(|e| e.contains("alone")));
        assert!(parse("0x12").is_err_and(|e| e.contains("'x'")));
        assert_eq!(show(&[7, 255]), "07 FF");
    }
}
