//! Makes a connection: name, TCP, TLS, and what went wrong with it in terms of what to do.

use super::pinned::{Pin, Pinned};
use super::{DialError, SERVER_NAME, ServerAddress};
use hyper_util::rt::TokioIo;
use rustls_pki_types::{CertificateDer, ServerName, UnixTime};
use std::io::{self, ErrorKind};
use std::pin::Pin as Pinning;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::net::{TcpStream, lookup_host};
use tokio::task::JoinSet;
use tokio::time::sleep;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;
use tokio_rustls::rustls::client::Resumption;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::time_provider::TimeProvider;
use tokio_rustls::rustls::version::TLS13;
use tokio_rustls::rustls::{ClientConfig, Error as TlsError};
use tonic::transport::Uri;

/// The protocol within TLS (RFC 9113, section 3.1).
const ALPN: &[u8] = b"h2";

/// Addresses of a name that are tried at most.
const ADDRESSES_MAX: usize = 6;
/// Time after which the next one is tried beside those before (RFC 8305, section 5: 250 ms are recommended).
const NEXT_ADDRESS_AFTER: Duration = Duration::from_millis(250);

/// The machine's clock, in unix microseconds.
pub type Now = Arc<dyn Fn() -> i64 + Send + Sync>;

/// Why no connection was made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Trouble {
    /// Nobody knows the name.
    #[error(
        "no machine is called '{host}' here; look at the name, or write the address in numbers as the shop server prints it"
    )]
    NameUnknown {
        /// As typed.
        host: String,
    },
    /// The machine is there, and nothing listens.
    #[error(
        "nothing listens at {address}; see that the shop server runs and that address and port are right"
    )]
    Refused {
        /// Where.
        address: ServerAddress,
    },
    /// Nothing comes back.
    #[error(
        "{address} does not answer ({cause}); see that this machine is in the workshop's network and the shop server runs"
    )]
    Silent {
        /// Where.
        address: ServerAddress,
        /// What the operating system says.
        cause: String,
    },
    /// Something else listens there.
    #[error(
        "what listens at {address} is no shop server with TLS; look at address and port, and at the version of the shop server"
    )]
    NoTls {
        /// Where.
        address: ServerAddress,
    },
    /// The server is another one, or somebody stands between.
    #[error("the server at {address} is not the right one")]
    Stranger {
        /// Where.
        address: ServerAddress,
    },
}

/// What a connector found out, for whoever made it.
#[derive(Debug, Default)]
struct Found {
    trouble: Option<Trouble>,
    authority: Option<CertificateDer<'static>>,
}

/// Makes connections to one server.
#[derive(Clone)]
pub struct Connector {
    config: Arc<ClientConfig>,
    pin: Pin,
    address: ServerAddress,
    found: Arc<Mutex<Found>>,
}

impl Connector {
    /// Prepares connections.
    ///
    /// # Errors
    /// [`DialError::Tls`].
    pub fn new(address: ServerAddress, pin: Pin, now: Now) -> Result<Self, DialError> {
        let provider = Arc::new(ring::default_provider());
        let time = Arc::new(Looking(now));
        let mut config = ClientConfig::builder_with_details(Arc::clone(&provider), time)
            .with_protocol_versions(&[&TLS13])
            .map_err(|error| DialError::Tls(error.to_string()))?
            .dangerous()
            .with_custom_certificate_verifier(Arc::new(Pinned::new(pin.clone(), provider)))
            .with_no_client_auth();
        config.alpn_protocols = vec![ALPN.to_vec()];
        // Each connection proves anew who the server is.
        config.resumption = Resumption::disabled();
        Ok(Self { config: Arc::new(config), pin, address, found: Arc::default() })
    }

    /// Why the latest connection was not made; nothing if it was.
    pub fn trouble(&self) -> Option<Trouble> {
        self.found().trouble.clone()
    }

