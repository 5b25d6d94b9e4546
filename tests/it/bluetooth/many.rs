//! Sixteen meters that tell twenty times a second, one of them lost every second:
//! nothing that the bus delivered is missing from the capture, and nothing grows.
//!
//! A few seconds as a test; `STILLOHM_SOAK_S=600` is the long run, which also
//! prints memory, match rules and the time from the bus to the stamp.

use std::collections::BTreeMap;
use std::path::Path;

use stillohm::capture::{Pace, read};
use stillohm::input::What;
use stillohm::stamp::Stamp;

use super::*;

const METERS: [&str; 16] = [
    "C4:00:00:00:0B:01",
    "C4:00:00:00:0B:02",
    "C4:00:00:00:0B:03",
    "C4:00:00:00:0B:04",
    "C4:00:00:00:0B:05",
    "C4:00:00:00:0B:06",
    "C4:00:00:00:0B:07",
    "C4:00:00:00:0B:08",
    "C4:00:00:00:0B:09",
    "C4:00:00:00:0B:0A",
    "C4:00:00:00:0B:0B",
    "C4:00:00:00:0B:0C",
    "C4:00:00:00:0B:0D",
    "C4:00:00:00:0B:0E",
    "C4:00:00:00:0B:0F",
    "C4:00:00:00:0B:10",
];

/// Values that count are above this, each told once.
const FIRST: i32 = 1_000_000;

/// Memory in KiB, of a process.
pub(super) fn resident(pid: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).expect("it runs");
    let line = status
        .lines()
        .find(|l| l.starts_with("VmRSS:"))
        .expect("a line");
    let number = line.split_whitespace().nth(1).expect("a number");
    number.parse().expect("a number")
}

fn nanos(at: Stamp) -> i64 {
    (at.seconds() * 1e9) as i64
}

/// The notifications of a run: their values, each with its time of arrival.
fn captured(dir: &Path) -> BTreeMap<i32, i64> {
    let files = std::fs::read_dir(dir).expect("captures").flatten();
    // The run's further files are read on from its first, whose name is shortest.
    let first = files
        .map(|f| f.path())
        .min_by_key(|path| path.as_os_str().len());
    let (mut all, mut wall) = (BTreeMap::new(), 0);
    for input in read(&first.expect("a capture"), Pace::AtOnce).expect("a capture") {
        let input = input.expect("whole");
        match input.what {
            What::Begin(begin) => wall = begin.wall.0,
            What::Bytes { data, .. } if data.first() == Some(&0x1B) => {
                let value = data[3..].try_into().expect("four bytes");
                let value = i32::from_le_bytes(value);
                if value > FIRST {
                    let before = all.insert(value, wall + nanos(input.at));
                    assert_eq!(before, None, "once");
                }
            }
            _ => {}
        }
    }
    all
}

#[test]
#[expect(clippy::print_stdout, reason = "the figures of the long run")]
fn sixteen_meters_lose_nothing_that_the_bus_delivered() {
    let seconds = std::env::var("STILLOHM_SOAK_S").map_or(6, |n| n.parse().expect("a number"));
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    let meters: Vec<Meter> = METERS
        .iter()
        .map(|address| meter(address, "weir"))
        .collect();
    for meter in &meters {
        bluez.add(meter);
    }
    let folder = Folder::new(&[]);
    let mut args: Vec<String> = ["serve", "--no-web", "--data", "data"]
        .map(str::to_owned)
        .to_vec();
    for (at, address) in METERS.iter().enumerate() {
        args.push(format!("--meter=m{at}=gatt-described@ble:{address}"));
    }
    let words: Vec<&str> = args.iter().map(String::as_str).collect();
    let mut command = folder.command(&words);
    command.env("DBUS_SYSTEM_BUS_ADDRESS", bus.address());
    let daemon = Daemon::spawn(command);
    for meter in &meters {
        // Told with values that are counted by nobody.
        bluez.wait_told(meter, OHMS);
    }
    let clock = Clock::start();
    let began = clock.now();
    let mut told: BTreeMap<i32, i64> = BTreeMap::new();
    let mut figures = Vec::new();
    let mut next = FIRST;
    for round in 0..seconds * 20 {
        for meter in &meters {
            next += 1;
            let at = clock.wall().0;
            if bluez.tell(meter, OHMS, &ohms(next)) {
                told.insert(next, at);
            }
        }
        if round % 20 == 10 {
            bluez.lose(&meters[round / 20 % meters.len()], true);
        }
        if round % 200 == 199 {
            figures.push((resident(daemon.id()), bluez.match_rules()));
        }
        let due = began.plus(Duration::from_millis(50) * u32::try_from(round + 1).expect("few"));
        std::thread::sleep(due.since(clock.now()));
    }
    std::thread::sleep(Duration::from_millis(500));
    assert_eq!(daemon.stop(), Some(0));
    let got = captured(&folder.path("data/captures"));
    let missing: Vec<i32> = told
        .keys()
        .filter(|v| !got.contains_key(v))
        .copied()
        .collect();
    assert!(
        missing.is_empty(),
        "{} of {} are missing: {missing:?}",
        missing.len(),
        told.len()
    );
    let mut late: Vec<i64> = told.iter().map(|(value, at)| got[value] - at).collect();
    late.sort_unstable();
    let at = |part: usize| late[(late.len() - 1) * part / 100] as f64 / 1e6;
    println!(
        "{} notifications, none missing; bus to stamp: median {:.2} ms, p95 {:.2} ms, p99 {:.2} ms; KiB and match rules every 10 s: {figures:?}",
        told.len(),
        at(50),
        at(95),
        at(99)
    );
}
