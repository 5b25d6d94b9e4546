//! Listening where there is no waiting on all descriptors: a thread for each port.
//!
//! Not tried by the tests, which run on Unix: whoever changes it runs the
//! daemon on such a system with a meter, pulls its cable and puts it back.

use core::time::Duration;
use std::io::{ErrorKind, Read as _, Write as _};
use std::net::{TcpStream, ToSocketAddrs as _};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;

use bytes::Bytes;

use super::poll::Schedule;
use super::queue::{SendError, Sender};
use super::why::Why;
use super::{PortPlan, Stop, Tried};
use crate::clock::Clock;
use crate::input::{Input, What};
use crate::meter::{Address, Line, Parity, PortId};
use crate::text::Text;

const RETRY: Duration = Duration::from_secs(1);
const CONNECT: Duration = Duration::from_secs(2);
/// The longest a read waits: requests go out at most this late.
const READ: Duration = Duration::from_millis(10);

pub(super) fn start(
    ports: Vec<PortPlan>,
    clock: Clock,
    sender: Sender,
    usb: impl Fn(&Text) -> Option<Text> + Clone + Send + 'static,
    tried: &Arc<Tried>,
) -> std::io::Result<(Stop, Vec<JoinHandle<()>>)> {
    let asked = Arc::new(AtomicBool::new(false));
    let mut threads = Vec::new();
    for plan in ports {
        let mut port = OnePort {
            id: plan.id,
            schedule: Schedule::new(plan.requests),
            clock,
            sender: sender.clone(),
            stop: Arc::clone(&asked),
        };
        let (usb, tried) = (usb.clone(), Arc::clone(tried));
        let thread = std::thread::Builder::new().name(String::from("source"));
        threads.push(thread.spawn(move || port.run(&plan.address, &usb, &tried))?);
    }
    Ok((Stop { asked, radio: None }, threads))
}

enum Open {
    Serial(Box<dyn serialport::SerialPort>),
    Tcp(TcpStream),
}

struct OnePort {
    id: PortId,
    schedule: Schedule,
    clock: Clock,
    sender: Sender,
    stop: Arc<AtomicBool>,
}

impl OnePort {
    fn run(&mut self, address: &Address, usb: &dyn Fn(&Text) -> Option<Text>, tried: &Tried) {
        let mut said: Option<Why> = None;
        let mut first = true;
        while !self.stopping() {
            let why = match open(address, usb) {
                Ok(port) => {
                    said = None;
                    self.send(What::Opened { port: self.id });
                    if core::mem::take(&mut first) {
                        tried.count(1);
                    }
                    self.schedule.opened(self.clock.now());
                    let why = self.listen(port);
                    self.schedule.closed();
                    why
                }
                Err(why) => why,
            };
            if !said.as_ref().is_some_and(|s| s.same_story(&why)) && !self.stopping() {
                self.send(What::Closed {
                    port: self.id,
                    why: why.text(),
                });
            }
            if core::mem::take(&mut first) {
                tried.count(1);
            }
            said = Some(why);
            let until = self.clock.now().plus(RETRY);
            while !self.stopping() && self.clock.now() < until {
                std::thread::sleep(READ);
            }
        }
    }

    fn listen(&mut self, mut port: Open) -> Why {
        let mut buffer = [0; 8192];
        while !self.stopping() {
            while let Some(request) = self.schedule.next(self.clock.now()) {
                let data = request.data.clone();
                let sent = match &mut port {
                    Open::Serial(port) => port.write_all(&data),
                    Open::Tcp(stream) => stream.write_all(&data),
                };
                if let Err(error) = sent {
                    return ended(&port, &error);
                }
                self.send(What::Sent {
                    port: self.id,
                    data,
                });
            }
            let read = match &mut port {
                Open::Serial(port) => port.read(&mut buffer),
                Open::Tcp(stream) => stream.read(&mut buffer),
            };
            match read {
                Ok(0) => return ended(&port, &ErrorKind::UnexpectedEof.into()),
                Ok(count) => {
                    self.schedule.heard(self.clock.now());
                    self.send(What::Bytes {
                        port: self.id,
                        data: Bytes::copy_from_slice(&buffer[..count]),
                    });
                }
                Err(error) => match error.kind() {
                    ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted => (),
                    _ => return ended(&port, &error),
                },
            }
        }
        Why::Ended
    }

    /// Waits for room: meanwhile this port is not read and its driver holds the bytes.
    fn send(&self, what: What) {
        let mut round = vec![Input {
            at: self.clock.now(),
            what,
        }];
        while let Err(SendError::Full(back)) = self.sender.send(round, Duration::from_millis(50)) {
            if self.stopping() {
                return;
            }
            round = back;
        }
    }

    fn stopping(&self) -> bool {
        self.stop.load(Ordering::Acquire)
    }
}

fn open(address: &Address, usb: &dyn Fn(&Text) -> Option<Text>) -> Result<Open, Why> {
    match address {
        Address::Serial { path, line } => serial(path.as_str(), line),
        Address::Usb {
            usb: serial_number,
            line,
        } => match usb(serial_number) {
            Some(path) => serial(path.as_str(), line),
            None => Err(Why::NoUsb(serial_number.clone())),
        },
        Address::Tcp { address } => {
            let found = address.as_str().to_socket_addrs();
            let found = found.map_err(|_| Why::NoHost(address.clone()))?;
            let mut why = Why::Unreachable;
            for address in found {
                let connected = TcpStream::connect_timeout(&address, CONNECT).and_then(|stream| {
                    stream.set_nodelay(true)?;
                    stream.set_read_timeout(Some(READ))?;
                    Ok(stream)
                });
                match connected {
                    Ok(stream) => return Ok(Open::Tcp(stream)),
                    Err(error) if error.kind() == ErrorKind::ConnectionRefused => {
                        why = Why::Refused;
                    }
                    Err(_) => (),
                }
            }
            Err(why)
        }
        Address::Ble { .. } | Address::Replay { .. } => Err(Why::Missing),
    }
}

fn serial(path: &str, line: &Line) -> Result<Open, Why> {
    let builder = serialport::new(path, line.baud)
        .timeout(READ)
        .data_bits(match line.data_bits {
            7 => serialport::DataBits::Seven,
            _ => serialport::DataBits::Eight,
        })
        .parity(match line.parity {
            Parity::None => serialport::Parity::None,
            Parity::Even => serialport::Parity::Even,
            Parity::Odd => serialport::Parity::Odd,
        })
        .stop_bits(match line.stop_bits {
            2 => serialport::StopBits::Two,
            _ => serialport::StopBits::One,
        })
        .dtr_on_open(true);
    builder
        .open()
        .map(Open::Serial)
        .map_err(|error| match error.kind {
            // Windows says so both when the device is gone and when it is held.
            serialport::ErrorKind::NoDevice => Why::Missing,
            serialport::ErrorKind::Io(ErrorKind::PermissionDenied) => Why::Taken,
            serialport::ErrorKind::Io(ErrorKind::NotFound) => Why::Missing,
            _ => Why::System(Text::clean(&format!("the system says: {error}"))),
        })
}

fn ended(port: &Open, error: &std::io::Error) -> Why {
    match (port, error.kind()) {
        (Open::Serial(_), _) => Why::Unplugged,
        (Open::Tcp(_), ErrorKind::TimedOut) => Why::Unreachable,
        (Open::Tcp(_), _) => Why::Ended,
    }
}
