//! One page acts on a bench, the others watch until they take it over.

use super::*;
use crate::row::JobOutcome;
use crate::view::{Ask, JobState, JobView};

const IDA: &str = "Stillohm-Page: ida-00000000000000\n";
const PER: &str = "Stillohm-Page: per-00000000000000\n";

fn at_work() -> Served {
    let served = Served::new();
    let job = JobView {
        job: String::from("J5"),
        bench: String::from("pond"),
        asset: String::from("pump 3"),
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
    };
    let view = View {
        meters: vec![crate::view::MeterView {
            bench: String::from("pond"),
            ..crate::view::MeterView::default()
        }],
        jobs: vec![job],
        ..View::default()
    };
    served.view.send_replace(Arc::new(view));
    served
}

#[test]
fn a_second_page_is_refused_until_it_takes_over() {
    let served = at_work();
    let (ida, per) = (format!("{OWN}{IDA}"), format!("{OWN}{PER}"));
    let park = r#"{"reason":"lunch"}"#;
    served.post("/api/jobs/J5/park", &ida, park, 200);
    let answer = served.post("/api/jobs/J5/park", &per, park, 409);
    assert!(
        answer.contains("pond is being worked on from another page"),
        "{answer}"
    );
    let motor =
        r#"{"motor":{"kind":"two_wire","rated_v":230,"electronics":"no"},"asset":"pump 4"}"#;
    served.post("/api/jobs", &per, motor, 409);
    // A person at a terminal is explicit already.
    served.post("/api/jobs/J5/park", OWN, park, 200);
    served.post("/api/benches/pond/hands", &per, "", 200);
    served.post("/api/jobs/J5/park", &per, park, 200);
    served.post("/api/jobs/J5/park", &ida, park, 409);
    served.post("/api/benches/pool/hands", &per, "", 404);
    served.post("/api/benches/pond/hands", OWN, "", 422);
    served.post(
        "/api/benches/pond/hands",
        "Stillohm-Page: per-00000000000000\n",
        "",
        403,
    );
    let named = format!("{OWN}Stillohm-Page: ida\n");
    served.post("/api/jobs/J5/park", &named, park, 422);
}

#[test]
fn a_page_hears_who_works_and_nobodys_name() {
    let served = at_work();
    let (ida, per) = (format!("{OWN}{IDA}"), format!("{OWN}{PER}"));
    let listen = |page: &str| {
        let request = format!("GET /api/events?page={page} HTTP/1.1\nHost: localhost:PORT\n\n");
        BufReader::new(served.send(&request))
            .lines()
            .map_while(Result::ok)
    };
    let mut heard = listen("per-00000000000000");
    let mut hear = |expected: &str| {
        let said = heard
            .by_ref()
            .find(|line| line.starts_with("data: {\"pond\""));
        assert_eq!(said.as_deref(), Some(expected));
    };
    served.post("/api/jobs/J5/park", &ida, "{}", 422);
    served.post("/api/jobs/J5/park", &ida, r#"{"reason":"lunch"}"#, 200);
    hear(r#"data: {"pond":"another"}"#);
    served.post("/api/benches/pond/hands", &per, "", 200);
    hear(r#"data: {"pond":"you"}"#);
    let (status, _) =
        served.ask("GET /api/events?page=x HTTP/1.1\nHost: localhost:PORT\nConnection: close\n\n");
    assert_eq!(status, 422);
}
