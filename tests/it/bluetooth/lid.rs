//! The lid was closed within a contact: the radio told before and after, and
//! the clock says how long nobody listened.

use std::path::Path;

use bytes::Bytes;
use stillohm::capture::write::Encoder;
use stillohm::config::{Given, load};
use stillohm::input::{Begin, Input, SCHEMA, What};
use stillohm::meter::PortId;
use stillohm::stamp::{Stamp, Wall};
use stillohm::text::Text;

use crate::run::Folder;

const WALL: Wall = Wall(1_790_000_000_000_000_000);
/// A service, its characteristic with medfloat32 and ohms.
const TABLE: [&[u8]; 3] = [
    &[0x11, 6, 1, 0, 4, 0, 0x15, 0x18],
    &[0x09, 7, 2, 0, 0x10, 3, 0, 0x58, 0x2A],
    &[0x09, 9, 4, 0, 0x17, 0, 0x2A, 0x27, 1, 0, 0],
];
const OPEN: [u8; 4] = [0xFE, 0xFF, 0x7F, 0];
/// 770 hundredths of an ohm.
const JOINED: [u8; 4] = [2, 3, 0, 0xFE];

/// A contact of `first` seconds, a step of the clock by `slept` seconds, and
/// `second` seconds more on the same clips.
fn capture(first: f64, slept: f64, second: f64) -> Vec<u8> {
    let given = Given {
        config: None,
        data: None,
        motors: None,
        meters: vec![String::from("ohms-1=gatt-described@ble:C4:00:00:00:0C:01")],
    };
    let settings = load(&given).expect("a configuration").settings;
    let mut encoder = Encoder::new(WALL);
    let mut push = |seconds: f64, what: What| {
        let at = Stamp::from_seconds(seconds);
        encoder.push(&Input { at, what });
    };
    let begin = Begin {
        schema: SCHEMA,
        engine: stillohm::engine::REVISION,
        version: Text::clean("0"),
        wall: WALL,
        continues: false,
        next_seq: 1,
        chain: Text::clean(&"0".repeat(32)),
        capture: Text::clean("20260921T143320Z.pcapng"),
        before: None,
        log_id: Text::clean("invented"),
        repaired: Vec::new(),
        unfinished: Vec::new(),
        proved: Vec::new(),
        settings,
    };
    push(0.0, What::Begin(Box::new(begin)));
    let port = PortId(0);
    push(0.0, What::Opened { port });
    let bytes = |data: Vec<u8>| What::Bytes {
        port,
        data: Bytes::from(data),
    };
    for table in TABLE {
        push(0.01, bytes(table.to_vec()));
    }
    let told = |value: [u8; 4]| bytes([&[0x1B, 3, 0][..], &value].concat());
    let mut at = 0.1;
    let mut tell = |lasts: f64, value: [u8; 4], clock: &mut f64| {
        let end = *clock + lasts;
        while *clock < end {
            push(*clock, told(value));
            *clock += 0.05;
        }
        if value == JOINED && slept > 0.0 && *clock < 10.0 {
            let wall = Wall(WALL.0 + ((*clock + slept) * 1e9) as i64);
            let moved = (slept * 1e9) as i64;
            push(*clock, What::Clock { wall, moved });
        }
    };
    tell(2.0, OPEN, &mut at);
    tell(first, JOINED, &mut at);
    // The stamps count on: the sleep shows in the wall clock.
    at += 8.0_f64.min(slept);
    tell(second, JOINED, &mut at);
    tell(2.0, OPEN, &mut at);
    push(
        at,
        What::End {
            why: Text::clean("stopped"),
        },
    );
    encoder.take()
}

/// Events and what they show, of a capture replayed.
#[track_caller]
fn check(first: f64, slept: f64, second: f64, expected: &[&str]) {
    let folder = Folder::new(&[]);
    let file = folder.path("20260921T143320Z.pcapng");
    std::fs::write(&file, capture(first, slept, second)).expect("a file");
    let ran = folder.run(&["replay", Path::new(&file).to_str().expect("UTF-8")]);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let mut reader = csv::Reader::from_reader(ran.stdout.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let at = |name: &str| header.iter().position(|h| h == name).expect("a column");
    let (event, shown) = (at("event"), at("shown"));
    let rows = reader.records().map(|r| r.expect("a row"));
    let found: Vec<String> = rows
        .map(|row| format!("{} {}", &row[event], &row[shown]).trim().to_owned())
        .filter(|row| !row.starts_with("run_") && row != "open")
        .collect();
    assert_eq!(found, expected);
}

#[test]
fn nothing_settles_across_a_closed_lid() {
    check(1.4, 0.0, 1.4, &["value 7.70 Ω"]);
    check(1.4, 3600.0, 1.4, &["clock"]);
    check(1.0, 3600.0, 4.0, &["clock", "value 7.70 Ω"]);
}
