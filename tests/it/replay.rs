//! `replay` over files that carry no run of their own.

use stillohm::engine::REVISION;

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

/// A catalogue with other limits: HB-CP 40 read 40.599 Ω, now below 42; HB-AB 7
/// read 4.966, 4.200 and 4.190 Ω, now the first above 4.4 and the others
/// within. HB-WP 22 is missing.
const REVISED: &str = "model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source\nHB-CP 40,two_wire,230,25,42,48,,,,,no,machinery,revised plate\nHB-AB 7,three_phase,400,25,,,,,4.0,4.4,no,machinery,revised plate\n";

const CHANGED: &str = "seq,job,asset,motor,test,point,shown,verdict_before,verdict_after,finding_before,finding_after,why\n";

const HATCHERY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/captures/hatchery.pcapng");

#[test]
fn other_limits_tell_which_rows_come_out_otherwise_and_why() {
    let ran = ran!([("new.csv", REVISED)] "replay" HATCHERY "--motors" "new.csv" "--changes" => 0,
        stderr "J20 WP-02: motor \"HB-WP 22\" is not in the catalogue");
    let line =
        "limits 4.6 to 5.4 ohm → 4.0 to 4.4 ohm; source invented for the demo → revised plate";
    let expected = [
        format!("13,J2,AB-03,HB-AB 7,winding,line_12,5.15 Ω,pass,fail,within,high,{line}\n"),
        format!("15,J2,AB-03,HB-AB 7,winding,line_23,4.384 Ω,fail,pass,low,within,{line}\n"),
        String::from(
            "16,J3,CP-07,HB-CP 40,winding,main,40.72 Ω,pass,fail,within,low,limits 38.0 to 44.0 ohm → 42 to 48 ohm; source invented for the demo → revised plate\n",
        ),
        format!("17,J2,AB-03,HB-AB 7,winding,line_31,4.374 Ω,fail,pass,low,within,{line}\n"),
        // The three lines of J2 still differ too much: it comes to the same.
        String::from(
            "38,J3,CP-07,HB-CP 40,job_end,,,no_fault_found,fault_found,,,winding main pass within → fail low\n",
        ),
    ];
    assert_eq!(ran.stdout, format!("{CHANGED}{}", expected.concat()));
    let ran = ran!([("new.csv", REVISED)] "replay" HATCHERY "--motors" "new.csv" "--changes" "--json" => 0);
    let rows: Vec<serde_json::Value> = ran
        .stdout
        .lines()
        .map(|l| serde_json::from_str(l).expect("JSON"))
        .collect();
    assert_eq!((rows.len(), &rows[2]["finding_after"]), (5, &"low".into()));
}

#[test]
fn without_changes_the_rows_are_printed_and_their_number_is_said() {
    let ran = ran!([("new.csv", REVISED)] "replay" HATCHERY "--motors" "new.csv" => 0,
        stdout "fail,low", stderr "5 rows change verdict or finding");
    assert!(ran.stdout.starts_with("seq,recorded_at,event,"));
    ran!([] "replay" HATCHERY "--profile" "machinery" => 0, stderr "0 rows change");
    ran!([] "replay" HATCHERY "--profile" "machinry" => 2, stderr "nearest: machinery");
}

#[test]
fn a_condition_that_does_not_belong_to_the_profile_judges_nothing_again() {
    let kept = "the job keeps the limits that it had";
    let ran = ran!([] "replay" HATCHERY "--profile" "pump-b" "--changes" => 0,
        stderr "pump-b needs a condition: one of installed-used");
    assert!(ran.stderr.contains(kept), "{}", ran.stderr);
    assert_eq!(ran.stdout.lines().count(), 1, "{}", ran.stdout);
    let ran = ran!([] "replay" HATCHERY "--condition" "splice" "--changes" => 0, stderr kept);
    assert_eq!(ran.stdout.lines().count(), 1, "{}", ran.stdout);
    ran!([] "replay" "." "--jobs" => 2, stderr "found a folder");
}

/// Band A wants 200 MΩ of an unused motor on the bench: 1.780 GΩ − 0.109 GΩ
/// still passes, more than 60 MΩ does not say enough.
#[test]
fn another_profile_judges_ground_and_insulation_again() {
    let ran = ran!([] "replay" HATCHERY "--profile" "pump-a" "--condition" "bench-unused" "--changes" => 0);
    let rows: Vec<&str> = ran.stdout.lines().skip(1).collect();
    let begins: Vec<String> = rows
        .iter()
        .map(|r| r.split(',').take(11).collect::<Vec<_>>().join(","))
        .collect();
    assert_eq!(
        begins,
        [
            "22,J3,CP-07,HB-CP 40,ground,all_to_ground,over-range,undecided,undecided,leads_unproven,range_suspect",
            "34,J3,CP-07,HB-CP 40,ground,all_to_ground,,pass,,no_fault_seen,",
            "38,J3,CP-07,HB-CP 40,job_end,,,no_fault_found,undecided,,",
        ],
        "{}",
        ran.stdout
    );
    assert!(
        rows[0].contains("limits at least 1000000 ohm → at least 200000000 ohm")
            && rows[0].contains("profile machinery → pump-a"),
        "{}",
        rows[0]
    );
}

