//! Rows of `tests/reference/`: facts from outside, each used or listed with the reason why not.

use std::sync::Arc;

use crate::decode::{Crc, Float, Large, Order, Suffix, Sum, TextNumber, UnitSet, Words};
use crate::meter::MeterId;
use crate::quantity::{Decimal, Unit};
use crate::reading::{Got, Reading};
use crate::stamp::Stamp;

use super::{Heard, Plan, Stream, hex, shipped, try_bytes};

fn rows(text: &str) -> Vec<csv::StringRecord> {
    csv::Reader::from_reader(text.as_bytes())
        .records()
        .map(|row| row.expect("a row"))
        .collect()
}

fn plan(name: &str) -> Arc<Plan> {
    let (_, text) = shipped().iter().find(|(n, _)| *n == name).expect("shipped");
    Arc::new(Plan::parse(name, text).expect("it compiles"))
}

/// What `scpi-poll` hears when a meter answers this line.
fn answer(plan: &Arc<Plan>, line: &str) -> Result<Got, Vec<String>> {
    let (readings, bad) = try_bytes(plan, format!("{line}\r\n").as_bytes(), None, None);
    match readings.as_slice() {
        [Reading { got, .. }] if bad.is_empty() => Ok(*got),
        _ => Err(bad),
    }
}

fn scpi_suffix() -> TextNumber {
    let units = [
        Unit::Volt,
        Unit::Ampere,
        Unit::Second,
        Unit::Celsius,
        Unit::Siemens,
    ];
    TextNumber {
        suffix: Suffix::Scpi,
        point: b'.',
        unit: Unit::Ohm,
        units: units
            .iter()
            .fold(UnitSet::default().with(Unit::Ohm), |set, u| set.with(*u)),
        over: Words::default(),
        nothing: Words::default(),
        over_from: Large::parse("9.9E37"),
        nothing_at: Large::parse("9.91E37"),
        beyond: false,
    }
}

fn value(got: Got) -> (Decimal, Unit) {
    match got {
        Got::Value(shown) => (shown.value, shown.unit),
        other => panic!("expected a value, found {other:?}"),
    }
}

