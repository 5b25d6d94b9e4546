//! Sources against real pseudo-terminals and connections on this machine.
//!
//! Nothing here asserts how fast something is: a test waits, generously, for
//! what must come, and looks at the order of what came.

use core::time::Duration;
use std::io::{Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::os::fd::OwnedFd;
use std::os::unix::fs::symlink;
use std::sync::{Arc, Mutex};

use bytes::Bytes;
use rustix::fs::{FlockOperation, Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

use super::queue::{Limit, Receiver, Woken, queue};
use super::{PortPlan, Running, start_with};
use crate::clock::Clock;
use crate::description::{Request, When};
use crate::input::{Input, What};
use crate::meter::{Address, Line, PortId};
use crate::text::Text;

/// The far end of a serial line.
struct Pty {
    master: OwnedFd,
    path: String,
}

impl Pty {
    fn new() -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let path = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        Self { master, path }
    }

    fn write(&self, mut bytes: &[u8]) {
        while !bytes.is_empty() {
            let count = rustix::io::write(&self.master, bytes).unwrap();
            bytes = &bytes[count..];
        }
    }

    fn read(&self) -> Vec<u8> {
        let mut buffer = [0; 256];
        let count = rustix::io::read(&self.master, &mut buffer).unwrap();
        buffer[..count].to_vec()
    }
}

fn serial(path: &str) -> Address {
    Address::Serial {
        path: Text::new(path).unwrap(),
        line: Line::default(),
    }
}

fn tcp(address: impl ToString) -> Address {
    Address::Tcp {
        address: Text::clean(&address.to_string()),
    }
}

/// A running source and what came from it.
struct Bench {
    running: Option<Running>,
    receiver: Receiver,
    got: Vec<Input>,
}

impl Bench {
    fn new(addresses: Vec<Address>) -> Self {
        Self::asking(addresses, &[], Limit::default(), |_| None)
    }

    fn asking(
        addresses: Vec<Address>,
        requests: &[Request],
        limit: Limit,
        usb: impl Fn(&Text) -> Option<Text> + Clone + Send + 'static,
    ) -> Self {
        let (sender, receiver) = queue(limit);
        let plans = (0..).zip(addresses).map(|(id, address)| PortPlan {
            id: PortId(id),
            address,
            requests: requests.to_vec(),
        });
        let running = start_with(plans.collect(), Clock::start(), sender, usb).unwrap();
        Self {
            running: Some(running),
            receiver,
            got: Vec::new(),
        }
    }

    /// What came from a port: `opened`, `closed: why`, `lost`, `sent TEXT`,
    /// and bytes between them joined as `TEXT`, one a line.
    fn story(&self, id: u16) -> String {
        let mut lines: Vec<String> = Vec::new();
        let mut joined = false;
        for input in &self.got {
            let text = |data: &Bytes| String::from_utf8_lossy(data).escape_debug().to_string();
            let line = match &input.what {
                What::Bytes { port, data } if port.0 == id => {
                    if joined {
                        lines.last_mut().unwrap().push_str(&text(data));
                    } else {
                        lines.push(text(data));
                    }
                    joined = true;
                    continue;
                }
                What::Opened { port } if port.0 == id => String::from("opened"),
                What::Closed { port, why } if port.0 == id => format!("closed: {why}"),
                What::Lost { port, .. } if port.0 == id => String::from("lost"),
                What::Sent { port, data } if port.0 == id => format!("sent {}", text(data)),
                _ => continue,
            };
            joined = false;
            lines.push(line);
        }
        lines.join("\n")
    }

    /// Waits until a port's story is this.
    #[track_caller]
    fn expect(&mut self, id: u16, story: &str) {
        self.wait_for(|bench| bench.story(id) == story, |bench| bench.story(id));
    }

    #[track_caller]
    fn wait_for(&mut self, done: impl Fn(&Self) -> bool, say: impl Fn(&Self) -> String) {
        for _ in 0..200 {
            if done(self) {
                return;
            }
            let soon = Some(Duration::from_millis(100));
            if self.receiver.recv_all(soon, &mut self.got) == Woken::Closed {
                break;
            }
        }
        assert!(done(self), "came instead: {}", say(self));
    }

    /// Lets time pass, so that what must not come could come.
    fn listen_on(&mut self, time: Duration) {
        let clock = Clock::start();
        while clock.now().seconds() < time.as_secs_f64() {
            let soon = Some(Duration::from_millis(20));
            self.receiver.recv_all(soon, &mut self.got);
        }
    }

    /// Stamps of a port never go back.
    #[track_caller]
    fn assert_monotone(&self) {
        assert!(self.got.is_sorted_by_key(|input| input.at));
    }
}

#[test]
fn lines_come_in_and_an_unplugged_port_is_said_and_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("blower-meter");
    let first = Pty::new();
    symlink(&first.path, &link).unwrap();
    let mut bench = Bench::new(vec![serial(link.to_str().unwrap())]);
    bench.running.as_ref().unwrap().all_tried();
    bench.expect(0, "opened");
    first.write(b"12.3 ohm\n");
    bench.expect(0, "opened\n12.3 ohm\\n");
    // The link goes with the device, as the system does it; left behind, it
    // would soon lead to somebody else's terminal of the same number.
    std::fs::remove_file(&link).unwrap();
    drop(first);
    bench.expect(0, "opened\n12.3 ohm\\n\nclosed: unplugged");
    // It fails a few times meanwhile, and that is no news.
    bench.listen_on(Duration::from_millis(700));
    let second = Pty::new();
    symlink(&second.path, &link).unwrap();
    bench.expect(0, "opened\n12.3 ohm\\n\nclosed: unplugged\nopened");
    second.write(b"12.4 ohm\n");
    bench.expect(
        0,
        "opened\n12.3 ohm\\n\nclosed: unplugged\nopened\n12.4 ohm\\n",
    );
    bench.assert_monotone();
}

