//! Single flipped bits in a copy of a served journal: noticed by `verify`, or without any effect on what is served.
//!
//! What is served of the whole site is what was written, or nothing. What is served of one job holds no entry that
//! was not written; a damaged index can hide entries of a job from it until somebody runs `verify`, which such flips
//! are counted for and must not pass.

use super::copy;
use super::pages::structure;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_proto::v1::{self, RecordedEntry};
use standpipe_server::{Role, Server, ServerOptions, verify};
use standpipe_tests::facts;
use standpipe_tests::sealed::{Sealed, Sealer};
use standpipe_tests::site::{self, Site};
use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::ops::Range;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

const SEED: u64 = 20_260_318;

/// Where an entry's row lies in the file.
struct Row {
    seq: i64,
    /// Its job; empty for a fact of the site.
    job: String,
    /// Identity, references, time, sealed bytes, leaf hash.
    whole: Range<usize>,
    /// Time, sealed bytes, leaf hash: what the leaf hash covers, and itself.
    hashed: Range<usize>,
}

/// Reads the journal, or one job of it, over the network.
async fn served(address: SocketAddr, token: &str, job: &str) -> Result<Vec<RecordedEntry>, tonic::Status> {
    let mut client = site::journal(address, token).await;
    let mut entries = Vec::new();
    let mut page_token = String::new();
    loop {
        let request = v1::ReadRequest { job: job.to_owned(), page_size: 100, page_token };
        let answer = client.read(request).await?.into_inner();
        entries.extend(answer.entries);
        page_token = answer.next_page_token;
        if page_token.is_empty() {
            return Ok(entries);
        }
    }
}

/// A site with three jobs that was served and closed, and what it holds.
async fn closed_site() -> (Site, Vec<RecordedEntry>) {
    let site = Site::with(&[("bay-1", Role::Bay)]).await;
    let server = site.serve().await;
    let mut bay = site::journal(server.addr, site.token("bay-1")).await;
    let mut sealer = Sealer::new("bay-1", 6);
    for number in 1..=3 {
        let job = sealer.job(number);
        for kind in facts::whole_service() {
            let entry: Sealed = sealer.seal(&job, kind);
            site::append(&mut bay, &entry).await.unwrap();
        }
    }
    let entries = served(server.addr, &site.admin, "").await.unwrap();
    drop(bay);
    server.shutdown();
    server.join().await.unwrap();
    (site, entries)
}

fn position(haystack: &[u8], needle: &[u8]) -> usize {
    let mut found = haystack.windows(needle.len()).enumerate().filter(|(_, window)| *window == needle);
    let (at, _) = found.next().expect("the bytes are in the file");
    assert!(found.next().is_none(), "the bytes are in the file once");
    at
}

/// Finds the rows by their sealed bytes; the columns before and after them are held against what was served.
fn rows(file: &[u8], entries: &[RecordedEntry]) -> Vec<Row> {
    let row = |entry: &RecordedEntry| {
        let start = position(file, &entry.entry);
        let end = start + entry.entry.len() + 32;
        assert_eq!(file[end - 32..end], entry.leaf_hash, "the leaf hash follows the sealed bytes");
        let received = entry.received_time.unwrap();
        let us = received.seconds * 1_000_000 + i64::from(received.nanos / 1000);
        assert_eq!(
            file[start - 8..start],
            us.to_be_bytes(),
            "the time of receipt stands before the sealed bytes"
        );
        let decoded: v1::Entry = prost::Message::decode(entry.entry.clone()).unwrap();
        let id = decoded.header.unwrap().entry_id;
        let id = uuid::Uuid::parse_str(&id).unwrap().into_bytes();
        let before = start - 40;
        let whole = before + position(&file[before..start], &id)..end;
        Row { seq: entry.seq, job: job_of(entry), whole, hashed: start - 8..end }
    };
    entries.iter().map(row).collect()
}

fn job_of(entry: &RecordedEntry) -> String {
    let entry: v1::Entry = prost::Message::decode(entry.entry.clone()).unwrap();
    match entry.header.unwrap().subject {
        Some(v1::header::Subject::JobId(job)) => job,
        _ => String::new(),
    }
}

#[derive(Debug, Default)]
struct Counts {
    refused: u32,
    noticed: u32,
    harmless: u32,
    not_served: u32,
    site_served: u32,
    site_read_refused: u32,
    jobs_served: u32,
    jobs_cut_short: u32,
    job_reads_refused: u32,
}

