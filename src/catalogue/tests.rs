//! Bad lines are named, the rest loads, and the bad model is judged by nothing.

use proptest::prelude::*;

use super::*;
use crate::limits::{Electronics, InsulationTest, Kind};

const HEADER: &str = "model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source\n";

fn read(motors: &str, points: &str) -> Catalogue {
    let mut catalogue = Catalogue::default();
    catalogue.add_motors(Path::new("motors.csv"), motors.as_bytes());
    if !points.is_empty() {
        catalogue.add_points(Path::new("points.csv"), points.as_bytes());
    }
    catalogue
}

/// The first line is right, the second is `line`: its problem is the one
/// expected, the first model is usable and the second is not.
#[track_caller]
fn bad(line: &str, expected: &str) {
    let catalogue = read(
        &format!("{HEADER}pond-1,two_wire,230,20,2.2,2.6,,,,,no,,plate\n{line}\n"),
        "",
    );
    let said: Vec<String> = catalogue.problems.iter().map(Problem::to_string).collect();
    assert!(
        said.iter().any(|s| s.contains(expected)),
        "{expected:?} is not in {said:?}"
    );
    assert!(catalogue.motor("pond-1").expect("is there").in_catalogue);
    for (motor, why) in catalogue
        .iter()
        .filter(|(m, _)| m.model.as_str() != "pond-1")
    {
        assert!(!motor.in_catalogue && why.is_some() && motor.main.is_empty());
    }
}

#[test]
fn a_line_is_read_whole() {
    let motors = HEADER.replace(",source", ",source,insulation_test,max_test_v,sensors")
        + "blower-7,three_phase,400,25,,,,,1.10,1.30,yes,ieee43,\"plate, east pond\",leads_joined_only,500,ptc;leak_probe\n";
    let catalogue = read(&motors, "");
    assert_eq!(catalogue.problems, []);
    let motor = catalogue.motor("blower-7").expect("is there");
    assert_eq!(
        (motor.kind, motor.electronics),
        (Kind::ThreePhase, Electronics::Yes)
    );
    assert_eq!(motor.insulation_test, InsulationTest::LeadsJoinedOnly);
    assert_eq!(
        motor.winding_limits("line_23").lower.map(|d| d.to_string()),
        Some("1.10".into())
    );
    assert_eq!(
        (motor.source.as_str(), motor.sensors.len()),
        ("plate, east pond", 2)
    );
}

#[test]
fn a_bad_cell_is_named_with_what_to_write_and_the_rest_loads() {
    bad(
        "m,two_wire,230 V,20,,,,,,,no,,",
        "motors.csv:3: rated_v: expected a plain number in volts without a unit, found \"230 V\"; write 230",
    );
    bad(
        "m,two_wire,230,20,2.2k,3,,,,,no,,",
        "main_min_ohms: expected a plain number in ohms without a unit, found \"2.2k\"; write 2200",
    );
    bad(
        "m,two_wire,230,20,\"2,2\",3,,,,,no,,",
        "expected a point as decimal mark, found \"2,2\"; write 2.2",
    );
    bad(
        "m,two_wire,230,20,OL,3,,,,,no,,",
        "such as 12.5, or nothing, found \"OL\"",
    );
    bad(
        "m,two_wire,230,20,5,3,,,,,no,,",
        "main_min_ohms: expected at most main_max_ohms (3), found 5",
    );
    bad(
        "m,two_wire,230,20,-1,3,,,,,no,,",
        "expected a number that is not below 0, found -1",
    );
    bad(
        "m,two-wire,230,20,,,,,,,no,,",
        "kind: \"two-wire\" is unknown; nearest: two_wire",
    );
    bad("m,,230,20,,,,,,,no,,", "kind: expected two_wire");
    bad(
        "m,two_wire,230,20,,,,,,,none,,",
        "electronics: \"none\" is unknown",
    );
    bad(
        "m,two_wire,230,20,1,2,,,1,2,no,,",
        "line_min_ohms: a motor of kind two_wire has no line limits",
    );
    bad(
        "m,two_wire,230,400,,,,,,,no,,",
        "reference_c: expected degrees Celsius",
    );
    bad(
        "m,two_wire,0,20,,,,,,,no,,",
        "rated_v: expected volts above 0",
    );
    bad(
        "m,two_wire,230",
        "motors.csv:3: reference_c: expected 13 cells as in the header, found 3: the line ends before reference_c",
    );
    bad(
        ",two_wire,230,20,,,,,,,no,,",
        "model: expected the model's name",
    );
    bad(
        "=1+1,two_wire,230,20,,,,,,,no,,",
        "a spreadsheet would run them as a formula",
    );
}