#[test]
fn a_line_is_raw_every_byte_comes_as_it_was_sent_and_nothing_is_echoed() {
    let pty = Pty::new();
    let mut bench = Bench::new(vec![serial(&pty.path)]);
    bench.expect(0, "opened");
    let all: Vec<u8> = (0..=255).collect();
    pty.write(&all);
    let came = |bench: &Bench| -> Vec<u8> {
        let chunks = bench.got.iter().filter_map(|input| match &input.what {
            What::Bytes { data, .. } => Some(data.to_vec()),
            _ => None,
        });
        chunks.flatten().collect()
    };
    bench.wait_for(|b| came(b) == all, |b| format!("{:?}", came(b)));
    rustix::io::ioctl_fionbio(&pty.master, true).unwrap();
    let echoed = rustix::io::read(&pty.master, &mut [0; 16]);
    assert_eq!(echoed, Err(rustix::io::Errno::AGAIN));
}

#[test]
fn a_missing_port_is_said_once_and_tried_on() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("pump-meter");
    let mut bench = Bench::new(vec![serial(link.to_str().unwrap())]);
    bench.running.as_ref().unwrap().all_tried();
    let missing = "closed: no such device: is it plugged in?";
    bench.expect(0, missing);
    bench.listen_on(Duration::from_secs(1));
    assert_eq!(bench.story(0), missing);
    let pty = Pty::new();
    symlink(&pty.path, &link).unwrap();
    bench.expect(0, &format!("{missing}\nopened"));
}

#[test]
fn what_is_no_serial_port_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("notes.txt");
    std::fs::write(&file, "12.3 ohm\n").unwrap();
    let mut bench = Bench::new(vec![serial(file.to_str().unwrap())]);
    bench.expect(0, "closed: not a serial port");
}

#[test]
fn a_taken_port_is_said_once_and_opened_when_it_is_let_go() {
    let pty = Pty::new();
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    let other = rustix::fs::open(&pty.path, flags, Mode::empty()).unwrap();
    rustix::fs::flock(&other, FlockOperation::LockExclusive).unwrap();
    let mut bench = Bench::new(vec![serial(&pty.path)]);
    bench.expect(0, "closed: taken by another program");
    bench.listen_on(Duration::from_secs(1));
    assert_eq!(bench.story(0), "closed: taken by another program");
    drop(other);
    bench.expect(0, "closed: taken by another program\nopened");
    // And now it is ours: a second source does not get it.
    let mut second = Bench::new(vec![serial(&pty.path)]);
    second.expect(0, "closed: taken by another program");
    // Once stopped it is free again, although the far end never closed.
    drop(bench.running.take());
    second.expect(0, "closed: taken by another program\nopened");
}

