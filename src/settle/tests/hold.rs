//! Timed holds, case by case. Readings are `ohms@volts`, one or two a second.

use super::*;

fn hold(marks: &[u64]) -> Settle {
    let marks: Vec<Duration> = marks.iter().copied().map(Duration::from_secs).collect();
    Settle::new(Spec::Hold(Hold::new(Volts(500.0), &marks)))
}

/// Feeds `ohms@volts` words at `rate`, with expiry at each deadline; says what was taken and when.
fn run(settle: &mut Settle, from: f64, rate: f64, words: &[String]) -> String {
    let mut taken = Vec::new();
    let mut note = |take: Option<Take>| {
        if let Some(take) = take {
            taken.push(format!("{}@{:.1}", word(&take.outcome), take.at.seconds()));
        }
    };
    for (index, shown) in words.iter().enumerate() {
        let now = at(from + index as f64 / rate);
        if let Some(deadline) = settle.deadline().filter(|deadline| *deadline <= now) {
            note(settle.expire(deadline));
        }
        if let Some((ohms, volts)) = shown.split_once('@') {
            let mut sample = text(ohms, Unit::Ohm);
            sample.test_voltage = volts.parse().ok().map(Volts);
            note(settle.push(now, &sample));
        }
    }
    taken.join(" ")
}

fn words(count: usize, of: impl Fn(usize) -> String) -> Vec<String> {
    (0..count).map(of).collect()
}

/// A good motor: 0 V for a while, a quick ramp, resistance that rises.
fn good(seconds: usize) -> Vec<String> {
    words(seconds, |i| match i {
        0..=2 => String::from("OL@0"),
        3 => String::from("1000000@300"),
        _ => format!("{}@505", 10_000_000 + i * 1_000_000),
    })
}

#[test]
fn the_value_at_each_mark_is_the_value_of_that_moment() {
    let mut settle = hold(&[10, 30]);
    assert_eq!(
        run(&mut settle, 0.0, 1.0, &good(40)),
        "24000000@14.0 44000000@34.0"
    );
    assert_eq!(settle.state().word, "taken");
}

#[test]
fn letting_go_aborts_and_nothing_follows() {
    let mut settle = hold(&[10, 30]);
    let mut stream = good(20);
    stream.extend(words(20, |_| String::from("OL@3")));
    assert_eq!(
        run(&mut settle, 0.0, 1.0, &stream),
        "24000000@14.0 released@21.0"
    );
    assert_eq!(settle.state().word, "let go too early");
}

#[test]
fn a_display_without_a_number_shows_by_its_voltage_that_the_button_is_up() {
    let mut settle = hold(&[10]);
    let mut stream = good(7);
    stream.extend(words(3, |_| String::from("@0")));
    stream.extend_from_slice(&good(20)[4..]);
    assert_eq!(
        run(&mut settle, 0.0, 1.0, &stream),
        "released@8.0 24000000@20.0"
    );
    // Without a number under voltage nothing is read, and nothing is let go.
    let mut settle = hold(&[10]);
    let mut stream = good(20);
    stream[8] = String::from("@505");
    stream[9] = String::from("@505");
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "24000000@14.0");
}

#[test]
fn a_single_low_reading_is_no_release() {
    let mut settle = hold(&[10]);
    let mut stream = good(20);
    stream[8] = String::from("12000000@180");
    assert_eq!(run(&mut settle, 0.0, 2.0, &stream), "");
    assert_eq!(settle.state().word, "holding");
}

#[test]
fn a_voltage_that_sags_aborts_with_what_it_was() {
    let mut settle = hold(&[30]);
    let mut stream = good(12);
    stream.extend(words(12, |i| format!("{}@400", 22_000_000 + i * 1_000_000)));
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "sagged@13.0");
}

#[test]
fn no_reading_within_two_seconds_of_the_mark_is_no_value() {
    let mut settle = hold(&[10]);
    let mut stream = good(40);
    for silent in &mut stream[13..18] {
        silent.clear();
    }
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "silent@16.0");
    let mut settle = hold(&[10]);
    let mut stream = good(40);
    stream[14].clear();
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "25000000@15.0");
}

#[test]
fn the_next_press_begins_anew() {
    let mut settle = hold(&[5]);
    let mut stream = good(6);
    stream.extend(words(4, |_| String::from("OL@2")));
    stream.extend(good(20));
    let taken = run(&mut settle, 0.0, 1.0, &stream);
    assert_eq!(taken, "released@7.0 19000000@19.0");
}

#[test]
fn a_hold_that_was_taken_waits_for_release() {
    let mut settle = hold(&[5]);
    let taken = run(&mut settle, 0.0, 1.0, &good(60));
    assert_eq!(taken, "19000000@9.0");
    let spec = settle.spec().clone();
    settle.respec(spec);
    assert_eq!(run(&mut settle, 60.0, 1.0, &good(60)[10..]), "");
}

