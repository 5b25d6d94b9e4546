//! The screen as text: what is shown, in which order, and what never is.

use super::*;
use crate::cli::core::Seen;

const LOOK: Look = Look {
    width: 60,
    height: 30,
    colour: false,
    blocks: false,
};

fn seen(at: u64, shown_at: u64) -> State {
    let view = format!(
        r#"{{"at":{at},"trouble":"","meters":[{{"name":"ohms-1","bench":"b","connected":true,"trouble":"","shown":"2.4 kΩ","shown_at":{shown_at},"flags":[],"settle":"moving","progress":0.5,"hold":null,"bad_frames":0}}],"jobs":[{{"job":"J5","bench":"b","asset":"pump 3","motor":"pond-1","tester":"","state":"active","ask":{{"test":"winding","point":"main","meter":"ohms-1","say":"Clip A on one lead, clip B on the other.","cautions":["A turning rotor can make voltage."],"confirm":null,"clips_on":true}},"points":[{{"test":"winding","point":"main","state":"now","shown":"","verdict":null,"finding":null,"limits":"2.2 to 2.6"}}],"why":"","banners":["DO NOT ENERGIZE"],"discharge_until":null}}]}}"#
    );
    let mut state = State::new(String::from("J5"), String::new());
    state.seen = serde_json::from_str::<Seen>(&view).expect("a view");
    state
}

fn text(state: &State, stale: bool) -> String {
    let all: Vec<String> = lines(state, LOOK, stale, "")
        .into_iter()
        .map(|l| l.1)
        .collect();
    all.join("\n")
}

#[test]
fn the_caution_stands_before_the_step_and_limits_beside_the_point() {
    let text = text(&seen(5_000_000_000, 4_500_000_000), false);
    let place = |words: &str| {
        text.find(words)
            .unwrap_or_else(|| panic!("{words:?} is not in\n{text}"))
    };
    assert!(place("! A turning rotor") < place("> Clip A on one lead"));
    assert!(place("!! DO NOT ENERGIZE") < place("kohm"));
    assert!(place("[#####.....] moving") < place("> winding main"));
    assert!(text.contains("(2.2 to 2.6 ohm)"));
}

#[test]
fn a_value_older_than_two_seconds_is_not_shown() {
    let old = text(&seen(9_000_000_000, 4_500_000_000), false);
    assert!(
        !old.contains("kohm") && old.contains("no data for 4 s"),
        "{old}"
    );
    let lost = text(&seen(5_000_000_000, 4_500_000_000), true);
    assert!(!lost.contains("kohm"), "{lost}");
}

/// A screen of a bench whose point stands at a number with many digits.
fn narrow(width: usize) -> String {
    let mut state = seen(5_000_000_000, 4_500_000_000);
    let point = &mut state.seen.jobs[0].points[0];
    point.limits = String::from("at least 500000");
    point.shown = String::from("over-range");
    let look = Look { width, ..LOOK };
    let all = lines(&state, look, false, "");
    all.iter().map(|line| styled(line, look) + "\n").collect()
}

#[test]
fn half_a_limit_is_never_shown() {
    assert!(
        narrow(60).contains("(at least 500000 ohm)"),
        "{}",
        narrow(60)
    );
    for width in 20..60 {
        let text = narrow(width);
        let whole = text.contains("500000 ohm)");
        assert!(whole || !text.contains("least"), "{width}: {text}");
    }
}

#[test]
fn no_key_is_lost_on_a_narrow_screen() {
    for width in [40, 60, 80, 132] {
        let text = narrow(width);
        for key in KEYS.split("  ") {
            assert!(text.contains(key), "{width}: {key} is not in\n{text}");
        }
    }
}

#[test]
fn a_terminal_without_the_signs_gets_words() {
    let text = narrow(60);
    assert!(text.is_ascii(), "{text}");
    assert!(text.contains("kohm") && !text.contains('Ω'), "{text}");
}

#[test]
fn a_message_that_does_not_fit_says_so() {
    let mut state = seen(5_000_000_000, 4_500_000_000);
    state.message = "word ".repeat(100);
    let all = lines(&state, LOOK, false, "");
    let Line(_, last) = all.last().expect("lines");
    assert!(
        last.ends_with("word ...") && last.len() <= LOOK.width,
        "{last}"
    );
}

#[test]
fn an_end_stands_out_where_it_must_not_be_missed_and_keeps_to_a_narrow_screen() {
    let look = Look { width: 30, ..LOOK };
    let told = "WHAT IT CAME TO\nfault found\n!! DO NOT ENERGIZE: no pass of\n   ground\n  6 winding main 2.41 and more words\n";
    let all = end(told, look);
    assert_eq!(all[1], Line(Style::Plain, String::from("fault found")));
    assert_eq!(all[2].0, Style::Alarm);
    assert_eq!(all[3], Line(Style::Alarm, String::from("   ground")));
    assert_eq!(all[4].0, Style::Plain);
    assert!(all.iter().all(|l| l.1.chars().count() <= 30), "{all:?}");
    assert_eq!(all[5].1.trim(), "words", "{all:?}");
}
