//! The worked jobs of `captures/jobs`: whole jobs, replayed to what they came to.
//!
//! Each scene has a table written by hand: what each point must read by Ohm's
//! law from the scene's own motor (leads 0.121 Ω of the ohmmeter, the cable,
//! the winding, in series), and what the rules make of it. Beside the capture
//! lies the text (`NAME.txt`) that `replay --jobs` gives; DEVELOPERS.md says how
//! it is made anew. The scenes are in `examples/worked_jobs`.

use std::path::{Path, PathBuf};

use stillohm::row::{Event, Recorded};

/// Ohms may differ by two counts of a display of 6000, at most this part.
const NEAR: f64 = 0.006;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("captures/jobs")
}

fn replay(name: &str, further: &[&str]) -> String {
    let file = folder().join(format!("{name}.pcapng"));
    let ran = std::process::Command::new(env!("CARGO_BIN_EXE_stillohm"))
        .arg("replay")
        .arg(&file)
        .args(further)
        .output()
        .expect("runs");
    assert!(
        ran.status.success(),
        "{name}: {}",
        String::from_utf8_lossy(&ran.stderr)
    );
    String::from_utf8(ran.stdout).expect("text")
}

fn rows(text: &str) -> Vec<Recorded> {
    let lines = text.lines().skip(1);
    lines
        .map(|line| Recorded::from_line(line).expect("a row"))
        .collect()
}

/// What a job came to: each point's last word as `test point shown verdict
/// finding`, in order; ohms as `over` or a number, `=` where an earlier row
/// is judged anew and keeps what it shows.
fn points(rows: &[Recorded]) -> Vec<[String; 5]> {
    let judged = |r: &&Recorded| {
        let event = r.row.event;
        let measured = matches!(event, Event::Value | Event::Open | Event::OverRange);
        (measured || event == Event::Judged) && r.row.point != "contact"
    };
    let mut found: Vec<(String, [String; 5])> = Vec::new();
    for r in rows.iter().filter(judged) {
        let row = &r.row;
        let key = format!("{} {} {}", row.test, row.point, row.meter);
        let shown = match (row.event, row.value_ohms) {
            (Event::Judged, _) => String::from("="),
            (_, Some(ohms)) => ohms.to_f64().to_string(),
            _ => String::from("over"),
        };
        let words = |w: Option<String>| w.unwrap_or_else(|| String::from("-"));
        let mut line = [
            row.test.clone(),
            row.point.clone(),
            shown,
            words(row.verdict.map(|v| v.to_string())),
            words(row.finding.map(|f| f.to_string())),
        ];
        match found.iter_mut().find(|(k, _)| {
            *k == key
                || row.event == Event::Judged
                    && k.starts_with(&format!("{} {} ", row.test, row.point))
        }) {
            Some((_, known)) => {
                if line[2] == "=" {
                    line[2].clone_from(&known[2]);
                }
                *known = line;
            }
            None => found.push((key, line)),
        }
    }
    found.into_iter().map(|(_, line)| line).collect()
}

