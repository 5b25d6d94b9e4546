//! Why a port is closed, in words that a person at the bench understands.

use core::fmt;

use crate::text::Text;

/// Why a port is closed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Why {
    /// It was open and the device went away.
    Unplugged,
    /// The link that names it leads to another device now.
    Moved,
    /// There is no such device.
    Missing,
    /// No device with this USB serial number is plugged in.
    NoUsb(Text),
    /// Another program holds it.
    Taken,
    /// We may not open it.
    NotAllowed,
    /// The path leads to something that is not a serial port.
    NotSerial,
    /// The adapter cannot be set to what was asked.
    Setting(Text),
    /// Nothing listens at that address.
    Refused,
    /// The other side ended the connection.
    Ended,
    /// No answer from that address.
    Unreachable,
    /// The name of the host is not known.
    NoHost(Text),
    /// The address is not one.
    BadAddress(Text),
    /// It takes nothing of what is sent to it.
    Stuck,
    /// What the system said.
    System(Text),
}

impl Why {
    /// Whether both tell a person the same story, so that the second need not
    /// be said: after "unplugged", "no such device" is no news.
    pub(super) fn same_story(&self, other: &Self) -> bool {
        self == other || matches!((self.story(), other.story()), (Some(a), Some(b)) if a == b)
    }

    fn story(&self) -> Option<u8> {
        match self {
            Self::Unplugged | Self::Missing | Self::NoUsb(_) => Some(0),
            Self::Refused | Self::Ended | Self::Unreachable => Some(1),
            Self::Moved
            | Self::Taken
            | Self::NotAllowed
            | Self::NotSerial
            | Self::Setting(_)
            | Self::NoHost(_)
            | Self::BadAddress(_)
            | Self::Stuck
            | Self::System(_) => None,
        }
    }

    /// As words of an input.
    pub(super) fn text(&self) -> Text {
        Text::clean(&self.to_string())
    }
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unplugged => write!(f, "unplugged"),
            Self::Moved => write!(f, "its path leads to another device now"),
            Self::Missing => write!(f, "no such device: is it plugged in?"),
            Self::NoUsb(serial) => write!(
                f,
                "no device with the USB serial number {serial} is plugged in"
            ),
            Self::Taken => write!(f, "taken by another program"),
            Self::NotAllowed => write!(
                f,
                "not allowed to open it: is this user in the group that may use serial ports?"
            ),
            Self::NotSerial => write!(f, "not a serial port"),
            Self::Setting(what) => write!(f, "the port cannot be set to {what}"),
            Self::Refused => write!(f, "connection refused: nothing listens there"),
            Self::Ended => write!(f, "the other side ended the connection"),
            Self::Unreachable => write!(f, "no answer from that address"),
            Self::NoHost(host) => write!(f, "the host name {host} is not known"),
            Self::BadAddress(found) => {
                write!(f, "expected HOST:PORT as address, found {found}")
            }
            Self::Stuck => write!(f, "it takes nothing of what is sent to it"),
            Self::System(words) => write!(f, "{words}"),
        }
    }
}

#[cfg(unix)]
impl Why {
    /// Why a serial port did not open.
    pub(super) fn opening(error: rustix::io::Errno) -> Self {
        use rustix::io::Errno;
        match error {
            Errno::NOENT | Errno::NODEV | Errno::NXIO | Errno::NOTDIR | Errno::IO => Self::Missing,
            Errno::BUSY | Errno::WOULDBLOCK => Self::Taken,
            Errno::ACCESS | Errno::PERM => Self::NotAllowed,
            Errno::NOTTY | Errno::ISDIR => Self::NotSerial,
            other => Self::system(other),
        }
    }

    /// Why a connection did not come about, or broke.
    pub(super) fn connecting(error: rustix::io::Errno) -> Self {
        use rustix::io::Errno;
        match error {
            Errno::CONNREFUSED => Self::Refused,
            Errno::CONNRESET | Errno::PIPE | Errno::CONNABORTED => Self::Ended,
            Errno::TIMEDOUT
            | Errno::HOSTUNREACH
            | Errno::NETUNREACH
            | Errno::HOSTDOWN
            | Errno::NETDOWN => Self::Unreachable,
            other => Self::system(other),
        }
    }

    fn system(error: rustix::io::Errno) -> Self {
        Self::System(Text::clean(&format!("the system says: {error}")))
    }
}
