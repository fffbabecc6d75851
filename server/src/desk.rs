//! What is done at the shop server itself: creating a site, enrolling stations, listing persons, importing a
//! catalogue, erasing. What is a fact is stated in the journal first and takes effect after it.
//!
//! Called by [`crate::order`], by the demonstration and by tests; within a running server by issuing records as well.

mod joining;

use crate::access::Role;
use crate::audit::{Audit, Deed, Event};
use crate::authority::names::reached_at;
use crate::authority::{self, Authority};
use crate::blob::{self, Blobs};
use crate::catalogue::{self, Adopted, Adoption, Catalogue};
use crate::clock::{Clock, Entropy, SystemClock, SystemEntropy, sixteen};
use crate::config::{self, Mode};
use crate::door::Identity;
use crate::error::ServerError;
use crate::folder::{Building, Folder, LockedFolder, Reached, SETTINGS_FILE, replace};
use crate::forwarding::{Joiner, offered};
use crate::number;
use crate::own_station::{About, OWN_STATION, OwnStation};
use crate::server::DEFAULT_TOKEN_DAYS;
use crate::token::Token;
use prost::Message as _;
use standpipe_engine::catalogue::Revision;
use standpipe_proto::check::{Violation, violations};
use standpipe_proto::join::AUTHORITY_BYTES;
use standpipe_proto::v1::{CatalogueAdopted, Entry, PersonListed, RecordIssued, fact::Kind};
use standpipe_store::{
    AuditLine, Beside, JobId, Journal, PAGE_ROWS_MAX, Person, SqliteStore, Store, StoreError,
};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;

pub use joining::{Invited, StationKept};
pub(crate) use joining::{is_open, latest};

/// Name of the first station, which may do everything.
pub const FIRST_STATION: &str = "admin";
pub(crate) const SITE_NAME_SETTING: &str = "site_name";
/// Most characters of a site's or a person's name.
const NAME_LENGTH_MAX: usize = 80;

/// A new site.
pub struct InitOptions {
    /// Identity of the site: 1 to 40 small letters, digits and `. _ -`. Never changes.
    pub site_id: String,
    /// Name of the site, at most 80 characters.
    pub site_name: String,
    /// What says what time it is.
    pub clock: Arc<dyn Clock>,
    /// What gives random bits.
    pub entropy: Arc<dyn Entropy>,
}

/// A station that was enrolled just now.
#[derive(Debug, Clone)]
pub struct Enrolled {
    /// Its identity, which is the name it was given.
    pub station_id: String,
    /// Its token; this is the only time that it can be read.
    pub token: Token,
    /// When the token ends unless it is renewed, in microseconds since 1970, UTC.
    pub ends_us: i64,
}

/// What an erasure of a customer did, and what it did not do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ErasedCustomer {
    /// Printed number of the job.
    pub job: String,
    /// Other jobs that still carry the same name.
    pub other_jobs: u64,
}

/// What an import did.
#[derive(Debug, Clone)]
pub struct Imported {
    /// The revision's identity, 64 hexadecimal digits.
    pub revision_id: String,
    /// True when it was the current revision already and nothing was changed.
    pub already_current: bool,
    /// What is worth a look though it is no mistake, a sentence each.
    pub remarks: Vec<String>,
    /// What is left out and what that means, a sentence each.
    pub left_out: Vec<String>,
}

/// The open folder of a site: of one of which no server runs, or within the running server.
pub struct Desk {
    folder: Folder,
    /// None within a running server, which holds the lock itself.
    lock: Option<LockedFolder>,
    /// Where the running server listens.
    address: Option<SocketAddr>,
    store: Arc<dyn Store>,
    /// Those of the running server itself, which keep a file that arrives and its erasure apart.
    blobs: Arc<Blobs>,
    station: OwnStation,
    /// Who was let in and who was turned away; that of the running server itself.
    audit: Arc<Audit>,
    clock: Arc<dyn Clock>,
    entropy: Arc<dyn Entropy>,
    /// Days that a token is good when nobody says otherwise.
    token_days: u32,
}

/// Creates the folder of a new site and enrols its first station, named `admin`.
///
/// The folder appears under its name only when it is complete. An empty folder that is there already is taken.
///
/// # Errors
/// [`ServerError::FolderTaken`] when something is there; [`ServerError::OutsideBounds`] for a wrong identity or
/// name; otherwise when the disk refuses.
pub async fn init(dir: &Path, options: InitOptions) -> Result<Enrolled, ServerError> {
    init_as(dir, options, Mode::Workshop).await
}