#[test]
fn numbers_that_are_not_plain_are_named_with_what_to_write() {
    let main = |cell: &str, expected: &str| {
        bad(
            &format!("m,two_wire,230,20,{cell},900000000,,,,,no,,"),
            &format!("motors.csv:3: main_min_ohms: {expected}"),
        );
    };
    main(
        "4.2 ohm",
        "expected a plain number in ohms without a unit, found \"4.2 ohm\"; write 4.2",
    );
    main(
        "4.2Ω",
        "expected a plain number in ohms without a unit, found \"4.2Ω\"; write 4.2",
    );
    main(
        "\"0,42 kΩ\"",
        "expected a plain number in ohms without a unit, found \"0,42 kΩ\"; write 420 if that is what is meant",
    );
    main(
        "4.2 Mohm",
        "expected a plain number in ohms without a unit, found \"4.2 Mohm\"; write 4200000",
    );
    main(
        "4200 mohm",
        "expected a plain number in ohms without a unit, found \"4200 mohm\"; write 4.200",
    );
    main(
        "4.2K",
        "expected a plain number in ohms without a unit, found \"4.2K\"; write 4200",
    );
    // Of these no value is guessed.
    for cell in ["4k7", "4.2 V", "4.2 x 2", "4.2 %", "1 234", "4.2 ohm each"] {
        main(
            cell,
            &format!("expected a plain number in ohms without other signs, found {cell:?}"),
        );
    }
    for cell in ["NaN", "inf", "-", "4.2-4.8", "1.234.5", "?", "\"1.234,5\""] {
        let found = cell.trim_matches('"');
        main(
            cell,
            &format!("expected a plain number in ohms such as 12.5, or nothing, found {found:?}"),
        );
    }
    main("1e40", "expected a plain number in ohms");
    let volts = |cell: &str, expected: &str| {
        bad(
            &format!("m,two_wire,{cell},20,,,,,,,no,,"),
            &format!("motors.csv:3: rated_v: {expected}"),
        );
    };
    volts(
        "0.4 kV",
        "expected a plain number in volts without a unit, found \"0.4 kV\"; write 400",
    );
    volts("0", "expected volts above 0 and up to 100000, found 0");
    volts("-230", "expected a number that is not below 0, found -230");
    volts(
        "230/400",
        "expected a plain number in volts without other signs, found \"230/400\"",
    );
}

#[test]
fn a_limit_that_is_missing_beside_another_is_asked_for() {
    let both = "or leave both cells empty when they are not known";
    bad(
        "m,two_wire,230,20,2.2,,,,,,no,,",
        &format!(
            "motors.csv:3: main_max_ohms: expected a limit beside main_min_ohms (2.2), found nothing; write it, {both}"
        ),
    );
    bad(
        "m,three_wire,230,20,2.2,2.6,,5.1,,,no,,",
        &format!(
            "motors.csv:3: start_min_ohms: expected a limit beside start_max_ohms (5.1), found nothing; write it, {both}"
        ),
    );
    bad(
        "m,three_phase,400,20,,,,,0,2.6,no,,",
        "motors.csv:3: line_min_ohms: expected ohms above 0, found 0",
    );
    bad(
        "m,two_wire,230,20,-2.2,2.6,,,,,no,,",
        "motors.csv:3: main_min_ohms: expected a number that is not below 0, found -2.2",
    );
    // Nobody knows any limit: that is no mistake, its windings are compared with each other.
    let none = read(&format!("{HEADER}m,three_phase,400,20,,,,,,,no,,\n"), "");
    assert_eq!(none.problems, []);
    assert!(none.motor("m").expect("is there").in_catalogue);
}

