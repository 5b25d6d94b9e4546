//! Streams as an engine drives them: openings, questions, units, silence, garbage.

use std::sync::Arc;

use crate::meter::MeterId;
use crate::stamp::Stamp;

use super::{Heard, Plan, Stream, say, shipped};

fn stream(name_or_text: &str, meters: &[(MeterId, Option<u8>)]) -> Stream {
    let text = shipped()
        .iter()
        .find(|(name, _)| *name == name_or_text)
        .map_or(name_or_text, |(_, text)| text);
    let plan = Plan::parse("trial", text).unwrap_or_else(|e| panic!("{e}"));
    Stream::new(Arc::new(plan), meters)
}

const ONE: &[(MeterId, Option<u8>)] = &[(MeterId(0), None)];

/// `open`, `lost`, `> HEX` sent, `< HEX` or `'text` received, `tick`, each after its milliseconds.
fn play(stream: &mut Stream, script: &[(u64, &str)]) -> Vec<String> {
    let mut heard = Vec::new();
    for (ms, what) in script {
        let at = Stamp::from_nanos(ms * 1_000_000);
        let mut sink = |h: Heard<'_>| match h {
            Heard::Frame(readings) => {
                for r in readings {
                    heard.push(format!("{} #{} {}", r.meter.0, r.frame, say::line(r)));
                }
            }
            Heard::Bad { meter, why, .. } => {
                let meter = meter.map_or(String::from("?"), |m| m.0.to_string());
                heard.push(format!("{meter} bad: {why}"));
            }
        };
        if stream.deadline().is_some_and(|end| end <= at) {
            stream.expire(at, &mut sink);
        }
        match what.split_at(1) {
            ("'", text) => stream.bytes(at, text.as_bytes(), &mut sink),
            ("<", hex) => stream.bytes(at, &super::hex::parse(hex).expect("hex"), &mut sink),
            (">", hex) => stream.sent(at, &super::hex::parse(hex).expect("hex")),
            _ if *what == "open" => stream.opened(),
            _ if *what == "lost" => stream.broken(),
            _ => assert_eq!(*what, "tick"),
        }
    }
    heard
}

const HALF: &str = "half a frame at the start of the stream";

#[test]
fn a_recording_begins_with_a_line_and_an_opening_does_not() {
    let fresh = play(&mut stream("text-line", ONE), &[(0, "'12.40\n12.41\n")]);
    assert_eq!(fresh, ["0 #1 main 12.40 ohm", "0 #2 main 12.41 ohm"]);
    let opened = play(
        &mut stream("text-line", ONE),
        &[
            (0, "open"),
            (1, "'2.40\n12.41\n"),
            (2, "lost"),
            (3, "'9\n5\n"),
        ],
    );
    let half = format!("0 bad: {HALF}");
    assert_eq!(
        opened,
        [
            half.as_str(),
            "0 #1 main 12.41 ohm",
            &half,
            "0 #2 main 5 ohm"
        ]
    );
}

#[test]
fn the_answer_to_the_first_question_is_whole() {
    let heard = play(
        &mut stream("scpi-poll", ONE),
        &[(0, "open"), (1, "> 52 45 41 44 3F 0A"), (2, "'+1.2E+01\n")],
    );
    assert_eq!(heard, ["0 #1 main 12 ohm"]);
}

#[test]
fn an_answer_cut_short_is_never_joined_to_the_next() {
    let heard = play(
        &mut stream("scpi-poll", ONE),
        &[
            (0, "> 52 45 41 44 3F 0A"),
            (1, "'12"),
            (2000, "> 52 45 41 44 3F 0A"),
            (2001, "'3.4\n"),
            (2250, "> 52 45 41 44 3F 0A"),
            (2251, "'12.5\n"),
        ],
    );
    assert_eq!(
        heard,
        [
            "0 bad: the end of the frame is missing",
            "0 #1 main 12.5 ohm"
        ]
    );
}

#[test]
fn a_message_that_asks_nothing_makes_no_half_line_whole() {
    let text = r#"
        frame.delimited = { ends = ["\n"], max = 32 }
        send = [{ name = "on", bytes.text = "ON\n", when = "start" }, { name = "alive", bytes.text = "A\n", when.keep_alive = { every_ms = 1000 } }]
        reading = [{ quantity = "main", value.number = {} }]
    "#;
    let heard = play(
        &mut stream(text, ONE),
        &[
            (0, "open"),
            (1, "> 4F 4E 0A"),
            (2, "'2.4\n1"),
            (3, "> 41 0A"),
            (4, "'2.4\n"),
        ],
    );
    assert_eq!(heard, [&format!("0 bad: {HALF}"), "0 #1 main 12.4 ohm"]);
}

