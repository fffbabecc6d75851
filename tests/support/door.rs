//! Connections to a server over TLS, made by hand, that trust the authority of one site only.

use hyper_util::rt::TokioIo;
use std::future::Future;
use std::net::{IpAddr, SocketAddr, UdpSocket};
use std::path::Path;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;
use tokio_rustls::rustls::client::WebPkiServerVerifier;
use tokio_rustls::rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::PemObject as _;
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName, UnixTime};
use tokio_rustls::rustls::{ClientConfig, DigitallySignedStruct, Error, RootCertStore, SignatureScheme};
use tonic::transport::{Channel, Endpoint, Uri};

/// Name that every server's certificate carries.
pub const SERVER_NAME: &str = standpipe_proto::join::SERVER_NAME;

/// An address of this machine that is not its loopback address, if it has one. Nothing is sent for it.
pub fn outside_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind("0.0.0.0:0").ok()?;
    // RFC 5737 keeps this address for documents; the system only looks up which of its own it would use.
    socket.connect("192.0.2.1:9").ok()?;
    let address = socket.local_addr().ok()?.ip();
    (!address.is_loopback() && !address.is_unspecified()).then_some(address)
}

/// What one client trusts and asks for.
#[derive(Clone)]
pub struct Trust(TlsConnector);

impl Trust {
    /// The authority in a site's folder, on the machine's clock, speaking these protocols.
    pub fn of(dir: &Path, protocols: &[&[u8]]) -> Self {
        Self::at(dir, protocols, None)
    }

    /// The same on a clock that stands still at so many seconds since 1970.
    pub fn at(dir: &Path, protocols: &[&[u8]], seconds: Option<u64>) -> Self {
        let authority = CertificateDer::from_pem_file(dir.join("tls/authority.pem")).unwrap();
        let mut roots = RootCertStore::empty();
        roots.add(authority).unwrap();
        let provider = Arc::new(ring::default_provider());
        let verifier = WebPkiServerVerifier::builder_with_provider(Arc::new(roots), Arc::clone(&provider))
            .build()
            .unwrap();
        let mut config = ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .unwrap()
            .dangerous()
            .with_custom_certificate_verifier(Arc::new(Verifier { verifier, seconds }))
            .with_no_client_auth();
        config.alpn_protocols = protocols.iter().map(|protocol| protocol.to_vec()).collect();
        Self(TlsConnector::from(Arc::new(config)))
    }

    /// A connection of its own under a name.
    pub async fn connect(&self, address: SocketAddr, name: &str) -> std::io::Result<TlsStream<TcpStream>> {
        let stream = TcpStream::connect(address).await?;
        stream.set_nodelay(true)?;
        self.0.connect(ServerName::try_from(name.to_owned()).unwrap(), stream).await
    }

    /// A channel of gRPC.
    pub async fn channel(&self, address: SocketAddr) -> Channel {
        let endpoint = Endpoint::from_shared(format!("https://{address}")).unwrap();
        endpoint.connect_with_connector(Connector { trust: self.clone(), address }).await.unwrap()
    }
}

#[derive(Debug)]
struct Verifier {
    verifier: Arc<WebPkiServerVerifier>,
    seconds: Option<u64>,
}

impl ServerCertVerifier for Verifier {
    fn verify_server_cert(
        &self,
        end_entity: &CertificateDer<'_>,
        intermediates: &[CertificateDer<'_>],
        server_name: &ServerName<'_>,
        ocsp: &[u8],
        now: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        let at = self.seconds.map_or(now, |seconds| UnixTime::since_unix_epoch(Duration::from_secs(seconds)));
        self.verifier.verify_server_cert(end_entity, intermediates, server_name, ocsp, at)
    }

    fn verify_tls12_signature(
        &self,
        message: &[u8],
        certificate: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        self.verifier.verify_tls12_signature(message, certificate, signed)
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        certificate: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        self.verifier.verify_tls13_signature(message, certificate, signed)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.verifier.supported_verify_schemes()
    }
}

struct Connector {
    trust: Trust,
    address: SocketAddr,
}

impl tower::Service<Uri> for Connector {
    type Response = TokioIo<TlsStream<TcpStream>>;
    type Error = std::io::Error;
    type Future = Pin<Box<dyn Future<Output = std::io::Result<Self::Response>> + Send>>;

    fn poll_ready(&mut self, _context: &mut Context<'_>) -> Poll<std::io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, _uri: Uri) -> Self::Future {
        let (trust, address) = (self.trust.clone(), self.address);
        Box::pin(async move { Ok(TokioIo::new(trust.connect(address, SERVER_NAME).await?)) })
    }
}
