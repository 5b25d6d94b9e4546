//! Rules 1, 3 and 4: leads and the ground path.

use super::{Bench, GroundPath, Leads, check, d, ground_path, leads_after, leads_before, words};

fn before(text: &str) -> Leads {
    let bench = Bench::read(&format!("leads before; {text}"));
    leads_before(&bench.meter, &bench.take)
}

fn after(text: &str, before: Option<&str>) -> Leads {
    let bench = Bench::read(&format!("leads after; {text}"));
    leads_after(&bench.meter, &bench.take, before.map(d))
}

fn tester(text: &str) -> Bench {
    let mut bench = Bench::read(&format!("insulation before; {text}"));
    bench.point.test = super::Test::Leads;
    bench
}

#[track_caller]
fn is(leads: &Leads, expected: &str, proven: bool) {
    assert_eq!(
        (words(&leads.judgement).as_str(), leads.proven),
        (expected, proven),
        "{}",
        leads.judgement.reason
    );
}

#[test]
fn rule_01_joined_clips_at_most_one_ohm_are_null_and_proof() {
    let good = before("shown 0.3");
    is(&good, "pass within", true);
    assert_eq!(
        good.null.map(|n| (n.ohms, n.resolution)),
        Some((d("0.3"), d("0.1")))
    );
    is(&before("shown 1.0"), "pass within", true);
    is(&before("open"), "fail open", false);
    is(&before("aborted"), "undecided unstable", false);
    is(
        &before("shown 0.3; flag frozen"),
        "undecided unstable",
        false,
    );
    is(
        &before("shown 0.3; unit volt"),
        "undecided range_suspect",
        false,
    );
}

#[test]
fn rule_04_a_null_above_one_ohm_asks_for_other_leads() {
    let bad = before("shown 1.1");
    is(&bad, "fail high", false);
    assert!(bad.judgement.reason.contains("replace the leads"));
    assert_eq!(bad.null, None);
}

#[test]
fn rule_04_no_null_with_four_wires_and_no_proof_with_a_relative_meter() {
    let four = before("shown 0.1; terminals 4");
    is(&four, "pass within", true);
    assert_eq!(four.null, None);
    is(
        &before("shown 0.0; flag relative"),
        "undecided null_suspect",
        false,
    );
    is(&before("shown -0.6"), "undecided null_suspect", false);
    is(&before("shown -0.5"), "pass within", true);
}

#[test]
fn rule_01_leads_after_lie_within_half_an_ohm_of_before() {
    is(&after("shown 0.8", Some("0.3")), "pass within", true);
    is(&after("shown 0.9", Some("0.3")), "fail changed", false);
    is(&after("shown 0.0", Some("0.6")), "fail changed", false);
    is(&after("open", Some("0.3")), "fail open", false);
    is(&after("shown 0.3", None), "undecided leads_unproven", false);
}

#[test]
fn rule_01_an_insulation_tester_has_its_own_bound() {
    let proof = |text: &str| {
        let bench = tester(text);
        leads_before(&bench.meter, &bench.take)
    };
    is(&proof("shown 100k"), "pass within", true);
    is(&proof("shown 101k"), "fail high", false);
    // Joined clips pull a tester's voltage down: that is a proof too.
    is(&proof("pulled 5 0.00M"), "pass within", true);
    assert_eq!(proof("shown 0.00M").null, None);
    let bench = tester("shown 90k");
    is(
        &leads_after(&bench.meter, &bench.take, Some(d("0"))),
        "pass within",
        true,
    );
    is(
        &leads_after(&bench.meter, &bench.take, None),
        "undecided leads_unproven",
        false,
    );
}

#[test]
fn rule_03_ground_is_proven_metal_to_metal_or_through_earth() {
    let path = |text: &str| {
        let bench = Bench::read(&format!("ground_path path; null 0.3; {text}"));
        let (path, judgement) = ground_path(&bench.case());
        (path, words(&judgement))
    };
    let is = |text: &str, expected: GroundPath| {
        let (found, said) = path(text);
        assert_eq!(found, expected, "{text}");
        let words = if expected == GroundPath::Unproven {
            "undecided ground_path_unproven"
        } else {
            "pass within"
        };
        assert_eq!(said, words, "{text}");
    };
    is("shown 1.3; on casing", GroundPath::Metal);
    is("shown 1.4; on casing", GroundPath::Earth);
    is("shown 1.4; on ground_conductor", GroundPath::Earth);
    is("shown 1.4; on frame", GroundPath::Unproven);
    is("shown 1000.3; on casing", GroundPath::Earth);
    is("shown 1000.4; on casing", GroundPath::Unproven);
    is("open; on casing", GroundPath::Unproven);
    is("aborted; on casing", GroundPath::Unproven);
    check(
        "ground_path path; shown 0.0; null 0.9; on casing",
        "undecided null_suspect",
    );
}

#[test]
fn points_with_nothing_to_judge_are_logged_as_they_are() {
    for point in ["dead before", "ratio pi", "temperature winding"] {
        check(&format!("{point}; shown 20.0"), "not_judged -");
    }
    check("leads before; shown 0.3", "pass within");
    check("leads after; shown 0.4; null 0.3", "pass within");
}

#[test]
fn rule_01_a_row_of_leads_after_is_held_against_before() {
    check("leads after; shown 0.8; null 0.3", "pass within");
    check("leads after; shown 0.9; null 0.3", "fail changed");
    check("leads after; shown 0.3", "undecided leads_unproven");
    check("leads before; shown 0.9; null 0.3", "pass within");
}
