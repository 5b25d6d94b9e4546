//! `calc` as people and programs ask it.

use crate::run::Folder;

pub(super) fn one(args: &str) -> (Option<i32>, String, String) {
    let words: Vec<&str> = core::iter::once("calc").chain(args.split(' ')).collect();
    let ran = Folder::new(&[]).run(&words);
    (ran.code, ran.stdout, ran.stderr)
}

/// One calculation that has a result, which must be exactly this text.
pub(super) fn gives(args: &str, expected: &str) {
    let (code, stdout, stderr) = one(args);
    assert_eq!(code, Some(0), "{args}: {stderr}");
    let object: serde_json::Value = serde_json::from_str(&stdout).expect("one JSON object");
    for key in ["unit", "formula", "source"] {
        assert!(
            object[key].as_str().is_some_and(|s| !s.is_empty()),
            "{args}: {key}"
        );
    }
    assert!(
        stdout.starts_with(&format!("{{\"result\":{expected},\"unit\":")),
        "{args}: {stdout}"
    );
}

/// One calculation that is refused with code 1 and these words.
pub(super) fn refuses(args: &str, words: &str) {
    let (code, stdout, stderr) = one(args);
    assert_eq!((code, stdout.as_str()), (Some(1), ""), "{args}: {stderr}");
    assert!(
        stderr.contains(words),
        "{args}: {words:?} is not in {stderr}"
    );
}

/// `calc NAME --rows` over one text: the code and all of stdout.
fn rows(name: &str, input: &str, code: i32, expected: &str) {
    let ran = Folder::new(&[("in.csv", input)]).run(&["calc", name, "--rows", "in.csv"]);
    assert_eq!(
        (ran.code, ran.stdout.as_str()),
        (Some(code), expected),
        "{}",
        ran.stderr
    );
}

/// Expected by hand.
#[test]
fn a_result_is_one_object_with_its_unit_formula_and_source() {
    gives("lead-null shown_ohm=2.6 leads_ohm=0.3", "2.3");
    gives(
        "lead-null shown_ohm=1.2345678901234567 leads_ohm=1e-16",
        "1.2345678901234566",
    );
    gives(
        "three-wire-sum main_ohm=0.1 start_ohm=0.2 total_ohm=0.3",
        "0",
    );
    gives(
        "three-wire-sum main_ohm=4 start_ohm=11 total_ohm=14.97",
        "-0.03",
    );
    gives(
        "three-wire-sum main_ohm=1.2345678901234567 start_ohm=1 total_ohm=2",
        "-0.2345678901234567",
    );
    gives("unbalance r1=1 r2=1 r3=4", "100");
    gives("wye-phases r12=2.2 r23=2.6 r31=2.4", "\"1;1.2;1.4\"");
    gives("delta-phases r12=9 r23=4.5 r31=4.5", "\"open;4.5;4.5\"");
    gives("delta-phases r12=0.3 r23=0.1 r31=0.2", "\"open;0.1;0.2\"");
    gives("guarded-limits u=0.125 lower=1", "\"1.25;\"");
    gives("guarded-limits u=0.125 upper=2", "\";1.75\"");
    gives("meter-uncertainty value=0 resolution=0 percent=1", "0");
    gives("insulation-at-40c megohm=12 temp_c=20", "3");
    gives("winding-temperature r1_ohm=80 t1_c=20 r2_ohm=100", "83.625");
    gives("fault-distance loop_ohm=0 awg=00", "0");
    gives("insulation-minimum rated_v=460 profile=kv-plus-one", "1.46");
    gives("insulation-minimum rated_v=400", "5");
    gives(
        "insulation-test-voltage rated_v=230 profile=two-and-a-half",
        "\"575;575\"",
    );
    gives(
        "ratio early_megohm=120 late_megohm=180",
        "\"1.5;not_judged\"",
    );
    gives(
        "ratio early_megohm=1.2345678901234567 late_megohm=2.4691357802469134 profile=trade",
        "\"2;2_to_4\"",
    );
}