#[test]
fn a_usb_device_is_found_again_under_another_name() {
    let first = Pty::new();
    let plugged = Arc::new(Mutex::new(Some(first.path.clone())));
    let usb = Arc::clone(&plugged);
    let find = move |serial: &Text| {
        assert_eq!(serial.as_str(), "HATCH-7");
        usb.lock().unwrap().as_deref().map(Text::clean)
    };
    let address = Address::Usb {
        usb: Text::clean("HATCH-7"),
        line: Line::default(),
    };
    let mut bench = Bench::asking(vec![address], &[], Limit::default(), find);
    bench.expect(0, "opened");
    *plugged.lock().unwrap() = None;
    drop(first);
    bench.expect(0, "opened\nclosed: unplugged");
    let second = Pty::new();
    *plugged.lock().unwrap() = Some(second.path.clone());
    bench.expect(0, "opened\nclosed: unplugged\nopened");
}

#[test]
fn a_connection_that_ends_is_said_and_made_again() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap();
    let mut bench = Bench::new(vec![
        tcp(address),
        tcp(format!("localhost:{}", address.port())),
    ]);
    let mut streams: Vec<TcpStream> = (0..2).map(|_| listener.accept().unwrap().0).collect();
    for stream in &mut streams {
        stream.write_all(b"12.3\n").unwrap();
    }
    bench.expect(0, "opened\n12.3\\n");
    bench.expect(1, "opened\n12.3\\n");
    drop(streams);
    drop(listener);
    let ended = "opened\n12.3\\n\nclosed: the other side ended the connection";
    bench.expect(0, ended);
    bench.listen_on(Duration::from_millis(700));
    assert_eq!(bench.story(0), ended, "refused meanwhile: no news");
    let _listener = TcpListener::bind(address).unwrap();
    bench.expect(0, &format!("{ended}\nopened"));
}

#[test]
fn nothing_listening_and_no_address_are_said() {
    // Bound and closed again: nobody listens there now.
    let free = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    let mut bench = Bench::new(vec![tcp(free), tcp("hatchery"), tcp("hatchery:port")]);
    bench.running.as_ref().unwrap().all_tried();
    bench.expect(0, "closed: connection refused: nothing listens there");
    bench.expect(1, "closed: expected HOST:PORT as address, found hatchery");
    bench.expect(
        2,
        "closed: expected HOST:PORT as address, found hatchery:port",
    );
}

#[test]
fn bluetooth_is_said_to_be_missing_and_replayed_ports_are_left_alone() {
    let ble = Address::Ble {
        address: Text::clean("AA:BB:CC:00:11:22"),
    };
    let replay = Address::Replay {
        name: Text::clean("old.pcapng"),
    };
    let mut bench = Bench::new(vec![ble, replay]);
    bench.running.as_ref().unwrap().all_tried();
    bench.expect(0, "closed: Bluetooth is not built into this version yet");
    assert_eq!(bench.story(1), "");
}

fn poll(name: &str, data: &'static [u8]) -> Request {
    Request {
        name: Text::clean(name),
        data: Bytes::from_static(data),
        when: When::Poll {
            every: Duration::from_millis(100),
            timeout: Duration::from_secs(10),
            quiet: Duration::from_millis(5),
        },
    }
}

#[test]
fn units_on_one_bus_are_asked_in_turn_and_each_answer_is_waited_for() {
    let pty = Pty::new();
    let hello = Request {
        name: Text::clean("hello"),
        data: Bytes::from_static(b"H"),
        when: When::Start,
    };
    let requests = [hello, poll("u1", b"a?"), poll("u2", b"b?")];
    let address = vec![serial(&pty.path)];
    let mut bench = Bench::asking(address, &requests, Limit::default(), |_| None);
    let mut asked = String::new();
    for answer in ["", "1.0\n", "2.0\n", "1.1\n", "2.1\n"] {
        asked.push_str(core::str::from_utf8(&pty.read()).unwrap());
        pty.write(answer.as_bytes());
    }
    assert_eq!(asked, "Ha?b?a?b?");
    let story =
        "opened\nsent H\nsent a?\n1.0\\n\nsent b?\n2.0\\n\nsent a?\n1.1\\n\nsent b?\n2.1\\n";
    bench.wait_for(|b| b.story(0).starts_with(story), |b| b.story(0));
    bench.assert_monotone();
}

