//! Marks that stand on several pages: verdicts, what is grave, names in addresses.

use maud::{Markup, html};

use crate::row::{Finding, Verdict};

/// A verdict with a mark of its own, so that colour is never alone.
pub(super) fn verdict(verdict: Verdict, finding: Option<Finding>) -> Markup {
    let (class, mark) = match verdict {
        Verdict::Pass => ("pass", "✓"),
        Verdict::Fail => ("fail", "✗"),
        Verdict::Undecided => ("undecided", "?"),
        Verdict::NotJudged => ("not-judged", "·"),
    };
    html! {
        span class=(class) {
            span aria-hidden="true" { (mark) " " }
            (verdict.word().replace('_', " "))
            @if let Some(finding) = finding { ", " (finding.word().replace('_', " ")) }
        }
    }
}

/// What can hurt begins with a word in capitals.
pub(super) fn is_grave(banner: &str) -> bool {
    let first = banner.split_whitespace().next().unwrap_or_default();
    first.len() > 1 && first.bytes().all(|b| b.is_ascii_uppercase())
}

/// A name as a part of an address: every byte that is no letter, digit, `-`,
/// `_` or `.` as `%XX` (RFC 3986, 2.1).
pub(super) fn escaped(name: &str) -> String {
    let mut escaped = String::new();
    for byte in name.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' => {
                escaped.push(char::from(byte));
            }
            _ => escaped.push_str(&format!("%{byte:02X}")),
        }
    }
    escaped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_in_an_address_is_one_part_of_it() {
        assert_eq!(escaped("north tank/2?é"), "north%20tank%2F2%3F%C3%A9");
    }

    #[test]
    fn a_banner_that_shouts_is_grave() {
        assert!(is_grave("DO NOT ENERGIZE: to ground"));
        assert!(!is_grave("ohms-1: calibration is overdue") && !is_grave("A lead is loose"));
    }
}