/// Compares a scene with its table: lines of `test point shown verdict
/// finding`, then the outcome, then the diagnosis by its first names.
#[track_caller]
fn check(name: &str, table: &str, outcome: &str, diagnosis: &[&str]) {
    let log = replay(name, &[]);
    assert_eq!(
        log,
        replay(name, &[]),
        "{name}: twice the same, byte for byte"
    );
    let rows = rows(&log);
    let found = points(&rows);
    let expected: Vec<Vec<&str>> = table
        .lines()
        .map(|line| line.split_whitespace().collect())
        .filter(|words: &Vec<&str>| !words.is_empty())
        .collect();
    let said: Vec<String> = found.iter().map(|line| line.join(" ")).collect();
    assert_eq!(found.len(), expected.len(), "{name}: {said:#?}");
    for (found, expected) in found.iter().zip(&expected) {
        let near = match (found[2].parse::<f64>(), expected[2].parse::<f64>()) {
            (Ok(found), Ok(expected)) => (found - expected).abs() <= NEAR * expected.abs() + 0.002,
            _ => found[2] == expected[2] || expected[2] == "*",
        };
        let words = [0, 1, 3, 4].map(|at| found[at].as_str());
        assert!(
            near && words == [expected[0], expected[1], expected[3], expected[4]],
            "{name}: expected {}, found {}",
            expected.join(" "),
            found.join(" ")
        );
    }
    let end = rows
        .iter()
        .find(|r| r.row.event == Event::JobEnd)
        .expect("the job ends");
    let came_to = end.row.reason.split(':').next().unwrap_or_default();
    assert_eq!(came_to, outcome, "{name}: {}", end.row.reason);
    let told = replay(name, &["--jobs"]);
    assert_eq!(names(&told), diagnosis, "{name}: {told}");
    let text = folder().join(format!("{name}.txt"));
    let golden = std::fs::read_to_string(&text).unwrap_or_default();
    assert!(
        golden == told,
        "{name}: the text differs from {}; if it reads as it should, renew it (DEVELOPERS.md): {told}",
        text.display()
    );
}

/// The names of the patterns found, the first first.
fn names(told: &str) -> Vec<&str> {
    let (_, after) = told.split_once("WHAT IT MAY MEAN").expect("a diagnosis");
    let named = after
        .lines()
        .filter_map(|line| line.trim().split_once(", from row"));
    named.map(|(name, _)| name).collect()
}

/// 40.6 Ω and leads of 0.121 are 40.72; the tester's top at 6 GΩ beside
/// absorption of 0.5 GΩ · 10^0.7 after 10 s: 1 / (1/6 + 1/2.506) = 1.77 GΩ.
#[test]
fn nothing_found() {
    check(
        "nothing-found",
        "leads       before         0.121   pass  within
         leads       before         0       pass  within
         ground_path path           0.181   pass  within
         winding     main           40.721  pass  within
         ground      all_to_ground  over    pass  no_fault_seen
         insulation  all_to_ground  1.77e9  pass  within
         leads       after          0.121   pass  within
         leads       after          0       pass  within",
        "no_fault_found",
        &["nothing_found"],
    );
}

/// Legs of 2.48, 2.49 and 1.71: 4.97, 4.20 and 4.19 Ω between the lines. The
/// mean is 4.453, the largest deviation 0.517: 11.6 %, above 5 % (rule 10).
/// Limits 4.6 to 5.4: the two through the third lead are low (rule 7).
#[test]
fn shorted_turns() {
    check(
        "shorted-turns",
        "leads       before         0.121   pass  within
         leads       before         0       pass  within
         ground_path path           0.211   pass  within
         winding     line_12        5.091   pass  within
         winding     line_23        4.321   fail  low
         winding     line_31        4.311   fail  low
         winding     set            =       fail  unbalanced
         ground      all_to_ground  over    pass  no_fault_seen
         insulation  all_to_ground  1.366e9 pass  within
         leads       after          0.121   pass  within
         leads       after          0       pass  within",
        "fault_found",
        &["turns_shorted"],
    );
}

/// Start leg broken: main reads 2.13, the two pairs through start nothing.
#[test]
fn open_start_winding() {
    check(
        "open-start-winding",
        "leads       before         0.121   pass  within
         leads       before         0       pass  within
         ground_path path           0.191   pass  within
         winding     main           2.251   pass  within
         winding     start          over    fail  open
         winding     total          over    fail  open
         winding     set            =       fail  open
         ground      all_to_ground  over    pass  no_fault_seen
         insulation  all_to_ground  1.113e9 pass  within
         leads       after          0.121   pass  within
         leads       after          0       pass  within",
        "fault_found",
        &["open_on_one_lead"],
    );
}

