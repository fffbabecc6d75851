//! Workshops and an owner's server in one process, each with its folder.

use standpipe_proto::v1::fact::Kind;
use standpipe_server::config::Mode;
use standpipe_server::{
    AtOwner, Clock, Desk, Done, InitOptions, JOURNAL_FILE, Order, Role, RunningServer, Server, ServerOptions,
    SystemClock, SystemEntropy, init, init_as, order, verify,
};
use standpipe_store::{EntryId, JobId, Journal as _, NewEntry, SqliteStore};
use standpipe_tests::facts;
use standpipe_tests::sealed::{START_US, Sealed, Sealer};
use standpipe_tests::site::{append, journal};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A folder of a server, and what belongs to it.
pub struct Place {
    home: tempfile::TempDir,
    pub site: String,
    pub name: &'static str,
    pub mode: Mode,
}

impl Place {
    /// An owner's server without workshops.
    pub async fn owner() -> Self {
        let place = Self {
            home: tempfile::tempdir().unwrap(),
            site: "owner".to_owned(),
            name: "owner",
            mode: Mode::Owner,
        };
        init_as(&place.dir(), place.options(), Mode::Owner).await.unwrap();
        place
    }

    /// A workshop without a catalogue.
    pub async fn workshop(site: &str) -> Self {
        let place = Self {
            home: tempfile::tempdir().unwrap(),
            site: site.to_owned(),
            name: "shop",
            mode: Mode::Workshop,
        };
        init(&place.dir(), place.options()).await.unwrap();
        place
    }

    /// The same with another folder, for example of a copy.
    pub fn with(&self, name: &'static str) -> PathBuf {
        self.home.path().join(name)
    }

    fn options(&self) -> InitOptions {
        InitOptions {
            site_id: self.site.clone(),
            site_name: format!("Workshop {}", self.site),
            clock: Arc::new(SystemClock),
            entropy: Arc::new(SystemEntropy),
        }
    }

    pub fn dir(&self) -> PathBuf {
        self.with(self.name)
    }

    /// Where the owner's server keeps the copy of a site.
    pub fn copy_of(&self, site: &str) -> PathBuf {
        self.dir().join("sites").join(site)
    }

    pub async fn serve(&self) -> RunningServer {
        serve(&self.dir(), self.mode, Arc::new(SystemClock)).await
    }
}

/// Serves a folder on a free port.
pub async fn serve(dir: &Path, mode: Mode, clock: Arc<dyn Clock>) -> RunningServer {
    let listen = "127.0.0.1:0".parse().unwrap();
    Server::start(ServerOptions { listen, clock, mode, ..ServerOptions::new(dir) }).await.unwrap()
}

/// Stops a server in order.
pub async fn stop(server: RunningServer) {
    server.shutdown();
    server.join().await.unwrap();
}

