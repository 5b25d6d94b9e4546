//! Every framer: the same at every split, bounded, and back in step after garbage.

use proptest::prelude::*;

use super::*;

/// Writes down what is cut; a frame whose last byte is `!` does not stand.
#[derive(Default)]
struct Seen(Vec<String>);

impl Sink for Seen {
    fn stands(&mut self, frame: &[u8]) -> Result<(), &'static str> {
        if frame.last() == Some(&b'!') {
            return Err("refused");
        }
        Ok(())
    }

    fn cut(&mut self, cut: Cut<'_>) {
        self.0.push(match cut {
            Cut::Frame(bytes) => String::from_utf8_lossy(bytes).into_owned(),
            Cut::Bad(why, bytes) => format!("bad {}: {why}", String::from_utf8_lossy(bytes)),
        });
    }
}

/// Any framer, so that every property holds for all of them.
#[derive(Clone, Debug)]
enum Any {
    Delimited(Delimited),
    Fixed(Window<Fixed>),
    Length(Window<Length>),
    Tagged(Window<Tagged>),
    Rtu(Window<Rtu>),
    Tcp(Window<Tcp>),
    Silence(Silence),
}

impl Any {
    fn push(&mut self, bytes: &[u8], seen: &mut Seen) {
        match self {
            Self::Delimited(f) => f.push(bytes, seen),
            Self::Fixed(f) => f.push(bytes, seen),
            Self::Length(f) => f.push(bytes, seen),
            Self::Tagged(f) => f.push(bytes, seen),
            Self::Rtu(f) => f.push(bytes, seen),
            Self::Tcp(f) => f.push(bytes, seen),
            Self::Silence(f) => f.push(bytes, seen),
        }
    }

    fn restart(&mut self) {
        match self {
            Self::Delimited(f) => f.restart(),
            Self::Fixed(f) => f.restart(),
            Self::Length(f) => f.restart(),
            Self::Tagged(f) => f.restart(),
            Self::Rtu(f) => f.restart(),
            Self::Tcp(f) => f.restart(),
            Self::Silence(f) => f.restart(),
        }
    }

    fn end(&mut self, seen: &mut Seen) {
        match self {
            Self::Delimited(f) => f.finish(seen),
            Self::Fixed(f) => f.finish(seen),
            Self::Length(f) => f.finish(seen),
            Self::Tagged(f) => f.finish(seen),
            Self::Rtu(f) => f.finish(seen),
            Self::Tcp(f) => f.finish(seen),
            Self::Silence(f) => f.end(seen),
        }
    }
}

fn lines(max: usize) -> Delimited {
    Delimited::new(&[vec![b'\r'], vec![b'\n']], max).expect("two ends")
}

fn fixed() -> Window<Fixed> {
    Window::new(Fixed {
        sync: b"AB".to_vec(),
        bytes: 5,
        tail: Vec::new(),
    })
}

fn length(counts: Counts, check: usize) -> Window<Length> {
    Window::new(Length {
        sync: b"A".to_vec(),
        at: 1,
        width: 1,
        little: false,
        counts,
        check,
        max: 9,
    })
}

fn expect() -> Expect {
    Expect {
        transaction: 0x4142,
        unit: 1,
        function: 3,
        register: 0,
        count: 2,
    }
}

fn any_framer() -> impl Strategy<Value = Any> {
    let rtu = || {
        let mut rtu = Rtu::default();
        rtu.asked(Some(expect()), &expect().rtu());
        rtu
    };
    let mut listening = Rtu::default();
    (listening.expect, listening.listening) = (vec![expect()], true);
    let tcp = Tcp {
        expect: vec![expect()],
        listening: true,
    };
    prop_oneof![
        Just(Any::Delimited(lines(7))),
        Just(Any::Delimited(
            Delimited::new(&[b"\r\n".to_vec()], 7).expect("a pair")
        )),
        Just(Any::Fixed(fixed())),
        Just(Any::Length(length(Counts::Body, 1))),
        Just(Any::Length(length(Counts::All, 0))),
        Just(Any::Tagged(Window::new(Tagged {
            first: 4,
            last: 6,
            low: false
        }))),
        Just(Any::Rtu(Window::new(rtu()))),
        Just(Any::Rtu(Window::new(listening))),
        Just(Any::Tcp(Window::new(tcp))),
        Just(Any::Silence(Silence::new(7))),
    ]
}

