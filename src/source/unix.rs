//! The one thread that listens on Unix: it waits on all descriptors and all deadlines.
//!
//! A round reads all that is ready and goes into the queue as one message.
//! While little arrives a round follows at once; when much arrives rounds are
//! [`ROUND`] apart, so that the kernel wakes us once for many ports.

use core::time::Duration;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;

use super::blocks::Blocks;
use super::link::{Context, Link};
use super::queue::{SendError, Sender};
use super::wait::{Key, Poller, Ready, Waker, Woken, waker};
use super::{PortPlan, Stop, Tried};
use crate::clock::Clock;
use crate::input::{Input, What};
use crate::stamp::Stamp;
use crate::text::Text;

/// Between two rounds when busy: short beside the syncs that a row waits for,
/// and long enough that 200 ports of 20 lines a second share a wake-up by six.
const ROUND: Duration = Duration::from_micros(1500);
/// Bytes of one round at most: the rest stays in the kernel for the next.
const ROUND_BYTES: usize = 1024 * 1024;
/// The longest wait: a suspended machine does not count it, and deadlines are looked at again.
const LONGEST: Duration = Duration::from_secs(1);
/// When stopping, a full queue is waited for this long.
const LAST_WORDS: Duration = Duration::from_secs(3);
const NEVER: Stamp = Stamp::from_nanos(u64::MAX);
/// The key of the wake-up; ports count from 0 and there are at most 65 536.
const WAKE: Key = Key::MAX;

pub(super) fn start(
    ports: Vec<PortPlan>,
    clock: Clock,
    sender: Sender,
    usb: impl Fn(&Text) -> Option<Text> + Send + 'static,
    tried: &Arc<Tried>,
) -> std::io::Result<(Stop, Vec<JoinHandle<()>>)> {
    let (waker, woken) = waker()?;
    let mut poller = Poller::new()?;
    poller.add(WAKE, woken.fd(), false)?;
    let asked = Arc::new(AtomicBool::new(false));
    let mut listener = Listener {
        due: vec![Stamp::ZERO; ports.len()],
        links: (0..).zip(ports).map(|(key, p)| Link::new(key, p)).collect(),
        poller,
        woken,
        waker: waker.clone(),
        clock,
        sender,
        stop: Arc::clone(&asked),
        tried: EndsTried(Arc::clone(tried)),
        blocks: Blocks::new(),
        busy: false,
    };
    let thread = std::thread::Builder::new()
        .name(String::from("source"))
        .spawn(move || listener.run(&usb))?;
    let stop = Stop {
        asked,
        radio: None,
        waker,
    };
    Ok((stop, vec![thread]))
}

struct Listener {
    links: Vec<Link>,
    /// The deadline of each link, beside each other so that 1000 are looked through quickly.
    due: Vec<Stamp>,
    poller: Poller,
    woken: Woken,
    waker: Waker,
    clock: Clock,
    sender: Sender,
    stop: Arc<AtomicBool>,
    tried: EndsTried,
    blocks: Blocks,
    /// Whether the last rounds followed each other closely.
    busy: bool,
}

/// Whoever waits for the first tries is let go when the thread ends, however it ends.
struct EndsTried(Arc<Tried>);

impl Drop for EndsTried {
    fn drop(&mut self) {
        self.0.count(usize::MAX);
    }
}

impl Listener {
    fn run(&mut self, usb: &dyn Fn(&Text) -> Option<Text>) {
        let mut ready = Vec::new();
        let mut last = Stamp::ZERO;
        loop {
            let stopping = self.stop.load(Ordering::Acquire);
            let Some(now) = self.wait(last, stopping, &mut ready) else {
                let now = self.clock.now();
                let closed = self.links.iter().filter_map(|link| link.given_up(now));
                let closed = closed.collect();
                self.deliver(closed);
                return;
            };
            last = now;
            let (round, tried) = self.round(now, &ready, usb);
            let taken = self.deliver(round);
            self.tried.0.count(tried);
            if stopping || !taken {
                return;
            }
        }
    }

