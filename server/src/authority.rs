//! The site's own authority and the certificate that its server shows.
//!
//! ```text
//! DIR/tls/authority.pem       what stations keep and trust alone; lives 20 years
//! DIR/tls/authority-key.pem   signs the server's certificates
//! DIR/tls/server.pem          lives 90 days, made anew in the last 30 or when the server got another name or address
//! DIR/tls/server-key.pem
//! ```
//!
//! Both are made by whoever opens the folder under its lock. A key is never made anew, since every station trusts the
//! authority it met; a certificate that is missing is taken back from the chain in server.pem. Never here: connections, which are [`crate::door`]'s.

pub(crate) mod look;
pub(crate) mod names;

use crate::error::ServerError;
use crate::folder::{Folder, replace};
use names::Names;
use rcgen::{
    BasicConstraints, CertificateParams, DistinguishedName, DnType, ExtendedKeyUsagePurpose, IsCa, Issuer,
    KeyPair, KeyUsagePurpose, date_time_ymd,
};
use sha2::{Digest as _, Sha256};
use standpipe_proto::join::{AUTHORITY_BYTES, authority_digest};
use std::fmt::Display;
use std::fs::{self, DirBuilder};
use std::io::ErrorKind;
use std::os::unix::fs::DirBuilderExt as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio_rustls::rustls::client::{verify_server_cert_signed_by_trust_anchor, verify_server_name};
use tokio_rustls::rustls::crypto::{CryptoProvider, ring};
use tokio_rustls::rustls::pki_types::pem::PemObject as _;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer, ServerName, UnixTime};
use tokio_rustls::rustls::server::ParsedCertificate;
use tokio_rustls::rustls::sign::CertifiedKey;
use tokio_rustls::rustls::{CertificateError, Error as TlsError, RootCertStore};

/// Name of the folder with keys and certificates.
pub(crate) const TLS: &str = "tls";
const AUTHORITY: &str = "authority.pem";
const AUTHORITY_KEY: &str = "authority-key.pem";
const SERVER: &str = "server.pem";
const SERVER_KEY: &str = "server-key.pem";
const CERTIFICATE_BEGINS: &str = "-----BEGIN CERTIFICATE-----";

const DAY: Duration = Duration::from_secs(86_400);
const AUTHORITY_DAYS: u32 = 20 * 365 + 5;
const SERVER_DAYS: u32 = 90;
/// With so many days left a certificate is made anew.
pub(crate) const RENEWED_BEFORE_END_DAYS: u32 = 30;
/// Certificates begin this long before they are made: clocks of a workshop differ.
const BEGINS_BEFORE: Duration = DAY;

/// What signs the certificates of a site's server.
pub(crate) struct Authority {
    dir: PathBuf,
    pem: String,
    issuer: Issuer<'static, KeyPair>,
    roots: RootCertStore,
}

impl Authority {
    /// Opens the authority of a folder whose lock this program holds, or makes one where there is none.
    ///
    /// # Errors
    /// When one of its two files is missing or damaged, or the disk refuses.
    pub(crate) fn open(folder: &Folder, now_us: i64) -> Result<Self, ServerError> {
        let dir = folder.path().join(TLS);
        let (path, key_path) = (dir.join(AUTHORITY), dir.join(AUTHORITY_KEY));
        match (read(&path)?, read(&key_path)?) {
            (Some(pem), Some(key)) => Self::of(dir, pem, &key),
            (Some(_), None) => Err(damaged(&key_path, "it is missing")),
            (None, key) => match (read(&dir.join(SERVER))?, key) {
                (Some(chain), Some(key)) => Self::take_back(dir, &chain, &key),
                (Some(_), None) => Err(damaged(&path, "it and its key are missing")),
                // The key is written first, so one that stands alone was never used; it is used now.
                (None, Some(key)) => {
                    let pair = KeyPair::from_pem(&key).map_err(|error| damaged(&key_path, error))?;
                    Self::make(dir, pair, now_us)
                }
                (None, None) => Self::found(dir, now_us),
            },
        }
    }

    /// Makes the first key of a folder, and its certificate.
    fn found(dir: PathBuf, now_us: i64) -> Result<Self, ServerError> {
        DirBuilder::new()
            .mode(0o700)
            .recursive(true)
            .create(&dir)
            .map_err(ServerError::file("creating", &dir))?;
        let failed = failed(&dir);
        let key = KeyPair::generate().map_err(&failed)?;
        replace(&dir.join(AUTHORITY_KEY), key.serialize_pem().as_bytes())?;
        Self::make(dir, key, now_us)
    }

