//! A running server: opens a site's folder, listens, and lets itself be stopped.
//!
//! Called by `serve`, the demonstration and tests. What stopping means stands in [`crate::keeper`], what is served in
//! [`crate::wiring`].

use crate::admin;
use crate::clock::{Clock, Entropy, SystemClock, SystemEntropy};
use crate::config::Mode;
use crate::door::{Door, Identity, Limits};
use crate::error::ServerError;
use crate::figures::Figures;
use crate::folder::Folder;
use crate::forwarding::{AtOwner, link};
use crate::keeper::{Keeper, Stop};
use crate::order::{Done, Order, order};
use crate::wiring;
use crate::workshop::{Premises, Whose, Workshop};
use standpipe_store::{Store, StoreError};
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::task::JoinHandle;
use tokio::time::MissedTickBehavior;

/// Address that a server listens on when nothing else is said.
pub const DEFAULT_LISTEN: SocketAddr = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 50551);
/// Longest time that stopping may take when nothing else is said, and the most that can be set.
pub const DEFAULT_STOP_WITHIN: Duration = Duration::from_secs(10);
/// Days that a token is good when nothing else is said.
pub const DEFAULT_TOKEN_DAYS: u32 = 180;

/// Longest time between two looks at a shown job while no entry of it comes, when nothing else is said.
pub const DEFAULT_LOOK_AGAIN: Duration = Duration::from_secs(15);

/// Time between two looks at the certificate.
const LOOK_AT_CERTIFICATE_EVERY: Duration = Duration::from_secs(60);

/// What a server runs on.
pub struct ServerOptions {
    /// The site's folder.
    pub dir: PathBuf,
    /// What the server is for.
    pub mode: Mode,
    /// Where to listen. Port 0 takes any free one. Other machines are answered over TLS only.
    pub listen: SocketAddr,
    /// What says what time it is.
    pub clock: Arc<dyn Clock>,
    /// Longest time that stopping may take.
    pub stop_within: Duration,
    /// Longest time between two looks at a job that somebody sees, in a watch or on a page, while no entry of it comes:
    /// what is said goes with the clock.
    pub look_again: Duration,
    /// Names and addresses of the server besides those that it finds itself, for its certificate.
    pub names: Vec<String>,
    /// Days that a token is good.
    pub token_days: u32,
    /// Whether `/metrics` is served.
    pub metrics: bool,
    /// What is allowed those who connect.
    pub limits: Limits,
}

