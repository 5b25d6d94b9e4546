//! Simulated meters on real ports, at real time.
//!
//! One thread a meter writes what the model says into a pseudo-terminal (Linux)
//! or to whoever is connected over TCP (elsewhere). Other threads move the
//! clips and press the button through [`Served`]. A line that nobody reads is
//! lost, as on a cable with nothing at its end.

use std::io;
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use crate::clock::Clock;
use crate::sim::motor::Load;
use crate::sim::ohmmeter::Ohmmeter;
use crate::sim::tester::Tester;
use crate::stamp::Stamp;

/// An instrument that can be served.
#[derive(Clone, Debug)]
pub enum Instrument {
    /// An ohmmeter, about nine lines a second, speaking `text-line`.
    Ohms(Ohmmeter),
    /// An insulation tester, five lines a second, speaking `insulation-line`.
    Insulation(Tester),
}

impl Instrument {
    /// The description that fits what it sends.
    pub const fn protocol(&self) -> &'static str {
        match self {
            Self::Ohms(_) => "text-line",
            Self::Insulation(_) => "insulation-line",
        }
    }

    /// The time from line to line.
    pub const fn every(&self) -> Duration {
        match self {
            Self::Ohms(_) => Duration::from_millis(110),
            Self::Insulation(_) => Duration::from_millis(200),
        }
    }

    /// The line that is sent now; none while the range changes.
    pub fn line(&mut self, at: Stamp) -> Option<String> {
        match self {
            Self::Ohms(meter) => meter.line(at),
            Self::Insulation(tester) => tester.line(at),
        }
    }

    /// The clips go somewhere else.
    pub fn touch(&mut self, at: Stamp, load: Load) {
        match self {
            Self::Ohms(meter) => meter.touch(at, load),
            Self::Insulation(tester) => tester.touch(at, load),
        }
    }

    /// The test button goes down (`true`) or up; an ohmmeter has none.
    pub fn button(&mut self, at: Stamp, down: bool) {
        match self {
            Self::Ohms(_) => {}
            Self::Insulation(tester) if down => tester.press(at),
            Self::Insulation(tester) => tester.release(at),
        }
    }
}

/// A served instrument: where to find it, and hands to move its clips. Dropping
/// it ends its thread and closes its port.
#[derive(Debug)]
pub struct Served {
    address: String,
    clock: Clock,
    model: Arc<Mutex<Instrument>>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Served {
    /// Serves on what this system is best at: a pseudo-terminal on Linux, TCP elsewhere.
    ///
    /// # Errors
    /// No pseudo-terminal or no TCP port is to be had.
    pub fn start(instrument: Instrument, clock: Clock) -> io::Result<Self> {
        #[cfg(target_os = "linux")]
        return Self::on(Port::pty()?, instrument, clock);
        #[cfg(not(target_os = "linux"))]
        Self::start_tcp(instrument, clock)
    }

    /// Serves on a free TCP port of this machine.
    ///
    /// # Errors
    /// No TCP port is to be had.
    pub fn start_tcp(instrument: Instrument, clock: Clock) -> io::Result<Self> {
        Self::on(Port::tcp()?, instrument, clock)
    }

    fn on(mut port: Port, instrument: Instrument, clock: Clock) -> io::Result<Self> {
        let address = port.address()?;
        let every = instrument.every();
        let model = Arc::new(Mutex::new(instrument));
        let stop = Arc::new(AtomicBool::new(false));
        let (theirs, ends) = (Arc::clone(&model), Arc::clone(&stop));
        let thread = thread::Builder::new()
            .name(String::from("simulated meter"))
            .spawn(move || {
                let mut due = clock.now();
                while !ends.load(Ordering::Relaxed) {
                    due = due.plus(every);
                    thread::sleep(due.since(clock.now()));
                    let at = clock.now();
                    let line = theirs
                        .lock()
                        .unwrap_or_else(PoisonError::into_inner)
                        .line(at);
                    if let Some(line) = line {
                        port.send(&line);
                    }
                }
            })?;
        Ok(Self {
            address,
            clock,
            model,
            stop,
            thread: Some(thread),
        })
    }

    /// As `serve --meter NAME=PROTOCOL@…` takes it: a path, or `tcp:HOST:PORT`.
    pub fn address(&self) -> &str {
        &self.address
    }

    /// The clips go somewhere else.
    pub fn touch(&self, load: Load) {
        self.with(|model, at| model.touch(at, load));
    }

    /// The test button goes down (`true`) or up.
    pub fn button(&self, down: bool) {
        self.with(|model, at| model.button(at, down));
    }

    fn with(&self, act: impl FnOnce(&mut Instrument, Stamp)) {
        let mut model = self.model.lock().unwrap_or_else(PoisonError::into_inner);
        act(&mut model, self.clock.now());
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // A model that panicked has already said so; there is nothing more to do here.
            drop(thread.join());
        }
    }
}

