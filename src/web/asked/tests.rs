//! What is missing or wrong is said whole.

use serde_json::json;

use super::*;
use crate::catalogue::Catalogue;

fn catalogue() -> Catalogue {
    let mut catalogue = Catalogue::default();
    let text = "model,kind,rated_v,reference_c,main_min_ohms,main_max_ohms,start_min_ohms,start_max_ohms,line_min_ohms,line_max_ohms,electronics,profile,source\npond-1,two_wire,230,20,2.2,2.6,,,,,no,,plate\n";
    catalogue.add_motors(std::path::Path::new("motors.csv"), text.as_bytes());
    catalogue
}

fn plan(said: Value) -> Result<crate::input::JobPlan, Wrong> {
    job_plan(said.as_object().expect("an object"), &catalogue())
}

#[track_caller]
fn lacks(said: Value, missing_fields: &[&str], words: &str) {
    match plan(said) {
        Err(Wrong::Fields { missing, wrong }) => {
            assert_eq!(missing, missing_fields);
            let all: Vec<String> = wrong
                .iter()
                .map(|f| format!("{}: {}", f.field, f.message))
                .collect();
            assert!(
                all.join("; ").contains(words),
                "{words:?} is not in {all:?}"
            );
        }
        other => panic!("expected a refusal, found {other:?}"),
    }
}

#[test]
fn a_cable_without_a_place_is_read_through_at_the_panel() {
    use crate::limits::{GroundReference, MeasuredAt};
    let at = |more: Value| {
        let mut said = json!({ "motor": "pond-1", "asset": "a" });
        let all = said.as_object_mut().expect("an object");
        all.extend(more.as_object().expect("an object").clone());
        plan(said).map(|p| (p.measured_at, p.ground_reference, p.cable.is_some()))
    };
    let panel = Ok((MeasuredAt::Panel, GroundReference::Other, true));
    assert_eq!(at(json!({ "cable_ohms": 1.4 })), panel);
    assert_eq!(at(json!({ "cable": "120 m 2.5 mm2" })), panel);
    assert_eq!(
        at(json!({ "cable_ohms": 1.4, "measured_at": "panel" })),
        panel
    );
    let splice = at(json!({ "cable_ohms": 1.4, "measured_at": "splice" }));
    assert_eq!(
        splice,
        Ok((MeasuredAt::Splice, GroundReference::Other, true))
    );
    for cable in [
        json!({ "cable_ohms": 1.4 }),
        json!({ "cable": "120 m 2.5 mm2" }),
    ] {
        let mut said = cable;
        said["measured_at"] = json!("motor");
        let refused = at(said).expect_err("refused").to_string();
        assert!(
            refused.starts_with("cable: a cable is not in the way at the motor: "),
            "{refused}"
        );
    }
    // No ohms are no cable: at the motor nothing is in the way, at the panel it is still unknown.
    let motor = Ok((MeasuredAt::Motor, GroundReference::Frame, false));
    assert_eq!(at(json!({})), motor);
    assert_eq!(at(json!({ "cable_ohms": 0 })), motor);
    assert_eq!(
        at(json!({ "cable_ohms": "0.00", "measured_at": "motor" })),
        motor
    );
    let unknown = at(json!({ "cable_ohms": 0, "measured_at": "panel" }));
    assert_eq!(
        unknown,
        Ok((MeasuredAt::Panel, GroundReference::Other, false))
    );
}

#[test]
fn everything_that_a_job_lacks_is_said_at_once() {
    lacks(json!({}), &["motor", "asset"], "");
    lacks(json!({ "motor": "pond-1", "asset": "" }), &["asset"], "");
    lacks(
        json!({ "motor": "pnod-1", "asset": "a" }),
        &[],
        "motor: motor \"pnod-1\" is not in the catalogue; nearest: pond-1",
    );
    lacks(
        json!({ "motor": { "kind": "two-wire" }, "asset": "a" }),
        &["motor.rated_v", "motor.electronics"],
        "motor.kind: \"two-wire\" is unknown; nearest: two_wire",
    );
    lacks(
        json!({ "motor": "pond-1", "asset": "a", "stag": "arrival" }),
        &[],
        "stag: unknown field; nearest: stage",
    );
    lacks(
        json!({ "motor": "pond-1", "asset": "=1+1" }),
        &[],
        "asset: expected words",
    );
    lacks(
        json!({ "motor": "pond-1", "asset": "a", "temperature": 900 }),
        &[],
        "temperature: expected degrees",
    );
    lacks(
        json!({ "motor": "pond-1", "asset": "a", "cable_ohms": -1 }),
        &[],
        "cable_ohms: expected ohms",
    );
    lacks(
        json!({ "motor": 7, "asset": "a" }),
        &[],
        "motor: expected a model",
    );
}

#[test]
fn a_job_has_the_motor_of_the_catalogue_or_one_described() {
    let listed =
        plan(json!({ "motor": "pond-1", "asset": "pump 3", "stage": "dried" })).expect("whole");
    assert!(listed.motor.in_catalogue);
    assert_eq!(
        (listed.stage.word(), listed.ground_reference.word()),
        ("dried", "frame")
    );
    let motor = json!({ "kind": "three_phase", "rated_v": 400, "electronics": "unknown" });
    let described = plan(
        json!({ "motor": motor, "asset": "blower", "measured_at": "panel", "cable_ohms": 0.1 }),
    )
    .expect("whole");
    assert!(!described.motor.in_catalogue);
    assert_eq!(described.ground_reference.word(), "other");
    assert_eq!(
        described.cable.map(|c| c.ohms.to_string()),
        Some("0.1".into())
    );
}

