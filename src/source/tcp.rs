//! Connecting over TCP without ever blocking.
//!
//! Numbers and `localhost` need no look-up. Another host name is looked up on
//! a short-lived thread of its own, since the system's look-up blocks for as
//! long as it likes; one at a time for each port.

use core::time::Duration;
use std::net::{Ipv4Addr, Ipv6Addr, SocketAddr, ToSocketAddrs};
use std::os::fd::OwnedFd;
use std::sync::{Arc, Mutex, PoisonError};

use rustix::io::Errno;
use rustix::net::{AddressFamily, SocketFlags, SocketType, sockopt};

use super::wait::Waker;
use super::why::Why;
use crate::text::Text;

/// A connection that did not come about after this is given up (own).
pub(super) const CONNECT: Duration = Duration::from_secs(2);

/// A silent line is probed after this (own), and a dead one noticed within 9 s.
const PROBE_AFTER: Duration = Duration::from_secs(3);
const PROBE_EVERY: Duration = Duration::from_secs(2);
const PROBES: u32 = 3;

/// A look-up in progress.
pub(super) type Lookup = Arc<Mutex<Option<Result<Vec<SocketAddr>, Why>>>>;

/// Where an address leads to.
pub(super) enum Resolved {
    Now(Vec<SocketAddr>),
    Later(Lookup),
}

/// Takes `HOST:PORT` apart and looks the host up, if that is needed.
pub(super) fn resolve(address: &str, waker: &Waker) -> Result<Resolved, Why> {
    if let Ok(numeric) = address.parse::<SocketAddr>() {
        return Ok(Resolved::Now(vec![numeric]));
    }
    let bad = || Why::BadAddress(Text::clean(address));
    let (host, port) = address.rsplit_once(':').ok_or_else(bad)?;
    let port: u16 = port.parse().map_err(|_| bad())?;
    if host.is_empty() {
        return Err(bad());
    }
    if host.eq_ignore_ascii_case("localhost") {
        return Ok(Resolved::Now(vec![
            (Ipv4Addr::LOCALHOST, port).into(),
            (Ipv6Addr::LOCALHOST, port).into(),
        ]));
    }
    let lookup = Lookup::default();
    let (host, slot, waker) = (host.to_owned(), Arc::clone(&lookup), waker.clone());
    let spawned = std::thread::Builder::new()
        .name(String::from("look-up"))
        .spawn(move || {
            let found = match (host.as_str(), port).to_socket_addrs() {
                Ok(found) => Ok(found.collect()),
                Err(_) => Err(Why::NoHost(Text::clean(&host))),
            };
            *slot.lock().unwrap_or_else(PoisonError::into_inner) = Some(found);
            waker.wake();
        });
    match spawned {
        Ok(_) => Ok(Resolved::Later(lookup)),
        Err(error) => Err(Why::System(Text::clean(&format!(
            "the system says: {error}"
        )))),
    }
}

/// Begins to connect; the socket becomes writable when that is decided.
pub(super) fn connect(address: SocketAddr) -> Result<OwnedFd, Why> {
    let family = match address {
        SocketAddr::V4(_) => AddressFamily::INET,
        SocketAddr::V6(_) => AddressFamily::INET6,
    };
    let socket = socket(family).map_err(Why::connecting)?;
    let set = |done: rustix::io::Result<()>| done.map_err(Why::connecting);
    set(sockopt::set_tcp_nodelay(&socket, true))?;
    set(sockopt::set_socket_keepalive(&socket, true))?;
    #[cfg(not(target_os = "macos"))]
    set(sockopt::set_tcp_keepidle(&socket, PROBE_AFTER))?;
    set(sockopt::set_tcp_keepintvl(&socket, PROBE_EVERY))?;
    set(sockopt::set_tcp_keepcnt(&socket, PROBES))?;
    // Probes rest while sent bytes are unanswered; this bounds that wait.
    #[cfg(target_os = "linux")]
    set(sockopt::set_tcp_user_timeout(
        &socket,
        (PROBE_AFTER + PROBE_EVERY * PROBES).as_millis() as u32,
    ))?;
    match rustix::net::connect(&socket, &address) {
        Ok(()) | Err(Errno::INPROGRESS | Errno::INTR) => Ok(socket),
        Err(error) => Err(Why::connecting(error)),
    }
}

/// What became of a connection whose socket is writable.
pub(super) fn connected(socket: &OwnedFd) -> Result<(), Why> {
    match sockopt::socket_error(socket) {
        // Whoever tries a port of the system's own range again and again, with
        // nobody listening there, is one day given that very port to call
        // from, and is connected to itself.
        Ok(Ok(())) if is_itself(socket) => Err(Why::Refused),
        Ok(Ok(())) => Ok(()),
        Ok(Err(error)) | Err(error) => Err(Why::connecting(error)),
    }
}

fn is_itself(socket: &OwnedFd) -> bool {
    let near = rustix::net::getsockname(socket);
    let far = rustix::net::getpeername(socket);
    matches!((near, far), (Ok(near), Ok(Some(far))) if near == far)
}

#[cfg(any(target_os = "linux", target_os = "freebsd"))]
fn socket(family: AddressFamily) -> rustix::io::Result<OwnedFd> {
    let flags = SocketFlags::NONBLOCK | SocketFlags::CLOEXEC;
    rustix::net::socket_with(family, SocketType::STREAM, flags, None)
}

#[cfg(not(any(target_os = "linux", target_os = "freebsd")))]
fn socket(family: AddressFamily) -> rustix::io::Result<OwnedFd> {
    let flags = SocketFlags::empty();
    let socket = rustix::net::socket_with(family, SocketType::STREAM, flags, None)?;
    rustix::io::fcntl_setfd(&socket, rustix::io::FdFlags::CLOEXEC)?;
    rustix::io::ioctl_fionbio(&socket, true)?;
    Ok(socket)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_connection_to_itself_is_none() {
        let socket = socket(AddressFamily::INET).unwrap();
        let any = SocketAddr::from((Ipv4Addr::LOCALHOST, 0));
        rustix::net::bind(&socket, &any).unwrap();
        let own = rustix::net::getsockname(&socket).unwrap();
        let own = SocketAddr::try_from(own).unwrap();
        match rustix::net::connect(&socket, &own) {
            Ok(()) | Err(Errno::INPROGRESS) => (),
            Err(error) => panic!("{error}"),
        }
        let mut poller = crate::source::wait::Poller::new().unwrap();
        poller.add(0, &socket, true).unwrap();
        poller.wait(CONNECT, &mut Vec::new()).unwrap();
        assert_eq!(connected(&socket), Err(Why::Refused));
    }
}
