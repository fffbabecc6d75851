//! A whole server on a free port with a clock that a test moves; spoken to with the generated clients.

mod beside;
mod desk;
pub(crate) mod forwarding;
mod listing;
mod network;
mod orders;
mod records;
mod revisions;
pub(crate) mod source;
mod stopping;
mod watching;

use crate::config::Mode;
use crate::door::{Identity, Limits};
use crate::folder::Folder;
use crate::workshop::{Premises, Whose, Workshop};
use crate::{
    Clock, Desk, InitOptions, Role, RunningServer, Server, ServerOptions, SystemEntropy, Token, init,
};
use prost::Message as _;
use standpipe_proto::v1::{
    Arrival, Closing, Correction, Entry, Fact, Header, Outcome, VisitReason, fact::Kind, header::Subject,
    journal_service_client::JournalServiceClient,
};
use standpipe_proto::{Bytes, v1};
use standpipe_store::{SqliteStore, Store};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::time::Duration;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::Channel;
use tonic::{Request, Status};

/// 18 March 2026, 11:00 UTC.
const START_US: i64 = 1_773_831_600_000_000;
const DAY_US: i64 = 86_400_000_000;

pub(crate) struct Hand(AtomicI64);

impl Clock for Hand {
    fn now_us(&self) -> i64 {
        self.0.load(Ordering::SeqCst)
    }
}

impl Hand {
    pub(crate) fn forward(&self, us: i64) {
        self.0.fetch_add(us, Ordering::SeqCst);
    }
}

/// A site with the stations bay-1, bay-2 and office.
pub(crate) struct Shop {
    pub(crate) _home: tempfile::TempDir,
    pub(crate) dir: PathBuf,
    pub(crate) clock: Arc<Hand>,
    pub(crate) tokens: Vec<(&'static str, Token)>,
    next: AtomicU64,
}

pub(crate) type Bearer =
    InterceptedService<Channel, Box<dyn FnMut(Request<()>) -> Result<Request<()>, Status> + Send + Sync>>;

impl Shop {
    pub(crate) async fn found() -> Self {
        let home = tempfile::tempdir().unwrap();
        let dir = home.path().join("shop");
        let clock = Arc::new(Hand(AtomicI64::new(START_US)));
        let options = InitOptions {
            site_id: "harbour-lane".into(),
            site_name: "Harbour Lane Transmissions".into(),
            clock: clock.clone(),
            entropy: Arc::new(SystemEntropy),
        };
        let admin = init(&dir, options).await.unwrap();
        let mut tokens = vec![("admin", admin.token)];
        let mut desk = Desk::open(&dir).await.unwrap();
        for (name, role) in [("bay-1", Role::Bay), ("bay-2", Role::Bay), ("office", Role::Office)] {
            tokens.push((name, desk.add_station(name, role).await.unwrap().token));
        }
        desk.add_person("A", Some("technician A")).await.unwrap();
        desk.close().await.unwrap();
        Self { _home: home, dir, clock, tokens, next: AtomicU64::new(1) }
    }

    pub(crate) async fn serve(&self) -> RunningServer {
        let options = ServerOptions {
            listen: "127.0.0.1:0".parse().unwrap(),
            clock: self.clock.clone(),
            // The clock of these tests is moved by hand, so nobody waits for it.
            look_again: Duration::from_millis(20),
            ..ServerOptions::new(&self.dir)
        };
        Server::start(options).await.unwrap()
    }

    /// The workshop that a server would serve, without one; the lock of the folder stays free.
    pub(crate) async fn workshop(&self) -> Arc<Workshop> {
        workshop_of(&self.dir, self.clock.clone(), Mode::Workshop).await
    }

    pub(crate) fn token(&self, station: &str) -> String {
        self.tokens.iter().find(|(name, _)| *name == station).unwrap().1.to_string()
    }

    pub(crate) async fn bearer(&self, server: &RunningServer, station: &str) -> Bearer {
        bearer(server, &self.token(station)).await
    }

    pub(crate) async fn journal(
        &self,
        server: &RunningServer,
        station: &str,
    ) -> JournalServiceClient<Bearer> {
        JournalServiceClient::new(self.bearer(server, station).await)
    }

    /// Seals a fact of a job at a station.
    pub(crate) fn seal(&self, station: &str, job: &str, kind: Kind) -> Bytes {
        let number = self.next.fetch_add(1, Ordering::SeqCst);
        let now_us = self.clock.now_us();
        let entry = Entry {
            header: Some(Header {
                entry_id: entry_id(number),
                subject: Some(Subject::JobId(job.to_owned())),
                station_id: station.to_owned(),
                station_epoch: "0".repeat(32),
                station_number: i64::try_from(number).unwrap(),
                person_code: "A".into(),
                station_time: Some(crate::convert::timestamp(now_us)),
                boot_id: "0".repeat(32),
                ..Header::default()
            }),
            fact: Some(Fact { kind: Some(kind) }),
        };
        entry.encode_to_vec().into()
    }
}

/// The workshop that a server would serve, without one; the lock of the folder stays free.
pub(crate) async fn workshop_of(dir: &Path, clock: Arc<Hand>, mode: Mode) -> Arc<Workshop> {
    let folder = Folder::find(dir).unwrap();
    let identity = Identity::open(&folder, Vec::new(), clock.now_us()).unwrap();
    let store: Arc<dyn Store> = Arc::new(SqliteStore::open(&folder.journal()).await.unwrap());
    let (_, stopping) = tokio::sync::watch::channel(false);
    let premises = Premises {
        whose: Whose::Own(mode),
        folder,
        store,
        clock,
        entropy: Arc::new(SystemEntropy),
        stopping,
        look_again: crate::server::DEFAULT_LOOK_AGAIN,
        token_days: crate::server::DEFAULT_TOKEN_DAYS,
        identity: Arc::new(identity),
        address: crate::DEFAULT_LISTEN,
        limits: Limits::default(),
        figures: Arc::new(crate::figures::Figures::new(true)),
    };
    Arc::new(Workshop::open(premises).await.unwrap())
}

pub(crate) async fn bearer(server: &RunningServer, token: &str) -> Bearer {
    let channel = Channel::from_shared(format!("http://{}", server.addr)).unwrap().connect().await.unwrap();
    let value: tonic::metadata::MetadataValue<_> = format!("Bearer {token}").parse().unwrap();
    let add = move |mut request: Request<()>| {
        request.metadata_mut().insert("authorization", value.clone());
        Ok(request)
    };
    InterceptedService::new(channel, Box::new(add))
}

pub(crate) fn entry_id(number: u64) -> String {
    format!("01890a5d-ac96-774b-bcce-{number:012x}")
}

pub(crate) fn job_id(number: u64) -> String {
    format!("01890a5d-ac96-774b-8000-{number:012x}")
}

pub(crate) fn arrival(plate: &str) -> Kind {
    Kind::Arrival(Arrival {
        plate: plate.into(),
        odometer_kilometres: Some(118_240.0),
        reasons: vec![VisitReason::ServiceDue.into()],
        ..Arrival::default()
    })
}

pub(crate) fn closing() -> Kind {
    Kind::Closing(Closing { outcome: Outcome::NoExchangeDone.into(), odometer_kilometres: None })
}

pub(crate) fn corrected_plate(entry_id: &str, plate: &str) -> Kind {
    Kind::Correction(Box::new(Correction {
        corrected_entry_id: entry_id.into(),
        reason: "misread".into(),
        outcome: Some(v1::correction::Outcome::Replacement(Box::new(Fact { kind: Some(arrival(plate)) }))),
    }))
}
