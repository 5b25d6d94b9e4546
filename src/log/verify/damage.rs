//! What a spreadsheet or an editor did to a file when it saved it.

/// Says what was done, from the beginning of the file; empty: nothing that is known.
pub(super) fn hints(beginning: &[u8]) -> String {
    let text = String::from_utf8_lossy(beginning);
    let plain = text.trim_start_matches('\u{feff}');
    let mut rows = plain.lines().skip(1);
    let signs = [
        (
            text.starts_with('\u{feff}'),
            "a byte-order mark at its start",
        ),
        (
            text.contains("\r\n"),
            "line ends of carriage return and line feed",
        ),
        (plain.starts_with("seq;"), "semicolons between cells"),
        (plain.starts_with("seq\t"), "tabs between cells"),
        (plain.starts_with("\"seq\""), "quotes around every cell"),
        (plain.lines().any(decimal_comma), "commas as decimal marks"),
        (rows.clone().any(other_date), "dates written anew"),
        (rows.any(power_of_ten), "numbers as powers of ten"),
        (plain.contains('\u{fffd}'), "characters of another encoding"),
    ];
    let found = signs.into_iter().filter(|(is, _)| *is);
    let found: Vec<&str> = found.map(|(_, words)| words).collect();
    match found.is_empty() {
        true => String::new(),
        false => format!(
            " (the file has {}: it was saved by a spreadsheet or editor; take it back from a copy)",
            found.join(", ")
        ),
    }
}

/// The cells of a line, whatever divides them.
fn cells(line: &str) -> impl Iterator<Item = &str> {
    line.split([',', ';', '\t'])
        .map(|cell| cell.trim_matches('"'))
}

/// Whether a line holds a cell such as `"12,5"` or, between semicolons, `12,5`.
fn decimal_comma(line: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let number = |cell: &str| {
        cell.split_once(',')
            .is_some_and(|(whole, part)| digits(whole) && digits(part))
    };
    line.split('"').skip(1).step_by(2).any(number)
        || (line.contains(';') && line.split(';').any(number))
}

/// Whether a row's date is not as the log writes it: `27.11.2026 05:04`, `11/27/26`.
fn other_date(line: &str) -> bool {
    let Some(date) = cells(line).nth(1).filter(|date| !date.is_empty()) else {
        return false;
    };
    let like = date.len() >= 6
        && date.contains(['.', '/', '-', ':'])
        && date.starts_with(|c: char| c.is_ascii_digit());
    like && !(date.len() == 24 && date.ends_with('Z') && date.as_bytes()[10] == b'T')
}

/// Whether a row holds a number such as `1.0E+08`, which the log never writes.
fn power_of_ten(line: &str) -> bool {
    let number = |cell: &str| {
        let Some((mantissa, exponent)) = cell.split_once(['E', 'e']) else {
            return false;
        };
        let exponent = exponent.strip_prefix(['+', '-']).unwrap_or("x");
        let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        mantissa.parse::<f64>().is_ok() && digits(exponent)
    };
    cells(line).any(number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, words: &str) {
        let said = hints(text.as_bytes());
        match words {
            "" => assert_eq!(said, "", "{text:?}"),
            words => assert!(said.contains(words), "{text:?}: {said:?}"),
        }
    }

    #[test]
    fn what_was_done_is_said() {
        check(
            "seq,recorded_at\n1,2026-11-27T01:02:03.004Z,value,4.5,12\n",
            "",
        );
        check(
            "seq,recorded_at\n1,27.11.2026 01:02,value\n",
            "dates written anew",
        );
        check(
            "seq;recorded_at\n1;11/27/2026 1:02;value\n",
            "dates written anew",
        );
        check(
            "seq,recorded_at\n1,2026-11-27T01:02:03.004Z,1.01E+08\n",
            "powers of ten",
        );
        check("seq\trecorded_at\n", "tabs");
        check(
            "\u{feff}seq,x\r\n",
            "byte-order mark at its start, line ends",
        );
        check("seq,x\n1,2026-11-27T01:02:03.004Z,run 1E+2x,\n", "");
        assert!(hints(b"seq,x\n1,\xb5\n").contains("another encoding"));
    }
}
