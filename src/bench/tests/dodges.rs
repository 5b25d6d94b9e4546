//! Ways around the proofs: what a hurried or a clever person might do, and what
//! must not come of it.

use super::harness::{Bench, check};

/// Up to a ground reading beyond the range whose contact is to be shown.
pub(super) const OVER: &str = "
    > proven two_wire main=1.8..2.2 profile=machinery
    ? winding/main ohms-1
    > take 2.2
    value winding/main 2.2 Ω pass within
    ? ground/all_to_ground ohms-1
    > open
    open ground/all_to_ground over-range undecided leads_unproven
    ? second lead
    ";

/// A reading goes with the verdict on it, in the log as at the bench: else whoever
/// counts rows would count it as it was first judged.
#[test]
fn a_verdict_after_the_leads_that_is_withdrawn_takes_its_reading_along() {
    check(&format!(
        "{OVER}
        > take 2.2
        value ground/contact 2.2 Ω not_judged of 7
        ? confirm disconnected
        > confirm disconnected
        attested insulation/all_to_ground
        ? confirm stand_clear
        > confirm stand_clear
        attested insulation/all_to_ground
        ? insulation/all_to_ground mega-1
        > hold 300M 500V 60s
        value insulation/all_to_ground 300 MΩ pass within
        ? confirm shorted_to_ground
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > take 0.2
        value leads/after 0.2 Ω pass within
        judged ground/all_to_ground pass no_fault_seen of 7
        ? leads/after mega-1
        > withdraw 14 the clip was on paint
        withdrawn ground/all_to_ground of 14
        withdrawn ground/all_to_ground of 7
        ? ground/all_to_ground ohms-1
        "
    ));
}

/// The insulation test of a motor whose ground passed, beyond the range.
pub(super) const BEYOND: &str = "
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
    ";

#[test]
fn rule_1_joined_clips_are_no_second_lead_of_a_winding_of_little_resistance() {
    // 0.9 Ω lies within an ohm of the 0.2 Ω that the joined clips read: a clip
    // that fell off the winding and touches the other must not show contact.
    check(
        "
        > proven two_wire main=0.6..0.8 profile=machinery
        ? winding/main ohms-1
        > take 0.9
        value winding/main 0.9 Ω pass within
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 0.2
        value ground/contact 0.2 Ω not_judged of 7
        > take 0.3
        value ground/contact 0.3 Ω not_judged of 7
        > take 0.9
        value ground/contact 0.9 Ω not_judged of 7
        ? confirm disconnected
        ",
    );
    // No winding was read: what reads as the leads do is the leads.
    check(
        "
        > proven two_wire main=0.6..0.8 profile=machinery
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > open
        open ground/all_to_ground over-range undecided leads_unproven
        ? second lead
        > take 0.2
        value ground/contact 0.2 Ω not_judged of 7
        > take 0.9
        value ground/contact 0.9 Ω not_judged of 7
        ? confirm disconnected
        ",
    );
}

#[test]
fn rule_1_a_contact_that_is_withdrawn_is_shown_again() {
    check(&format!(
        "{OVER}
        > take 2.2
        value ground/contact 2.2 Ω not_judged of 7
        ? confirm disconnected
        > withdraw 8 clip A had slipped
        withdrawn ground/all_to_ground of 8
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
        "
    ));
    // After the second proof the pass rests on it too.
    check(&format!(
        "{BEYOND}
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > withdraw 11 the far end was off
        withdrawn insulation/all_to_ground of 11
        ? confirm both_ends
        > confirm both_ends
        attested insulation/all_to_ground of 10
        ? leads/after ohms-1
        > skip leads after: in a hurry
        note leads/after
        ? leads/after mega-1
        > take 0.01M
        value leads/after 0.01 MΩ pass within
        judged insulation/all_to_ground pass above_range of 10
        job_end incomplete
        ? nothing
        "
    ));
}

#[test]
fn rule_1_a_pass_falls_with_the_contact_it_rests_on_after_a_stop_too() {
    let mut bench = Bench::new();
    let before = BEYOND.lines().filter_map(|l| l.trim().strip_prefix("> "));
    for line in before.chain([
        "confirm shorted_to_ground",
        "take 0.2",
        "redo winding main",
        "enter mega-1 0.01M leads after",
    ]) {
        bench.happen(line).expect("goes on");
    }
    let insulation = |bench: &Bench| {
        let points = bench.views()[0].points.clone().into_iter();
        let mut of_test = points.filter(|p| p.test == "insulation");
        of_test
            .next()
            .map(|p| (p.state, p.verdict.map(|v| v.to_string())))
    };
    assert_eq!(insulation(&bench), Some(("done", Some("pass".to_owned()))));
    let contact = bench
        .rows
        .iter()
        .find(|r| r.row.reason.starts_with("both_ends"));
    let seq = contact.expect("attested").seq;
    for withdraw in [format!("withdraw {seq} wrong"), "restart".to_owned()] {
        bench.happen(&withdraw).expect("goes on");
        assert_eq!(
            insulation(&bench),
            Some(("due", None)),
            "{}",
            bench.reasons()
        );
    }
}

