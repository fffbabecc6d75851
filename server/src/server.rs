//! A running server: opens a site's folder, listens, and lets itself be stopped.
//!
//! Called by `serve`, the demonstration and tests. What stopping means stands in [`crate::keeper`], what is served in
//! [`crate::wiring`].

use crate::admin;
use crate::clock::{Clock, SystemClock, SystemEntropy};
use crate::error::ServerError;
use crate::folder::Folder;
use crate::keeper::{Keeper, Stop};
use crate::wiring;
use crate::workshop::{Premises, Workshop};
use standpipe_store::Journal;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use tonic::transport::server::TcpIncoming;

/// Address that a server listens on when nothing else is said.
pub const DEFAULT_LISTEN: SocketAddr = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 50551);
/// Longest time that stopping may take when nothing else is said, and the most that can be set.
pub const DEFAULT_STOP_WITHIN: Duration = Duration::from_secs(10);
/// Days that a token is good when nothing else is said.
pub const DEFAULT_TOKEN_DAYS: u32 = 180;
/// Connections that one address may hold at once when nothing else is said.
pub const DEFAULT_CONNECTIONS_PER_ADDRESS: usize = 32;

/// Longest time between two looks at a shown job while no entry of it comes, when nothing else is said.
pub const DEFAULT_LOOK_AGAIN: Duration = Duration::from_secs(15);

/// What a server runs on.
pub struct ServerOptions {
    /// The site's folder.
    pub dir: PathBuf,
    /// Where to listen; a loopback address. Port 0 takes any free one.
    pub listen: SocketAddr,
    /// What says what time it is.
    pub clock: Arc<dyn Clock>,
    /// Longest time that stopping may take.
    pub stop_within: Duration,
    /// Longest time between two looks at a job that somebody sees, in a watch or on a page, while no entry of it comes:
    /// what is said goes with the clock.
    pub look_again: Duration,
    /// Further names and addresses in the server's certificate.
    pub names: Vec<String>,
    /// Days that a token is good.
    pub token_days: u32,
    /// Connections that one address may hold at once; the machine's own addresses are not counted.
    pub connections_per_address: usize,
    /// Whether `/metrics` is served.
    pub metrics: bool,
}

impl ServerOptions {
    /// The site's folder, the default address, the machine's clock.
    pub fn new(dir: impl Into<PathBuf>) -> Self {
        Self {
            dir: dir.into(),
            listen: DEFAULT_LISTEN,
            clock: Arc::new(SystemClock),
            stop_within: DEFAULT_STOP_WITHIN,
            look_again: DEFAULT_LOOK_AGAIN,
            names: Vec::new(),
            token_days: DEFAULT_TOKEN_DAYS,
            connections_per_address: DEFAULT_CONNECTIONS_PER_ADDRESS,
            metrics: true,
        }
    }
}

/// The server of one site.
pub struct Server;

impl Server {
    /// Opens the folder and listens. When this returns, calls are answered.
    ///
    /// # Errors
    /// Whatever is wrong with folder, journal, catalogue or address, each in one sentence.
    pub async fn start(options: ServerOptions) -> Result<RunningServer, ServerError> {
        let ServerOptions { dir, listen, clock, stop_within, look_again, .. } = options;
        if !listen.ip().is_loopback() {
            return Err(ServerError::NotLoopback { address: listen });
        }
        let folder = Folder::find(&dir)?.lock()?;
        let store = Arc::new(folder.open_journal().await?);
        let (drain, draining) = watch::channel(false);
        let premises = Premises {
            folder: Folder::clone(&folder),
            store: Arc::clone(&store),
            clock,
            entropy: Arc::new(SystemEntropy),
            stopping: draining.clone(),
            look_again,
        };
        let prepared = prepare(premises, listen).await;
        let (workshop, incoming, addr, services) = match prepared {
            Ok(prepared) => prepared,
            Err(error) => {
                store.close().await?;
                return Err(error);
            }
        };
        let health = services.health.clone();
        match admin::listen(&folder) {
            Ok(orders) => {
                tokio::spawn(admin::serve(orders, Arc::clone(&workshop), draining.clone()));
            }
            // The stations matter more; orders wait until the server is stopped.
            Err(error) => tracing::warn!(%error, "orders are taken only while the server is stopped"),
        }
        tokio::spawn(crate::lines::complete_list(Arc::clone(&workshop)));
        let audit = Arc::clone(&workshop.audit);
        let serving = tokio::spawn(wiring::serve(services, workshop, incoming, draining));
        let (stop, stop_seen) = watch::channel(Stop::NotYet);
        let keeper =
            Keeper { folder: Arc::new(folder), store, health, audit, drain, stop: stop_seen, stop_within };
        let ended = tokio::spawn(keeper.keep(serving));
        tracing::info!(%addr, dir = %dir.display(), "listening");
        Ok(RunningServer { addr, stopper: Stopper(stop), ended })
    }
}

type Prepared = (Arc<Workshop>, TcpIncoming, SocketAddr, wiring::Services);

async fn prepare(premises: Premises, listen: SocketAddr) -> Result<Prepared, ServerError> {
    let workshop = Arc::new(Workshop::open(premises).await?);
    let services = wiring::services(&workshop).await?;
    let failed = |cause| ServerError::Listen { address: listen, cause };
    let incoming = TcpIncoming::bind(listen).map_err(failed)?.with_nodelay(Some(true));
    let addr = incoming.local_addr().map_err(failed)?;
    Ok((workshop, incoming, addr, services))
}

/// A server that listens. Dropping it stops it in order, without waiting.
pub struct RunningServer {
    /// The address it listens on.
    pub addr: SocketAddr,
    stopper: Stopper,
    ended: JoinHandle<Result<(), ServerError>>,
}

/// Stops a server from elsewhere, for example when a signal comes.
#[derive(Clone)]
pub struct Stopper(watch::Sender<Stop>);

impl RunningServer {
    /// Begins to stop in order; [`RunningServer::join`] waits for the end.
    pub fn shutdown(&self) {
        self.stopper.in_order();
    }

    /// What stops it while somebody waits for its end.
    #[must_use]
    pub fn stopper(&self) -> Stopper {
        self.stopper.clone()
    }

    /// Waits until the server has ended and its folder is free again.
    ///
    /// # Errors
    /// [`ServerError::JournalStopped`] when the journal stopped by itself, or what failed while stopping.
    pub async fn join(mut self) -> Result<(), ServerError> {
        let ended = (&mut self.ended).await;
        ended.unwrap_or_else(|error| Err(ServerError::Network { cause: error.to_string() }))
    }
}

impl Stopper {
    /// Begins to stop in order.
    pub fn in_order(&self) {
        self.raise(Stop::InOrder);
    }

    /// Stops without waiting for open calls. What was acknowledged is on the disk all the same.
    pub fn now(&self) {
        self.raise(Stop::Now);
    }

    fn raise(&self, to: Stop) {
        self.0.send_if_modified(|stop| {
            let higher = *stop < to;
            *stop = to.max(*stop);
            higher
        });
    }
}

impl Drop for RunningServer {
    fn drop(&mut self) {
        self.shutdown();
    }
}