enum Port {
    #[cfg(target_os = "linux")]
    Pty {
        master: rustix::fd::OwnedFd,
        // Held open so that the master does not see a hang-up before the reader
        // comes, and so that raw mode stays.
        _slave: rustix::fd::OwnedFd,
        unsent: Vec<u8>,
    },
    Tcp {
        listener: TcpListener,
        reader: Option<TcpStream>,
    },
}

impl Port {
    #[cfg(target_os = "linux")]
    fn pty() -> io::Result<Self> {
        use rustix::{fs, pty, termios};
        let master = pty::openpt(pty::OpenptFlags::RDWR | pty::OpenptFlags::NOCTTY)?;
        pty::grantpt(&master)?;
        pty::unlockpt(&master)?;
        let path = pty::ptsname(&master, Vec::new())?;
        let slave = fs::open(
            path.as_c_str(),
            fs::OFlags::RDWR | fs::OFlags::NOCTTY | fs::OFlags::CLOEXEC,
            fs::Mode::empty(),
        )?;
        let mut raw = termios::tcgetattr(&slave)?;
        raw.make_raw();
        termios::tcsetattr(&slave, termios::OptionalActions::Now, &raw)?;
        fs::fcntl_setfl(&master, fs::OFlags::NONBLOCK)?;
        rustix::io::fcntl_setfd(&master, rustix::io::FdFlags::CLOEXEC)?;
        Ok(Self::Pty {
            master,
            _slave: slave,
            unsent: Vec::new(),
        })
    }

    fn tcp() -> io::Result<Self> {
        let listener = TcpListener::bind(SocketAddr::from(([127, 0, 0, 1], 0)))?;
        listener.set_nonblocking(true)?;
        Ok(Self::Tcp {
            listener,
            reader: None,
        })
    }

    fn address(&self) -> io::Result<String> {
        match self {
            #[cfg(target_os = "linux")]
            Self::Pty { master, .. } => rustix::pty::ptsname(master, Vec::new())?
                .into_string()
                .map_err(io::Error::other),
            Self::Tcp { listener, .. } => Ok(format!("tcp:{}", listener.local_addr()?)),
        }
    }

    fn send(&mut self, line: &str) {
        match self {
            #[cfg(target_os = "linux")]
            Self::Pty { master, unsent, .. } => {
                // Half a line is finished before the next one begins; a whole
                // one is dropped while nobody reads.
                if unsent.is_empty() {
                    unsent.extend_from_slice(line.as_bytes());
                    unsent.extend_from_slice(b"\r\n");
                }
                let whole = unsent.len();
                while !unsent.is_empty() {
                    match rustix::io::write(&*master, unsent) {
                        Ok(sent) => drop(unsent.drain(..sent)),
                        Err(rustix::io::Errno::INTR) => {}
                        Err(_) if unsent.len() == whole => unsent.clear(),
                        Err(_) => return,
                    }
                }
            }
            Self::Tcp { listener, reader } => {
                use io::Write as _;
                if let Ok((stream, _)) = listener.accept() {
                    // Without a time-out a reader that stops would stop the meter.
                    let ready = stream.set_nonblocking(false).is_ok()
                        && stream
                            .set_write_timeout(Some(Duration::from_millis(50)))
                            .is_ok();
                    *reader = ready.then_some(stream);
                }
                let gone = reader.as_mut().is_some_and(|stream| {
                    stream.write_all(format!("{line}\r\n").as_bytes()).is_err()
                });
                if gone {
                    *reader = None;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::{BufRead, BufReader};

    use super::*;
    use crate::quantity::Ohms;
    use crate::sim::motor::{Clips, Farads, Insulation, Motor};

    fn joined() -> Load {
        Motor {
            legs: Vec::new(),
            ground: Insulation {
                leakage: Ohms(1e9),
                absorption: Ohms(1e9),
                farads: Farads(1e-8),
            },
            path: Ohms(0.1),
        }
        .load(Clips::Joined, Ohms(0.25))
    }

    /// Reads lines until one says that the joined clips read their leads.
    fn reads_the_leads(served: &Served, from: impl io::Read) {
        served.touch(joined());
        let seen: Vec<String> = BufReader::new(from)
            .lines()
            .map(|l| l.expect("text"))
            .take(60)
            .take_while(|l| l != "0.250 Ohm")
            .collect();
        assert!(seen.len() < 60, "{seen:?}");
        for line in seen {
            assert!(line == "OL" || line.ends_with("Ohm"), "{line:?}");
        }
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_meter_on_a_pseudo_terminal_sends_whole_lines() {
        let served =
            Served::start(Instrument::Ohms(Ohmmeter::new(1)), Clock::start()).expect("a pty");
        let port = std::fs::File::open(served.address()).expect("opens");
        reads_the_leads(&served, port);
    }

    #[test]
    fn a_meter_over_tcp_sends_whole_lines_and_takes_a_second_reader() {
        let served =
            Served::start_tcp(Instrument::Ohms(Ohmmeter::new(1)), Clock::start()).expect("tcp");
        let address = served
            .address()
            .strip_prefix("tcp:")
            .expect("tcp")
            .to_owned();
        for _ in 0..2 {
            reads_the_leads(&served, TcpStream::connect(&address).expect("connects"));
        }
    }
}
