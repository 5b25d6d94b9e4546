//! Both sides of boundaries of sets and their shapes, worked out by hand.

use super::sets::{parts, phase, range, wire};
use super::{Bench, Part, Through, d, three_phase, three_wire, words};
use crate::limits::{Cable, Range};
use crate::row::{Event, Row};
use crate::stamp::Wall;
use crate::text::Text;

/// A two-wire meter whose leads were not subtracted.
fn leads_in(values: &str) -> (String, String) {
    let bench = Bench::read("winding main");
    let [a, b, c] = parts(&bench, values);
    let set = three_phase(&bench.motor, [&a, &b, &c], Through::Nothing);
    (words(&set), set.reason)
}

#[test]
fn rule_10_leads_left_in_pass_no_line_below_ten_ohms() {
    assert_eq!(leads_in("9.99 9.99 9.99").0, "undecided leads_unproven");
    let (verdict, reason) = leads_in("10.00 10.00 10.00");
    assert_eq!(verdict, "pass within");
    let words = "the leads are in it, which hides unbalance";
    assert!(reason.contains(words), "{reason}");
    let out = phase("10.00 10.00 10.00", "pass within");
    assert!(!out.reason.contains(words), "{}", out.reason);
    assert!(!out.reason.contains("cable"), "{}", out.reason);
}

#[test]
fn rule_09_leads_left_in_pass_no_sum() {
    let bench = Bench::read("winding main");
    let [a, b, c] = parts(&bench, "2.50 10.00 12.50");
    let set = three_wire(&bench.motor, &a, &b, &c, Through::Nothing);
    assert_eq!(words(&set), "undecided leads_unproven");
    let said = "but the leads were not subtracted";
    assert!(set.reason.contains(said), "{}", set.reason);
    let passes = wire("2.50 10.00 12.50", "pass within");
    assert!(!passes.reason.contains(said), "{}", passes.reason);
}

#[test]
fn rule_10_lines_of_less_than_a_count_are_no_resistance() {
    // Means of a third, two thirds and one count.
    phase("0.01 0.00 0.00", "fail shorted");
    phase("0.01 0.01 0.00", "fail shorted");
    phase("0.01 0.01 0.01", "undecided limits_too_narrow");
}

#[test]
fn rule_10_a_shape_needs_twenty_counts() {
    phase("0.00 0.20 0.20", "fail shorted");
    phase("0.00 0.19 0.19", "fail unbalanced");
    phase("0.20 0.20 0.40", "fail open");
    phase("0.19 0.19 0.38", "fail unbalanced");
}

#[test]
fn rule_10_kilohms_are_twenty_times_what_the_others_read_together() {
    phase("25.0 25.0 1000.0", "undecided range_suspect");
    phase("25.0 25.1 1000.0", "fail unbalanced");
    phase("24.0 24.0 999.9", "fail unbalanced");
}

#[test]
fn rule_10_one_phase_is_odd_when_the_others_are_alike_beside_it() {
    // Phases 13.5, 10 and 11: 13.5 is 3 off their mean, they are 1 apart, a third of it.
    let named = phase("21.0 24.5 23.5", "fail unbalanced");
    let words = "in wye the one on line 3 (high)";
    assert!(named.reason.contains(words), "{}", named.reason);
    // 13.4, 10 and 11: 2.9 off, and more than a third apart.
    let spread = phase("21.0 24.4 23.4", "fail unbalanced");
    assert!(
        spread.reason.contains("no single phase"),
        "{}",
        spread.reason
    );
    // 12.5, 12.5 and −2.5: no wye has these.
    let none = phase("10.00 10.00 25.00", "fail unbalanced");
    assert!(none.reason.contains("no single phase"), "{}", none.reason);
}

