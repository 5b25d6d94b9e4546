//! A meter added to the configuration file: the rest of it stays byte for byte.
//!
//! The new `[[meter]]` goes to the end, a key a line, so that comments and the
//! order of what a person wrote are not touched, and a refusal by the usual
//! checks can be told by its line which key it is about.

use std::fmt::Write as _;
use std::path::Path;

use super::{Config, ConfigError, Given, address, check};
use crate::meter::{Address, Line, Parity};

/// A meter as a person says it; nothing is checked yet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NewMeter {
    /// Its name in the log.
    pub name: String,
    /// Its bench; empty: the usual one.
    pub bench: String,
    /// The port: a path, `usb:SERIALNUMBER`, `tcp:HOST:PORT` or `ble:ADDRESS`.
    pub port: String,
    /// Settings of a serial line.
    pub line: Line,
    /// The description's name.
    pub protocol: String,
    /// Its address on a shared bus.
    pub unit: Option<u64>,
    /// 2 or 4.
    pub terminals: Option<u64>,
    /// What it measures.
    pub measures: Vec<String>,
    /// What over-range means when the stream does not say, in ohms.
    pub over_range_above_ohms: Option<f64>,
    /// Its accuracy.
    pub accuracy: Vec<NewRange>,
    /// Its serial number, certificate and dates, each empty if not known.
    pub serial_number: String,
    /// Its certificate.
    pub certificate: String,
    /// `YYYY-MM-DD`.
    pub calibrated_on: String,
    /// `YYYY-MM-DD`.
    pub calibration_due: String,
}

/// A range of its accuracy: ± (percent of reading + counts).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct NewRange {
    /// The largest resistance, in ohms; none: all above.
    pub up_to_ohms: Option<f64>,
    /// Percent of reading.
    pub percent: f64,
    /// Counts of the range shown.
    pub counts: f64,
}

/// Why a meter is not taken into the file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct EditError {
    /// The field of [`NewMeter`] it is about; none: the file as it is.
    pub field: Option<&'static str>,
    /// What was expected, what was found.
    pub message: String,
}

/// The text of the file with the meter at its end, and what it comes to.
///
/// # Errors
/// The usual checks refuse the meter, by its field, or the file as it is.
pub fn with_meter(
    path: &Path,
    text: &str,
    given: &Given,
    meter: &NewMeter,
) -> Result<(String, Config), EditError> {
    // What is wrong without the meter is not the meter's fault.
    check::check(path, text, given).map_err(|e| EditError {
        field: None,
        message: format!("the file has a fault of its own, mend it first: {e}"),
    })?;
    let lines = lines(meter)?;
    let end = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let mut new = text.to_owned();
    if !new.is_empty() {
        if !new.ends_with('\n') {
            new.push_str(end);
        }
        new.push_str(end);
    }
    let first = new.matches('\n').count() + 2;
    new.push_str("[[meter]]");
    new.push_str(end);
    for (_, line) in &lines {
        new.push_str(line);
        new.push_str(end);
    }
    match check::check(path, &new, given) {
        Ok(config) => Ok((new, config)),
        // At the table itself: the file has its meters in another form.
        Err(ConfigError::At { line, message, .. }) if line + 1 == first => Err(EditError {
            field: None,
            message: format!(
                "a meter cannot be added to this file ({message}): write its meters as [[meter]] tables"
            ),
        }),
        Err(ConfigError::At { line, message, .. }) if line >= first => {
            let key = lines.get(line - first).map_or("name", |(key, _)| *key);
            // Two meters on one port are told at the name of the second.
            let field = if message.contains("share a port") {
                "port"
            } else {
                key
            };
            Err(EditError {
                field: Some(field),
                message,
            })
        }
        Err(other) => Err(EditError {
            field: None,
            message: other.to_string(),
        }),
    }
}