#[test]
fn limits_of_another_kind_are_named_where_they_stand() {
    bad(
        "m,two_wire,230,20,1,2,,5,,,no,,",
        "motors.csv:3: start_max_ohms: a motor of kind two_wire has no start limits: expected empty cells",
    );
    bad(
        "m,other,230,20,1,2,,,,,no,,",
        "motors.csv:3: main_min_ohms: a motor of kind other has no main limits",
    );
}

#[test]
fn a_temperature_that_looks_like_fahrenheit_is_asked_about() {
    let at = |cell: &str, expected: &str| {
        bad(
            &format!("m,two_wire,230,{cell},1,2,,,,,no,,"),
            &format!("motors.csv:3: reference_c: {expected}"),
        );
    };
    at("77 F", "expected degrees Celsius, found \"77 F\"; write 25");
    at(
        "70°F",
        "expected degrees Celsius, found \"70°F\"; write 21.1",
    );
    at(
        "68",
        "expected degrees Celsius, found 68, which is 20 °C if it is Fahrenheit; write 20, or 68.0 if it is Celsius indeed",
    );
    at(
        "25 C",
        "expected a plain number in degrees Celsius without a unit, found \"25 C\"; write 25",
    );
    at("212", "expected degrees Celsius from -50 to 200, found 212");
    for cell in ["25", "75", "95", "115", "77.0"] {
        let sound = read(&format!("{HEADER}m,two_wire,230,{cell},1,2,,,,,no,,\n"), "");
        assert_eq!(sound.problems, [], "{cell}");
    }
}

#[test]
fn a_profile_that_is_not_there_is_named_with_the_nearest() {
    let mut catalogue = read(
        &format!(
            "{HEADER}m,two_wire,230,20,1,2,,,,,no,machinry,\npond-1,two_wire,230,20,2.2,2.6,,,,,no,machinery,\n"
        ),
        "",
    );
    catalogue.check_profiles(Path::new("motors.csv"));
    let said: Vec<String> = catalogue.problems.iter().map(Problem::to_string).collect();
    assert_eq!(
        said,
        ["motors.csv:2: profile: no insulation profile \"machinry\"; nearest: machinery"]
    );
}

#[test]
fn a_line_cut_off_or_with_a_quote_left_open_costs_itself_alone() {
    for line in [
        "m,two_wire,230,20,\"2.2",
        "m,two_wire,230,20,2.2,2.6,,,,,no,,\"plate, east",
        "m,two_wire,230,20,2.2,2.6,,,,,no,,\"plate \"\"east",
    ] {
        let catalogue = read(
            &format!("{HEADER}{line}\npond-1,two_wire,230,20,2.2,2.6,,,,,no,,\"a \"\"b\"\", c\"\n"),
            "",
        );
        assert_eq!(catalogue.problems.len(), 1, "{:?}", catalogue.problems);
        let said = catalogue.problems[0].to_string();
        assert!(
            said.contains("expected a quote that closes before the line ends, found none"),
            "{said}"
        );
        assert!(
            said.starts_with("motors.csv:2: main_min_ohms")
                || said.starts_with("motors.csv:2: source"),
            "{said}"
        );
        let motor = catalogue.motor("pond-1").expect("is there");
        assert!(motor.in_catalogue);
        assert_eq!(motor.source.as_str(), "a \"b\", c");
    }
    bad(
        "m;two_wire;230;20;2,2;2,6;;;;;no;;",
        "motors.csv:3: reference_c: expected 13 cells as in the header, found 3",
    );
    bad(
        "m;two_wire;230;20;2.2;2.6;;;;;no;;",
        "motors.csv:3: expected 13 cells as in the header, found 1: they are separated by semicolons; write commas",
    );
    bad(
        "m,two_wire,230,20,2,2,2,6,,,,,no,,",
        "motors.csv:3: expected 13 cells as in the header, found 15; write a decimal point",
    );
}