/// Phases of 7.5 Ω in delta: sound 5.0 between lines; without the one across
/// 1 and 2: 15.0 there, 7.5 and 7.5 elsewhere, 2 : 1 : 1 (rule 10), nothing over-range.
#[test]
fn open_delta_phase() {
    check(
        "open-delta-phase",
        "leads       before         0.121   pass  within
         leads       before         0       pass  within
         ground_path path           0.211   pass  within
         winding     line_12        15.121  fail  high
         winding     line_23        7.621   fail  high
         winding     line_31        7.621   fail  high
         winding     set            =       fail  open
         ground      all_to_ground  over    pass  no_fault_seen
         insulation  all_to_ground  1.366e9 pass  within
         leads       after          0.121   pass  within
         leads       after          0       pass  within",
        "fault_found",
        &["open_delta_phase"],
    );
}

/// 1.26 Ω on each pair where 5.0 belongs: a quarter, and equal (rule 10).
#[test]
fn wrong_connection() {
    check(
        "wrong-connection",
        "leads       before         0.121   pass  within
         leads       before         0       pass  within
         ground_path path           0.211   pass  within
         winding     line_12        1.381   fail  low
         winding     line_23        1.381   fail  low
         winding     line_31        1.381   fail  low
         winding     set            =       pass  within
         ground      all_to_ground  over    pass  no_fault_seen
         insulation  all_to_ground  1.366e9 pass  within
         leads       after          0.121   pass  within
         leads       after          0       pass  within",
        "fault_found",
        &["wrong_connection"],
    );
}

/// 2.08, 5.62 and 7.70 Ω, each behind 1.92 Ω of cable; the sum is short by one
/// cable loop. A sound motor must not fail for a cable nobody subtracted.
#[test]
fn cable_not_subtracted() {
    check(
        "cable-not-subtracted",
        "leads       before         0.121   pass       within
         leads       before         0       pass       within
         ground_path path           0.431   pass       within
         winding     main           4.121   undecided  high
         winding     start          7.661   undecided  high
         winding     total          9.741   not_judged -
         winding     set            =       undecided  sum_mismatch
         ground      all_to_ground  over    pass       no_fault_seen
         insulation  all_to_ground  6.07e8  pass       within
         leads       after          0.121   pass       within
         leads       after          0       pass       within",
        "undecided",
        &["cable_left_in"],
    );
}

/// 180 kΩ to the frame: below 1 MΩ for the ohmmeter, and 1 mA into it is less
/// than 180 V, so that the tester never holds its voltage (rule 15). Under
/// voltage it reads less than the ohmmeter: water, and no resistor left in.
#[test]
fn wet_insulation_with_a_weak_tester() {
    check(
        "wet-insulation",
        "leads       before         0.121   pass  within
         leads       before         0       pass  within
         ground_path path           0.181   pass  within
         winding     main           40.721  pass  within
         ground      all_to_ground  180e3   fail  to_ground
         insulation  all_to_ground  *       fail  below_minimum
         leads       after          0.121   pass  within
         leads       after          0       pass  within",
        "fault_found",
        &["tester_pulled_down", "insulation_low"],
    );
}

/// The wire left the tester's clip before the hold: over-range, as perfect
/// insulation reads, and joined clips read over-range after it (rule 1).
#[test]
fn fallen_clip() {
    check(
        "fallen-clip",
        "leads       before         0.121   pass       within
         leads       before         0       pass       within
         ground_path path           0.181   pass       within
         winding     main           40.721  pass       within
         ground      all_to_ground  over    pass       no_fault_seen
         insulation  all_to_ground  over    undecided  leads_unproven
         leads       after          0.121   pass       within
         leads       after          over    fail       open",
        "undecided",
        &["lead_broken", "leads_unproven"],
    );
}

/// The ground conductor is broken: over-range to a second ground, and whatever
/// is read to it proves nothing (rule 3). The cable of 1.92 Ω is subtracted.
#[test]
fn no_ground_path() {
    check(
        "no-ground-path",
        "leads       before         0.121   pass       within
         leads       before         0       pass       within
         ground_path path           over    undecided  ground_path_unproven
         winding     main           4.121   pass       within
         winding     start          7.661   pass       within
         winding     total          9.741   not_judged -
         winding     set            =       pass       within
         ground      all_to_ground  over    undecided  ground_path_unproven
         insulation  all_to_ground  over    undecided  ground_path_unproven
         leads       after          0.121   pass       within
         leads       after          0       pass       within",
        "undecided",
        &["ground_path_unproven"],
    );
}

