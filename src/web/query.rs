//! What the address of a `GET` asks: `q=hb%20cp&limit=5`.

use super::asked::{Field, Wrong};
use super::hands::Page;
use crate::text::instead;

/// Models that are given when no `limit` is asked for (own: what a list on a screen shows).
const LIMIT: usize = 20;
/// The most that are given at once.
const LIMIT_MAX: usize = 200;

/// Models that are looked for.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Motors {
    pub(super) words: String,
    pub(super) limit: usize,
}

/// Reads the query of `/api/motors`. Without `q`: the first models in order.
///
/// # Errors
/// An unknown key, a limit that is no number from 1 to 200, an escape that is none.
pub(super) fn motors(query: &str) -> Result<Motors, Wrong> {
    let mut wanted = Motors {
        words: String::new(),
        limit: LIMIT,
    };
    for pair in query.split('&').filter(|pair| !pair.is_empty()) {
        let (key, value) = pair.split_once('=').unwrap_or((pair, ""));
        let value = plain(value).ok_or_else(|| {
            wrong(
                key,
                format!("expected UTF-8 with escapes such as %20, found {value:?}"),
            )
        })?;
        match key {
            "q" => wanted.words = value,
            "limit" => {
                wanted.limit = value
                    .parse()
                    .ok()
                    .filter(|limit| (1..=LIMIT_MAX).contains(limit))
                    .ok_or_else(|| {
                        let message =
                            format!("expected a number from 1 to {LIMIT_MAX}, found {value:?}");
                        wrong(key, message)
                    })?;
            }
            _ => return Err(wrong(key, instead(key, ["q", "limit"].into_iter()))),
        }
    }
    Ok(wanted)
}

/// The bench of `/start?bench=NAME`, if it is there and can be read.
pub(super) fn bench(query: &str) -> Option<String> {
    let said = query.split('&').find_map(|p| p.strip_prefix("bench="))?;
    plain(said).filter(|name| !name.is_empty())
}

/// Which page opens `/api/events?page=NAME`, if it says so.
///
/// # Errors
/// The name is none.
pub(super) fn page(query: &str) -> Result<Option<Page>, Wrong> {
    match query.split('&').find_map(|p| p.strip_prefix("page=")) {
        None => Ok(None),
        Some(said) => Page::new(said).map(Some).ok_or(Wrong::Page),
    }
}

fn wrong(key: &str, message: String) -> Wrong {
    Wrong::Fields {
        missing: Vec::new(),
        wrong: vec![Field {
            field: key.to_owned(),
            message,
        }],
    }
}

/// The words of an escaped value (RFC 3986, section 2.1; a plus is a space, as forms send it).
pub(super) fn plain(value: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(value.len());
    let mut rest = value.bytes();
    while let Some(byte) = rest.next() {
        bytes.push(match byte {
            b'+' => b' ',
            b'%' => hex(rest.next()?)? << 4 | hex(rest.next()?)?,
            byte => byte,
        });
    }
    String::from_utf8(bytes).ok()
}

fn hex(digit: u8) -> Option<u8> {
    let value = char::from(digit).to_digit(16)?;
    u8::try_from(value).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(query: &str, expected: Result<(&str, usize), &str>) {
        let found = motors(query).map_err(|e| e.to_string());
        let found = found.as_ref().map(|m| (m.words.as_str(), m.limit));
        assert_eq!(found.map_err(String::as_str), expected, "{query}");
    }

    #[test]
    fn words_and_limit_are_read_from_the_address() {
        check("", Ok(("", 20)));
        check("q=hb-cp", Ok(("hb-cp", 20)));
        check("q=HB%2dCP+40&limit=5", Ok(("HB-CP 40", 5)));
        check("limit=200&q=%CE%A9", Ok(("Ω", 200)));
    }

    #[test]
    fn a_bench_is_read_from_the_address() {
        for (query, expected) in [
            ("bench=east%20hall", Some("east hall")),
            ("x=1&bench=a%26b", Some("a&b")),
            ("bench=", None),
            ("bench=%zz", None),
            ("", None),
        ] {
            assert_eq!(bench(query).as_deref(), expected, "{query}");
        }
    }

    #[test]
    fn what_cannot_be_read_is_named() {
        let limit = |found| format!("limit: expected a number from 1 to 200, found {found:?}");
        check("limit=0", Err(&limit("0")));
        check("limit=201", Err(&limit("201")));
        check("limit=all", Err(&limit("all")));
        let escape = |found| format!("q: expected UTF-8 with escapes such as %20, found {found:?}");
        check("q=%", Err(&escape("%")));
        check("q=%4", Err(&escape("%4")));
        check("q=%zz", Err(&escape("%zz")));
        check("q=%ff", Err(&escape("%ff")));
        check("qq=1", Err("qq: nearest: q"));
    }
}