/// A reading of kilohms where ohms are expected is asked for once more
/// (rule 8): nobody measured it again, rows drift apart, later jobs have other
/// names, and still each row finds its own.
#[test]
fn rows_that_drift_apart_are_still_held_against_their_own() {
    // 40.599 Ω is 100 times 0.4: not kilohms, so it is high at once.
    let tiny = REVISED.replace("42,48", "0.3,0.4");
    let ran = ran!([("new.csv", &tiny)] "replay" HATCHERY "--motors" "new.csv" "--changes" => 0);
    assert!(
        ran.stdout
            .contains("16,J3,CP-07,HB-CP 40,winding,main,40.72 Ω,pass,fail,within,high,"),
        "{}",
        ran.stdout
    );
    // With electronics in it there is no insulation test: its rows are gone, no
    // leads of the tester are proven, and the jobs after it have other numbers.
    let drive = REVISED.replace("no,machinery,revised", "yes,machinery,revised");
    let ran = ran!([("new.csv", &drive)] "replay" HATCHERY "--motors" "new.csv" "--changes" => 0);
    assert!(
        ran.stdout.lines().any(|l| l.starts_with("30,J3,CP-07,")
            && l.contains(",insulation,all_to_ground,1.780 GΩ,pass,")
            && l.contains("electronics no → yes")),
        "{}",
        ran.stdout
    );
    assert!(!ran.stdout.contains(",J20,"), "{}", ran.stdout);
    assert!(!ran.stdout.contains(",J20,"), "{}", ran.stderr);
}

#[test]
fn a_log_that_says_otherwise_is_held_against_its_capture() {
    let folder = crate::run::Folder::new(&[("log/empty", "")]);
    std::fs::create_dir(folder.path("captures")).expect("a folder");
    let capture = folder.path("captures/20261126T045403Z.pcapng");
    std::fs::copy(HATCHERY, &capture).expect("copied");
    let log = std::fs::read_to_string(HATCHERY.replace(".pcapng", ".csv")).expect("a log");
    let changes = |log: &str| {
        std::fs::write(folder.path("log/readings-2026-11.csv"), log).expect("written");
        let ran = folder.run(&["replay", "captures/20261126T045403Z.pcapng", "--changes"]);
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        ran.stdout
    };
    assert_eq!(changes(&log), CHANGED);
    let other = log.replacen(",fail,low,", ",pass,within,", 1);
    let row = "15,J2,AB-03,HB-AB 7,winding,line_23,4.384 Ω,pass,fail,within,low,";
    let verify = "the log has it otherwise under the same engine revision: verify the log\n";
    assert_eq!(changes(&other), format!("{CHANGED}{row}{verify}"));
    of_an_older_engine(&capture);
    let older = format!("engine revision {} → {REVISION}\n", REVISION - 1);
    assert_eq!(changes(&other), format!("{CHANGED}{row}{older}"));
    ran!([] "replay" HATCHERY "--changes" => 2, stderr "expected other limits (--motors, --profile) or the log");
}

/// Makes a capture say that the engine before this one wrote it.
fn of_an_older_engine(capture: &std::path::Path) {
    let mut bytes = std::fs::read(capture).expect("a capture");
    let now = format!("\"engine\":{REVISION}");
    let at = bytes
        .windows(now.len())
        .position(|w| w == now.as_bytes())
        .expect("its beginning says which");
    let older = format!("\"engine\":{}", REVISION - 1);
    bytes[at..at + now.len()].copy_from_slice(older.as_bytes());
    std::fs::write(capture, bytes).expect("written");
}

/// Every file below a folder, with its bytes and when it was written.
fn all(dir: &std::path::Path) -> Vec<(std::path::PathBuf, Vec<u8>, std::time::SystemTime)> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(dir).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(all(&path));
            continue;
        }
        let written = std::fs::metadata(&path).and_then(|m| m.modified());
        let bytes = std::fs::read(&path).expect("a file");
        found.push((path, bytes, written.expect("a time")));
    }
    found.sort();
    found
}

#[test]
fn changes_write_nothing_whether_the_log_is_whole_or_torn() {
    let folder = crate::run::Folder::new(&[("log/empty", ""), ("new.csv", REVISED)]);
    std::fs::create_dir(folder.path("captures")).expect("a folder");
    let capture = "captures/20261126T045403Z.pcapng";
    std::fs::copy(HATCHERY, folder.path(capture)).expect("copied");
    let log = std::fs::read_to_string(HATCHERY.replace(".pcapng", ".csv")).expect("a log");
    let torn = log.trim_end().rsplit_once(',').expect("cells").0.to_owned();
    for log in [log, torn] {
        std::fs::write(folder.path("log/readings-2026-11.csv"), log).expect("written");
        let before = all(&folder.path("."));
        for more in [
            &[][..],
            &["--json"],
            &["--motors", "new.csv"],
            &["--profile", "pump-a", "--condition", "bench-unused"],
        ] {
            let args = [&["replay", capture, "--changes"], more].concat();
            folder.run(&args);
            assert!(all(&folder.path(".")) == before, "{args:?}");
        }
    }
}
