//! The station's own program, killed at every step of its commands and at seeded moments between them. What it told a
//! person as kept is at the server in the end, once; no number is given twice.

use super::strace;
use prost::Message as _;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use serde_json::Value;
use standpipe_proto::v1::{self, ReadRequest, fact::Kind};
use standpipe_server::Role;
use standpipe_tests::process::Process;
use standpipe_tests::programs;
use standpipe_tests::site::{Site, journal};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

const KILLS_BETWEEN_STEPS: usize = 60;

/// A bay's folder, and what its commands told so far.
struct Bay {
    home: PathBuf,
    /// Every reading has its own temperature, so that it is recognised at the server, in tenths of °C.
    tenths: i64,
    /// Readings that were told as kept: entry id and tenths.
    told: BTreeMap<String, i64>,
    kills: usize,
}

impl Bay {
    fn joined(site: &Site, server: &Process) -> Self {
        let bay = Self { home: site.folder.path().join("home"), tenths: 0, told: BTreeMap::new(), kills: 0 };
        bay.done(&["join", &server.address.to_string(), site.token("bay-1")]);
        bay.done(&["as", "A"]);
        bay.done(&["open", "PH 482 K"]);
        bay
    }

    fn command(&self, mut command: Command, arguments: &[&str]) -> Command {
        command
            .env_remove("STANDPIPE_HOME")
            .arg("--home")
            .arg(&self.home)
            .args(["--output", "json"])
            .args(arguments);
        command
    }

    fn run(&self, arguments: &[&str]) -> Output {
        self.command(Command::new(programs::station()), arguments).output().unwrap()
    }

