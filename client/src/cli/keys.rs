//! Keys of a person: singly where the input is a terminal that can, else line by line. Nothing else here reads the
//! terminal or changes how it behaves.

use crate::next::Key;
use std::io::{self, Read as _};

/// What a person did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    /// A key.
    Key(Key),
    /// A line, where single keys cannot be read.
    Line(String),
    /// There is no more.
    Closed,
}

/// Where keys come from.
pub trait Keys {
    /// Begins to read keys; true when they come singly and are not shown by the terminal itself.
    ///
    /// # Errors
    /// What the system says.
    fn begin(&mut self) -> io::Result<bool>;
    /// The next key or line; waits for it.
    ///
    /// # Errors
    /// What the system says.
    fn next(&mut self) -> io::Result<Input>;
    /// Leaves the terminal as it was.
    fn end(&mut self);
    /// How many columns the terminal has, where it says so.
    fn columns(&self) -> Option<usize> {
        None
    }
}

/// Longest line that is read, in bytes.
const LINE_BYTES_MAX: usize = 4096;
const INTERRUPT: u8 = 3;
const END_OF_INPUT: u8 = 4;
const ESCAPE: u8 = 0x1B;

/// The keys of this process's own terminal.
#[derive(Debug, Default)]
pub struct SystemKeys {
    #[cfg(unix)]
    before: Option<rustix::termios::Termios>,
    singly: bool,
}

impl Keys for SystemKeys {
    fn begin(&mut self) -> io::Result<bool> {
        self.singly = self.singly()?;
        Ok(self.singly)
    }

    fn next(&mut self) -> io::Result<Input> {
        if self.singly { key() } else { line() }
    }

    #[cfg(unix)]
    fn end(&mut self) {
        use rustix::termios::{OptionalActions, tcsetattr};
        if let Some(before) = self.before.take() {
            // If this fails, there is no terminal left to put right.
            let _ = tcsetattr(io::stdin(), OptionalActions::Drain, &before);
        }
        self.singly = false;
    }

    #[cfg(not(unix))]
    fn end(&mut self) {}

    #[cfg(unix)]
    fn columns(&self) -> Option<usize> {
        let size = rustix::termios::tcgetwinsize(io::stdout()).ok()?;
        Some(usize::from(size.ws_col)).filter(|columns| self.singly && *columns > 0)
    }
}

impl SystemKeys {
    /// Asks the terminal for single keys, if there is one.
    #[cfg(unix)]
    fn singly(&mut self) -> io::Result<bool> {
        use rustix::termios::{OptionalActions, isatty, tcgetattr, tcsetattr};
        if !isatty(io::stdin()) || !isatty(io::stdout()) {
            return Ok(false);
        }
        let before = tcgetattr(io::stdin())?;
        let mut raw = before.clone();
        raw.make_raw();
        tcsetattr(io::stdin(), OptionalActions::Drain, &raw)?;
        self.before = Some(before);
        Ok(true)
    }

    #[cfg(not(unix))]
    fn singly(&mut self) -> io::Result<bool> {
        Ok(false)
    }
}

impl Drop for SystemKeys {
    fn drop(&mut self) {
        self.end();
    }
}

fn byte() -> io::Result<Option<u8>> {
    let mut byte = [0];
    loop {
        return match io::stdin().lock().read(&mut byte) {
            Ok(0) => Ok(None),
            Ok(_) => Ok(byte.first().copied()),
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => Err(error),
        };
    }
}

/// A key from the bytes of a raw terminal; keys that send a sequence (arrows and the like) mean nothing here.
fn key() -> io::Result<Input> {
    loop {
        let Some(first) = byte()? else { return Ok(Input::Closed) };
        return Ok(Input::Key(match first {
            INTERRUPT => Key::Interrupt,
            END_OF_INPUT => return Ok(Input::Closed),
            b'\r' | b'\n' => Key::Enter,
            0x08 | 0x7F => Key::Backspace,
            ESCAPE => {
                // A sequence ends with its first letter or tilde, O only begins one; a lone escape swallows a key.
                while byte()?
                    .is_some_and(|next| next == b'O' || (!next.is_ascii_alphabetic() && next != b'~'))
                {
                }
                continue;
            }
            0..0x20 => continue,
            0x20..0x80 => Key::Sign(char::from(first)),
            _ => match sign(first)? {
                Some(sign) => Key::Sign(sign),
                None => continue,
            },
        }));
    }
}

/// A sign of several bytes (UTF-8, RFC 3629).
fn sign(first: u8) -> io::Result<Option<char>> {
    let more = match first {
        0xC2..=0xDF => 1,
        0xE0..=0xEF => 2,
        0xF0..=0xF4 => 3,
        _ => return Ok(None),
    };
    let mut bytes = vec![first];
    for _ in 0..more {
        bytes.extend(byte()?);
    }
    Ok(std::str::from_utf8(&bytes).ok().and_then(|text| text.chars().next()))
}

fn line() -> io::Result<Input> {
    let mut bytes = Vec::new();
    loop {
        match byte()? {
            None if bytes.is_empty() => return Ok(Input::Closed),
            None | Some(b'\n') => return Ok(Input::Line(String::from_utf8_lossy(&bytes).into_owned())),
            Some(byte) if bytes.len() < LINE_BYTES_MAX => bytes.push(byte),
            Some(_) => {}
        }
    }
}
