//! Numbers as text, from the display's side: what is read, what is refused.

use proptest::prelude::*;

use super::*;
use crate::quantity::{Decimal, Unit};
use crate::reading::{Flags, Got};

fn display() -> TextNumber {
    let units = [
        Unit::Volt,
        Unit::Ampere,
        Unit::Second,
        Unit::Celsius,
        Unit::Percent,
    ];
    TextNumber {
        suffix: Suffix::Display,
        point: b'.',
        unit: Unit::Ohm,
        units: units
            .iter()
            .fold(UnitSet::default().with(Unit::Ohm), |set, u| set.with(*u)),
        over: Words::new(["OL", "O.L", "0L"]),
        nothing: Words::new(["NAN", "---"]),
        over_from: Large::parse("9.9E37"),
        nothing_at: Large::parse("9.91E37"),
        beyond: true,
    }
}

/// The value, the unit's word, one count and the prefix, or the refusal.
fn read(text: &[u8]) -> String {
    match display().read(text) {
        Ok((Got::Value(s), flags)) => {
            let flags: Vec<_> = flags.words().collect();
            format!(
                "{} {} by {} {} {}",
                s.value,
                s.unit.word(),
                s.resolution,
                s.prefix,
                flags.join(" ")
            )
            .trim_end()
            .to_owned()
        }
        Ok((Got::Over { unit, full_scale }, _)) => match full_scale {
            Some(full_scale) => format!("over {} of {full_scale}", unit.word()),
            None => format!("over {}", unit.word()),
        },
        Ok((Got::Nothing, _)) => String::from("nothing"),
        Err(refused) => format!("{refused:?}"),
    }
}

#[test]
fn text_is_read_as_a_display_shows_it() {
    let cases: &[(&[u8], &str)] = &[
        (b"+1.2345E+01 OHM", "12.345 ohm by 0.001 0"),
        ("22.7 kΩ".as_bytes(), "22700 ohm by 100 3"),
        ("22.7 k\u{2126}".as_bytes(), "22700 ohm by 100 3"),
        ("22.7 \u{212A}\u{2126}".as_bytes(), "22700 ohm by 100 3"),
        (b"22.7 k\xEA", "22700 ohm by 100 3"),
        (b"22.7k", "22700 ohm by 100 3"),
        (b"0.5ohm", "0.5 ohm by 0.1 0"),
        (b" 12.40 ", "12.40 ohm by 0.01 0"),
        (b"- 0.50", "-0.50 ohm by 0.01 0"),
        (b"12.", "12 ohm by 1 0"),
        (b".5", "0.5 ohm by 0.1 0"),
        (b"1.000 MOhm", "1000000 ohm by 1000 6"),
        (b"1.0 MOHM", "1000000 ohm by 100000 6"),
        (b"1.0 mOhm", "0.0010 ohm by 0.0001 -3"),
        (b"1.0 KOHM", "1000 ohm by 100 3"),
        (b"2.3 GOhm", "2300000000 ohm by 100000000 9"),
        ("1.5 TΩ".as_bytes(), "1500000000000 ohm by 100000000000 12"),
        (b"12.01 V DC", "12.01 volt by 0.01 0 dc"),
        (b"230mVac", "0.230 volt by 0.001 -3 ac"),
        ("4.7 µA".as_bytes(), "0.0000047 ampere by 0.0000001 -6"),
        (
            "4.7 \u{3BC}A".as_bytes(),
            "0.0000047 ampere by 0.0000001 -6",
        ),
        (b"4.7 \xB5A", "0.0000047 ampere by 0.0000001 -6"),
        (b"4.7 uA", "0.0000047 ampere by 0.0000001 -6"),
        (b"410 nA", "0.000000410 ampere by 0.000000001 -9"),
        (b"7.2 s", "7.2 second by 0.1 0"),
        ("21.5 °C".as_bytes(), "21.5 celsius by 0.1 0"),
        (b"21.5\xB0C", "21.5 celsius by 0.1 0"),
        (b"99 %", "99 percent by 1 0"),
        (b"OL", "over ohm"),
        (b"ol", "over ohm"),
        (b"-OL", "over ohm"),
        ("O.L MΩ".as_bytes(), "over ohm"),
        (b"0L", "over ohm"),
        (b"OL V", "over volt"),
        (b">20.0 GOhm", "over ohm of 20000000000"),
        ("> 4.00 MΩ".as_bytes(), "over ohm of 4000000"),
        (b"+9.90000000E+37", "over ohm"),
        (b"-9.9E37", "over ohm"),
        (b"9.91E37", "nothing"),
        (b"NaN", "nothing"),
        (b"---", "nothing"),
        (b"0.000", "0.000 ohm by 0.001 0"),
        (b"999999999999999999", "999999999999999999 ohm by 1 0"),
    ];
    for (text, expected) in cases {
        assert_eq!(read(text), *expected, "{}", String::from_utf8_lossy(text));
    }
}

