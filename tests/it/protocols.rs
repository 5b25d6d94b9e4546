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