#[test]
fn a_lead_that_falls_off_is_no_perfect_insulation() {
    let mut settle = hold(&[30]);
    let mut stream = good(20);
    stream.extend(words(30, |_| String::from("OL@505")));
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "leadoff@21.0");
    let mut settle = hold(&[10]);
    let stream = words(30, |i| String::from(if i < 3 { "OL@0" } else { "OL@505" }));
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "over@13.0");
}

#[test]
fn one_over_range_at_the_mark_may_be_a_change_of_range() {
    let mut settle = hold(&[10]);
    let mut stream = good(20);
    stream[14] = String::from("OL@505");
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "25000000@15.0");
}

#[test]
fn a_value_that_leaves_the_range_while_the_motor_fills_is_no_lead_off() {
    let mut settle = hold(&[10]);
    let stream = words(30, |i| match i {
        0..=2 => String::from("OL@0"),
        3..=8 => format!("{}@505", 1_000_000_u64 * 10_u64.pow(i as u32 - 3)),
        _ => String::from("OL@505"),
    });
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "over@13.0");
}

#[test]
fn a_sag_that_is_over_is_no_new_press() {
    let mut settle = hold(&[10]);
    let mut stream = good(40);
    for low in &mut stream[8..14] {
        *low = String::from("18000000@150");
    }
    assert_eq!(run(&mut settle, 0.0, 2.0, &stream), "released@5.0");
    // What dies away and comes again is one.
    let mut settle = hold(&[10]);
    let mut stream = good(60);
    for (seconds, low) in (1..).zip(&mut stream[8..14]) {
        let left = 480.0 * libm::exp(-0.5 * f64::from(seconds) / 3.0);
        *low = format!("OL@{left:.1}");
    }
    let taken = run(&mut settle, 0.0, 2.0, &stream);
    // 291 V are left after a second; the voltage is back at 7 s.
    assert_eq!(taken, "released@5.0 44000000@17.0");
}

#[test]
fn a_dip_right_before_the_mark_is_waited_out() {
    let mut settle = hold(&[10]);
    let mut stream = good(60);
    stream[23] = String::from("90000000@300");
    stream[24] = String::from("3000000@505");
    // The clock starts at 2 s, so the mark is where the charging current still spoils.
    assert_eq!(run(&mut settle, 0.0, 2.0, &stream), "35000000@12.5");
}

#[test]
fn a_reading_that_was_held_back_for_long_is_not_of_the_mark() {
    let mut settle = hold(&[5]);
    let mut taken = Vec::new();
    let mut push = |now: f64, ohms: &str| {
        let mut sample = text(ohms, Unit::Ohm);
        sample.test_voltage = Some(Volts(505.0));
        taken.extend(settle.push(at(now), &sample).map(|t| word(&t.outcome)));
    };
    for reading in 0..6 {
        push(10.0 + 0.5 * f64::from(reading), "1000000");
    }
    // A link that stalled for 2.9 s brings six at once; the next comes at its pace.
    for reading in 0..6 {
        push(15.4 + 0.004 * f64::from(reading), "2000000");
    }
    push(15.9, "3000000");
    assert_eq!(taken, ["3000000"]);
}

#[test]
fn a_tester_that_gives_way_in_a_run_is_pulled_down_by_its_current() {
    let mut settle = hold(&[60]);
    // One milliampere throughout, 3 V less a second.
    let stream = words(60, |i| match i {
        0..=2 => String::from("OL@0"),
        _ => format!("{}@{}", 1000 * (505 - 3 * (i - 3)), 505 - 3 * (i - 3)),
    });
    let taken = run(&mut settle, 0.0, 1.0, &stream);
    assert!(taken.starts_with("pulled:42"), "{taken}");
    // A source that sags by as much on the same motor is not.
    let mut settle = hold(&[60]);
    let stream = words(60, |i| match i {
        0..=2 => String::from("OL@0"),
        _ => format!("{}@{}", 505_000, 505 - 3 * (i - 3)),
    });
    let taken = run(&mut settle, 0.0, 1.0, &stream);
    assert!(taken.starts_with("sagged@"), "{taken}");
}

#[test]
fn silence_on_a_ramp_vouches_for_nothing() {
    let mut settle = hold(&[10]);
    let mut stream = words(60, |i| {
        format!("{}@{}", 5_000_000 + i * 100_000, (i * 20).min(503))
    });
    for silent in &mut stream[10..14] {
        silent.clear();
    }
    stream[14] = stream[9].clone();
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "8300000@33.0");
}

