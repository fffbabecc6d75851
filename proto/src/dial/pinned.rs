//! Whom who connects takes for the right server: whoever shows a certificate of the one authority and has its key.
//!
//! Dates of certificates are not held against the clock of who connects, which may be wrong by years: a certificate that has
//! ended or not begun by it is looked at as of the moment nearest to it that the certificate itself names. What an ended
//! certificate could be used for is to be the shop server for somebody who took its key; against that the workshop gets a
//! new authority, and every station joins anew.

use crate::join::{AUTHORITY_BYTES, authority_digest};
use rustls_pki_types::{CertificateDer, ServerName, UnixTime};
use std::sync::Arc;
use tokio_rustls::rustls::client::WebPkiServerVerifier;
use tokio_rustls::rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use tokio_rustls::rustls::crypto::{CryptoProvider, verify_tls12_signature, verify_tls13_signature};
use tokio_rustls::rustls::{CertificateError, DigitallySignedStruct, Error, RootCertStore, SignatureScheme};

/// A chain names at most so many ends and beginnings before its dates are all inside: leaf and authority.
const DATES_MAX: usize = 4;

/// The one authority.
#[derive(Debug, Clone)]
pub enum Pin {
    /// The one in the server's chain with this digest: what a code to join says.
    Digest([u8; AUTHORITY_BYTES]),
    /// The one that was kept.
    Authority(CertificateDer<'static>),
}

impl Pin {
    /// The authority among the certificates that a server shows; nothing if it is a stranger.
    pub fn authority<'a>(
        &'a self,
        mut shown: impl Iterator<Item = &'a CertificateDer<'static>>,
    ) -> Option<&'a CertificateDer<'static>> {
        match self {
            Self::Authority(authority) => Some(authority),
            Self::Digest(digest) => shown.find(|certificate| authority_digest(certificate) == *digest),
        }
    }
}

/// Looks at what a server shows.
#[derive(Debug)]
pub(super) struct Pinned {
    pin: Pin,
    provider: Arc<CryptoProvider>,
}

impl Pinned {
    pub(super) fn new(pin: Pin, provider: Arc<CryptoProvider>) -> Self {
        Self { pin, provider }
    }

    fn by_authority(&self, authority: &CertificateDer<'_>) -> Result<Arc<WebPkiServerVerifier>, Error> {
        let stranger = || Error::InvalidCertificate(CertificateError::UnknownIssuer);
        let mut roots = RootCertStore::empty();
        roots.add(authority.clone().into_owned()).map_err(|_| stranger())?;
        WebPkiServerVerifier::builder_with_provider(Arc::new(roots), Arc::clone(&self.provider))
            .build()
            .map_err(|_| stranger())
    }
}

impl ServerCertVerifier for Pinned {
    fn verify_server_cert(
        &self,
        end_entity: &CertificateDer<'_>,
        intermediates: &[CertificateDer<'_>],
        server_name: &ServerName<'_>,
        ocsp_response: &[u8],
        now: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        let shown: Vec<_> = std::iter::once(end_entity).chain(intermediates).map(owned).collect();
        let authority = self.pin.authority(shown.iter());
        let authority = authority.ok_or(Error::InvalidCertificate(CertificateError::UnknownIssuer))?;
        let verifier = self.by_authority(authority)?;
        let mut now = now;
        for _ in 0..DATES_MAX {
            let looked =
                verifier.verify_server_cert(end_entity, intermediates, server_name, ocsp_response, now);
            now = match looked {
                Err(Error::InvalidCertificate(CertificateError::ExpiredContext { not_after, .. })) => {
                    not_after
                }
                Err(Error::InvalidCertificate(CertificateError::NotValidYetContext {
                    not_before, ..
                })) => not_before,
                other => return other,
            };
        }
        Err(Error::InvalidCertificate(CertificateError::Expired))
    }

    fn verify_tls12_signature(
        &self,
        message: &[u8],
        certificate: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        verify_tls12_signature(message, certificate, signed, &self.provider.signature_verification_algorithms)
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        certificate: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        verify_tls13_signature(message, certificate, signed, &self.provider.signature_verification_algorithms)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.provider.signature_verification_algorithms.supported_schemes()
    }
}

fn owned(certificate: &CertificateDer<'_>) -> CertificateDer<'static> {
    certificate.clone().into_owned()
}
