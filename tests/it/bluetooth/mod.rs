//! A Bluetooth meter through the whole program: the real radio code against a
//! stand-in for the system's service on a bus of the test's own.
//!
//! Values and addresses are invented.

mod lid;
mod many;
mod named;

use std::time::Duration;

use stillohm::clock::Clock;

use crate::bluez::{Bluez, Bus, Meter, Value};
use crate::run::Folder;
use crate::serve::Daemon;

const OHMS: &str = "5a1c0001-8d2f-4f6e-9b3a-0c7d1e2f3a4b";
const SERVICE: &str = "5a1c0000-8d2f-4f6e-9b3a-0c7d1e2f3a4b";

/// A meter that tells ohms: sint32, thousandths.
fn meter(address: &'static str, name: &'static str) -> Meter {
    Meter {
        address,
        name,
        service: SERVICE,
        values: vec![Value {
            uuid: OHMS,
            flags: &["notify", "read"],
            format: Some([0x10, 0xFD, 0x2A, 0x27, 1, 0, 0]),
            value: ohms(3470),
        }],
    }
}

fn ohms(thousandths: i32) -> Vec<u8> {
    thousandths.to_le_bytes().to_vec()
}

/// Open clips: the format has no over-range, so a meter tells its most.
const POOL: &str = "C4:00:00:00:0A:01";

fn serve(bus: &Bus, folder: &Folder, port: &str) -> Daemon {
    serve_as("gatt-described", bus, folder, port)
}

fn serve_as(protocol: &str, bus: &Bus, folder: &Folder, port: &str) -> Daemon {
    let meter = format!("ohms-1={protocol}@ble:{port}");
    let mut command = folder.command(&["serve", "--no-web", "--meter", &meter, "--data", "data"]);
    command.env("DBUS_SYSTEM_BUS_ADDRESS", bus.address());
    Daemon::spawn(command)
}