/// No insulation point is asked for; more than 50 V on the clips all the same
/// (rule 14). The windings and the low-voltage ground test go on.
#[test]
fn electronics() {
    check(
        "electronics",
        "leads       before         0.121   pass       within
         ground_path path           0.181   pass       within
         winding     main           12.021  pass       within
         insulation  all_to_ground  *       not_judged test_forbidden
         ground      all_to_ground  over    pass       no_fault_seen
         leads       after          0.121   pass       within",
        "undecided",
        &["test_voltage_forbidden", "electronics_inside"],
    );
}

/// 0.42 Ω in steps of 0.1 Ω between limits of 0.38 and 0.46, guarded: U is at
/// least √(0.1²/12 · 2) · 2 = 0.08, twice that is wider than the limits (rule 6).
#[test]
fn meter_too_coarse() {
    check(
        "meter-too-coarse",
        "leads       before         0.1     pass       within
         leads       before         0       pass       within
         ground_path path           0.2     pass       within
         winding     line_12        0.5     undecided  limits_too_narrow
         winding     line_23        0.5     undecided  limits_too_narrow
         winding     line_31        0.5     undecided  limits_too_narrow
         winding     set            =       undecided  limits_too_narrow
         ground      all_to_ground  over    pass       no_fault_seen
         insulation  all_to_ground  1.366e9 pass       within
         leads       after          0.1     pass       within
         leads       after          0       pass       within",
        "undecided",
        &["meter_too_coarse"],
    );
}

/// The display kept 2.251 through three points: start is low by its limits and
/// 2.13 is not 2.13 + 2.13. What it means is the display, not the motor.
#[test]
fn held_display() {
    check(
        "held-display",
        "leads       before         0.121   pass       within
         leads       before         0       pass       within
         ground_path path           0.191   pass       within
         winding     main           2.251   pass       within
         winding     start          2.251   fail       low
         winding     total          2.251   not_judged -
         winding     set            =       fail       sum_mismatch
         ground      all_to_ground  over    pass       no_fault_seen
         insulation  all_to_ground  1.113e9 pass       within
         leads       after          0.121   pass       within
         leads       after          0       pass       within",
        "fault_found",
        &["display_held"],
    );
}

/// The same on a meter that tells: nothing is taken while it is held.
#[test]
fn held_display_that_the_meter_tells() {
    check(
        "held-display-told",
        "leads       before         0.12    pass       within
         leads       before         0       pass       within
         ground_path path           0.19    pass       within
         winding     main           2.25    pass       within
         winding     start          5.86    pass       within
         winding     total          7.99    not_judged -
         winding     set            =       pass       within
         ground      all_to_ground  over    pass       no_fault_seen
         insulation  all_to_ground  1.113e9 pass       within
         leads       after          0.12    pass       within
         leads       after          0       pass       within",
        "no_fault_found",
        &["nothing_found"],
    );
}

#[test]
fn every_scene_has_its_capture_its_text_and_its_table_and_is_small() {
    let tables = include_str!("worked_jobs.rs");
    let entries = std::fs::read_dir(folder()).expect("captures/jobs is there");
    let mut count = 0;
    for entry in entries {
        let path = entry.expect("readable").path();
        if path.extension().is_none_or(|e| e != "pcapng") {
            continue;
        }
        let name = path.file_stem().expect("a name").to_string_lossy();
        assert!(tables.contains(&format!("\"{name}\",")), "{name}: no table");
        assert!(path.with_extension("txt").is_file(), "{name}: no text");
        let size = path.metadata().expect("readable").len();
        assert!(size < 300_000, "{name}: {size} bytes");
        count += 1;
    }
    assert!(count >= 12, "{count}");
}
