//! Rows of `tests/reference/ble_gatt.csv` through the shipped description.

use std::sync::Arc;

use proptest::prelude::*;

use super::{Heard, Plan, Stream, hex, say, shipped};
use crate::meter::MeterId;
use crate::stamp::Stamp;

const TABLE: &str = include_str!("../../tests/reference/ble_gatt.csv");
/// A characteristic 0x2A58 whose value stands at handle 3, its format at 4.
const DECLARED: &str = "09 07 02 00 10 03 00 58 2A";

fn stream() -> Stream {
    let (_, text) = shipped()
        .iter()
        .find(|(name, _)| *name == "gatt-described")
        .expect("shipped");
    let plan = Plan::parse("gatt-described", text).expect("it compiles");
    Stream::new(Arc::new(plan), &[(MeterId(0), None)])
}

/// What chunks in hex give: readings as lines, or why not.
fn hear(stream: &mut Stream, chunks: &[&str]) -> Vec<String> {
    let mut said = Vec::new();
    for chunk in chunks {
        let bytes = hex::parse(chunk).expect("hex");
        stream.bytes(Stamp::ZERO, &bytes, &mut |heard: Heard<'_>| match heard {
            Heard::Frame(readings) => said.extend(readings.iter().map(say::line)),
            Heard::Bad { why, .. } => said.push(format!("bad: {why}")),
        });
    }
    said
}

#[track_caller]
fn check(chunks: &[&str], expected: &[&str]) {
    assert_eq!(hear(&mut stream(), chunks), expected, "{chunks:?}");
}

fn format(code: &str, exponent: &str, unit: &str) -> String {
    format!("09 09 04 00 {code} {exponent} {unit} 01 00 00")
}

#[test]
fn every_encoded_value_of_the_table_is_read_as_it_says() {
    let mut used = 0;
    for row in csv::Reader::from_reader(TABLE.as_bytes()).records() {
        let row = row.expect("a row");
        let (id, kind, name, encoded, decoded) = (&row[0], &row[1], &row[2], &row[5], &row[8]);
        if encoded.is_empty() {
            continue;
        }
        let described = match kind.split(' ').next() {
            Some("medfloat16") => format("16", "00", "2A 27"),
            Some("medfloat32") => format("17", "00", "2A 27"),
            Some("0x2904") => {
                let descriptor = name.trim_start_matches("descriptor ");
                format!("09 09 04 00 {descriptor}")
            }
            // A standard characteristic says by its name what its value is.
            Some("characteristic") => String::new(),
            _ => panic!("{id}: a row of another kind: {kind}"),
        };
        used += 1;
        let declared = match (id, row[3].strip_prefix("0x2")) {
            ("CPF-W5", _) => "09 07 02 00 10 03 00 19 2A".to_owned(),
            (_, Some(number)) if id.starts_with("CHR") => {
                let (high, low) = (&number[..1], &number[1..]);
                format!("09 07 02 00 10 03 00 {low} 2{high}")
            }
            _ => DECLARED.to_owned(),
        };
        let value = format!("1B 03 00 {encoded}");
        let mut chunks = vec![declared.as_str()];
        if !described.is_empty() {
            chunks.push(&described);
        }
        chunks.push(&value);
        let said = hear(&mut stream(), &chunks).join("; ");
        let (quantity, unit) = match &row[9] {
            "degC" => ("temperature", "celsius"),
            "V" => ("main", "volt"),
            "%" => ("battery", "percent"),
            _ if name == "Temperature" => ("temperature", "celsius"),
            _ => ("main", "ohm"),
        };
        let wanted = match decoded {
            "NaN" => String::from("main nothing"),
            d if d.starts_with("NRes") => String::from("main nothing"),
            "+INFINITY" => String::from("main over ohm"),
            "-INFINITY" => String::from("bad: an infinity that is no over-range of ohms"),
            "not known" => format!("{quantity} nothing"),
            _ if name == "Humidity" => {
                String::from("bad: a humidity: nothing that is measured here")
            }
            "reserved" => String::from("bad: a reserved value of a medfloat"),
            number => format!("{quantity} {number} {unit}"),
        };
        // A count of more than one is said beside the value.
        let plain = said.split(" by ").next().unwrap_or_default();
        // 500 V in sixty-fourths is shown with the digits that those need.
        let plain = plain.replace("500.000000 volt", "500 volt");
        assert_eq!(plain, wanted, "{id} {name} {encoded}");
    }
    assert_eq!(used, 52, "rows that were used");
}

