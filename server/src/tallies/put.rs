//! Rows of workshops whose journals are not kept here, put into an owner's folder as they are: drawn years for
//! demonstrations and tests. Never here: a row that is computed.

use super::key::VehicleKey;
use super::row::Written;
use super::{EDITION_SETTING, SITE_NAMES_SETTING, edition};
use crate::clock::SystemEntropy;
use crate::config;
use crate::error::ServerError;
use crate::folder::Folder;
use standpipe_engine::owner::JobRow;
use standpipe_store::Store;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

/// Rows that are put at once.
const PUT_AT_ONCE: usize = 1_000;

/// Puts rows of workshops whose journals are not kept here into an owner's folder while no server runs on it. Their
/// come-backs are joined already. Persons are taken out where they are off.
///
/// * `names` – identity and name of each workshop
///
/// # Errors
/// Whatever is wrong with the folder or its store.
pub async fn put_rows_of_elsewhere(
    dir: &Path,
    names: &[(String, String)],
    mut rows: Vec<JobRow>,
) -> Result<(), ServerError> {
    let folder = Folder::find(dir)?.lock()?;
    let persons = config::persons(dir)?;
    let edition = edition(&VehicleKey::open(dir, &SystemEntropy)?, persons);
    if !persons {
        rows.iter_mut().for_each(|row| row.persons.clear());
    }
    let store = folder.open_journal().await?;
    let put = put(&store, &edition, names, rows).await;
    store.close().await?;
    put
}

async fn put(
    store: &Arc<dyn Store>,
    edition: &str,
    names: &[(String, String)],
    rows: Vec<JobRow>,
) -> Result<(), ServerError> {
    let mut rows = rows.into_iter().peekable();
    while rows.peek().is_some() {
        let some = rows.by_ref().take(PUT_AT_ONCE);
        let kept =
            some.map(|job| Written { job, ..Written::default() }.kept()).collect::<Result<Vec<_>, _>>();
        let kept = kept.map_err(|cause| ServerError::Network { cause: cause.to_string() })?;
        store.put_tally_rows(edition, kept, None).await?;
    }
    let named = store.setting(SITE_NAMES_SETTING).await?.unwrap_or_default();
    let mut named: BTreeMap<String, String> = serde_json::from_str(&named).unwrap_or_default();
    named.extend(names.iter().cloned());
    let named = serde_json::Value::from_iter(named).to_string();
    store.put_setting(SITE_NAMES_SETTING, &named).await?;
    Ok(store.put_setting(EDITION_SETTING, edition).await?)
}