#[test]
fn what_a_person_should_know_stands_in_a_note() {
    for (args, note) in [
        (
            "insulation-at-40c megohm=12 temp_c=20 insulation=thermosetting",
            "from memory",
        ),
        ("fault-distance loop_ohm=1 area_mm2=2.5", "lies nearer"),
        (
            "insulation-test-voltage rated_v=460",
            "twice says 920 to 920 V: the rules disagree",
        ),
        (
            "insulation-test-voltage rated_v=115 profile=twice",
            "ieee43 says 500 to 500 V",
        ),
        (
            "ratio early_megohm=5001 late_megohm=10002 profile=trade",
            "above 5000 megohm",
        ),
        (
            "ratio early_megohm=100 late_megohm=130 kind=dar profile=set-a",
            "disagree",
        ),
        (
            "winding-at-temperature r1_ohm=1 t1_c=68 t2_c=212",
            "Fahrenheit",
        ),
        (
            "winding-at-temperature r1_ohm=1 t1_c=20 t2_c=75 k_c=23.45",
            "check it",
        ),
    ] {
        let (code, stdout, _) = one(args);
        assert_eq!(code, Some(0));
        let object: serde_json::Value = serde_json::from_str(&stdout).expect("an object");
        assert!(
            object["note"].as_str().is_some_and(|n| n.contains(note)),
            "{stdout}"
        );
    }
    let (_, stdout, _) = one("winding-at-temperature r1_ohm=1 t1_c=20 t2_c=75");
    assert!(!stdout.contains("note"), "{stdout}");
}

#[test]
fn what_is_no_number_is_refused() {
    for bad in [
        "NaN", "inf", "-inf", "1e999", "1e-999", "5%", "1,5", "OL", "2.2k", "2.2ohm", "22kΩ",
        "1;2", "0x10", "1_000", "1e", ".", "-", "−5", "٣",
    ] {
        refuses(&format!("unbalance r1=1 r2={bad} r3=1"), "r2:");
    }
    let ran = Folder::new(&[]).run(&["calc", "unbalance", "r1=1 2", "r2=1", "r3=1"]);
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
}