#[test]
fn any_recorded_question_is_accepted_in_a_replay() {
    let heard = play(
        &mut stream("scpi-poll", ONE),
        &[(0, "> 46 45 54 43 3F 0A"), (2, "'+1.2E+01\n")],
    );
    assert_eq!(heard, ["0 #1 main 12 ohm"]);
    // A rising transaction and another register, as a foreign program asks.
    let heard = play(
        &mut stream("modbus-tcp-float", ONE),
        &[
            (0, "> 00 05 00 00 00 06 01 04 00 10 00 02"),
            (2, "< 00 05 00 00 00 07 01 04 04 41 45 70 A4"),
        ],
    );
    assert_eq!(heard, ["0 #1 main 12.3400 ohm"]);
}

#[test]
fn answers_alone_are_read_where_only_one_question_is_asked() {
    let answer = "< 00 2A 00 00 00 07 01 03 04 41 45 70 A4";
    let heard = play(&mut stream("modbus-tcp-float", ONE), &[(0, answer)]);
    assert_eq!(heard, ["0 #1 main 12.3400 ohm"]);
    // On an open port it was asked by somebody else.
    let live = [(0, "open"), (1, answer)];
    let heard = play(&mut stream("modbus-tcp-float", ONE), &live);
    assert_eq!(heard, ["0 bad: an answer that nobody asked for"]);
    let live = [
        (0, "open"),
        (1, "> 01 01 00 00 00 06 01 03 00 00 00 02"),
        (2, answer),
        (3, "< 01 01 00 00 00 07 01 03 04 41 45 70 A4"),
        (4, "< 01 01 00 00 00 07 01 03 04 41 45 70 A4"),
    ];
    let mut tcp = stream("modbus-tcp-float", ONE);
    let asked = tcp.plan().requests(&[None]);
    assert_eq!(super::hex::show(&asked[0].data), &live[1].1[2..]);
    let none = "0 bad: an answer that nobody asked for";
    assert_eq!(play(&mut tcp, &live), [none, "0 #1 main 12.3400 ohm", none]);
}

#[test]
fn two_units_on_a_bus_are_told_apart() {
    let two = [(MeterId(4), Some(1)), (MeterId(5), Some(7))];
    let mut bus = stream("modbus-rtu-float", &two);
    let requests = bus.plan().requests(&[Some(1), Some(7)]);
    let hex: Vec<String> = requests
        .iter()
        .map(|r| format!("> {}", super::hex::show(&r.data)))
        .collect();
    assert_eq!(
        hex,
        ["> 01 03 00 00 00 02 C4 0B", "> 07 03 00 00 00 02 C4 6D"]
    );
    let heard = play(
        &mut bus,
        &[
            (0, "open"),
            (1, &hex[0]),
            (9, "< 01 03 04 41 45"),
            (10, "< 70 A4 DB A1"),
            (20, &hex[1]),
            // The first meter's answer again, while the second was asked.
            (25, "< 01 03 04 41 45 70 A4 DB A1"),
            (30, "< 07 03 04 3F 00 00 00 90 27"),
            (40, &hex[0]),
            // Half an answer, then the next question.
            (45, "< 01 03 04 41"),
            (140, &hex[1]),
            (141, "tick"),
        ],
    );
    assert_eq!(
        heard,
        [
            "4 #1 main 12.3400 ohm",
            "5 bad: bytes that belong to no frame",
            "5 #2 main 0.5000 ohm",
            "4 bad: the end of the frame is missing",
        ]
    );
}

const TWO_QUESTIONS: &str = r#"
    frame.delimited = { ends = ["\n"], max = 32 }
    send = [
      { name = "ohms", bytes.text = "R?\n", when.poll = { every_ms = 200, timeout_ms = 500 } },
      { name = "volts", bytes.text = "U?\n", when.poll = { every_ms = 200, timeout_ms = 500 } },
      { name = "beep", bytes.text = "B\n", when = "start" },
    ]
    reading = [
      { answer_to = "ohms", quantity = "main", value.number = {} },
      { answer_to = "volts", quantity = "test_voltage", unit = "volt", value.number = {} },
    ]
"#;

#[test]
fn the_same_bytes_are_another_frame_and_may_answer_another_question() {
    let heard = play(
        &mut stream(TWO_QUESTIONS, ONE),
        &[
            (0, "> 52 3F 0A"),
            (1, "'12\n"),
            (2, "> 52 3F 0A"),
            (3, "'12\n"),
            (4, "> 55 3F 0A"),
            (5, "'12\n"),
            (6, "> 55 3F 0A"),
            (7, "'?\n"),
            (8, "> 55 3F 0A"),
            (9, "'12\n"),
        ],
    );
    assert_eq!(
        heard,
        [
            "0 #1 main 12 ohm",
            "0 #2 main 12 ohm",
            "0 #3 test_voltage 12 volt",
            "0 bad: expected a number, found something else",
            "0 #4 test_voltage 12 volt",
        ]
    );
}

#[test]
fn an_answer_is_read_as_what_was_asked() {
    let heard = play(
        &mut stream(TWO_QUESTIONS, ONE),
        &[
            (0, "> 52 3F 0A"),
            (1, "'12\n"),
            (2, "> 55 3F 0A"),
            (3, "'500\n"),
            (4, "> 42 0A"),
            (5, "'1\n"),
        ],
    );
    assert_eq!(
        heard,
        [
            "0 #1 main 12 ohm",
            "0 #2 test_voltage 500 volt",
            "0 bad: an answer to no message that the description reads",
        ]
    );
}

