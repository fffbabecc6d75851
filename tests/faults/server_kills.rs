//! Four bays stream entries to the real server, which is killed after a seeded number of acknowledgements and started
//! again, ten times on one folder; then everything is held against the ledger.

use crate::ledger::{Account, complaints, recomputed};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use standpipe_proto::limits::STREAM_WINDOW_MAX;
use standpipe_proto::v1::job_service_client::JobServiceClient;
use standpipe_proto::v1::{self, ReadRequest, RecordedEntry, append_stream_response::Answer};
use standpipe_server::Role;
use standpipe_tests::facts;
use standpipe_tests::process::{self, Process};
use standpipe_tests::sealed::{Sealed, Sealer};
use standpipe_tests::site::{Bearer, JournalClient, Site, journal, shown};
use std::collections::VecDeque;
use std::net::SocketAddr;
use std::path::Path;
use std::time::Instant;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;
use tokio_stream::wrappers::ReceiverStream;
use tonic::transport::Endpoint;

pub(super) const BAYS: [&str; 4] = ["bay-1", "bay-2", "bay-3", "bay-4"];
const KILLS: usize = 10;
const CAMPAIGNS: u64 = 6;

/// A bay with what it has not been answered yet.
pub(super) struct Bay {
    token: String,
    sealer: Sealer,
    random: ChaCha8Rng,
    jobs: u64,
    /// Sealed and not answered, in order.
    unanswered: VecDeque<Sealed>,
    pub(super) account: Account,
}

impl Bay {
    pub(super) fn new(name: &str, token: &str, seed: u64) -> Self {
        let random = ChaCha8Rng::seed_from_u64(seed);
        let (sealer, token) = (Sealer::new(name, seed), token.to_owned());
        Self { token, sealer, random, jobs: 0, unanswered: VecDeque::new(), account: Account::default() }
    }

    fn seal(&mut self) -> Sealed {
        let opens = self.jobs == 0 || self.random.next_u32().is_multiple_of(50);
        self.jobs += u64::from(opens);
        let job = self.sealer.job(self.jobs);
        let kind = match self.random.next_u32() % 3 {
            _ if opens => facts::arrival("PH 482 K"),
            0 => facts::drained(3.05),
            1 => facts::sample(v1::SampleTime::Before),
            _ => facts::temperature(f64::from(self.random.next_u32() % 1_000) / 10.0),
        };
        let entry = self.sealer.seal(&job, kind);
        self.account.sent(&entry);
        entry
    }

    /// Sends what was not answered, then new entries while `more`. Gives whether all was answered; false when the
    /// server was gone before that. Answers come in the order of the entries.
    pub(super) async fn send(
        &mut self,
        address: SocketAddr,
        more: bool,
        answered: &watch::Sender<u64>,
    ) -> bool {
        let window = 1 + self.random.next_u32() as usize % STREAM_WINDOW_MAX;
        let Some(mut client) = connected(address, &self.token).await else { return false };
        let (sender, requests) = mpsc::channel(window);
        // An entry that was acknowledged long ago, once more: its answer must be the first one.
        let nth = self.random.next_u32() as usize;
        let mut outgoing: VecDeque<Sealed> =
            self.account.one_acknowledged(nth).cloned().into_iter().collect();
        outgoing.extend(self.unanswered.iter().cloned());
        let Ok(answers) = client.append_stream(ReceiverStream::new(requests)).await else { return false };
        let mut answers = answers.into_inner();
        let mut underway = VecDeque::new();
        loop {
            while underway.len() < window && (more || !outgoing.is_empty()) {
                let entry = outgoing.pop_front().unwrap_or_else(|| self.seal_next());
                // The channel holds a whole window, so it is only ever closed, never full.
                if sender.try_send(v1::AppendStreamRequest { entry: entry.bytes }).is_err() {
                    return false;
                }
                underway.push_back(entry.entry_id);
            }
            let Some(expected) = underway.pop_front() else { return true };
            let Ok(Some(answer)) = answers.message().await else { return false };
            self.answered(&expected, answer.answer.unwrap());
            answered.send_modify(|count| *count += 1);
        }
    }

    /// Seals a new entry, which has no answer from now on.
    pub(super) fn seal_next(&mut self) -> Sealed {
        let entry = self.seal();
        self.unanswered.push_back(entry.clone());
        entry
    }

    fn answered(&mut self, expected: &str, answer: Answer) {
        match answer {
            Answer::Acknowledgement(answer) => {
                assert_eq!(answer.entry_id, expected, "answers come in the order of the entries");
                self.account.acknowledged(answer);
            }
            // Everything here is right, so a refusal means that something it rests on was lost.
            Answer::Refusal(refusal) => {
                self.account.contradictions.push(format!("{expected} was refused: {refusal:?}"));
                self.account.refused(expected);
            }
        }
        if self.unanswered.front().is_some_and(|entry| entry.entry_id == expected) {
            self.unanswered.pop_front();
        }
    }
}

