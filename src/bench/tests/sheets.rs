//! Whole jobs, from the first word to the last row.
//!
//! Expectations are worked out by hand from the sheet of a motor (design:
//! judging, section 2) with the rule beside each verdict.

use super::harness::check;

#[test]
fn a_two_wire_motor_in_which_nothing_is_found() {
    // machinery (IEC 60204-1): at least 1 MΩ. The ohmmeter's range ends at
    // 40 MΩ, which is more than 1 MΩ and any U of it. Leads 0.2 Ω, so the
    // winding is 2.2 − 0.2 = 2.0, within 1.8 to 2.2.
    check(
        "
        > start two_wire main=1.8..2.2 profile=machinery
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? leads/before mega-1
        > take 0.01M
        value leads/before 0.01 MΩ pass within
        ? ground_path/path ohms-1
        > take 0.3
        value ground_path/path 0.3 Ω pass within
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > clips on
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 2.2
        value ground/contact 2.2 Ω not_judged of 7
        ? confirm disconnected
        > confirm disconnected
        attested insulation/all_to_ground
        ? confirm stand_clear
        > confirm stand_clear
        attested insulation/all_to_ground
        ? insulation/all_to_ground mega-1
        > hold 120M 500V 60s
        value insulation/all_to_ground 120 MΩ pass within
        ? confirm shorted_to_ground
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        judged ground/all_to_ground pass no_fault_seen of 7
        ? leads/after mega-1
        > take 0.01M
        value leads/after 0.01 MΩ pass within
        job_end no_fault_found
        ? nothing
        ",
    );
}

#[test]
fn a_three_wire_motor_whose_start_winding_is_open() {
    // Leads 0.2 Ω. Main 4.2 − 0.2 = 4.0, within 3.8 to 4.2; start is over-range (rule 7);
    // total, through the start winding, is over-range too.
    check(
        "
        > proven three_wire main=3.8..4.2 start=10..12
        ? winding/main ohms-1
        > take 4.2
        value winding/main 4.2 Ω pass within
        ? winding/start ohms-1
        > open
        open winding/start over-range fail open
        ? winding/total ohms-1
        > open
        open winding/total over-range fail open
        judged winding/set fail open of 8
        ? ground/all_to_ground ohms-1
        > end
        job_end fault_found
        ? nothing
        ",
    );
}

#[test]
fn a_three_wire_motor_whose_sum_fits() {
    // 4.0 + 11.0 = 15.0 after 0.2 Ω of leads each.
    check(
        "
        > proven three_wire main=3.8..4.2 start=10..12
        ? winding/main ohms-1
        > take 4.2
        value winding/main 4.2 Ω pass within
        ? winding/start ohms-1
        > take 11.2
        value winding/start 11.2 Ω pass within
        ? winding/total ohms-1
        > take 15.2
        value winding/total 15.2 Ω not_judged
        judged winding/set pass within of 8
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn a_three_phase_motor_with_one_line_far_off() {
    // After 0.2 Ω of leads: 5.00, 5.00, 6.20; mean 5.40, 0.80 off: 14.8 % (rule 10).
    check(
        "
        > proven three_phase line=4.9..6.5
        ? winding/line_12 ohms-1
        > take 5.20
        value winding/line_12 5.20 Ω pass within
        ? winding/line_23 ohms-1
        > take 5.20
        value winding/line_23 5.20 Ω pass within
        ? winding/line_31 ohms-1
        > take 6.40
        value winding/line_31 6.40 Ω pass within
        judged winding/set fail unbalanced of 8
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn one_meter_for_ohms_and_insulation_proves_its_leads_once() {
    check(
        "
        > configure one-meter-for-all
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        > confirm disconnected
        attested insulation/all_to_ground
        ? confirm stand_clear
        > confirm stand_clear
        attested insulation/all_to_ground
        ? insulation/all_to_ground ohms-1
        > hold 120M 500V 60s
        value insulation/all_to_ground 120 MΩ pass within
        ? confirm shorted_to_ground
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        job_end no_fault_found
        ? nothing
        ",
    );
}