impl ServerOptions {
    /// The site's folder, the default address, the machine's clock.
    pub fn new(dir: impl Into<PathBuf>) -> Self {
        Self {
            dir: dir.into(),
            mode: Mode::default(),
            listen: DEFAULT_LISTEN,
            clock: Arc::new(SystemClock),
            stop_within: DEFAULT_STOP_WITHIN,
            look_again: DEFAULT_LOOK_AGAIN,
            names: Vec::new(),
            token_days: DEFAULT_TOKEN_DAYS,
            metrics: true,
            limits: Limits::default(),
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
        let ServerOptions { dir, mode, listen, clock, stop_within, look_again, names, .. } = options;
        let ServerOptions { token_days, limits, .. } = options;
        let figures = Arc::new(Figures::new(options.metrics));
        let folder = Folder::find(&dir)?;
        folder.require_own()?;
        let folder = folder.lock()?;
        let identity = Arc::new(Identity::open(&folder, names, clock.now_us())?);
        // Whoever connects from now on waits until calls are answered.
        let door = Door::bind(listen, Arc::clone(&identity), limits, Arc::clone(&figures)).await?;
        let addr = door.address();
        let store = folder.open_journal().await?;
        let (drain, draining) = watch::channel(false);
        let premises = Premises {
            whose: Whose::Own(mode),
            folder: Folder::clone(&folder),
            store: Arc::clone(&store),
            clock: Arc::clone(&clock),
            entropy: Arc::new(SystemEntropy),
            stopping: draining.clone(),
            look_again,
            token_days,
            identity: Arc::clone(&identity),
            address: addr,
            limits,
            figures: Arc::clone(&figures),
        };
        let (workshop, services) = match prepare(premises).await {
            Ok(prepared) => prepared,
            Err(error) => {
                store.close().await?;
                return Err(error);
            }
        };
        let health = services.health.clone();
        match admin::listen(&folder) {
            Ok(orders) => {
                tokio::spawn(admin::serve(orders, Arc::clone(&workshop), addr, draining.clone()));
            }
            // The stations matter more; orders wait until the server is stopped.
            Err(error) => tracing::warn!(%error, "orders are taken only while the server is stopped"),
        }
        let stopping = draining.clone();
        tokio::spawn(crate::lines::complete_list(Arc::clone(&workshop)));
        if let Some(tallies) = &workshop.tallies {
            tokio::spawn(crate::tallies::keep(Arc::clone(tallies), draining.clone()));
        }
        let (audit, kept) = (Arc::clone(&workshop.audit), Arc::clone(&workshop));
        tokio::spawn(gather(figures, draining.clone()));
        let serving = tokio::spawn(wiring::serve(services, workshop, door, draining.clone()));
        tokio::spawn(renew_certificate(Arc::clone(&identity), Arc::clone(&clock), draining));
        if mode == Mode::Workshop {
            let (entropy, shop): (Arc<dyn Entropy>, _) = (Arc::new(SystemEntropy), Arc::clone(&kept));
            tokio::spawn(link::keep(shop, entropy, stopping));
        }
        let workshop = Arc::clone(&kept);
        let (stop, stop_seen) = watch::channel(Stop::NotYet);
        let pulse = Pulse(Arc::clone(&store));
        let keeper = Keeper {
            folder: Arc::new(folder),
            store,
            health,
            audit,
            workshop: kept,
            drain,
            stop: stop_seen,
            stop_within,
        };
        let ended = tokio::spawn(keeper.keep(serving));
        tracing::info!(%addr, dir = %dir.display(), "listening");
        Ok(RunningServer { addr, identity, clock, pulse, workshop, stopper: Stopper(stop), ended })
    }
}

/// Gathers what is counted until the server stops.
async fn gather(figures: Arc<Figures>, mut draining: watch::Receiver<bool>) {
    tokio::select! {
        // An error means that nobody is left who could ask; then it is time to end as well.
        _ = draining.wait_for(|draining| *draining) => {}
        () = figures.gather() => {}
    }
}

async fn prepare(premises: Premises) -> Result<(Arc<Workshop>, wiring::Services), ServerError> {
    let workshop = Arc::new(Workshop::open(premises).await?);
    let services = wiring::services(&workshop).await?;
    Ok((workshop, services))
}

/// Keeps the certificate good while the server runs: it ends, and the machine may get another address.
async fn renew_certificate(
    identity: Arc<Identity>,
    clock: Arc<dyn Clock>,
    mut draining: watch::Receiver<bool>,
) {
    let mut looks = tokio::time::interval(LOOK_AT_CERTIFICATE_EVERY);
    looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        tokio::select! {
            // An error means that nobody is left who could ask; then it is time to end as well.
            _ = draining.wait_for(|draining| *draining) => return,
            _ = looks.tick() => {}
        }
        match look_at_certificate(Arc::clone(&identity), clock.now_us()).await {
            Ok(true) => {
                tracing::info!(ends = identity.ends(), "the server shows a new certificate");
            }
            Ok(false) => {}
            Err(error) => tracing::error!(%error, "the server's certificate was not renewed"),
        }
    }
}

async fn look_at_certificate(identity: Arc<Identity>, now_us: i64) -> Result<bool, ServerError> {
    let looked = tokio::task::spawn_blocking(move || identity.look_again(now_us)).await;
    looked.unwrap_or_else(|error| Err(ServerError::Network { cause: error.to_string() }))
}

