//! Meters are set up on their own machine and nowhere else.

use super::*;

#[test]
fn another_machines_page_opens_no_port_and_writes_nothing() {
    const TOKEN: &str = "0123456789abcdef";
    let open = Served::with(Some(TOKEN), true);
    let shown = format!("Authorization: Bearer {TOKEN}\n");
    for path in ["/api/setup", "/api/trial", "/meters/new"] {
        let (status, answer) = open.ask(&format!(
            "GET {path} HTTP/1.1\nHost: localhost:PORT\n{shown}Connection: close\n\n"
        ));
        assert_eq!(status, 403, "{path} {answer}");
        assert!(answer.contains("set up on the machine"), "{answer}");
    }
    let meter = r#"{"name":"weir","port":"/dev/ttyUSB0","protocol":"text-line"}"#;
    for path in ["/api/trial", "/api/trial/end", "/api/meters"] {
        open.post(path, &format!("{OWN}{shown}"), meter, 403);
    }
    // Other pages are seen from there.
    let (status, _) = open.ask(&format!(
        "GET /meters HTTP/1.1\nHost: localhost:PORT\n{shown}Connection: close\n\n"
    ));
    assert_eq!(status, 200);
}

#[test]
fn a_program_without_a_file_sets_up_nothing_and_says_so() {
    let served = Served::new();
    let meter = r#"{"name":"weir","port":"/dev/ttyUSB0","protocol":"text-line"}"#;
    for path in ["/api/trial", "/api/meters"] {
        let answer = served.post(path, OWN, meter, 404);
        assert!(answer.contains("stillohm serve"), "{answer}");
    }
    served.post(
        "/api/meters",
        "Content-Type: application/json\n",
        meter,
        403,
    );
}
