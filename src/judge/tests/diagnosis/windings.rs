//! Patterns over windings. Limits: main 1.8 to 2.2, start 6 to 7, lines 4.6 to 5.4 Ω (invented).

use super::{check, diagnosed, has, names};

#[test]
fn open_on_every_pair_through_one_lead_names_the_lead() {
    let said = diagnosed(
        "three_phase cold",
        "winding line_12 OL in 4.6..5.4 fail open
         winding line_23 OL in 4.6..5.4 fail open
         winding line_31 5.0 in 4.6..5.4 pass within
         winding set fail open",
    );
    assert_eq!(names(&said), "open_on_one_lead 1 2 3 4\n");
    assert!(
        said[0].says.ends_with("the lead: line 2"),
        "{}",
        said[0].says
    );
    check(
        "cold",
        "winding main 2.0 in 1.8..2.2 pass within
         winding start OL in 6..7 fail open
         winding total OL fail open
         winding set fail open",
        "open_on_one_lead 1 2 3 4",
    );
    check(
        "cold",
        "winding main OL in 1.8..2.2 fail open",
        "winding_open 1",
    );
}

#[test]
fn all_high_alike_is_one_thing_in_series_and_not_three_faults() {
    // Middles 2.0 and 6.5: both 1.5 above; sum short by one lead loop less.
    check(
        "cold",
        "winding main 3.5 in 1.8..2.2 fail high
         winding start 8.0 in 6..7 fail high
         winding total 10.0
         winding set fail sum_mismatch",
        "all_high_alike 1 2
         sum_mismatch 1 2 3 4",
    );
    // By the same part: heat.
    let said = diagnosed(
        "cold",
        "winding main 2.4 in 1.9..2.1 fail high\nwinding start 7.9 in 6.3..6.8 fail high",
    );
    assert_eq!(names(&said), "all_high_alike 1 2\n");
    assert!(
        said[0].says.contains("a hot winding does that"),
        "{}",
        said[0].says
    );
    // One high alone is that one.
    check(
        "cold",
        "winding main 3.5 in 1.8..2.2 fail high
         winding start 6.5 in 6..7 pass within",
        "winding_high 1",
    );
    // High by 3.0 and by 9.0: neither the same amount nor heat.
    has(
        "all_high_alike",
        false,
        "cold",
        "winding main 5.0 in 1.8..2.2 fail high\nwinding start 15.5 in 6..7 fail high",
    );
}

#[test]
fn a_point_that_differs_on_repeat_is_a_joint_before_a_winding() {
    check(
        "cold",
        "winding main 3.4 in 1.8..2.2 fail high
         winding main 2.9 in 1.8..2.2 fail high",
        "differs_on_repeat 1 2",
    );
    check(
        "cold",
        "winding main OL in 1.8..2.2 fail open
         winding main 2.0 in 1.8..2.2 pass within",
        "differs_on_repeat 1 2",
    );
    // A joint does not explain a low winding.
    check(
        "cold",
        "winding main 3.4 in 1.8..2.2 fail high
         winding main 1.2 in 1.8..2.2 fail low",
        "differs_on_repeat 1
         winding_low 2",
    );
    // Withdrawn is gone; a count is noise; another range is no joint.
    has(
        "differs_on_repeat",
        false,
        "",
        "winding main 3.4 in 1.8..2.2 fail high\nwithdrawn 1\nwinding main 2.0 in 1.8..2.2 pass within",
    );
    has(
        "differs_on_repeat",
        false,
        "",
        "winding main 2.01 in 1.8..2.2 pass within\nwinding main 2.03 in 1.8..2.2 pass within",
    );
    has(
        "differs_on_repeat",
        false,
        "",
        "winding main 22k in 1.8..2.2 undecided range_suspect\nwinding main 2.0 in 1.8..2.2 pass within",
    );
}

#[test]
fn one_factor_on_all_windings_is_the_connection() {
    check(
        "three_phase cold",
        "winding line_12 10.0 in 4.6..5.4 fail high
         winding line_23 10.1 in 4.6..5.4 fail high
         winding line_31 9.9 in 4.6..5.4 fail high
         winding set pass within",
        "wrong_connection 1 2 3
         all_high_alike 1 2 3",
    );
    let said = diagnosed(
        "cold",
        "winding main 0.5 in 1.8..2.2 fail low\nwinding start 1.6 in 6..7 fail low",
    );
    assert_eq!(names(&said), "wrong_connection 1 2\n");
    assert!(said[0].says.contains("a quarter"), "{}", said[0].says);
    // One of two at half is not a connection.
    check(
        "cold",
        "winding main 1.0 in 1.8..2.2 fail low
         winding start 6.5 in 6..7 pass within",
        "winding_low 1",
    );
}

#[test]
fn shapes_of_three_lines_are_told_apart() {
    check(
        "three_phase cold",
        "winding line_12 5.00 in 4.6..5.4 pass within
         winding line_23 5.02 in 4.6..5.4 pass within
         winding line_31 10.00 in 4.6..5.4 fail high
         winding set fail open",
        "open_delta_phase 1 2 3 4",
    );
    check(
        "three_phase cold",
        "winding line_12 5.00 in 4.6..5.4 pass within
         winding line_23 5.90 in 4.6..5.4 fail high
         winding line_31 5.92 in 4.6..5.4 fail high
         winding set fail unbalanced",
        "one_line_high 1 2 3 4",
    );
    check(
        "three_phase cold",
        "winding line_12 4.97 in 4.6..5.4 pass within
         winding line_23 4.20 in 4.6..5.4 fail low
         winding line_31 4.19 in 4.6..5.4 fail low
         winding set fail unbalanced",
        "turns_shorted 1 2 3 4",
    );
    check(
        "three_phase cold",
        "winding line_12 0.02 in 4.6..5.4 fail shorted
         winding line_23 5.00 in 4.6..5.4 pass within
         winding line_31 5.02 in 4.6..5.4 pass within
         winding set fail shorted",
        "winding_shorted 1 4",
    );
    // Three that all differ have no shape.
    check(
        "three_phase cold",
        "winding line_12 4.7
         winding line_23 5.0
         winding line_31 5.3
         winding set fail unbalanced",
        "unbalanced 4",
    );
}

#[test]
fn a_cable_left_in_hides_and_raises_but_never_lowers() {
    check(
        "panel cold",
        "winding main 3.5 in 1.8..2.2 undecided high",
        "cable_left_in 1",
    );
    check(
        "panel cold",
        "winding main 1.2 in 1.8..2.2 fail low",
        "winding_low 1",
    );
    check(
        "panel three_phase cold",
        "winding line_12 5.0 in 4.6..5.4 undecided within
         winding line_23 5.0 in 4.6..5.4 undecided within
         winding line_31 5.0 in 4.6..5.4 undecided within
         winding set undecided within",
        "cable_left_in 1 2 3 4
         unbalance_hidden 4",
    );
    has(
        "cable_left_in",
        false,
        "",
        "winding main 3.5 in 1.8..2.2 fail high",
    );
}

#[test]
fn a_temperature_that_nobody_entered_is_kept_in_mind_near_the_limits() {
    check(
        "",
        "winding main 2.4 in 1.8..2.2 fail high",
        "winding_high 1
         temperature_may_explain 1",
    );
    has(
        "temperature_may_explain",
        false,
        "",
        "winding main 3.4 in 1.8..2.2 fail high",
    );
    has(
        "temperature_may_explain",
        false,
        "cold",
        "winding main 2.4 in 1.8..2.2 fail high",
    );
}