/// Tells a value twenty times a second for a while.
fn hold(bluez: &Bluez, meter: &Meter, value: &[u8], seconds: f64) {
    let lasts = within(seconds);
    while lasts() {
        bluez.tell(meter, OHMS, value);
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// Whether so many seconds have not passed yet.
fn within(seconds: f64) -> impl Fn() -> bool {
    let clock = Clock::start();
    let began = clock.now();
    move || clock.now().since(began).as_secs_f64() < seconds
}

fn log(folder: &Folder) -> String {
    let dir = std::fs::read_dir(folder.path("data/log")).expect("a log");
    let first = dir.flatten().find(|f| f.path().is_file()).expect("a file");
    std::fs::read_to_string(first.path()).expect("a log")
}

/// What the rows of an event show, or say if they show nothing.
fn rows(folder: &Folder, event: &str) -> Vec<String> {
    let log = log(folder);
    let mut reader = csv::Reader::from_reader(log.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let at = |name: &str| header.iter().position(|h| h == name).expect("a column");
    let (kind, shown, reason) = (at("event"), at("shown"), at("reason"));
    let rows = reader.records().map(|r| r.expect("a row"));
    rows.filter(|row| &row[kind] == event)
        .map(|row| match &row[shown] {
            "" => row[reason].to_owned(),
            shown => shown.to_owned(),
        })
        .collect()
}

#[track_caller]
fn wait_for(what: &str, seconds: f64, mut done: impl FnMut() -> bool) {
    let lasts = within(seconds);
    while !done() {
        assert!(lasts(), "{what} within {seconds} s");
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
fn a_meter_is_found_listened_to_lost_and_found_again() {
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    let folder = Folder::new(&[]);
    let own = meter(POOL, "weir-1");
    bluez.add(&own);
    let daemon = serve(&bus, &folder, POOL);
    bluez.wait_told(&own, OHMS);
    hold(&bluez, &own, &ohms(3470), 4.0);
    wait_for("a row", 5.0, || rows(&folder, "value") == ["3.470 Ω"]);

    bluez.lose(&own, false);
    std::thread::sleep(Duration::from_secs(3));
    let soon = within(5.0);
    bluez.returns(&own);
    bluez.wait_told(&own, OHMS);
    assert!(soon(), "found again within 5 s of its return");
    hold(&bluez, &own, &ohms(5200), 5.0);
    wait_for("a second row", 5.0, || {
        rows(&folder, "value") == ["3.470 Ω", "5.200 Ω"]
    });
    let gaps = rows(&folder, "gap");
    assert!(
        gaps.iter()
            .any(|gap| gap.contains("the connection was lost")),
        "{gaps:?}"
    );
    assert_eq!(daemon.stop(), Some(0));
    crate::serve::replays_to_its_log(&folder, 1);
}

/// What a meter's port says is wrong, on the page's view.
fn serve_with_page(bus: &Bus, folder: &Folder, port: &str) -> Daemon {
    page_as("gatt-described", bus, folder, port)
}

fn page_as(protocol: &str, bus: &Bus, folder: &Folder, port: &str) -> Daemon {
    let meter = format!("ohms-1={protocol}@ble:{port}");
    let mut command = folder.command(&["serve", "--meter", &meter]);
    command.env("DBUS_SYSTEM_BUS_ADDRESS", bus.address());
    Daemon::spawn(command)
}

#[track_caller]
fn wait_trouble(daemon: &Daemon, words: &str) {
    let mut last = String::new();
    let lasts = within(10.0);
    while lasts() {
        last = trouble(daemon);
        if last.contains(words) {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("{words:?} within 10 s; the last: {last:?}");
}

fn trouble(daemon: &Daemon) -> String {
    let meter = state(daemon);
    match meter["connected"] == true {
        true => String::from("connected"),
        false => meter["trouble"].as_str().unwrap_or_default().to_owned(),
    }
}

/// What the page knows of the meter.
fn state(daemon: &Daemon) -> serde_json::Value {
    use std::io::{Read as _, Write as _};
    let at = daemon.ready.trim().trim_start_matches("ready http://");
    let mut stream = std::net::TcpStream::connect(at).expect("it listens");
    let request = format!("GET /api/state HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).expect("is read");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("answers");
    let body = answer.split("\r\n\r\n").nth(1).expect("a body");
    let mut state: serde_json::Value = serde_json::from_str(body).expect("JSON");
    state["meters"][0].take()
}

const FREE: (&str, &str) = (
    "stillohm.toml",
    "data = \"data\"\n[web]\nlisten = \"127.0.0.1:0\"\n",
);

#[test]
fn what_is_wrong_is_said_plainly_and_heals_by_itself() {
    let bus = Bus::start();
    let folder = Folder::new(&[FREE]);
    let daemon = serve_with_page(&bus, &folder, POOL);
    wait_trouble(&daemon, "the Bluetooth service does not answer");
    let bluez = Bluez::start(&bus);
    wait_trouble(&daemon, "not seen");
    let own = meter(POOL, "weir-1");
    bluez.add(&own);
    wait_trouble(&daemon, "connected");
    bluez.wait_told(&own, OHMS);

    bluez.power(false);
    wait_trouble(&daemon, "switched off on this machine");
    assert_eq!(
        bluez.world.lock().unwrap().switched_on,
        0,
        "nobody switches it on unasked"
    );
    bluez.power(true);
    wait_trouble(&daemon, "connected");
    bluez.wait_told(&own, OHMS);

    bluez.stop();
    wait_trouble(&daemon, "the Bluetooth service does not answer");
    let bluez = Bluez::start(&bus);
    bluez.add(&own);
    wait_trouble(&daemon, "connected");
    bluez.wait_told(&own, OHMS);
    assert_eq!(daemon.stop(), Some(0));
    crate::serve::replays_to_its_log(&folder, 1);
}

#[test]
fn two_devices_with_one_name_are_told_apart_by_a_person() {
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    bluez.add(&meter(POOL, "weir"));
    bluez.add(&meter("C4:00:00:00:0A:02", "weir"));
    bluez.add(&meter("C4:00:00:00:0A:03", "<b>sluice</b>"));
    let folder = Folder::new(&[FREE]);
    let daemon = serve_with_page(&bus, &folder, "weir");
    wait_trouble(
        &daemon,
        "several devices are called weir (C4:00:00:00:0A:01, C4:00:00:00:0A:02)",
    );
    assert_eq!(bluez.world.lock().unwrap().connects, 0);
    assert_eq!(daemon.stop(), Some(0));
    // A name full of markup is a name.
    let folder = Folder::new(&[FREE]);
    let daemon = serve_with_page(&bus, &folder, "<b>sluice</b>");
    wait_trouble(&daemon, "connected");
    assert_eq!(daemon.stop(), Some(0));
}

#[test]
fn a_meter_that_does_not_describe_itself_is_not_guessed_at() {
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    let mut own = meter(POOL, "weir-1");
    own.values[0].format = None;
    bluez.add(&own);
    let folder = Folder::new(&[FREE]);
    let daemon = serve_with_page(&bus, &folder, POOL);
    wait_trouble(
        &daemon,
        "it has no characteristic that tells its value and describes it",
    );
    assert_eq!(daemon.stop(), Some(0));
}

#[test]
fn scan_lists_who_is_near_by_and_switches_nothing_on() {
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    bluez.add(&meter(POOL, "weir-1"));
    let folder = Folder::new(&[]);
    let scan = |args: &[&str]| {
        let mut command = folder.command(&[&["scan", "--seconds", "1"], args].concat());
        command.env("DBUS_SYSTEM_BUS_ADDRESS", bus.address());
        command.output().expect("it runs")
    };
    let found = scan(&["--json"]);
    let line: serde_json::Value = serde_json::from_slice(&found.stdout).expect("one JSON line");
    let expected = serde_json::json!({
        "address": POOL, "name": "weir-1", "rssi_dbm": -60, "services": [SERVICE],
        "fits": ["gatt-described"],
    });
    assert_eq!(line, expected);
    bluez.power(false);
    let off = scan(&[]);
    assert_eq!(off.status.code(), Some(3));
    let said = String::from_utf8_lossy(&off.stderr).into_owned();
    assert!(said.contains("switched off"), "{said}");
    assert_eq!(bluez.world.lock().unwrap().switched_on, 0);
}

#[test]
fn of_two_alike_the_one_whose_clips_are_joined_is_found() {
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    let (one, other) = (meter(POOL, "weir"), meter("C4:00:00:00:0A:02", "weir"));
    bluez.add(&one);
    bluez.add(&other);
    let folder = Folder::new(&[]);
    let mut command = folder.command(&["scan", "--join", "weir", "--seconds", "1", "--json"]);
    command.env("DBUS_SYSTEM_BUS_ADDRESS", bus.address());
    command.stdout(std::process::Stdio::piped());
    command.stderr(std::process::Stdio::piped());
    let child = command.spawn().expect("it runs");
    bluez.wait_told(&one, OHMS);
    bluez.wait_told(&other, OHMS);
    let lasts = within(6.0);
    let joined = within(1.0);
    while lasts() {
        // Open clips of one that has no word for them: far too much for leads.
        bluez.tell(&one, OHMS, &ohms(2_000_000));
        let now = if joined() { 2_000_000 } else { 300 };
        bluez.tell(&other, OHMS, &ohms(now));
        std::thread::sleep(Duration::from_millis(50));
    }
    let done = child.wait_with_output().expect("it ends");
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(0), "{said}");
    assert!(
        said.contains("join the clips of the meter in your hand"),
        "{said}"
    );
    let found: serde_json::Value = serde_json::from_slice(&done.stdout).expect("JSON");
    assert_eq!(found["address"], "C4:00:00:00:0A:02");
}

/// Connections that break again and again; `STILLOHM_CYCLES` asks for more.
#[test]
#[expect(clippy::print_stdout, reason = "the figures of the long run")]
fn a_meter_lost_again_and_again_is_found_each_time() {
    let cycles = std::env::var("STILLOHM_CYCLES").map_or(12, |n| n.parse().expect("a number"));
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    let folder = Folder::new(&[]);
    let own = meter(POOL, "weir-1");
    bluez.add(&own);
    let daemon = serve(&bus, &folder, POOL);
    let mut rules = Vec::new();
    let mut memory = Vec::new();
    for cycle in 0..cycles {
        bluez.wait_told(&own, OHMS);
        if cycle % (cycles / 10).max(1) == 1 {
            rules.push(bluez.match_rules());
            memory.push(many::resident(daemon.id()));
        }
        bluez.lose(&own, true);
    }
    bluez.wait_told(&own, OHMS);
    println!("match rules {rules:?}; KiB {memory:?}");
    assert!(rules.windows(2).all(|two| two[0] == two[1]), "{rules:?}");
    assert_eq!(bluez.world.lock().unwrap().connects, cycles + 1);
    assert_eq!(daemon.stop(), Some(0));
}
