//! A private bus of one test.

use std::io::{BufRead as _, BufReader};
use std::process::{Child, Command, Stdio};

use tempfile::TempDir;

/// A bus daemon, until dropped.
pub(crate) struct Bus {
    child: Child,
    address: String,
    _dir: TempDir,
}

const CONFIG: &str = r#"<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>system</type>
  <listen>unix:dir=DIR</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
  </policy>
</busconfig>
"#;

impl Bus {
    /// Starts one.
    pub(crate) fn start() -> Self {
        let dir = TempDir::new().expect("a folder");
        let config = dir.path().join("bus.conf");
        let text = CONFIG.replace("DIR", &dir.path().display().to_string());
        std::fs::write(&config, text).expect("a file");
        let mut child = Command::new("dbus-daemon")
            .arg(format!("--config-file={}", config.display()))
            .args(["--nofork", "--print-address"])
            .stdout(Stdio::piped())
            .spawn()
            .expect("dbus-daemon is needed: tests/all installs it");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("piped"))
            .read_line(&mut line)
            .expect("an address");
        let address = line.trim().split(",guid=").next().unwrap_or_default();
        assert!(!address.is_empty(), "the bus says its address");
        Self {
            child,
            address: address.to_owned(),
            _dir: dir,
        }
    }

    pub(crate) fn address(&self) -> &str {
        &self.address
    }
}

impl Drop for Bus {
    fn drop(&mut self) {
        // It may have ended already; then there is nothing to do.
        drop(self.child.kill());
        drop(self.child.wait());
    }
}
