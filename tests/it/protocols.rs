//! `protocols`: names, files, and bytes tried on them.

#[test]
fn an_unknown_name_is_2_with_the_nearest() {
    ran!([] "protocols" "show" "text-lime" => 2, stderr "nearest: text-line");
    ran!([] "protocols" "show" "none/such.toml" => 2, stderr "cannot be read");
}

#[test]
fn each_shipped_description_is_listed_and_holds() {
    let listed = ran!([] "protocols" "list" => 0, stdout "text-line");
    let checked = ran!([] "protocols" "check" => 0);
    assert_eq!(
        listed.stdout.lines().count(),
        checked.stdout.lines().count()
    );
    assert!(checked.stdout.lines().all(|line| line.ends_with(": holds")));
}

#[test]
fn a_description_with_a_wrong_key_is_1_with_file_line_and_column() {
    ran!([("mine.toml", "# mine\nfrmae.packet = {}\n")] "protocols" "check" "./mine.toml" => 1, stdout "mine.toml: ");
}

#[test]
fn bytes_that_are_tried_give_readings_as_json_lines() {
    // 22.7 kΩ and a line feed.
    let ran = ran!([] "protocols" "try" "text-line" "--hex" "32 32 2e 37 20 6b ce a9 0a" => 0, stdout "\"value\":\"22700\"");
    let line: serde_json::Value = serde_json::from_str(ran.stdout.trim()).expect("one JSON object");
    assert_eq!(
        (&line["unit"], &line["resolution"]),
        (&"ohm".into(), &"100".into())
    );
    ran!([] "protocols" "try" "text-line" "--hex" "zz" => 2, stderr "--hex: expected hexadecimal digits");
    ran!([] "protocols" "try" "text-line" "--hex" "40 40 0a" => 1, stderr "give no reading");
}

#[test]
fn a_list_says_what_each_is_about_and_a_check_is_json_too() {
    let own =
        "about = \"an invented pond meter\"\nframe.delimted = { ends = [\"\\n\"], max = 9 }\n";
    let sound = "# Of our own.\nabout = \"an invented tank meter\"\nframe.delimited = { ends = [\"\\n\"], max = 32 }\n[[reading]]\nquantity = \"main\"\nunit = \"ohm\"\nvalue.number = {}\n";
    let files = [
        ("stillohm.toml", "protocols = \"protocols\"\n"),
        ("protocols/pond.toml", own),
        ("protocols/tank.toml", sound),
    ];
    let folder = crate::run::Folder::new(&files);
    let list = folder.run(&["protocols", "list"]);
    assert_eq!(list.code, Some(0), "{}", list.stderr);
    let about = |name: &str| {
        let line = list.stdout.lines().find(|l| l.starts_with(name));
        let line = line.unwrap_or_else(|| panic!("{name} is not in\n{}", list.stdout));
        line[name.len()..].trim().to_owned()
    };
    assert_eq!(about("tank"), "an invented tank meter");
    assert!(about("pond").starts_with("does not hold: "));
    let check = folder.run(&["protocols", "check", "pond", "tank", "--json"]);
    assert_eq!(check.code, Some(1));
    let lines: Vec<serde_json::Value> = check
        .stdout
        .lines()
        .map(|l| serde_json::from_str(l).expect("JSON"))
        .collect();
    assert_eq!(
        (lines[0]["holds"].as_bool(), lines[1]["holds"].as_bool()),
        (Some(false), Some(true))
    );
    let problem = lines[0]["problems"][0].as_str().expect("words");
    assert!(
        problem.contains("delimted") && problem.contains("delimited"),
        "{problem}"
    );
}
