//! Steady tests, case by case.

use super::*;

#[test]
fn a_flat_contact_is_taken_once() {
    let mut bench = Bench::new(steady(), 20.0);
    bench
        .feed(1.5, &["OL"])
        .feed(3.0, &["12.3", "12.4", "12.3", "12.2"]);
    assert_eq!(bench.taken(), "12.3");
    bench.feed(20.0, &["12.3"]).feed(1.0, &["12.4"]);
    assert_eq!(bench.taken(), "");
}

#[test]
fn a_stream_that_begins_in_contact_is_taken() {
    let mut bench = Bench::new(steady(), 20.0);
    assert_eq!(bench.feed(3.0, &["4.71"]).taken(), "4.71");
}

#[test]
fn slow_meters_are_taken_within_a_few_seconds() {
    for (rate, seconds) in [(2.0, 4.5), (3.0, 4.0), (4.0, 4.0)] {
        let mut bench = Bench::new(steady(), rate);
        bench.feed(2.0, &["OL"]).feed(seconds, &["0.85"]);
        assert_eq!(bench.taken(), "0.85", "at {rate} a second");
    }
}

#[test]
fn one_over_range_reading_is_no_removal_and_two_with_a_second_are() {
    let mut bench = Bench::new(steady(), 20.0);
    bench.feed(1.5, &["OL"]).feed(4.0, &["7.7"]);
    assert_eq!(bench.taken(), "7.7");
    bench.feed(0.05, &["OL"]).feed(4.0, &["7.7"]);
    bench.feed(0.5, &["OL"]).feed(4.0, &["7.7"]);
    assert_eq!(bench.taken(), "", "openings shorter than a second");
    bench.feed(1.2, &["OL"]).feed(4.0, &["7.7"]);
    assert_eq!(bench.taken(), "7.7");
}

#[test]
fn values_that_step_give_one_take_a_plateau_without_any_over_range() {
    let mut bench = Bench::new(steady(), 10.0);
    for plateau in ["2.31", "5.02", "7.33", "2.31"] {
        bench.feed(4.5, &[plateau]);
    }
    assert_eq!(bench.taken(), "2.31 5.02 7.33 2.31");
}

#[test]
fn what_only_drifts_away_is_not_another_contact() {
    let mut bench = Bench::new(steady(), 10.0);
    bench.feed(4.0, &["100.0"]);
    assert_eq!(bench.taken(), "100.0");
    for step in 1..=60 {
        let shown = format!("{}.{}", 100 + step / 10, step % 10);
        bench.feed(5.0, &[&shown]);
    }
    assert_eq!(bench.taken(), "");
}

#[test]
fn any_unit_and_sign_settles_and_another_unit_is_another_contact() {
    let mut bench = Bench::new(steady(), 20.0);
    bench.feed(3.0, &["0.0"]);
    bench.unit = Unit::Volt;
    bench.feed(3.0, &["-12.01"]);
    bench.unit = Unit::Celsius;
    bench.feed(3.0, &["21.5"]);
    assert_eq!(bench.taken(), "0.0 -12.01 21.5");
}

#[test]
fn over_range_volts_open_no_contact() {
    let mut bench = Bench::new(steady(), 20.0);
    bench.unit = Unit::Volt;
    bench
        .feed(3.0, &["5.00"])
        .feed(2.0, &["OL"])
        .feed(4.0, &["5.00"]);
    assert_eq!(bench.taken(), "5.00");
    bench.settle.clips_on(at(bench.now));
    assert_eq!(bench.feed(5.0, &["OL"]).taken(), "");
}

#[test]
fn frozen_least_most_and_mean_are_never_taken() {
    for flag in [Flags::FROZEN, Flags::MIN, Flags::MAX, Flags::AVG] {
        let mut bench = Bench::new(steady(), 20.0);
        let mut sample = text("12.3", Unit::Ohm);
        sample.flags = flag;
        for _ in 0..400 {
            bench.push(&sample);
        }
        assert_eq!(bench.taken(), "");
        assert_eq!(bench.feed(3.0, &["12.3"]).taken(), "12.3");
    }
}

#[test]
fn after_a_gap_only_a_contact_without_a_take_is_armed() {
    let mut bench = Bench::new(steady(), 20.0);
    bench.feed(1.5, &["OL"]).feed(1.0, &["3.30"]);
    assert_eq!(bench.settle.reset(at(bench.now), Reset::Gap), None);
    bench.now += 8.0;
    assert_eq!(bench.feed(3.0, &["3.30"]).taken(), "3.30");
    assert_eq!(bench.settle.reset(at(bench.now), Reset::Gap), None);
    assert_eq!(bench.feed(6.0, &["3.30"]).taken(), "", "taken stays taken");
    assert_eq!(bench.settle.state().word, "remove the clips");
    assert_eq!(
        bench.feed(6.0, &["9.90"]).taken(),
        "9.90",
        "another contact"
    );
    assert_eq!(bench.settle.reset(at(bench.now), Reset::Again), None);
    assert_eq!(
        bench.feed(3.0, &["9.90"]).taken(),
        "9.90",
        "a person's word"
    );
}

