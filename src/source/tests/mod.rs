//! Sources against real pseudo-terminals and connections on this machine.
//!
//! Nothing here asserts how fast something is: a test waits, generously, for
//! what must come, and looks at the order of what came.

mod connections;
mod lines;
mod load;

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
            gatt: None,
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
        let clock = Clock::start();
        while clock.now().seconds() < 20.0 {
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

fn poll(name: &str, data: &'static [u8]) -> Request {
    Request {
        to: None,
        name: Text::clean(name),
        data: Bytes::from_static(data),
        when: When::Poll {
            every: Duration::from_millis(100),
            timeout: Duration::from_secs(10),
            quiet: Duration::from_millis(5),
        },
    }
}
