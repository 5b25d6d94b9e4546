//! The whole journey, in process: a line meter over TCP, through sources,
//! engine and committer to the log, and back again from the capture.

use std::io::Write as _;
use std::net::TcpListener;
use std::path::Path;
use std::thread;
use std::time::Duration;

use stillohm::capture::pcapng::Pcapng;
use stillohm::daemon::{self, Options};
use stillohm::description;
use stillohm::engine::{Engine, Output};
use stillohm::input::{Input, Settings, What};
use stillohm::meter::{Address, Meter, Port, PortId};
use stillohm::row::Event;
use stillohm::text::Text;

/// Serves each line once, at 20 a second, to the first that connects; then holds the line.
fn line_meter(lines: Vec<String>) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let address = listener.local_addr().expect("bound").to_string();
    thread::spawn(move || {
        let (mut peer, _) = listener.accept().expect("a daemon connects");
        for line in lines {
            if peer.write_all(line.as_bytes()).is_err() {
                return;
            }
            thread::sleep(Duration::from_millis(50));
        }
        thread::sleep(Duration::from_secs(60));
    });
    address
}

/// Open clips, then a contact at each value in turn.
fn plateaus(values: &[&str]) -> Vec<String> {
    let mut lines = vec![String::from("OL\r\n"); 30];
    for value in values {
        lines.extend(vec![format!("{value}\r\n"); 60]);
        lines.extend(vec![String::from("OL\r\n"); 30]);
    }
    lines
}

fn settings(address: &str) -> Settings {
    let text = description::shipped()
        .iter()
        .find(|(name, _)| *name == "text-line")
        .expect("shipped")
        .1;
    let name = Text::clean("text-line");
    Settings {
        ports: vec![Port {
            address: Address::Tcp {
                address: Text::clean(address),
            },
            protocol: name.clone(),
        }],
        meters: vec![Meter::plain(Text::clean("ohms-1"), PortId(0))],
        descriptions: [(name, text.to_owned())].into(),
        require_calibrated: false,
    }
}

/// The log's lines after the header, as they stand on the disk.
fn log_lines(data: &Path) -> String {
    let mut files: Vec<_> = std::fs::read_dir(data.join("log"))
        .expect("a log")
        .map(|entry| entry.expect("readable").path())
        .filter(|path| path.extension().is_some_and(|e| e == "csv"))
        .collect();
    files.sort();
    let all: Vec<String> = files
        .iter()
        .map(|f| std::fs::read_to_string(f).expect("text"))
        .collect();
    all.iter()
        .map(|text| text.split_once('\n').map_or("", |(_, rows)| rows))
        .collect()
}

/// Every input of the run, through all its capture files in their order.
fn inputs(data: &Path) -> (usize, Vec<Input>) {
    let mut files: Vec<_> = std::fs::read_dir(data.join("captures"))
        .expect("captures")
        .map(|entry| entry.expect("readable").path())
        .collect();
    // RUN.pcapng, RUN.2.pcapng … RUN.10.pcapng
    files.sort_by_key(|path| (path.to_string_lossy().len(), path.clone()));
    let mut all = Vec::new();
    for path in &files {
        let mut reader = Pcapng::new(std::fs::File::open(path).expect("opens"));
        while let Some(input) = reader.next_input().expect("a whole capture") {
            all.push(input);
        }
    }
    (files.len(), all)
}

/// Rows as the log would write them, with their chain.
fn written(inputs: &[Input]) -> String {
    use sha2::Digest as _;
    let What::Begin(begin) = &inputs[0].what else {
        panic!("no Begin")
    };
    let mut engine = Engine::new();
    let mut output = Output::default();
    for input in inputs {
        engine.input(input, &mut output).expect("replays");
    }
    let (mut seq, mut chain) = (begin.next_seq, begin.chain.to_string());
    let mut text = String::new();
    for row in output.rows {
        let mut line = String::new();
        row.write(seq, &mut line);
        let digest = sha2::Sha256::digest(format!("{chain}{line}").as_bytes());
        chain = digest[..16].iter().map(|b| format!("{b:02x}")).collect();
        text.push_str(&format!("{line}{chain}\n"));
        seq += 1;
    }
    text
}

/// Runs a daemon on a meter with two contacts; returns how many capture files it left.
fn check_live_equals_replay(file_bytes: u64) -> usize {
    let folder = tempfile::tempdir().expect("a folder");
    let address = line_meter(plateaus(&["4.30", "12.07"]));
    let mut options = Options::new(folder.path().to_owned(), settings(&address));
    options.captures.file_bytes = file_bytes;
    let running = daemon::start(options).expect("starts");
    let mut rows = running.rows();
    running.all_tried();
    let mut values = Vec::new();
    let patience = Duration::from_secs(30);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .build()
        .expect("a runtime");
    runtime.block_on(async {
        while values.len() < 2 {
            let row = tokio::time::timeout(patience, rows.recv()).await;
            let row = row.expect("in time").expect("a row");
            if row.row.event == Event::Value {
                values.push(row.row.shown.clone());
            }
        }
    });
    assert_eq!(values, ["4.30 Ω", "12.07 Ω"]);
    running.stop("test over").expect("stops in order");

    let log = log_lines(folder.path());
    let (files, captured) = inputs(folder.path());
    assert_eq!(
        written(&captured),
        log,
        "a replay gives the same log, byte for byte"
    );
    assert!(
        log.lines().last().expect("rows").contains(",run_end,"),
        "{log}"
    );
    assert_eq!(log.matches(",capture_end,").count(), files - 1, "{log}");
    files
}

#[test]
fn a_meter_over_tcp_gives_one_row_a_contact_and_its_capture_gives_the_same_log() {
    assert_eq!(check_live_equals_replay(64 << 20), 1);
}

#[test]
fn a_run_over_several_capture_files_replays_as_one() {
    assert!(check_live_equals_replay(8 << 10) > 1);
}

#[test]
fn a_second_daemon_on_the_same_data_is_refused_by_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let options = Options::new(folder.path().to_owned(), Settings::default());
    let first = daemon::start(options.clone()).expect("starts");
    let second = daemon::start(options)
        .expect_err("the folder is taken")
        .to_string();
    assert!(
        second.contains(&folder.path().display().to_string()),
        "{second}"
    );
    first.stop("test over").expect("stops in order");
}

#[test]
fn a_capture_too_old_to_keep_is_deleted_and_its_deletion_is_a_row() {
    let folder = tempfile::tempdir().expect("a folder");
    let captures = folder.path().join("captures");
    std::fs::create_dir_all(&captures).expect("a folder");
    let old = captures.join("20200504T081502Z.pcapng");
    std::fs::write(&old, b"years ago").expect("written");
    let mut options = Options::new(folder.path().to_owned(), Settings::default());
    options.captures.retention.age = Some(Duration::from_secs(86_400));
    let running = daemon::start(options).expect("starts");
    for _ in 0..1000 {
        if !old.exists() {
            break;
        }
        thread::sleep(Duration::from_millis(20));
    }
    running.stop("test over").expect("stops in order");
    assert!(!old.exists());
    let log = log_lines(folder.path());
    assert!(
        log.contains("20200504T081502Z.pcapng: older than 1 days"),
        "{log}"
    );
}
