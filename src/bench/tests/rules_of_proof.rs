//! Rules 1 to 12 of judging, as far as they are a matter of state, by number.

use super::harness::check;

#[test]
fn rule_1_over_range_passes_only_between_two_proofs_and_with_contact() {
    // 48 Ω is no winding of this motor, so it shows no contact; leads that
    // change by 0.7 Ω prove nothing, by 0.1 Ω they do.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 48
        value ground/contact 48 Ω not_judged of 7
        > take 2.3
        value ground/contact 2.3 Ω not_judged of 7
        ? confirm disconnected
        > skip the tester is away
        note insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.9
        value leads/after 0.9 Ω fail changed
        > take 0.3
        value leads/after 0.3 Ω pass within
        judged ground/all_to_ground pass no_fault_seen of 7
        job_end incomplete
        ? nothing
        ",
    );
}

#[test]
fn rule_1_without_contact_over_range_stays_undecided_after_the_second_proof() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > skip no second lead within reach
        note ground/contact of 7
        ? confirm disconnected
        > skip no tester
        note insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        judged ground/all_to_ground undecided contact_unproven of 7
        job_end undecided
        ? nothing
        ",
    );
}

#[test]
fn rule_1_a_person_attests_both_ends_of_a_tester() {
    // 200 GΩ full scale is far beyond 1 MΩ.
    check(
        "
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
        ? insulation/all_to_ground mega-1
        > hold over:200G 500V 60s
        over_range insulation/all_to_ground over-range undecided leads_unproven
        ? confirm both_ends
        > confirm both_ends
        attested insulation/all_to_ground of 10
        ? confirm shorted_to_ground
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        ? leads/after mega-1
        > take 0.01M
        value leads/after 0.01 MΩ pass within
        judged insulation/all_to_ground pass above_range of 10
        job_end no_fault_found
        ? nothing
        ",
    );
}

#[test]
fn rule_2_a_gap_of_more_than_ten_seconds_ends_the_proof() {
    // After 9 s nothing changes; after 12 s the leads and the ground reading are asked for again.
    check(
        "
        > proven two_wire profile=machinery
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω not_judged
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > gap 9s
        gap
        > gap 12s
        gap
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn rule_2_a_proof_is_at_most_half_an_hour_old() {
    // A winding needs no fresh proof; the ground reading does, and the tester's own when its turn comes.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > tick 31min
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? leads/before mega-1
        ",
    );
}

#[test]
fn rule_2_the_proof_after_comes_within_half_an_hour() {
    // 29 min after the hold it is still in time; after 31 min what waited is due again.
    let over = "
        > proven two_wire profile=machinery
        ? winding/main ohms-1
        > skip known from the day before
        note winding/main
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 2.2
        value ground/contact 2.2 Ω not_judged of 7
        ? confirm disconnected
        > skip no tester
        note insulation/all_to_ground
        ? leads/after ohms-1
        ";
    check(&format!(
        "{over}
        > tick 29min
        > take 0.2
        value leads/after 0.2 Ω pass within
        judged ground/all_to_ground pass no_fault_seen of 7
        job_end incomplete
        ? nothing
        "
    ));
    check(&format!(
        "{over}
        > tick 31min
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? ground/all_to_ground ohms-1
        "
    ));
}

#[test]
fn rule_2_another_device_is_another_proof() {
    check(
        "
        > proven two_wire profile=machinery
        ? winding/main ohms-1
        > configure another-device
        ? leads/before ohms-1
        ",
    );
}

#[test]
fn rule_3_an_unproven_ground_is_at_best_undecided_but_for_the_bare_frame() {
    // 30 MΩ would pass; a casing that was never read to a second ground is no ground.
    check(
        "
        > start two_wire profile=machinery reference=casing
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
        > skip no second ground near by
        note ground_path/path
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ undecided ground_path_unproven
        ? confirm disconnected
        ",
    );
    check(
        "
        > start two_wire profile=machinery reference=frame
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
        > skip the bare frame
        note ground_path/path
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        ",
    );
}

#[test]
fn rule_3_an_earth_path_is_enough_for_a_casing() {
    // 12 Ω through earth and water: more than metal, at most 1 kΩ.
    check(
        "
        > start two_wire profile=machinery reference=casing
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
        > take 12.2
        value ground_path/path 12.2 Ω pass within
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        ",
    );
}

#[test]
fn rule_4_the_null_is_subtracted_from_windings_and_leads_above_one_ohm_are_refused() {
    check(
        "
        > start two_wire main=1.8..2.0
        job_start
        ? confirm dead
        > confirm dead
        attested dead/before
        ? leads/before ohms-1
        > take 1.4
        value leads/before 1.4 Ω fail high
        > take 0.3
        value leads/before 0.3 Ω pass within
        ? leads/before mega-1
        > skip not used today
        note leads/before
        ? ground_path/path ohms-1
        > skip frame
        note ground_path/path
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn rule_8_kilohms_where_ohms_belong_are_asked_for_twice() {
    // 2.2 kΩ is a thousand times the limits: suspect at first, a fault the second time.
    check(
        "
        > proven two_wire main=1.8..2.2
        ? winding/main ohms-1
        > take 2.2k
        value winding/main 2.2 kΩ undecided range_suspect
        > take 2.2k
        value winding/main 2.2 kΩ fail range_suspect
        ? ground/all_to_ground ohms-1
        ",
    );
}

#[test]
fn rule_12_without_an_insulation_test_a_job_stays_incomplete_unless_it_must_not_have_one() {
    let job = |plan: &str, outcome: &str| {
        check(&format!(
            "
            > configure no-tester
            > start two_wire main=1.8..2.2 profile=machinery {plan}
            job_start
            ? confirm dead
            > confirm dead
            attested dead/before
            ? leads/before ohms-1
            > take 0.2
            value leads/before 0.2 Ω pass within
            ? ground_path/path ohms-1
            > take 0.3
            value ground_path/path 0.3 Ω pass within
            ? winding/main ohms-1
            > take 2.2
            value winding/main 2.2 Ω pass within
            ? ground/all_to_ground ohms-1
            > take 30M
            value ground/all_to_ground 30 MΩ pass no_fault_seen
            ? leads/after ohms-1
            > take 0.2
            value leads/after 0.2 Ω pass within
            job_end {outcome}
            ? nothing
            "
        ));
    };
    job("electronics=no", "incomplete");
    job("electronics=unknown", "incomplete");
    job("electronics=yes", "no_fault_found");
    job("test=forbidden", "no_fault_found");
}
