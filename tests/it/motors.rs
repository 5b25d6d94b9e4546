//! `motors`: a bad line is named with file, line, column and what to write.

use crate::run::Folder;

pub(crate) const HEADER: &str = "model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source\n";

fn with(lines: &str) -> String {
    format!("{HEADER}{lines}")
}

#[test]
fn a_sound_catalogue_is_0() {
    let sound = with("pond-1,two_wire,230,20,2.2,2.6,,,,,no,,plate\n");
    ran!([("m.csv", &sound)] "motors" "check" "m.csv" => 0, stdout "1 of 1 models usable, 0 problems");
}

#[test]
fn a_bad_line_is_1_and_named_and_the_rest_loads() {
    let bad = with(
        "pond-1,two_wire,230,20,2.2 ohm,2.6,,,,,no,,plate\npond-2,two_wire,230,20,2.2,2.6,,,,,no,,plate\n",
    );
    ran!([("m.csv", &bad)] "motors" "check" "m.csv" => 1,
        stdout "m.csv:2: main_min_ohms: expected a plain number in ohms without a unit, found \"2.2 ohm\"; write 2.2",
        stdout "1 of 2 models usable");
    ran!([("m.csv", &bad)] "motors" "check" "m.csv" "--json" => 1, stdout "\"line\":2");
    ran!([("motors.csv", &bad)] "motors" "show" "pond-1" => 0, stdout "not usable: its windings are not judged");
    ran!([("motors.csv", &bad)] "motors" "show" "pond-2" => 0, stdout "2.2 to 2.6 Ω");
}

#[test]
fn an_unknown_model_is_2_with_the_nearest() {
    let sound = with("blower-7,two_wire,230,20,2.2,2.6,,,,,no,,plate\n");
    ran!([("motors.csv", &sound)] "motors" "show" "blwoer-7" => 2, stderr "nearest: blower-7");
    ran!([] "motors" "show" "blower-7" => 2, stderr "there is no catalogue");
    ran!([] "motors" "check" "m.csv" => 2, stderr "m.csv: cannot be read");
}

#[test]
fn an_import_adds_all_or_nothing() {
    let old = with("pond-1,two_wire,230,20,2.2,2.6,,,,,no,,plate\n");
    let new = HEADER.replace(",source", ",source,max_test_v")
        + "mixer,other,230,20,,,,,,,no,,\"plate, east\",500\n";
    let points = "model,point,min_ohms,max_ohms\nmixer,tap_1,10,12\n";
    let folder = Folder::new(&[
        ("data/motors.csv", &old),
        ("new/m.csv", &new),
        ("new/points.csv", points),
    ]);
    let import = ["motors", "import", "new/m.csv", "--data", "data"];
    let ran = folder.run(&import);
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""));
    let both = folder.run(&["motors", "show", "--data", "data"]);
    assert!(
        both.stdout.contains("pond-1") && both.stdout.contains("mixer"),
        "{}",
        both.stdout
    );
    let mixer = folder.run(&["motors", "show", "mixer", "--data", "data"]);
    assert!(
        mixer.stdout.contains("10 to 12 Ω") && mixer.stdout.contains("500 V"),
        "{}",
        mixer.stdout
    );

    let before = std::fs::read_to_string(folder.path("data/motors.csv")).expect("is there");
    let again = folder.run(&import);
    assert_eq!(again.code, Some(1));
    assert!(
        again.stderr.contains("already in the catalogue: mixer"),
        "{}",
        again.stderr
    );
    let after = std::fs::read_to_string(folder.path("data/motors.csv")).expect("is there");
    assert_eq!(before, after);
}

#[test]
fn a_file_with_a_problem_is_not_imported() {
    let bad = with("pond-1,two-wire,230,20,2.2,2.6,,,,,no,,plate\n");
    let folder = Folder::new(&[("m.csv", &bad)]);
    let ran = folder.run(&["motors", "import", "m.csv", "--data", "data"]);
    assert_eq!(ran.code, Some(1));
    assert!(ran.stdout.contains("nearest: two_wire"), "{}", ran.stdout);
    assert!(!folder.path("data/motors.csv").exists());
}

#[test]
fn a_list_without_models_says_why() {
    ran!([("m.csv", "")] "motors" "show" "--motors" "m.csv" => 0, stderr "m.csv:1: expected a header line");
    ran!([("m.csv", HEADER)] "motors" "show" "--motors" "m.csv" => 0, stderr "the catalogue has no models");
    // What a listed model's own line says is not said twice.
    let bad = with("pond-1,two_wire,230,20,2.2 kΩ,2.6,,,,,no,,plate\n");
    let ran = ran!([("m.csv", &bad)] "motors" "show" "--motors" "m.csv" => 0, stdout "write 2200");
    assert_eq!(ran.stderr, "");
}

#[test]
fn models_are_found_by_words_and_the_nearest_are_said_to_be_nearest() {
    let list = with(
        "HB-CP 40,two_wire,230,25,38,44,,,,,no,machinery,plate\nHB-WP 22,three_wire,230,25,1.9,2.4 ohm,5.2,6.4,,,no,,plate\n",
    );
    ran!([("motors.csv", &list)] "motors" "find" "hbcp" => 0, stdout "HB-CP 40 ", stdout "two_wire");
    ran!([("motors.csv", &list)] "motors" "find" "22" "hb" => 0, stdout "HB-WP 22", stdout "write 2.4");
    ran!([("motors.csv", &list)] "motors" "find" "hb-cq40" => 0, stdout "HB-CP 40", stderr "no model has \"hb-cq40\" in its name; these are the nearest");
    ran!([("motors.csv", &list)] "motors" "find" "zzzz" => 1, stderr "no model is like \"zzzz\"");
    let ran = ran!([("motors.csv", &list)] "motors" "find" "--json" "hb" => 0);
    let lines: Vec<serde_json::Value> = ran
        .stdout
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    let pump = serde_json::json!({
        "model": "HB-CP 40", "kind": "two_wire", "rated_v": 230.0, "problems": [], "fits": true,
        "limits": [{ "point": "main", "min_ohms": 38.0, "max_ohms": 44.0 }],
    });
    assert_eq!(lines[0], pump);
    assert_eq!(lines[1]["limits"], serde_json::json!([]));
    assert!(
        lines[1]["problems"][0]
            .to_string()
            .contains("motors.csv:3: main_max_ohms")
    );
}

#[test]
fn a_profile_that_does_not_exist_is_a_problem_of_its_line() {
    let bad = with("pond-1,two_wire,230,20,2.2,2.6,,,,,no,pump-c,plate\n");
    ran!([("m.csv", &bad)] "motors" "check" "m.csv" => 1,
        stdout "m.csv:2: profile: no insulation profile \"pump-c\"; nearest: pump-a, pump-b");
}