#[test]
fn a_standard_characteristic_is_read_by_its_name() {
    let of = |short: &str| format!("09 07 02 00 10 03 00 {short}");
    let (temperature, volts) = (of("6E 2A"), of("18 2B"));
    let celsius = "temperature 21.34 celsius";
    check(&[&temperature, "1B 03 00 56 08"], &[celsius]);
    // What a format beside it says is not needed, and not asked.
    let format = format("06", "00", "2A 27");
    check(&[&temperature, &format, "1B 03 00 56 08"], &[celsius]);
    for (value, why) in [
        ("4C 95", "bad: a reserved value of a temperature"),
        ("56", "bad: expected 2 bytes (temperature), found 1"),
        ("56 08 00", "bad: expected 2 bytes (temperature), found 3"),
    ] {
        check(&[&temperature, &format!("1B 03 00 {value}")], &[why]);
    }
    check(
        &[&temperature, "1B 03 00 4D 95"],
        &["temperature -273.15 celsius"],
    );
    check(
        &[&volts, "1B 03 00 80 FF"],
        &["main 1022.000000 volt by 0.015625"],
    );
    check(
        &[&volts, "1B 03 00 81 FF"],
        &["bad: a reserved value of a voltage"],
    );
    check(&[&volts, "1B 03 00 FF FF"], &["main nothing"]);
}

#[test]
fn a_standard_voltage_beside_ohms_is_the_test_voltage_and_two_are_refused() {
    let declared = "09 07 02 00 10 03 00 58 2A 05 00 10 06 00 18 2B";
    let told = ["1D 06 00 00 7D", "1B 03 00 E8 03"];
    let volts = "test_voltage 500.000000 volt by 0.015625";
    let ohms = format("06", "00", "2A 27");
    check(
        &[declared, &ohms, told[0], told[1]],
        &[volts, "main 1000 ohm"],
    );
    let refused = "bad: two characteristics tell volts: which of them is meant is not known";
    let again =
        "bad: two characteristics tell the unit 0x2728: which of them is meant is not known";
    let as_volts = format("06", "00", "28 27");
    check(&[declared, &as_volts, told[0], told[1]], &[refused, again]);
}

#[test]
fn each_integer_has_its_size_sign_and_reserved_bits() {
    let ohm = |code: &str| format(code, "00", "2A 27");
    for (code, value, expected) in [
        ("04", "FF", "main 255 ohm"),
        ("0C", "FF", "main -1 ohm"),
        ("05", "FF 0F", "main 4095 ohm"),
        ("05", "FF 1F", "bad: reserved bits of a uint12 are not 0"),
        ("0D", "FF 0F", "main -1 ohm"),
        ("0D", "FF F7", "bad: reserved bits of a sint12 are not 0"),
        ("02", "03", "main 3 ohm"),
        ("02", "04", "bad: reserved bits of a uint2 are not 0"),
        ("03", "1F", "bad: reserved bits of a uint4 are not 0"),
        ("07", "01 00 80", "main 8388609 ohm"),
        ("0F", "01 00 80", "main -8388607 ohm"),
        ("09", "00 00 00 00 00 01", "main 1099511627776 ohm"),
        ("11", "FF FF FF FF FF FF", "main -1 ohm"),
        ("12", "FF FF FF FF FF FF FF FF", "main -1 ohm"),
        (
            "0A",
            "FF FF FF FF FF FF FF FF",
            "bad: expected at most 18 digits and a power of ten from -15 to 15",
        ),
        (
            "0B",
            "05 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00",
            "main 5 ohm",
        ),
        (
            "13",
            "FB FF FF FF FF FF FF FF FF FF FF FF FF FF FF FF",
            "main -5 ohm",
        ),
        ("14", "00 00 80 7F", "main over ohm"),
        ("14", "00 00 C0 7F", "main nothing"),
        ("14", "A4 70 45 41", "main 12.3400 ohm"),
        ("15", "00 00 00 00 00 00 29 40", "main 12.5000 ohm"),
        ("19", "41", "bad: the format 0x19 of the value is no number"),
        ("01", "01", "bad: the format 0x01 of the value is no number"),
        ("10", "01 00", "bad: expected 4 bytes (sint32), found 2"),
        (
            "10",
            "01 00 00 00 00",
            "bad: expected 4 bytes (sint32), found 5",
        ),
    ] {
        let value = format!("1B 03 00 {value}");
        check(&[DECLARED, &ohm(code), &value], &[expected]);
    }
}