async fn connected(address: SocketAddr, token: &str) -> Option<JournalClient> {
    let endpoint = Endpoint::from_shared(format!("http://{address}")).unwrap();
    let channel = endpoint.tcp_nodelay(true).connect().await.ok()?;
    Some(v1::journal_service_client::JournalServiceClient::with_interceptor(channel, Bearer::new(token)))
}

/// Lets all bays send until so many answers came from the server, which is then killed; all of them if nothing is given.
async fn run(dir: &Path, bays: Vec<Bay>, kill_after: Option<u64>) -> Vec<Bay> {
    let started = Instant::now();
    let server = Process::serve(dir);
    if kill_after == Some(0) {
        println!("  killed as soon as it listened, after {:?}", started.elapsed());
    }
    let (answered, mut seen) = watch::channel(0);
    let mut sending = JoinSet::new();
    for mut bay in bays {
        let (answered, address) = (answered.clone(), server.address);
        sending.spawn(async move { (bay.send(address, kill_after.is_some(), &answered).await, bay) });
    }
    drop(answered);
    let server = match kill_after {
        Some(count) => {
            // An error means that every bay gave up, which it only does when the server is gone.
            seen.wait_for(|answered| *answered >= count).await.expect("the server ended by itself");
            server.kill();
            None
        }
        None => Some(server),
    };
    let mut bays = Vec::new();
    while let Some(sent) = sending.join_next().await {
        let (all, bay) = sent.unwrap();
        assert!(all || kill_after.is_some(), "the server was gone although nobody killed it");
        bays.push(bay);
    }
    if let Some(server) = server {
        let (code, said) = server.terminate();
        assert_eq!(code, Some(0), "{said}");
    }
    bays
}

/// One folder, ten kills, and the judgement.
async fn campaign(seed: u64) {
    println!("seed {seed}");
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let site = Site::with(&BAYS.map(|bay| (bay, Role::Bay))).await;
    let mut bays: Vec<Bay> =
        BAYS.iter().zip(1..).map(|(bay, nth)| Bay::new(bay, site.token(bay), seed * 10 + nth)).collect();
    for _ in 0..KILLS {
        bays = run(&site.dir(), bays, Some(u64::from(random.next_u32() % 200))).await;
    }
    bays = run(&site.dir(), bays, None).await;
    let accounts: Vec<&Account> = bays.iter().map(|bay| &bay.account).collect();
    let acknowledged: usize = accounts.iter().map(|account| account.acknowledgements()).sum();
    judge(&site, &accounts).await;
    println!("  {KILLS} kills, {acknowledged} entries acknowledged, none lost, none twice");
}

pub(super) async fn judge(site: &Site, accounts: &[&Account]) {
    let server = Process::serve(&site.dir());
    let mut admin = journal(server.address, &site.admin).await;
    let mut stored: Vec<RecordedEntry> = Vec::new();
    let mut request = ReadRequest::default();
    let root = loop {
        let mut page = admin.read(request.clone()).await.unwrap().into_inner();
        stored.append(&mut page.entries);
        if page.next_page_token.is_empty() {
            break page.root;
        }
        request.page_token = page.next_page_token;
    };
    let found = complaints(accounts, &stored);
    assert!(found.is_empty(), "{} complaints, among them {:#?}", found.len(), &found[..found.len().min(5)]);
    let verified = process::server(&["verify", "--output", "json"], &site.dir());
    let verified: serde_json::Value = serde_json::from_slice(&verified.stdout).unwrap();
    assert_eq!((&verified["sound"], &verified["damage_count"]), (&true.into(), &0.into()), "{verified}");
    let hex = |bytes: &[u8]| bytes.iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    assert_eq!(verified["root"], hex(&root));
    let Some(recomputed) = recomputed(&site.dir()) else { return };
    assert_eq!(recomputed["complaints"], serde_json::json!([]));
    for key in ["entries", "root", "epoch"] {
        assert_eq!(recomputed[key], verified[key], "{key}");
    }
    let digests = recomputed["jobs"].as_object().unwrap();
    assert_eq!(verified["jobs"], digests.len());
    let mut jobs = JobServiceClient::new(shown(server.address, &site.admin).await);
    for (number, digest) in digests {
        let job =
            jobs.get(v1::GetRequest { job: format!("HL-{number}") }).await.unwrap().into_inner().job.unwrap();
        assert_eq!(job.check_value, digest.as_str().unwrap()[..16], "{number}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_killed_while_four_bays_send_loses_nothing_that_it_acknowledged_and_takes_nothing_twice() {
    for seed in 1..=CAMPAIGNS * super::times() {
        campaign(seed).await;
    }
}