#[test]
fn every_row_of_the_scpi_number_table() {
    let plan = plan("scpi-poll");
    let number = scpi_suffix();
    let read = |text: &str| number.read(text.as_bytes()).map(|(got, _)| got);
    let mut listed = Vec::new();
    let rows = rows(include_str!("../../tests/reference/scpi_ieee488.csv"));
    for row in &rows {
        let (id, kind, text) = (&row[0], &row[1], &row[2]);
        let (accepted, expected, unit) = (&row[3], &row[5], &row[6]);
        match (kind, id) {
            // Four comma-separated words: a reading line they are not.
            ("response data", "IDN") => assert!(answer(&plan, text).is_err(), "{id}"),
            // An empty line is nothing: neither a reading nor a bad frame.
            ("response data", "RSP-BAD-1") => {
                assert_eq!(answer(&plan, text), Err(Vec::new()), "{id}");
            }
            ("response data", _) => {
                let got = answer(&plan, text);
                match (accepted, expected) {
                    // Any magnitude from 9.9E37 on is over-range for ohms (row SPC-USE).
                    ("yes", "+infinity" | "-infinity") => {
                        assert!(matches!(got, Ok(Got::Over { .. })), "{id}: {got:?}");
                    }
                    ("yes", "not a number") => assert_eq!(got, Ok(Got::Nothing), "{id}"),
                    ("yes", _) => {
                        let expected = expected.parse().expect("a decimal");
                        assert_eq!(
                            value(got.expect("a reading")),
                            (expected, Unit::Ohm),
                            "{id}"
                        );
                    }
                    ("no", _) => assert!(got.is_err_and(|bad| bad.len() == 1), "{id}"),
                    ("no (strict); tolerate when listening", _) => {
                        let expected = text.trim_end_matches('.').parse().expect("a decimal");
                        assert_eq!(value(got.expect("tolerated")).0, expected, "{id}");
                    }
                    other => panic!("{id}: {other:?} is new in the table"),
                }
            }
            ("program data NRf", _) => {
                let got = value(read(text).expect("a number"));
                assert_eq!(
                    got,
                    (expected.parse().expect("a decimal"), Unit::Ohm),
                    "{id}"
                );
            }
            // A alone is the ampere. 10^-18 ohm lies below every value that is kept: never rounded.
            ("suffix multiplier", "MULT-A") => {
                assert_eq!(
                    value(read("1 A").expect("a number")).1,
                    Unit::Ampere,
                    "{id}"
                );
                assert!(read(&format!("1 {text}OHM")).is_err(), "{id}");
                let kept = value(read(&format!("2000 {text}OHM")).expect("a number")).0;
                assert_eq!(kept, "2e-15".parse().expect("a decimal"), "{id}");
            }
            ("suffix multiplier", _) => {
                // MA alone is milliampere, as row SFX-15 says; before a unit it is mega.
                let typed = if id == "MULT-MA" {
                    format!("1 {text}OHM")
                } else {
                    format!("1 {text}")
                };
                let expected: Decimal = expected.parse().expect("a decimal");
                assert_eq!(value(read(&typed).expect("a number")).0, expected, "{id}");
            }
            // Hertz is none of the units that a meter here measures.
            ("suffix", "SFX-10" | "SFX-11") => assert!(read(text).is_err(), "{id}"),
            // One device's deviation; the rule belongs to each description, ours keep the standard.
            ("suffix", "SFX-DEV") => listed.push(id),
            ("suffix", _) => {
                let expected: Decimal = expected.parse().expect("a decimal");
                let expected_unit = match unit {
                    "ohm" => Unit::Ohm,
                    "V" => Unit::Volt,
                    "A" => Unit::Ampere,
                    "s" => Unit::Second,
                    "degC" => Unit::Celsius,
                    other => panic!("{id}: unit {other}"),
                };
                let got = value(read(text).expect("a number"));
                assert_eq!(got, (expected, expected_unit), "{id}");
            }
            ("display text", _) => {
                let line = self::plan("text-line");
                let ohms = |text: &str| value(answer(&line, text).expect("a reading")).0;
                assert_eq!(ohms("1 mΩ").to_string(), "0.001", "{id}");
                assert_eq!(ohms("1 MΩ").to_string(), "1000000", "{id}");
            }
            // A meter that answers the word instead of the number.
            ("special number", "SPC-INFinity" | "SPC-NINF") => {
                assert!(matches!(answer(&plan, text), Ok(Got::Over { .. })), "{id}");
                assert!(
                    matches!(answer(&plan, expected), Ok(Got::Over { .. })),
                    "{id}"
                );
            }
            ("special number", "SPC-NAN") => {
                assert_eq!(answer(&plan, text), Ok(Got::Nothing), "{id}");
                assert_eq!(answer(&plan, expected), Ok(Got::Nothing), "{id}");
            }
            // Settings that a controller sends; as an answer they are no number.
            (
                "special number",
                "SPC-MINimum" | "SPC-MAXimum" | "SPC-DEFault" | "SPC-UP" | "SPC-DOWN",
            ) => {
                assert!(answer(&plan, text).is_err(), "{id}");
            }
            // Both signs are over-range here, so a manual that swaps them changes nothing.
            ("documentation error" | "special number", "SPC-SWAP") => listed.push(id),
            ("rule", "SPC-USE") => {
                for over in ["9.9E37", "-9.9E37", "9.95E37", "1E38"] {
                    assert!(
                        matches!(answer(&plan, over), Ok(Got::Over { .. })),
                        "{id}: {over}"
                    );
                }
                assert_eq!(answer(&plan, "9.91E37"), Ok(Got::Nothing), "{id}");
                assert!(
                    answer(&plan, "9.8E37").is_err(),
                    "{id}: beyond every value, and not over"
                );
            }
            // A READ? answers decimal numbers only; written by the standard for other queries.
            ("non-decimal numeric", _) => assert!(answer(&plan, text).is_err(), "{id}"),
            ("rule", "TERM") => {
                for end in ["\n", "\r\n", "\r"] {
                    let (readings, _) =
                        try_bytes(&plan, format!("3.47{end}").as_bytes(), None, None);
                    assert_eq!(readings.len(), 1, "{id}: {end:?}");
                }
            }
            other => panic!("{other:?} is new in the table"),
        }
    }
    assert_eq!(rows.len(), 91);
    assert_eq!(
        listed,
        ["SFX-DEV", "SPC-SWAP"],
        "listed, not tested: reasons above"
    );
}