/// The same for a server that is said to be a workshop's or an owner's; the latter stands in the settings.
///
/// # Errors
/// As [`init`].
pub async fn init_as(dir: &Path, options: InitOptions, mode: Mode) -> Result<Enrolled, ServerError> {
    check_site(&options.site_id, &options.site_name)?;
    let (building, folder) = Building::begin(dir)?;
    if mode != Mode::default() {
        let line = format!("mode = \"{}\"\n", mode.name());
        replace(&folder.path().join(SETTINGS_FILE), line.as_bytes())?;
    }
    let enrolled = found(folder, options).await?;
    building.finish()?;
    Ok(enrolled)
}

async fn found(folder: LockedFolder, options: InitOptions) -> Result<Enrolled, ServerError> {
    let InitOptions { site_id, site_name, clock, entropy } = options;
    let store = SqliteStore::create(&folder.journal(), &site_id, sixteen(&*entropy)?).await?;
    store.put_setting(SITE_NAME_SETTING, &site_name).await?;
    OwnStation::create(&store, &*entropy).await?;
    folder.remember(&Reached::from(&store.head().await?))?;
    let station = OwnStation::open(&store, &store, &*clock, &*entropy).await?;
    // The server shows this certificate at its first start, unless it is told further names.
    Identity::open(&folder, Vec::new(), clock.now_us())?;
    let mut desk = Desk::holding(folder, Arc::new(store), station, clock, entropy);
    let enrolled = desk.add_station(FIRST_STATION, Role::Admin).await?;
    desk.close().await?;
    Ok(enrolled)
}

/// Holds identity and name of a site against their bounds.
pub(crate) fn check_site(site_id: &str, site_name: &str) -> Result<(), ServerError> {
    use standpipe_proto::v1::{Header, header::Subject};
    let header = Header { subject: Some(Subject::SiteId(site_id.to_owned())), ..Header::default() };
    let mut found: Vec<Violation> =
        violations(&header).into_iter().filter(|violation| violation.field == "site_id").collect();
    found.extend(name_violation("name", site_name, 1));
    if found.is_empty() {
        Adopted::none(site_id, site_name)?;
    }
    if found.is_empty() { Ok(()) } else { Err(ServerError::OutsideBounds(found)) }
}

fn name_violation(field: &str, name: &str, least: usize) -> Option<Violation> {
    let length = name.chars().count();
    let what = if !(least..=NAME_LENGTH_MAX).contains(&length) {
        format!("has {length} characters; {least} to {NAME_LENGTH_MAX} are allowed")
    } else if name.chars().any(char::is_control) {
        "holds a control character; write it as plain text".to_owned()
    } else {
        return None;
    };
    Some(Violation { field: field.to_owned(), what })
}

impl Desk {
    /// Opens the folder of a site on the machine's clock.
    ///
    /// # Errors
    /// [`ServerError::ServerRuns`] when a server runs; otherwise whatever is wrong with the folder.
    pub async fn open(dir: &Path) -> Result<Self, ServerError> {
        Self::open_with(dir, Arc::new(SystemClock), Arc::new(SystemEntropy)).await
    }

    /// The same with a clock and a source of randomness.
    ///
    /// # Errors
    /// See [`Desk::open`].
    pub async fn open_with(
        dir: &Path,
        clock: Arc<dyn Clock>,
        entropy: Arc<dyn Entropy>,
    ) -> Result<Self, ServerError> {
        let folder = Folder::find(dir)?;
        folder.require_own()?;
        let lock = folder.lock()?;
        // A folder of an earlier version has none yet.
        Authority::open(&lock, clock.now_us())?;
        let store = lock.open_journal().await?;
        match OwnStation::open(&*store, &*store, &*clock, &*entropy).await {
            Ok(station) => Ok(Self::holding(lock, store, station, clock, entropy)),
            Err(error) => {
                store.close().await?;
                Err(error)
            }
        }
    }