#[test]
fn other_ways_of_writing_a_file_are_named() {
    let first = |bytes: &[u8]| {
        let mut catalogue = Catalogue::default();
        catalogue.add_motors(Path::new("motors.csv"), bytes);
        assert!(catalogue.is_empty());
        catalogue.problems[0].to_string()
    };
    let utf16: Vec<u8> = "\u{feff}model,kind"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    assert_eq!(
        first(&utf16),
        "motors.csv:1: expected UTF-8 text, found UTF-16; save the table as UTF-8"
    );
    let tabs = HEADER.replace(',', "\t");
    assert!(first(tabs.as_bytes()).contains("found tabs; export the table with commas"));
    let mut latin = HEADER.as_bytes().to_vec();
    latin.extend_from_slice(b"pond-1,two_wire,230,20,2.2,2.6,,,,,no,,pl\xe5t\n");
    let mut catalogue = Catalogue::default();
    catalogue.add_motors(Path::new("motors.csv"), &latin);
    assert_eq!(
        catalogue.problems[0].to_string(),
        "motors.csv:2: source: expected UTF-8 text; save the table as UTF-8"
    );
}

#[test]
fn a_model_that_is_there_twice_holds_for_neither() {
    let line = "pond-1,two_wire,230,20,2.2,2.6,,,,,no,,plate\n";
    let catalogue = read(&format!("{HEADER}{line}{line}"), "");
    assert!(
        catalogue.problems[0]
            .to_string()
            .contains("motors.csv:3: model: \"pond-1\" is already on line 2")
    );
    let motor = catalogue.motor("pond-1").expect("is there");
    assert!(!motor.in_catalogue && motor.main.is_empty());
    assert!(motor.source.as_str().contains("already on line 2"));
}

#[test]
fn a_word_that_does_not_read_never_allows_a_test_voltage() {
    let motors = HEADER.replace(",source", ",source,insulation_test")
        + "m,two_wire,230,20,,,,,,,no,,,forbiden\n";
    let catalogue = read(&motors, "");
    let motor = catalogue.motor("m").expect("is there");
    assert_eq!(motor.insulation_test, InsulationTest::Forbidden);
    let unknown = read(&format!("{HEADER}m,two_wire,230,20,,,,,,,nope,,\n"), "");
    let motor = unknown.motor("m").expect("is there");
    assert_eq!(motor.electronics, Electronics::Unknown);
}

#[test]
fn a_header_that_lacks_a_column_loads_nothing() {
    let without = HEADER.replace(",main_max_ohms", "") + "m,two_wire,230,20,2,,,,,no,,\n";
    let catalogue = read(&without, "");
    assert!(catalogue.is_empty());
    assert!(
        catalogue.problems[0]
            .to_string()
            .contains("missing columns: main_max_ohms")
    );
    let other = read(&HEADER.replace("source", "sauce"), "");
    assert!(
        other.problems[0]
            .to_string()
            .contains("sauce: unknown column; nearest: source")
    );
    assert!(read("", "").problems[0].to_string().contains("empty file"));
    let semicolons = read(&HEADER.replace(',', ";"), "");
    assert!(
        semicolons.problems[0]
            .to_string()
            .contains("found semicolons")
    );
}

#[test]
fn points_belong_to_a_model_and_a_bad_one_spoils_it() {
    let motors = format!(
        "{HEADER}mixer,other,230,20,,,,,,,no,,plate\nstirrer,other,230,20,,,,,,,no,,plate\n"
    );
    let points = "model,point,min_ohms,max_ohms\nmixer,tap_1,10,12\nmixer,tap_2,20,24\nstirrer,tap_1,9,8\nmixr,tap_1,1,2\nstirrer,tap_2,1,2\n";
    let catalogue = read(&motors, points);
    let mixer = catalogue.motor("mixer").expect("is there");
    assert_eq!(
        mixer.winding_limits("tap_2").upper.map(|d| d.to_string()),
        Some("24".into())
    );
    assert!(!catalogue.motor("stirrer").expect("is there").in_catalogue);
    assert!(
        catalogue
            .motor("stirrer")
            .expect("is there")
            .points
            .is_empty()
    );
    let said: Vec<String> = catalogue.problems.iter().map(Problem::to_string).collect();
    assert!(
        said[0].contains("points.csv:4: min_ohms: expected at most max_ohms (8), found 9"),
        "{said:?}"
    );
    assert!(
        said[1].contains("points.csv:5: model: \"mixr\" is not in motors.csv; nearest: mixer"),
        "{said:?}"
    );
}