#[track_caller]
fn asks(name: &str, said: Value, expected: &str) {
    let found = match act(name, Some("J7"), said.as_object().expect("an object")) {
        Ok((_, act)) => serde_json::to_string(&act).expect("plain data"),
        Err(wrong) => wrong.to_string(),
    };
    assert_eq!(found, expected);
}

#[test]
fn an_act_is_read_whole_or_refused_whole() {
    asks(
        "confirm",
        json!({ "what": "dead" }),
        r#"{"confirm":{"job":"J7","what":"dead"}}"#,
    );
    asks(
        "confirm",
        json!({ "what": "deed" }),
        "what: \"deed\" is unknown; nearest: dead",
    );
    asks("skip", json!({}), "missing: reason");
    asks(
        "redo",
        json!({ "point": "winding main" }),
        r#"{"redo":{"job":"J7","point":{"test":"winding","name":"main"}}}"#,
    );
    asks(
        "redo",
        json!({ "point": "wnding main" }),
        "point: \"wnding\" is no test; nearest: winding",
    );
    asks(
        "withdraw",
        json!({ "seq": "x", "reason": "slipped" }),
        "seq: expected a whole number, found \"x\"",
    );
    asks(
        "review",
        json!({ "seq": 12, "words": "curve looked at" }),
        r#"{"review":{"seq":12,"words":"curve looked at"}}"#,
    );
    asks("review", json!({}), "missing: seq, words");
    asks(
        "enter",
        json!({ "meter": "m", "shown": "4.3", "scale": 1 }),
        "shown: expected either what is shown, or scale and multiplier of an analog instrument",
    );
    asks(
        "enter",
        json!({ "meter": "m", "scale": 3 }),
        "missing: multiplier",
    );
    asks(
        "prove",
        json!({ "meter": "ohms-1", "known": [{ "resistor": "10k 0.1 %" }] }),
        r#"{"prove":{"meter":"ohms-1","known":[{"ohms":"10e3","percent":"0.1","read":"live"}],"leads":null}}"#,
    );
    asks(
        "prove",
        json!({ "meter": "ohms-1", "known": [{ "resistor": "10k", "show": "1" }] }),
        "known.resistor: expected a resistor and its tolerance, such as \"100 ohm 0.1 %\" or \"10k 1%\", found \"10k\"; known.show: unknown field; nearest: shown",
    );
    asks(
        "prove",
        json!({ "meter": "ohms-1", "known": [], "leads": "OL" }),
        "leads: expected ohms, found \"OL\"",
    );
    asks(
        "explode",
        json!({}),
        "\"explode\" cannot be asked for; there are: confirm, clips_on, again, redo, skip, withdraw, park, go_on, end, enter, note, prove, review",
    );
}

#[test]
fn a_profile_is_looked_up_at_the_door_and_goes_into_the_plan_as_data() {
    let mut catalogue = catalogue();
    let own = "[[profile]]\nname = \"ponds\"\nsource = \"invented\"\nminimum = [{ megohm = 3 }]\n";
    catalogue.add_profiles(std::path::Path::new("profiles.toml"), own.as_bytes());
    let limits = |profile: &str| {
        let said = json!({ "motor": "pond-1", "asset": "a", "profile": profile });
        job_plan(said.as_object().expect("an object"), &catalogue)
            .map(|plan| plan.limits.expect("data").minimum[0].megohm.to_string())
            .map_err(|e| e.to_string())
    };
    assert_eq!(limits("ponds").as_deref(), Ok("3"));
    assert_eq!(limits("ieee43").as_deref(), Ok("5"));
    assert_eq!(
        limits("pons").expect_err("no such profile"),
        "profile: no insulation profile \"pons\"; nearest: ponds"
    );
    let none = plan(json!({ "motor": "pond-1", "asset": "a" })).expect("a plan");
    assert_eq!(none.limits, None);
}

#[test]
fn a_profile_that_needs_a_condition_asks_for_it_before_the_first_clip() {
    let with = |more: Value| {
        let mut said = json!({ "motor": "pond-1", "asset": "a", "profile": "pump-b" });
        let more = more.as_object().expect("an object").clone();
        said.as_object_mut().expect("an object").extend(more);
        said
    };
    lacks(
        with(json!({})),
        &[],
        "condition: insulation profile pump-b needs a condition: one of installed-used",
    );
    plan(with(json!({ "condition": "splice" }))).expect("a plan");
    // A motor that brings its own profile: its windings can be measured all the same.
    let mut own = catalogue();
    let line = "pond-9,two_wire,230,20,2.2,2.6,,,,,no,pump-b,plate\n";
    let header = crate::catalogue::COLUMNS.join(",");
    let text = format!("{header}\n{line}");
    own.add_motors(std::path::Path::new("motors.csv"), text.as_bytes());
    let said = json!({ "motor": "pond-9", "asset": "a" });
    job_plan(said.as_object().expect("an object"), &own).expect("a plan");
    // Nothing there is judged by a profile.
    plan(with(json!({ "sheet": "find-leads" }))).expect("a plan");
}

#[test]
fn a_number_with_its_unit_is_told_what_to_write() {
    let rated = |volts: &str| json!({ "kind": "two_wire", "rated_v": volts, "electronics": "no" });
    lacks(
        json!({ "motor": rated("400 V"), "asset": "a" }),
        &[],
        "motor.rated_v: expected a plain decimal number such as 12.5 or -3e-2, found \"400 V\"; write 400 without its unit",
    );
    // A prefix is never dropped.
    lacks(
        json!({ "motor": rated("4 kV"), "asset": "a" }),
        &[],
        "found \"4 kV\"",
    );
    let said = plan(json!({ "motor": rated("4 kV"), "asset": "a" })).expect_err("refused");
    assert!(!said.to_string().contains("write"), "{said}");
}
