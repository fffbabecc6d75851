//! A PostgreSQL of the tests' own: made in a temporary folder, reached by a socket in it, gone at the end. It runs as
//! another user than root, who may not run it. Where it is not installed the tests say so and pass.
//!
//! `STANDPIPE_POSTGRES` may name the socket's folder of one that several tests share, as `tests/run.sh` does; tests that
//! stop or break the database start one of their own.

use std::io::{BufRead as _, BufReader};
use std::os::unix::fs::{MetadataExt as _, chown};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};

const USER: &str = "standpipe";
const PORT: &str = "5432";

/// A running database server.
pub struct Cluster {
    programs: PathBuf,
    folder: tempfile::TempDir,
    settings: Vec<String>,
    process: Option<Child>,
}

/// A database in a server of its own or in the shared one.
pub struct Database {
    /// The server, if it is this test's own.
    pub cluster: Option<Cluster>,
    socket: PathBuf,
    programs: PathBuf,
}

/// Names databases apart within this process.
static MADE: AtomicU32 = AtomicU32::new(0);

/// A server to put databases into, or nothing where none is installed.
pub fn database() -> Option<Database> {
    let programs = programs()?;
    match std::env::var_os("STANDPIPE_POSTGRES").filter(|folder| !folder.is_empty()) {
        Some(socket) => Some(Database { cluster: None, socket: socket.into(), programs }),
        None => own(&[]),
    }
}

/// The same, of this test alone, so that it may be stopped and broken; with further settings as `name=value`.
pub fn own(settings: &[&str]) -> Option<Database> {
    let cluster = Cluster::start(programs()?, settings)?;
    let (socket, programs) = (cluster.folder.path().to_owned(), cluster.programs.clone());
    Some(Database { cluster: Some(cluster), socket, programs })
}

impl Database {
    /// Makes an empty database and gives its address.
    pub fn create(&self) -> String {
        self.made(&[])
    }

    /// Makes a copy of a database that nobody is connected to.
    pub fn copy(&self, address: &str) -> String {
        let name = address.split(['/', '?']).nth(3).unwrap();
        self.made(&["-T", name])
    }

    fn made(&self, arguments: &[&str]) -> String {
        let number = MADE.fetch_add(1, Ordering::Relaxed);
        let name = format!("test_{}_{number}", std::process::id());
        self.run("createdb", &[&["-U", USER, &name], arguments].concat());
        self.address(&name)
    }

    /// Address of a database by its name.
    pub fn address(&self, name: &str) -> String {
        format!("postgresql://{USER}@/{name}?host={}&port={PORT}", self.socket.display())
    }

    /// Runs statements by the database's own terminal program, as a foreign hand would, and gives what it said.
    pub fn psql(&self, address: &str, statements: &str) -> String {
        let output =
            self.command("psql").args(["-XAtq", "-v", "ON_ERROR_STOP=1", address, "-c", statements]).output();
        let output = output.unwrap();
        let told = [output.stdout, output.stderr].concat();
        String::from_utf8_lossy(&told).trim().to_owned()
    }

    fn run(&self, program: &str, arguments: &[&str]) {
        let output = self.command(program).args(arguments).output().unwrap();
        assert!(output.status.success(), "{program}: {}", String::from_utf8_lossy(&output.stderr));
    }

    fn command(&self, program: &str) -> Command {
        let mut command = Command::new(self.programs.join(program));
        command.env("PGHOST", &self.socket).env("PGPORT", PORT);
        command
    }
}

impl Cluster {
    fn start(programs: PathBuf, settings: &[&str]) -> Option<Self> {
        let folder = tempfile::Builder::new().prefix("pg").tempdir().unwrap();
        if let Some(user) = other_user(folder.path())? {
            chown(folder.path(), Some(user.0), Some(user.1)).unwrap();
        }
        let settings = settings.iter().map(|setting| (*setting).to_owned()).collect();
        let mut cluster = Self { programs, folder, settings, process: None };
        let made = cluster
            .command("initdb")
            .args(["-A", "trust", "-U", USER, "--no-sync", "-E", "UTF8", "--locale=C", "-D"])
            .arg(cluster.data())
            .output()
            .unwrap();
        assert!(made.status.success(), "initdb: {}", String::from_utf8_lossy(&made.stderr));
        cluster.serve();
        Some(cluster)
    }

    /// Starts the server on what its folder holds and waits until it says that it is ready.
    pub fn serve(&mut self) {
        let mut command = self.command("postgres");
        command.arg("-D").arg(self.data()).args(["-p", PORT, "-k"]).arg(self.folder.path());
        command.args(["-c", "listen_addresses=", "-c", "logging_collector=off"]);
        for setting in &self.settings {
            command.args(["-c", setting]);
        }
        let mut process = command.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
        let mut log = BufReader::new(process.stderr.take().unwrap());
        let mut said = String::new();
        while !said.contains("ready to accept connections") {
            let length = log.read_line(&mut said).unwrap();
            assert!(length > 0, "the database server ended: {said}");
        }
        // Whoever does not read what it says would stop it some time.
        std::thread::spawn(move || std::io::copy(&mut log, &mut std::io::sink()));
        self.process = Some(process);
    }

    /// Stops it: `INT` throws everybody out, `QUIT` ends it without a word, so that it has to recover.
    pub fn stop(&mut self, signal: &str) {
        if let Some(mut process) = self.process.take() {
            // The process that was started is the server itself: what starts it puts it in its own place.
            let _ = Command::new("kill").args([&format!("-{signal}"), &process.id().to_string()]).status();
            process.wait().unwrap();
        }
    }

    fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }

    /// A program run as the folder's owner, which ends when this test does.
    fn command(&self, program: &str) -> Command {
        let about = std::fs::metadata(self.folder.path()).unwrap();
        let mut command = Command::new("setpriv");
        command.args(["--pdeathsig", "INT"]);
        if about.uid() != std::fs::metadata("/proc/self").unwrap().uid() {
            let ids = [format!("--reuid={}", about.uid()), format!("--regid={}", about.gid())];
            command.args(ids).arg("--clear-groups");
        }
        command.arg(self.programs.join(program)).current_dir(self.folder.path());
        command
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        self.stop("QUIT");
    }
}

/// Folder of the newest installed server's programs.
fn programs() -> Option<PathBuf> {
    let versions = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().filter_map(Result::ok);
    let mut found: Vec<(u32, PathBuf)> = versions
        .filter_map(|version| {
            let number = version.file_name().to_str()?.parse().ok()?;
            Some((number, version.path().join("bin"))).filter(|(_, bin)| bin.join("postgres").exists())
        })
        .collect();
    found.sort();
    let newest = found.pop().map(|(_, bin)| bin);
    if newest.is_none() {
        println!("skipped: PostgreSQL is not installed (Debian package postgresql)");
    }
    newest
}

/// Who runs the server: nobody else, unless we are root, who may not.
#[allow(clippy::option_option)]
fn other_user(folder: &Path) -> Option<Option<(u32, u32)>> {
    if std::fs::metadata(folder).unwrap().uid() != 0 {
        return Some(None);
    }
    let id = |which: &str| {
        let output = Command::new("id").args([which, "postgres"]).output().ok()?;
        String::from_utf8_lossy(&output.stdout).trim().parse().ok()
    };
    let ids = id("-u").zip(id("-g"));
    if ids.is_none() {
        println!("skipped: root may not run PostgreSQL, and there is no user postgres");
    }
    ids.map(Some)
}