#[test]
fn an_unknown_model_gets_the_nearest_ones() {
    let catalogue = read(&format!("{HEADER}pond-1,two_wire,230,20,,,,,,,no,,\n"), "");
    let error = catalogue.motor("pnod-1").expect_err("is not there");
    assert!(error.to_string().contains("nearest: pond-1"), "{error}");
}

#[test]
fn a_spreadsheet_with_a_byte_order_mark_and_carriage_returns_reads() {
    let text = format!("\u{feff}{HEADER}pond-1,two_wire,230,20,,,,,,,no,,\n").replace('\n', "\r\n");
    let catalogue = read(&text, "");
    assert_eq!((catalogue.problems.len(), catalogue.len()), (0, 1));
}

#[test]
fn profiles_of_ones_own_lie_beside_the_models_and_a_bad_one_stops_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("motors.csv");
    let motor = |name: &str, profile: &str| {
        format!("{name},three_phase,400,20,,,,,4,5,no,{profile},plate\n")
    };
    let models = [
        motor("a", "ponds"),
        motor("b", "pond"),
        motor("c", "ieee43"),
    ];
    std::fs::write(&path, format!("{HEADER}{}", models.concat())).expect("written");
    let own = "\
[[profile]]
name = \"ponds\"
source = \"invented\"
minimum = [{ megohm = 3 }]

[[profile]]
name = \"ieee43\"
source = \"invented\"
minimum = [{ megohm = 1 }]
";
    std::fs::write(folder.path().join("profiles.toml"), own).expect("written");
    let catalogue = Catalogue::read(&path).expect("reads");
    let said: Vec<String> = catalogue
        .problems
        .iter()
        .map(|p| format!("{}:{} {}: {}", p.in_log(), p.line, p.column, p.message))
        .collect();
    assert_eq!(said.len(), 2, "{said:#?}");
    assert!(
        said[0].starts_with("profiles.toml:7: column 8: \"ieee43\" comes with"),
        "{said:#?}"
    );
    assert!(
        said[1].contains("motors.csv:3: profile: no insulation profile \"pond\"; nearest: ponds"),
        "{said:#?}"
    );
    assert_eq!(catalogue.len(), 3);
    let megohms = |name: &str| {
        let profile = catalogue.profile(name).expect("is there");
        profile.minimum[0].megohm.to_string()
    };
    assert_eq!(megohms("ponds"), "3");
    // The shipped one stays what it is: 5 below 1000 V.
    assert_eq!(megohms("ieee43"), "5");
    assert!(catalogue.profile("ieee44").is_err());
}

proptest! {
    /// Whatever is in the files: nothing panics, each problem has its file and
    /// line, and a model with a problem has no limits.
    #[test]
    fn any_bytes_are_read_or_named(bytes in proptest::collection::vec(any::<u8>(), 0..400), words in any::<String>()) {
        let mut catalogue = Catalogue::default();
        let mut motors = HEADER.as_bytes().to_vec();
        motors.extend_from_slice(&bytes);
        catalogue.add_motors(Path::new("motors.csv"), &motors);
        catalogue.add_motors(Path::new("motors.csv"), &bytes);
        catalogue.add_points(Path::new("points.csv"), &bytes);
        catalogue.check_profiles(Path::new("motors.csv"));
        prop_assert!(catalogue.problems.iter().all(|p| p.line > 0 && !p.message.is_empty()));
        for (motor, bad) in catalogue.iter() {
            prop_assert!(bad.is_none() == motor.in_catalogue);
            prop_assert!(bad.is_none() || motor.main.is_empty());
        }
        prop_assert!(catalogue.search(&words, 5).models.len() <= 5);
    }

    /// Cells of the signs that matter here.
    #[test]
    fn any_line_of_cells_is_read_or_named(line in "[a-z0-9_,;\"\\-. kΩ=]{0,120}(\r\n|\n)[mtw_o,\"0-9.]{0,60}") {
        let mut catalogue = Catalogue::default();
        catalogue.add_motors(Path::new("motors.csv"), format!("{HEADER}{line}").as_bytes());
        for (motor, bad) in catalogue.iter() {
            prop_assert!(bad.is_none() == motor.in_catalogue);
        }
    }
}
