//! A pseudo-terminal with a program in it: what it shows is read until a text stands there, then keys are pressed.
//! Nothing is waited for but what is shown; a text that never comes fails with all that was shown.

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, Winsize, tcgetattr, tcsetwinsize};
use standpipe_tests::shop::Home;
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Write as _};
use std::os::unix::ffi::OsStrExt as _;
use std::process::{Child, Command, Stdio};

/// How long a text may take to appear before the test fails; a busy machine is not a wrong program.
const PATIENCE: Timespec = Timespec { tv_sec: 30, tv_nsec: 0 };

/// A program in a terminal of its own. Dropping it kills it.
pub struct Terminal {
    child: Child,
    keyboard: File,
    /// All that was shown, as it came.
    pub raw: String,
    /// Until where it was read by an expectation, in the text in one line.
    seen: usize,
    /// Keys pressed.
    pub touches: usize,
    /// Questions answered.
    pub questions: usize,
}

impl Terminal {
    /// `standpipe next` of a station, on a terminal of this many columns.
    pub fn next(home: &Home, columns: u16) -> Self {
        let mut command = home.command();
        command.arg("next").env("TERM", "xterm");
        Self::with(command, columns)
    }

    pub fn with(mut command: Command, columns: u16) -> Self {
        let keyboard = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&keyboard).unwrap();
        unlockpt(&keyboard).unwrap();
        let size = Winsize { ws_row: 40, ws_col: columns, ws_xpixel: 0, ws_ypixel: 0 };
        let name = ptsname(&keyboard, Vec::new()).unwrap();
        let name = std::path::Path::new(std::ffi::OsStr::from_bytes(name.as_bytes()));
        let screen = OpenOptions::new().read(true).write(true).open(name).unwrap();
        tcsetwinsize(&screen, size).unwrap();
        let end = || Stdio::from(screen.try_clone().unwrap());
        let child = command.stdin(end()).stdout(end()).stderr(end()).spawn().unwrap();
        let keyboard = File::from(keyboard);
        Self { child, keyboard, raw: String::new(), seen: 0, touches: 0, questions: 0 }
    }

    /// Waits until a text stands on the terminal, behind the one that was waited for before.
    #[track_caller]
    pub fn wait(&mut self, text: &str) -> &mut Self {
        loop {
            let shown = flat(&self.raw);
            let fresh = shown.get(self.seen..).unwrap_or_default();
            if let Some(at) = fresh.find(text) {
                self.seen += at + text.len();
                return self;
            }
            let fresh = fresh.to_owned();
            assert!(self.read(), "'{text}' never came; since the last one:\n{fresh}\n\nall:\n{}", self.raw);
        }
    }

    /// Presses keys; a line break is Enter.
    pub fn press(&mut self, keys: &str) -> &mut Self {
        self.touches += keys.chars().count();
        self.keyboard.write_all(keys.replace('\n', "\r").as_bytes()).unwrap();
        self
    }

    /// Waits until what is pressed is no longer shown.
    #[track_caller]
    pub fn wait_unseen(&mut self) -> &mut Self {
        let started = std::time::Instant::now();
        while tcgetattr(&self.keyboard).unwrap().local_modes.contains(LocalModes::ECHO) {
            assert!(
                started.elapsed().as_secs() < 30,
                "the terminal still shows what is pressed:\n{}",
                self.raw
            );
            std::thread::yield_now();
        }
        self
    }

    /// Answers questions, each when it stands there.
    #[track_caller]
    pub fn answer(&mut self, answers: &[super::Answered]) -> &mut Self {
        for (question, keys) in answers {
            self.wait(question).press(keys);
            self.questions += 1;
        }
        self
    }

    /// Chooses a step from the list of those that remain; `command` opens it.
    #[track_caller]
    pub fn choose(&mut self, command: &str, question: &str) -> &mut Self {
        let from = self.raw.len();
        self.press(command).wait("Enter: stay here");
        let list = self.raw[from..].to_owned();
        let line = list.lines().find(|line| line.contains(question));
        let key = line.and_then(|line| line.trim().split(' ').next()).unwrap_or_else(|| panic!("{list}"));
        self.press(key)
    }

    /// Waits for the end of the program and gives its exit code and all that it showed.
    #[track_caller]
    pub fn end(&mut self) -> (Option<i32>, String) {
        while self.read() {}
        (self.child.wait().unwrap().code(), flat(&self.raw))
    }

    /// SIGKILL, wherever it is.
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Reads some more; false at the end.
    fn read(&mut self) -> bool {
        let mut asked = [PollFd::new(&self.keyboard, PollFlags::IN)];
        if poll(&mut asked, Some(&PATIENCE)).unwrap() == 0 {
            return false;
        }
        let mut bytes = [0; 4096];
        // A terminal whose program has ended says so by an error.
        let Ok(count) = self.keyboard.read(&mut bytes) else { return false };
        self.raw.push_str(&String::from_utf8_lossy(&bytes[..count]));
        count > 0
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        // Where it has ended already there is nothing left to do.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A text in one line.
pub fn flat(text: &str) -> String {
    let plain = text.replace("\u{1b}[1m", "").replace("\u{1b}[0m", "").replace('\u{a0}', " ");
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}