    fn holding(
        lock: LockedFolder,
        store: Arc<dyn Store>,
        station: OwnStation,
        clock: Arc<dyn Clock>,
        entropy: Arc<dyn Entropy>,
    ) -> Self {
        let (folder, blobs) = (Folder::clone(&lock), Arc::new(Blobs::of(&lock)));
        let audit = Arc::new(Audit::of(Arc::clone(&store) as _, Arc::clone(&clock)));
        let (lock, token_days) = (Some(lock), DEFAULT_TOKEN_DAYS);
        Self { folder, lock, address: None, store, blobs, station, audit, clock, entropy, token_days }
    }

    /// The desk within a running server, which holds the lock and lets the folder go itself.
    pub(crate) async fn within_server(
        folder: Folder,
        store: Arc<dyn Store>,
        blobs: Arc<Blobs>,
        audit: Arc<Audit>,
        clock: Arc<dyn Clock>,
        entropy: Arc<dyn Entropy>,
    ) -> Result<Self, ServerError> {
        let station = OwnStation::open(&*store, &*store, &*clock, &*entropy).await?;
        let (lock, address, token_days) = (None, None, DEFAULT_TOKEN_DAYS);
        Ok(Self { folder, lock, address, store, blobs, station, audit, clock, entropy, token_days })
    }

    /// The desk over a copy of another server's journal, at which nothing is stated.
    pub(crate) async fn over_copy(
        folder: Folder,
        store: Arc<dyn Store>,
        blobs: Arc<Blobs>,
        audit: Arc<Audit>,
        clock: Arc<dyn Clock>,
        entropy: Arc<dyn Entropy>,
    ) -> Result<Self, ServerError> {
        let station = OwnStation::silent(store.head().await?.site);
        let (lock, address, token_days) = (None, None, DEFAULT_TOKEN_DAYS);
        Ok(Self { folder, lock, address, store, blobs, station, audit, clock, entropy, token_days })
    }

    /// The same, which knows where its server listens.
    pub(crate) fn listening_on(self, address: SocketAddr) -> Self {
        Self { address: Some(address), ..self }
    }

    /// Where the running server listens.
    pub(crate) fn running_on(&self) -> Option<SocketAddr> {
        self.address
    }

    /// Where stations reach the server, as `host:port`, the likeliest first: of the running server, else as it is set.
    ///
    /// # Errors
    /// When the settings cannot be read.
    pub fn hosts(&self) -> Result<Vec<String>, ServerError> {
        let listen = match self.address {
            Some(address) => address,
            None => config::read(self.folder.path(), config::Flags::default())?.listen,
        };
        Ok(reached_at(listen).iter().map(ToString::to_string).collect())
    }

    /// First 80 bits of the SHA-256 of the site's authority, which a code to join carries.
    ///
    /// # Errors
    /// When the authority is missing or damaged.
    pub fn authority_digest(&self) -> Result<[u8; AUTHORITY_BYTES], ServerError> {
        authority::digest_of(self.folder.path())
    }

    /// The same, whose tokens are good for so many days when nobody says otherwise.
    #[must_use]
    pub fn with_token_days(self, token_days: u32) -> Self {
        Self { token_days, ..self }
    }

    /// Lists a person code, or changes the name of a listed one. The name stands beside the journal; that the code was
    /// listed, or given another name, is stated.
    ///
    /// # Errors
    /// When code or name is outside its bounds.
    pub async fn add_person(&mut self, code: &str, name: Option<&str>) -> Result<(), ServerError> {
        let name = name.unwrap_or_default();
        if let Some(violation) = name_violation("name", name, 0) {
            return Err(ServerError::OutsideBounds(vec![violation]));
        }
        let before = self.persons().await?.into_iter().find(|person| person.code == code);
        // Under another name it may be another person, who answers for nothing that the code stated before.
        if before.is_none_or(|before| before.name.as_deref() != Some(name)) {
            let listed = PersonListed { listed_person_code: code.to_owned(), removed: false };
            self.state(Kind::PersonListed(listed)).await?;
        }
        Ok(self.store.put_person(code, name, self.clock.now_us()).await?)
    }

    /// Takes a person code off the list and erases the name. Entries that carry the code stay.
    ///
    /// # Errors
    /// When the code is not listed.
    pub async fn remove_person(&mut self, code: &str) -> Result<(), ServerError> {
        if !self.persons().await?.iter().any(|person| person.code == code) {
            return Err(StoreError::PersonUnknown { code: code.to_owned() }.into());
        }
        let removed = PersonListed { listed_person_code: code.to_owned(), removed: true };
        self.state(Kind::PersonListed(removed)).await?;
        Ok(self.store.erase_person(code, self.clock.now_us()).await?)
    }