#[test]
fn a_connection_is_asked_as_well_and_again_after_it_came_back() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = tcp(listener.local_addr().unwrap());
    let requests = [poll("read", b"READ?\n")];
    let mut bench = Bench::asking(vec![address], &requests, Limit::default(), |_| None);
    for _ in 0..2 {
        let (mut stream, _) = listener.accept().unwrap();
        let mut asked = [0; 6];
        stream.read_exact(&mut asked).unwrap();
        assert_eq!(&asked, b"READ?\n");
        stream.write_all(b"7\n").unwrap();
        stream.read_exact(&mut asked).unwrap();
    }
    let once = "opened\nsent READ?\\n\n7\\n\nsent READ?\\n";
    let story = format!("{once}\nclosed: the other side ended the connection\n{once}");
    bench.wait_for(|b| b.story(0).starts_with(&story), |b| b.story(0));
}

#[test]
fn fifty_lines_at_once_each_keep_their_order() {
    let ptys: Vec<Pty> = (0..50).map(|_| Pty::new()).collect();
    let mut bench = Bench::new(ptys.iter().map(|p| serial(&p.path)).collect());
    bench.running.as_ref().unwrap().all_tried();
    for line in 0..40 {
        for (id, pty) in ptys.iter().enumerate() {
            pty.write(format!("{id}.{line}\n").as_bytes());
        }
    }
    for id in 0..50 {
        let lines: String = (0..40).map(|line| format!("{id}.{line}\\n")).collect();
        bench.expect(id, &format!("opened\n{lines}"));
    }
    bench.assert_monotone();
}

#[test]
fn a_flood_of_garbage_is_passed_on_whole_and_the_line_beside_it_is_unharmed() {
    const FLOOD: usize = 400_000;
    let (noisy, quiet) = (Pty::new(), Pty::new());
    let mut bench = Bench::new(vec![serial(&noisy.path), serial(&quiet.path)]);
    bench.expect(1, "opened");
    let flood = std::thread::spawn(move || {
        noisy.write(&vec![0xA5; FLOOD]);
        noisy
    });
    quiet.write(b"12.3\n");
    bench.expect(1, "opened\n12.3\\n");
    let count = |bench: &Bench| -> usize {
        let sizes = bench.got.iter().map(|input| match &input.what {
            What::Bytes { port, data } if port.0 == 0 => data.len(),
            _ => 0,
        });
        sizes.sum()
    };
    bench.wait_for(|b| count(b) == FLOOD, |b| count(b).to_string());
    drop(flood.join().unwrap());
}

#[test]
fn a_full_queue_holds_bytes_back_and_says_what_may_be_lost() {
    let pty = Pty::new();
    let limit = Limit {
        inputs: 1,
        bytes: 1_000_000,
    };
    let mut bench = Bench::asking(vec![serial(&pty.path)], &[], limit, |_| None);
    bench.running.as_ref().unwrap().all_tried();
    // `opened` fills the queue; a first line makes the round that cannot be
    // put in; then more than the kernel holds is written, by one who can wait.
    pty.write(b"first\n");
    let clock = Clock::start();
    let written = std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(300));
        pty.write(&[b'x'; 30_000]);
        pty
    });
    std::thread::sleep(Duration::from_secs(1));
    assert!(clock.now().seconds() >= 1.0);
    let whole = |bench: &Bench| bench.story(0).matches('x').count() == 30_000;
    bench.wait_for(whole, |b| b.story(0).matches('x').count().to_string());
    let story = bench.story(0);
    assert!(story.starts_with("opened\nfirst\\n\nlost\nxxx"));
    drop(written.join().unwrap());
}

#[test]
fn what_arrived_before_the_stop_is_still_handed_over() {
    let pty = Pty::new();
    // `opened` fills the queue, so the line is still in the source's hands.
    let limit = Limit {
        inputs: 1,
        bytes: 1_000_000,
    };
    let mut bench = Bench::asking(vec![serial(&pty.path)], &[], limit, |_| None);
    bench.running.as_ref().unwrap().all_tried();
    pty.write(b"last words\n");
    std::thread::sleep(Duration::from_millis(300));
    let running = bench.running.take().unwrap();
    let stopped = std::thread::spawn(move || running.stop());
    std::thread::sleep(Duration::from_millis(100));
    while bench.receiver.recv_all(None, &mut bench.got) != Woken::Closed {}
    assert_eq!(bench.story(0), "opened\nlast words\\n");
    stopped.join().unwrap();
}
