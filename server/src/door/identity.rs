//! The certificate that a running server shows, which is changed while it runs, and the names it is reached under.
//!
//! Never here: how certificates are made, which is [`crate::authority`]'s.

use crate::authority::Authority;
use crate::authority::names::Names;
use crate::error::ServerError;
use crate::folder::Folder;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError, RwLock};
use tokio_rustls::rustls::server::{ClientHello, ResolvesServerCert};
use tokio_rustls::rustls::sign::CertifiedKey;

/// Who the server is to those who connect.
pub(crate) struct Identity {
    /// Held while a certificate is made, so that nobody makes it twice.
    authority: Mutex<Authority>,
    /// Names that were set.
    further: Vec<String>,
    shown: RwLock<Shown>,
}

#[derive(Clone)]
struct Shown {
    certified: Arc<CertifiedKey>,
    names: Arc<Names>,
}

impl Identity {
    /// Opens the authority of a folder whose lock this program holds and the certificate of its server, and makes what is
    /// missing or due.
    ///
    /// # Errors
    /// When keys or certificates cannot be read, made or kept.
    pub(crate) fn open(folder: &Folder, further: Vec<String>, now_us: i64) -> Result<Self, ServerError> {
        let authority = Authority::open(folder, now_us)?;
        let shown = look(&authority, Names::of_machine(&further), now_us)?;
        Ok(Self { authority: Mutex::new(authority), further, shown: RwLock::new(shown) })
    }

    /// Shows another certificate if the one shown is due, or if the machine got another name or address; says whether
    /// it did. Connections that are open go on.
    ///
    /// # Errors
    /// When it cannot be made or kept; then the one before is shown further.
    pub(crate) fn look_again(&self, now_us: i64) -> Result<bool, ServerError> {
        // Each change under the locks is whole, so a panic elsewhere leaves nothing half done.
        let authority = self.authority.lock().unwrap_or_else(PoisonError::into_inner);
        let names = Names::of_machine_since(&self.further, &self.names());
        let looked = look(&authority, names, now_us)?;
        let mut shown = self.shown.write().unwrap_or_else(PoisonError::into_inner);
        let another = looked.certified.cert != shown.certified.cert;
        *shown = looked;
        Ok(another)
    }

    /// When the certificate that is shown ends, in seconds since 1970.
    pub(crate) fn ends(&self) -> Option<u64> {
        let authority = self.authority.lock().unwrap_or_else(PoisonError::into_inner);
        authority.ends(&self.shown().certified)
    }

    /// Names and addresses under which the server is reached.
    pub(crate) fn names(&self) -> Arc<Names> {
        self.shown().names
    }

    fn shown(&self) -> Shown {
        self.shown.read().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

fn look(authority: &Authority, names: Names, now_us: i64) -> Result<Shown, ServerError> {
    let certified = authority.server_certificate(&names, now_us)?;
    Ok(Shown { certified, names: Arc::new(names) })
}

impl ResolvesServerCert for Identity {
    fn resolve(&self, _hello: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(self.shown().certified)
    }
}

impl fmt::Debug for Identity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Identity(keys not shown)")
    }
}