/// A folder whose journal is replaced again and again.
struct Copy {
    dir: PathBuf,
    epoch: Vec<u8>,
    token: String,
    entries: Vec<RecordedEntry>,
    jobs: BTreeMap<String, Vec<RecordedEntry>>,
    counts: Counts,
    /// What must not have happened, a sentence each.
    wrong: Vec<String>,
}

impl Copy {
    fn of(site: &Site, entries: Vec<RecordedEntry>) -> Self {
        let dir = site.folder.path().join("copy");
        copy(&site.dir(), &dir);
        let epoch = std::fs::read(dir.join("epoch")).unwrap();
        let mut jobs: BTreeMap<String, Vec<RecordedEntry>> = BTreeMap::new();
        for entry in entries.iter().filter(|entry| !job_of(entry).is_empty()) {
            jobs.entry(job_of(entry)).or_default().push(entry.clone());
        }
        let (token, counts) = (site.admin.clone(), Counts::default());
        Self { dir, epoch, token, entries, jobs, counts, wrong: Vec::new() }
    }

    fn put(&self, journal: &[u8]) {
        for gone in ["standpipe.db-wal", "standpipe.db-shm"] {
            let _ = std::fs::remove_file(self.dir.join(gone));
        }
        std::fs::write(self.dir.join("standpipe.db"), journal).unwrap();
        std::fs::write(self.dir.join("epoch"), &self.epoch).unwrap();
    }

    fn expect(&mut self, right: bool, what: &str) {
        if !right {
            self.wrong.push(what.to_owned());
        }
    }

    /// Flips a bit and looks what becomes of it. `row` is where the bit lies, if it is in a row.
    async fn flip(&mut self, sound: &[u8], at: usize, bit: u8, row: Option<&Row>) {
        let mut flipped = sound.to_vec();
        flipped[at] ^= 1 << bit;
        self.put(&flipped);
        let place = format!("bit {bit} of byte {at}");
        let damaged = row.filter(|row| row.hashed.contains(&at));
        let cut_short = self.counts.jobs_cut_short;
        let mut sound = false;
        match within(verify(&self.dir)).await {
            None => self.wrong.push(format!("{place}: verify does not end")),
            Some(Err(_)) => self.counts.refused += 1,
            Some(Ok(verified)) if !verified.is_sound() => {
                self.counts.noticed += 1;
                if let Some(row) = damaged {
                    let report = verified.report;
                    let seq = u64::try_from(row.seq).ok();
                    let named = report
                        .damage
                        .iter()
                        .any(|damage| damage.seq == seq && (damage.job.is_some() || row.job.is_empty()));
                    self.expect(
                        named,
                        &format!("{place}: entry {} is not named: {:?}", row.seq, report.damage),
                    );
                }
            }
            Some(Ok(_)) => {
                self.counts.harmless += 1;
                sound = true;
                self.expect(row.is_none(), &format!("{place}: a changed row was not noticed"));
            }
        }
        // Verifying changes nothing; serving might, and is the last thing that is done with this copy.
        if within(self.serve(&place, damaged)).await.is_none() {
            self.wrong.push(format!("{place}: serving does not end"));
        }
        let hidden = self.counts.jobs_cut_short > cut_short;
        self.expect(
            !(sound && hidden),
            &format!("{place}: entries of a job are hidden and verify finds nothing"),
        );
    }

    /// Whatever is served is what was written. Where an entry of one job is damaged, the other jobs are served.
    async fn serve(&mut self, place: &str, damaged: Option<&Row>) {
        let listen = "127.0.0.1:0".parse().unwrap();
        let Ok(server) = Server::start(ServerOptions { listen, ..ServerOptions::new(&self.dir) }).await
        else {
            self.counts.not_served += 1;
            return;
        };
        match served(server.addr, &self.token, "").await {
            Err(_) => self.counts.site_read_refused += 1,
            Ok(entries) => {
                self.counts.site_served += 1;
                let same = entries == self.entries && damaged.is_none();
                self.expect(
                    same,
                    &format!("{place}: {} entries are served, not as they were written", entries.len()),
                );
            }
        }
        for (job, written) in self.jobs.clone() {
            match served(server.addr, &self.token, &job).await {
                Err(status) => {
                    self.counts.job_reads_refused += 1;
                    let due = damaged.is_none_or(|row| row.job == job);
                    self.expect(
                        due,
                        &format!("{place}: an undamaged job is not served: {}", status.message()),
                    );
                }
                Ok(entries) => {
                    self.counts.jobs_served += 1;
                    self.counts.jobs_cut_short += u32::from(entries.len() < written.len());
                    let mut rest = written.iter();
                    let all_written = entries.iter().all(|entry| rest.any(|written| written == entry));
                    let same = all_written && damaged.is_none_or(|row| row.job != job);
                    self.expect(
                        same,
                        &format!("{place}: a job is served with an entry that was not written"),
                    );
                }
            }
        }
        server.shutdown();
        // A journal that is found damaged while it is closed may say so.
        let _ = server.join().await;
    }
}

