//! Patterns over ground and insulation. Minimum 1 MΩ (invented).

use super::{check, has};

#[test]
fn nothing_found_says_what_the_tests_cannot_show() {
    check(
        "",
        "winding main 2.0 in 1.8..2.2 pass within
         winding start 6.5 in 6..7 pass within
         winding total 8.5
         winding set pass within
         ground all_to_ground 50M in 1e6.. pass no_fault_seen
         insulation all_to_ground 120M in 1e6.. @500V 60s pass within",
        "nothing_found 1 2 5 6",
    );
    // Nothing measured, nothing said; one point alone clears nothing.
    check("", "", "");
    check("", "winding main 2.0 in 1.8..2.2 pass within", "");
    check("", "leads before 0.2 pass within", "");
}

#[test]
fn a_ground_test_alone_is_said_to_prove_little() {
    check(
        "",
        "winding main 2.0 in 1.8..2.2 pass within
         ground all_to_ground 50M in 1e6.. pass no_fault_seen",
        "low_voltage_only 2
         nothing_found 1 2",
    );
    check(
        "electronics",
        "winding main 2.0 in 1.8..2.2 pass within
         ground all_to_ground 50M in 1e6.. pass no_fault_seen",
        "electronics_inside 2
         nothing_found 1 2",
    );
}

#[test]
fn a_low_winding_with_low_insulation_is_burnt_and_not_two_findings() {
    check(
        "cold",
        "winding main 1.1 in 1.8..2.2 fail low
         insulation all_to_ground 0.2M in 1e6.. @500V fail below_minimum",
        "burnt_winding 1 2",
    );
    // A short to ground can hurt and is said first.
    check(
        "cold",
        "winding main 1.1 in 1.8..2.2 fail low
         ground all_to_ground 300 in 1e6.. fail to_ground",
        "winding_to_ground 2
         burnt_winding 1 2",
    );
    // Low alone is low; weak alone is weak.
    check(
        "cold",
        "winding main 1.3 in 1.8..2.2 fail low",
        "winding_low 1",
    );
    check(
        "cold",
        "winding main 2.0 in 1.8..2.2 pass within
         insulation all_to_ground 0.2M in 1e6.. @500V fail below_minimum",
        "insulation_low 2",
    );
}

#[test]
fn insulation_tells_where_and_how_it_is_weak() {
    has(
        "tester_pulled_down",
        true,
        "",
        "insulation all_to_ground 0.3M in 1e6.. @210V undecided unstable : the tester cannot hold its voltage: 210 V reached",
    );
    has(
        "reading_wanders",
        false,
        "",
        "insulation all_to_ground 0.3M in 1e6.. @210V undecided unstable : the tester cannot hold its voltage: 210 V reached",
    );
    check(
        "",
        "ground all_to_ground OL in 1e6.. pass no_fault_seen
         insulation all_to_ground 0.3M in 1e6.. @500V fail below_minimum",
        "shows_at_test_voltage 1 2",
    );
    check(
        "",
        "ground all_to_ground 1.2M in 2e6.. fail to_ground
         insulation all_to_ground 200M in 1e6.. @500V pass within",
        "hands_or_damp 1 2",
    );
    check(
        "",
        "insulation cable_to_ground 0.4M in 1e6.. @500V fail below_minimum
         insulation motor_to_ground 80M in 1e6.. @500V pass within",
        "cable_not_motor 1 2",
    );
    check(
        "",
        "insulation cable_to_ground 90M in 1e6.. @500V pass within
         insulation motor_to_ground 0.3M in 1e6.. @500V fail below_minimum",
        "motor_not_cable 1 2",
    );
    check(
        "",
        "insulation all_to_ground 0.4M in 1e6.. @500V fail below_minimum
         insulation all_to_ground 5M in 1e6.. @500V pass within",
        "wet_surface 1 2",
    );
    has(
        "wet_surface",
        false,
        "",
        "insulation all_to_ground 0.4M in 1e6.. @500V fail below_minimum\ninsulation all_to_ground 0.5M in 1e6.. @500V fail below_minimum",
    );
    has("insulation_falls", true, "", "ratio dar 0.8ratio");
    has("insulation_falls", false, "", "ratio dar 1.3ratio");
    has(
        "insulation_falls",
        true,
        "",
        "insulation all_to_ground 9M @500V 60s pass within\ninsulation all_to_ground 3M @1000V 60s pass within",
    );
    has(
        "polarity_matters",
        true,
        "",
        "ground all_to_ground 3M in 1e6.. pass no_fault_seen\nground all_to_ground_swapped 0.9M in 1e6.. fail to_ground",
    );
    has(
        "polarity_matters",
        false,
        "",
        "ground all_to_ground 3.0M in 1e6.. pass no_fault_seen\nground all_to_ground_swapped 2.9M in 1e6.. pass no_fault_seen",
    );
    has(
        "temperature_missing",
        true,
        "",
        "insulation all_to_ground 8M @500V 60s undecided within : enter the winding's temperature",
    );
    has(
        "temperature_missing",
        false,
        "cold",
        "insulation all_to_ground 8M @500V 60s undecided within : enter the winding's temperature",
    );
}