    fn make(dir: PathBuf, key: KeyPair, now_us: i64) -> Result<Self, ServerError> {
        let mut params = authority_of(&key);
        set_days(&mut params, now_us, AUTHORITY_DAYS);
        let pem = params.self_signed(&key).map_err(failed(&dir))?.pem();
        replace(&dir.join(AUTHORITY), pem.as_bytes())?;
        Self::of(dir, pem, &key.serialize_pem())
    }

    /// Takes the certificate from the end of the chain that the server shows, if it is the one of the key.
    fn take_back(dir: PathBuf, chain: &str, key: &str) -> Result<Self, ServerError> {
        let path = dir.join(AUTHORITY);
        let last = chain.rfind(CERTIFICATE_BEGINS).and_then(|start| chain.get(start..));
        let pem = last.filter(|pem| certified(pem, key).is_ok());
        let pem =
            pem.ok_or_else(|| damaged(&path, "it is missing, and server.pem has none that fits the key"))?;
        replace(&path, pem.as_bytes())?;
        tracing::warn!(file = %path.display(), "the authority was missing and is taken back from server.pem");
        Self::of(dir, pem.to_owned(), key)
    }

    fn of(dir: PathBuf, pem: String, key: &str) -> Result<Self, ServerError> {
        let path = dir.join(AUTHORITY);
        let key = KeyPair::from_pem(key).map_err(|error| damaged(&dir.join(AUTHORITY_KEY), error))?;
        let certificate =
            CertificateDer::from_pem_slice(pem.as_bytes()).map_err(|error| damaged(&path, error))?;
        let mut roots = RootCertStore::empty();
        roots.add(certificate).map_err(|error| damaged(&path, error))?;
        let issuer = Issuer::new(authority_of(&key), key);
        Ok(Self { dir, pem, issuer, roots })
    }

    /// The certificate as stations keep it.
    #[cfg(test)]
    pub(crate) fn pem(&self) -> &str {
        &self.pem
    }

    /// The certificate to show under these names: the one in the folder while it is good, else a new one.
    ///
    /// # Errors
    /// When it cannot be made or kept.
    pub(crate) fn server_certificate(
        &self,
        names: &Names,
        now_us: i64,
    ) -> Result<Arc<CertifiedKey>, ServerError> {
        match self.kept(names, now_us)? {
            Some(kept) => Ok(kept),
            None => self.issue(names, now_us),
        }
    }

    /// The certificate of the folder, unless it is due or does not fit.
    fn kept(&self, names: &Names, now_us: i64) -> Result<Option<Arc<CertifiedKey>>, ServerError> {
        let (chain, key) = (read(&self.dir.join(SERVER))?, read(&self.dir.join(SERVER_KEY))?);
        let (Some(chain), Some(key)) = (chain, key) else { return Ok(None) };
        let certified = certified(&chain, &key).ok();
        Ok(certified.filter(|certified| self.is_good(certified, names, now_us)).map(Arc::new))
    }

    /// Whether a station would take a certificate under each of the names, now and until it is due.
    fn is_good(&self, certified: &CertifiedKey, names: &Names, now_us: i64) -> bool {
        let Ok(parsed) = certified.end_entity_cert().and_then(ParsedCertificate::try_from) else {
            return false;
        };
        let holds = |at| self.verified(&parsed, at).is_ok();
        let now = since_epoch(now_us);
        holds(now)
            && holds(now + DAY * RENEWED_BEFORE_END_DAYS)
            && names.iter().all(|name| {
                ServerName::try_from(name).is_ok_and(|name| verify_server_name(&parsed, &name).is_ok())
            })
    }

    fn verified(&self, parsed: &ParsedCertificate<'_>, at: Duration) -> Result<(), TlsError> {
        let algorithms = ring::default_provider().signature_verification_algorithms.all;
        let at = UnixTime::since_unix_epoch(at);
        verify_server_cert_signed_by_trust_anchor(parsed, &self.roots, &[], at, algorithms)
    }

    /// When a certificate of this authority ends, in seconds since 1970.
    pub(crate) fn ends(&self, certified: &CertifiedKey) -> Option<u64> {
        let parsed = certified.end_entity_cert().and_then(ParsedCertificate::try_from).ok()?;
        // A time after every end makes the check name the end.
        let after_all = DAY * u32::MAX;
        match self.verified(&parsed, after_all) {
            Err(TlsError::InvalidCertificate(CertificateError::ExpiredContext { not_after, .. })) => {
                Some(not_after.as_secs())
            }
            _ => None,
        }
    }

