//! Tests of reading profiles: a file as text in, what it holds or what is said out.

use super::*;

fn d(text: &str) -> Decimal {
    text.parse().expect("a decimal")
}

/// What is said about a file, a line each.
fn said(text: &str) -> String {
    let all = read(text).wrong;
    let lines = all
        .iter()
        .map(|w| format!("{}:{}: {}", w.line, w.column, w.message));
    lines.collect::<Vec<_>>().join("\n")
}

/// One profile with `lines` behind its name and source.
fn with(lines: &str) -> String {
    format!("[[profile]]\nname = \"ponds\"\nsource = \"invented\"\n{lines}\n")
}

/// A profile that does not hold: nothing of it is read, and this is said.
#[track_caller]
fn refused(lines: &str, saying: &str) {
    let text = with(lines);
    assert!(read(&text).profiles.is_empty(), "{lines}");
    let said = said(&text);
    assert!(said.contains(saying), "{lines}: {saying:?} not in {said:?}");
}

#[track_caller]
fn holds(lines: &str) {
    let text = with(lines);
    assert_eq!(said(&text), "", "{lines}");
    assert_eq!(read(&text).profiles.len(), 1, "{lines}");
}

#[test]
fn the_shipped_file_has_no_mistake() {
    assert_eq!(read::embedded().wrong, []);
    let names = |all: Vec<&str>| all.join(" ");
    assert_eq!(
        names(shipped().iter().map(|p| p.name.as_str()).collect()),
        "ieee43 kv-plus-one megohm-per-kv wiring machinery pump-a pump-b twice two-and-a-half"
    );
    assert_eq!(
        names(
            shipped_bands()
                .iter()
                .map(|b| b.name.as_str())
                .collect::<Vec<_>>()
        ),
        "trade ieee43-a ieee43-b ieee43-f ieee43-h set-a set-b set-c"
    );
}

#[test]
fn what_is_written_out_reads_back_the_same() {
    let all: Vec<String> = shipped()
        .iter()
        .map(toml::profile)
        .chain(shipped_bands().iter().map(toml::bands))
        .collect();
    // Another name, since a shipped one may not be written anew.
    let text = all.join("\n").replace("name = \"", "name = \"own-");
    let read = read(&text);
    assert_eq!(read.wrong, []);
    let own = |name: &Text| Text::clean(&format!("own-{name}"));
    let profiles: Vec<Profile> = shipped()
        .into_iter()
        .map(|p| Profile {
            name: own(&p.name),
            ..p
        })
        .collect();
    let bands: Vec<Bands> = shipped_bands()
        .into_iter()
        .map(|b| Bands {
            name: own(&b.name),
            ..b
        })
        .collect();
    assert_eq!((read.profiles, read.bands), (profiles, bands));
}

#[test]
fn what_a_capture_carries_reads_back_the_same() {
    for profile in shipped() {
        let json = serde_json::to_string(&profile).expect("plain data");
        let back: Profile = serde_json::from_str(&json).expect("reads");
        assert_eq!(back, profile);
    }
}

#[test]
fn numbers_keep_the_digits_that_were_written() {
    for (written, digits) in [
        ("0.5", "0.5"),
        ("1.25", "1.25"),
        ("1e3", "1000"),
        ("+2", "2"),
        ("1_000", "1000"),
        ("\"0.70\"", "0.70"),
        // No binary number has these digits.
        ("12345.6789012345678", "12345.6789012345678"),
    ] {
        let text = with(&format!("minimum = [{{ megohm = {written} }}]"));
        let read = read(&text);
        assert_eq!(read.wrong, [], "{written}");
        let megohm = read.profiles[0].minimum[0].megohm;
        assert_eq!(megohm.to_string(), digits, "{written}");
        assert_eq!(megohm, d(digits));
    }
    for bad in ["nan", "inf", "0x10", "\"0,5\"", "\"5 M\"", "true", "[1]"] {
        refused(
            &format!("minimum = [{{ megohm = {bad} }}]"),
            "megohm: expected",
        );
    }
}

#[test]
fn each_mistake_has_its_line_and_column_and_the_rest_is_read() {
    let text = "\
[[profile]]
name = \"ponds\"
minimum = [{ megohm = 1 }]

[[profile]]
name = \"tanks\"
source = \"invented\"
mark_s = 0
minimum = [{ megohm = 1 }]

[[profile]]
name = \"raceways\"
source = \"invented\"
minimum = [{ megohm = 2 }]

[[bands]]
name = \"slow\"
kind = \"pie\"
source = \"invented\"
bounds = [1, 2]
";
    let said = said(text);
    let lines: Vec<&str> = said.lines().collect();
    assert!(lines[0].starts_with("1:1: source is missing"), "{said}");
    assert!(
        lines[1].starts_with("8:10: mark_s: expected seconds"),
        "{said}"
    );
    assert!(
        lines[2].starts_with("18:8: kind: \"pie\" is unknown; nearest: pi"),
        "{said}"
    );
    assert_eq!(lines.len(), 3);
    let read = read(text);
    assert_eq!(read.profiles.len(), 1);
    assert_eq!(read.profiles[0].name.as_str(), "raceways");
}

