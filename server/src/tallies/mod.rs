//! Rows of jobs of all workshops at an owner's server, and what is asked of them.
//!
//! [`worker`] computes rows from the journals that are kept here as they grow, [`made`] makes one, [`row`] says what the
//! store keeps of it, [`key`] holds the secret that vehicles are digested with, [`gathered`] reads sums and rows of a
//! period, [`period`] reads which, [`edition`] goes from one edition of rows to the next. Rows lie in the owner's own store; all of them can be computed again. Never here: a
//! formula, SQL, a customer, or – unless the owner switched it on – a person.

mod edition;
pub(crate) mod gathered;
mod key;
mod made;
mod period;
mod put;
mod row;
#[cfg(test)]
pub(crate) mod tests;
mod worker;

pub(crate) use gathered::{Gathered, name_of};
pub(crate) use key::VEHICLE_KEY_FILE;
pub(crate) use period::Period;
pub use put::put_rows_of_elsewhere;
pub(crate) use row::Written;
pub(crate) use worker::keep;

use crate::clock::Entropy;
use crate::config;
use crate::error::ServerError;
use crate::forwarding::Sites;
use key::VehicleKey;
use standpipe_proto::limits::OWNER_ROWS_MAX;
use standpipe_store::Store;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, RwLock};

/// Edition of the rows; raised whenever rows of the same version of the program are computed otherwise.
const ROW_EDITION: u32 = 3;
/// Setting of the owner's store: the edition that is shown.
const EDITION_SETTING: &str = "tally_edition";
/// Setting of the owner's store: names of workshops whose journals are not kept here, by identity, as JSON.
const SITE_NAMES_SETTING: &str = "tally_site_names";

/// Rows of all workshops.
pub(crate) struct Tallies {
    pub(crate) sites: Arc<Sites>,
    key: VehicleKey,
    persons: bool,
    /// The edition that this program computes.
    edition: String,
    /// The edition that is shown; another one while the own is computed beside it.
    shown: RwLock<String>,
    /// Most rows that are read for what is named by job.
    rows_most: usize,
    looked: Mutex<BTreeMap<String, Looked>>,
}

/// What the last look at a workshop's journal found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Looked {
    /// Last entry that the rows rest on.
    pub(crate) seq: u64,
    /// When that was received there, microseconds since 1970; 0 without entries.
    pub(crate) received_us: i64,
    /// Adopted revisions whose files are not here.
    pub(crate) missing: Vec<String>,
    /// Whether all rows were put.
    pub(crate) whole: bool,
}

impl Looked {
    /// Whether another look at a journal that reaches so far would find nothing new.
    fn is_up_to_date(&self, kept: u64) -> bool {
        self.whole && self.missing.is_empty() && self.seq == kept
    }
}

impl Tallies {
    /// Those of an owner's server.
    ///
    /// # Errors
    /// When settings, secret or store cannot be read.
    pub(crate) async fn of(
        folder: &Path,
        sites: Arc<Sites>,
        entropy: &dyn Entropy,
    ) -> Result<Arc<Self>, ServerError> {
        let (key, persons) = (VehicleKey::open(folder, entropy)?, config::persons(folder)?);
        let edition = edition(&key, persons);
        let own = sites.own();
        // What was computed earlier stays until the own edition has the rows of every workshop.
        let shown = own.setting(EDITION_SETTING).await?.unwrap_or_else(|| edition.clone());
        let (shown, looked) = (RwLock::new(shown), Mutex::default());
        Ok(Arc::new(Self { sites, key, persons, edition, shown, rows_most: OWNER_ROWS_MAX, looked }))
    }

    /// The owner's own store.
    fn own(&self) -> &Arc<dyn Store> {
        self.sites.own()
    }

    /// The edition that is shown.
    pub(crate) fn shown(&self) -> String {
        self.shown.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn show(&self, edition: &str) {
        edition.clone_into(&mut self.shown.write().unwrap_or_else(PoisonError::into_inner));
    }

    /// What the last look at each workshop's journal found.
    pub(crate) fn looked(&self) -> BTreeMap<String, Looked> {
        self.lock().clone()
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<String, Looked>> {
        self.looked.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Names of workshops by identity: those whose journals are kept here, and those of whom there are rows alone.
    ///
    /// # Errors
    /// When the setting cannot be read.
    pub(crate) async fn names(&self) -> Result<Vec<(String, String)>, ServerError> {
        let text = self.own().setting(SITE_NAMES_SETTING).await?.unwrap_or_default();
        // What is no map of names names nobody; identities stand in their place.
        let mut names: BTreeMap<String, String> = serde_json::from_str(&text).unwrap_or_default();
        names.extend(self.sites.all().into_iter().map(|site| (site.id, site.name)));
        Ok(told_apart(names))
    }
}

/// Names of workshops; two of one name have their identities behind it.
fn told_apart(names: BTreeMap<String, String>) -> Vec<(String, String)> {
    let mut of_name: BTreeMap<String, usize> = BTreeMap::new();
    names.values().for_each(|name| *of_name.entry(name.clone()).or_default() += 1);
    let one = |(site, name): (String, String)| match of_name.get(&name) {
        Some(2..) if !name.is_empty() => {
            let name = format!("{name} ({site})");
            (site, name)
        }
        _ => (site, name),
    };
    names.into_iter().map(one).collect()
}

/// Edition of rows: program, sort of rows, whether persons are in them, by which secret vehicles are found again.
fn edition(key: &VehicleKey, persons: bool) -> String {
    let persons = if persons { "persons" } else { "no persons" };
    format!("{} rows {ROW_EDITION}, {persons}, vehicles {}", crate::VERSION, key.check())
}

fn program_of(edition: &str) -> &str {
    edition.split(',').next().unwrap_or_default()
}

#[cfg(test)]
mod names {
    use super::told_apart;

    #[test]
    fn two_workshops_of_one_name_are_told_apart_by_their_identities() {
        let names = [("a", "workshop"), ("b", "Mill Street"), ("c", "workshop"), ("d", ""), ("e", "")];
        let told = told_apart(names.map(|(site, name)| (site.to_owned(), name.to_owned())).into());
        let told: Vec<_> = told.iter().map(|(_, name)| name.as_str()).collect();
        assert_eq!(told, ["workshop (a)", "Mill Street", "workshop (c)", "", ""]);
    }
}