#[test]
fn no_window_reaches_back_across_a_gap_or_a_silence() {
    let mut bench = Bench::new(steady(), 20.0);
    bench.feed(1.5, &["OL"]).feed(2.0, &["3.30"]);
    bench.now += 30.0;
    let silent_until = bench.now;
    bench.feed(4.0, &["3.30"]);
    let take = bench.takes[0];
    assert!(take.at.seconds() - take.window.as_secs_f64() >= silent_until - 1e-6);
}

#[test]
fn a_value_taken_for_one_point_is_not_taken_for_the_next() {
    let mut bench = Bench::new(steady(), 20.0);
    bench.feed(1.5, &["OL"]).feed(3.0, &["3.30"]);
    assert_eq!(bench.taken(), "3.30");
    let other = Steady {
        tol_rel: 0.01,
        ..Steady::default()
    };
    bench.settle.respec(Spec::Steady(other));
    assert_eq!(bench.feed(9.0, &["3.30"]).taken(), "");
    let hold = Hold::new(Volts(500.0), &[Duration::from_secs(10)]);
    bench.settle.respec(Spec::Hold(hold));
    bench.settle.respec(Spec::Steady(other));
    assert_eq!(bench.feed(9.0, &["3.30"]).taken(), "");
    assert_eq!(
        bench.feed(1.5, &["OL"]).feed(3.0, &["3.30"]).taken(),
        "3.30"
    );
}

#[test]
fn over_range_counts_once_after_a_persons_word() {
    let mut bench = Bench::new(steady(), 20.0);
    assert_eq!(bench.feed(9.0, &["OL"]).taken(), "", "clips in the air");
    bench.settle.clips_on(at(bench.now));
    assert_eq!(bench.feed(2.9, &["OL"]).taken(), "");
    assert_eq!(bench.feed(0.3, &["OL"]).taken(), "open");
    assert_eq!(bench.feed(9.0, &["OL"]).taken(), "");
}

#[test]
fn over_range_is_a_verdict_once_where_the_spec_says_so() {
    let spec = Steady {
        open_is_verdict: true,
        ..Steady::default()
    };
    let mut bench = Bench::new(Settle::new(Spec::Steady(spec)), 10.0);
    assert_eq!(bench.feed(2.9, &["OL"]).feed(0.1, &["44.2"]).taken(), "");
    assert_eq!(bench.feed(2.9, &["OL"]).taken(), "", "unbroken only");
    assert_eq!(bench.feed(10.0, &["OL"]).taken(), "open");
}

#[test]
fn a_number_with_room_for_a_lower_range_stands_longer() {
    let with_range = |full: Option<&str>| {
        let mut bench = Bench::new(steady(), 3.0);
        bench.feed(1.5, &["OL"]);
        let touched = bench.now;
        let shown = Shown {
            full_scale: full.map(d),
            ..Shown::plain(d("35.0"), Unit::Ohm)
        };
        while bench.takes.is_empty() {
            bench.push(&Sample::alone(Got::Value(shown), Flags::NONE));
        }
        bench.takes[0].at.seconds() - touched
    };
    // 35.0 fits a range of 40 but not one of 4, which is the next below 40.
    let (fine, coarse) = (with_range(Some("40")), with_range(Some("400")));
    assert!(fine < 1.8, "{fine}");
    assert!(coarse > fine + 0.1 && coarse < 2.2, "{coarse}");
    let unknown = with_range(None);
    assert!(unknown > fine + 0.9 && unknown < 3.2, "{unknown}");
}

#[test]
fn the_words_people_see() {
    let mut bench = Bench::new(steady(), 20.0);
    let word = |bench: &Bench| bench.settle.state().word;
    bench.feed(1.5, &["OL"]);
    assert_eq!(word(&bench), "no contact");
    bench.feed(0.2, &["12.3"]);
    assert_eq!(word(&bench), "moving");
    bench.feed(1.6, &["12.3"]);
    assert_eq!(word(&bench), "steady");
    while bench.takes.is_empty() {
        bench.feed(0.05, &["12.3"]);
    }
    assert_eq!(word(&bench), "taken");
    bench.feed(2.0, &["12.3"]);
    assert_eq!(word(&bench), "remove the clips");
    bench.feed(1.5, &["OL"]);
    assert_eq!(word(&bench), "no contact");
}

#[test]
fn a_curve_is_named_as_what_hinders() {
    let mut bench = Bench::new(steady(), 10.0);
    bench.feed(1.5, &["OL"]);
    for step in 0..120 {
        let ohms = 500.0 + 400.0 * libm::exp(-f64::from(step) / 40.0);
        bench.feed(0.1, &[&format!("{ohms:.1}")]);
    }
    assert_eq!(bench.taken(), "");
    let why = bench.settle.why().to_string();
    assert!(why.contains("to come") || why.contains("drifts"), "{why}");
}