#[test]
fn what_is_waited_for_says_how_far_it_has_come() {
    let mut settle = hold(&[60]);
    run(&mut settle, 0.0, 1.0, &good(3));
    assert_eq!(settle.why().to_string(), "waits for the test voltage");
    run(&mut settle, 3.0, 1.0, &good(4)[3..]);
    let rising = "300 V is on; the hold starts at 450 V";
    assert_eq!(settle.why().to_string(), rising);
    run(&mut settle, 4.0, 1.0, &good(17)[4..]);
    assert_eq!(settle.why().to_string(), "holding 12 of 60 s");
}

#[test]
fn a_tester_that_stays_below_the_start_is_pulled_down() {
    let mut settle = hold(&[10]);
    let stream = words(20, |i| {
        String::from(if i < 3 { "OL@0" } else { "120000@120" })
    });
    let taken = run(&mut settle, 0.0, 1.0, &stream);
    assert!(taken.starts_with("pulled:120000@"), "{taken}");
    assert_eq!(settle.state().word, "pulled down");
}

#[test]
fn voltage_and_resistance_that_fall_together_are_pulled_down() {
    let mut settle = hold(&[30]);
    let mut stream = good(10);
    stream.extend(words(20, |i| {
        format!("{}@{}", 400_000 - 5_000 * i, 400 - 5 * i)
    }));
    let taken = run(&mut settle, 0.0, 1.0, &stream);
    assert!(taken.starts_with("pulled:39"), "{taken}");
}

#[test]
fn a_slow_ramp_is_waited_for() {
    let mut settle = hold(&[10]);
    let stream = words(60, |i| {
        format!("{}@{}", 5_000_000 + i * 100_000, (i * 20).min(503))
    });
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "8300000@33.0");
}

#[test]
fn a_steady_voltage_on_another_step_is_its_own_nominal() {
    let mut settle = hold(&[10]);
    let stream = words(30, |i| match i {
        0..=2 => String::from("OL@0"),
        _ => format!("{}@255", 50_000_000 + i * 1_000_000),
    });
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "63000000@13.0");
}

#[test]
fn what_an_earlier_test_left_is_no_press() {
    let mut settle = hold(&[10]);
    let stream = words(30, |i| {
        let left = 300.0 * libm::exp(-(i as f64) / 6.0);
        format!("{}@{left:.1}", 1_000_000 + (i * 7919) % 5_000_000)
    });
    assert_eq!(run(&mut settle, 0.0, 2.0, &stream), "");
}

#[test]
fn a_tester_without_voltage_is_started_by_a_person() {
    let marks = [Duration::from_secs(5)];
    let mut spec = Hold::new(Volts(500.0), &marks);
    spec.voltage_measured = false;
    let mut settle = Settle::new(Spec::Hold(spec));
    let stream = words(20, |i| format!("{}@", 1_000_000 + i));
    assert_eq!(run(&mut settle, 0.0, 1.0, &stream), "");
    assert_eq!(settle.voltage(at(20.0), true), None);
    assert_eq!(run(&mut settle, 20.5, 1.0, &stream), "1000005@25.5");
    assert_eq!(settle.voltage(at(50.0), false), None);
    assert_eq!(settle.voltage(at(60.0), true), None);
    let take = settle.voltage(at(62.0), false).expect("an abort");
    assert_eq!(take.outcome, Outcome::Aborted(Abort::Released));
}

#[test]
fn a_gap_or_a_clock_step_ends_a_hold_that_runs() {
    for why in [Reset::Gap, Reset::ClockStep] {
        let mut settle = hold(&[30]);
        assert_eq!(run(&mut settle, 0.0, 1.0, &good(15)), "");
        let take = settle.reset(at(15.0), why).expect("an abort");
        assert_eq!(take.outcome, Outcome::Aborted(Abort::Interrupted));
        assert_eq!(
            run(&mut settle, 16.0, 1.0, &good(60)[10..]),
            "",
            "until release"
        );
    }
}

#[test]
fn a_hold_runs_on_the_meters_own_time() {
    let mut settle = hold(&[10]);
    let mut taken = None;
    for second in 0_u32..30 {
        let mut sample = text("5000000", Unit::Ohm);
        sample.test_voltage = Some(Volts(505.0));
        // The link is two seconds late, the meter's own clock is not.
        sample.elapsed = Some(Duration::from_secs(u64::from(second)));
        let now = at(10.0 + f64::from(second) * 0.9);
        taken = taken.or(settle.push(now, &sample));
    }
    let take = taken.expect("a value");
    assert_eq!(take.elapsed, Some(Duration::from_secs(10)));
}

#[test]
fn over_range_in_volts_is_no_insulation_beyond_the_range() {
    let mut settle = hold(&[10]);
    let mut takes = Vec::new();
    for second in 0..20 {
        let mut sample = text("OL", Unit::Volt);
        sample.test_voltage = Some(Volts(505.0));
        takes.extend(settle.push(at(f64::from(second)), &sample));
    }
    assert!(takes.is_empty(), "{takes:?}");
}
