//! Opening a serial port on Unix: exclusive, raw, never blocking.
//!
//! A pseudo-terminal has no parity, no speed and no modem lines; what it
//! refuses of these is not an error, since no wire is behind it.

use std::os::fd::OwnedFd;

use rustix::fs::{FlockOperation, Mode, OFlags, fcntl_setfl, flock, fstat, open};
use rustix::io::Errno;
use rustix::termios::{
    ControlModes, InputModes, OptionalActions, QueueSelector, SpecialCodeIndex, Termios,
    ioctl_tiocexcl, tcflush, tcgetattr, tcsetattr,
};

use super::why::Why;
use crate::meter::{Line, Parity};
use crate::text::Text;

/// Baud rates further off than this are refused: a UART misreads beyond it (common practice).
const BAUD_PERCENT: u64 = 3;

/// Opens and sets a port. A link is followed at each call.
pub(super) fn open_line(path: &str, line: &Line) -> Result<OwnedFd, Why> {
    // Non-blocking from the start: without a carrier a blocking open would hang.
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
    let fd = open(path, flags, Mode::empty()).map_err(Why::opening)?;
    // A plain file, a pipe or a directory may open too, and is no line.
    let mut termios = tcgetattr(&fd).map_err(|_| Why::NotSerial)?;
    let pseudo = is_pseudo(&fd);
    hold(&fd, pseudo)?;
    set(&mut termios, line).map_err(|_| Why::Setting(baud_text(line)))?;
    match tcsetattr(&fd, OptionalActions::Now, &termios) {
        Ok(()) => (),
        Err(_) if pseudo => {
            // Once more without what a pseudo-terminal may refuse.
            termios.control_modes -= ControlModes::PARENB | ControlModes::PARODD;
            tcsetattr(&fd, OptionalActions::Now, &termios).map_err(Why::opening)?;
        }
        Err(Errno::INVAL) => return Err(Why::Setting(baud_text(line))),
        Err(error) => return Err(Why::opening(error)),
    }
    if !pseudo {
        verify(&fd, line)?;
    }
    // An open that found a file already non-blocking keeps it so; one through
    // a driver that cleared it would stop every other port.
    fcntl_setfl(&fd, OFlags::NONBLOCK).map_err(Why::opening)?;
    Ok(fd)
}

/// Throws away what was not sent, so that closing does not wait for a dead line.
pub(super) fn before_close(fd: &OwnedFd) {
    // A device that is gone refuses, and then there is nothing to wait for.
    _ = tcflush(fd, QueueSelector::OFlush);
}

/// Whether a path is a link, which may lead elsewhere one day.
pub(super) fn is_link(path: &str) -> bool {
    std::fs::symlink_metadata(path).is_ok_and(|found| found.is_symlink())
}

/// Whether a path leads to a device, and to another one than was opened.
pub(super) fn leads_elsewhere(path: &str, fd: &OwnedFd) -> bool {
    match (rustix::fs::stat(path), fstat(fd)) {
        (Ok(there), Ok(here)) => (there.st_dev, there.st_ino) != (here.st_dev, here.st_ino),
        _ => false,
    }
}

/// Two locks, since programs differ in which one they respect.
fn hold(fd: &OwnedFd, pseudo: bool) -> Result<(), Why> {
    flock(fd, FlockOperation::NonBlockingLockExclusive).map_err(|error| match error {
        Errno::WOULDBLOCK => Why::Taken,
        other => Why::opening(other),
    })?;
    // The kernel keeps this mark until the *other* end of a pseudo-terminal is
    // closed too: after a kill we would lock ourselves out. A real line loses
    // it at the last close. Root is not stopped by it, hence the lock above.
    if !pseudo {
        ioctl_tiocexcl(fd).map_err(Why::opening)?;
    }
    Ok(())
}

fn set(termios: &mut Termios, line: &Line) -> rustix::io::Result<()> {
    termios.make_raw();
    if line.parity != Parity::None {
        // A byte with the wrong parity is read as NUL: it breaks its frame,
        // where the byte itself could pass for another digit.
        termios.input_modes |= InputModes::INPCK;
    }
    termios.special_codes[SpecialCodeIndex::VMIN] = 1;
    termios.special_codes[SpecialCodeIndex::VTIME] = 0;
    let modes = &mut termios.control_modes;
    *modes -= ControlModes::CSIZE
        | ControlModes::PARENB
        | ControlModes::PARODD
        | ControlModes::CSTOPB
        | ControlModes::CRTSCTS;
    // Listen, and do not wait for a modem's carrier.
    *modes |= ControlModes::CREAD | ControlModes::CLOCAL;
    *modes |= match line.data_bits {
        7 => ControlModes::CS7,
        _ => ControlModes::CS8,
    };
    *modes |= match line.parity {
        Parity::None => ControlModes::empty(),
        Parity::Even => ControlModes::PARENB,
        Parity::Odd => ControlModes::PARENB | ControlModes::PARODD,
    };
    if line.stop_bits == 2 {
        *modes |= ControlModes::CSTOPB;
    }
    termios.set_speed(line.baud)
}

/// Drivers set what they can and say nothing: look what came of it.
fn verify(fd: &OwnedFd, line: &Line) -> Result<(), Why> {
    let found = tcgetattr(fd).map_err(Why::opening)?;
    let off = u64::from(found.output_speed().abs_diff(line.baud)) * 100;
    if off > u64::from(line.baud) * BAUD_PERCENT {
        return Err(Why::Setting(baud_text(line)));
    }
    let parity = ControlModes::PARENB | ControlModes::PARODD;
    let wanted = match line.parity {
        Parity::None => ControlModes::empty(),
        Parity::Even => ControlModes::PARENB,
        Parity::Odd => parity,
    };
    if found.control_modes & parity != wanted {
        let parity = format!("{:?} parity", line.parity).to_lowercase();
        return Err(Why::Setting(Text::clean(&parity)));
    }
    Ok(())
}

fn baud_text(line: &Line) -> Text {
    Text::clean(&format!("{} baud", line.baud))
}

/// Whether this is the near end of a pseudo-terminal.
#[cfg(target_os = "linux")]
fn is_pseudo(fd: &OwnedFd) -> bool {
    // Majors of Unix98 pseudo-terminals: the kernel's devices.txt.
    fstat(fd).is_ok_and(|stat| (136..=143).contains(&rustix::fs::major(stat.st_rdev)))
}

/// Elsewhere by name: they are called `/dev/ttysNNN` or `/dev/pts/N`.
#[cfg(not(target_os = "linux"))]
fn is_pseudo(fd: &OwnedFd) -> bool {
    let Ok(name) = rustix::termios::ttyname(fd, Vec::new()) else {
        return fstat(fd).is_err();
    };
    let name = name.to_string_lossy();
    name.starts_with("/dev/ttys") || name.starts_with("/dev/pts/")
}
