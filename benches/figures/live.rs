//! 200 pseudo-terminals × 20 lines/s through `serve`: nothing lost, how late, at what cost.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SendError, SyncSender, sync_channel};
use std::time::Duration;

use stillohm::stamp::Wall;

use crate::Figure;
use crate::child::Daemon;
use crate::ports::{Pty, Written, feed, now, wall};

const PORTS: usize = 200;
const RATE: f64 = 20.0;
const SECONDS: f64 = 22.0;

/// A row announced on the event stream: its meter, its value, its time, and when it was seen.
struct Seen {
    meter: String,
    value: String,
    recorded: i128,
    at: i128,
}

pub(crate) fn figures() -> Vec<Figure> {
    let folder = tempfile::tempdir().expect("a folder");
    let ports: Vec<Pty> = (0..PORTS).map(|_| Pty::open()).collect();
    let quiet = syncs(folder.path());
    let web = TcpListener::bind("127.0.0.1:0")
        .and_then(|l| l.local_addr())
        .expect("a port")
        .port();
    let daemon = Daemon::start(folder.path(), &ports, Some(web));
    let seen = listen(web);
    let cpu = daemon.cpu_nanos();
    let fed = AtomicBool::new(false);
    let (written, busy) = std::thread::scope(|scope| {
        let busy = scope.spawn(|| syncs_until(folder.path(), &fed));
        let written = feed(&ports, RATE, SECONDS);
        fed.store(true, Ordering::Relaxed);
        (written, busy.join().expect("synced"))
    });
    let cpu = daemon.cpu_nanos() - cpu;
    std::thread::sleep(Duration::from_secs(1));
    let peak = daemon.peak_mib();
    daemon.drain();
    let seen: Vec<Seen> = seen.iter().collect();

    let readings: usize = written.iter().map(|w| w.lines.len()).sum();
    let (late, sync) = (latencies(&written, &seen), median(&busy));
    let (p99, sync99) = (part(&late, 0.99), part(&busy, 0.99));
    let mut figures = lost(&written, &seen, &folder.path().join("data/log"));
    figures.extend([
        Figure::said(
            "live: line to row seen, median, p90, p99 (ms)",
            format!("{:.2} {:.2} {p99:.2}", median(&late), part(&late, 0.9)),
        ),
        Figure::said(
            "live: one fdatasync meanwhile, median, p99 (ms)",
            format!("{sync:.2} {sync99:.2}"),
        ),
        Figure::said(
            "live: one fdatasync before, median (ms)",
            format!("{:.2}", median(&quiet)),
        ),
        Figure::at_most(
            "live: p99 line to row synced, over one fdatasync",
            p99 / sync,
            10.0,
            "×",
        ),
        Figure::said(
            "live: the same, over the p99 of fdatasync",
            format!("{:.2} ×", p99 / sync99),
        ),
        Figure::at_most(
            "live: CPU a reading",
            cpu as f64 / 1e3 / readings as f64,
            12.0,
            "µs",
        ),
        Figure::at_most("live: memory resident, most ever", peak, 16.0, "MiB"),
    ]);
    figures
}

/// Every plateau that ended has its row, once: by the log, not by what was announced.
fn lost(written: &[Written], seen: &[Seen], log: &Path) -> Vec<Figure> {
    let mut rows: BTreeMap<(String, String), u32> = BTreeMap::new();
    for file in fs::read_dir(log)
        .expect("a log")
        .filter_map(|f| Some(f.ok()?.path()))
    {
        if file.extension().is_none_or(|e| e != "csv") {
            continue;
        }
        let mut reader = csv::Reader::from_path(file).expect("opens");
        for row in reader.records().map(|r| r.expect("a row")) {
            if row.get(2) == Some("value") {
                *rows
                    .entry((row[5].to_owned(), row[16].to_owned()))
                    .or_default() += 1;
            }
        }
    }
    let mut missing = Vec::new();
    let mut all = 0;
    for (n, port) in written.iter().enumerate() {
        for value in &port.whole {
            all += 1;
            let row = (format!("m{n}"), value.clone());
            let count = rows.get(&row).copied().unwrap_or_default();
            if count != 1 {
                missing.push(format!("{} {}: {count} rows", row.0, row.1));
            }
        }
    }
    let announced = |(meter, value): &(String, String)| {
        seen.iter().any(|s| s.meter == *meter && s.value == *value)
    };
    let quiet = rows.keys().filter(|row| !announced(row)).count();
    let what = "live: plateaus without exactly one row";
    let mut figure = Figure::at_most(what, missing.len() as f64, 0.0, "");
    figure.found = format!("{} of {all}, {quiet} unannounced", missing.len());
    let told = missing.into_iter().take(5);
    let mut figures = vec![figure];
    figures.extend(told.map(|row| Figure::said("live:   one of them", row)));
    figures
}

