//! The form as text: what it holds, and that hostile names stay words.

use std::path::Path;

use serde_json::{Map, Value, json};

use super::*;
use crate::row::JobOutcome;
use crate::view::{Ask, JobView};
use crate::web::asked::job_plan;

const PROFILES: &str = "[[profile]]\nname = \"east-ponds\"\nsource = \"<i>rule 3</i>\"\nminimum = [{ condition = \"in-pond\", megohm = 2 }]\n";

fn catalogue() -> Catalogue {
    let text =
        crate::catalogue::COLUMNS.join(",") + "\nHB-CP 40,two_wire,230,25,38,44,,,,,no,,invented\n";
    let mut catalogue = Catalogue::default();
    catalogue.add_motors(Path::new("motors.csv"), text.as_bytes());
    catalogue.add_profiles(Path::new("profiles.toml"), PROFILES.as_bytes());
    assert!(catalogue.problems.is_empty(), "{:?}", catalogue.problems);
    catalogue
}

fn page_of(benches: &[&str]) -> String {
    let names: Vec<String> = benches.iter().map(|b| (*b).to_owned()).collect();
    form(&names, &View::default(), &catalogue()).into_string()
}

fn job(bench: &str, asset: &str) -> JobView {
    JobView {
        job: String::from("J5"),
        bench: bench.to_owned(),
        asset: asset.to_owned(),
        motor: String::from("HB-CP 40"),
        tester: String::new(),
        state: JobState::Active,
        ask: Ask::default(),
        points: Vec::new(),
        outcome: JobOutcome::Incomplete,
        why: String::new(),
        banners: Vec::new(),
        discharge_until: None,
        diagnosis: Vec::new(),
    }
}

#[track_caller]
fn holds(page: &str, part: &str) {
    assert!(page.contains(part), "{part} is not in\n{page}");
}

#[test]
fn every_field_has_its_label_and_a_place_for_its_message() {
    let page = page_of(&["east", "west"]);
    for name in [
        "bench",
        "asset",
        "motor",
        "motor.kind",
        "motor.rated_v",
        "motor.electronics",
        "motor.model",
        "tester",
        "stage",
        "temperature",
        "connection",
        "cable",
        "cable_ohms",
        "cable_doubt_percent",
        "ground_reference",
        "acceptance",
        "profile",
        "condition",
        "sheet",
    ] {
        holds(&page, &format!("<label for=\"{name}\">"));
        holds(&page, &format!("id=\"{name}\" name=\"{name}\""));
        holds(&page, &format!("id=\"{name}-wrong\""));
    }
    holds(&page, "id=\"measured_at-wrong\"");
    // Each id that something points to is there, and no id is there twice.
    for points in [
        "aria-describedby=\"",
        "aria-controls=\"",
        "aria-labelledby=\"",
    ] {
        for named in page.split(points).skip(1) {
            for id in named.split('"').next().unwrap_or_default().split(' ') {
                assert_eq!(page.matches(&format!(" id=\"{id}\"")).count(), 1, "{id}");
            }
        }
    }
}

#[test]
fn what_can_be_chosen_are_the_words_that_the_door_reads() {
    let page = page_of(&["east"]);
    let words = (Kind::ALL.iter().map(|w| w.word()))
        .chain(Electronics::ALL.iter().map(|w| w.word()))
        .chain(Stage::ALL.iter().map(|w| w.word()))
        .chain(MeasuredAt::ALL.iter().map(|w| w.word()))
        .chain(GroundReference::ALL.iter().map(|w| w.word()))
        .chain(Acceptance::ALL.iter().map(|w| w.word()))
        .chain([
            "low_v",
            "high_v",
            "ieee43",
            "bench-unused",
            "pi",
            "find-fault",
        ])
        .chain(["east-ponds", "in-pond"]);
    for word in words {
        holds(&page, &format!("value=\"{word}\""));
    }
}

#[test]
fn what_stands_chosen_is_what_a_job_is_without_it() {
    let plan = |more: Value| {
        let mut said: Map<String, Value> = Map::new();
        said.insert("motor".to_owned(), json!("HB-CP 40"));
        said.insert("asset".to_owned(), json!("CP-07"));
        said.extend(more.as_object().expect("an object").clone());
        job_plan(&said, &catalogue()).expect("a plan")
    };
    let chosen = json!({
        "stage": STAGE.word(),
        "measured_at": MEASURED_AT.word(),
        "acceptance": ACCEPTANCE.word(),
    });
    assert_eq!(plan(chosen), plan(json!({})));
    let page = page_of(&["east"]);
    let count = page.matches(" selected>").count() + page.matches(" checked>").count();
    assert_eq!(count, 4, "stage, acceptance; by model, measured at");
}

#[test]
fn hostile_names_are_text() {
    let name = "\"><script>alert(1)</script>&%";
    let view = View {
        jobs: vec![job(name, "<img src=x>")],
        ..View::default()
    };
    let page = form(&[name.to_owned()], &view, &catalogue()).into_string();
    assert!(!page.contains("<script>"), "{page}");
    assert!(!page.contains("<img"), "{page}");
    assert!(!page.contains("<i>"), "{page}");
    holds(
        &page,
        "value=\"&quot;&gt;&lt;script&gt;alert(1)&lt;/script&gt;&amp;%\"",
    );
    holds(&page, "data-address=\"/bench/%22%3E%3Cscript%3E");
    holds(&page, "&lt;img src=x&gt; is being worked on");
}

#[test]
fn the_cautions_come_before_the_button_that_starts_and_leave_the_last_word_to_local_codes() {
    let page = page_of(&["east"]);
    let cautions = page.find("proven dead").expect("the cautions");
    assert!(cautions < page.find("type=\"submit\"").expect("the button"));
    holds(&page, "Local codes and licensed practice come before");
}

#[test]
fn without_a_meter_there_is_no_form() {
    let page = page_of(&[]);
    assert!(!page.contains("<form"), "{page}");
    holds(&page, "href=\"/meters/new\"");
}