/// Copies a folder whose server is stopped, as a disk image would.
pub fn image(from: &Path, to: &Path) {
    std::fs::create_dir(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
        let (kind, target) = (entry.file_type().unwrap(), to.join(entry.file_name()));
        if kind.is_dir() {
            image(&entry.path(), &target);
        } else if kind.is_file() {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
    let rights = std::fs::metadata(from).unwrap().permissions();
    std::fs::set_permissions(to, rights).unwrap();
}

/// Enrols the station that brings a site's journal, and gives its code.
pub async fn code_for(owner: &Place, site: &str) -> String {
    let invite = Order::AddForwarder { name: site.to_owned(), site: site.to_owned() };
    let Done::Invited { code, .. } = order(&owner.dir(), invite).await.unwrap() else {
        panic!("no code came of it")
    };
    code
}

/// Lets a site join the owner's server over an address.
pub async fn join(owner: &Place, shop: &Place, address: SocketAddr) {
    let code = code_for(owner, &shop.site).await;
    order(&shop.dir(), Order::JoinOwner { host: address.to_string(), code }).await.unwrap();
}

/// A station of a workshop that states facts, a job every ten.
pub struct Bay {
    pub sealer: Sealer,
    jobs: u64,
    job: String,
}

impl Bay {
    pub fn new(seed: u64) -> Self {
        Self { sealer: Sealer::new("bay-1", seed), jobs: 0, job: String::new() }
    }

    /// The next fact: a job is opened, or something is read at the one that is open.
    pub fn next(&mut self) -> (Sealed, Kind, String) {
        let place = self.sealer.number % 10;
        let kind = if place == 0 {
            self.jobs += 1;
            self.job = self.sealer.job(self.jobs);
            facts::arrival(&format!("PH {} K", 100 + self.jobs))
        } else {
            facts::pushed(0.5 + place as f64 / 10.0, Some(10), None, false)
        };
        (self.sealer.seal(&self.job, kind.clone()), kind, self.job.clone())
    }
}

fn bytes_of(uuid: &str) -> [u8; 16] {
    uuid::Uuid::parse_str(uuid).unwrap().into_bytes()
}

/// Puts facts into the journal of a site whose server is stopped; what its epoch file remembers may lag behind.
pub async fn fill(dir: &Path, bay: &mut Bay, count: u64) {
    let store = SqliteStore::open(&dir.join(JOURNAL_FILE)).await.unwrap();
    let mut pending = Vec::new();
    for _ in 0..count {
        let (sealed, kind, job) = bay.next();
        let opens_job = matches!(kind, Kind::Arrival(_));
        let new = NewEntry {
            entry_id: EntryId(bytes_of(&sealed.entry_id)),
            job: Some(JobId(bytes_of(&job))),
            opens_job,
            station: "bay-1".to_owned(),
            station_epoch: u128::from_str_radix(&bay.sealer.epoch, 16).unwrap().to_be_bytes(),
            station_number: u64::try_from(bay.sealer.number).unwrap(),
            received_us: START_US + bay.sealer.number * 1_000_000,
            year: 2026,
            bytes: sealed.bytes,
        };
        pending.push(store.submit(new).await.unwrap());
    }
    for answer in pending {
        answer.answer().await.unwrap();
    }
    store.close().await.unwrap();
}

/// Enrols `bay-1` at a stopped site and gives its token.
pub async fn enrol_bay(dir: &Path) -> String {
    let mut desk = Desk::open(dir).await.unwrap();
    let token = desk.add_station("bay-1", Role::Bay).await.unwrap().token.to_string();
    desk.close().await.unwrap();
    token
}

/// States facts over the network.
pub async fn state(server: &RunningServer, token: &str, bay: &mut Bay, count: u64) {
    let mut client = journal(server.addr, token).await;
    for _ in 0..count {
        append(&mut client, &bay.next().0).await.unwrap();
    }
}

/// Root, entries and the digest of every job of a folder that nobody writes, which must be sound.
pub async fn told(dir: &Path) -> (u64, [u8; 32], Vec<(String, [u8; 32])>) {
    let verified = verify(dir).await.unwrap();
    assert!(verified.is_sound(), "{}: {verified:?}", dir.display());
    let store = SqliteStore::open_for_reading(&dir.join(JOURNAL_FILE)).await.unwrap();
    let mut digests = Vec::new();
    for job in store.jobs(None, 1_000).await.unwrap() {
        digests.push((job.number.to_string(), store.job_digest(job.job_id).await.unwrap().unwrap()));
    }
    store.close().await.unwrap();
    (verified.report.entries, verified.report.root, digests)
}

/// Waits until what is shown of the way to the owner's server is so.
pub async fn until(server: &RunningServer, wanted: impl Fn(&AtOwner) -> bool) -> AtOwner {
    let mut shown = server.at_owner();
    let reached = shown.wait_for(|at| at.as_ref().is_some_and(&wanted)).await.unwrap();
    reached.clone().unwrap()
}
