//! Words of a reason: its terms, taken apart for people.

/// The terms of a reason, which `; ` divides; what stands in brackets stays whole.
pub(crate) fn terms(reason: &str) -> Vec<&str> {
    let mut terms = Vec::new();
    let (mut depth, mut from) = (0_u32, 0);
    for (at, sign) in reason.char_indices() {
        match sign {
            '(' => depth += 1,
            ')' => depth = depth.saturating_sub(1),
            ';' if depth == 0 && reason[at..].starts_with("; ") => {
                terms.push(&reason[from..at]);
                from = at + 2;
            }
            _ => {}
        }
    }
    terms.push(&reason[from..]);
    terms.retain(|term| !term.is_empty());
    terms
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_in_brackets_stays_whole() {
        let reason =
            "shown 5.15 Ω − leads 0.184 = 4.966 Ω; U 0.4 Ω (k = 2; meter 0.1; cold); simple";
        let expected = [
            "shown 5.15 Ω − leads 0.184 = 4.966 Ω",
            "U 0.4 Ω (k = 2; meter 0.1; cold)",
            "simple",
        ];
        assert_eq!(terms(reason), expected);
    }

    #[test]
    fn nothing_and_half_brackets_are_taken_as_they_are() {
        assert_eq!(terms(""), Vec::<&str>::new());
        assert_eq!(terms("a; b"), ["a", "b"]);
        assert_eq!(terms("a); b; "), ["a)", "b"]);
    }
}
