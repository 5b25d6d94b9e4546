//! Waiting on all descriptors at once: `epoll` on Linux, `poll` elsewhere.
//!
//! Level-triggered: what is not read now is reported again.

use core::time::Duration;
use std::os::fd::{AsFd, BorrowedFd, OwnedFd};
use std::os::unix::net::UnixStream;
use std::sync::Arc;

use rustix::io::{Errno, Result};
use rustix::time::Timespec;

/// The place of a descriptor's port, given back when it is ready.
pub(super) type Key = u32;

/// A descriptor that is ready.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Ready {
    pub(super) key: Key,
    /// There is something to read, an end or an error included.
    pub(super) read: bool,
    /// It takes bytes, or a connection came about.
    pub(super) write: bool,
    /// It was hung up or broke; bytes may still lie in it.
    pub(super) hung: bool,
}

#[cfg(target_os = "linux")]
pub(super) type Poller = epoll::Poller;
#[cfg(not(target_os = "linux"))]
pub(super) type Poller = poll::Poller;

/// Wakes the waiting thread from another one.
#[derive(Clone, Debug)]
pub(super) struct Waker(Arc<UnixStream>);

/// The end that the waiting thread watches.
#[derive(Debug)]
pub(super) struct Woken(UnixStream);

/// A waker and what it wakes.
pub(super) fn waker() -> std::io::Result<(Waker, Woken)> {
    let (near, far) = UnixStream::pair()?;
    near.set_nonblocking(true)?;
    far.set_nonblocking(true)?;
    Ok((Waker(Arc::new(near)), Woken(far)))
}

impl Waker {
    pub(super) fn wake(&self) {
        // Full means that a wake-up is under way already.
        _ = rustix::io::write(&*self.0, &[0]);
    }
}

impl Woken {
    pub(super) fn fd(&self) -> BorrowedFd<'_> {
        self.0.as_fd()
    }

    /// Takes all wake-ups, so that the next one wakes again.
    pub(super) fn take(&self) {
        let mut buffer = [0; 64];
        while rustix::io::read(&self.0, &mut buffer).is_ok_and(|n| n == buffer.len()) {}
    }
}

/// Whole milliseconds, rounded up: a deadline is never met too early and spun on.
fn rounded(wait: Duration) -> Timespec {
    let millis = wait.as_nanos().div_ceil(1_000_000).min(3_600_000) as i64;
    Timespec {
        tv_sec: millis / 1000,
        tv_nsec: (millis % 1000) * 1_000_000,
    }
}

#[cfg(target_os = "linux")]
mod epoll {
    use super::{AsFd, Duration, Errno, Key, OwnedFd, Ready, Result, rounded};
    use core::mem::MaybeUninit;
    use rustix::event::epoll::{self, CreateFlags, Event, EventData, EventFlags};

    /// As many as are reported at once; the rest comes with the next call.
    const AT_ONCE: usize = 1024;

    pub(in super::super) struct Poller {
        epoll: OwnedFd,
    }

    impl Poller {
        pub(in super::super) fn new() -> Result<Self> {
            Ok(Self {
                epoll: epoll::create(CreateFlags::CLOEXEC)?,
            })
        }

        pub(in super::super) fn add(&mut self, key: Key, fd: impl AsFd, write: bool) -> Result<()> {
            let data = EventData::new_u64(u64::from(key));
            epoll::add(&self.epoll, fd, data, flags(write))
        }

        pub(in super::super) fn modify(
            &mut self,
            key: Key,
            fd: impl AsFd,
            write: bool,
        ) -> Result<()> {
            let data = EventData::new_u64(u64::from(key));
            epoll::modify(&self.epoll, fd, data, flags(write))
        }

        pub(in super::super) fn remove(&mut self, _: Key, fd: impl AsFd) {
            // Closing it, which follows, would remove it as well.
            _ = epoll::delete(&self.epoll, fd);
        }

        pub(in super::super) fn wait(
            &mut self,
            wait: Duration,
            into: &mut Vec<Ready>,
        ) -> Result<()> {
            into.clear();
            let mut events = [const { MaybeUninit::<Event>::uninit() }; AT_ONCE];
            let found = match epoll::wait(&self.epoll, &mut events, Some(&rounded(wait))) {
                Ok((found, _)) => found,
                Err(Errno::INTR) => return Ok(()),
                Err(error) => return Err(error),
            };
            into.extend(found.iter().map(|event| {
                let flags = event.flags;
                Ready {
                    key: event.data.u64() as Key,
                    read: flags.intersects(EventFlags::IN | EventFlags::HUP | EventFlags::ERR),
                    write: flags.intersects(EventFlags::OUT | EventFlags::ERR | EventFlags::HUP),
                    hung: flags.intersects(EventFlags::HUP | EventFlags::ERR),
                }
            }));
            Ok(())
        }
    }

