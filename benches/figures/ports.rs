//! Many meters on pseudo-terminals, written by one thread at a steady rate.

use std::os::fd::OwnedFd;
use std::time::{Duration, Instant, SystemTime};

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

/// Seconds of over-range before each plateau.
const AIR: f64 = 1.6;
/// Seconds that a plateau lasts.
const FLAT: f64 = 3.4;

/// A pseudo-terminal whose far end is kept open.
pub(crate) struct Pty {
    master: OwnedFd,
    _slave: OwnedFd,
    pub(crate) path: String,
}

impl Pty {
    pub(crate) fn open() -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pseudo-terminal");
        grantpt(&master).expect("granted");
        unlockpt(&master).expect("unlocked");
        rustix::io::fcntl_setfd(&master, rustix::io::FdFlags::CLOEXEC).expect("kept from children");
        let path = ptsname(&master, Vec::new()).expect("a name");
        let flags =
            rustix::fs::OFlags::RDWR | rustix::fs::OFlags::NOCTTY | rustix::fs::OFlags::CLOEXEC;
        let slave =
            rustix::fs::open(path.as_c_str(), flags, rustix::fs::Mode::empty()).expect("opens");
        let mut raw = rustix::termios::tcgetattr(&slave).expect("a terminal");
        raw.make_raw();
        rustix::termios::tcsetattr(&slave, rustix::termios::OptionalActions::Now, &raw)
            .expect("raw");
        let path = path.into_string().expect("ascii");
        Self {
            master,
            _slave: slave,
            path,
        }
    }
}

/// What was written to one port: each plateau's text, and when each line went out.
#[derive(Default)]
pub(crate) struct Written {
    /// Wall time of each line in nanoseconds since 1970, in order.
    pub(crate) lines: Vec<i128>,
    /// The values of the plateaus that ended while the run lasted, as ohms text.
    pub(crate) whole: Vec<String>,
}

/// Writes `rate` lines a second to each port for `seconds`, ports one after
/// the other within each period and plateaus staggered over the ports.
pub(crate) fn feed(ports: &[Pty], rate: f64, seconds: f64) -> Vec<Written> {
    let began = now();
    let mut written: Vec<Written> = ports.iter().map(|_| Written::default()).collect();
    let step = 1.0 / (rate * ports.len() as f64);
    for n in 0_u64.. {
        let due = n as f64 * step;
        if due >= seconds {
            break;
        }
        let ahead = due - began.elapsed().as_secs_f64();
        if ahead > 0.000_2 {
            std::thread::sleep(Duration::from_secs_f64(ahead));
        }
        let at = (n % ports.len() as u64) as usize;
        let (line, ended) = shows(at, ports.len(), due, due - 1.0 / rate);
        written[at].lines.push(wall());
        written[at].whole.extend(ended);
        // A full buffer means that nobody reads: the missing rows will say so.
        let sent = rustix::io::write(&ports[at].master, line.as_bytes());
        assert_eq!(
            sent.ok(),
            Some(line.len()),
            "port {at} does not take a whole line"
        );
    }
    written
}

/// The line of a port at a time, and the value of a plateau that ended since `before`.
fn shows(port: usize, ports: usize, at: f64, before: f64) -> (String, Option<String>) {
    let phase = |t: f64| t + (AIR + FLAT) * port as f64 / ports as f64;
    let plateau = |t: f64| {
        (
            (phase(t) / (AIR + FLAT)) as u64,
            phase(t) % (AIR + FLAT) >= AIR,
        )
    };
    let value = |n: u64| format!("{}.{:02}", 100 + port % 400, n % 100);
    let ((n, flat), (n_before, flat_before)) = (plateau(at), plateau(before.max(0.0)));
    // A plateau that was under way at the start had no air before it.
    let ended =
        (!flat && flat_before && (n_before > 0 || phase(0.0) < AIR - 1.5)).then(|| value(n_before));
    let line = if flat {
        format!("{} Ohm\r\n", value(n))
    } else {
        String::from("OL\r\n")
    };
    (line, ended)
}

#[expect(clippy::disallowed_methods, reason = "time is what is measured here")]
pub(crate) fn now() -> Instant {
    Instant::now()
}

/// Wall time in nanoseconds since 1970, as `recorded_at` counts.
#[expect(clippy::disallowed_methods, reason = "time is what is measured here")]
pub(crate) fn wall() -> i128 {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
    since.expect("after 1970").as_nanos() as i128
}
