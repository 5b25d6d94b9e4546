//! `report`: worked jobs of `captures/jobs` in a data folder of their own, and
//! what their print says, as text. Values are those of the scenes' tables
//! (`worked_jobs.rs`); words that must be there are safety's.

use std::path::{Path, PathBuf};

use stillohm::disk::RealDisk;
use stillohm::log::Log;
use stillohm::row::{Event, Recorded, Row};

use super::job::of_pump_3;
use super::run::{Folder, Ran};
use super::serve::{BY_EYE, Daemon};

/// Whatever would say that energizing is safe, in any print.
const NEVER: [&str; 9] = [
    "safe to",
    "is safe",
    "may be energized",
    "can be energized",
    "may energize",
    "ready to run",
    "ready for use",
    "fit for",
    "ok to",
];

const KINDS: [&[&str]; 3] = [&[], &["--customer"], &["--label"]];

fn jobs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("captures/jobs")
}

/// A data folder `data` with a worked job, its rows changed before they are written.
fn data(name: &str, change: impl FnOnce(&mut Vec<Row>)) -> Folder {
    let capture = jobs().join(format!("{name}.pcapng"));
    let folder = Folder::new(&[("data/captures/none", "")]);
    let path = capture.to_str().expect("a path in words");
    let log = folder.run(&["replay", path]);
    assert_eq!(log.code, Some(0), "{}", log.stderr);
    let lines = log.stdout.lines().skip(1);
    let mut rows: Vec<Row> = lines
        .map(|line| Recorded::from_line(line).expect("a row").row)
        .collect();
    let named = folder.path("data/captures").join(&rows[0].capture);
    std::fs::copy(&capture, named).expect("copied");
    change(&mut rows);
    let (mut log, _) = Log::open(&folder.path("data/log"), RealDisk).expect("opens");
    log.append(rows).expect("written");
    log.sync().expect("synced");
    folder
}

fn report(folder: &Folder, args: &[&str]) -> Ran {
    folder.run(&[&["report", "--data", "data"], args].concat())
}

