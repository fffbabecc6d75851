//! A workshop as its people run it: the built programs, a served site, stations with homes of their own.
//!
//! Never here: an expectation beyond that a program ended as a program should. Nothing of the machine's own
//! environment reaches the programs, and every server listens on a free port of the loopback address.

use super::process::Process;
use super::{programs, site};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tokio::net::TcpSocket;

/// What a program said and how it ended.
#[derive(Debug, Clone)]
pub struct Said {
    /// What it was asked, for a failure's text.
    pub asked: String,
    /// Exit code; -1 after a signal.
    pub exit: i32,
    /// Standard output as it came.
    pub bytes: Vec<u8>,
    /// Standard output as text.
    pub out: String,
    /// Standard error as text.
    pub err: String,
}

impl Said {
    /// Requires an exit code and gives what was said.
    #[track_caller]
    pub fn ended(self, exit: i32) -> Self {
        assert_eq!(self.exit, exit, "{}\nout: {}\nerr: {}", self.asked, self.out, self.err);
        self
    }

    /// Requires success.
    #[track_caller]
    pub fn fine(self) -> Self {
        self.ended(0)
    }

    /// Requires a refusal as they all must be: this exit code, nothing on the standard output, and on the standard
    /// error exactly one line, which is given back.
    #[track_caller]
    pub fn refused(self, exit: i32) -> String {
        let said = self.ended(exit);
        assert_eq!(said.out, "", "{}: a refusal says nothing on the standard output", said.asked);
        said.one_line()
    }

    /// The only line of the standard error.
    #[track_caller]
    pub fn one_line(&self) -> String {
        let lines: Vec<&str> = self.err.lines().collect();
        let [line] = lines[..] else { panic!("{}: one sentence is expected, not\n{}", self.asked, self.err) };
        assert!(line.chars().count() > 10 && line.len() < 1_000, "{}: {line}", self.asked);
        assert!(!line.chars().any(char::is_control), "{}: {line:?}", self.asked);
        line.to_owned()
    }

    /// The standard output as JSON.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out)
            .unwrap_or_else(|error| panic!("{}: {error}\n{}", self.asked, self.out))
    }

    /// The standard output without the line's end.
    pub fn line(&self) -> &str {
        self.out.trim_end()
    }
}

/// A program with none of the machine's environment but a path for its own tools.
pub fn bare(program: &Path) -> Command {
    let mut command = Command::new(program);
    command.env_clear().env("PATH", std::env::var_os("PATH").unwrap_or_default()).env("TZ", "UTC");
    command
}

/// Runs a program to its end and feeds it `input`.
#[track_caller]
pub fn ended(mut command: Command, input: &str) -> Said {
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut asked = format!("{command:?}");
    if asked.len() > 400 {
        asked = asked.chars().take(400).chain(['…']).collect();
    }
    let mut child = command.spawn().unwrap_or_else(|error| panic!("{asked}: {error}"));
    // A program that does not read its input ends the pipe; that is its right.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    let output = child.wait_with_output().unwrap();
    let err = String::from_utf8(output.stderr).unwrap_or_else(|error| panic!("{asked}: {error}"));
    assert!(!err.contains("panicked"), "{asked}: {err}");
    let exit = output.status.code().unwrap_or(-1);
    Said { asked, exit, out: String::from_utf8_lossy(&output.stdout).into_owned(), bytes: output.stdout, err }
}

/// Splits a command line at spaces; what stands between two apostrophes is one word, also an empty one.
pub fn words(line: &str) -> Vec<String> {
    let (mut words, mut word, mut quoted, mut begun) = (Vec::new(), String::new(), false, false);
    for letter in line.chars() {
        match letter {
            '\'' => (quoted, begun) = (!quoted, true),
            ' ' if !quoted => {
                if begun {
                    words.push(std::mem::take(&mut word));
                }
                begun = false;
            }
            letter => {
                word.push(letter);
                begun = true;
            }
        }
    }
    assert!(!quoted, "an apostrophe is open in: {line}");
    if begun {
        words.push(word);
    }
    words
}

/// Tries to serve a folder that must not be served: gives the exit code and all of the standard error.
#[track_caller]
pub fn refused_to_serve(mut command: Command, dir: &Path) -> (i32, String) {
    command.stdin(Stdio::null());
    let Err(said) = Process::start(command, dir) else { panic!("{} is served", dir.display()) };
    assert!(!said.contains("panicked"), "{said}");
    let told = said.strip_prefix("exit status: ").and_then(|rest| rest.split_once(": "));
    let (exit, err) = told.unwrap_or_else(|| panic!("ended otherwise than by itself: {said}"));
    (exit.parse().unwrap(), err.to_owned())
}

/// A workshop that was founded by the command line.
pub struct Shop {
    folder: tempfile::TempDir,
    tokens: BTreeMap<String, String>,
    served: RefCell<Option<Process>>,
    /// The ports of its servers, held until the shop goes: nobody else listens where a station still asks.
    held: RefCell<Vec<TcpSocket>>,
}