/// Milliseconds from the line that settled a value to its row on the event
/// stream, sorted. The line is the port's last one at `recorded_at`.
fn latencies(written: &[Written], seen: &[Seen]) -> Vec<f64> {
    let mut late: Vec<f64> = seen
        .iter()
        .filter_map(|row| {
            let port: usize = row.meter.strip_prefix('m')?.parse().ok()?;
            let lines = &written.get(port)?.lines;
            // `recorded_at` is cut to the millisecond; lines are 50 ms apart.
            let after = lines.partition_point(|at| *at <= row.recorded + 1_000_000);
            Some((row.at - lines.get(after.checked_sub(1)?)?) as f64 / 1e6)
        })
        .collect();
    late.sort_by(f64::total_cmp);
    assert!(!late.is_empty(), "no value was announced");
    late
}

/// Rows from `/api/events`, each stamped as it is read. A stream that the
/// daemon ends is asked for again, as a page would; what fell between is
/// counted as unannounced.
fn listen(port: u16) -> Receiver<Seen> {
    let (send, seen) = sync_channel(100_000);
    std::thread::spawn(move || {
        while let Ok(stream) = TcpStream::connect(("127.0.0.1", port)) {
            if follow(stream, port, &send).is_err() {
                return;
            }
        }
    });
    seen
}

/// One event stream to its end; an error when nobody wants the rows any more.
fn follow(
    mut stream: TcpStream,
    port: u16,
    send: &SyncSender<Seen>,
) -> Result<(), SendError<Seen>> {
    let ask = format!(
        "GET /api/events HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nAccept: text/event-stream\r\nConnection: close\r\n\r\n"
    );
    if stream.write_all(ask.as_bytes()).is_err() {
        return Ok(());
    }
    let mut event = String::new();
    for line in BufReader::with_capacity(1 << 20, stream).lines() {
        let at = wall();
        let Ok(line) = line else { return Ok(()) };
        if let Some(name) = line.strip_prefix("event:") {
            name.trim().clone_into(&mut event);
        } else if let Some(data) = line.strip_prefix("data:").filter(|_| event == "row") {
            let row: serde_json::Value = serde_json::from_str(data).expect("JSON");
            let text = |key: &str| row[key].as_str().unwrap_or_default().to_owned();
            if text("event") == "value" {
                let recorded = Wall::parse(&text("recorded_at")).expect("a time").0;
                let (meter, value) = (text("meter"), text("value_ohms"));
                send.send(Seen {
                    meter,
                    value,
                    recorded: recorded.into(),
                    at,
                })?;
            }
        }
    }
    Ok(())
}

/// Milliseconds of single fdatasyncs, each after a row's worth of bytes.
pub(crate) fn syncs(folder: &Path) -> Vec<f64> {
    let mut file = File::create(folder.join("sync")).expect("a file");
    (0..100).map(|_| one_sync(&mut file)).collect()
}

/// The same ten times a second while something else goes on.
fn syncs_until(folder: &Path, end: &AtomicBool) -> Vec<f64> {
    let mut file = File::create(folder.join("sync-meanwhile")).expect("a file");
    let mut took = Vec::new();
    while !end.load(Ordering::Relaxed) {
        took.push(one_sync(&mut file));
        std::thread::sleep(Duration::from_millis(100));
    }
    took
}

fn one_sync(file: &mut File) -> f64 {
    file.write_all(&[b'x'; 400]).expect("written");
    let began = now();
    file.sync_data().expect("synced");
    began.elapsed().as_secs_f64() * 1e3
}

pub(crate) fn median(of: &[f64]) -> f64 {
    part(of, 0.5)
}

/// The value below which this part of all lies.
fn part(of: &[f64], part: f64) -> f64 {
    let mut of = of.to_vec();
    of.sort_by(f64::total_cmp);
    of[((of.len() as f64 * part) as usize).min(of.len() - 1)]
}
