//! `serve` and what acts through it: ready, one holder, drain, and a log that verifies.

use std::io::{BufRead as _, BufReader};
use std::process::{Child, Command, Stdio};

use crate::run::{Folder, Ran};

/// A configuration with a meter read by eye and a free port.
pub(crate) const BY_EYE: &str = "data = \"data\"\n[web]\nlisten = \"127.0.0.1:0\"\n[[meter]]\nname = \"gauge\"\nby_eye = true\n";

/// A daemon that ends with the test, told to or not.
pub(crate) struct Daemon {
    child: Child,
    /// The line that it printed when it was ready.
    pub(crate) ready: String,
}

impl Daemon {
    pub(crate) fn start(folder: &Folder, args: &[&str]) -> Self {
        Self::spawn(folder.command(&[&["serve"], args].concat()))
    }

    /// Starts a command that prints a line when it is ready.
    pub(crate) fn spawn(mut command: Command) -> Self {
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("starts");
        let mut ready = String::new();
        BufReader::new(child.stdout.take().expect("piped"))
            .read_line(&mut ready)
            .expect("a line");
        Self { child, ready }
    }

    /// Its process id.
    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    /// Tells it to stop and gives its exit code.
    pub(crate) fn stop(mut self) -> Option<i32> {
        let pid = i32::try_from(self.child.id()).expect("a process id");
        let pid = rustix::process::Pid::from_raw(pid).expect("not 0");
        rustix::process::kill_process(pid, rustix::process::Signal::TERM).expect("is there");
        self.child.wait().expect("ends").code()
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        // Ended already when the test went well.
        _ = self.child.kill();
        _ = self.child.wait();
    }
}

/// The log's text and its captures replayed: the same, byte for byte.
#[track_caller]
pub(crate) fn replays_to_its_log(folder: &Folder, runs: usize) {
    replays_with(folder, runs, "");
}

/// The same; with what the replay says of refused frames.
pub(crate) fn replays_with(folder: &Folder, runs: usize, said: &str) {
    let files = |dir: &str| {
        let list = std::fs::read_dir(folder.path(dir)).expect("a folder");
        let mut files: Vec<_> = list.map(|f| f.expect("readable").path()).collect();
        // The second run of a second is `…-2`, and later.
        files.sort_by_key(|path| {
            let name = path
                .file_stem()
                .expect("a name")
                .to_string_lossy()
                .into_owned();
            let (run, nth) = name.split_once('-').unwrap_or((&name, "1"));
            (
                run.to_owned(),
                nth.parse::<u32>().unwrap_or_default(),
                path.clone(),
            )
        });
        files
    };
    let log = std::fs::read_to_string(&files("data/log")[0]).expect("a log");
    let captures = files("data/captures");
    assert_eq!(captures.len(), runs);
    let header = log.split_inclusive('\n').next().expect("a header");
    let mut replayed = String::from(header);
    for capture in captures {
        let ran = folder.run(&["replay", capture.to_str().expect("UTF-8")]);
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        assert!(ran.stderr.contains(said), "{}", ran.stderr);
        assert!(!said.is_empty() || ran.stderr.is_empty(), "{}", ran.stderr);
        replayed += ran.stdout.strip_prefix(header).expect("the header first");
    }
    assert_eq!(replayed, log);
    let verified = folder.run(&["verify", "data"]);
    assert_eq!(verified.code, Some(0), "{}", verified.stdout);
}

#[test]
fn a_daemon_is_ready_is_alone_drains_and_replays() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let daemon = Daemon::start(&folder, &[]);
    assert!(
        daemon.ready.starts_with("ready http://127.0.0.1:"),
        "{}",
        daemon.ready
    );
    let second = folder.run(&["serve"]);
    assert_eq!(second.code, Some(3));
    assert!(
        second
            .stderr
            .contains("data: another stillohm holds this data folder"),
        "{}",
        second.stderr
    );
    assert_eq!(daemon.stop(), Some(0));
    replays_to_its_log(&folder, 1);
}

#[test]
fn without_web_nothing_listens_and_commands_say_so() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let daemon = Daemon::start(&folder, &["--no-web"]);
    assert_eq!(daemon.ready, "ready\n");
    let ran = folder.run(&["enter", "gauge", "--shown", "4.3"]);
    assert_eq!(ran.code, Some(3));
    assert!(ran.stderr.contains("serves no API"), "{}", ran.stderr);
    assert_eq!(daemon.stop(), Some(0));
}

#[track_caller]
fn entered(ran: &Ran) {
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(ran.stdout.contains("22.7 kΩ: not_judged"), "{}", ran.stdout);
}