/// Bytes that often look like frames.
fn bytes() -> impl Strategy<Value = Vec<u8>> {
    let part = prop_oneof![
        Just(b"AB12!".to_vec()),
        Just(b"AB123".to_vec()),
        Just(b"A\x02xyz".to_vec()),
        Just(b"A\x05xyz".to_vec()),
        Just(b"ABA".to_vec()),
        Just(b"\x41\x52\x63".to_vec()),
        Just(b"\r\n".to_vec()),
        Just(b"\n".to_vec()),
        Just(b"\r".to_vec()),
        Just(b"1.5 ".to_vec()),
        Just(vec![1, 3, 4, 9, 9, 9, 9, 8, 8]),
        Just(vec![1, 0x83, 2, 8, 8]),
        Just(vec![1, 3, 0, 0, 0, 2]),
        Just(vec![0x41, 0x42, 0, 0, 0, 7, 1, 3, 4, 9, 9, 9, 9]),
        Just(vec![0x41, 0x43, 0, 0, 0, 3, 1, 0x83, 2]),
        any::<u8>().prop_map(|b| vec![b]),
    ];
    proptest::collection::vec(part, 0..40).prop_map(|parts| parts.concat())
}

fn cut(framer: &mut Any, chunks: &[&[u8]]) -> Vec<String> {
    let mut seen = Seen::default();
    for chunk in chunks {
        framer.push(chunk, &mut seen);
    }
    seen.0
}

fn check(framer: Any, bytes: &[u8], expected: &[&str]) {
    assert_eq!(cut(&mut framer.clone(), &[bytes]), expected);
    let single: Vec<&[u8]> = bytes.chunks(1).collect();
    assert_eq!(cut(&mut framer.clone(), &single), expected, "byte by byte");
}

#[test]
fn lines_end_three_ways_and_blank_ones_are_nothing() {
    check(
        Any::Delimited(lines(8)),
        b"1\r\n2\n\n \r3\r\n4",
        &["1", "2", "3"],
    );
}

#[test]
fn half_a_line_after_an_opening_is_refused_with_its_reason() {
    let mut framer = Any::Delimited(lines(8));
    framer.restart();
    let half = format!("bad 3.4: {HALF}");
    check(framer.clone(), b"3.4\r\n12.3\n", &[&half, "12.3"]);
    let mut asked = lines(8);
    asked.restart();
    asked.asked(&mut Seen::default());
    check(Any::Delimited(asked.clone()), b"12.3\n", &["12.3"]);
    asked.restart();
    asked.push(b"9", &mut Seen::default());
    asked.asked(&mut Seen::default());
    let half = format!("bad 912.3: {HALF}");
    check(Any::Delimited(asked), b"12.3\n", &[&half]);
}

#[test]
fn the_bound_is_tested_before_the_end_and_the_rest_is_discarded() {
    check(
        Any::Delimited(lines(4)),
        b"123456789\n5\n1234\n",
        &[
            &format!("bad 1234: {LONG}"),
            &format!("bad 5678: {LONG}"),
            "5",
            "1234",
        ],
    );
}

#[test]
fn an_end_of_two_bytes_is_found_whole() {
    let framer = Delimited::new(&[b"\r\n".to_vec()], 8).expect("a pair");
    check(Any::Delimited(framer), b"1\n2\r\n3\r\n", &["1\n2", "3"]);
}

#[test]
fn a_false_sync_costs_no_frame_behind_it() {
    // What the first AB would span does not stand; a true frame begins within it.
    check(
        Any::Fixed(fixed()),
        b"ABAB!34",
        &["bad AB: refused", "AB!34"],
    );
    check(
        Any::Fixed(fixed()),
        b"xyAB123ABABABz",
        &["bad xy: bytes that belong to no frame", "AB123", "ABABA"],
    );
}

#[test]
fn a_length_counts_the_body_the_check_or_all() {
    check(
        Any::Length(length(Counts::Body, 1)),
        b"A\x02xyz",
        &["A\x02xyz"],
    );
    check(
        Any::Length(length(Counts::BodyAndCheck, 1)),
        b"A\x03xyz",
        &["A\x03xyz"],
    );
    check(
        Any::Length(length(Counts::All, 1)),
        b"A\x05xyz",
        &["A\x05xyz"],
    );
    check(
        Any::Length(length(Counts::Body, 1)),
        b"A\xffA\x01xz",
        &[
            "bad A\u{fffd}: a length outside the bounds of a frame",
            "A\x01xz",
        ],
    );
}

