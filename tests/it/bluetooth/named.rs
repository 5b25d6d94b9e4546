//! A meter whose description names its characteristics: scrambled values beside
//! a dial, a battery that is read, a command that wakes it. Invented.

use super::*;

const DISPLAY: &str = "7d3e0001-41b6-4c0a-9f52-6e8a0d2b7c15";
const DIAL: &str = "7d3e0002-41b6-4c0a-9f52-6e8a0d2b7c15";
const COMMAND: &str = "7d3e0003-41b6-4c0a-9f52-6e8a0d2b7c15";
const BATTERY: &str = "00002a19-0000-1000-8000-00805f9b34fb";

fn opaque() -> Meter {
    let value = |uuid, flags, value: Vec<u8>| Value {
        uuid,
        flags,
        format: None,
        value,
    };
    Meter {
        address: POOL,
        name: "weir-2",
        service: "7d3e0000-41b6-4c0a-9f52-6e8a0d2b7c15",
        values: vec![
            value(DISPLAY, &["notify"], display(347)),
            value(DIAL, &["indicate", "read"], vec![1]),
            value(COMMAND, &["write"], Vec::new()),
            value(BATTERY, &["read"], vec![87]),
        ],
    }
}

/// As the meter sends it: hundredths of an ohm in range 0.
fn display(count: i32) -> Vec<u8> {
    let mut plain = count.to_le_bytes().to_vec();
    plain.extend([0, 0, 0]);
    plain.push(plain.iter().fold(0, |sum: u8, b| sum.wrapping_add(*b)));
    let key = [0x5A, 0xC3, 0x1E];
    let scrambled = plain.iter().zip(key.iter().cycle());
    scrambled.map(|(b, k)| b.rotate_left(4) ^ k).collect()
}

fn hold_display(bluez: &Bluez, meter: &Meter, value: &[u8], seconds: f64) {
    let lasts = within(seconds);
    while lasts() {
        bluez.tell(meter, DISPLAY, value);
        std::thread::sleep(Duration::from_millis(50));
    }
}

fn written(bluez: &Bluez) -> Vec<(Vec<u8>, String)> {
    let world = bluez.world.lock().unwrap();
    let all = world.written.iter();
    all.map(|(uuid, value, kind)| {
        assert_eq!(uuid, COMMAND);
        (value.clone(), kind.clone())
    })
    .collect()
}

#[test]
fn a_meter_of_named_characteristics_is_woken_heard_and_never_guessed_at() {
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    let own = opaque();
    bluez.add(&own);
    let folder = Folder::new(&[FREE]);
    let daemon = page_as("hatchery-notify", &bus, &folder, POOL);
    wait_trouble(&daemon, "connected");
    bluez.wait_told(&own, DISPLAY);
    // Woken first; the dial was read since it tells only when it turns.
    let woken = || written(&bluez).first() == Some(&(vec![1, 0x10], String::from("request")));
    wait_for("the start message", 2.0, woken);
    hold_display(&bluez, &own, &display(347), 4.0);
    wait_for("a row", 5.0, || rows(&folder, "value") == ["3.47 Ω"]);
    wait_for("the battery", 2.0, || {
        state(&daemon)["battery_percent"] == 87.0
    });

    // A byte too few, a byte too many: counted and said, never a value.
    let refused = || state(&daemon)["bad_frames"].as_u64().expect("a count");
    let before = refused();
    let short = display(347)[..7].to_vec();
    let long = [display(347), vec![0]].concat();
    bluez.tell(&own, DISPLAY, &short);
    bluez.tell(&own, DISPLAY, &long);
    wait_for("two refused", 2.0, || refused() == before + 2);

    // The dial is turned to volts: the same digits are no ohms any more.
    bluez.tell(&own, DIAL, &[3]);
    hold_display(&bluez, &own, &display(520), 5.0);
    assert_eq!(rows(&folder, "value"), ["3.47 Ω"]);
    wait_for("kept awake", 8.0, || {
        written(&bluez).contains(&(vec![2], String::from("request")))
    });
    bluez.tell(&own, DIAL, &[1]);
    hold_display(&bluez, &own, &display(520), 5.0);
    wait_for("a row of ohms", 5.0, || {
        rows(&folder, "value") == ["3.47 Ω", "5.20 Ω"]
    });
    assert_eq!(daemon.stop(), Some(0));
    crate::serve::replays_with(&folder, 1, "dial changed just before this value");
}

#[test]
fn what_a_description_names_and_a_meter_lacks_is_said() {
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    let mut own = opaque();
    own.values[1].flags = &["read"];
    bluez.add(&own);
    let folder = Folder::new(&[FREE]);
    let daemon = page_as("hatchery-notify", &bus, &folder, POOL);
    wait_trouble(&daemon, "(dial) that indicates");
    assert_eq!(daemon.stop(), Some(0));
    crate::serve::replays_to_its_log(&folder, 1);
}

#[test]
fn scan_says_which_description_fits_the_services_that_are_advertised() {
    let bus = Bus::start();
    let bluez = Bluez::start(&bus);
    bluez.add(&opaque());
    let folder = Folder::new(&[]);
    let mut command = folder.command(&["scan", "--seconds", "1", "--json"]);
    command.env("DBUS_SYSTEM_BUS_ADDRESS", bus.address());
    let done = command.output().expect("it runs");
    let found: serde_json::Value = serde_json::from_slice(&done.stdout).expect("JSON");
    assert_eq!(found["fits"], serde_json::json!(["hatchery-notify"]));
}