    fn issue(&self, names: &Names, now_us: i64) -> Result<Arc<CertifiedKey>, ServerError> {
        let failed = failed(&self.dir);
        let key = KeyPair::generate().map_err(&failed)?;
        let mut params =
            CertificateParams::new(names.iter().map(str::to_owned).collect::<Vec<_>>()).map_err(&failed)?;
        params.distinguished_name = DistinguishedName::new();
        params.distinguished_name.push(DnType::CommonName, "standpipe shop server");
        set_days(&mut params, now_us, SERVER_DAYS);
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        params.use_authority_key_identifier_extension = true;
        let signed = params.signed_by(&key, &self.issuer).map_err(&failed)?;
        let (chain, key) = (format!("{}{}", signed.pem(), self.pem), key.serialize_pem());
        replace(&self.dir.join(SERVER_KEY), key.as_bytes())?;
        replace(&self.dir.join(SERVER), chain.as_bytes())?;
        let certified = certified(&chain, &key).map_err(|error| damaged(&self.dir.join(SERVER), error))?;
        Ok(Arc::new(certified))
    }
}

/// First 80 bits of the SHA-256 of a folder's authority, for whom holds no lock.
///
/// # Errors
/// When it is missing or damaged.
pub(crate) fn digest_of(folder: &Path) -> Result<[u8; AUTHORITY_BYTES], ServerError> {
    Ok(authority_digest(&certificate_of(folder)?.1))
}

/// The certificate of a folder's authority, as text and in DER form, for whom holds no lock.
///
/// # Errors
/// When it is missing or damaged.
pub(crate) fn certificate_of(folder: &Path) -> Result<(String, CertificateDer<'static>), ServerError> {
    let path = folder.join(TLS).join(AUTHORITY);
    let pem = read(&path)?.ok_or_else(|| damaged(&path, "it is missing"))?;
    let certificate =
        CertificateDer::from_pem_slice(pem.as_bytes()).map_err(|error| damaged(&path, error))?;
    Ok((pem, certificate))
}

/// Copies keys and certificates of a folder into its copy.
///
/// # Errors
/// When the disk refuses.
pub(crate) fn copy(from: &Path, to: &Path) -> Result<(), ServerError> {
    let (from, to) = (from.join(TLS), to.join(TLS));
    for name in [AUTHORITY_KEY, AUTHORITY, SERVER_KEY, SERVER] {
        let Some(content) = read(&from.join(name))? else { continue };
        DirBuilder::new()
            .mode(0o700)
            .recursive(true)
            .create(&to)
            .map_err(ServerError::file("creating", &to))?;
        replace(&to.join(name), content.as_bytes())?;
    }
    Ok(())
}

/// The parameters of an authority with a key, without its days. Its name follows from the key, so that it need not be
/// read out of the certificate again, and authorities of several sites in one browser can be told apart.
fn authority_of(key: &KeyPair) -> CertificateParams {
    let digest = Sha256::digest(key.public_key_raw());
    let tag: String = digest.iter().take(4).map(|byte| format!("{byte:02x}")).collect();
    let mut params = CertificateParams::default();
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, format!("standpipe authority {tag}"));
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    params
}

fn certified(chain: &str, key: &str) -> Result<CertifiedKey, TlsError> {
    let general = |error: tokio_rustls::rustls::pki_types::pem::Error| TlsError::General(error.to_string());
    let chain = CertificateDer::pem_slice_iter(chain.as_bytes()).collect::<Result<Vec<_>, _>>();
    let key = PrivateKeyDer::from_pem_slice(key.as_bytes()).map_err(general)?;
    CertifiedKey::from_der(chain.map_err(general)?, key, &provider())
}

/// What computes signatures and keys.
pub(crate) fn provider() -> CryptoProvider {
    ring::default_provider()
}

/// What a file says; nothing if it is not there.
fn read(path: &Path) -> Result<Option<String>, ServerError> {
    match fs::read_to_string(path) {
        Ok(text) => Ok(Some(text)),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
        Err(error) => Err(ServerError::file("reading", path)(error)),
    }
}

fn damaged(path: &Path, what: impl Display) -> ServerError {
    ServerError::Keys { path: path.to_owned(), what: what.to_string() }
}

fn failed(dir: &Path) -> impl Fn(rcgen::Error) -> ServerError + use<> {
    let path = dir.to_owned();
    move |error| ServerError::Keys { path: path.clone(), what: format!("none can be made: {error}") }
}

fn since_epoch(now_us: i64) -> Duration {
    Duration::from_micros(u64::try_from(now_us).unwrap_or_default())
}

/// Sets a certificate's days, to the second as they are written.
fn set_days(params: &mut CertificateParams, now_us: i64, days: u32) {
    let at = |since: Duration| date_time_ymd(1970, 1, 1) + Duration::from_secs(since.as_secs());
    params.not_before = at(since_epoch(now_us).saturating_sub(BEGINS_BEFORE));
    params.not_after = at(since_epoch(now_us) + DAY * days);
}

#[cfg(test)]
mod tests;