/// Not configured, 0.30 Ω at 10.0 and 0.12 Ω at 10.00 twice: √0.1188 × 2/3 = 0.22978 Ω.
#[test]
fn rule_10_on_different_ranges_gain_does_not_cancel() {
    let set = phase("10.0 10.00 10.00", "pass within");
    let said = "U 2.3 % (k = 2: meter 2.3)";
    assert!(set.reason.contains(said), "{}", set.reason);
    // On one range: 0.01/√3 × √(2/3) = 0.004714 of 10, 0.0471 %.
    let set = phase("10.00 10.00 10.00", "pass within");
    let said = "U 0.047 % (k = 2: resolution 0.047)";
    assert!(set.reason.contains(said), "{}", set.reason);
}

/// Unbalance 0.4/10.2 = 3.9216 %. Cores: 1 % of 10 Ω; shared: 3.9216 % of 10 Ω.
/// √(0.1² + 0.39216²) = 0.40471 Ω of 10.2, 3.9677 %; the display adds 0.046 %.
#[test]
fn rule_10_the_doubt_of_a_cable_is_that_of_its_cores_and_of_the_mean() {
    let bench = Bench::read("winding main; terminals 4");
    let [a, b, c] = parts(&bench, "10.00 10.00 10.60");
    let mut cable = Cable::of(d("10.00"), Text::clean("as given"));
    cable.doubt_percent = d("100");
    let set = three_phase(&bench.motor, [&a, &b, &c], Through::Cable(&cable));
    assert_eq!(words(&set), "undecided unbalanced");
    let said = "unbalance 3.92 %; U 3.97 % (k = 2: resolution 0.046, cable 3.97)";
    assert!(set.reason.contains(said), "{}", set.reason);
}

#[test]
fn rule_09_a_short_is_none_where_the_catalogue_allows_so_little() {
    wire("0.01 10.00 10.00", "fail shorted");
    let mut bench = Bench::read("winding main; terminals 4");
    (bench.motor.main, bench.motor.start) = (range("0.01", "3.0"), range("9.0", "12.0"));
    let [a, b, c] = parts(&bench, "0.01 10.00 10.00");
    let set = three_wire(&bench.motor, &a, &b, &c, Through::Nothing);
    assert_eq!(words(&set), "undecided limits_too_narrow");
}

/// Main 2 to 12 and start 9 to 12: 10.00 could be either, 2.50 the main alone.
#[test]
fn rule_09_both_windings_have_to_be_near_their_limits() {
    let mut bench = Bench::read("winding main; terminals 4");
    (bench.motor.main, bench.motor.start) = (range("2.0", "12.0"), range("9.0", "12.0"));
    let set = |values: &str| {
        let [a, b, c] = parts(&bench, values);
        words(&three_wire(&bench.motor, &a, &b, &c, Through::Nothing))
    };
    assert_eq!(set("2.50 10.00 12.50"), "pass within");
    assert_eq!(set("10.00 2.50 12.50"), "undecided leads_mixed");
}

#[test]
fn rule_07_without_limits_of_both_windings_an_only_value_is_as_labelled() {
    let mut bench = Bench::read("winding main; terminals 4");
    for (main, start) in [
        (range("2.0", "3.0"), Range::default()),
        (Range::default(), range("2.0", "3.0")),
        (Range::default(), Range::default()),
    ] {
        (bench.motor.main, bench.motor.start) = (main, start);
        let [a, b, c] = parts(&bench, "10.00 ol ol");
        let set = three_wire(&bench.motor, &a, &b, &c, Through::Nothing);
        assert_eq!(words(&set), "fail open", "{}", set.reason);
    }
}

#[test]
fn a_row_of_over_range_is_a_part_and_one_of_nothing_is_none() {
    let bench = Bench::read("winding main; terminals 4");
    let part = |event| Part::from_row(&bench.meter, &Row::new(event, Wall(0)));
    for event in [Event::Open, Event::OverRange] {
        assert_eq!(part(event).map(|p| p.ohms), Some(None));
    }
    for event in [Event::Value, Event::Aborted] {
        assert_eq!(part(event), None);
    }
}
