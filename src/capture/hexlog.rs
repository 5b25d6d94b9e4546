//! Hexlogs: captures of one port for people to read, post and type.
//!
//! One line a chunk: `SECONDS < HEX` received, `SECONDS > HEX` sent,
//! `SECONDS ! opened`, `SECONDS ! closed`, `SECONDS ! lost N`, `# comment`.
//! Seconds are decimal, to the nanosecond; bytes may stand apart. There is no
//! `Begin`: who replays a hexlog says which meter it is of.

use std::io::{self, BufRead, Write};

use bytes::Bytes;

use super::pcapng::Fault;
use crate::input::{Input, What};
use crate::meter::PortId;
use crate::stamp::Stamp;
use crate::text::Text;

/// The only port of a hexlog.
pub const PORT: PortId = PortId(0);

/// A hexlog being read.
#[derive(Debug)]
pub struct Hexlog<R> {
    from: R,
    line: u64,
    buffer: Vec<u8>,
}

impl<R: BufRead> Hexlog<R> {
    /// Reads from the beginning of a file.
    pub fn new(from: R) -> Self {
        Self {
            from,
            line: 0,
            buffer: Vec::new(),
        }
    }

    fn next_input(&mut self) -> Result<Option<Input>, Fault> {
        loop {
            self.buffer.clear();
            if self.from.read_until(b'\n', &mut self.buffer)? == 0 {
                return Ok(None);
            }
            self.line += 1;
            let line = core::str::from_utf8(&self.buffer).map_err(|_| Fault::Line {
                line: self.line,
                expected: "text in UTF-8",
                found: String::from("other bytes"),
            })?;
            match parse(line) {
                Ok(None) => {}
                Ok(Some(input)) => return Ok(Some(input)),
                Err((expected, found)) => {
                    return Err(Fault::Line {
                        line: self.line,
                        expected,
                        found,
                    });
                }
            }
        }
    }
}

impl<R: BufRead> Iterator for Hexlog<R> {
    type Item = Result<Input, Fault>;

    fn next(&mut self) -> Option<Self::Item> {
        self.next_input().transpose()
    }
}

/// Whether a line has a hexlog's shape: a time and a sign, right or wrong behind them.
pub(super) fn looks_like(line: &str) -> bool {
    let mut words = line.split_whitespace();
    let timed = words.next().and_then(seconds).is_some();
    timed && words.next().is_some_and(|w| w.starts_with(['<', '>', '!']))
}