#[test]
fn what_lies_outside_a_domain_is_refused() {
    for (args, words) in [
        (
            "winding-at-temperature r1_ohm=1 t1_c=-234.5 t2_c=20",
            "above -234.5",
        ),
        (
            "winding-at-temperature r1_ohm=1 t1_c=20 t2_c=-273.15 k_c=300",
            "above -273.15",
        ),
        (
            "winding-at-temperature r1_ohm=1 t1_c=20 t2_c=20 k_c=0",
            "k above 0",
        ),
        (
            "winding-at-temperature r1_ohm=-1 t1_c=20 t2_c=20",
            "0 or more",
        ),
        (
            "winding-at-temperature r1_ohm=1e308 t1_c=20 t2_c=2000",
            "too large",
        ),
        ("winding-temperature r1_ohm=0 t1_c=20 r2_ohm=1", "above 0"),
        ("winding-temperature r1_ohm=1 t1_c=20 r2_ohm=0", "above 0"),
        (
            "winding-temperature r1_ohm=1 t1_c=20 r2_ohm=0.01 k_c=300",
            "above -273.15",
        ),
        ("conductor length_m=0 awg=14", "length above 0"),
        ("conductor length_m=-5 awg=14", "length above 0"),
        ("conductor length_m=1 area_mm2=0", "area above 0"),
        ("conductor length_m=1", "found neither"),
        ("conductor length_m=1 awg=14 area_mm2=2", "found both"),
        ("conductor length_m=1 awg=14.5", "AWG size"),
        ("conductor length_m=1 awg=5/0", "AWG size"),
        (
            "conductor length_m=1 awg=14 material=Copper",
            "nearest: copper",
        ),
        (
            "conductor length_m=1 awg=14 stranding=braided",
            "nearest: stranded",
        ),
        (
            "cable-loop length_m=1 awg=14 material=aluminium temp_c=-228",
            "above -228",
        ),
        ("lead-null shown_ohm=0.3 leads_ohm=0.4", "above the reading"),
        ("lead-null shown_ohm=0.3 leads_ohm=-0.1", "0 or more"),
        (
            "insulation-at-40c megohm=1 temp_c=9.9 insulation=thermosetting",
            "from 10 to 85",
        ),
        (
            "insulation-at-40c megohm=1 temp_c=85.1 insulation=thermosetting",
            "from 10 to 85",
        ),
        ("insulation-at-40c megohm=-1 temp_c=20", "0 or more"),
        ("insulation-at-40c megohm=1 temp_c=-274", "above -273.15"),
        ("unbalance r1=0 r2=0 r3=0", "mean is 0"),
        ("unbalance r1=0.1 r2=0.2 r3=-0.3", "mean is 0"),
        ("wye-phases r12=1 r23=1 r31=3", "below 0"),
        ("delta-phases r12=1 r23=1 r31=0", "above 0"),
        ("delta-phases r12=1 r23=1 r31=3", "more than the sum"),
        ("delta-phases r12=1 r23=1 r31=1 resolution=-1", "0 or more"),
        ("meter-uncertainty value=1 resolution=-0.1", "0 or more"),
        ("conformity value=1 u=0 upper=2", "u above 0"),
        ("conformity value=1 u=0.1", "at least one limit"),
        ("conformity value=1 u=0.1 lower=2 upper=1", "above upper"),
        ("guarded-limits u=0.1", "at least one limit"),
        ("guarded-limits u=0.3 lower=1 upper=2", "too large"),
        ("fault-distance loop_ohm=-1 awg=14", "0 ohm or more"),
        ("insulation-minimum rated_v=0", "above 0"),
        (
            "insulation-minimum rated_v=-400 profile=pump-a condition=bench-used",
            "above 0",
        ),
        (
            "insulation-minimum rated_v=1e300 profile=kv-plus-one",
            "no motor's voltage",
        ),
        (
            "insulation-minimum rated_v=1000.1 profile=machinery",
            "to 1000",
        ),
        (
            "insulation-minimum rated_v=50.1 profile=wiring condition=selv",
            "to 50",
        ),
        (
            "insulation-minimum rated_v=400 profile=pump-a",
            "needs a condition",
        ),
        (
            "insulation-minimum rated_v=400 profile=pump-a condition=splice",
            "no condition \"splice\"",
        ),
        (
            "insulation-minimum rated_v=400 condition=bench-used",
            "no condition \"bench-used\"",
        ),
        (
            "insulation-minimum rated_v=400 profile=kv-plus-one condition=field",
            "it has none",
        ),
        (
            "insulation-minimum rated_v=400 profile=ieee34",
            "nearest: ieee43",
        ),
        ("insulation-minimum rated_v=400 profile=twice", "no minimum"),
        ("insulation-test-voltage rated_v=0", "above 0"),
        (
            "insulation-test-voltage rated_v=400 profile=twise",
            "nearest: twice",
        ),
        ("ratio early_megohm=0 late_megohm=1", "above 0"),
        ("ratio early_megohm=-1 late_megohm=1", "above 0"),
        ("ratio early_megohm=1 late_megohm=-1", "at least 0"),
        ("ratio early_megohm=1 late_megohm=1 kind=PI", "nearest: pi"),
        (
            "ratio early_megohm=1 late_megohm=1 profile=set-a",
            "not of pi",
        ),
        (
            "ratio early_megohm=1 late_megohm=1 kind=dar profile=trade",
            "not of dar",
        ),
        (
            "ratio early_megohm=1 late_megohm=1 profile=trad",
            "nearest: trade",
        ),
        ("ratio early_megohm=1e-300 late_megohm=1", "check the unit"),
        ("unbalance r1=1 r2=1", "r3: nothing given"),
        ("unbalance r1=1 r2=1 r3=", "r3: nothing given"),
    ] {
        refuses(args, words);
    }
}