const REGISTERS: &str = r#"
frame.modbus_rtu = {}
send = [
  { name = "r", bytes.modbus_read = { function = FUNCTION, register = REGISTER, count = COUNT }, when.poll = { every_ms = 200, timeout_ms = 80 } },
]
reading = [{ quantity = "main", value.int = { at = 0, bytes = 2 } }]
"#;

/// A description that reads so many registers.
fn registers(function: u8, register: u16, count: usize) -> Arc<Plan> {
    let text = REGISTERS
        .replace("FUNCTION", &function.to_string())
        .replace("REGISTER", &register.to_string())
        .replace("COUNT", &count.to_string());
    Arc::new(Plan::parse("registers", &text).expect("it compiles"))
}

/// Sends what the plan asks, and hears these bytes; what the first register says, or why not.
fn ask(plan: &Arc<Plan>, unit: u8, bytes: &[u8]) -> Result<Vec<i64>, String> {
    let mut stream = Stream::new(Arc::clone(plan), &[(MeterId(3), Some(unit))]);
    stream.opened();
    stream.sent(Stamp::ZERO, &plan.requests(&[Some(unit)])[0].data);
    let mut heard = Ok(Vec::new());
    let mut sink = |h: Heard<'_>| match (h, &mut heard) {
        (Heard::Frame(readings), Ok(list)) => {
            list.extend(readings.iter().map(|r| value(r.got).0.count()));
        }
        (Heard::Bad { why, .. }, heard) => *heard = Err(why.to_owned()),
        (Heard::Frame(_), Err(_)) => {}
    };
    stream.bytes(Stamp::ZERO, bytes, &mut sink);
    stream.end(&mut sink);
    heard
}