type Wrong = (&'static str, String);

/// An input, nothing for a comment or an empty line, or what was expected and found.
fn parse(line: &str) -> Result<Option<Input>, Wrong> {
    let line = line.trim();
    if line.is_empty() || line.starts_with('#') {
        return Ok(None);
    }
    let (time, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let at = seconds(time).ok_or_else(|| {
        (
            "seconds with at most 9 decimals at the start of the line",
            format!("{time:?}"),
        )
    })?;
    let rest = rest.trim_start();
    let what = match rest.chars().next() {
        Some('<') => What::Bytes {
            port: PORT,
            data: hex(&rest[1..])?,
        },
        Some('>') => What::Sent {
            port: PORT,
            data: hex(&rest[1..])?,
        },
        Some('!') => event(rest[1..].trim())?,
        _ => return Err(("<, > or ! after the seconds", format!("{rest:?}"))),
    };
    Ok(Some(Input { at, what }))
}

fn event(words: &str) -> Result<What, Wrong> {
    let port = PORT;
    let why = Text::default();
    Ok(match words.split_once(' ') {
        None if words == "opened" => What::Opened { port },
        None if words == "closed" => What::Closed { port, why },
        Some(("lost", count)) => match count.trim().parse() {
            Ok(count) => What::Lost { port, count, why },
            Err(_) => return Err(("how many were lost, a whole number", format!("{count:?}"))),
        },
        _ => return Err(("opened, closed or lost N", format!("{words:?}"))),
    })
}

/// Decimal seconds to nanoseconds, exactly.
fn seconds(text: &str) -> Option<Stamp> {
    let (whole, part) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole) || !digits(part) || part.len() > 9 {
        return None;
    }
    let nanos: u64 = format!("{part:0<9}").parse().ok()?;
    let whole: u64 = whole.parse().ok()?;
    Some(Stamp::from_nanos(
        whole.checked_mul(1_000_000_000)?.checked_add(nanos)?,
    ))
}

fn hex(text: &str) -> Result<Bytes, Wrong> {
    let mut bytes = Vec::with_capacity(text.len() / 2);
    let mut high = None;
    for c in text.chars().filter(|c| !c.is_whitespace()) {
        let digit = c
            .to_digit(16)
            .ok_or_else(|| ("hexadecimal digits", format!("{c:?}")))? as u8;
        match high.take() {
            None => high = Some(digit),
            Some(high) => bytes.push(high << 4 | digit),
        }
    }
    match high {
        Some(_) => Err((
            "two hexadecimal digits a byte",
            String::from("an odd number of digits"),
        )),
        None => Ok(bytes.into()),
    }
}

/// Writes the inputs of a port; others leave no line.
///
/// # Errors
/// What is written to refuses.
pub fn write(
    inputs: impl IntoIterator<Item = Input>,
    wanted: PortId,
    out: &mut impl Write,
) -> io::Result<()> {
    for input in inputs {
        let nanos = input.at.nanos();
        let time = format!("{}.{:09}", nanos / 1_000_000_000, nanos % 1_000_000_000);
        match &input.what {
            What::Bytes { port, data } if *port == wanted => {
                writeln!(out, "{time} < {}", spaced(data))?;
            }
            What::Sent { port, data } if *port == wanted => {
                writeln!(out, "{time} > {}", spaced(data))?;
            }
            What::Opened { port } if *port == wanted => writeln!(out, "{time} ! opened")?,
            What::Closed { port, .. } if *port == wanted => writeln!(out, "{time} ! closed")?,
            What::Lost { port, count, .. } if *port == wanted => {
                writeln!(out, "{time} ! lost {count}")?;
            }
            _ => {}
        }
    }
    Ok(())
}

fn spaced(data: &[u8]) -> String {
    data.iter()
        .map(|b| format!("{b:02X}"))
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(text: &str, expected: &str) {
        let mut said = String::new();
        for input in Hexlog::new(text.as_bytes()) {
            match input {
                Ok(input) => {
                    let mut line = Vec::new();
                    write([input], PORT, &mut line).expect("memory");
                    said += &String::from_utf8(line).expect("text");
                }
                Err(e) => {
                    said += &e.to_string();
                    break;
                }
            }
        }
        assert_eq!(said.trim_end(), expected);
    }

    #[test]
    fn lines_are_chunks_with_their_direction() {
        check(
            "# a pump\n\n0 ! opened\r\n0.05 > 52 45\n  1.000000007   <   0d0A\n2 ! lost 3\n3 ! closed",
            "0.000000000 ! opened\n0.050000000 > 52 45\n1.000000007 < 0D 0A\n2.000000000 ! lost 3\n3.000000000 ! closed",
        );
        check("", "");
    }

    #[test]
    fn what_is_wrong_is_named_with_its_line() {
        check(
            "0 < 41\n1 < 4",
            "0.000000000 < 41\nline 2: expected two hexadecimal digits a byte, found an odd number of digits",
        );
        check("1 < 4G", "line 1: expected hexadecimal digits, found 'G'");
        check(
            "-1 < 41",
            "line 1: expected seconds with at most 9 decimals at the start of the line, found \"-1\"",
        );
        check(
            "1 ! shut",
            "line 1: expected opened, closed or lost N, found \"shut\"",
        );
        check(
            "1 41",
            "line 1: expected <, > or ! after the seconds, found \"41\"",
        );
        check(
            "99999999999999999999 < 41",
            "line 1: expected seconds with at most 9 decimals at the start of the line, found \"99999999999999999999\"",
        );
    }

    proptest! {
        #[test]
        fn stamps_and_bytes_read_back_exactly(nanos in any::<u64>(), data in prop::collection::vec(any::<u8>(), 1..20)) {
            let input = Input { at: Stamp::from_nanos(nanos), what: What::Bytes { port: PORT, data: data.into() } };
            let mut text = Vec::new();
            write([input.clone()], PORT, &mut text).expect("memory");
            let read: Vec<_> = Hexlog::new(&text[..]).collect::<Result<_, _>>().expect("reads");
            prop_assert_eq!(read, [input]);
        }
    }
}
