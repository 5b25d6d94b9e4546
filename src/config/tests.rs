//! Configuration: what is refused, where, and in which words.

use super::*;
use crate::meter::{Address, Measures};

fn checked(text: &str) -> Result<Config, String> {
    checked_with(text, &[])
}

fn checked_with(text: &str, meters: &[&str]) -> Result<Config, String> {
    let given = Given {
        meters: meters.iter().map(|m| (*m).to_owned()).collect(),
        ..Given::default()
    };
    check::check(Path::new("stillohm.toml"), text, &given).map_err(|e| e.to_string())
}

#[track_caller]
fn refused(text: &str, expected: &str) {
    let found = checked(text).expect_err("must be refused");
    assert!(found.contains(expected), "{expected:?} is not in {found:?}");
}

const METER: &str = "[[meter]]\nname = \"ohms-1\"\nprotocol = \"text-line\"\n";

#[test]
fn an_absent_file_gives_the_defaults() {
    let config = checked("").expect("nothing is wrong with nothing");
    assert_eq!(config.data, PathBuf::from("stillohm-data"));
    assert_eq!(config.web, Web::default());
    assert!(config.settings.meters.is_empty());
}

#[test]
fn a_wrong_key_is_named_with_its_place_and_what_is_allowed() {
    refused(
        "data = \"x\"\n[web]\nlissten = \"127.0.0.1:1\"\n",
        "stillohm.toml:3:1: unknown field `lissten`, expected one of `listen`, `token`, `commands`",
    );
    refused("data = 3\n", "stillohm.toml:1:8: invalid type: integer `3`");
    refused(
        &format!("{METER}serial = {{ path = \"/dev/pond\", baud = \"9600\" }}\n"),
        "stillohm.toml:4:39: invalid type: string \"9600\", expected a whole number without quotes",
    );
    refused("data = \"x\ndata", "stillohm.toml:2:5: ");
}

#[test]
fn another_address_needs_a_token() {
    refused(
        "[web]\nlisten = \"0.0.0.0:7845\"\n",
        "stillohm.toml:2:10: web.listen: 0.0.0.0 can be reached by other machines: expected a token",
    );
    refused(
        "[web]\nlisten = \"0.0.0.0:7845\"\ntoken = \"short\"\n",
        "web.token: expected at least 16",
    );
    refused("[web]\nlisten = \"localhost\"\n", "expected ADDRESS:PORT");
    let open = "[web]\nlisten = \"0.0.0.0:7845\"\ntoken = \"0123456789abcdef\"\ncommands = true\n";
    let config = checked(open).expect("a token is there");
    assert!(config.web.commands && config.web.token.is_some());
}

#[test]
fn an_unknown_protocol_gets_the_nearest_ones() {
    let text = METER.replace("text-line", "text-lime") + "serial = { path = \"/dev/x\" }\n";
    refused(
        &text,
        "stillohm.toml:3:12: protocol: protocol \"text-lime\" is unknown; nearest: text-line",
    );
}

#[test]
fn a_meter_needs_exactly_one_port() {
    let serial = "serial = { path = \"/dev/x\" }\n";
    let expected =
        "stillohm.toml:2:8: meter \"ohms-1\": expected exactly one of serial, tcp and ble";
    refused(METER, expected);
    refused(
        &format!("{METER}{serial}tcp = {{ address = \"h:1\" }}\n"),
        expected,
    );
    refused(
        &format!("{METER}serial = {{ baud = 9600 }}\n"),
        "stillohm.toml:4:10: serial: expected one of path and usb",
    );
}

#[test]
fn each_value_of_a_meter_is_checked() {
    let with = |line: &str| format!("{METER}serial = {{ path = \"/dev/x\" }}\n{line}\n");
    refused(
        &with("terminals = 3"),
        ":5:13: terminals: expected 2 or 4, found 3",
    );
    refused(&with("unit = 248"), "unit: expected 0 to 247, found 248");
    refused(
        &with("measures = [\"ohm\"]"),
        ":5:13: measures: expected ohms, insulation or volts, found \"ohm\"; nearest: ohms",
    );
    refused(&with("measures = []"), "measures: expected at least one");
    refused(
        &with("calibration_due = \"2026-02-30\""),
        "calibration_due: expected a date",
    );
    refused(&with("over_range_above_ohms = -1"), "expected ohms above 0");
    refused(&with("proof_max_ohms = inf"), "expected ohms above 0");
    refused(
        &with("accuracy = [{ percent = -1 }]"),
        "accuracy: expected percent from 0",
    );
    refused(
        &with("accuracy = [{ percent = 1 }, { up_to_ohms = 5, percent = 1 }]"),
        "rising up_to_ohms",
    );
    refused(&with("name = \"again\""), "duplicate key");
    refused(&METER.replace("ohms-1", "=cmd()"), "expected");
}

