//! What each drawing says in words, and that none is missing.

use super::*;
use crate::catalogue::sheets::shipped;
use crate::judge::sheet::steps;
use crate::limits::{Electronics, Kind, Motor, Range};
use crate::text::Text;

/// The drawing of a point of which nothing else of the job is known.
fn point(test: &str, point: &str) -> Markup {
    among(test, point, core::iter::empty())
}

/// The title of a drawing.
#[track_caller]
fn title(drawn: &Markup) -> String {
    let after = drawn.0.split_once("<title>").expect("a title").1;
    after.split_once("</title>").expect("an end").0.to_owned()
}

#[track_caller]
fn check(test: &str, name: &str, beside: &[&str], expected: &str) {
    let drawn = among(test, name, beside.iter().copied());
    assert_eq!(title(&drawn), expected, "{test} {name}");
    assert!(drawn.0.contains(r#"role="img""#), "{test} {name}");
}

const THREE_WIRE: [&str; 3] = ["main", "start", "total"];
const LINES: [&str; 3] = ["line_12", "line_23", "line_31"];

/// Clips as the words of `bench/ask.rs` have them.
#[test]
fn clips_are_where_the_words_say() {
    let main = ["main", "all_to_ground"];
    check(
        "winding",
        "main",
        &main,
        "The winding: clip A on lead 1, clip B on lead 2",
    );
    check(
        "winding",
        "main",
        &THREE_WIRE,
        "Main winding: clip A on common, clip B on run; start stays free",
    );
    check(
        "winding",
        "start",
        &THREE_WIRE,
        "Start winding: clip A on common, clip B on start; run stays free",
    );
    check(
        "winding",
        "total",
        &THREE_WIRE,
        "Both windings in a row: clip A on run, clip B on start; common stays free",
    );
    check(
        "winding",
        "line_12",
        &LINES,
        "Line to line: clip A on line 1, clip B on line 2; line 3 stays free",
    );
    check(
        "winding",
        "line_23",
        &LINES,
        "Line to line: clip A on line 3, clip B on line 2; line 1 stays free",
    );
    check(
        "winding",
        "line_31",
        &LINES,
        "Line to line: clip A on line 3, clip B on line 1; line 2 stays free",
    );
    check(
        "winding",
        "pair_1_4",
        &[],
        "A pair of leads: clip A on lead 1, clip B on lead 4",
    );
    check(
        "winding",
        "lead_3_1",
        &[],
        "Three leads in any order: clip A on lead 3, clip B on lead 1",
    );
    check(
        "winding",
        "tap_2",
        &[],
        "tap 2: clip A and clip B on its ends",
    );
    check(
        "ground",
        "all_to_ground",
        &LINES,
        "Winding to ground: clip A on a winding lead, clip B on ground",
    );
    check(
        "ground",
        "line_2_to_ground",
        &LINES,
        "line 2 to ground: clip A on line 2, clip B on ground",
    );
    check(
        "ground",
        "well_head_to_ground",
        &[],
        "At the well head, towards the motor: clip A on a core, the others apart, clip B on ground",
    );
    check(
        "insulation",
        "line_2_to_ground",
        &LINES,
        "Insulation of line 2: clip A on line 2, clip B on ground with every other lead; press the tester's button, stand clear",
    );
}

/// The lines on which the clips of a drawing of three leads are, from its
/// cables: clip A's is drawn first.
#[track_caller]
fn clip_lines(drawn: &Markup) -> Vec<u32> {
    let cables = drawn.0.split("M352 ").skip(1);
    cables
        .map(|c| c.split('H').next().expect("H").parse().expect("a line"))
        .collect()
}

#[test]
fn each_clip_is_drawn_on_its_lead() {
    // Lines from the top: run 62, common 132, start 202; line 1, 2, 3 the same.
    for (name, beside, a, b) in [
        ("main", THREE_WIRE, 132, 62),
        ("start", THREE_WIRE, 132, 202),
        ("total", THREE_WIRE, 62, 202),
        ("line_12", LINES, 62, 132),
        ("line_23", LINES, 202, 132),
        ("line_31", LINES, 202, 62),
    ] {
        let drawn = among("winding", name, beside.into_iter());
        assert_eq!(clip_lines(&drawn), [a, b], "{name}");
    }
}

/// By hand: line 2 lies at 132, ground at 262. The line that joins line 1 to
/// ground hops over line 2; line 3 lies below it and has nothing to hop over.
#[test]
fn a_lead_under_voltage_is_not_joined_to_the_others() {
    let drawn = among("insulation", "line_2_to_ground", LINES.into_iter()).0;
    assert!(
        drawn.contains("M140 62H236V121a11 11 0 0 1 0 22V262"),
        "{drawn}"
    );
    assert!(drawn.contains("M140 202H236V262"), "{drawn}");
}

fn motors() -> Vec<Motor> {
    let mut motors = Vec::new();
    for kind in Kind::ALL {
        let mut motor = Motor::unlisted(Text::clean("HB-CP 40"), *kind, None, Electronics::No);
        for name in [
            "pair_1_4",
            "tap_2",
            "ptc",
            "thermal_switch",
            "leak_probe_2",
            "between_main_start",
            "shaft_to_ground",
        ] {
            motor.points.push((Text::clean(name), Range::default()));
        }
        motors.push(motor);
    }
    motors
}

#[test]
fn every_point_of_every_sheet_has_a_drawing_that_names_both_clips() {
    let sheets = shipped();
    let every = sheets.iter().map(Some).chain([None]);
    let mut seen = 0;
    for sheet in every {
        for motor in motors() {
            let steps = steps(sheet, &motor);
            for step in &steps {
                let test = step.point.test.word();
                let beside = steps.iter().map(|s| s.point.name.as_str());
                let title = title(&among(test, step.point.name.as_str(), beside));
                let both = title.contains("clip A") && title.contains("clip B");
                assert!(
                    both && !title.contains("where the words say"),
                    "{}: {title}",
                    step.point
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 100, "{seen} points");
}

#[test]
fn both_proofs_and_the_death_of_the_motor_name_both_clips() {
    for (test, name) in [
        ("dead", "before"),
        ("leads", "before"),
        ("leads", "after"),
        ("contact", ""),
        ("temperature", "winding"),
    ] {
        let title = title(&point(test, name));
        assert!(
            title.contains("lip A") && title.contains("lip B"),
            "{title}"
        );
    }
}

#[test]
fn what_is_only_judged_has_no_drawing() {
    assert_eq!(point("winding", "set").0, "");
    assert_eq!(point("ground", "set_place").0, "");
}

#[test]
fn an_unknown_point_is_its_name_and_two_clips_and_nothing_else() {
    let drawn = point("magic", "<script>alert(1)</script>");
    assert_eq!(
        title(&drawn),
        "magic &lt;script&gt;alert(1)&lt;/script&gt;: clip A and clip B where the words say"
    );
    assert!(!drawn.0.contains("<script"));
}

#[test]
fn a_long_name_is_broken_and_held_to_the_width() {
    let drawn = point("winding", &"W".repeat(65)).0;
    // Lines of 34 and 31 letters of 12 units, of 480.
    assert_eq!(
        drawn.matches(&format!(">{}<", "W".repeat(34))).count(),
        1,
        "the first line"
    );
    assert!(drawn.contains(r#"textLength="408""#) && drawn.contains(r#"textLength="372""#));
    assert!(
        drawn.contains(r#"viewBox="0 0 480 376""#),
        "two lines of 32 below 312"
    );
}