    /// Place in the journal at which a person code was listed last, or given another name; 0 if it never was.
    pub(crate) async fn listed_at(&self, code: &str) -> Result<u64, ServerError> {
        let (mut listed_at, mut from_seq) = (0, 1);
        loop {
            let page = self.store.read_site(from_seq, PAGE_ROWS_MAX).await?;
            let Some(last) = page.last() else { return Ok(listed_at) };
            from_seq = last.seq + 1;
            for stored in &page {
                // An entry that cannot be decoded is named by verify; it lists nobody.
                let kind = Entry::decode(&*stored.bytes).ok().and_then(|entry| entry.fact?.kind);
                if let Some(Kind::PersonListed(listed)) = kind
                    && listed.listed_person_code == code
                    && !listed.removed
                {
                    listed_at = stored.seq;
                }
            }
        }
    }

    /// Keeps what a listed person's PIN is compared with, as [`crate::kept_pin`] makes it.
    ///
    /// # Errors
    /// When the code is not listed.
    pub async fn set_pin(&mut self, code: &str, kept: &str) -> Result<(), ServerError> {
        Ok(self.store.put_person_pin(code, kept, self.clock.now_us()).await?)
    }

    /// The listed persons by code.
    ///
    /// # Errors
    /// When they cannot be read.
    pub async fn persons(&self) -> Result<Vec<Person>, ServerError> {
        let persons = self.store.persons().await?;
        Ok(persons.into_iter().filter(|person| person.erased_us.is_none()).collect())
    }

    /// Reads the TOML files of a folder as a catalogue, keeps them as a revision and makes it the current one.
    ///
    /// # Errors
    /// [`ServerError::Catalogue`] with every mistake of every file; nothing is kept then.
    pub async fn import_catalogue(&mut self, from: &Path) -> Result<Imported, ServerError> {
        let (files, revision) = catalogue::read_folder(from)?;
        self.adopt(&files, &revision, OWN_STATION).await
    }

    /// Keeps files that were read as a revision and makes it the current one, in the name of a person.
    pub(crate) async fn adopt(
        &mut self,
        files: &catalogue::Files,
        revision: &Revision,
        person_code: &str,
    ) -> Result<Imported, ServerError> {
        let revision_id = revision.id().to_string();
        let remarks = standpipe_engine::catalogue::remarks(revision);
        let left_out = remarks.left_out.iter().map(ToString::to_string).collect();
        let remarks = remarks.of_identity();
        catalogue::keep(&self.folder, &revision_id, files)?;
        let already_current =
            self.adoptions().await?.last().is_some_and(|last| last.revision_id == revision_id);
        if !already_current {
            let adopted = CatalogueAdopted { revision_id: revision_id.clone() };
            let kind = Kind::CatalogueAdopted(adopted);
            self.station.state(person_code, kind, &*self.store, &*self.clock, &*self.entropy).await?;
        }
        Ok(Imported { revision_id, already_current, remarks, left_out })
    }

    /// Offers a catalogue to the workshops whose journals this server keeps, or takes the offer back; says which revision it
    /// is and whether that was so already. It is given as a folder, or as a revision that is kept here by its digits.
    ///
    /// # Errors
    /// As [`Desk::import_catalogue`]; [`ServerError::RevisionNotFound`] where the digits name none or several.
    pub async fn offer_catalogue(&mut self, what: &Path, offer: bool) -> Result<(String, bool), ServerError> {
        let digits = what.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        let revision_id = if what.is_dir() {
            let (files, revision) = catalogue::read_folder(what)?;
            let revision_id = revision.id().to_string();
            if offer {
                catalogue::keep(&self.folder, &revision_id, &files)?;
            }
            revision_id
        } else {
            let found = catalogue::found_by_digits(&self.folder, digits)?;
            catalogue::kept_files(&self.folder, &found)?;
            found
        };
        let since_us = self.clock.now_us();
        let already = offered::offer(&*self.store, &revision_id, offer, since_us).await?;
        Ok((revision_id, already))
    }