#[test]
fn a_word_that_is_withdrawn_is_asked_for_again() {
    check(&format!(
        "{BEYOND}
        > withdraw 8 the drive was still connected
        withdrawn of 8
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > withdraw 13 the short had fallen off
        withdrawn of 13
        ? confirm shorted_to_ground
        > confirm shorted_to_ground
        attested insulation/all_to_ground
        ? leads/after ohms-1
        > redo insulation all_to_ground
        note insulation/all_to_ground of 10
        ? confirm disconnected
        "
    ));
}

#[test]
fn rule_2_a_voltage_that_went_on_before_the_proof_was_not_proven() {
    // Typed at once: 60 s ago the tester's leads were not proven yet.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > skip later
        note winding/main
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        > enter mega-1 120M insulation all_to_ground 500V 60s
        value insulation/all_to_ground 120 MΩ undecided leads_unproven
        > confirm disconnected
        attested insulation/all_to_ground
        ? confirm stand_clear
        ",
    );
}

#[test]
fn rule_21_a_typed_press_came_after_the_word_that_everyone_stands_clear() {
    // Typed within the 60 s that it was held: the word came after the proof, the press after the word.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > skip later
        note winding/main
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
        > enter mega-1 120M insulation all_to_ground 500V 60s
        value insulation/all_to_ground 120 MΩ pass within
        ? confirm shorted_to_ground
        ",
    );
    // Leads that were read after the word prove nothing of a press before them.
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > skip later
        note winding/main
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
        > gap 20s mega-1
        gap
        ? leads/before mega-1
        > take 0.01M
        value leads/before 0.01 MΩ pass within
        ? insulation/all_to_ground mega-1
        > enter mega-1 120M insulation all_to_ground 500V 60s
        value insulation/all_to_ground 120 MΩ undecided leads_unproven
        ? confirm stand_clear
        ",
    );
}

#[test]
fn rule_12_a_pass_that_is_to_be_measured_again_clears_nothing() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery test=forbidden
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? leads/after ohms-1
        > redo ground all_to_ground
        note ground/all_to_ground of 6
        ? ground/all_to_ground ohms-1
        > enter ohms-1 0.2 leads after
        value leads/after 0.2 Ω pass within
        > end
        job_end incomplete
        ? nothing
        ",
    );
}

#[test]
fn rule_1_leads_that_are_read_anew_end_what_waited_for_the_old_ones() {
    check(&format!(
        "{OVER}
        > enter ohms-1 0.3 leads before
        value leads/before 0.3 Ω pass within
        ? ground/all_to_ground ohms-1
        "
    ));
}

#[test]
fn rule_2_a_typed_value_of_another_ohmmeter_is_refused() {
    check(
        "
        > configure two-benches
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > enter ohms-2 30M ground all_to_ground
        refused: ground all_to_ground is measured with ohms-1, found ohms-2; a value of another meter has other leads and another accuracy
        ",
    );
}

#[test]
fn rule_3_a_ground_path_that_is_withdrawn_takes_what_rests_on_it_along() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery reference=casing
        ? winding/main ohms-1
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > take 30M
        value ground/all_to_ground 30 MΩ pass no_fault_seen
        ? confirm disconnected
        > withdraw 5 the clips were joined
        withdrawn ground_path/path of 5
        withdrawn ground/all_to_ground of 7
        ? ground_path/path ohms-1
        ",
    );
}

#[test]
fn rule_8_volts_are_no_value_of_a_point_in_ohms() {
    check(
        "
        > proven two_wire main=1.8..2.2 profile=machinery
        ? winding/main ohms-1
        > take 2V
        value 2 V not_judged
        > take 2.2
        value winding/main 2.2 Ω pass within
        ? ground/all_to_ground ohms-1
        > take 2V
        value 2 V not_judged
        ",
    );
}

#[test]
fn rule_1_a_lead_that_is_broken_at_the_second_proof_ends_what_waited() {
    // Whole again a moment later: it may have been broken during the reading.
    check(&format!(
        "{OVER}
        > take 2.2
        value ground/contact 2.2 Ω not_judged of 7
        ? confirm disconnected
        > skip no tester
        note insulation/all_to_ground
        ? leads/after ohms-1
        > open
        open leads/after over-range fail open
        ? leads/before ohms-1
        > take 0.2
        value leads/before 0.2 Ω pass within
        ? ground/all_to_ground ohms-1
        "
    ));
}
