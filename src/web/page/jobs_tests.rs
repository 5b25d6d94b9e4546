//! A log in, the words of its pages out.

use std::collections::BTreeMap;
use std::path::Path;

use super::{jobs_list, jobs_one, number};
use crate::log::jobs::{Kept, written};
use crate::row::{Event, Finding, JobOutcome, Row, Verdict};
use crate::stamp::{Stamp, Wall};
use crate::view::{Ask, JobState, JobView, View};

/// 2026-03-01T00:00:00Z.
const MARCH: i64 = 1_772_323_200_000_000_000;

/// The words of a page as a person reads them, one space between any two.
fn words(page: &str) -> String {
    let mut out = String::new();
    for piece in page.split('<') {
        let text = piece.split_once('>').map_or(piece, |(_, text)| text);
        out += " ";
        out += text;
    }
    let out = out
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&amp;", "&");
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn list(log: &Kept, query: &str, view: &View, most: usize) -> String {
    let wanted = jobs_list::Wanted::read(query);
    let found = log.list(wanted.before, most, |job| wanted.fits(job));
    jobs_list::page(&wanted, view, &found.expect("reads")).into_string()
}

fn one(log: &Kept, name: &str, view: &View) -> String {
    let rows = log.rows(number(name).expect("a name")).expect("reads");
    assert!(!rows.is_empty(), "no rows of {name}");
    jobs_one::page(name, &rows, &BTreeMap::new(), view, true).into_string()
}

#[track_caller]
fn has(page: &str, expected: &[&str]) {
    let found = words(page);
    for words in expected {
        assert!(found.contains(words), "{words:?} is not in {found}");
    }
}

#[track_caller]
fn has_not(page: &str, unwanted: &[&str]) {
    let found = words(page);
    for words in unwanted {
        assert!(!found.contains(words), "{words:?} is in {found}");
    }
}

/// The names of the jobs that a page lists, in order.
fn named(page: &str) -> Vec<&str> {
    let links = page.split("href=\"/jobs/").skip(1);
    links.filter_map(|rest| rest.split('"').next()).collect()
}

/// `start pump model tester`, `end 1 outcome: why`, `value 1 winding main 2.31 pass within`,
/// `judged 1 3 ground all_to_ground fail`, `back 2 why`, `back_in 1 2 why`,
/// `review 3 who words`; words are joined by `_`.
fn row(seq: usize, line: &str) -> Row {
    let said: Vec<String> = line.split(' ').map(|w| w.replace('_', " ")).collect();
    let event = match said[0].as_str() {
        "start" => Event::JobStart,
        "end" => Event::JobEnd,
        "back" | "back in" => Event::Withdrawn,
        "judged" => Event::Judged,
        "review" => Event::Reviewed,
        _ => Event::Value,
    };
    let at = i64::try_from(seq).expect("few") * 60_000_000_000;
    let mut row = Row::new(event, Wall(MARCH + at));
    match said[0].as_str() {
        "start" => {
            row.job = format!("J{seq}");
            (row.asset, row.motor, row.tester) =
                (said[1].clone(), said[2].clone(), said[3].clone());
        }
        "end" => {
            row.job = format!("J{}", said[1]);
            // The outcome is a word of the log, underscores and all.
            let (outcome, why) = line[6..].split_once(':').expect("outcome: why");
            row.reason = format!("{outcome}:{}", why.replace('_', " "));
        }
        "back" => (row.of_seq, row.reason) = (said[1].parse().ok(), said[2].clone()),
        "back in" => {
            row.job = format!("J{}", said[1]);
            (row.of_seq, row.reason) = (said[2].parse().ok(), said[3].clone());
        }
        "review" => {
            row.of_seq = said[1].parse().ok();
            (row.tester, row.reason) = (said[2].clone(), said[3].clone());
        }
        "judged" => {
            row.job = format!("J{}", said[1]);
            row.of_seq = said[2].parse().ok();
            (row.test, row.point) = (said[3].clone(), said[4].clone());
            row.verdict = Verdict::from_word(&said[5]);
        }
        _ => {
            row.job = format!("J{}", said[1]);
            (row.test, row.point) = (said[2].clone(), said[3].clone());
            row.shown = format!("{} Ω", said[4]);
            row.judged_ohms = said[4].parse().ok();
            row.meter = String::from("ohms-1");
            row.verdict = Verdict::from_word(&said[5]);
            row.finding = Finding::from_word(&said[6].replace(' ', "_"));
        }
    }
    row
}

fn log(dir: &Path, lines: &[&str]) -> Kept {
    let rows = lines.iter().enumerate().map(|(at, line)| row(at + 1, line));
    written(dir, rows.collect())
}

fn running(job: &str, asset: &str, state: JobState) -> View {
    let job = JobView {
        job: job.to_owned(),
        bench: String::from("bench-1"),
        asset: asset.to_owned(),
        motor: String::from("HB-CP 40"),
        tester: String::from("Ada"),
        state,
        ask: Ask::default(),
        points: Vec::new(),
        outcome: JobOutcome::Incomplete,
        why: String::from("missing: winding main"),
        banners: vec![String::from("DO NOT ENERGIZE: no pass of ground")],
        discharge_until: Some(Stamp::from_nanos(40_000_000_000)),
        diagnosis: Vec::new(),
    };
    View {
        at: Stamp::from_nanos(10_500_000_000),
        jobs: vec![job],
        ..View::default()
    }
}

const FOUR: [&str; 7] = [
    "start pump_3 HB-CP_40 Ada",
    "end 1 no_fault_found:_none",
    "start Mill_1 HB-AB_7 Ben",
    "start pump_4 HB-CP_40 Ben",
    "end 3 fault_found:_winding_low",
    "end 4 no_fault_found:_none",
    "start well_2 HB-WP_22 Ada",
];

#[track_caller]
fn lists(log: &Kept, query: &str, expected: &[&str]) {
    let page = list(log, query, &View::default(), 50);
    assert_eq!(named(&page), expected, "{query}");
}

#[test]
fn jobs_are_listed_newest_first_and_filtered() {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(dir.path(), &FOUR);
    lists(&log, "", &["J7", "J4", "J3", "J1"]);
    lists(&log, "asset=PUMP", &["J4", "J1"]);
    lists(&log, "asset=pump+3&tester=", &["J1"]);
    lists(&log, "model=hb-ab%207", &["J3"]);
    lists(&log, "tester=ada", &["J7", "J1"]);
    lists(&log, "outcome=fault_found", &["J3"]);
    lists(&log, "outcome=no_fault_found", &["J4", "J1"]);
    lists(&log, "outcome=not_ended", &["J7"]);
    lists(&log, "outcome=no_fault_found&tester=Ben", &["J4"]);
    lists(&log, "before=J4", &["J3", "J1"]);
    lists(&log, "asset=fan", &[]);
    let page = list(&log, "", &View::default(), 50);
    has(
        &page,
        &["pump 4 J4 HB-CP 40 ✓ no fault found Ben 2026-03-01 00:04 UTC"],
    );
    has(&page, &["✗ fault found", "▸ not ended"]);
}

#[test]
fn a_page_says_how_many_more_there_are_and_leads_to_them() {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(dir.path(), &FOUR);
    let page = list(&log, "tester=Ben&asset=p+%26", &View::default(), 1);
    assert_eq!(named(&page), Vec::<&str>::new());
    let page = list(&log, "model=HB-CP", &View::default(), 1);
    assert_eq!(named(&page), ["J4"]);
    has(&page, &["Older jobs 1 more"]);
    assert!(
        page.contains("href=\"/jobs?model=HB-CP&amp;before=J4\""),
        "{page}"
    );
    let page = list(&log, "model=HB-CP&before=J4", &View::default(), 1);
    assert_eq!(named(&page), ["J1"]);
    has_not(&page, &["Older jobs"]);
    has(&page, &["To the newest"]);
}

#[test]
fn a_filter_that_cannot_be_read_is_answered_beside_its_field_and_kept() {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(dir.path(), &FOUR);
    let page = list(
        &log,
        "asset=pond&outcome=good&before=7&colour=red",
        &View::default(),
        9,
    );
    has(
        &page,
        &[
            "\"good\" is no outcome; choose one",
            "before: expected a job such as J12, found \"7\"",
            "colour: nothing is filtered by that",
        ],
    );
    assert!(page.contains("value=\"pond\""), "{page}");
    has(
        &list(&log, "asset=%ff", &View::default(), 9),
        &["expected UTF-8"],
    );
}

#[test]
fn jobs_that_run_stand_first_and_only_on_the_first_page() {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(dir.path(), &FOUR);
    let view = running("J9", "pump 3", JobState::Parked);
    let page = list(&log, "", &view, 9);
    assert_eq!(named(&page)[0], "J9");
    has(
        &page,
        &["Not ended pump 3 J9 HB-CP 40 ▸ set aside Ada bench-1 In the log"],
    );
    assert_eq!(named(&list(&log, "tester=ben", &view, 9)), ["J4", "J3"]);
    let page = list(&log, "outcome=fault_found", &view, 9);
    assert!(!named(&page).contains(&"J9"));
    assert!(!named(&list(&log, "before=J4", &view, 9)).contains(&"J9"));
}

#[test]
fn withdrawn_and_repeated_rows_are_shown_as_such() {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(
        dir.path(),
        &[
            "start pump_3 HB-CP_40 Ada",
            "value 1 winding main 2.31 fail low",
            "value 1 winding main 2.41 pass within",
            "value 1 winding start 5.01 pass within",
            "back_in 1 4 clip_had_slipped",
            "value 1 ground all_to_ground 9 undecided leads_unproven",
            "judged 1 6 ground all_to_ground pass",
            "end 1 incomplete:_winding_start_missing;_DO_NOT_ENERGIZE:_not_complete",
            "back 3 wrong_motor",
        ],
    );
    let page = one(&log, "J1", &View::default());
    has(
        &page,
        &[
            "DO NOT ENERGIZE: not complete",
            "Withdrawn after the job had ended: row 3. What it came to stands as it was concluded then",
            "winding main ✗ fail, low ↻ Measured again in row 3 Shown 2.31 Ω Judged 2.31 Ω Meter ohms-1",
            "winding main ✓ pass, within ⊘ Withdrawn in row 9 : wrong motor",
            "winding start ✓ pass, within ⊘ Withdrawn in row 5 : clip had slipped",
            "ground all to ground ? undecided, leads unproven → Judged again in row 7",
            "Judges row 6 with what came after it",
            "Nobody attested that the motor was off",
            "these tests cannot show turn-to-turn weakness, bearings or rotor",
        ],
    );
    // Only what still counts can be taken back, and an ended job is not measured.
    let buttons: Vec<&str> = page
        .split("data-withdraw=\"")
        .skip(1)
        .filter_map(|b| b.split('"').next())
        .collect();
    assert_eq!(buttons, ["6"]);
    assert!(!page.contains("data-redo"), "{page}");
}

#[test]
fn a_job_that_runs_shows_what_holds_now_and_can_be_measured_again() {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(
        dir.path(),
        &[
            "start pump_3 HB-CP_40 Ada",
            "value 1 winding line_12 2.31 pass within",
        ],
    );
    let view = running("J1", "pump 3", JobState::Active);
    let page = one(&log, "J1", &view);
    has(
        &page,
        &[
            "NOT ENDED: nothing is concluded",
            "DO NOT ENERGIZE: no pass of ground",
            "Keep the winding of pump 3 shorted to ground: 30 s more",
            "If it ended now: … incomplete missing: winding main",
            "It has no end yet.",
        ],
    );
    assert!(page.contains("data-withdraw=\"2\""), "{page}");
    assert!(page.contains("data-redo=\"winding line 12\""), "{page}");
    let parked = one(&log, "J1", &running("J1", "pump 3", JobState::Parked));
    assert!(parked.contains("data-withdraw=\"2\"") && !parked.contains("data-redo"));
    let alone = one(&log, "J1", &View::default());
    has(
        &alone,
        &[
            "NOT ENDED",
            "no; nobody works on it any more",
            "Nothing is concluded: it has no end.",
        ],
    );
}

#[test]
fn hostile_names_are_text() {
    let dir = tempfile::tempdir().expect("a folder");
    let evil = "\"><img src=x onerror=alert(1)></dd><script>alert(2)</script>'&amp;";
    let mut rows = vec![
        row(1, "start pump HB-CP_40 Ada"),
        row(2, "value 1 winding main 2.31 fail low"),
        row(3, "back_in 1 2 why"),
        row(4, "end 1 fault_found:_x"),
    ];
    for row in &mut rows {
        for cell in [
            &mut row.asset,
            &mut row.motor,
            &mut row.tester,
            &mut row.bench,
            &mut row.meter,
            &mut row.point,
            &mut row.shown,
            &mut row.reason,
            &mut row.note,
            &mut row.limits_from,
        ] {
            *cell = evil.to_owned();
        }
    }
    let log = written(dir.path(), rows);
    let mut view = running("J1", evil, JobState::Active);
    view.jobs[0].banners = vec![evil.to_owned()];
    view.jobs[0].why = evil.to_owned();
    view.jobs[0].bench = evil.to_owned();
    let query = format!("asset={}", "%22%3E%3Cscript%3Ealert(3)%3C/script%3E");
    for page in [
        one(&log, "J1", &view),
        one(&log, "J1", &View::default()),
        list(&log, "", &view, 9),
        list(&log, &query, &view, 9),
        list(&log, "%3Cscript%3E=1", &view, 9),
    ] {
        for live in ["<img", "<script>", "</dd><script", "'&amp;\""] {
            assert!(!page.contains(live), "{live} is in {page}");
        }
    }
    let page = one(&log, "J1", &view);
    assert!(
        page.contains("&lt;script&gt;alert(2)&lt;/script&gt;"),
        "{page}"
    );
}

#[test]
fn the_hatchery_is_told_whole() {
    let dir = tempfile::tempdir().expect("a folder");
    let text = include_str!("../../../captures/hatchery.csv");
    std::fs::write(dir.path().join("readings-2026-11.csv"), text).expect("written");
    let log = Kept::of(dir.path().to_owned());
    let page = list(&log, "", &View::default(), 50);
    assert_eq!(named(&page), ["J20", "J3", "J2"]);
    has(
        &page,
        &["CP-07 J3 HB-CP 40 ✓ no fault found simulated person 2026-11-26 04:54 UTC"],
    );
    let page = one(&log, "J3", &View::default());
    has(
        &page,
        &[
            "keep the winding shorted for 31 s more",
            "two wire, rated 230 V, electronics: no",
            "limits from the catalogue: invented for the demo",
            "Attested in row 5 : off, locked out, proven dead with a tester tried on a known source",
            "Shown 40.72 Ω Judged 40.599 Ω Limits 38 to 44 Ω (invented for the demo)",
            "? undecided, leads unproven → Judged again in row 34",
            "✓ pass, no fault seen Judges row 22",
            "limits 38.0 to 44.0 Ω; simple; pass; limits narrower than 2 U",
            "no pattern of a fault in these rows, which is not proof that there is none",
            "what these tests cannot show: turn-to-turn weakness",
            "(common practice)",
            "38:03eaba8dcf996130a3cdf91dde67306f",
        ],
    );
    assert!(page.contains("id=\"row-22\"") && page.contains("href=\"#row-34\""));
    let page = one(&log, "J2", &View::default());
    has(
        &page,
        &[
            "DO NOT ENERGIZE: no pass of ground and insulation",
            "fault found: winding line 23 low",
            "winding set ✗ fail, unbalanced Judges values together, up to row 17 Meter",
            "winding line 23 ✗ fail, low Shown 4.384 Ω Judged 4.2 Ω Limits 4.6 to 5.4 Ω",
            "unbalanced as shorted turns are",
            "From row 13 , row 15 , row 17 , row 18 (common practice)",
            "shorted turns heat up within minutes of running",
        ],
    );
}

const SIGNED: [&str; 6] = [
    "start pump_3 HB-CP_40 Ada",
    "value 1 winding main 2.31 pass within",
    "end 1 no_fault_found:_none",
    "review 3 B._Brook traces_looked_at,_nothing_odd",
    "review 2 <b>Cy</b> <img_src=x>",
    "start pump_4 HB-CP_40 Ada",
];

#[test]
fn a_job_says_who_signed_it_off_and_where_one_may() {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(dir.path(), &SIGNED);
    let page = one(&log, "J1", &View::default());
    has(
        &page,
        &[
            "Reviewed by B. Brook on 2026-03-01 00:04 UTC : traces looked at, nothing odd (row 4)",
            "Reviewed by <b>Cy</b> on 2026-03-01 00:05 UTC , of row 2 : <img src=x> (row 5)",
        ],
    );
    assert!(!page.contains("<img") && !page.contains("<b>Cy"), "{page}");
    assert!(page.contains("data-seq=\"3\" hidden"), "{page}");
    has_not(&page, &["Nobody has signed it off."]);
}

#[test]
fn what_has_not_ended_or_may_only_be_looked_at_is_not_signed_off() {
    let dir = tempfile::tempdir().expect("a folder");
    let log = log(dir.path(), &SIGNED);
    let open = one(&log, "J6", &View::default());
    let rows = log.rows(1).expect("reads");
    let looked = jobs_one::page("J1", &rows, &BTreeMap::new(), &View::default(), false);
    let looked = looked.into_string();
    for page in [&open, &looked] {
        assert!(!page.contains("class=\"sign\""), "{page}");
    }
    has(&looked, &["Reviewed by B. Brook"]);
    has_not(&open, &["Reviewed"]);
}
