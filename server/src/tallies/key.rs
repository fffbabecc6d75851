//! The secret that vehicles are digested with: 32 bytes in a file of the owner's folder that only this user reads, the
//! same for all workshops, so that a vehicle is found again at any of them and nobody can try VINs until one fits.
//!
//! Made when an owner's server opens its folder for the first time. It belongs to whatever copies the folder; with
//! another one every row is computed anew. Never here: a VIN.

use crate::clock::{Entropy, hex, unhex};
use crate::error::ServerError;
use crate::folder::replace;
use sha2::{Digest as _, Sha256};
use std::fs;
use std::io::ErrorKind;
use std::path::Path;

/// Name of the file in the owner's folder.
pub(crate) const VEHICLE_KEY_FILE: &str = "vehicle-key";

/// The secret.
#[derive(Clone)]
pub(crate) struct VehicleKey([u8; 32]);

impl VehicleKey {
    /// Reads it, or makes it where there is none.
    ///
    /// # Errors
    /// When the file cannot be read or written, or is not as this program wrote it.
    pub(crate) fn open(folder: &Path, entropy: &dyn Entropy) -> Result<Self, ServerError> {
        let path = folder.join(VEHICLE_KEY_FILE);
        match fs::read_to_string(&path) {
            Ok(text) => unhex(text.trim()).map(Self).ok_or_else(|| {
                let cause =
                    std::io::Error::new(ErrorKind::InvalidData, "it does not hold 64 hexadecimal digits");
                ServerError::file("reading", &path)(cause)
            }),
            Err(error) if error.kind() == ErrorKind::NotFound => {
                let mut key = [0; 32];
                entropy.fill(&mut key)?;
                replace(&path, format!("{}\n", hex(&key)).as_bytes())?;
                Ok(Self(key))
            }
            Err(error) => Err(ServerError::file("reading", &path)(error)),
        }
    }

    /// The bytes.
    pub(crate) fn bytes(&self) -> &[u8] {
        &self.0
    }

    /// By which rows with another key are told from those with this one; says nothing of the key.
    pub(crate) fn check(&self) -> String {
        let digest = Sha256::new_with_prefix(b"standpipe vehicle key").chain_update(self.0).finalize();
        hex(digest.get(..4).unwrap_or_default())
    }
}
