//! Patterns of the measuring itself come before a costly conclusion.

use super::{check, has};

#[test]
fn a_held_display_is_measured_again_before_anything_is_burnt() {
    check(
        "cold",
        "winding main 1.10 in 1.8..2.2 fail low
         winding start 6.50 in 6..7 pass within
         winding total 1.10
         winding set fail sum_mismatch
         insulation all_to_ground 0.2M in 1e6.. @500V fail below_minimum",
        "display_held 1 3
         insulation_low 5",
    );
    has(
        "display_held",
        true,
        "",
        "winding main 2.41 undecided unstable : the meter is in hold, min, max or average: not what is on the clips now",
    );
    // Three equal lines are a motor, two equal digits are chance.
    has(
        "display_held",
        false,
        "three_phase",
        "winding line_12 5.01\nwinding line_23 5.01\nwinding line_31 5.01",
    );
    has(
        "display_held",
        false,
        "",
        "winding main 2.1\nground_path path 2.1",
    );
    has(
        "display_held",
        true,
        "",
        "ground_path path 2.141\nwinding main 2.141",
    );
}

#[test]
fn a_dead_short_reads_as_the_leads_do_and_is_no_held_display() {
    has(
        "display_held",
        false,
        "",
        "leads before 0.121 pass within\nwinding main 0.121 in 1.8..2.2 fail shorted",
    );
    has(
        "winding_shorted",
        true,
        "",
        "leads before 0.121 pass within\nwinding main 0.121 in 1.8..2.2 fail shorted",
    );
}

#[test]
fn a_thermal_switch_a_fallen_clip_and_a_broken_lead_come_before_an_open_winding() {
    check(
        "cold",
        "winding main OL in 1.8..2.2 fail open
         winding start OL in 6..7 fail open
         winding total 8.5
         winding set undecided open",
        "thermal_switch_open 1 2 3 4",
    );
    // One over-range of three is a slipped clip: the other two connect all leads.
    check(
        "cold",
        "winding main 2.0 in 1.8..2.2 pass within
         winding start OL in 6..7 fail open
         winding total 8.5
         winding set undecided open",
        "clip_fallen 1 2 3 4",
    );
    check(
        "three_phase cold",
        "winding line_12 OL in 4.6..5.4 fail open
         winding line_23 OL in 4.6..5.4 fail open
         winding line_31 OL in 4.6..5.4 fail open
         winding set fail open",
        "clip_fallen 1 2 3 4",
    );
    check(
        "cold",
        "winding main OL in 1.8..2.2 fail open
         leads after OL fail open",
        "lead_broken 1 2",
    );
    has(
        "lead_broken",
        false,
        "",
        "leads before 0.2 pass within\nwinding main OL in 1.8..2.2 fail open\nleads after 0.3 pass within",
    );
    has(
        "clip_fallen",
        true,
        "",
        "ground all_to_ground OL in 1e6.. undecided contact_unproven",
    );
    has(
        "leads_unproven",
        true,
        "",
        "ground all_to_ground OL in 1e6.. undecided leads_unproven",
    );
    // Judged anew by a second proof, it stands.
    has(
        "leads_unproven",
        false,
        "",
        "ground all_to_ground OL in 1e6.. undecided leads_unproven\nground all_to_ground of 1 pass no_fault_seen",
    );
}

#[test]
fn mixed_leads_are_not_two_faults() {
    check(
        "cold",
        "winding main 6.5 in 1.8..2.2 fail high
         winding start 2.0 in 6..7 fail low
         winding total 8.5
         winding set undecided leads_mixed",
        "leads_mixed 1 2 3 4",
    );
}