    /// Waits for something to do, and when busy for the next round's moment.
    /// `None`: a descriptor of ours cannot be waited on, and there is no
    /// listening without it.
    fn wait(&mut self, last: Stamp, stopping: bool, ready: &mut Vec<Ready>) -> Option<Stamp> {
        if stopping {
            self.poller.wait(Duration::ZERO, ready).ok()?;
            return Some(self.clock.now());
        }
        // While busy it pays to sleep without being woken by the first byte.
        if self.busy {
            self.sleep_out(last);
            self.poller.wait(Duration::ZERO, ready).ok()?;
            self.busy = !ready.is_empty();
            if self.busy {
                return Some(self.clock.now());
            }
        }
        let now = self.clock.now();
        let due = self.due.iter().copied().min().unwrap_or(NEVER);
        let wait = due.since(now).min(LONGEST);
        self.poller.wait(wait, ready).ok()?;
        let now = self.clock.now();
        self.busy = !ready.is_empty() && now.since(last) < ROUND;
        if !self.busy {
            return Some(now);
        }
        self.sleep_out(last);
        self.poller.wait(Duration::ZERO, ready).ok()?;
        Some(self.clock.now())
    }

    /// Sleeps until the next round's moment.
    fn sleep_out(&self, last: Stamp) {
        let since = self.clock.now().since(last);
        std::thread::sleep(ROUND.saturating_sub(since));
    }

    /// Reads all that is ready, then does what is due: an answer that has
    /// arrived counts before its time-out.
    fn round(
        &mut self,
        now: Stamp,
        ready: &[Ready],
        usb: &dyn Fn(&Text) -> Option<Text>,
    ) -> (Vec<Input>, usize) {
        let mut round = Vec::with_capacity(ready.len());
        let mut cx = Context {
            now,
            poller: &mut self.poller,
            round: &mut round,
            blocks: &mut self.blocks,
            waker: &self.waker,
            usb,
            tried: 0,
        };
        let mut counted = 0;
        let mut bytes = 0;
        for event in ready {
            if event.key == WAKE {
                self.woken.take();
                for (link, due) in self.links.iter_mut().zip(&mut self.due) {
                    if link.is_resolving() {
                        link.expire(&mut cx);
                        *due = link.deadline().unwrap_or(NEVER);
                    }
                }
                continue;
            }
            let place = event.key as usize;
            if let (Some(link), Some(due)) = (self.links.get_mut(place), self.due.get_mut(place)) {
                link.ready(&mut cx, *event);
                *due = link.deadline().unwrap_or(NEVER);
            }
            bytes += cx.round[counted..].iter().map(size).sum::<usize>();
            counted = cx.round.len();
            if bytes > ROUND_BYTES {
                break;
            }
        }
        for (link, due) in self.links.iter_mut().zip(&mut self.due) {
            if *due <= now {
                link.expire(&mut cx);
                *due = link.deadline().unwrap_or(NEVER);
            }
        }
        let tried = cx.tried;
        (round, tried)
    }

    /// Puts a round into the queue. While that is full nothing is read: bytes
    /// stay in the kernel, which holds back who can be held back.
    fn deliver(&mut self, mut round: Vec<Input>) -> bool {
        let began = self.clock.now();
        let mut patience = Duration::ZERO;
        loop {
            round = match self.sender.send(round, patience) {
                Ok(()) => break,
                Err(SendError::Closed(_)) => return false,
                Err(SendError::Full(back)) => back,
            };
            patience = Duration::from_millis(50);
            let stopping = self.stop.load(Ordering::Acquire);
            if stopping && self.clock.now().since(began) > LAST_WORDS {
                return false;
            }
        }
        if !patience.is_zero() {
            let stalled = self.clock.now().since(began);
            for link in &mut self.links {
                link.stalled(stalled);
            }
        }
        true
    }
}

fn size(input: &Input) -> usize {
    match &input.what {
        What::Bytes { data, .. } => data.len(),
        _ => 0,
    }
}
