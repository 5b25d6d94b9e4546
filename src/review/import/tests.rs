//! What a file gives: rows in words, or why not.

use std::path::Path;

use super::lines::{Lines, Origin, read};
use super::map::{EXAMPLE, Map};
use super::there;
use crate::disk::double::{Crash, Double, Fate};
use crate::log::Log;
use crate::stamp::Wall;

/// 2026-11-27T00:00:00Z.
const NOW: Wall = Wall(1_795_737_600_000_000_000);

fn lines(map: &str, file: &[u8]) -> Result<Lines, String> {
    let origin = Origin {
        file: "export.csv",
        map,
        tester: "Ada",
        at: NOW,
    };
    read(file, &Map::read(map).expect("a map"), &origin)
}

#[track_caller]
fn check(map: &str, file: &str, expected: &[&str]) {
    let said = match lines(map, file.as_bytes()) {
        Err(why) => vec![format!("none: {why}")],
        Ok(lines) => {
            let good = lines.good.iter().map(|line| {
                let row = &line.row;
                let ohms = row
                    .value_ohms
                    .map_or(String::new(), |ohms| format!(" {ohms}"));
                let at = &line.read_at.rfc3339()[..19];
                format!(
                    "{} {at} {} {} {}{ohms}",
                    line.number,
                    row.asset,
                    row.event.word(),
                    row.shown
                )
            });
            let refused = lines.refused.iter();
            good.chain(refused.map(|r| format!("{} {:?}: {}", r.number, r.column, r.why)))
                .collect()
        }
    };
    assert_eq!(said, expected, "{file}");
}

const PLAIN: &str = "[columns]\nread_at = \"t\"\nshown = \"v\"\nasset = \"a\"\n";

#[test]
fn lines_become_rows_as_the_map_says() {
    check(
        PLAIN,
        "t,v,a\n2026-11-01T10:00:00,22.70 kΩ,CP-07\n2026-11-01T10:01:00,OL,CP-07\n",
        &[
            "2 2026-11-01T10:00:00 CP-07 value 22.70 kΩ 22700",
            "3 2026-11-01T10:01:00 CP-07 open OL",
        ],
    );
    // The example: byte-order mark, CRLF, semicolons, commas, an hour east of UTC.
    let file = "\u{feff}Time;Tag;Reading;Unit\r\n01.11.2026 10:00:00;CP-07;1.022,5;MΩ\r\n";
    check(
        EXAMPLE,
        file,
        &["2 2026-11-01T09:00:00 CP-07 value 1022.5 MΩ 1022500000"],
    );
    check(
        EXAMPLE,
        "Time;Tag;Reading;Unit\n01.11.2026 10:00:00;\"CP; 07\";OL;MΩ\n",
        &["2 2026-11-01T09:00:00 CP; 07 open OL"],
    );
}

/// A point where a comma is the decimal sign would be a factor of ten or more.
#[test]
fn a_point_that_divides_no_thousands_is_refused() {
    let of = |value: &str| {
        let file = format!("Time;Tag;Reading;Unit\n01.11.2026 10:00:00;x;{value};MΩ\n");
        let found = lines(EXAMPLE, file.as_bytes()).expect("a header");
        let good = found.good.first().map(|line| line.row.shown.clone());
        good.ok_or_else(|| {
            found.refused[0]
                .why
                .contains("points only before each three digits")
        })
    };
    for (value, shown) in [
        ("1.022,5", "1022.5 MΩ"),
        ("12.345.678,0", "12345678.0 MΩ"),
        ("12,5", "12.5 MΩ"),
        ("12", "12 MΩ"),
    ] {
        assert_eq!(of(value).as_deref(), Ok(shown), "{value}");
    }
    for value in [
        "12.5", "12.345", "999.000", "1.2345", "1234.567", "1.02,5", "1,022.5", ".500", "1..000",
        "0.12",
    ] {
        assert_eq!(of(value), Err(true), "{value}");
    }
}

#[test]
fn numbers_beside_the_value_go_into_their_columns() {
    let map = "decimal = \",\"\ndelimiter = \";\"\n[columns]\nread_at = \"t\"\nshown = \"v\"\ntemperature_c = \"T\"\n[always]\ntest_voltage_v = \"500\"\n";
    let lines_of = |file: &str| lines(map, file.as_bytes()).expect("a header");
    let found = lines_of("t;v;T\n2026-11-01T10:00:00;4,7;18,5\n2026-11-01T10:01:00;4,7;\n");
    let cells = |line: &super::lines::Line| {
        let of = |number: Option<crate::quantity::Decimal>| number.map(|n| n.to_string());
        (of(line.row.temperature_c), of(line.row.test_voltage_v))
    };
    let volts = Some(String::from("500"));
    assert_eq!(
        cells(&found.good[0]),
        (Some(String::from("18.5")), volts.clone())
    );
    assert_eq!(cells(&found.good[1]), (None, volts));
    let found = lines_of("t;v;T\n2026-11-01T10:00:00;4,7;warm\n");
    assert!(
        found.refused[0]
            .why
            .contains("expected a plain number, found \"warm\""),
        "{found:?}"
    );
}