#[test]
fn small_and_large_results_keep_their_digits() {
    for (args, expected) in [
        // 1e-9 · 309.5/254.5, by hand.
        (
            "winding-at-temperature r1_ohm=1e-9 t1_c=20 t2_c=75",
            1.216_110_019_646e-9,
        ),
        ("insulation-at-40c megohm=1e-9 temp_c=0", 6.25e-11),
        ("conformity value=6 u=1 upper=0", 9.865_876_45e-10),
        (
            "conductor length_m=1e-6 area_mm2=1000",
            1e-6 / 58.0 / 1000.0,
        ),
        ("winding-at-temperature r1_ohm=1e200 t1_c=20 t2_c=20", 1e200),
    ] {
        let (code, stdout, stderr) = one(args);
        assert_eq!(code, Some(0), "{stderr}");
        let object: serde_json::Value = serde_json::from_str(&stdout).expect("an object");
        let got = object["result"].as_f64().expect("a number");
        assert!((got / expected - 1.0).abs() < 1e-9, "{args}: {got}");
    }
}

#[test]
fn an_unknown_name_or_key_is_2_with_the_nearest() {
    ran!([] "calc" "conducter" => 2, stderr "nearest: conductor");
    ran!([] "calc" "conductor" "lenght_m=5" => 2, stderr "nearest: length_m");
    ran!([] "calc" "conductor" "5" => 2, stderr "expected KEY=VALUE");
    ran!([] "calc" "conductor" "length_m=5" "length_m=6" => 2, stderr "given twice");
    ran!([] "calc" "--rows" "in.csv" => 2, stderr "name the calculation");
    ran!([] "calc" "conducter" "--rows" "in.csv" => 2, stderr "nearest: conductor");
    ran!([] "calc" "conductor" "--rows" "in.csv" => 2, stderr "in.csv: cannot be read");
    ran!([("in.csv", "")] "calc" "conductor" "--rows" "in.csv" => 2, stderr "expected a header line");
    ran!([("in.csv", "x\n")] "calc" "conductor" "length_m=5" "--rows" "in.csv" => 2, stderr "every key is a column");
}

#[test]
fn the_list_names_every_calculation_with_its_keys() {
    let listed =
        ran!([] "calc" => 0, stdout "winding-at-temperature r1_ohm=… t1_c=… t2_c=… [k_c=234.5]");
    let same = ran!([] "calc" "list" => 0, stdout "conformity value=… u=… [lower=…] [upper=…]");
    assert_eq!(listed.stdout, same.stdout);
    let json = ran!([] "calc" "--json" => 0);
    for line in json.stdout.lines() {
        let about: serde_json::Value = serde_json::from_str(line).expect("a JSON line");
        let name = about["name"].as_str().expect("a name");
        assert!(listed.stdout.contains(name));
        assert!(
            about["keys"]
                .as_array()
                .is_some_and(|k| k.iter().any(|k| k["required"] == true)),
            "{name}"
        );
    }
}

#[test]
fn a_refused_row_stops_nothing_and_the_columns_come_back_as_they_were() {
    rows(
        "unbalance",
        "id,r1,r2,r3,free words\n7,1,1,4,\"a, \"\"b\"\"\"\n8,1,,4,x\n9, 2 ,2,2,\n",
        1,
        "id,r1,r2,r3,free words,result,unit,note,error\n\
         7,1,1,4,\"a, \"\"b\"\"\",100,percent,,\n\
         8,1,,4,x,,,,\"r2: nothing given, it is required\"\n\
         9, 2 ,2,2,,0,percent,,\n",
    );
}

