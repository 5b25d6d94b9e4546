//! From the start of the process to `ready`, with 16 ports.

use crate::Figure;
use crate::child::{Daemon, configured};
use crate::live::{median, syncs};
use crate::ports::{Pty, now};

const RUNS: usize = 21;

pub(crate) fn figures() -> Vec<Figure> {
    let ports: Vec<Pty> = (0..16).map(|_| Pty::open()).collect();
    let millis: Vec<f64> = (0..RUNS)
        .map(|_| {
            let folder = tempfile::tempdir().expect("a folder");
            let config = configured(folder.path(), &ports, None);
            let began = now();
            let daemon = Daemon::run(&config, false);
            let took = began.elapsed().as_secs_f64() * 1e3;
            daemon.drain();
            took
        })
        .collect();
    let folder = tempfile::tempdir().expect("a folder");
    let sync = median(&syncs(folder.path()));
    let least = millis.iter().copied().fold(f64::INFINITY, f64::min);
    vec![
        Figure::at_most(
            "start: to `ready`, 16 ports, new log, median",
            median(&millis),
            10.0,
            "ms",
        ),
        Figure::said("start: the same, least", format!("{least:.2} ms")),
        Figure::said("start: one fdatasync, median", format!("{sync:.2} ms")),
    ]
}