    /// The authority of the server that the latest connection was made to.
    pub fn authority(&self) -> Option<CertificateDer<'static>> {
        self.found().authority.clone()
    }

    async fn connect(self) -> Result<TlsStream<TcpStream>, Trouble> {
        // What is told if time runs out meanwhile.
        self.found().trouble =
            Some(Trouble::Silent { address: self.address.clone(), cause: "no answer in time".to_owned() });
        let made = self.attempt().await;
        let mut found = self.found();
        match &made {
            Ok(stream) => {
                let shown = stream.get_ref().1.peer_certificates().unwrap_or_default();
                *found = Found { trouble: None, authority: self.pin.authority(shown.iter()).cloned() };
            }
            Err(trouble) => found.trouble = Some(trouble.clone()),
        }
        drop(found);
        made
    }

    async fn attempt(&self) -> Result<TlsStream<TcpStream>, Trouble> {
        let ServerAddress { host, port } = &self.address;
        let unknown = || Trouble::NameUnknown { host: host.clone() };
        let addresses = lookup_host((host.as_str(), *port)).await.map_err(|_| unknown())?;
        match first(addresses.take(ADDRESSES_MAX).map(TcpStream::connect)).await {
            Some(Ok(tcp)) => self.encrypted(tcp).await,
            Some(Err(error)) => Err(self.unreached(&error)),
            None => Err(unknown()),
        }
    }

    async fn encrypted(&self, tcp: TcpStream) -> Result<TlsStream<TcpStream>, Trouble> {
        tcp.set_nodelay(true).map_err(|error| self.unreached(&error))?;
        let name = ServerName::try_from(SERVER_NAME).map_err(|_| self.stranger())?;
        let connector = TlsConnector::from(Arc::clone(&self.config));
        connector.connect(name, tcp).await.map_err(|error| self.unfit(&error))
    }

    fn unreached(&self, error: &io::Error) -> Trouble {
        let address = self.address.clone();
        match error.kind() {
            ErrorKind::ConnectionRefused => Trouble::Refused { address },
            kind => Trouble::Silent { address, cause: kind.to_string() },
        }
    }

    /// What a failed handshake means. Only what cannot come from the right server makes it a stranger.
    fn unfit(&self, error: &io::Error) -> Trouble {
        let address = self.address.clone();
        let tls = error.get_ref().and_then(|inner| inner.downcast_ref::<TlsError>());
        match (tls, error.kind()) {
            (
                Some(
                    TlsError::InvalidCertificate(_)
                    | TlsError::NoCertificatesPresented
                    | TlsError::PeerMisbehaved(_)
                    | TlsError::DecryptError,
                ),
                _,
            ) => self.stranger(),
            (Some(_), _) => Trouble::NoTls { address },
            // Who has joined knows that there is TLS: the server went away, or has too many connections.
            (None, ErrorKind::UnexpectedEof) if matches!(self.pin, Pin::Digest(_)) => {
                Trouble::NoTls { address }
            }
            (None, kind) => Trouble::Silent { address, cause: kind.to_string() },
        }
    }

    fn stranger(&self) -> Trouble {
        Trouble::Stranger { address: self.address.clone() }
    }

    fn found(&self) -> MutexGuard<'_, Found> {
        // Each change under this lock is whole in itself, so a panic elsewhere leaves nothing half done.
        self.found.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What the first of several tries gives that succeeds, or else the last one that failed; nothing if there was none. Each
/// begins a little after the one before, and none has to wait until another has failed: an address that is not answered
/// leaves time for the next.
async fn first<T: Send + 'static>(
    tries: impl Iterator<Item = impl Future<Output = io::Result<T>> + Send + 'static>,
) -> Option<io::Result<T>> {
    let mut side_by_side = JoinSet::new();
    for (place, one) in (0..).zip(tries) {
        side_by_side.spawn(async move {
            sleep(NEXT_ADDRESS_AFTER * place).await;
            one.await
        });
    }
    let mut last = None;
    while let Some(tried) = side_by_side.join_next().await {
        // A try that panicked found nothing out.
        let Ok(tried) = tried else { continue };
        let succeeded = tried.is_ok();
        last = Some(tried);
        if succeeded {
            break;
        }
    }
    last
}

/// The clock as certificates are looked at by it; see [`super::pinned`].
struct Looking(Now);

impl std::fmt::Debug for Looking {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Looking")
    }
}

impl TimeProvider for Looking {
    fn current_time(&self) -> Option<UnixTime> {
        let since = u64::try_from((self.0)()).unwrap_or_default();
        Some(UnixTime::since_unix_epoch(Duration::from_micros(since)))
    }
}

impl tower::Service<Uri> for Connector {
    type Response = TokioIo<TlsStream<TcpStream>>;
    type Error = Trouble;
    type Future = Pinning<Box<dyn Future<Output = Result<Self::Response, Trouble>> + Send>>;

    fn poll_ready(&mut self, _context: &mut Context<'_>) -> Poll<Result<(), Trouble>> {
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, _uri: Uri) -> Self::Future {
        let connector = self.clone();
        Box::pin(async move { connector.connect().await.map(TokioIo::new) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::pin::Pin;

    type Try = Pin<Box<dyn Future<Output = io::Result<u8>> + Send>>;

    #[tokio::test]
    async fn an_address_that_never_answers_leaves_the_next_one_its_turn() {
        let silent: Try = Box::pin(std::future::pending());
        let refused: Try = Box::pin(async { Err(ErrorKind::ConnectionRefused.into()) });
        let there: Try = Box::pin(async { Ok(3) });
        assert_eq!(first([silent, refused, there].into_iter()).await.unwrap().unwrap(), 3);
        let refused: Try = Box::pin(async { Err(ErrorKind::ConnectionRefused.into()) });
        let failed = first([refused].into_iter()).await.unwrap().unwrap_err();
        assert_eq!(failed.kind(), ErrorKind::ConnectionRefused);
        assert!(first(std::iter::empty::<Try>()).await.is_none());
    }
}
