//! One port on Unix: closed, connecting or open, and how it gets from one to the other.

use core::time::Duration;
use std::net::SocketAddr;
use std::os::fd::OwnedFd;
use std::sync::PoisonError;

use bytes::Bytes;
use rustix::io::Errno;

use super::blocks::Blocks;
use super::poll::Schedule;
use super::tcp::{self, Lookup, Resolved};
use super::wait::{Key, Poller, Ready, Waker};
use super::why::Why;
use super::{PortPlan, serial};
use crate::input::{Input, What};
use crate::meter::{Address, PortId};
use crate::stamp::Stamp;
use crate::text::Text;

/// Before a port is tried again: at first, and at most. With a connection that
/// times out just before its device returns this still makes less than 5 s.
const RETRY_FIRST: Duration = Duration::from_millis(200);
const RETRY_MAX: Duration = Duration::from_millis(1500);
const _: () = assert!(RETRY_MAX.as_millis() + tcp::CONNECT.as_millis() < 5000);
/// A port that lived this long is tried again at once when lost (own).
const STABLE: Duration = Duration::from_secs(5);
/// Bytes that were not taken for this long: the device is stuck (own).
const STUCK: Duration = Duration::from_secs(3);
/// A link is looked at this often (own), to see whether it still leads to the
/// open device: a number of the system, given anew, must not put another
/// device's values under a meter's name.
const FOLLOW: Duration = Duration::from_secs(1);
/// A serial port's buffer in the kernel; when it is full, bytes are dropped
/// (Linux: `N_TTY_BUF_SIZE` less one).
const KERNEL_BUFFER: usize = 4095;
/// The fastest usual line, 921 600 baud, needs this long to fill it.
const STALL: Duration = Duration::from_millis(40);

/// What a link works with during one round.
pub(super) struct Context<'a> {
    pub(super) now: Stamp,
    pub(super) poller: &'a mut Poller,
    pub(super) round: &'a mut Vec<Input>,
    pub(super) blocks: &'a mut Blocks,
    pub(super) waker: &'a Waker,
    pub(super) usb: &'a dyn Fn(&Text) -> Option<Text>,
    /// Ports that were tried for the first time.
    pub(super) tried: usize,
}

/// One port.
pub(super) struct Link {
    id: PortId,
    key: Key,
    address: Address,
    schedule: Schedule,
    state: State,
    /// What a person was told last; nothing once it is open.
    said: Option<Why>,
    delay: Duration,
    tried: bool,
    /// Which of several addresses of a host is next.
    turn: usize,
    out: Option<Outgoing>,
    /// When the link that names the open device is looked at next.
    follow: Option<Stamp>,
    /// How long nothing was read because the queue was full.
    stalled: Duration,
}

enum State {
    /// It is never opened.
    Never,
    Waiting(Stamp),
    Resolving {
        lookup: Lookup,
        since: Stamp,
    },
    Connecting {
        fd: OwnedFd,
        until: Stamp,
    },
    Open {
        fd: OwnedFd,
        since: Stamp,
    },
}

/// A message on its way out.
struct Outgoing {
    data: Bytes,
    done: usize,
    since: Stamp,
    /// Whether the rest waits until the descriptor takes more.
    waiting: bool,
}

impl Link {
    pub(super) fn new(key: Key, plan: PortPlan) -> Self {
        Self {
            id: plan.id,
            key,
            address: plan.address,
            schedule: Schedule::new(plan.requests),
            state: State::Waiting(Stamp::ZERO),
            said: None,
            delay: RETRY_FIRST,
            tried: false,
            turn: 0,
            out: None,
            follow: None,
            stalled: Duration::ZERO,
        }
    }

    /// When [`Link::expire`] is to be called.
    pub(super) fn deadline(&self) -> Option<Stamp> {
        match &self.state {
            State::Never => None,
            State::Waiting(at) => Some(*at),
            State::Resolving { since, .. } if !self.tried => Some(since.plus(tcp::CONNECT)),
            State::Resolving { .. } => None,
            State::Connecting { until, .. } => Some(*until),
            State::Open { .. } => {
                let out = match &self.out {
                    Some(out) => Some(out.since.plus(STUCK)),
                    None => self.schedule.deadline(),
                };
                [out, self.follow].into_iter().flatten().min()
            }
        }
    }

    /// Whether a look-up may have ended.
    pub(super) fn is_resolving(&self) -> bool {
        matches!(self.state, State::Resolving { .. })
    }

    /// The queue was full and nothing was read for `time`.
    pub(super) fn stalled(&mut self, time: Duration) {
        let serial = matches!(self.address, Address::Serial { .. } | Address::Usb { .. });
        if serial && matches!(self.state, State::Open { .. }) {
            self.stalled += time;
        }
    }

    /// What is said when there is no listening any more; nothing if it was not open.
    pub(super) fn given_up(&self, at: Stamp) -> Option<Input> {
        let open = matches!(self.state, State::Open { .. });
        open.then(|| Input {
            at,
            what: What::Closed {
                port: self.id,
                why: Text::clean("listening ended: the system cannot wait on ports any more"),
            },
        })
    }

