//! Keys of a person: singly where the input is a terminal that can, else line by line. Nothing else reads the
//! terminal or changes how it behaves. What the bytes of single keys mean is said in `bursts.rs`.

#[cfg(unix)]
use super::bursts::{Bursts, TOGETHER};
use crate::next::Key;
#[cfg(unix)]
use std::collections::VecDeque;
use std::io::{self, IsTerminal as _, Read as _};
#[cfg(unix)]
use std::time::Instant;

/// What a person did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    /// A key.
    Key(Key),
    /// A text that came at once and with its end, as a scanner types it.
    Text(String),
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
    /// Whether somebody sits at a terminal and can be asked.
    fn is_terminal(&self) -> bool {
        false
    }
    /// What is typed after a question, without being shown; where there is no terminal, the next line.
    ///
    /// # Errors
    /// What the system says.
    fn hidden(&mut self, _question: &str) -> io::Result<String> {
        match self.next()? {
            Input::Line(line) | Input::Text(line) => Ok(line),
            Input::Key(_) | Input::Closed => Ok(String::new()),
        }
    }
    /// How many columns the terminal has, where it says so.
    fn columns(&self) -> Option<usize> {
        None
    }
}

/// Longest line that is read, in bytes.
const LINE_BYTES_MAX: usize = 4096;

/// The keys of this process's own terminal.
#[derive(Debug, Default)]
pub struct SystemKeys {
    #[cfg(unix)]
    before: Option<rustix::termios::Termios>,
    /// From when the times of bytes are counted.
    #[cfg(unix)]
    begun: Option<Instant>,
    #[cfg(unix)]
    bursts: Bursts,
    #[cfg(unix)]
    read: VecDeque<Input>,
    singly: bool,
}

impl Keys for SystemKeys {
    fn begin(&mut self) -> io::Result<bool> {
        self.singly = self.singly()?;
        Ok(self.singly)
    }

    fn next(&mut self) -> io::Result<Input> {
        if self.singly { self.single() } else { line() }
    }

    fn is_terminal(&self) -> bool {
        io::stdin().is_terminal()
    }

    fn hidden(&mut self, question: &str) -> io::Result<String> {
        if self.is_terminal() {
            return rpassword::prompt_password(question);
        }
        match line()? {
            Input::Line(line) => Ok(line),
            _ => Ok(String::new()),
        }
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

    /// The next key or text. A key waits for a moment whether more comes with it.
    #[cfg(unix)]
    fn single(&mut self) -> io::Result<Input> {
        use rustix::event::{PollFd, PollFlags, Timespec, poll};
        let begun = *self.begun.get_or_insert_with(Instant::now);
        loop {
            if let Some(input) = self.read.pop_front() {
                return Ok(input);
            }
            let stdin = io::stdin();
            let mut asked = [PollFd::new(&stdin, PollFlags::IN)];
            let moment = Timespec::try_from(TOGETHER).map_err(io::Error::other)?;
            match poll(&mut asked, self.bursts.are_held().then_some(&moment)) {
                Ok(0) => self.read.extend(self.bursts.quiet()),
                Ok(_) => {
                    // Not through the buffer of the standard input: what it holds could not be waited for.
                    let mut bytes = [0; 256];
                    let count = match rustix::io::read(&stdin, &mut bytes) {
                        Ok(count) => count,
                        Err(rustix::io::Errno::INTR) => continue,
                        Err(error) => return Err(error.into()),
                    };
                    for byte in bytes.iter().take(count) {
                        self.read.extend(self.bursts.byte(*byte, begun.elapsed()));
                    }
                    if count == 0 {
                        self.read.extend(self.bursts.quiet());
                        self.read.push_back(Input::Closed);
                    }
                }
                Err(rustix::io::Errno::INTR) => {}
                Err(error) => return Err(error.into()),
            }
        }
    }

    #[cfg(not(unix))]
    fn single(&mut self) -> io::Result<Input> {
        line()
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