#[test]
fn a_file_from_a_spreadsheet_is_read() {
    rows(
        "lead-null",
        "\u{feff}shown_ohm,leads_ohm\r\n2.6,0.3\r\n\r\n\"4.3\",\"0.8\"\r\n",
        0,
        "shown_ohm,leads_ohm,result,unit,note,error\n2.6,0.3,2.3,ohm,,\n4.3,0.8,3.5,ohm,,\n",
    );
    rows(
        "lead-null",
        "shown_ohm,leads_ohm\n2.6,0.3",
        0,
        "shown_ohm,leads_ohm,result,unit,note,error\n2.6,0.3,2.3,ohm,,\n",
    );
    rows(
        "lead-null",
        "shown_ohm,leads_ohm\n",
        0,
        "shown_ohm,leads_ohm,result,unit,note,error\n",
    );
}

#[test]
fn a_row_of_another_width_is_refused_and_the_next_one_is_not() {
    rows(
        "lead-null",
        "shown_ohm,leads_ohm\n2.6\n2.6,0.3,9\n2.6,0.3\n",
        1,
        "shown_ohm,leads_ohm,result,unit,note,error\n\
         2.6,,,,,\"expected 2 cells as in the header, found 1\"\n\
         2.6,0.3,,,,\"expected 2 cells as in the header, found 3\"\n\
         2.6,0.3,2.3,ohm,,\n",
    );
}

/// Ours are the last four, whatever the file's own columns are called.
#[test]
fn columns_that_are_called_like_ours_are_passed_on() {
    rows(
        "lead-null",
        "note,error,shown_ohm,leads_ohm,unit\nmine,none,2.6,0.3,kilo\n",
        0,
        "note,error,shown_ohm,leads_ohm,unit,result,unit,note,error\nmine,none,2.6,0.3,kilo,2.3,ohm,,\n",
    );
}

#[test]
fn a_key_without_a_column_is_named_and_so_is_what_looks_like_it() {
    rows(
        "lead-null",
        "shown_ohm,lead_ohm\n2.6,0.3\n",
        1,
        "shown_ohm,lead_ohm,result,unit,note,error\n\
         2.6,0.3,,,,leads_ohm: there is no such column and it is required; nearest: lead_ohm\n",
    );
    rows(
        "lead-null",
        "shown_ohm,shown_ohm,leads_ohm\n2.6,2.7,0.3\n",
        1,
        "shown_ohm,shown_ohm,leads_ohm,result,unit,note,error\n\
         2.6,2.7,0.3,,,,shown_ohm: two columns have this name: which one counts?\n",
    );
    // An optional key in a misspelt column would silently take its default.
    rows(
        "guarded-limits",
        "u,upper,w_facter\n0.125,2,2\n",
        0,
        "u,upper,w_facter,result,unit,note,error\n\
         0.125,2,2,;1.75,unit of the limits,the column w_facter is no key and not used; w_factor is the nearest,\n",
    );
}

#[test]
fn an_empty_optional_cell_is_its_default() {
    rows(
        "winding-temperature",
        "r1_ohm,t1_c,r2_ohm,k_c\n80,20,100,\n80,20,100,235\n",
        0,
        "r1_ohm,t1_c,r2_ohm,k_c,result,unit,note,error\n80,20,100,,83.625,celsius,,\n80,20,100,235,83.75,celsius,,\n",
    );
}

#[test]
fn cells_that_are_not_utf8_come_back_and_a_number_of_them_is_refused() {
    let folder = Folder::new(&[]);
    std::fs::write(
        folder.path("in.csv"),
        b"who,shown_ohm,leads_ohm\nM\xfcller,2.6,0.3\nx,2.6\xb5,0.3\n",
    )
    .expect("a file");
    let output = folder
        .command(&["calc", "lead-null", "--rows", "in.csv"])
        .output()
        .expect("starts");
    assert_eq!(output.status.code(), Some(1));
    let expected: &[u8] = b"who,shown_ohm,leads_ohm,result,unit,note,error\nM\xfcller,2.6,0.3,2.3,ohm,,\nx,2.6\xb5,0.3,,,,shown_ohm: not UTF-8\n";
    assert_eq!(output.stdout, expected);
}