    fn flags(write: bool) -> EventFlags {
        if write {
            EventFlags::IN | EventFlags::OUT
        } else {
            EventFlags::IN
        }
    }
}

// Compiled in tests everywhere, so that it is tried where the tests run.
#[cfg(any(test, not(target_os = "linux")))]
mod poll {
    use super::{AsFd, Duration, Errno, Key, OwnedFd, Ready, Result, rounded};
    use rustix::event::{PollFd, PollFlags};

    pub(in super::super) struct Poller {
        /// Duplicates, so that nothing outside is borrowed; removed before the port closes.
        entries: Vec<(Key, OwnedFd, PollFlags)>,
    }

    impl Poller {
        pub(in super::super) fn new() -> Result<Self> {
            Ok(Self {
                entries: Vec::new(),
            })
        }

        pub(in super::super) fn add(&mut self, key: Key, fd: impl AsFd, write: bool) -> Result<()> {
            let fd = rustix::io::fcntl_dupfd_cloexec(fd, 0)?;
            self.entries.push((key, fd, flags(write)));
            Ok(())
        }

        pub(in super::super) fn modify(
            &mut self,
            key: Key,
            _: impl AsFd,
            write: bool,
        ) -> Result<()> {
            for entry in self.entries.iter_mut().filter(|e| e.0 == key) {
                entry.2 = flags(write);
            }
            Ok(())
        }

        pub(in super::super) fn remove(&mut self, key: Key, _: impl AsFd) {
            self.entries.retain(|entry| entry.0 != key);
        }

        pub(in super::super) fn wait(
            &mut self,
            wait: Duration,
            into: &mut Vec<Ready>,
        ) -> Result<()> {
            into.clear();
            let mut fds: Vec<PollFd<'_>> = self
                .entries
                .iter()
                .map(|(_, fd, flags)| PollFd::new(fd, *flags))
                .collect();
            match rustix::event::poll(&mut fds, Some(&rounded(wait))) {
                Ok(_) => (),
                Err(Errno::INTR) => return Ok(()),
                Err(error) => return Err(error),
            }
            for (fd, (key, ..)) in fds.iter().zip(&self.entries) {
                let found = fd.revents();
                if found.is_empty() {
                    continue;
                }
                let broken = PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL;
                into.push(Ready {
                    key: *key,
                    read: found.intersects(PollFlags::IN | broken),
                    write: found.intersects(PollFlags::OUT | broken),
                    hung: found.intersects(broken),
                });
            }
            Ok(())
        }
    }

    fn flags(write: bool) -> PollFlags {
        if write {
            PollFlags::IN | PollFlags::OUT
        } else {
            PollFlags::IN
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write as _;
    use std::os::unix::net::UnixStream;

    macro_rules! reports_what_is_ready {
        ($name:ident, $poller:ty) => {
            #[test]
            fn $name() {
                let (mut here, there) = UnixStream::pair().unwrap();
                let mut poller = <$poller>::new().unwrap();
                poller.add(7, &there, false).unwrap();
                let mut ready = Vec::new();
                poller.wait(Duration::ZERO, &mut ready).unwrap();
                assert_eq!(ready, []);
                poller.modify(7, &there, true).unwrap();
                poller.wait(Duration::from_secs(9), &mut ready).unwrap();
                let found = Ready {
                    key: 7,
                    read: false,
                    write: true,
                    hung: false,
                };
                assert_eq!(ready, [found]);
                poller.modify(7, &there, false).unwrap();
                here.write_all(b"x").unwrap();
                poller.wait(Duration::from_secs(9), &mut ready).unwrap();
                let found = Ready {
                    key: 7,
                    read: true,
                    write: false,
                    hung: false,
                };
                assert_eq!(ready, [found]);
                drop(here);
                poller.wait(Duration::from_secs(9), &mut ready).unwrap();
                assert!(ready[0].read && ready[0].hung);
                poller.remove(7, &there);
                poller.wait(Duration::ZERO, &mut ready).unwrap();
                assert_eq!(ready, []);
            }
        };
    }

    reports_what_is_ready!(the_poller_of_this_system_reports_what_is_ready, Poller);
    reports_what_is_ready!(poll_reports_what_is_ready, poll::Poller);
}
