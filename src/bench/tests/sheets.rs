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
