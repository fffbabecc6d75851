//! A serial line, set as the column map says: raw, its own for as long as it is read. Called by the command only.
//!
//! The line is set by the system's own calls through `rustix`, which is here already for the terminal; speeds that are
//! no multiple of a standard one work too. What is read is the command's.

use super::map::SerialLine;
use crate::error::ClientError;
use rustix::fs::{FlockOperation, Mode, OFlags};
use rustix::io::Result;
use rustix::termios::{
    ControlModes, InputModes, OptionalActions, SpecialCodeIndex, ioctl_tiocexcl, isatty, tcflush, tcgetattr,
    tcsetattr,
};
use std::fs::File;
use std::os::fd::OwnedFd;
use std::path::Path;

/// Opens a serial line.
///
/// # Errors
/// When there is none, it is no serial line, another program has it, or it cannot be set so.
pub fn open(path: &Path, line: SerialLine) -> std::result::Result<File, ClientError> {
    let told = |doing: &'static str| {
        move |cause: rustix::io::Errno| ClientError::instrument(doing, path, std::io::Error::from(cause))
    };
    // Without waiting for a modem, which a display has not.
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
    let device = rustix::fs::open(path, flags, Mode::empty()).map_err(told("opening the serial line"))?;
    if !isatty(&device) {
        return Err(ClientError::Usage(format!(
            "{} is no serial line; give a file as INPUT, without --device",
            path.display()
        )));
    }
    // Two that read one line would each get half of it. The lock is for our own programs, the mark for all others.
    rustix::fs::flock(&device, FlockOperation::NonBlockingLockExclusive).map_err(|_| {
        ClientError::Usage(format!("{} is being read by another feed; end that one first", path.display()))
    })?;
    set(&device, line).map_err(told("setting the serial line"))?;
    let flags = rustix::fs::fcntl_getfl(&device).map_err(told("setting the serial line"))?;
    rustix::fs::fcntl_setfl(&device, flags - OFlags::NONBLOCK).map_err(told("setting the serial line"))?;
    Ok(File::from(device))
}

fn set(device: &OwnedFd, line: SerialLine) -> Result<()> {
    ioctl_tiocexcl(device)?;
    let mut modes = tcgetattr(device)?;
    modes.make_raw();
    modes.set_speed(line.speed)?;
    modes.input_modes -= InputModes::IXON | InputModes::IXOFF | InputModes::ICRNL | InputModes::INLCR;
    modes.control_modes -= ControlModes::CSIZE
        | ControlModes::PARENB
        | ControlModes::PARODD
        | ControlModes::CSTOPB
        | ControlModes::CRTSCTS;
    modes.control_modes |= ControlModes::CREAD | ControlModes::CLOCAL;
    modes.control_modes |= if line.seven_bits { ControlModes::CS7 } else { ControlModes::CS8 };
    if let Some(even) = line.parity_even {
        modes.control_modes |= ControlModes::PARENB;
        if !even {
            modes.control_modes |= ControlModes::PARODD;
        }
    }
    if line.two_stop_bits {
        modes.control_modes |= ControlModes::CSTOPB;
    }
    // A reading waits for one byte at least, however long it takes.
    modes.special_codes[SpecialCodeIndex::VMIN] = 1;
    modes.special_codes[SpecialCodeIndex::VTIME] = 0;
    tcsetattr(device, OptionalActions::Now, &modes)?;
    // What came before anybody listened is half a line.
    tcflush(device, rustix::termios::QueueSelector::IFlush)
}
