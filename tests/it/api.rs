//! The API of a running daemon, as a program on this machine meets it.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;

use crate::run::Folder;
use crate::serve::{BY_EYE, Daemon};

fn ask(at: &str, request: &str) -> (u16, String) {
    let mut stream = TcpStream::connect(at).expect("listens");
    stream.write_all(request.as_bytes()).expect("is read");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("an answer");
    let status = answer.split(' ').nth(1).and_then(|s| s.parse().ok());
    (status.expect("a status"), answer)
}

fn post(at: &str, path: &str, origin: &str, body: &str) -> (u16, String) {
    let length = body.len();
    ask(
        at,
        &format!(
            "POST {path} HTTP/1.0\r\nHost: {at}\r\nOrigin: {origin}\r\nContent-Type: application/json\r\nContent-Length: {length}\r\n\r\n{body}"
        ),
    )
}

#[test]
fn a_job_is_begun_worked_and_ended_over_the_api() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let daemon = Daemon::start(&folder, &[]);
    let at = daemon
        .ready
        .trim()
        .strip_prefix("ready http://")
        .expect("an address");
    let own = format!("http://{at}");
    let (status, answer) = post(at, "/api/jobs", &own, r#"{"asset":"pump 3"}"#);
    assert_eq!(status, 422, "{answer}");
    assert!(answer.contains(r#""missing":["motor"]"#), "{answer}");
    let motor =
        r#"{"motor":{"kind":"three_phase","rated_v":400,"electronics":"no"},"asset":"blower 7"}"#;
    let (status, answer) = post(at, "/api/jobs", "http://evil.example", motor);
    assert_eq!(status, 403, "{answer}");
    let (status, answer) = post(at, "/api/jobs", &own, motor);
    assert_eq!(status, 200, "{answer}");
    let body = answer.split("\r\n\r\n").nth(1).expect("a body");
    let done: serde_json::Value = serde_json::from_str(body).expect("JSON");
    let job = done["job"].as_str().expect("its name");
    let (status, answer) = post(
        at,
        &format!("/api/jobs/{job}/confirm"),
        &own,
        r#"{"what":"voltage_on"}"#,
    );
    assert_eq!(status, 409, "not what is asked: {answer}");
    let (status, answer) = post(
        at,
        &format!("/api/jobs/{job}/confirm"),
        &own,
        r#"{"what":"dead"}"#,
    );
    assert_eq!(status, 200, "{answer}");
    let (status, answer) = post(at, &format!("/api/jobs/{job}/end"), &own, "{}");
    assert_eq!(status, 200, "{answer}");
    assert_eq!(daemon.stop(), Some(0));
    let log = std::fs::read_dir(folder.path("data/log"))
        .expect("a log")
        .next();
    let log =
        std::fs::read_to_string(log.expect("a file").expect("readable").path()).expect("text");
    let events: Vec<&str> = log.lines().filter_map(|l| l.split(',').nth(2)).collect();
    assert_eq!(
        events,
        [
            "event",
            "run_start",
            "job_start",
            "attested",
            "job_end",
            "run_end"
        ]
    );
}