/// What comes of something within a time that is far beyond what it takes; nothing if it does not end.
async fn within<T>(work: impl Future<Output = T>) -> Option<T> {
    tokio::time::timeout(Duration::from_secs(30), work).await.ok()
}

fn below(random: &mut ChaCha8Rng, end: usize) -> usize {
    usize::try_from(random.next_u64() % end as u64).unwrap()
}

fn count_panics() -> &'static AtomicU32 {
    static PANICS: AtomicU32 = AtomicU32::new(0);
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        PANICS.fetch_add(1, Ordering::SeqCst);
        usual(panic);
    }));
    &PANICS
}

/// Where bits can be flipped.
struct Layout {
    bytes: usize,
    rows: Vec<Row>,
    structure: Vec<usize>,
}

/// Flips bits where `pick` says, and requires that nothing came of any that must not.
async fn campaign(daily: usize, pick: impl Fn(&mut ChaCha8Rng, &Layout, usize) -> usize) -> Counts {
    let panics = count_panics();
    let full = std::env::var("STANDPIPE_TEST_CAMPAIGN").is_ok_and(|it| it == "full");
    let flips = if full { daily * 40 } else { daily };
    let (site, entries) = closed_site().await;
    let sound = std::fs::read(site.dir().join("standpipe.db")).unwrap();
    let layout = Layout { bytes: sound.len(), rows: rows(&sound, &entries), structure: structure(&sound) };
    let mut copy = Copy::of(&site, entries);

    // Unflipped first: the test itself must find nothing.
    copy.put(&sound);
    assert!(verify(&copy.dir).await.unwrap().is_sound());
    copy.serve("nothing flipped", None).await;
    assert_eq!((copy.counts.site_served, copy.counts.jobs_served), (1, 3));
    copy.counts = Counts::default();

    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    for number in 0..flips {
        let bit = u8::try_from(below(&mut random, 8)).unwrap();
        let at = pick(&mut random, &layout, number);
        let row = layout.rows.iter().find(|row| row.whole.contains(&at));
        copy.flip(&sound, at, bit, row).await;
    }
    println!("{flips} flips, seed {SEED}: {:?}", copy.counts);
    assert_eq!(copy.wrong, Vec::<String>::new(), "seed {SEED}");
    assert_eq!(panics.load(Ordering::SeqCst), 0, "a damaged journal makes nothing panic");
    copy.counts
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_flipped_bit_in_a_row_is_noticed_and_no_changed_entry_is_ever_served() {
    let counts = campaign(150, |random, layout, number| {
        if number % 3 == 0 {
            // Anywhere, but where the next test looks more closely.
            loop {
                let at = below(random, layout.bytes);
                if !layout.structure.contains(&at) {
                    return at;
                }
            }
        }
        let row = &layout.rows[below(random, layout.rows.len())];
        let range = if number % 3 == 1 { &row.hashed } else { &row.whole };
        range.start + below(random, range.len())
    })
    .await;
    assert!(counts.noticed >= 100, "two of three flips fall into rows");
    assert!(
        counts.harmless > 0 && counts.jobs_served > 0 && counts.job_reads_refused > 0,
        "every outcome was met"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_flipped_bit_in_the_structure_of_the_file_is_noticed_or_without_effect() {
    let counts =
        campaign(50, |random, layout, _| layout.structure[below(random, layout.structure.len())]).await;
    assert!(counts.noticed > 0 && counts.refused > 0 && counts.jobs_served > 0, "every outcome was met");
}