#[test]
fn a_minimum_is_a_plausible_number_of_megohms() {
    for lines in [
        "minimum = [{ megohm = 0.05 }]",
        "minimum = [{ megohm = 100000 }]",
        "minimum = [{ megohm_per_kv = 1, at_least_megohm = 0.5 }]",
        "minimum = [{ below_v = 1000, megohm = 5 }, { megohm = 100 }]",
        "minimum = [{ up_to_v = 50, megohm = 0.5 }, { below_v = 51, megohm = 1 }]",
        // 1 + 1 at the edge of 1000 V, then 2.
        "minimum = [{ up_to_v = 1000, megohm = 1, megohm_per_kv = 1 }, { megohm = 2 }]",
    ] {
        holds(lines);
    }
    for (lines, saying) in [
        ("minimum = [{ megohm = 0 }]", "at least 0.05"),
        ("minimum = [{}]", "at least 0.05"),
        ("minimum = [{ megohm = 0.0005 }]", "at least 0.05"),
        ("minimum = [{ megohm = 500000 }]", "0 to 100000"),
        ("minimum = [{ megohm = -1 }]", "0 to 100000"),
        ("minimum = [{ megohm_per_kv = 1 }]", "at_least_megohm"),
        (
            "minimum = [{ below_v = 1000, megohm = 100 }, { megohm = 5 }]",
            "does not fall",
        ),
        (
            "minimum = [{ up_to_v = 1000, megohm = 1, megohm_per_kv = 1 }, { megohm = 1.9 }]",
            "does not fall",
        ),
        (
            "minimum = [{ megohm = 5 }, { below_v = 1000, megohm = 5 }]",
            "never holds",
        ),
        (
            "minimum = [{ condition = \"new\", megohm = 5 }, { condition = \"new\", megohm = 9 }]",
            "never holds",
        ),
        (
            "minimum = [{ below_v = 9, up_to_v = 9, megohm = 5 }]",
            "found both",
        ),
        ("minimum = [{ below_v = 0, megohm = 5 }]", "volts above 0"),
        ("", "nothing to judge by"),
        ("minimum = 5", "expected { key = value }"),
        ("minimum = [{ megohms = 5 }]", "nearest: megohm"),
    ] {
        refused(lines, saying);
    }
}

#[test]
fn a_test_voltage_is_a_band_or_a_multiple() {
    holds("test_voltage = [{ low_v = 250, high_v = 500 }]");
    holds("test_voltage = [{ low_v = 500, high_v = 500 }]");
    holds("test_voltage = [{ up_to_v = 300, times = 2 }, { low_v = 500, high_v = 1000 }]");
    for (line, saying) in [
        ("{}", "either low_v and high_v, or times"),
        ("{ low_v = 250 }", "either low_v and high_v, or times"),
        (
            "{ low_v = 250, high_v = 500, times = 2 }",
            "either low_v and high_v, or times",
        ),
        ("{ low_v = 500, high_v = 250 }", "is above high_v"),
        ("{ low_v = 0, high_v = 250 }", "volts above 0"),
        ("{ low_v = 500, high_v = 50000 }", "up to 10000"),
        ("{ times = 0 }", "a factor above 0"),
        ("{ times = 25 }", "up to 5"),
    ] {
        refused(&format!("test_voltage = [{line}]"), saying);
    }
}

#[test]
fn marks_and_corrections_are_what_the_judge_can_do() {
    holds("mark_s = 60\ncorrect_to_c = 40\nminimum = [{ megohm = 1 }]");
    for (lines, saying) in [
        ("mark_s = 0", "leave it out for a spot test"),
        ("mark_s = 60000", "from 1 to 3600"),
        ("mark_s = -1", "a whole number"),
        ("mark_s = 0.5", "a whole number"),
        ("mark_s = \"60\"", "a whole number"),
        ("correct_to_c = 20", "expected 40"),
        ("corect_to_c = 40", "nearest: correct_to_c"),
    ] {
        refused(&format!("{lines}\nminimum = [{{ megohm = 1 }}]"), saying);
    }
}

#[test]
fn a_name_is_written_once_and_never_a_shipped_one() {
    let again = with("minimum = [{ megohm = 1 }]").repeat(2);
    assert_eq!(read(&again).profiles.len(), 1);
    assert!(said(&again).starts_with("6:8: \"ponds\" is already in this file"));
    let shipped = with("minimum = [{ megohm = 1 }]").replace("ponds", "ieee43");
    assert!(read(&shipped).profiles.is_empty());
    assert!(said(&shipped).contains("comes with the program"));
    // A profile may have the name of bands: they are never asked for in one place.
    let other = with("minimum = [{ megohm = 1 }]").replace("ponds", "trade");
    assert_eq!(said(&other), "");
}

#[test]
fn bands_rise_or_have_one_minimum() {
    let bands = |lines: &str| {
        format!("[[bands]]\nname = \"slow\"\nkind = \"dar\"\nsource = \"invented\"\n{lines}\n")
    };
    for lines in ["bounds = [1]", "bounds = [1, 1.25]", "minimum = 1.4"] {
        assert_eq!(said(&bands(lines)), "", "{lines}");
    }
    for (lines, saying) in [
        ("", "neither bounds nor minimum"),
        ("bounds = []", "neither bounds nor minimum"),
        ("bounds = [1, 2]\nminimum = 2", "found both"),
        ("bounds = [2, 1]", "that rise"),
        ("bounds = [1, 1.0]", "that rise"),
        ("bounds = [0, 1]", "above 0"),
        ("bounds = [1, \"x\"]", "bounds: expected"),
        ("bounds = 2", "expected numbers such as"),
        ("minimum = 0", "above 0"),
    ] {
        let text = bands(lines);
        assert!(read(&text).bands.is_empty(), "{lines}");
        let said = said(&text);
        assert!(said.contains(saying), "{lines}: {said}");
    }
}

#[test]
fn what_is_no_toml_has_its_place_too() {
    assert!(
        said("[[profile]\nname = 1\n").starts_with("1:"),
        "{}",
        said("[[profile]\n")
    );
    assert!(said("profiles = 1\n").contains("nearest: profile"));
    assert_eq!(said(""), "");
}