#[test]
fn a_frame_ends_by_silence_with_the_stamp_of_its_last_byte() {
    let text = r#"
        frame.silence = { gap_ms = 20, max = 8 }
        reading = [{ quantity = "main", value.number = {} }]
    "#;
    let mut stream = stream(text, ONE);
    let heard = play(&mut stream, &[(0, "'12"), (10, "'.5"), (29, "tick")]);
    assert!(heard.is_empty(), "{heard:?}");
    assert_eq!(stream.deadline(), Some(Stamp::from_nanos(30_000_000)));
    assert_eq!(stream.last_byte(), Stamp::from_nanos(10_000_000));
    let heard = play(
        &mut stream,
        &[(30, "tick"), (40, "'7"), (80, "'8"), (100, "tick")],
    );
    assert_eq!(
        heard,
        ["0 #1 main 12.5 ohm", "0 #2 main 7 ohm", "0 #3 main 8 ohm"]
    );
}

#[test]
fn several_meters_without_units_are_never_guessed() {
    let two = [(MeterId(0), None), (MeterId(1), None)];
    let heard = play(&mut stream("text-line", &two), &[(0, "'12\n")]);
    assert_eq!(
        heard,
        ["? bad: several meters share this port, but its frames name no unit"]
    );
}

/// Descriptions of streams, whose bytes may be cut anywhere; a Bluetooth meter's
/// chunks are whole, and `gatt_tests` has its garbage.
fn streamed() -> impl Iterator<Item = (&'static str, &'static str)> {
    let all = shipped().iter().copied();
    all.filter(|(_, text)| !text.contains("frame.gatt"))
}

#[test]
fn garbage_is_counted_for_every_description_and_never_read() {
    for (name, text) in streamed() {
        let mut stream = stream(text, &[(MeterId(0), Some(1))]);
        stream.opened();
        let (mut bad, mut bytes, mut good) = (0, 0, 0);
        // A fixed recurrence: 200 kB that hold no frame but by chance of one in thousands.
        let mut seed: u32 = 7;
        for chunk in 0..200_u64 {
            let garbage: Vec<u8> = (0..1000)
                .map(|_| {
                    seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    (seed >> 24) as u8 | 0x80
                })
                .collect();
            stream.bytes(Stamp::from_nanos(chunk), &garbage, &mut |h| match h {
                Heard::Bad { bytes: b, .. } => {
                    bad += 1;
                    bytes += b.len();
                    assert!(b.len() <= 260, "{name}: at most a frame");
                }
                Heard::Frame(_) => good += 1,
            });
        }
        assert_eq!(good, 0, "{name}");
        assert!(
            bad > 100 && bytes > 190_000,
            "{name}: {bad} of {bytes} bytes"
        );
    }
}

mod every_split {
    use proptest::prelude::*;

    use super::*;

    /// What a description hears of these chunks.
    fn heard(text: &str, chunks: &[&[u8]], opened: bool) -> Vec<String> {
        let mut stream = stream(text, &[(MeterId(0), Some(1))]);
        if opened {
            stream.opened();
        }
        let mut heard = Vec::new();
        for chunk in chunks {
            stream.bytes(Stamp::ZERO, chunk, &mut |h| match h {
                Heard::Frame(readings) => heard.extend(readings.iter().map(say::line)),
                Heard::Bad { why, bytes, .. } => heard.push(format!("bad {why} {bytes:?}")),
            });
        }
        heard
    }

    proptest! {
        #[test]
        fn gives_the_same_for_every_description(
            which in any::<prop::sample::Index>(),
            parts in proptest::collection::vec((any::<prop::sample::Index>(), any::<bool>(), proptest::collection::vec(any::<u8>(), 0..6)), 0..8),
            splits in proptest::collection::vec(any::<prop::sample::Index>(), 0..5),
            opened in any::<bool>(),
        ) {
            let all: Vec<_> = streamed().collect();
            let (name, text) = *which.get(&all);
            let examples = super::super::examples(name, text).expect("examples");
            let mut bytes = Vec::new();
            for (example, used, garbage) in &parts {
                if *used { bytes.extend_from_slice(&example.get(&examples).bytes); }
                bytes.extend_from_slice(garbage);
            }
            let mut splits: Vec<usize> = splits.iter().map(|s| s.index(bytes.len() + 1)).collect();
            splits.extend([0, bytes.len()]);
            splits.sort_unstable();
            let chunks: Vec<&[u8]> = splits.windows(2).map(|w| &bytes[w[0]..w[1]]).collect();
            let whole = heard(text, &[&bytes], opened);
            prop_assert_eq!(&heard(text, &chunks, opened), &whole, "{}", name);
            let single: Vec<&[u8]> = bytes.chunks(1).collect();
            prop_assert_eq!(heard(text, &single, opened), whole, "{}", name);
        }
    }
}