#[test]
fn an_exponent_holds_for_integers_and_not_for_floats() {
    check(
        &[DECLARED, &format("06", "FE", "2A 27"), "1B 03 00 39 30"],
        &["main 123.45 ohm"],
    );
    check(
        &[
            DECLARED,
            &format("14", "03", "2A 27"),
            "1B 03 00 A4 70 45 41",
        ],
        &["main 12.3400 ohm"],
    );
    check(
        &[DECLARED, &format("02", "02", "2A 27"), "1B 03 00 03"],
        &["main 3 ohm"],
    );
}

const TWO: &str = "09 07 02 00 10 03 00 58 2A 05 00 10 06 00 5A 2A";

#[test]
fn volts_beside_ohms_are_the_test_voltage_and_two_of_a_kind_are_refused() {
    let ohms = format("10", "00", "2A 27");
    let second = |unit: &str| format!("09 09 07 00 06 00 {unit} 01 00 00");
    let (volts, again) = (second("28 27"), second("2A 27"));
    check(
        &[TWO, &ohms, &volts, "1B 03 00 E8 03 00 00", "1D 06 00 F4 01"],
        &["main 1000 ohm", "test_voltage 500 volt"],
    );
    check(
        &[DECLARED, &format("06", "00", "28 27"), "1B 03 00 F4 01"],
        &["main 500 volt"],
    );
    check(
        &[TWO, &ohms, &again, "1B 03 00 E8 03 00 00"],
        &["bad: two characteristics tell the unit 0x272A: which of them is meant is not known"],
    );
}

#[test]
fn a_table_is_of_one_connection_and_an_answer_of_one_read() {
    let mut stream = stream();
    let ohms = format("06", "00", "2A 27");
    assert_eq!(
        hear(&mut stream, &[DECLARED, &ohms, "1B 03 00 05 00"]),
        ["main 5 ohm"]
    );
    assert_eq!(
        hear(&mut stream, &["0B 07 00"]),
        ["bad: an answer to no read"]
    );
    stream.sent(Stamp::ZERO, &[0x0A, 3, 0]);
    assert_eq!(hear(&mut stream, &["0B 07 00"]), ["main 7 ohm"]);
    assert_eq!(
        hear(&mut stream, &["1B 09 00 05 00"]),
        ["bad: a value at a handle that the meter's table does not name"]
    );
    stream.opened();
    let forgotten = "bad: a value before the meter's table of attributes";
    assert_eq!(hear(&mut stream, &["1B 03 00 05 00"]), [forgotten]);
}

proptest! {
    /// Whatever comes, nothing is read without a table, and nothing breaks.
    #[test]
    fn bytes_without_a_table_are_never_a_reading(
        chunks in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 0..40), 1..20)
    ) {
        let mut stream = stream();
        for chunk in chunks.iter().filter(|c| c.first() != Some(&0x09)) {
            stream.bytes(Stamp::ZERO, chunk, &mut |heard: Heard<'_>| {
                assert!(!matches!(heard, Heard::Frame(_)), "{chunk:?}");
            });
        }
    }

    /// Tables of any bytes break nothing.
    #[test]
    fn any_table_breaks_nothing(
        chunks in proptest::collection::vec(
            (prop_oneof![Just(0x09_u8), Just(0x11), Just(0x1B), Just(0x1D), Just(0x0B)],
             proptest::collection::vec(any::<u8>(), 0..60)),
            1..40,
        )
    ) {
        let mut stream = stream();
        for (code, rest) in chunks {
            let chunk = [&[code], rest.as_slice()].concat();
            stream.bytes(Stamp::ZERO, &chunk, &mut |_| {});
        }
    }
}