    fn done(&self, arguments: &[&str]) -> Value {
        let output = self.run(arguments);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{arguments:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
        serde_json::from_slice(&output.stdout).unwrap()
    }

    /// The next reading, as it is typed.
    fn reading(&mut self) -> [String; 6] {
        self.tenths += 1;
        let temperature = format!("{}.{} °C", self.tenths / 10, self.tenths % 10);
        ["add", "temperature-reading", "--temperature", &temperature, "--place", "transmission-fluid"]
            .map(str::to_owned)
    }

    /// Remembers what a command told before it ended or was killed. An answer that was cut off tells nothing.
    fn note(&mut self, output: &Output) {
        self.kills += usize::from(strace::was_killed(output.status));
        let Ok(answer) = serde_json::from_slice::<Value>(&output.stdout) else { return };
        if let (Some(entry_id), Some("sent" | "unsent")) =
            (answer["entry_id"].as_str(), answer["state"].as_str())
        {
            self.told.insert(entry_id.to_owned(), self.tenths);
        }
    }

    /// States a reading with a command that is killed at a step. Gives whether it was.
    fn add_killed_at(&mut self, step: &str, nth: usize) -> bool {
        let reading = self.reading();
        let command = strace::killed_at(&programs::station(), step, nth);
        let output = self.command(command, &reading.each_ref().map(String::as_str)).output().unwrap();
        self.note(&output);
        strace::was_killed(output.status)
    }

    /// States a reading with a command that is killed after a time, without ever waiting.
    fn add_killed_after(&mut self, delay: Duration) {
        let reading = self.reading();
        let mut command =
            self.command(Command::new(programs::station()), &reading.each_ref().map(String::as_str));
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let started = Instant::now();
        while started.elapsed() < delay {
            std::thread::yield_now();
        }
        // It may have ended by itself.
        let _ = child.kill();
        let output = child.wait_with_output().unwrap();
        self.note(&output);
    }

    /// Sends what waits, to the end, and holds the server's journal against what was told.
    async fn judge(&self, site: &Site, server: &Process) {
        self.done(&["send"]);
        let unsent = self.done(&["unsent"]);
        for key in ["waiting", "refused", "damaged"] {
            assert_eq!(unsent[key], serde_json::json!([]), "{key}");
        }
        let mut client = journal(server.address, site.token("bay-1")).await;
        let mut request = ReadRequest { job: "1".into(), ..ReadRequest::default() };
        let mut entries = Vec::new();
        loop {
            let page = client.read(request.clone()).await.unwrap().into_inner();
            entries.extend(page.entries.iter().map(|entry| v1::Entry::decode(&*entry.entry).unwrap()));
            if page.next_page_token.is_empty() {
                break;
            }
            request.page_token = page.next_page_token;
        }
        let found = complaints(&self.told, self.tenths, &entries);
        assert!(found.is_empty(), "{found:#?}");
        println!(
            "{} kills, {} readings told as kept, {} stored",
            self.kills,
            self.told.len(),
            entries.len() - 1
        );
    }
}

/// What the entries of the job contradict of what a person was told, and of themselves.
fn complaints(told: &BTreeMap<String, i64>, greatest: i64, entries: &[v1::Entry]) -> Vec<String> {
    let mut found = Vec::new();
    let (mut stored, mut readings, mut numbers) = (BTreeMap::new(), BTreeSet::new(), BTreeSet::new());
    let mut last = BTreeMap::new();
    for entry in entries {
        let header = entry.header.clone().unwrap();
        if !numbers.insert((header.station_epoch.clone(), header.station_number)) {
            found.push(format!("number {} was given twice", header.station_number));
        }
        let before = last.insert(header.station_epoch, header.station_number);
        if before.is_some_and(|before| before >= header.station_number) {
            found.push(format!("number {} after {before:?}", header.station_number));
        }
        let Some(Kind::TemperatureReading(reading)) = entry.fact.clone().unwrap().kind else { continue };
        let tenths = (reading.temperature_celsius * 10.0).round() as i64;
        if !(1..=greatest).contains(&tenths) {
            found.push(format!("{tenths} was never typed"));
        }
        if !readings.insert(tenths) {
            found.push(format!("{tenths} is stored twice"));
        }
        stored.insert(header.entry_id, tenths);
    }
    let lost = told.iter().filter(|(entry_id, tenths)| stored.get(*entry_id) != Some(tenths));
    found.extend(
        lost.map(|(entry_id, tenths)| format!("{tenths} was told as kept under {entry_id} and is lost")),
    );
    found
}

async fn workshop() -> (Site, Process) {
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let server = Process::serve(&site.dir());
    (site, server)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_reading_that_was_told_as_kept_survives_a_kill_at_any_step() {
    if !strace::works() {
        return;
    }
    let full = super::times() > 1;
    let (site, server) = workshop().await;
    let mut bay = Bay::joined(&site, &server);
    for step in strace::STEPS {
        for nth in strace::numbers(full) {
            let killed = bay.add_killed_at(step, nth);
            // An empty list again, so that every command has the same steps.
            bay.done(&["send"]);
            if !killed {
                break;
            }
        }
    }
    assert!(bay.kills >= 20, "only {} kills: the steps are not those of the program any more", bay.kills);
    bay.judge(&site, &server).await;
    // Sending is killed as well, with readings that wait because their command was killed before it connected.
    let before = bay.kills;
    for step in ["openat", "write", "writev", "fsync", "rename", "mkdir", "connect"] {
        for nth in strace::numbers(full) {
            assert!(bay.add_killed_at("connect", 1), "nothing waits for sending");
            let sending =
                bay.command(strace::killed_at(&programs::station(), step, nth), &["send"]).output().unwrap();
            bay.done(&["send"]);
            if !strace::was_killed(sending.status) {
                break;
            }
            bay.kills += 1;
        }
    }
    println!("{} kills while sending", bay.kills - before);
    bay.judge(&site, &server).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_reading_that_was_told_as_kept_survives_kills_at_any_moment_and_a_server_that_is_away() {
    for seed in 1..=super::times() {
        killed_between_steps(seed).await;
    }
}

async fn killed_between_steps(seed: u64) {
    println!("seed {seed}");
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let (site, server) = workshop().await;
    let mut bay = Bay::joined(&site, &server);
    // Kills are spread over the time that a whole command takes here, and a little more.
    let started = Instant::now();
    let reading = bay.reading();
    bay.done(&reading.each_ref().map(String::as_str));
    let within = started.elapsed().as_micros() as u64 * 6 / 5;
    let mut delay = || Duration::from_micros(u64::from(random.next_u32()) % within);
    while bay.kills < KILLS_BETWEEN_STEPS / 2 {
        bay.add_killed_after(delay());
    }
    server.kill();
    while bay.kills < KILLS_BETWEEN_STEPS {
        bay.add_killed_after(delay());
    }
    // One that nobody kills, so that something was told in any case.
    let reading = bay.reading();
    let output = bay.run(&reading.each_ref().map(String::as_str));
    assert_eq!(output.status.code(), Some(75), "{output:?}");
    bay.note(&output);
    assert!(!bay.told.is_empty());
    let server = Process::serve(&site.dir());
    bay.done(&["join", &server.address.to_string(), site.token("bay-1")]);
    bay.judge(&site, &server).await;
}

#[test]
fn the_judgement_notices_a_lost_a_doubled_and_a_renumbered_reading() {
    use standpipe_tests::sealed::Sealer;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    let entries: Vec<v1::Entry> = [0.1, 0.2, 0.3]
        .map(|celsius| {
            let subject = v1::header::Subject::JobId(job.clone());
            sealer.entry(subject, standpipe_tests::facts::temperature(celsius), &[])
        })
        .into();
    let id = |entry: &v1::Entry| entry.header.clone().unwrap().entry_id;
    let told: BTreeMap<String, i64> = entries.iter().map(id).zip(1..).collect();
    assert_eq!(complaints(&told, 3, &entries), Vec::<String>::new());
    assert_eq!(complaints(&told, 3, &entries[1..]).len(), 1);
    assert_eq!(complaints(&told, 2, &entries).len(), 1);
    let mut twice = entries.clone();
    let mut copy = entries[2].clone();
    copy.header.as_mut().unwrap().entry_id = standpipe_tests::sealed::uuid_v7(5, 5);
    twice.push(copy);
    assert_eq!(complaints(&told, 3, &twice).len(), 3, "number twice, order, reading twice");
}

/// A folder that is no station's stays as it is.
#[test]
fn a_command_that_is_killed_before_it_wrote_anything_leaves_no_folder() {
    if !strace::works() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let home: &Path = &folder.path().join("home");
    let mut command = strace::killed_at(&programs::station(), "connect", 1);
    command.env_remove("STANDPIPE_HOME").arg("--home").arg(home).args([
        "join",
        "127.0.0.1:1",
        &"0".repeat(64),
    ]);
    assert!(strace::was_killed(command.output().unwrap().status));
    let unsent = Command::new(programs::station()).arg("--home").arg(home).arg("unsent").output().unwrap();
    assert_eq!(unsent.status.code(), Some(64), "{unsent:?}");
}