#[test]
fn a_wrong_range_comes_before_a_winding_and_the_same_again_is_a_resistor() {
    check(
        "cold",
        "winding main 22k in 1.8..2.2 undecided range_suspect",
        "wrong_range 1",
    );
    check(
        "cold",
        "winding main 2.03k in 1.8..2.2 undecided range_suspect",
        "prefix_confused 1",
    );
    // 150 kΩ twice within a hundredth: a bleed resistor, not the range.
    check(
        "cold",
        "winding main 150.1k in 1.8..2.2 undecided range_suspect
         winding main 150.3k in 1.8..2.2 fail range_suspect",
        "bleed_resistor 1 2",
    );
    check(
        "cold",
        "winding main 150k in 1.8..2.2 undecided range_suspect
         winding main 390k in 1.8..2.2 fail range_suspect",
        "wrong_range 2",
    );
    // The same at 5 V and at 500 V; wet insulation does not do that.
    has(
        "bleed_resistor",
        true,
        "",
        "ground all_to_ground 470k in 1e6.. fail to_ground\ninsulation all_to_ground 468k in 1e6.. @500V fail below_minimum",
    );
    has(
        "bleed_resistor",
        false,
        "",
        "ground all_to_ground 470k in 1e6.. fail to_ground\ninsulation all_to_ground 90k in 1e6.. @500V fail below_minimum",
    );
    // A real short stays one, however steady.
    has(
        "winding_to_ground",
        true,
        "",
        "ground all_to_ground 12.00k in 1e6.. fail to_ground\nground all_to_ground 12.01k in 1e6.. fail to_ground",
    );
}

#[test]
fn voltage_comes_first_and_with_wandering_values_is_a_turning_rotor() {
    check(
        "cold",
        "none none 12.1volts not_judged voltage_present
         winding main 1.1 in 1.8..2.2 fail low
         insulation all_to_ground 0.2M in 1e6.. @500V fail below_minimum",
        "voltage_on_clips 1
         burnt_winding 2 3",
    );
    check(
        "cold",
        "winding main 4volts not_judged voltage_present
         winding start 6.5 undecided unstable",
        "rotor_turning 1 2
         voltage_on_clips 1
         reading_wanders 2",
    );
    has(
        "rotor_turning",
        false,
        "",
        "winding main 2.0 undecided unstable",
    );
}

#[test]
fn each_finding_about_the_measuring_has_its_pattern() {
    for (finding, name) in [
        ("null_suspect", "null_suspect"),
        ("limits_too_narrow", "meter_too_coarse"),
        ("leads_unproven", "leads_unproven"),
        ("unstable", "reading_wanders"),
        ("changed", "changed_since"),
    ] {
        has(
            name,
            true,
            "",
            &format!("winding main 2.0 undecided {finding}"),
        );
        has(name, false, "", "winding main 2.0 in 1.8..2.2 pass within");
    }
    for (finding, name) in [
        ("ground_path_unproven", "ground_path_unproven"),
        ("wrong_test_voltage", "wrong_test_voltage"),
        ("test_forbidden", "test_voltage_forbidden"),
    ] {
        has(
            name,
            true,
            "",
            &format!("insulation all_to_ground 80M @500V undecided {finding}"),
        );
        has(
            name,
            false,
            "",
            "insulation all_to_ground 80M @500V pass within",
        );
    }
    has(
        "leads_changed",
        true,
        "",
        "leads before 0.2 pass within\nleads after 1.4 fail changed",
    );
    has(
        "leads_changed",
        false,
        "",
        "leads before 0.2 pass within\nleads after 0.3 pass within",
    );
    has("not_in_ohms", true, "", "none none 2.1volts not_judged");
    has(
        "not_in_ohms",
        false,
        "",
        "none none 2.1volts not_judged\nwinding main 2.0 pass within",
    );
    has(
        "battery_low",
        true,
        "",
        "insulation all_to_ground 80M @500V undecided unstable : the tester's battery is low",
    );
    has(
        "battery_low",
        false,
        "",
        "insulation all_to_ground 80M @500V undecided unstable",
    );
    has("sensor_circuit", true, "", "sensor ptc OL fail open");
    has("sensor_circuit", false, "", "sensor ptc 120 not_judged");
    // A hold that was let go and repeated wanders no more.
    has(
        "reading_wanders",
        true,
        "",
        "insulation all_to_ground aborted",
    );
    has(
        "reading_wanders",
        false,
        "",
        "insulation all_to_ground aborted\ninsulation all_to_ground 80M @500V pass within",
    );
}