#[test]
fn what_is_beside_the_grammar_is_refused() {
    let refused: &[(&[u8], Refused)] = &[
        (b"", Refused::NotANumber),
        (b"ohm", Refused::NotANumber),
        (b"R=12.4", Refused::NotANumber),
        (b"<12.4", Refused::NotANumber),
        (b"> OL", Refused::NotANumber),
        (b">-5", Refused::NotANumber),
        (b"> 0", Refused::NotANumber),
        (b"1,5", Refused::OtherUnit),
        (b"1.2.3", Refused::OtherUnit),
        (b"12.4 12.5", Refused::OtherUnit),
        (b"12.4 Hz", Refused::OtherUnit),
        (b"12.4 S", Refused::OtherUnit),
        (b"12.4 kmOhm", Refused::OtherUnit),
        (b"12.4 k%", Refused::OtherUnit),
        (b"12.4 Ohm DC", Refused::OtherUnit),
        (b"12.4 DC", Refused::OtherUnit),
        (b"12.4 kOhm x", Refused::OtherUnit),
        (b"12.4\x00", Refused::OtherUnit),
        (b"1E", Refused::OtherUnit),
        (b"0x1F", Refused::OtherUnit),
        (b"OLx", Refused::NotANumber),
        (b"1000000000000000000", Refused::DoesNotFit),
        (b"1e33", Refused::DoesNotFit),
        (b"1e-20", Refused::DoesNotFit),
        (b"1e99999999999", Refused::DoesNotFit),
    ];
    for (text, expected) in refused {
        // 1e99999999999 is larger than every meter: over-range by its magnitude.
        let expected = if text.ends_with(b"99999999999") {
            "over ohm".into()
        } else {
            format!("{expected:?}")
        };
        assert_eq!(read(text), expected, "{}", String::from_utf8_lossy(text));
    }
}

#[test]
fn segments_read_as_the_reference_table_says() {
    let table = include_str!("../../tests/reference/seven_segment.csv");
    let segments = Segments {
        digits: vec![[0, 1, 2, 3, 4, 5, 6], [8, 9, 10, 11, 12, 13, 14]],
        points: vec![7],
        minus: Some(15),
    };
    let (mut digits, mut words) = (0, 0);
    for row in csv::Reader::from_reader(table.as_bytes()).records() {
        let row = row.expect("a row");
        if &row[2] == "word" {
            words += 1;
            continue;
        }
        let lit = u8::from_str_radix(row[10].trim_start_matches("0x"), 16).expect("hex");
        // A 4 before it, so that a blank is a blank behind a digit.
        let read = segments.read(&[0x66, lit]);
        match row[12].parse::<i64>() {
            // Another way to draw 1 is not known to every display: it is refused, not guessed.
            Ok(1) if &row[0] == "ALT4" => assert_eq!(read, Err(Refused::NotANumber)),
            Ok(digit) => {
                digits += 1;
                let expected = Decimal::new(40 + digit, 0).expect("in range");
                assert_eq!(read, Ok(Some(expected)), "{}", &row[0]);
            }
            // Letters that light the same segments as a digit cannot be told from it.
            Err(_) if [0x3F, 0x6D, 0x7C, 0x66, 0x6F].contains(&lit) => assert!(read.is_ok()),
            Err(_) if lit == 0x38 => assert_eq!(read, Ok(None), "{}", &row[0]),
            Err(_) => assert_eq!(read, Err(Refused::NotANumber), "{}", &row[0]),
        }
    }
    assert_eq!(
        (digits, words),
        (13, 9),
        "words of several glyphs are texts of descriptions"
    );
    assert_eq!(segments.read(&[0x3F, 0x38]), Ok(None), "OL");
    let point = segments
        .read(&[0x06 | 0x80, 0x5B | 0x80])
        .map(|d| d.map(|d| d.to_string()));
    assert_eq!(point, Ok(Some(String::from("-1.2"))));
    assert_eq!(
        segments.read(&[0x00, 0x5B]).map(|d| d.map(Decimal::count)),
        Ok(Some(2))
    );
}

proptest! {
    #[test]
    fn every_number_shown_reads_back_exactly(
        count in -9_999_999i64..=9_999_999,
        places in 0usize..7,
        prefix in prop_oneof![Just(("", 0i8)), Just(("m", -3)), Just(("k", 3)), Just(("M", 6)), Just(("G", 9))],
        spaced in any::<bool>(),
    ) {
        let digits = Decimal::new(count, -(places as i8)).expect("in range");
        let text = format!("{digits}{}{}Ω", if spaced { " " } else { "" }, prefix.0);
        let (got, flags) = display().read(text.as_bytes()).expect("it reads");
        let Got::Value(shown) = got else { panic!("a value") };
        prop_assert_eq!(shown.value, digits.shifted(prefix.1).expect("in range"));
        prop_assert_eq!(shown.resolution, Decimal::one(prefix.1 - places as i8));
        prop_assert_eq!(flags, Flags::NONE);
    }

    #[test]
    fn no_bytes_break_it(text in proptest::collection::vec(any::<u8>(), 0..40)) {
        if let Ok((Got::Value(shown), _)) = display().read(&text) {
            prop_assert!(text.iter().any(u8::is_ascii_digit), "{:?}", shown);
        }
    }
}