/// Each key with its line, in the order in which they are written.
fn lines(meter: &NewMeter) -> Result<Vec<(&'static str, String)>, EditError> {
    let mut lines = vec![("name", format!("name = {}", quoted(&meter.name)))];
    let mut words = |key: &'static str, words: &str| {
        if !words.trim().is_empty() {
            lines.push((key, format!("{key} = {}", quoted(words.trim()))));
        }
    };
    words("bench", &meter.bench);
    words("protocol", &meter.protocol);
    lines.push(("port", port(meter)?));
    if let Some(unit) = meter.unit {
        lines.push(("unit", format!("unit = {unit}")));
    }
    if let Some(terminals) = meter.terminals {
        lines.push(("terminals", format!("terminals = {terminals}")));
    }
    if !meter.measures.is_empty() {
        let all: Vec<String> = meter.measures.iter().map(|m| quoted(m)).collect();
        lines.push(("measures", format!("measures = [{}]", all.join(", "))));
    }
    if let Some(ohms) = meter.over_range_above_ohms {
        let line = format!("over_range_above_ohms = {}", number(ohms));
        lines.push(("over_range_above_ohms", line));
    }
    if !meter.accuracy.is_empty() {
        let all: Vec<String> = meter.accuracy.iter().map(range).collect();
        lines.push(("accuracy", format!("accuracy = [{}]", all.join(", "))));
    }
    for (key, words) in [
        ("serial_number", &meter.serial_number),
        ("certificate", &meter.certificate),
        ("calibrated_on", &meter.calibrated_on),
        ("calibration_due", &meter.calibration_due),
    ] {
        if !words.trim().is_empty() {
            lines.push((key, format!("{key} = {}", quoted(words.trim()))));
        }
    }
    Ok(lines)
}

fn port(meter: &NewMeter) -> Result<String, EditError> {
    let said = meter.port.trim();
    if let Some(usb) = said.strip_prefix("usb:") {
        return Ok(format!(
            "serial = {{ usb = {}{} }}",
            quoted(usb),
            line(&meter.line)
        ));
    }
    let wrong = |message| EditError {
        field: Some("port"),
        message,
    };
    Ok(match address::port_address(said).map_err(wrong)? {
        Address::Tcp { address } => {
            format!("tcp = {{ address = {} }}", quoted(address.as_str()))
        }
        Address::Ble { address } => {
            format!("ble = {{ address = {} }}", quoted(address.as_str()))
        }
        _ => format!(
            "serial = {{ path = {}{} }}",
            quoted(said),
            line(&meter.line)
        ),
    })
}

/// What differs from the usual line, and the rate in any case.
fn line(line: &Line) -> String {
    let usual = Line::default();
    let mut said = format!(", baud = {}", line.baud);
    let mut add = |words: String| {
        // Writing to a String cannot fail.
        _ = write!(said, ", {words}");
    };
    if line.data_bits != usual.data_bits {
        add(format!("data_bits = {}", line.data_bits));
    }
    if line.parity != usual.parity {
        let parity = match line.parity {
            Parity::None => "none",
            Parity::Even => "even",
            Parity::Odd => "odd",
        };
        add(format!("parity = \"{parity}\""));
    }
    if line.stop_bits != usual.stop_bits {
        add(format!("stop_bits = {}", line.stop_bits));
    }
    said
}

fn range(range: &NewRange) -> String {
    let up_to = range
        .up_to_ohms
        .map(|ohms| format!("up_to_ohms = {}, ", number(ohms)))
        .unwrap_or_default();
    format!(
        "{{ {up_to}percent = {}, counts = {} }}",
        number(range.percent),
        number(range.counts)
    )
}

/// A number as TOML writes it: never with an exponent.
fn number(value: f64) -> String {
    value.to_string()
}