#[test]
fn a_meter_that_is_written_in_full_is_taken_whole() {
    let config = checked(&format!(
        "{METER}bench = \"pond bench\"\nserial = {{ usb = \"A1\", baud = 2400, data_bits = 7, parity = \"even\", stop_bits = 2 }}\n\
         accuracy = [{{ up_to_ohms = 200.5, percent = 0.5, counts = 3 }}, {{ percent = 1 }}]\nterminals = 4\n\
         measures = [\"ohms\", \"volts\"]\nover_range_above_ohms = 40_000_000\ncalibration_due = \"2027-01-31\"\n"
    ))
    .expect("all of it is right");
    let meter = &config.settings.meters[0];
    assert_eq!(meter.measures, [Measures::Ohms, Measures::Volts]);
    assert_eq!(
        meter.accuracy[0].up_to.map(|d| d.to_string()),
        Some("200.5".into())
    );
    assert_eq!((meter.terminals, meter.accuracy[1].up_to), (4, None));
    let Address::Usb { line, .. } = &config.settings.ports[0].address else {
        panic!("expected a USB port");
    };
    assert_eq!((line.baud, line.data_bits, line.stop_bits), (2400, 7, 2));
    assert!(
        config
            .settings
            .descriptions
            .contains_key(&Text::clean("text-line"))
    );
}

#[test]
fn meters_on_one_port_agree_and_have_units() {
    let two = |first: &str, second: &str| {
        format!(
            "{METER}serial = {{ path = \"/dev/x\" }}\n{first}\n[[meter]]\nname = \"ohms-2\"\nprotocol = \"text-line\"\n{second}\n"
        )
    };
    let same = "serial = { path = \"/dev/x\" }\n";
    refused(&two("", same), "share a port: expected a unit for each");
    refused(
        &two("unit = 1", &format!("{same}unit = 1")),
        "share a port and a unit",
    );
    refused(
        &two(
            "unit = 1",
            "serial = { path = \"/dev/x\", baud = 1200 }\nunit = 2",
        ),
        "agree on its line settings",
    );
    let config = checked(&two("unit = 1", &format!("{same}unit = 2"))).expect("a bus");
    assert_eq!(
        (config.settings.ports.len(), config.settings.meters.len()),
        (1, 2)
    );
}

#[test]
fn meters_of_the_command_line_join_those_of_the_file() {
    let file = format!("{METER}serial = {{ path = \"/dev/x\" }}\n");
    let config = checked_with(&file, &["ohms-2=text-line@tcp:localhost:5020"]).expect("both");
    assert_eq!(
        config.settings.ports[1].address.to_string(),
        "tcp:localhost:5020"
    );
    let twice = checked_with(&file, &["ohms-1=text-line@/dev/y"]).expect_err("the name is taken");
    assert!(
        twice.contains("--meter ohms-1=text-line@/dev/y: meter \"ohms-1\" is there twice"),
        "{twice}"
    );
}

#[test]
fn a_meter_read_by_eye_has_no_port_and_no_protocol() {
    let config = checked("[[meter]]\nname = \"gauge\"\nby_eye = true\n").expect("whole");
    assert_eq!(
        config.settings.ports[0].address.to_string(),
        "by eye: gauge"
    );
    refused(
        &format!("{METER}by_eye = true\n"),
        "by_eye: expected neither a protocol",
    );
    refused("[[meter]]\nname = \"gauge\"\n", "or by_eye = true");
    let without = "[[meter]]\nname = \"gauge\"\nserial = { path = \"/dev/x\" }\n";
    refused(without, "meter \"gauge\": expected a protocol");
}

#[test]
fn captures_are_kept_as_long_as_is_written() {
    let config = checked("[captures]\nkeep_days = 2\nkeep_mb = 3\n").expect("is right");
    assert_eq!(config.keep, Some(Duration::from_secs(172_800)));
    assert_eq!(config.keep_bytes, Some(3_000_000));
    assert_eq!(checked("").expect("is right").keep, None);
    refused(
        "[captures]\nkeep_days = 0\n",
        "stillohm.toml:2:13: keep_days: expected at least 1; leave it out to keep all",
    );
}

#[test]
fn a_shop_is_words_and_a_picture_of_a_known_kind() {
    let text = "[shop]\nname = \"North Weir Hatchery\"\naddress = [\"1 Weir Lane\", \"Weirford\"]\nlogo = \"fish.png\"\n";
    let shop = checked(text).expect("is right").shop;
    assert_eq!(shop.name, Some(Text::clean("North Weir Hatchery")));
    assert_eq!(shop.address.len(), 2);
    assert_eq!(shop.logo, Some(PathBuf::from("fish.png")));
    refused(
        "[shop]\nlogo = \"fish.gif\"\n",
        "stillohm.toml:2:8: shop.logo: expected a .png or .svg file, found \"fish.gif\"",
    );
    refused(
        "[shop]\nnames = \"x\"\n",
        "unknown field `names`, expected one of `name`, `address`, `logo`",
    );
    refused(
        "[shop]\nname = \"a\\nb\"\n",
        "expected no control characters",
    );
}