    /// A deadline came, or a look-up ended.
    pub(super) fn expire(&mut self, cx: &mut Context<'_>) {
        if self.moved(cx.now) {
            self.lose(cx, Why::Moved);
            return self.attempt(cx);
        }
        match &self.state {
            State::Waiting(at) if *at <= cx.now => self.attempt(cx),
            State::Resolving { lookup, .. } => {
                let found = lookup.lock().unwrap_or_else(PoisonError::into_inner).take();
                match found {
                    Some(Ok(addresses)) => self.connect(cx, &addresses),
                    Some(Err(why)) => self.fail(cx, why),
                    None => self.count_tried(cx),
                }
            }
            State::Connecting { fd, until } if *until <= cx.now => {
                cx.poller.remove(self.key, fd);
                self.fail(cx, Why::Unreachable);
            }
            State::Open { .. } => match &self.out {
                Some(out) if cx.now.since(out.since) >= STUCK => self.lose(cx, Why::Stuck),
                Some(_) => (),
                None => self.pump(cx),
            },
            State::Never | State::Waiting(_) | State::Connecting { .. } => (),
        }
    }

    /// Whether the link that was opened leads to another device now.
    fn moved(&mut self, now: Stamp) -> bool {
        let (State::Open { fd, .. }, Address::Serial { path, .. }) = (&self.state, &self.address)
        else {
            return false;
        };
        if self.follow.is_none_or(|at| now < at) {
            return false;
        }
        self.follow = Some(now.plus(FOLLOW));
        serial::leads_elsewhere(path.as_str(), fd)
    }

    /// The descriptor is ready.
    pub(super) fn ready(&mut self, cx: &mut Context<'_>, ready: Ready) {
        match &self.state {
            State::Connecting { fd, .. } if ready.write => {
                let decided = tcp::connected(fd).and_then(|()| {
                    let reading = cx.poller.modify(self.key, fd, false);
                    reading.map_err(Why::connecting)
                });
                if let Err(why) = decided {
                    cx.poller.remove(self.key, fd);
                    return self.fail(cx, why);
                }
                match core::mem::replace(&mut self.state, State::Never) {
                    State::Connecting { fd, .. } => self.opened(cx, fd),
                    other => self.state = other,
                }
            }
            State::Open { .. } => {
                if ready.read {
                    self.read(cx, ready.hung);
                }
                if self.out.as_ref().is_some_and(|out| out.waiting) && !ready.write {
                    return;
                }
                self.pump(cx);
            }
            State::Never
            | State::Waiting(_)
            | State::Resolving { .. }
            | State::Connecting { .. } => (),
        }
    }

    fn attempt(&mut self, cx: &mut Context<'_>) {
        let opened = match &self.address {
            Address::Serial { path, line } => serial::open_line(path.as_str(), line),
            Address::Usb { usb, line } => match (cx.usb)(usb) {
                Some(path) => serial::open_line(path.as_str(), line),
                None => Err(Why::NoUsb(usb.clone())),
            },
            Address::Tcp { address } => {
                return match tcp::resolve(address.as_str(), cx.waker) {
                    Ok(Resolved::Now(addresses)) => self.connect(cx, &addresses),
                    Ok(Resolved::Later(lookup)) => {
                        self.state = State::Resolving {
                            lookup,
                            since: cx.now,
                        };
                    }
                    Err(why) => self.fail(cx, why),
                };
            }
            Address::Ble { .. } | Address::Replay { .. } => {
                self.state = State::Never;
                return;
            }
        };
        let added = opened.and_then(|fd| match cx.poller.add(self.key, &fd, false) {
            Ok(()) => Ok(fd),
            Err(error) => Err(Why::opening(error)),
        });
        match added {
            Ok(fd) => self.opened(cx, fd),
            Err(why) => self.fail(cx, why),
        }
    }

    fn connect(&mut self, cx: &mut Context<'_>, addresses: &[SocketAddr]) {
        let Some(address) = addresses.get(self.turn % addresses.len().max(1)) else {
            return self.fail(cx, Why::Unreachable);
        };
        self.turn = self.turn.wrapping_add(1);
        let begun =
            tcp::connect(*address).and_then(|fd| match cx.poller.add(self.key, &fd, true) {
                Ok(()) => Ok(fd),
                Err(error) => Err(Why::connecting(error)),
            });
        match begun {
            Ok(fd) => {
                let until = cx.now.plus(tcp::CONNECT);
                self.state = State::Connecting { fd, until };
            }
            Err(why) => self.fail(cx, why),
        }
    }

