//! `replay` over files that carry no run of their own.

const HEADER: &str =
    "seconds,meter,shown,value,unit,resolution,over_range,test_voltage_v,hold_s,flags\n";

#[test]
fn a_hexlog_gives_each_reading_with_the_time_of_its_last_chunk() {
    // The end of a line that began before the port opened; then "4.3 ohm" in
    // two chunks, "OL", "22.7 kΩ".
    let hexlog = "# a bench meter\n0 ! opened\n0.25 < 37 0a\n0.5 < 34 2e 33 20 6f\n0.75 < 68 6d 0a\n1 < 4f 4c 0a\n1.25 < 32 32 2e 37 20 6b ce a9 0a\n";
    let ran = ran!([("a.hexlog", hexlog)] "replay" "a.hexlog" "--readings" => 0);
    let expected = "0.75,meter,4.3 Ω,4.3,ohm,0.1,no,,,\n1,meter,OL,,ohm,,yes,,,\n1.25,meter,22.7 kΩ,22700,ohm,100,no,,,\n";
    assert_eq!(ran.stdout, format!("{HEADER}{expected}"));
}

#[test]
fn a_text_file_has_no_time_of_its_own() {
    let text = "1.0 ohm\n1.1 ohm\n";
    ran!([("a.txt", text)] "replay" "a.txt" => 2, stderr "a text file has no time");
    let ran = ran!([("a.txt", text)] "replay" "a.txt" "--readings" => 0);
    assert_eq!(
        ran.stdout,
        format!("{HEADER}0,meter,1.0 Ω,1.0,ohm,0.1,no,,,\n0,meter,1.1 Ω,1.1,ohm,0.1,no,,,\n")
    );
    let ran = ran!([("a.txt", text)] "replay" "a.txt" "--readings" "--every" "0.25" => 0);
    assert!(
        ran.stdout
            .ends_with("\n0.25,meter,1.1 Ω,1.1,ohm,0.1,no,,,\n"),
        "{}",
        ran.stdout
    );
    ran!([("a.txt", text)] "replay" "a.txt" "--every" "0" => 2, stderr "expected seconds above 0");
}

#[test]
fn a_plateau_in_a_text_file_is_one_row() {
    let mut text = "OL\n".repeat(30);
    text += &"12.34 ohm\n".repeat(80);
    text += &"OL\n".repeat(30);
    let ran = ran!([("a.txt", &text)] "replay" "a.txt" "--every" "0.05" => 0);
    let values: Vec<&str> = ran
        .stdout
        .lines()
        .skip(1)
        .filter(|l| l.contains(",value,"))
        .collect();
    assert_eq!(values.len(), 1, "{}", ran.stdout);
    assert!(
        values[0].contains(",12.34,ohm,12.34,0.01,steady,"),
        "{}",
        values[0]
    );
    let last = ran.stdout.lines().last().expect("rows");
    assert!(last.contains(",run_end,"), "{last}");
}

#[test]
fn a_file_that_is_not_there_is_2_and_a_damaged_one_is_1() {
    ran!([] "replay" "none.pcapng" => 2, stderr "none.pcapng: cannot be read");
    ran!([("a.hexlog", "0 < zz\n")] "replay" "a.hexlog" "--readings" => 1, stderr "a.hexlog");
    ran!([("a.txt", "1\n")] "replay" "a.txt" "--readings" "--protocol" "text-lime" => 2, stderr "nearest: text-line");
}

#[test]
fn why_tells_what_each_contact_waited_for_and_what_settled_it() {
    let mut text = "OL\n".repeat(30);
    // It moves by 0.3 ohm a reading, then stands.
    for step in 0..20 {
        text += &format!("{}.{} ohm\n", 12 + step * 3 / 10, step * 3 % 10);
    }
    text += &"18.0 ohm\n".repeat(80);
    text += &"OL\n".repeat(30);
    let ran = ran!([("a.txt", &text)] "replay" "a.txt" "--every" "0.05" "--why" => 0);
    let lines: Vec<&str> = ran.stdout.lines().collect();
    assert_eq!(lines[0], "seconds,meter,contact,shown,state,why");
    let place = |words: &str| {
        let found = lines.iter().position(|l| l.contains(words));
        found.unwrap_or_else(|| panic!("{words:?} is not in\n{}", ran.stdout))
    };
    let moving = place(",meter,1,");
    assert!(lines[moving].contains(",moving,"), "{}", lines[moving]);
    let taken = place(",value,\"row 2: steady, ");
    assert!(
        lines[taken].contains(",meter,1,18.0 Ω,"),
        "{}",
        lines[taken]
    );
    assert!(place("0.000,meter,0,") < moving && moving < taken);
    assert!(taken < place(",taken; remove the clips"));
    assert!(lines.last().expect("lines").ends_with(",no contact"));
    assert!(!ran.stdout.contains(",meter,2,"), "{}", ran.stdout);
    ran!([("a.txt", &text)] "replay" "a.txt" "--readings" "--why" => 2, stderr "cannot be used with");
}

#[test]
fn what_gives_no_reading_is_said_and_nothing_but_that_is_1() {
    let some = "1.0 ohm\npond\n1.1 ohm\n";
    ran!([("a.txt", some)] "replay" "a.txt" "--readings" => 0, stderr "1 of the frames gave no reading");
    ran!([("a.txt", some)] "replay" "a.txt" "--every" "1" => 0, stderr "1 of the frames gave no reading");
    let none = "model,kind\npond-1,two_wire\n";
    for how in [
        ["--readings", "--every=1"],
        ["--rows", "--every=1"],
        ["--why", "--every=1"],
    ] {
        ran!([("a.txt", none)] "replay" "a.txt" how[0] how[1] => 1,
            stderr "a.txt: expected readings of text-line, found none in 2 frames", stderr "--protocol");
    }
    let ran = ran!([("a.txt", "1.0 ohm\n")] "replay" "a.txt" "--readings" => 0);
    assert_eq!(ran.stderr, "");
}

/// The gaps that a hexlog gives; `G` is a good line, `x` a line of noise.
#[track_caller]
fn gaps(chunks: &[(&str, &str)], expected: &[&str]) {
    let mut hexlog = String::from("0 ! opened\n0.1 < 0a\n");
    for (seconds, lines) in chunks {
        for line in lines.chars() {
            let hex = if line == 'G' { "35 0a" } else { "78 0a" };
            hexlog += &format!("{seconds} < {hex}\n");
        }
    }
    let ran = ran!([("a.hexlog", &hexlog)] "replay" "a.hexlog" => 0);
    let found: Vec<&str> = ran
        .stdout
        .lines()
        .filter_map(|line| line.split_once("meter: ")?.1.split(';').next())
        .collect();
    assert_eq!(found, expected, "{}", ran.stdout);
}

#[test]
fn a_frame_that_looks_good_by_chance_in_noise_makes_no_gap_row() {
    gaps(&[("1", "xGx"), ("20", "xGx"), ("40", "xxGxx")], &[]);
}

#[test]
fn a_meter_that_is_understood_again_after_noise_had_a_gap() {
    let twelve = ["12.0 s without data"];
    gaps(&[("1", "GG"), ("13", "GG")], &twelve);
    gaps(&[("1", "GG"), ("7", "xxx"), ("13", "GG")], &twelve);
    gaps(&[("1", "GG"), ("7", "xGx"), ("13", "xGG")], &[]);
    gaps(&[("1", "GG"), ("13", "x"), ("13", "GG")], &twelve);
}