#[test]
fn what_does_not_fit_is_refused_with_line_and_column() {
    let value = "expected a value as on the display, such as 22.7 kΩ, 0.5ohm or OL, found \"4,7\"";
    let future = "expected a time that has passed, found 2026-12-01T10:00:00.000Z";
    let formula =
        "expected words that do not begin with '=': a spreadsheet would run them as a formula";
    check(
        PLAIN,
        "t,v,a\n2026-11-01T10:00:00,\"4,7\",x\n2026-12-01T10:00:00,4.7,x\n2026-11-01T10:00:00,4.7,=x\n2026-11-01T10:00:00,4.7\n",
        &[
            &format!("2 \"v\": {value}"),
            &format!("3 \"t\": {future}"),
            &format!("4 \"a\": {formula}"),
            "5 \"\": expected 3 cells, found 2",
        ],
    );
    check(
        PLAIN,
        "t;v;a\n",
        &[
            "none: expected one column \"a\" for asset, found t;v;a; see delimiter and [columns] in the map",
        ],
    );
    check(
        PLAIN,
        "",
        &[
            "none: expected one column \"a\" for asset, found ; see delimiter and [columns] in the map",
        ],
    );
    let many = "t,v,a\n2026-11-01T10:00:00,1234567890123456789,x\n2026-11-01,1,x\n";
    let lines = lines(PLAIN, many.as_bytes()).expect("a header");
    assert_eq!((lines.good.len(), lines.refused.len()), (0, 2));
    assert!(
        lines.refused[1].why.contains("%Y-%m-%dT%H:%M:%S"),
        "{:?}",
        lines.refused[1]
    );
    // What is no UTF-8 is a line that is refused, and the next is read.
    let lines = super::tests::lines(
        PLAIN,
        b"t,v,a\n2026-11-01T10:00:00,4.7,\xff\n2026-11-01T10:00:00,4.7,x\n",
    );
    let lines = lines.expect("a header");
    assert_eq!((lines.good.len(), lines.refused.len()), (1, 1));
    assert!(
        lines.refused[0]
            .why
            .contains("save the file as CSV in UTF-8")
    );
    let utf_16: Vec<u8> = "\u{feff}t,v,a\n"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    let refused = super::tests::lines(PLAIN, &utf_16).expect_err("UTF-16");
    assert!(refused.contains("found UTF-16"), "{refused}");
}

/// A voltage is no insulation, whatever the map calls it.
#[test]
fn a_test_in_ohms_takes_no_other_unit() {
    let map = format!("{PLAIN}[always]\ntest = \"insulation\"\n");
    let file = "t,v,a\n2026-11-01T10:00:00,4.7 MΩ,x\n2026-11-01T10:00:00,230 V,x\n";
    let found = lines(&map, file.as_bytes()).expect("a header");
    assert_eq!(found.good.len(), 1);
    let why = &found.refused[0].why;
    assert_eq!(
        why,
        "expected ohms, as test insulation is read in, found \"230 V\""
    );
}

#[test]
fn a_map_that_cannot_be_used_says_why() {
    let wrong = |text: &str, words: &str| {
        let why = Map::read(text).expect_err(text).to_string();
        assert!(why.contains(words), "{text}: {why}");
    };
    wrong(&format!("{PLAIN}job = \"j\"\n"), "put into no job");
    wrong(
        &format!("{PLAIN}verdict = \"j\"\n"),
        "\"verdict\" is no field; there are: read_at",
    );
    wrong(
        "[columns]\nread_at = \"t\"\n",
        "expected shown in [columns]",
    );
    wrong(
        &format!("{PLAIN}[always]\nasset = \"x\"\n"),
        "asset stands in [columns] and in [always]",
    );
    wrong(&format!("decimal = \";\"\n{PLAIN}"), "expected . or ,");
    wrong(&format!("delimiter = \"x\"\n{PLAIN}"), "delimiter");
    wrong(&format!("utc_offset = \"1\"\n{PLAIN}"), "+01:00");
    wrong(&format!("colour = 1\n{PLAIN}"), "colour");
}

/// Writes what is new; how many that were.
fn import(disk: &Double, log: &Path, file: &str) -> Option<usize> {
    let there = there(disk, log).ok()?;
    let lines = lines(PLAIN, file.as_bytes()).expect("a header");
    let rows: Vec<_> = lines
        .good
        .into_iter()
        .filter(|line| !there.contains(&line.id))
        .map(|line| line.row)
        .collect();
    let count = rows.len();
    let (mut log, _) = Log::open(log, disk.clone()).ok()?;
    log.append(rows).ok()?;
    log.sync().ok()?;
    Some(count)
}

const SHORT: &str =
    "t,v,a\n2026-11-01T10:00:00,4.7,x\n2026-11-01T10:00:00,4.7,x\n2026-11-01T10:05:00,4.8,y\n";

#[test]
fn a_line_is_written_once_and_a_longer_file_adds_its_new_ones() {
    let (disk, log) = (Double::default(), Path::new("/log"));
    assert_eq!(
        import(&disk, log, SHORT),
        Some(3),
        "the same reading twice is two lines"
    );
    assert_eq!(import(&disk, log, SHORT), Some(0));
    let longer = format!("{SHORT}2026-11-01T10:05:00,4.8,z\n2026-11-01T10:00:00,4.7,x\n");
    assert_eq!(import(&disk, log, &longer), Some(2));
    assert_eq!(import(&disk, log, &longer), Some(0));
    assert_eq!(there(&disk, log).expect("reads").len(), 5);
}

#[test]
fn an_import_that_breaks_off_anywhere_goes_on_to_the_same_rows() {
    for n in 1..12 {
        for crash in [
            Crash::KeepAll,
            Crash::Keep(0),
            Crash::Keep(700),
            Crash::Zeros(300),
        ] {
            let (disk, log) = (Double::default(), Path::new("/log"));
            disk.fated(Fate::Die(n));
            disk.writes_half();
            let first = import(&disk, log, SHORT);
            let disk = disk.crashed(crash);
            let rest = import(&disk, log, SHORT).expect("the disk is well again");
            let all = there(&disk, log).expect("reads").len();
            assert_eq!(all, 3, "operation {n}, {crash:?}: {first:?}, then {rest}");
        }
    }
}