    fn opened(&mut self, cx: &mut Context<'_>, fd: OwnedFd) {
        let since = cx.now;
        self.state = State::Open { fd, since };
        self.said = None;
        self.stalled = Duration::ZERO;
        self.follow = match &self.address {
            Address::Serial { path, .. } if serial::is_link(path.as_str()) => {
                Some(cx.now.plus(FOLLOW))
            }
            _ => None,
        };
        self.count_tried(cx);
        self.push(cx, What::Opened { port: self.id });
        self.schedule.opened(cx.now);
        self.pump(cx);
    }

    /// It did not open: said unless it is the same story as before, and tried again.
    fn fail(&mut self, cx: &mut Context<'_>, why: Why) {
        self.count_tried(cx);
        let told = |said: &Why| said.same_story(&why);
        if !self.said.as_ref().is_some_and(told) {
            self.push(
                cx,
                What::Closed {
                    port: self.id,
                    why: why.text(),
                },
            );
            self.said = Some(why);
        }
        self.retry_later(cx);
    }

    /// It was open and is no more.
    fn lose(&mut self, cx: &mut Context<'_>, why: Why) {
        if let State::Open { fd, since } = &self.state {
            cx.poller.remove(self.key, fd);
            if !matches!(self.address, Address::Tcp { .. }) {
                serial::before_close(fd);
            }
            if cx.now.since(*since) >= STABLE {
                self.delay = RETRY_FIRST;
            }
        }
        self.out = None;
        self.schedule.closed();
        self.push(
            cx,
            What::Closed {
                port: self.id,
                why: why.text(),
            },
        );
        self.said = Some(why);
        self.retry_later(cx);
    }

    fn retry_later(&mut self, cx: &Context<'_>) {
        self.state = State::Waiting(cx.now.plus(self.delay));
        self.delay = (self.delay * 2).min(RETRY_MAX);
    }

    fn read(&mut self, cx: &mut Context<'_>, hung: bool) {
        let State::Open { fd, .. } = &self.state else {
            return;
        };
        match cx.blocks.read(fd) {
            Ok(data) if data.is_empty() => self.lose(cx, self.ended(None)),
            Ok(data) => {
                self.look_for_loss(cx, data.len());
                self.push(
                    cx,
                    What::Bytes {
                        port: self.id,
                        data,
                    },
                );
                self.schedule.heard(cx.now);
            }
            Err(Errno::AGAIN | Errno::INTR) if !hung => (),
            Err(Errno::AGAIN | Errno::INTR) => self.lose(cx, self.ended(None)),
            Err(error) => self.lose(cx, self.ended(Some(error))),
        }
    }

    /// After a stall a full buffer means that the driver had no room for more.
    fn look_for_loss(&mut self, cx: &mut Context<'_>, read: usize) {
        if read < KERNEL_BUFFER {
            self.stalled = Duration::ZERO;
            return;
        }
        if self.stalled < STALL {
            return;
        }
        let stalled = core::mem::take(&mut self.stalled);
        let words = format!(
            "not read for {:.1} s because inputs were not taken: the port's buffer ran full",
            stalled.as_secs_f64()
        );
        self.push(
            cx,
            What::Lost {
                port: self.id,
                count: 0,
                why: Text::clean(&words),
            },
        );
    }

    fn ended(&self, error: Option<Errno>) -> Why {
        match (&self.address, error) {
            (Address::Tcp { .. }, None) => Why::Ended,
            (Address::Tcp { .. }, Some(error)) => Why::connecting(error),
            // Whatever a device says in its last moment, it is gone.
            _ => Why::Unplugged,
        }
    }

    /// Sends what is due, as far as the descriptor takes it.
    fn pump(&mut self, cx: &mut Context<'_>) {
        loop {
            let State::Open { fd, .. } = &self.state else {
                return;
            };
            if self.out.is_none() {
                self.out = self.schedule.next(cx.now).map(|request| Outgoing {
                    data: request.data.clone(),
                    done: 0,
                    since: cx.now,
                    waiting: false,
                });
            }
            let Some(out) = &mut self.out else {
                return;
            };
            match rustix::io::write(fd, &out.data[out.done..]) {
                Ok(count) => out.done += count,
                Err(Errno::INTR) => (),
                Err(Errno::AGAIN) => {
                    if !out.waiting {
                        out.waiting = cx.poller.modify(self.key, fd, true).is_ok();
                    }
                    return;
                }
                Err(error) => return self.lose(cx, self.ended(Some(error))),
            }
            if out.done < out.data.len() {
                continue;
            }
            if out.waiting && cx.poller.modify(self.key, fd, false).is_err() {
                return self.lose(cx, self.ended(None));
            }
            if let Some(Outgoing { data, .. }) = self.out.take() {
                self.push(
                    cx,
                    What::Sent {
                        port: self.id,
                        data,
                    },
                );
            }
        }
    }

    fn count_tried(&mut self, cx: &mut Context<'_>) {
        if !core::mem::replace(&mut self.tried, true) {
            cx.tried += 1;
        }
    }

    fn push(&self, cx: &mut Context<'_>, what: What) {
        cx.round.push(Input { at: cx.now, what });
    }
}