#[test]
fn every_row_of_the_modbus_table() {
    let crc = Crc::modbus();
    let mut listed = Vec::new();
    let rows = rows(include_str!("../../tests/reference/modbus_vectors.csv"));
    for row in &rows {
        let (id, kind, body) = (&row[0], &row[1], &row[3]);
        let (frame, valid) = (&row[7], &row[8]);
        let body = || hex::parse(body).expect("hex");
        if matches!(kind, "frame" | "check value") {
            let sum = crc.of(&if id == "CRC-EMPTY" {
                Vec::new()
            } else {
                body()
            });
            assert_eq!(format!("0x{sum:04X}"), row[4], "{id}");
            if !row[6].is_empty() {
                assert_eq!(
                    format!("{:02X}", Sum::TwosComplement.of(&body())),
                    row[6],
                    "{id}"
                );
            }
            if !frame.is_empty() {
                let whole = hex::parse(frame).expect("hex");
                assert_eq!(crc.of(&whole) == 0, valid == "yes", "{id}");
                // None of them is an answer to a question that was not asked.
                assert!(
                    ask(&registers(3, 0x7000, 120), 0x63, &whole).is_err(),
                    "{id}"
                );
            }
        }
        let whole = || hex::parse(frame).expect("hex");
        let asks = |function, register, count: usize, unit: u8| {
            let sent = registers(function, register, count).requests(&[Some(unit)]);
            assert_eq!(hex::show(&sent[0].data), frame, "{id}");
        };
        match id {
            "REQ-03" => asks(3, 0x6B, 3, 0x11),
            "REQ-04" => asks(4, 8, 1, 0x11),
            "W-0" => asks(3, 0, 10, 1),
            "W-2" => asks(3, 2, 1, 1),
            "W-4" => asks(3, 0x85, 1, 1),
            "RSP-03A" => assert_eq!(ask(&registers(3, 0x6B, 3), 0x11, &whole()), Ok(vec![555])),
            "RSP-03B" => assert_eq!(
                ask(&registers(3, 0x6B, 3), 0x11, &whole()),
                Ok(vec![0xAE41])
            ),
            "RSP-04" => assert_eq!(ask(&registers(4, 8, 1), 0x11, &whole()), Ok(vec![10])),
            "W-3" => assert_eq!(ask(&registers(3, 2, 1), 1, &whole()), Ok(vec![0x184])),
            "EXC-03" => {
                let why = ask(&registers(3, 0, 1), 1, &whole()).expect_err("an exception");
                assert!(why.contains("exception 2 (illegal data address)"), "{why}");
            }
            "EXC-0B" => {
                let why = ask(&registers(3, 0, 1), 1, &whole()).expect_err("an exception");
                assert!(why.contains("exception 11"), "{why}");
            }
            "BAD-CRC" | "BAD-ORDER" => {
                assert_eq!(valid, "no");
                assert!(ask(&registers(3, 0x6B, 3), 0x11, &whole()).is_err(), "{id}");
            }
            // One bit of a good answer flipped, and its check in the wrong order.
            "CRC-RESIDUE" => {
                let good = hex::parse("11 03 06 02 2B 00 00 00 64 C8 BA").expect("hex");
                for bit in 0..good.len() * 8 {
                    let mut bad = good.clone();
                    bad[bit / 8] ^= 1 << (bit % 8);
                    assert!(
                        ask(&registers(3, 0x6B, 3), 0x11, &bad).is_err(),
                        "bit {bit}"
                    );
                }
                let mut swapped = good;
                swapped.swap(9, 10);
                assert!(
                    ask(&registers(3, 0x6B, 3), 0x11, &swapped).is_err(),
                    "swapped"
                );
            }
            "ASCII-03" => {
                let sum = Sum::TwosComplement.of(&body());
                let line = format!(":{}{sum:02X} CR LF", hex::show(&body()).replace(' ', ""));
                assert_eq!(line, frame, "{id}");
            }
            "FLT-3.47" => orders(body_text(row), "3.47"),
            "FLT-200M" => orders(body_text(row), "200000000.0"),
            // Answers are told by what was asked, not by silences.
            "TIMING" => listed.push(id),
            "CRC-DEF" => assert_eq!(
                Crc::new(16, 0x8005, 0xFFFF, true, true, 0).of(b"1"),
                crc.of(b"1")
            ),
            // Coils and writes are never sent: their checks are compared above.
            "CRC-CHECK" | "CRC-EMPTY" | "SL-GUIDE" | "REQ-01" | "REQ-02" | "REQ-05" | "REQ-06"
            | "REQ-15" | "REQ-16" | "RSP-16" | "REQ-23" | "EXC-01" | "W-1" => {}
            other => panic!("{other} is new in the table"),
        }
    }
    assert_eq!(rows.len(), 32);
    assert_eq!(listed, ["TIMING"], "listed, not tested: reason above");
}

fn body_text(row: &csv::StringRecord) -> &str {
    &row[3]
}

/// `big-endian (ABCD) 40 5E 14 7B ; …` in four orders.
fn orders(text: &str, expected: &str) {
    let expected: f32 = expected.parse().expect("a float");
    let mut seen = 0;
    for part in text.split(';') {
        let (name, bytes) = part.split_once(')').expect("a name in brackets");
        let order = match name.split_once('(').expect("a name").1 {
            "ABCD" => Order::Big,
            "CDAB" => Order::BigSwapped,
            "BADC" => Order::LittleSwapped,
            "DCBA" => Order::Little,
            other => panic!("{other} is new in the table"),
        };
        let float = Float {
            at: 0,
            bytes: 4,
            order,
            digits: Some(6),
            decimals: None,
        };
        let value = float
            .read(&hex::parse(bytes).expect("hex"))
            .expect("4 bytes");
        assert_eq!(value, f64::from(expected), "{name}");
        seen += 1;
    }
    assert_eq!(seen, 4);
}
