//! `stillohm serve` as a child, and what `/proc` says about it.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use crate::ports::Pty;

pub(crate) const STILLOHM: &str = env!("CARGO_BIN_EXE_stillohm");

/// Writes the configuration of a daemon on these ports.
pub(crate) fn configured(folder: &Path, ports: &[Pty], web: Option<u16>) -> PathBuf {
    let mut text = format!("data = \"{}\"\n", folder.join("data").display());
    if let Some(port) = web {
        text.push_str(&format!("[web]\nlisten = \"127.0.0.1:{port}\"\n"));
    }
    for (n, port) in ports.iter().enumerate() {
        text.push_str(&format!(
            "[[meter]]\nname = \"m{n}\"\nbench = \"b{n}\"\nprotocol = \"text-line\"\nserial = {{ path = \"{}\" }}\n",
            port.path
        ));
    }
    let config = folder.join("stillohm.toml");
    fs::write(&config, text).expect("written");
    config
}

/// A daemon that is killed when this goes.
pub(crate) struct Daemon {
    child: Child,
}

impl Daemon {
    /// Starts it on these ports and waits for `ready`.
    pub(crate) fn start(folder: &Path, ports: &[Pty], web: Option<u16>) -> Self {
        Self::run(&configured(folder, ports, web), web.is_some())
    }

    /// Starts it on a configuration that is there.
    pub(crate) fn run(config: &Path, web: bool) -> Self {
        let mut command = Command::new(STILLOHM);
        command.arg("serve").arg("--config").arg(config);
        if !web {
            command.arg("--no-web");
        }
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("starts");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("piped"))
            .read_line(&mut line)
            .expect("a line");
        assert!(
            line.starts_with("ready"),
            "expected `ready`, found {line:?}"
        );
        Self { child }
    }

    /// Nanoseconds of CPU of all its threads so far.
    pub(crate) fn cpu_nanos(&self) -> u64 {
        let tasks = fs::read_dir(format!("/proc/{}/task", self.child.id())).expect("alive");
        tasks
            .filter_map(|task| fs::read_to_string(task.ok()?.path().join("schedstat")).ok())
            .filter_map(|text| text.split(' ').next()?.parse::<u64>().ok())
            .sum()
    }

    /// Most memory it ever had resident, in MiB.
    pub(crate) fn peak_mib(&self) -> f64 {
        let status =
            fs::read_to_string(format!("/proc/{}/status", self.child.id())).expect("alive");
        let line = status
            .lines()
            .find(|l| l.starts_with("VmHWM:"))
            .expect("VmHWM");
        let kib: f64 = line
            .split_whitespace()
            .nth(1)
            .expect("a number")
            .parse()
            .expect("a number");
        kib / 1024.0
    }

    /// SIGTERM, and its end.
    pub(crate) fn drain(mut self) {
        let pid = rustix::process::Pid::from_child(&self.child);
        rustix::process::kill_process(pid, rustix::process::Signal::TERM).expect("sent");
        assert!(
            self.child.wait().expect("ends").success(),
            "SIGTERM: expected exit 0"
        );
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        // After a drain there is nothing left to kill.
        drop(self.child.kill());
        drop(self.child.wait());
    }
}
