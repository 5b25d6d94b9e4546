//! What is written reads back, whole and torn, by our reader and by another.

use super::pcapng::{Fault, Pcapng};
use super::write::Encoder;
use crate::input::*;
use crate::limits::*;
use crate::meter::*;
use crate::quantity::*;
use crate::stamp::{Stamp, Wall};
use crate::text::Text;
use bytes::Bytes;
use proptest::prelude::*;

pub(crate) const WALL: Wall = Wall(1_764_074_645_123_456_789);

pub(crate) fn text(words: &str) -> Text {
    Text::new(words).expect("plain words")
}

pub(crate) fn begin(capture: &str) -> Begin {
    let port = |address| Port {
        address,
        protocol: text("text-line"),
    };
    let mut meter = Meter::plain(text("ohms-1"), PortId(0));
    meter.over_range_above = Some(Ohms(40e6 + 0.1));
    meter.accuracy.push(Accuracy {
        up_to: Some("200.0".parse().expect("a decimal")),
        unit: Unit::Ohm,
        percent: 0.1 + 0.2,
        counts: 3.0,
    });
    Begin {
        schema: SCHEMA,
        engine: 1,
        version: text("0.1.0"),
        wall: WALL,
        continues: false,
        next_seq: 1,
        chain: text(&"0".repeat(32)),
        capture: text(capture),
        before: Some(Finished {
            capture: text("a.pcapng"),
            sha256: text("00ff"),
        }),
        log_id: text("a log"),
        repaired: vec![text("something")],
        unfinished: vec![String::from("1,\"quoted \"\"cell\"\"\nwith a break\",")],
        proved: Vec::new(),
        settings: Settings {
            ports: vec![
                port(Address::Serial {
                    path: text("/dev/ttyS1"),
                    line: Line::default(),
                }),
                port(Address::Tcp {
                    address: text("127.0.0.1:4001"),
                }),
            ],
            meters: vec![meter],
            descriptions: [(text("text-line"), String::from("frame = 1\n"))].into(),
            require_calibrated: true,
        },
    }
}

pub(crate) fn every_kind() -> Vec<What> {
    let port = PortId(1);
    let why = || Text::clean("the cable, \"left\" pond");
    let mut other = begin("x.pcapng").settings;
    other.ports.remove(0);
    vec![
        What::Begin(Box::new(begin("x.pcapng"))),
        What::Opened { port },
        What::Bytes {
            port,
            data: Bytes::from_static(b"12.3 OHM\r\n"),
        },
        What::Sent {
            port,
            data: Bytes::from_static(b"READ?\n"),
        },
        What::Bytes {
            port: PortId(0),
            data: Bytes::new(),
        },
        What::Lost {
            port,
            count: u64::MAX,
            why: why(),
        },
        What::Closed { port, why: why() },
        What::Tick,
        What::Clock {
            wall: WALL,
            moved: -2_000_000_001,
        },
        What::Command(Box::new(Command {
            id: u64::MAX,
            by: Some(text("a tester")),
            act: Act::Redo {
                job: text("J1"),
                point: Point::new(Test::Winding, "main"),
            },
        })),
        What::Command(Box::new(Command {
            id: 1,
            by: None,
            act: Act::Enter(Box::new(Entered {
                job: None,
                point: None,
                meter: text("ohms-1"),
                shown: Some(Shown::plain("12.30".parse().expect("a decimal"), Unit::Ohm)),
                full_scale: None,
                test_voltage: Some(Volts(500.000_000_1)),
                elapsed_s: Some("60".parse().expect("a decimal")),
            })),
        })),
        What::Settings(Box::new(other)),
        What::Bytes {
            port: PortId(0),
            data: Bytes::from_static(b"after"),
        },
        What::Bytes {
            port: PortId(7),
            data: Bytes::from_static(b"a port nobody named"),
        },
        What::CaptureFailed { why: why() },
        What::Expired {
            capture: text("old.pcapng"),
            why: why(),
        },
        What::End { why: why() },
    ]
}

pub(crate) fn encode(inputs: &[Input]) -> Vec<u8> {
    let mut encoder = Encoder::new(WALL);
    for input in inputs {
        encoder.push(input);
    }
    encoder.take()
}

pub(crate) fn stamped(what: Vec<What>) -> Vec<Input> {
    let at = |n: usize| Stamp::from_nanos(n as u64 * 1_000_000_007);
    what.into_iter()
        .enumerate()
        .map(|(n, what)| Input { at: at(n), what })
        .collect()
}

fn decode(bytes: &[u8]) -> Result<(Vec<Input>, Option<u64>), Fault> {
    let mut reader = Pcapng::new(bytes);
    let inputs = reader.by_ref().collect::<Result<_, _>>()?;
    Ok((inputs, reader.torn()))
}

#[test]
fn every_kind_of_input_reads_back() {
    let inputs = stamped(every_kind());
    let (read, torn) = decode(&encode(&inputs)).expect("whole");
    assert_eq!(read, inputs);
    assert_eq!(torn, None);
}

