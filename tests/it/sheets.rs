//! `sheets`: what is shipped, a shop's own beside the models, and what is refused.

use crate::motors::HEADER;
use crate::run::Folder;

const ROUND: &str = "title = \"Spring round\"\n[[step]]\npoint = \"ground_path path\"\n[[step]]\npoint = \"winding all\"\nskip = \"nobody\"\n[[step]]\npoint = \"ground all\"\n[[step]]\npoint = \"insulation all_to_ground\"\ntest_voltage = 500\n";

/// Invented: one that may have a test voltage, one with electronics.
const MODELS: &str = "HB-CP 40,two_wire,230,25,38.0,44.0,,,,,no,machinery,invented\nHB-WP 22,two_wire,230,25,38.0,44.0,,,,,yes,machinery,invented\n";

fn write(folder: &Folder, name: &str, text: &str) {
    let path = folder.path(name);
    std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
    std::fs::write(path, text).expect("written");
}

#[test]
fn sheets_are_listed_ones_own_first() {
    let folder = Folder::new(&[("motors.csv", HEADER)]);
    write(&folder, "sheets/round.toml", ROUND);
    let list = folder.run(&["sheets", "list", "--motors", "motors.csv"]);
    assert_eq!(list.code, Some(0), "{}", list.stderr);
    let names: Vec<&str> = list
        .stdout
        .lines()
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert_eq!(names.first(), Some(&"round"), "{}", list.stdout);
    assert!(names.contains(&"pi") && names.contains(&"dar"));
    let show = folder.run(&["sheets", "show", "round", "--motors", "motors.csv"]);
    assert!(
        show.stdout.contains("winding all, nobody may leave it out"),
        "{}",
        show.stdout
    );
    ran!([] "sheets" "show" "pi" => 0, stdout "insulation all_to_ground, read at 60 and 600 s");
    ran!([] "sheets" "show" "pie" => 2, stderr "nearest: pi");
}

#[test]
fn a_mistake_in_a_sheet_has_its_line_and_leaves_the_catalogue_whole() {
    let folder = Folder::new(&[("motors.csv", HEADER)]);
    write(
        &folder,
        "sheets/round.toml",
        &ROUND.replace("winding all", "windng all"),
    );
    let check = folder.run(&["motors", "check", "motors.csv"]);
    assert_eq!(check.code, Some(1), "{}", check.stderr);
    assert!(
        check
            .stdout
            .contains("round.toml:5: column 9: point: no test \"windng\"; nearest: winding"),
        "{}",
        check.stdout
    );
    write(&folder, "sheets/pi.toml", ROUND);
    let check = folder.run(&["motors", "check", "motors.csv"]);
    assert!(
        check
            .stdout
            .contains("pi.toml:1: column 1: this name is a shipped sheet's")
    );
}

#[test]
fn a_sheet_is_held_against_a_motor() {
    let motors = format!("{HEADER}{MODELS}");
    let check = |sheet: &str, motor: &str| {
        let folder = Folder::new(&[("motors.csv", &motors), ("round.toml", sheet)]);
        folder.run(&[
            "sheets",
            "check",
            "round.toml",
            "--motor",
            motor,
            "--motors",
            "motors.csv",
        ])
    };
    let good = check(ROUND, "HB-CP 40");
    assert_eq!(good.code, Some(0), "{}{}", good.stdout, good.stderr);
    assert_eq!(good.stdout, "round of HB-CP 40: 0 refused, 0 noted\n");
    let electronics = check(ROUND, "HB-WP 22");
    assert_eq!(electronics.code, Some(1));
    assert!(
        electronics.stdout.contains("a test voltage destroys them"),
        "{}",
        electronics.stdout
    );
    let low = check(&ROUND.replace("= 500", "= 250"), "HB-CP 40");
    assert_eq!(low.code, Some(0));
    assert!(
        low.stdout
            .contains("note: insulation all_to_ground: 250 V is off the profile's 500 V")
    );
}
