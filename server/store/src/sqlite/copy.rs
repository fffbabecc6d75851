//! A whole copy of a journal under another name, and a new epoch for a copy that goes on by itself.

use super::SqliteStore;
use super::cause::{failed, failed_on_file, failed_to_open};
use super::open::{connection_options, folder, read_site};
use crate::Store;
use crate::entry::{Epoch, Head};
use crate::error::StoreError;
use crate::journal::Journal;
use crate::verify::identity;
use async_trait::async_trait;
use sqlx::sqlite::SqliteSynchronous;
use sqlx::{ConnectOptions, Connection};
use std::fs::{self, File, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

const DOING: &str = "copying the journal";

#[async_trait]
impl Store for SqliteStore {
    /// What was erased is not in the copy.
    async fn copy_to(&self, path: &Path) -> Result<Head, StoreError> {
        if path.exists() {
            return Err(StoreError::AlreadyExists { path: path.into() });
        }
        let copied = self.write_copy(path).await;
        if copied.is_err() {
            // The error that is reported matters more than a leftover.
            let _ = fs::remove_file(path);
        }
        copied
    }
}

impl SqliteStore {
    async fn write_copy(&self, path: &Path) -> Result<Head, StoreError> {
        // A bound text must be UTF-8; a path need not be.
        let target = path.to_str().ok_or_else(|| StoreError::Disk {
            doing: DOING,
            cause: format!("the name {} is no UTF-8", path.display()),
        })?;
        let connect = connection_options(&self.path, SqliteSynchronous::Full);
        let mut connection = connect.connect().await.map_err(|error| failed_to_open(&self.path, &error))?;
        let copied = sqlx::query("vacuum into ?").bind(target).execute(&mut connection).await;
        connection.close().await.map_err(|error| failed(DOING, &error))?;
        copied.map_err(|error| failed(DOING, &error))?;
        let on_file = |error: std::io::Error| failed_on_file(DOING, path, &error);
        fs::set_permissions(path, Permissions::from_mode(0o600)).map_err(on_file)?;
        // Opening it once puts it into write-ahead mode, in which every journal of ours is kept.
        let connect = connection_options(path, SqliteSynchronous::Full);
        let mut copy = connect.connect().await.map_err(|error| failed_to_open(path, &error))?;
        let head = read_site(&mut copy).await;
        copy.close().await.map_err(|error| failed(DOING, &error))?;
        File::open(path).and_then(|file| file.sync_all()).map_err(on_file)?;
        File::open(folder(path)).and_then(|folder| folder.sync_all()).map_err(on_file)?;
        Ok(head?.0)
    }

    /// Gives a journal that nobody has open a new epoch, so that it cannot be taken for the one it was copied from.
    ///
    /// # Errors
    /// As [`SqliteStore::open`] for a file that is no sound journal, and when the disk refuses.
    pub async fn renew_epoch(path: &Path, epoch: Epoch) -> Result<(), StoreError> {
        let doing = "giving the journal a new epoch";
        Journal::close(&Self::open(path).await?).await?;
        let connect = connection_options(path, SqliteSynchronous::Full);
        let mut connection = connect.connect().await.map_err(|error| failed_to_open(path, &error))?;
        let (head, _) = read_site(&mut connection).await?;
        sqlx::query("update site set epoch = ?, identity_sha256 = ? where only_row = 1")
            .bind(epoch.to_vec())
            .bind(identity(&head.site, epoch).to_vec())
            .execute(&mut connection)
            .await
            .map_err(|error| failed(doing, &error))?;
        connection.close().await.map_err(|error| failed(doing, &error))
    }
}