#[test]
fn a_capture_cut_at_any_byte_reads_up_to_its_last_whole_block() {
    let inputs = stamped(every_kind());
    let bytes = encode(&inputs);
    let mut whole = 0;
    for cut in 0..bytes.len() {
        let (read, torn) = decode(&bytes[..cut]).expect("torn, not damaged");
        assert_eq!(read, inputs[..read.len()]);
        assert!(read.len() >= whole, "an input was lost at {cut}");
        whole = read.len();
        let end = torn.unwrap_or(cut as u64) as usize;
        assert_eq!(
            decode(&bytes[..end]).expect("whole").1,
            None,
            "cut at {cut}"
        );
        // The machine died: the file has its length, and zeros in place of its end.
        let mut zeros = bytes.clone();
        zeros[cut..].fill(0);
        let (padded, torn) = decode(&zeros).expect("torn, not damaged");
        assert!(padded.len() >= read.len(), "at {cut}");
        assert_eq!(padded[..read.len()], read);
        // Zeros may happen to be what stood there: then nothing was lost.
        assert!(torn.is_some() || zeros == bytes, "at {cut}");
    }
}

#[test]
fn a_changed_byte_in_the_middle_is_named_and_not_passed_over() {
    let inputs = stamped(every_kind());
    let bytes = encode(&inputs);
    let mut changed = bytes.clone();
    changed[5] = 1;
    assert!(matches!(decode(&changed), Err(Fault::Block { at: 0, .. })));
    let json = bytes
        .windows(6)
        .position(|w| w == b"\"tick\"")
        .expect("there");
    changed = bytes;
    changed[json + 1] = b'k';
    let said = decode(&changed).expect_err("not an input").to_string();
    assert!(said.contains("input 7"), "{said}");
}

#[test]
fn another_reader_sees_the_same_packets() {
    use pcap_parser::traits::{PcapNGPacketBlock as _, PcapReaderIterator as _};
    use pcap_parser::{Block, PcapBlockOwned, PcapError, PcapNGReader};
    let inputs = stamped(every_kind());
    let bytes = encode(&inputs);
    let mut reader = PcapNGReader::new(1 << 16, &bytes[..]).expect("a section");
    let mut links = Vec::new();
    let mut seen = Vec::new();
    loop {
        match reader.next() {
            Ok((used, block)) => {
                match block {
                    PcapBlockOwned::NG(Block::InterfaceDescription(i)) => links.push(i.linktype.0),
                    PcapBlockOwned::NG(Block::EnhancedPacket(p)) => {
                        let time = u64::from(p.ts_high) << 32 | u64::from(p.ts_low);
                        let flags = p.options.iter().find(|o| o.code.0 == 2).map(|o| o.value[0]);
                        seen.push((
                            links[p.if_id as usize],
                            time,
                            flags,
                            p.packet_data().to_vec(),
                        ));
                    }
                    _ => {}
                }
                reader.consume(used);
            }
            Err(PcapError::Eof) => break,
            Err(PcapError::Incomplete(_)) => reader.refill().expect("more"),
            Err(e) => panic!("{e}"),
        }
    }
    assert_eq!(seen.len(), inputs.len());
    for (input, (link, time, flags, data)) in inputs.iter().zip(seen) {
        assert_eq!(time, WALL.0 as u64 + input.at.nanos());
        match &input.what {
            What::Bytes { data: d, .. } => {
                assert_eq!((link, flags, &data[..]), (147, Some(1), &d[..]))
            }
            What::Sent { data: d, .. } => {
                assert_eq!((link, flags, &data[..]), (147, Some(2), &d[..]))
            }
            _ => assert_eq!((link, flags), (148, None)),
        }
    }
}

proptest! {
    #[test]
    fn any_bytes_in_any_batches_read_back(chunks in prop::collection::vec((0u16..4, any::<bool>(), prop::collection::vec(any::<u8>(), 0..40), 0u64..1 << 40), 0..30)) {
        let mut what = vec![Input { at: Stamp::ZERO, what: What::Begin(Box::new(begin("x.pcapng"))) }];
        let mut at = 0;
        for (port, sent, data, step) in chunks {
            at += step;
            let (port, data) = (PortId(port), Bytes::from(data));
            let kind = if sent { What::Sent { port, data } } else { What::Bytes { port, data } };
            what.push(Input { at: Stamp::from_nanos(at), what: kind });
        }
        let bytes = encode(&what);
        let (read, torn) = decode(&bytes).expect("whole");
        prop_assert_eq!(read, what);
        prop_assert_eq!(torn, None);
    }

    #[test]
    fn garbage_is_refused_and_never_panics(bytes in prop::collection::vec(any::<u8>(), 0..400), at in 0usize..2000) {
        drop(decode(&bytes));
        let mut capture = encode(&stamped(every_kind()));
        let from = at.min(capture.len());
        let to = (from + bytes.len()).min(capture.len());
        capture[from..to].copy_from_slice(&bytes[..to - from]);
        drop(decode(&capture));
    }
}
