//! A new site in a temporary folder, with stations, served on a free port.

use super::sealed::Sealer;
use standpipe_proto::v1;
use standpipe_proto::v1::journal_service_client::JournalServiceClient;
use standpipe_server::{
    Desk, Entropy, InitOptions, Role, RunningServer, Server, ServerOptions, SystemClock, SystemEntropy,
};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tonic::metadata::{Ascii, MetadataValue};
use tonic::service::{Interceptor, interceptor::InterceptedService};
use tonic::transport::{Channel, Endpoint};
use tonic::{Request, Status};

/// Folder of the demo's catalogue.
pub fn catalogue() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("deploy/catalogue")
}

/// A site and the tokens of its stations.
pub struct Site {
    pub folder: tempfile::TempDir,
    pub admin: String,
    pub tokens: Vec<(String, String)>,
}

impl Site {
    pub fn dir(&self) -> PathBuf {
        self.folder.path().join("site")
    }

    /// A site with these stations and the demo's catalogue.
    pub async fn with(stations: &[(&str, Role)]) -> Self {
        let site = Self::bare(stations).await;
        let mut desk = Desk::open(&site.dir()).await.unwrap();
        desk.import_catalogue(&catalogue()).await.unwrap();
        desk.close().await.unwrap();
        site
    }

    /// A site with these stations and no catalogue.
    pub async fn bare(stations: &[(&str, Role)]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let dir = folder.path().join("site");
        let entropy: Arc<dyn Entropy> = Arc::new(SystemEntropy);
        let options = InitOptions {
            site_id: "harbour-lane".to_owned(),
            site_name: "Harbour Lane".to_owned(),
            clock: Arc::new(SystemClock),
            entropy,
        };
        let admin = standpipe_server::init(&dir, options).await.unwrap().token.to_string();
        let mut desk = Desk::open(&dir).await.unwrap();
        let mut tokens = Vec::new();
        for (name, role) in stations {
            tokens.push(((*name).to_owned(), desk.add_station(name, *role).await.unwrap().token.to_string()));
        }
        desk.add_person("A", Some("technician A")).await.unwrap();
        desk.close().await.unwrap();
        Self { folder, admin, tokens }
    }

    pub fn token(&self, station: &str) -> &str {
        self.tokens.iter().find(|(name, _)| name == station).map(|(_, token)| token.as_str()).unwrap()
    }

    /// Serves on a clock that stands still shortly after the sealed entries were made, so that no figure and no
    /// number depends on the day of the test.
    pub async fn serve(&self) -> RunningServer {
        self.serve_on(super::clock::Hand::at(super::sealed::START_US + 3_600_000_000)).await
    }

    /// Serves on a clock that a test moves.
    pub async fn serve_on(&self, clock: Arc<dyn standpipe_server::Clock>) -> RunningServer {
        let listen = "127.0.0.1:0".parse().unwrap();
        Server::start(ServerOptions { listen, clock, ..ServerOptions::new(self.dir()) }).await.unwrap()
    }
}

/// Puts the token of a station into each call.
#[derive(Clone)]
pub struct Bearer(MetadataValue<Ascii>);

impl Bearer {
    pub fn new(token: &str) -> Self {
        Self(format!("Bearer {token}").parse().unwrap())
    }
}

impl Interceptor for Bearer {
    fn call(&mut self, mut request: Request<()>) -> Result<Request<()>, Status> {
        request.metadata_mut().insert("authorization", self.0.clone());
        Ok(request)
    }
}

/// A connection of its own.
pub async fn channel(address: SocketAddr) -> Channel {
    Endpoint::from_shared(format!("http://{address}")).unwrap().tcp_nodelay(true).connect().await.unwrap()
}

/// A channel that shows the token of a station with each call.
pub type Shown = InterceptedService<Channel, Bearer>;

/// A connection of its own that shows a token; the clients of all services take it.
pub async fn shown(address: SocketAddr, token: &str) -> Shown {
    InterceptedService::new(channel(address).await, Bearer::new(token))
}

pub type JournalClient = JournalServiceClient<InterceptedService<Channel, Bearer>>;

pub async fn journal(address: SocketAddr, token: &str) -> JournalClient {
    JournalServiceClient::with_interceptor(channel(address).await, Bearer::new(token))
}

/// Appends one entry and gives its acknowledgement.
pub async fn append(
    client: &mut JournalClient,
    entry: &super::sealed::Sealed,
) -> Result<v1::Acknowledgement, Status> {
    let request = v1::AppendRequest { entry: entry.bytes.clone() };
    Ok(client.append(request).await?.into_inner().acknowledgement.unwrap())
}

/// A bay, `bay-1` by its token, that opened its first job; with what seals its next entries, and the job's identity.
pub async fn opened(address: SocketAddr, token: &str) -> (JournalClient, Sealer, String) {
    let mut bay = journal(address, token).await;
    let mut sealer = Sealer::new("bay-1", 1);
    let job = sealer.job(1);
    append(&mut bay, &sealer.seal(&job, super::facts::arrival("PH 482 K"))).await.unwrap();
    (bay, sealer, job)
}
