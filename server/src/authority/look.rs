//! Looks at keys and certificates as they lie on the disk, without the folder's lock, and at a server that shows them.
//! Never here: a change of any of them.

use super::names::Names;
use super::{
    AUTHORITY, AUTHORITY_KEY, Authority, SERVER, SERVER_KEY, TLS, certified, damaged, provider, read,
};
use crate::error::ServerError;
use standpipe_proto::join::SERVER_NAME;
use std::io;
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::time::timeout;
use tokio_rustls::TlsConnector;
use tokio_rustls::rustls::client::verify_server_name;
use tokio_rustls::rustls::pki_types::ServerName;
use tokio_rustls::rustls::server::ParsedCertificate;
use tokio_rustls::rustls::{ClientConfig, RootCertStore};

/// Longest time for a handshake with the server of this machine.
const HANDSHAKE_WITHIN: Duration = Duration::from_secs(5);

/// What was found.
#[derive(Debug)]
pub(crate) struct Looked {
    /// When the server's certificate ends, in seconds since 1970; nothing if it is not of this authority.
    pub(crate) ends: Option<u64>,
    /// Names and addresses of the machine that the certificate lacks.
    pub(crate) lacking: Vec<String>,
    roots: RootCertStore,
}

/// Looks at the folder of a site.
///
/// # Errors
/// When a file is missing or damaged, or a key fits no certificate.
pub(crate) fn look(folder: &Path, further: &[String]) -> Result<Looked, ServerError> {
    let dir = folder.join(TLS);
    let needed = |name: &str| {
        let path = dir.join(name);
        read(&path)?.ok_or_else(|| damaged(&path, "it is missing"))
    };
    let (pem, key) = (needed(AUTHORITY)?, needed(AUTHORITY_KEY)?);
    certified(&pem, &key).map_err(|error| damaged(&dir.join(AUTHORITY_KEY), error))?;
    let (chain, server_key) = (needed(SERVER)?, needed(SERVER_KEY)?);
    let shown = certified(&chain, &server_key).map_err(|error| damaged(&dir.join(SERVER_KEY), error))?;
    let authority = Authority::of(dir.clone(), pem, &key)?;
    let parsed = shown.end_entity_cert().and_then(ParsedCertificate::try_from);
    let parsed = parsed.map_err(|error| damaged(&dir.join(SERVER), error))?;
    let stands =
        |name: &str| ServerName::try_from(name).is_ok_and(|name| verify_server_name(&parsed, &name).is_ok());
    let names = Names::of_machine(further);
    let lacking = names.iter().filter(|name| !stands(name)).map(str::to_owned).collect();
    Ok(Looked { ends: authority.ends(&shown), lacking, roots: authority.roots })
}

impl Looked {
    /// Connects to a server as a station does, that trusts this authority alone.
    ///
    /// # Errors
    /// Why there was no handshake.
    pub(crate) async fn handshake(&self, address: SocketAddr) -> io::Result<()> {
        let builder = ClientConfig::builder_with_provider(Arc::new(provider()));
        let config = builder
            .with_safe_default_protocol_versions()
            .map_err(io::Error::other)?
            .with_root_certificates(self.roots.clone())
            .with_no_client_auth();
        let name = ServerName::try_from(SERVER_NAME).map_err(io::Error::other)?;
        let connecting = async {
            let stream = TcpStream::connect(address).await?;
            TlsConnector::from(Arc::new(config)).connect(name, stream).await
        };
        timeout(HANDSHAKE_WITHIN, connecting).await.map_err(io::Error::other)?.map(drop)
    }
}