/// A server that listens. Dropping it stops it in order, without waiting.
pub struct RunningServer {
    /// The address it listens on.
    pub addr: SocketAddr,
    identity: Arc<Identity>,
    clock: Arc<dyn Clock>,
    pulse: Pulse,
    workshop: Arc<Workshop>,
    stopper: Stopper,
    ended: JoinHandle<Result<(), ServerError>>,
}

/// The certificate of a running server.
#[derive(Clone)]
pub struct Certificate {
    identity: Arc<Identity>,
    clock: Arc<dyn Clock>,
}

impl Certificate {
    /// Makes another one if it is due or the machine has another name or address; says whether it did.
    ///
    /// # Errors
    /// When it cannot be made or kept.
    pub async fn look(&self) -> Result<bool, ServerError> {
        look_at_certificate(Arc::clone(&self.identity), self.clock.now_us()).await
    }
}

/// Tells whether a running server's journal answers.
#[derive(Clone)]
pub struct Pulse(Arc<dyn Store>);

impl Pulse {
    /// Whether the journal takes entries, and a read from it comes back. A server that waits for its database to come back
    /// is alive: ending it would bring nothing back.
    pub async fn answers(&self) -> bool {
        match self.0.health() {
            Ok(()) => self.0.jobs(None, 1).await.is_ok(),
            Err(error) => matches!(error, StoreError::Away { .. }),
        }
    }
}

/// Stops a server from elsewhere, for example when a signal comes.
#[derive(Clone)]
pub struct Stopper(watch::Sender<Stop>);

impl RunningServer {
    /// Begins to stop in order; [`RunningServer::join`] waits for the end.
    pub fn shutdown(&self) {
        self.stopper.in_order();
    }

    /// Tells whether its journal answers.
    #[must_use]
    pub fn pulse(&self) -> Pulse {
        self.pulse.clone()
    }

    /// Waits until the owner's server that the site joined has everything that the journal holds now; gives how many
    /// entries that are.
    ///
    /// # Errors
    /// In a sentence, when the journals went on differently or the server stops.
    pub async fn level_with_owner(&self) -> Result<u64, ServerError> {
        link::level(&self.workshop).await.map_err(|sentence| ServerError::OwnerRefused { sentence })
    }

    /// Joins a running owner's server, both in this process, and waits until that has everything; gives how many entries
    /// that are.
    ///
    /// # Errors
    /// When either refuses, in a sentence.
    pub async fn bring_to(&self, owner: &Self) -> Result<u64, ServerError> {
        let site = self.workshop.site_id.clone();
        let invite = Order::AddForwarder { name: site.clone(), site };
        let Done::Invited { code, .. } = order(owner.workshop.folder.path(), invite).await? else {
            let sentence = "the owner's server gave no code; look at its version".to_owned();
            return Err(ServerError::OwnerRefused { sentence });
        };
        let join = Order::JoinOwner { host: owner.addr.to_string(), code };
        order(self.workshop.folder.path(), join).await?;
        self.level_with_owner().await
    }

    /// Asks the owner's server again now, whatever pause there is.
    pub fn look_at_owner(&self) {
        self.workshop.bond.wish();
    }

    /// How far the journal is at the owner's server, to wait for changes; nothing while the site has joined none.
    #[must_use]
    pub fn at_owner(&self) -> watch::Receiver<Option<AtOwner>> {
        self.workshop.bond.watch()
    }

    /// What stops it while somebody waits for its end.
    #[must_use]
    pub fn stopper(&self) -> Stopper {
        self.stopper.clone()
    }

    /// Looks whether the certificate is due or the machine has another name or address, as the server does by itself
    /// every minute; says whether another one is shown now.
    ///
    /// # Errors
    /// When it cannot be made or kept.
    pub async fn look_at_certificate(&self) -> Result<bool, ServerError> {
        self.certificate().look().await
    }

    /// What looks at its certificate from elsewhere, for example when a signal comes.
    #[must_use]
    pub fn certificate(&self) -> Certificate {
        Certificate { identity: Arc::clone(&self.identity), clock: Arc::clone(&self.clock) }
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