/// A basic string of TOML. JSON's escapes are a part of TOML's; what JSON
/// leaves bare and TOML does not is the delete character.
fn quoted(words: &str) -> String {
    let json = serde_json::Value::from(words).to_string();
    json.replace('\u{7f}', "\\u007F")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn weir() -> NewMeter {
        NewMeter {
            name: String::from("weir \"7\""),
            port: String::from("/dev/ttyUSB3"),
            protocol: String::from("text-line"),
            accuracy: vec![
                NewRange {
                    up_to_ohms: Some(200.0),
                    percent: 0.5,
                    counts: 3.0,
                },
                NewRange {
                    up_to_ohms: None,
                    percent: 1.5,
                    counts: 0.0,
                },
            ],
            ..NewMeter::default()
        }
    }

    fn edit(text: &str, meter: &NewMeter) -> Result<String, EditError> {
        let path = Path::new("stillohm.toml");
        let (new, config) = with_meter(path, text, &Given::default(), meter)?;
        let last = config.settings.meters.last().expect("a meter");
        assert_eq!(last.name.as_str(), meter.name);
        Ok(new)
    }

    const BLOCK: &str = "[[meter]]\nname = \"weir \\\"7\\\"\"\nprotocol = \"text-line\"\nserial = { path = \"/dev/ttyUSB3\", baud = 9600 }\naccuracy = [{ up_to_ohms = 200, percent = 0.5, counts = 3 }, { percent = 1.5, counts = 0 }]\n";

    #[test]
    fn what_stands_there_stays_byte_for_byte() {
        let own = "# the pond's own\ndata = 'x' # not y\n\n[[meter]] # first\nname = \"a\"\nprotocol = \"text-line\"\ntcp = { address = \"h:1\" }\n# the end";
        assert_eq!(edit(own, &weir()).unwrap(), format!("{own}\n\n{BLOCK}"));
        assert_eq!(edit("", &weir()).unwrap(), BLOCK);
        let windows = "# a\r\n[web]\r\n";
        let wanted = format!("{windows}\r\n{}", BLOCK.replace('\n', "\r\n"));
        assert_eq!(edit(windows, &weir()).unwrap(), wanted);
    }

    #[track_caller]
    fn check_refused(
        text: &str,
        change: impl FnOnce(&mut NewMeter),
        field: Option<&str>,
        words: &str,
    ) {
        let mut meter = weir();
        change(&mut meter);
        let refused = edit(text, &meter).expect_err("refused");
        assert_eq!(refused.field, field, "{refused}");
        assert!(refused.message.contains(words), "{refused}");
    }

    #[test]
    fn a_refusal_names_its_field() {
        let other =
            "[[meter]]\nname = \"a\"\nprotocol = \"text-line\"\ntcp = { address = \"h:1\" }\n";
        check_refused("", |m| m.name.clear(), Some("name"), "expected something");
        check_refused(other, |m| m.name = String::from("a"), Some("name"), "\"a\"");
        check_refused(
            "",
            |m| m.protocol = String::from("text-lime"),
            Some("protocol"),
            "text-line",
        );
        check_refused(
            "",
            |m| m.port = String::from("tcp:h"),
            Some("port"),
            "HOST:PORT",
        );
        check_refused("", |m| m.line.baud = 7, Some("port"), "50 to 4000000");
        check_refused(
            other,
            |m| m.port = String::from("tcp:h:1"),
            Some("port"),
            "share a port",
        );
        check_refused("", |m| m.terminals = Some(3), Some("terminals"), "2 or 4");
        check_refused("", |m| m.unit = Some(300), Some("unit"), "0 to 247");
        check_refused(
            "",
            |m| m.accuracy[0].percent = -1.0,
            Some("accuracy"),
            "percent",
        );
        check_refused(
            "",
            |m| m.calibration_due = String::from("soon"),
            Some("calibration_due"),
            "date",
        );
        check_refused(
            "",
            |m| m.measures = vec![String::from("watts")],
            Some("measures"),
            "ohms",
        );
        check_refused("bogus = 1", |_| {}, None, "mend it first");
    }

    #[test]
    fn a_list_in_one_line_is_left_alone() {
        check_refused("meter = []\n", |_| {}, None, "[[meter]] tables");
    }

    #[test]
    fn no_name_breaks_out_of_its_quotes() {
        let mut meter = weir();
        meter.name = String::from("x\\\"\u{7f}é # [[meter]]");
        let new = edit("", &meter);
        // Checked text takes no control character; whatever is refused is refused by its field.
        match new {
            Ok(new) => assert_eq!(new.matches("\n[[meter]]").count(), 0),
            Err(refused) => assert_eq!(refused.field, Some("name")),
        }
    }
}