#[test]
fn a_value_is_entered_alone_and_through_a_daemon() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let enter = ["enter", "gauge", "--shown", "22.7 kΩ"];
    entered(&folder.run(&enter));
    let daemon = Daemon::start(&folder, &[]);
    let ran = folder.run(&enter);
    entered(&ran);
    assert!(ran.stderr.contains("through the daemon"), "{}", ran.stderr);
    let analog = folder.run(&[
        "enter",
        "gauge",
        "--scale",
        "3.2",
        "--multiplier",
        "10",
        "--json",
    ]);
    let row: serde_json::Value = serde_json::from_str(&analog.stdout).expect("a row");
    assert_eq!(
        (&row["value_ohms"], &row["method"]),
        (&"32".into(), &"manual".into())
    );
    assert_eq!(daemon.stop(), Some(0));
    replays_to_its_log(&folder, 2);
}

#[test]
fn a_value_that_cannot_be_is_refused() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let wrong = folder.run(&["enter", "gauge", "--shown", "22,7"]);
    assert_eq!(wrong.code, Some(2));
    assert!(
        wrong.stderr.contains("expected a value as on the display"),
        "{}",
        wrong.stderr
    );
    let unknown = folder.run(&["enter", "guage", "--shown", "4.3"]);
    assert_eq!(unknown.code, Some(2));
    assert!(unknown.stderr.contains("gauge"), "{}", unknown.stderr);
    assert_eq!(folder.run(&["enter", "gauge"]).code, Some(2));
}

#[test]
fn a_row_is_announced_as_it_stands_in_the_log() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    let daemon = Daemon::start(&folder, &[]);
    let at = daemon
        .ready
        .trim()
        .strip_prefix("ready http://")
        .expect("an address");
    let mut stream = std::net::TcpStream::connect(at).expect("listens");
    let request = format!("GET /api/events HTTP/1.0\r\nHost: {at}\r\n\r\n");
    std::io::Write::write_all(&mut stream, request.as_bytes()).expect("is read");
    let mut lines = BufReader::new(stream).lines().map(|l| l.expect("reads"));
    lines.find(|l| l == "event: view").expect("the view of now");
    let enter = ["enter", "gauge", "--shown", "4.3"];
    assert_eq!(folder.run(&enter).code, Some(0));
    let data = lines
        .find(|l| l.contains("\"event\":\"value\""))
        .expect("the value's row");
    let row: serde_json::Value = serde_json::from_str(&data["data: ".len()..]).expect("JSON");
    let log = std::fs::read_dir(folder.path("data/log"))
        .expect("a log")
        .next();
    let log = std::fs::read_to_string(log.expect("a file").expect("readable").path());
    let log = log.expect("text");
    let last = log.lines().last().expect("a row");
    assert!(last.starts_with(&format!("{},", row["seq"])), "{last}");
    assert!(
        last.ends_with(row["chain"].as_str().expect("a chain")),
        "{last}"
    );
    assert_eq!(daemon.stop(), Some(0));
}

#[test]
fn a_port_that_is_taken_is_3_and_named() {
    let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("a free port");
    let at = taken.local_addr().expect("bound").to_string();
    let config = BY_EYE.replace("127.0.0.1:0", &at);
    let folder = Folder::new(&[("stillohm.toml", &config)]);
    let ran = folder.run(&["serve"]);
    assert_eq!(ran.code, Some(3));
    assert!(ran.stderr.contains(&at), "{}", ran.stderr);
    replays_to_its_log(&folder, 1);
}

#[test]
fn verify_says_what_is_wrong_without_contradicting_itself() {
    let folder = Folder::new(&[("stillohm.toml", BY_EYE)]);
    assert_eq!(
        folder.run(&["enter", "gauge", "--shown", "4.3"]).code,
        Some(0)
    );
    let whole = folder.run(&["verify", "data"]);
    assert!(
        whole
            .stdout
            .starts_with("ok: 3 rows and 1 capture as written"),
        "{}",
        whole.stdout
    );
    let other = format!("2:{}", "0".repeat(32));
    let expected = folder.run(&["verify", "data", "--expect", &other]);
    assert_eq!(expected.code, Some(1));
    assert!(
        expected.stdout.contains("FAILED row 2: expected the chain")
            && expected.stdout.contains("not ok: 3 rows in one chain"),
        "{}",
        expected.stdout
    );
    let name = std::fs::read_dir(folder.path("data/log"))
        .expect("a folder")
        .map(|f| f.expect("readable").path())
        .find(|p| p.extension().is_some_and(|e| e == "csv"))
        .expect("a log");
    let text = std::fs::read_to_string(&name).expect("a log");
    std::fs::write(&name, text.replacen("4.3 Ω", "4.2 Ω", 1)).expect("written");
    let flipped = folder.run(&["verify", "data"]);
    assert_eq!(flipped.code, Some(1));
    assert!(
        flipped.stdout.contains("FAILED row 2: ")
            && flipped
                .stdout
                .contains("not ok: 1 whole row before the first fault"),
        "{}",
        flipped.stdout
    );
}