    /// Every adoption of a catalogue revision, in the order of the journal; the last one is current.
    ///
    /// # Errors
    /// When they cannot be read.
    pub async fn adoptions(&self) -> Result<Vec<Adoption>, ServerError> {
        catalogue::adoptions(&*self.store).await
    }

    /// Erases the customer of a job, by the job's identity or number, and says how many other jobs name the same. Copies in backups stay until they are deleted,
    /// and issued records keep what was printed on them.
    ///
    /// # Errors
    /// [`ServerError::JobUnknown`], or when the disk refuses.
    pub async fn erase_customer(&mut self, job: &str) -> Result<ErasedCustomer, ServerError> {
        let site_name = self.store.setting(SITE_NAME_SETTING).await?.unwrap_or_default();
        let catalogue = Catalogue::load(&self.folder, &*self.store, &site_name).await?;
        let row = catalogue.find_job(&*self.store, job, self.clock.now_us()).await?;
        let customer = self.store.customer(row.job_id).await?;
        self.store.erase_customer(row.job_id, self.clock.now_us()).await?;
        let others = match customer.filter(|customer| !customer.name.is_empty()) {
            Some(customer) => self.store.jobs_of_customer(&customer.name).await?.len(),
            None => 0,
        };
        let job = number::printed(&catalogue.of_job(row.first_seq).prefix, row.number);
        Ok(ErasedCustomer { job, other_jobs: others as u64 })
    }

    /// Erases a remark or a photo by its digest, also one that is still to arrive.
    ///
    /// # Errors
    /// [`ServerError::BlobIsRecord`] for an issued record, or when the disk refuses.
    pub fn erase_blob(&mut self, digest: &str) -> Result<(), ServerError> {
        if !blob::is_digest(digest) {
            let what = format!("'{digest}' is no digest; write its 64 hexadecimal digits in small letters");
            return Err(ServerError::OutsideBounds(vec![Violation { field: "digest".to_owned(), what }]));
        }
        self.blobs.erase(digest)
    }

    /// Writes down that an order was given, and whether it was done.
    pub(crate) async fn note_order(&self, about: &str, done: bool) {
        self.audit.note(Event { allowed: done, about, ..Event::allowed(Deed::Order) }).await;
    }

    /// Who was let in and who was turned away since a time, the latest first.
    ///
    /// # Errors
    /// When it cannot be read.
    pub async fn audit_since(&self, since_us: i64) -> Result<Vec<AuditLine>, ServerError> {
        Ok(self.audit.since(since_us).await?)
    }

    /// What joining an owner's server needs; it needs the desk no longer.
    pub(crate) fn joiner(&self) -> Joiner {
        Joiner {
            folder: self.folder.clone(),
            store: Arc::clone(&self.store),
            clock: Arc::clone(&self.clock),
            entropy: Arc::clone(&self.entropy),
        }
    }

    /// What a backup is made of; it needs the desk no longer.
    pub(crate) fn shelves(&self) -> (Folder, Arc<dyn Store>) {
        (self.folder.clone(), Arc::clone(&self.store))
    }

    /// States that an edition of the record of a job was issued.
    pub(crate) async fn state_issued(
        &mut self,
        about: About<'_>,
        issued: RecordIssued,
    ) -> Result<(), ServerError> {
        self.station.append(about, Kind::RecordIssued(issued), &*self.store, &*self.clock).await
    }

    /// States a fact of a job that the server itself saw, in the name of a person.
    pub(crate) async fn state_of_job(
        &mut self,
        job: JobId,
        person_code: &str,
        kind: Kind,
    ) -> Result<(), ServerError> {
        let entry_id = OwnStation::new_id(&*self.clock, &*self.entropy)?;
        let about = About { job: Some(job), entry_id, person_code };
        self.station.append(about, kind, &*self.store, &*self.clock).await
    }

    /// Lets the folder go.
    ///
    /// # Errors
    /// When the epoch file cannot be written or the journal cannot be closed.
    pub async fn close(self) -> Result<(), ServerError> {
        let Some(lock) = self.lock else { return Ok(()) };
        self.audit.write_counts().await;
        let reached = Reached::from(&self.store.head().await?);
        self.store.close().await?;
        lock.remember(&reached)
    }

    async fn state(&mut self, kind: Kind) -> Result<(), ServerError> {
        self.station.state(OWN_STATION, kind, &*self.store, &*self.clock, &*self.entropy).await
    }
}
