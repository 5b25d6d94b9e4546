//! `profiles`: what is shipped, one's own beside the models, and mistakes in it.

use crate::motors::HEADER;
use crate::run::Folder;

const OWN: &str = "# Of our own.\n[[profile]]\nname = \"east-ponds\"\nsource = \"hatchery rule 3 (invented)\"\nmark_s = 60\nminimum = [{ below_v = 1000, megohm = 20 }, { megohm = 50 }]\ntest_voltage = [{ low_v = 500, high_v = 500 }]\n";

#[test]
fn profiles_are_listed_with_their_sources_ones_own_first() {
    let folder = Folder::new(&[("motors.csv", HEADER), ("profiles.toml", OWN)]);
    let list = folder.run(&["profiles", "list", "--motors", "motors.csv"]);
    assert_eq!(list.code, Some(0), "{}", list.stderr);
    let lines: Vec<&str> = list.stdout.lines().collect();
    assert!(lines[0].starts_with("east-ponds "), "{}", list.stdout);
    assert!(lines[0].ends_with("hatchery rule 3 (invented)"));
    // Nine profiles and eight sets of bands are shipped.
    assert_eq!(lines.len(), 18);
    let json = folder.run(&["profiles", "list", "--motors", "motors.csv", "--json"]);
    let all: Vec<serde_json::Value> = json
        .stdout
        .lines()
        .map(|line| serde_json::from_str(line).expect("a JSON line"))
        .collect();
    assert_eq!(all[0]["own"], true);
    let pump = all.iter().find(|p| p["name"] == "pump-b").expect("pump-b");
    assert_eq!(pump["needs_condition"], true);
    assert_eq!(pump["conditions"][2], "splice");
    assert_eq!(pump["mark_s"], serde_json::Value::Null);
}

#[test]
fn what_is_shown_can_be_copied_changed_and_checked() {
    let shown = ran!([] "profiles" "show" "wiring" => 0, stdout "condition = \"selv\", up_to_v = 50, megohm = 0.5");
    let own = shown.stdout.replace("\"wiring\"", "\"our-wiring\"");
    ran!([("profiles.toml", &own)] "profiles" "check" "profiles.toml" => 0, stdout "1 profile and 0 sets of bands hold, 0 problems");
    ran!([("profiles.toml", &shown.stdout)] "profiles" "check" "profiles.toml" => 1, stdout "profiles.toml:2: column 8: \"wiring\" comes with the program");
    ran!([] "profiles" "show" "wirign" => 2, stderr "nearest: wiring");
    ran!([] "profiles" "show" "set-b" => 0, stdout "bounds = [1.25, 1.6]");
}

#[test]
fn a_mistake_is_1_with_file_line_and_column() {
    let bad = OWN.replace("megohm = 20", "megohms = 20");
    ran!([("own.toml", &bad)] "profiles" "check" "own.toml" => 1, stdout "own.toml:6: column 30: unknown key \"megohms\"; nearest: megohm");
    ran!([] "profiles" "check" "none.toml" => 2, stderr "cannot be read");
}

fn readme() -> String {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/README.md");
    std::fs::read_to_string(path).expect("the page")
}

#[test]
fn the_example_of_the_readme_holds() {
    let page = readme();
    let section = page.split("### Profiles").nth(1).expect("the section");
    let example = section.split("```toml\n").nth(1).expect("an example");
    let example = example.split("```").next().expect("its end");
    let says = "1 profile and 1 set of bands hold, 0 problems";
    ran!([("profiles.toml", example)] "profiles" "check" "profiles.toml" => 0, stdout says);
}

#[test]
fn the_readme_names_each_shipped_profile_and_condition() {
    let page = readme();
    for profile in stillohm::limits::profile::shipped() {
        for name in [profile.name.as_str()]
            .into_iter()
            .chain(profile.conditions())
        {
            assert!(page.contains(&format!("`{name}`")), "{name}");
        }
    }
    for bands in stillohm::limits::profile::shipped_bands() {
        assert!(
            page.contains(&format!("`{}`", bands.name)),
            "{}",
            bands.name
        );
    }
}