/// What a reader sees of HTML, a space between its parts.
fn text(html: &str) -> String {
    let (_, body) = html.split_once("<body").expect("a body");
    let mut text = String::new();
    let mut inside = true;
    for c in body.chars() {
        match c {
            '<' => inside = true,
            '>' if inside => {
                inside = false;
                text.push(' ');
            }
            c if !inside => text.push(c),
            _ => {}
        }
    }
    for (escaped, plain) in [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&amp;", "&"),
    ] {
        text = text.replace(escaped, plain);
    }
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn check(folder: &Folder, args: &[&str], says: &[&str], says_not: &[&str]) -> String {
    let ran = report(folder, args);
    assert_eq!(ran.code, Some(0), "{args:?}: {}", ran.stderr);
    let text = text(&ran.stdout);
    for words in says {
        assert!(
            text.contains(words),
            "{args:?}: {words:?} is not in: {text}"
        );
    }
    for words in says_not {
        assert!(!text.contains(words), "{args:?}: {words:?} is in: {text}");
    }
    ran.stdout
}

/// The chain of the last row of an event, `SEQ:CHAIN`.
fn seal(folder: &Folder, event: Event) -> String {
    let dir = folder.path("data/log");
    let file = std::fs::read_dir(&dir)
        .expect("a log")
        .map(|entry| entry.expect("an entry").path())
        .find(|path| path.extension().is_some_and(|e| e == "csv"))
        .expect("a file");
    let log = std::fs::read_to_string(file).expect("text");
    let rows = log
        .lines()
        .skip(1)
        .filter_map(|line| Recorded::from_line(line).ok());
    let last = rows.filter(|r| r.row.event == event).last().expect("one");
    format!("{}:{}", last.seq, last.chain)
}

#[test]
fn a_report_says_values_limits_rules_meters_and_where_its_rows_stand() {
    let folder = data("shorted-turns", |_| {});
    let seal = seal(&folder, Event::JobEnd);
    let html = check(
        &folder,
        &["J2"],
        &[
            "Test report: AB-03",
            "stage arrival measured by Ada",
            "DO NOT ENERGIZE: fault found",
            "winding line 12 5.09 Ω",
            "winding line 23 4.321 Ω",
            "4.6 to 5.4 Ω",
            "FAIL, low",
            "FAIL, unbalanced",
            "simple acceptance: a value passes inside its limits",
            "guarded acceptance: a value passes only where",
            "U (k = 2)",
            "row 9: No trace: its capture cannot be read.",
            "turns shorted in one phase",
            "turn-to-turn weakness, bearings or rotor",
            "authorised by",
            &seal,
        ],
        &["<script", "line_12"],
    );
    let text = text(&html);
    let at = |words: &str| text.find(words).expect(words);
    assert!(at("Mind, before any step") < at("Check next"));
    assert!(html.contains("size: 210mm 297mm"));
    // Six points of the motor, the worst first.
    check(
        &folder,
        &["J2", "--label"],
        &[
            "winding line 23: 4.266 Ω FAIL, low winding line 31: 4.256 Ω FAIL, low winding set: FAIL, unbalanced and 3 more: see the report",
        ],
        &[],
    );
    let letter = check(&folder, &["J2", "--paper", "letter"], &[], &[]);
    assert!(letter.contains("size: 215.9mm 279.4mm"));
}

/// The demo's log: J3 is whole, with a hold of the insulation tester.
#[test]
fn each_value_has_its_trace_and_each_hold_its_test_voltage() {
    let folder = data("../hatchery", |_| {});
    let html = check(
        &folder,
        &["J3"],
        &["row 16, winding main", "test V", "at least 38 Ω", "10 s"],
        &["No trace"],
    );
    let taken = ["value", "open"].map(|event| {
        let log = std::fs::read_to_string(folder.path("data/log/readings-2026-11.csv"));
        let log = log.expect("a log");
        let own = log.lines().filter(|line| line.contains(",J3,"));
        own.filter(|line| line.contains(&format!(",{event},")))
            .count()
    });
    let drawn = html.matches("<svg class=\"curve\"").count();
    assert_eq!(drawn, taken.iter().sum::<usize>());
}

#[test]
fn meters_have_their_numbers_certificates_and_last_check_also_beside_a_daemon() {
    let config = format!(
        "{BY_EYE}serial_number = \"SN 4711\"\ncertificate = \"C-2025-07\"\ncalibrated_on = \"2025-07-01\"\ncalibration_due = \"2999-06-30\"\n"
    );
    let folder = Folder::new(&[("stillohm.toml", &config)]);
    let daemon = Daemon::start(&folder, &[]);
    let prove = |shown: &str, code| {
        let known = ["prove", "gauge", "--known", "100 ohm 0.1 %"];
        let ran = folder.run(&[&known[..], &["--shown", shown, "--leads", "0.2"]].concat());
        assert_eq!(ran.code, Some(code), "{}", ran.stderr);
    };
    prove("100.9", 0);
    prove("100.8", 0);
    let said = of_pump_3(&folder, "2.41", &[]);
    let (name, _) = said.split_once(" incomplete: ").expect("an end");
    let name = name.rsplit(char::is_whitespace).next().expect("a name");
    // What comes after the job says nothing of it.
    prove("103.0", 1);
    check(
        &folder,
        &[name],
        &[
            "gauge SN 4711 C-2025-07 2025-07-01 2999-06-30 checked, row ",
            "100.8 Ω",
            "No trace: a person typed it.",
            "DO NOT ENERGIZE",
            "incomplete: winding main not judged, ground all to ground not measured",
        ],
        &["100.9 Ω", "103.0 Ω"],
    );
    assert_eq!(daemon.stop(), Some(0));
}

/// The demo's J20: main, start and their set pass, the total has no limits.
#[test]
fn a_part_that_was_judged_in_part_is_told_so() {
    let folder = data("../hatchery", |_| {});
    check(
        &folder,
        &["J20", "--customer"],
        &[
            "measure as they should. Not all of that was judged.",
            "Current can leak from the windings to the metal",
            "The insulation, which keeps current inside the wires, was not judged.",
        ],
        &[],
    );
}

#[test]
fn wet_insulation_is_told_in_plain_words_and_on_a_label() {
    let folder = data("wet-insulation", |_| {});
    let seal = seal(&folder, Event::JobEnd);
    check(
        &folder,
        &["J2", "--customer"],
        &[
            "Your motor CP-11",
            "DO NOT ENERGIZE, do not switch it on: a fault was found",
            "Current can leak from the windings to the metal",
            "The insulation, which keeps current inside the wires, is worse than it may be.",
            "Keep the motor switched off and locked",
            // The end of the job, at 08:00:45.9, asks for 8 s more.
            "Keep the winding shorted to ground until 2025-10-10 08:00:54 UTC",
        ],
        &["MΩ", "PASS", "below_minimum"],
    );
    check(
        &folder,
        &["J2", "--label"],
        &[
            "CP-11 HB-CP 40; arrival, 2025-10-10, J2 DO NOT ENERGIZE",
            "ground all to ground: 180 kΩ FAIL, to ground",
            "insulation all to ground: 157 kΩ FAIL, below minimum",
            "winding main: 41.23 Ω pass, within",
            "Keep the winding shorted to ground until 2025-10-10",
            &seal,
        ],
        &["leads before"],
    );
}

#[test]
fn no_print_of_any_worked_job_says_that_energizing_is_safe() {
    let mut seen = 0;
    for entry in std::fs::read_dir(jobs()).expect("captures") {
        let path = entry.expect("an entry").path();
        if path.extension().is_none_or(|e| e != "pcapng") {
            continue;
        }
        let name = path.file_stem().and_then(|n| n.to_str()).expect("a name");
        let mut found = String::new();
        let mut job = String::new();
        let folder = data(name, |rows| {
            let end = rows
                .iter()
                .rfind(|r| r.event == Event::JobEnd)
                .expect("ends");
            found = end.reason.split(':').next().unwrap_or_default().to_owned();
            job.clone_from(&end.job);
        });
        for kind in KINDS {
            let html = check(&folder, &[&[job.as_str()], kind].concat(), &[], &[]);
            let text = text(&html).to_lowercase();
            for words in NEVER {
                assert!(
                    !text.contains(words),
                    "{name} {kind:?}: {words:?} is in {text}"
                );
            }
            let warned = text.contains("do not energize");
            assert_eq!(
                warned,
                found != "no_fault_found",
                "{name} {kind:?}: {found}"
            );
            assert!(
                text.contains("turn"),
                "{name} {kind:?}: what cannot be shown"
            );
        }
        seen += 1;
    }
    assert!(seen >= 10, "{seen} jobs");
}

/// A row that takes another back, of the job's own words.
fn back(rows: &[Row], of: u64, why: &str) -> Row {
    let of_row = &rows[usize::try_from(of).expect("small") - 1];
    let last = rows.last().expect("some");
    let mut row = Row::new(Event::Withdrawn, last.recorded_at);
    row.of_seq = Some(of);
    row.job.clone_from(&of_row.job);
    row.tester = String::from("Bea");
    row.reason = String::from(why);
    row
}

#[test]
fn a_row_withdrawn_after_the_end_is_struck_and_forbids_what_the_job_came_to() {
    let folder = data("nothing-found", |rows| {
        let why = "the wrong motor was clipped";
        rows.push(back(rows, 9, why));
    });
    let html = check(
        &folder,
        &["J2"],
        &[
            "DO NOT ENERGIZE: row 9 withdrawn after the job had ended, measure again",
            ", Bea: the wrong motor was clipped",
        ],
        &[],
    );
    assert!(html.contains("<s>40.72 Ω</s>"), "struck through");
    assert_eq!(html.matches("<s>winding main</s>").count(), 1);
    check(
        &folder,
        &["J2", "--label"],
        &["DO NOT ENERGIZE", "row 9 withdrawn"],
        &["winding main", "No fault found by these tests"],
    );
    check(
        &folder,
        &["J2", "--customer"],
        &[
            "DO NOT ENERGIZE, do not switch it on: a measurement was taken back",
            "were not judged",
        ],
        &["No fault was found", "found nothing wrong"],
    );
}

#[test]
fn a_job_that_found_nothing_says_so_and_what_that_does_not_show() {
    let folder = data("nothing-found", |_| {});
    check(
        &folder,
        &["J2"],
        &["no fault found by these tests"],
        &["DO NOT ENERGIZE"],
    );
    check(
        &folder,
        &["J2", "--customer"],
        &[
            "No fault was found by these measurements",
            "That does not prove that the motor is sound",
            "worn bearings or a damaged rotor",
        ],
        &["DO NOT ENERGIZE"],
    );
    check(
        &folder,
        &["J2", "--label"],
        &["No fault found by these tests", "1.766 GΩ"],
        &[],
    );
}

/// A figure was changed in a file: no print of the job that holds it, or of a later
/// one, is as good as before.
#[test]
fn a_log_that_does_not_hold_clears_nothing_and_is_1() {
    let folder = data("nothing-found", |_| {});
    let file = std::fs::read_dir(folder.path("data/log"))
        .expect("a log")
        .map(|entry| entry.expect("an entry").path())
        .find(|path| path.extension().is_some_and(|e| e == "csv"))
        .expect("a file");
    let log = std::fs::read_to_string(&file).expect("text");
    assert!(log.contains("1.766 GΩ"));
    std::fs::write(&file, log.replace("1.766 GΩ", "9.766 GΩ")).expect("written");
    for kind in KINDS {
        let ran = report(&folder, &[&["J2"], kind].concat());
        assert_eq!(ran.code, Some(1), "{kind:?}: {}", ran.stderr);
        assert!(
            ran.stderr.contains("the log does not hold from row"),
            "{}",
            ran.stderr
        );
        let text = text(&ran.stdout);
        assert!(text.contains("DO NOT ENERGIZE"), "{kind:?}: {text}");
        assert!(kind != ["--label"] || !text.contains("9.766"), "{text}");
        assert!(!text.contains("No fault was found"), "{kind:?}: {text}");
        assert!(
            !text.contains("No fault found by these tests"),
            "{kind:?}: {text}"
        );
    }
}

#[test]
fn a_job_without_an_end_concludes_nothing() {
    let folder = data("nothing-found", |rows| {
        rows.retain(|r| !matches!(r.event, Event::JobEnd | Event::RunEnd | Event::CaptureEnd));
    });
    let seal = seal(&folder, Event::Value);
    check(
        &folder,
        &["J2"],
        &[
            "DO NOT ENERGIZE: not ended",
            "NOT ENDED: nothing is concluded",
            "ended not ended",
            &seal,
        ],
        &["no fault found"],
    );
    check(
        &folder,
        &["J2", "--customer"],
        &["DO NOT ENERGIZE, do not switch it on: the measurements are not finished"],
        &["No fault was found"],
    );
    check(
        &folder,
        &["J2", "--label"],
        &["DO NOT ENERGIZE"],
        &["No fault"],
    );
}

#[test]
fn a_winding_that_nobody_shorted_after_a_test_voltage_is_said_to_be_charged() {
    const CHARGED: &str = "NOT DISCHARGED: the winding was under test voltage";
    let over = [Event::JobEnd, Event::RunEnd, Event::CaptureEnd];
    let shorted = |row: &Row| row.reason.contains("keep it shorted for");
    let open = data("nothing-found", |rows| {
        rows.retain(|r| !over.contains(&r.event) && !shorted(r));
    });
    let ended = data("nothing-found", |rows| {
        let end = rows.iter_mut().rfind(|r| r.event == Event::JobEnd);
        end.expect("ends").reason = format!(
            "no_fault_found: no fault found by these tests; {CHARGED} and no short to ground was confirmed"
        );
    });
    let confirmed = data("nothing-found", |rows| {
        rows.retain(|r| !over.contains(&r.event));
    });
    for kind in KINDS {
        let args = [&["J2"], kind].concat();
        check(&open, &args, &[CHARGED], &[]);
        check(&ended, &args, &[CHARGED], &["shorted to ground until"]);
        check(&confirmed, &args, &["shorted to ground until"], &[CHARGED]);
    }
}

#[test]
fn stages_of_one_asset_stand_side_by_side() {
    let folder = data("wet-insulation", |rows| {
        // The same motor again, dried: rows of another job of the same asset.
        let ended = rows
            .iter()
            .rposition(|r| r.event == Event::JobEnd)
            .expect("ends");
        let (from, next) = (1, rows.len() + 1);
        let mut again: Vec<Row> = rows[from..=ended].to_vec();
        for row in &mut again {
            row.job = format!("J{next}");
            row.recorded_at = row.recorded_at.plus(std::time::Duration::from_secs(86_400));
            row.note = row.note.replace("\"arrival\"", "\"dried\"");
            if row.test == "ground" {
                row.shown = String::from("2.50 MΩ");
                row.judged_ohms = "2500000".parse().ok();
                row.verdict = stillohm::row::Verdict::from_word("pass");
                row.finding = None;
            }
        }
        rows.extend(again);
    });
    let log = std::fs::read_to_string(folder.path("data/log/readings-2025-10.csv")).expect("a log");
    let second = log
        .lines()
        .rfind(|line| line.contains(",job_start,"))
        .expect("a start");
    let job = format!("J{}", second.split(',').next().expect("a number"));
    check(
        &folder,
        &[&job, "J2"],
        &[
            "Stages side by side",
            "arrival, 2025-10-10, J2",
            &format!("dried, 2025-10-11, {job}"),
            "ground all to ground 180 kΩ FAIL, to ground 2.5 MΩ pass",
        ],
        &[],
    );
    check(
        &folder,
        &["J2", &job, "--customer"],
        &["Measured before 2025-10-10 (arrival): DO NOT ENERGIZE"],
        &[],
    );
}

#[test]
fn a_name_that_no_job_has_is_2_with_those_there_are() {
    let folder = data("nothing-found", |_| {});
    for (name, expected) in [
        ("J22", "found none called J22; there is J2 (CP-07)"),
        ("CP-07", "found none called CP-07; there is J2 (CP-07)"),
        ("J02", "there is J2 (CP-07)"),
        ("3", "found none called 3; there is J2 (CP-07)"),
    ] {
        let ran = report(&folder, &[name]);
        assert_eq!(ran.code, Some(2), "{name}: {}", ran.stderr);
        assert!(ran.stderr.contains(expected), "{name}: {}", ran.stderr);
        assert_eq!(ran.stdout, "");
    }
    ran!([] "report" "J2" => 2, stderr "stillohm-data: expected a data folder with a log in it");
    ran!([] "report" => 2, stderr "<JOB>");
    let ran = report(&folder, &["J2", "--out", "page.docx"]);
    assert_eq!(ran.code, Some(2));
    assert!(
        ran.stderr.contains("ends in .html or .pdf"),
        "{}",
        ran.stderr
    );
    let ran = report(&folder, &["J2", "--label", "--customer"]);
    assert_eq!(ran.code, Some(2), "{}", ran.stderr);
    let ran = report(&folder, &["J2", "--out", "not/there.pdf"]);
    assert_eq!(ran.code, Some(3), "{}", ran.stderr);
}

#[test]
fn markup_in_names_is_words() {
    const NAME: &str = "</style><script>alert(1)</script>\"';}<b>&";
    let folder = data("nothing-found", |rows| {
        for row in rows {
            if !row.job.is_empty() {
                row.asset = String::from(NAME);
                row.tester = String::from(NAME);
                row.motor = String::from(NAME);
            }
        }
    });
    std::fs::write(
        folder.path("stillohm.toml"),
        format!("[shop]\nname = '''{NAME}'''\naddress = ['''{NAME}''']\n"),
    )
    .expect("written");
    for kind in KINDS {
        let html = check(&folder, &[&["J2"], kind].concat(), &[NAME], &[]);
        assert!(
            !html.contains("<script") && !html.contains("<b>"),
            "{kind:?}"
        );
        assert_eq!(html.matches("</style>").count(), 1, "{kind:?}");
    }
}

#[test]
fn a_pdf_is_written_whole_and_says_what_it_cannot_show() {
    let folder = data("nothing-found", |rows| {
        for row in rows.iter_mut().filter(|r| !r.job.is_empty()) {
            row.asset = String::from("鯉-1");
        }
    });
    for kind in KINDS {
        let ran = report(&folder, &[&["J2", "--out", "a.pdf"], kind].concat());
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        assert!(
            ran.stderr.contains("a box for each of 鯉"),
            "{}",
            ran.stderr
        );
        let pdf = std::fs::read(folder.path("a.pdf")).expect("a file");
        assert!(pdf.starts_with(b"%PDF-1.7") && pdf.trim_ascii_end().ends_with(b"%%EOF"));
    }
    assert!(!folder.path("a.pdf.new").exists());
    let shop = |logo: &str| format!("[shop]\nlogo = \"{logo}\"\n");
    std::fs::write(
        folder.path("fish.svg"),
        "<svg xmlns=\"http://www.w3.org/2000/svg\"/>",
    )
    .expect("written");
    std::fs::write(folder.path("fish.png"), "no picture").expect("written");
    std::fs::write(folder.path("stillohm.toml"), shop("fish.svg")).expect("written");
    let ran = report(&folder, &["J2", "--out", "a.pdf"]);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(ran.stderr.contains("shop.logo is an SVG"), "{}", ran.stderr);
    let html = check(&folder, &["J2"], &[], &[]);
    assert!(html.contains("<img src=\"data:image/svg+xml;base64,"));
    std::fs::write(folder.path("stillohm.toml"), shop("fish.png")).expect("written");
    let ran = report(&folder, &["J2", "--out", "a.pdf"]);
    assert_eq!(ran.code, Some(2), "{}", ran.stderr);
    assert!(
        ran.stderr.contains("not a whole PNG file"),
        "{}",
        ran.stderr
    );
    std::fs::write(folder.path("stillohm.toml"), shop("none.png")).expect("written");
    let ran = report(&folder, &["J2"]);
    assert_eq!(ran.code, Some(2), "{}", ran.stderr);
    assert!(
        ran.stderr.contains("none.png: cannot be read"),
        "{}",
        ran.stderr
    );
}