impl Shop {
    /// A site with the stations bay-1, bay-2 and office, persons A and B, and the demo's catalogue; not yet served.
    pub fn founded() -> Self {
        let shop = Self {
            folder: tempfile::tempdir().unwrap(),
            tokens: BTreeMap::new(),
            served: RefCell::new(None),
            held: RefCell::new(Vec::new()),
        };
        let mut tokens = BTreeMap::new();
        let admin = shop.verb("init --site harbour-lane --name 'Harbour Lane'").fine();
        tokens.insert("admin".to_owned(), admin.line().to_owned());
        for (name, role) in [("bay-1", "bay"), ("bay-2", "bay"), ("office", "office")] {
            shop.verb(&format!("station add {name} --role {role}")).fine();
            let token = shop.verb(&format!("station token {name}")).fine();
            tokens.insert(name.to_owned(), token.line().to_owned());
        }
        shop.verb("person add A --name 'technician A'").fine();
        shop.verb("person add B --name 'office B'").fine();
        shop.verb(&format!("catalogue import '{}'", site::catalogue().display())).fine();
        Self { tokens, ..shop }
    }

    /// A founded workshop that is served.
    pub fn open() -> Self {
        let shop = Self::founded();
        shop.serve();
        shop
    }

    /// The site's folder.
    pub fn dir(&self) -> PathBuf {
        self.folder.path().join("site")
    }

    /// A place for other files of the test.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn token(&self, station: &str) -> &str {
        &self.tokens[station]
    }

    /// Runs a verb of the server's program on the site's folder.
    #[track_caller]
    pub fn verb(&self, line: &str) -> Said {
        let mut command = bare(&programs::server());
        command.args(words(line)).arg("--dir").arg(self.dir());
        ended(command, "")
    }

    /// The same with an input.
    #[track_caller]
    pub fn verb_fed(&self, line: &str, input: &str) -> Said {
        let mut command = bare(&programs::server());
        command.args(words(line)).arg("--dir").arg(self.dir());
        ended(command, input)
    }

    /// Starts the server.
    ///
    /// Its port is taken before by a socket that never listens. The server can listen there all the same, since both allow
    /// the address to be shared (socket(7), SO_REUSEADDR), and after it has ended no other server is given that port.
    #[track_caller]
    pub fn serve(&self) {
        let port = TcpSocket::new_v4().unwrap();
        port.set_reuseaddr(true).unwrap();
        port.bind(SocketAddr::from(([127, 0, 0, 1], 0))).unwrap();
        let listen = port.local_addr().unwrap();
        let served = Process::start_at(listen, bare(&programs::server()), &self.dir())
            .unwrap_or_else(|said| panic!("{said}"));
        self.held.borrow_mut().push(port);
        *self.served.borrow_mut() = Some(served);
    }

    /// The address that the running server printed.
    #[track_caller]
    pub fn address(&self) -> String {
        self.served.borrow().as_ref().expect("the server runs").address.to_string()
    }

    /// Stops the server in order; it must end with success.
    #[track_caller]
    pub fn close(&self) {
        let served = self.served.borrow_mut().take().expect("the server runs");
        let (exit, log) = served.terminate();
        assert_eq!(
            (exit, log.as_str()),
            (Some(0), ""),
            "a server without trouble ends in order and warns of nothing"
        );
    }

    /// A station's home, joined with the running server.
    #[track_caller]
    pub fn station(&self, name: &str, person: &str) -> Home {
        let home = self.home(name);
        self.join(&home);
        home.say(&format!("as {person}")).fine();
        home
    }

    /// A home that has not joined.
    pub fn home(&self, name: &str) -> Home {
        Home { name: name.to_owned(), path: self.path(&format!("home-{name}")) }
    }

    /// Joins a home with the server where it listens now, for example after it was started again.
    #[track_caller]
    pub fn join(&self, home: &Home) {
        home.fed(&format!("join {} -", self.address()), self.token(&home.name)).fine();
    }

    /// Entries in the journal, read through beside the running server; damage fails the test.
    #[track_caller]
    pub fn entries(&self) -> u64 {
        let report = self.verb("verify --output json").fine().json();
        assert_eq!(report["sound"], true, "{report}");
        report["entries"].as_u64().unwrap()
    }
}

/// A station's home.
#[derive(Debug, Clone)]
pub struct Home {
    pub name: String,
    pub path: PathBuf,
}

impl Home {
    /// A command of the station, not yet run.
    pub fn command(&self) -> Command {
        let mut command = bare(&programs::station());
        command.env("STANDPIPE_HOME", &self.path).current_dir(std::env::temp_dir());
        command
    }

    /// Runs a command.
    #[track_caller]
    pub fn say(&self, line: &str) -> Said {
        self.fed(line, "")
    }

    /// Runs a command that reads its input.
    #[track_caller]
    pub fn fed(&self, line: &str, input: &str) -> Said {
        let mut command = self.command();
        command.args(words(line));
        ended(command, input)
    }

    /// Names of the files that wait to be sent.
    pub fn unsent_files(&self) -> Vec<String> {
        let mut names = Vec::new();
        for folder in ["unsent", "unsent/blobs"] {
            let Ok(files) = std::fs::read_dir(self.path.join(folder)) else { continue };
            let files = files.map(Result::unwrap).filter(|file| file.file_type().unwrap().is_file());
            names.extend(files.map(|file| file.file_name().to_string_lossy().into_owned()));
        }
        names.sort();
        names
    }
}