#[test]
fn silence_ends_a_frame_and_a_first_one_may_be_half() {
    let mut framer = Silence::new(4);
    let mut seen = Seen::default();
    framer.restart();
    for burst in [&b"12"[..], b"34", b"123456", b"5"] {
        framer.push(burst, &mut seen);
        framer.end(&mut seen);
    }
    assert_eq!(
        seen.0,
        [
            &format!("bad 12: {HALF}"),
            "34",
            &format!("bad 1234: {LONG}"),
            "5"
        ]
    );
}

#[test]
fn an_echo_on_the_line_is_no_answer_and_an_answer_comes_once() {
    let mut rtu = Window::new(Rtu::default());
    rtu.rule
        .asked(Some(expect()), b"\x01\x03\x00\x00\x00\x02cc");
    let mut seen = Seen::default();
    rtu.push(b"\x01\x03\x00\x00\x00\x02cc\x01\x03\x04abcdcc", &mut seen);
    assert_eq!(seen.0, ["\x01\x03\x04abcdcc"]);
    rtu.push(b"\x01\x03\x04abcdcc", &mut seen);
    rtu.finish(&mut seen);
    assert_eq!(seen.0.len(), 2);
    assert!(seen.0[1].starts_with("bad "), "{:?}", seen.0);
}

proptest! {
    #[test]
    fn every_split_gives_the_same(
        framer in any_framer(),
        bytes in bytes(),
        splits in proptest::collection::vec(any::<prop::sample::Index>(), 0..6),
        opened in any::<bool>(),
    ) {
        let mut framer = framer;
        if opened { framer.restart(); }
        let whole = cut(&mut framer.clone(), &[&bytes]);
        let mut splits: Vec<usize> = splits.iter().map(|s| s.index(bytes.len() + 1)).collect();
        splits.extend([0, bytes.len()]);
        splits.sort_unstable();
        let chunks: Vec<&[u8]> = splits.windows(2).map(|w| &bytes[w[0]..w[1]]).collect();
        prop_assert_eq!(&cut(&mut framer.clone(), &chunks), &whole);
        let single: Vec<&[u8]> = bytes.chunks(1).collect();
        prop_assert_eq!(cut(&mut framer, &single), whole);
    }

    #[test]
    fn no_byte_is_lost_silently(framer in any_framer(), bytes in bytes()) {
        // Lines have ends that are no part of them, and echoes mean nothing.
        prop_assume!(!matches!(framer, Any::Delimited(_) | Any::Rtu(_) | Any::Silence(_)));
        struct Count(usize);
        impl Sink for Count {
            fn stands(&mut self, frame: &[u8]) -> Result<(), &'static str> { Seen::default().stands(frame) }
            fn cut(&mut self, cut: Cut<'_>) {
                self.0 += match cut { Cut::Frame(b) | Cut::Bad(_, b) => b.len() };
            }
        }
        let mut count = Count(0);
        match framer {
            Any::Fixed(mut f) => { f.push(&bytes, &mut count); f.finish(&mut count); }
            Any::Length(mut f) => { f.push(&bytes, &mut count); f.finish(&mut count); }
            Any::Tagged(mut f) => { f.push(&bytes, &mut count); f.finish(&mut count); }
            Any::Tcp(mut f) => { f.push(&bytes, &mut count); f.finish(&mut count); }
            Any::Delimited(_) | Any::Rtu(_) | Any::Silence(_) => {}
        }
        prop_assert_eq!(count.0, bytes.len());
    }

    #[test]
    fn frames_after_garbage_are_found(
        (framer, frame) in prop_oneof![
            Just((Any::Delimited(lines(7)), b"\n12.40\n".to_vec())),
            Just((Any::Fixed(fixed()), b"AB123".to_vec())),
            Just((Any::Length(length(Counts::Body, 1)), b"A\x02xyz".to_vec())),
        ],
        garbage in bytes(),
        opened in any::<bool>(),
    ) {
        let mut framer = framer;
        if opened { framer.restart(); }
        let name = String::from_utf8_lossy(&frame).trim().to_owned();
        // Garbage may swallow what it looks like it begins, never more than a frame's length.
        let stream = [garbage.as_slice(), &frame, &frame, &frame, &frame].concat();
        let mut seen = Seen::default();
        framer.push(&stream, &mut seen);
        framer.end(&mut seen);
        prop_assert!(seen.0.iter().filter(|s| **s == name).count() >= 2, "{:?}", seen.0);
    }
}
