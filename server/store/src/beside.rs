//! What stands beside the journal: stations and tokens, names of persons, customers, the derived job list, settings.
//! All of it may change, and what is personal can be erased. The server calls it through `dyn Beside`.

use crate::entry::{JobId, JobNumber};
use crate::error::StoreError;
use crate::tokens::Tokens;
use async_trait::async_trait;

/// SHA-256 of a token; the token itself is never stored.
pub type TokenDigest = [u8; 32];

/// An enrolled station.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Station {
    /// Station id.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Word of the server's access table; not interpreted here.
    pub role: String,
    /// Unix microseconds.
    pub created_us: i64,
    /// Unix microseconds; `None` while the station may speak.
    pub revoked_us: Option<i64>,
}

/// A person by the code that entries carry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Code, as in the entries.
    pub code: String,
    /// Name; `None` after erasure.
    pub name: Option<String>,
    /// Unix microseconds of the latest listing.
    pub listed_us: i64,
    /// Unix microseconds; `None` while the name is kept.
    pub erased_us: Option<i64>,
}

/// Who a job is for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Customer {
    /// Name as it is printed.
    pub name: String,
    /// Telephone, empty if not noted.
    pub telephone: String,
}

/// One line of the job list: computed from the journal, never the other way round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobSummary {
    /// The job.
    pub job_id: JobId,
    /// Its printed number.
    pub number: JobNumber,
    /// Plate, empty if not known.
    pub plate: String,
    /// Vehicle identification number, empty if not known.
    pub vin: String,
    /// What the list shows of the job.
    pub title: String,
    /// Whether the job is closed.
    pub closed: bool,
    /// State in words of the server; not interpreted here.
    pub state: String,
    /// Place in an order of the server's choosing, smaller first; not interpreted here.
    pub rank: u32,
    /// Last entry of the job when this was computed.
    pub seq: u64,
    /// Unix microseconds.
    pub updated_us: i64,
    /// What the job used and made, as the server writes it for sums over many jobs; not interpreted here.
    pub account: String,
}

/// Which lines of the job list are wanted.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SummaryFilter {
    /// Text found in the number, the plate or the title, or at the end of the VIN; case and separators of plates
    /// do not matter. Empty means all.
    pub text: String,
    /// Only jobs that are not closed.
    pub open_only: bool,
    /// In which order they come, and after which one.
    pub order: SummaryOrder,
    /// The text is also looked for in names and telephones of customers.
    pub customers: bool,
}

/// In which order the lines of the job list come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SummaryOrder {
    /// Newest number first.
    Newest {
        /// Only jobs with a smaller number: the last one of the page before.
        before: Option<JobNumber>,
    },
    /// Open jobs before closed ones, each by rank, newest number first among equals.
    Rank {
        /// Only jobs after this place: that of the last one of the page before.
        after: Option<SummaryPlace>,
    },
}

impl Default for SummaryOrder {
    fn default() -> Self {
        Self::Newest { before: None }
    }
}

/// Place of a line among those ordered by rank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SummaryPlace {
    /// Whether the job is closed.
    pub closed: bool,
    /// Its rank.
    pub rank: u32,
    /// Its number.
    pub number: JobNumber,
}

impl JobSummary {
    /// Its place among lines ordered by rank.
    #[must_use]
    pub fn place(&self) -> SummaryPlace {
        SummaryPlace { closed: self.closed, rank: self.rank, number: self.number }
    }
}

/// What may change and be erased. Answers mean: durable, except for [`Beside::put_summary`], which can be computed again.
#[async_trait]
pub trait Beside: Tokens {
    /// Adds a station.
    ///
    /// # Errors
    /// [`StoreError::StationExists`].
    async fn add_station(&self, station: Station) -> Result<(), StoreError>;

    /// One station by id.
    async fn station(&self, id: &str) -> Result<Option<Station>, StoreError>;

    /// All stations by id, revoked ones too.
    async fn stations(&self) -> Result<Vec<Station>, StoreError>;

    /// Revokes a station: its tokens are no longer good. The first time of revocation stays.
    ///
    /// # Errors
    /// [`StoreError::StationUnknown`].
    async fn revoke_station(&self, id: &str, at_us: i64) -> Result<(), StoreError>;

    /// Takes a revocation back; its tokens and codes stay what they are.
    ///
    /// # Errors
    /// [`StoreError::StationUnknown`].
    async fn readmit_station(&self, id: &str) -> Result<(), StoreError>;

    /// Lists a person or changes the name.
    async fn put_person(&self, code: &str, name: &str, at_us: i64) -> Result<(), StoreError>;

    /// All persons by code.
    async fn persons(&self) -> Result<Vec<Person>, StoreError>;

    /// Erases a person's name; the code stays, since entries carry it.
    ///
    /// # Errors
    /// [`StoreError::PersonUnknown`].
    async fn erase_person(&self, code: &str, at_us: i64) -> Result<(), StoreError>;

    /// Writes what a listed person's PIN is compared with, a PHC string; one that is there is replaced. Erasing the
    /// person removes it.
    ///
    /// # Errors
    /// [`StoreError::PersonUnknown`] when the code is not listed or was erased.
    async fn put_person_pin(&self, code: &str, phc: &str, at_us: i64) -> Result<(), StoreError>;

    /// What a person's PIN is compared with; `None` if none was set.
    async fn person_pin(&self, code: &str) -> Result<Option<String>, StoreError>;

    /// Whether any person has a PIN.
    async fn any_person_pin(&self) -> Result<bool, StoreError>;

    /// Writes the customer of a job over.
    async fn put_customer(&self, job: JobId, customer: &Customer, at_us: i64) -> Result<(), StoreError>;

    /// The customer of a job; `None` if none was written or it was erased.
    async fn customer(&self, job: JobId) -> Result<Option<Customer>, StoreError>;

    /// Jobs whose customer has this name, whatever its case, spaces and apostrophes. A store that was opened for reading
    /// does not know.
    async fn jobs_of_customer(&self, name: &str) -> Result<Vec<JobId>, StoreError>;

    /// Erases the customer of a job; erasing again, or none, changes nothing.
    async fn erase_customer(&self, job: JobId, at_us: i64) -> Result<(), StoreError>;

    /// Stores a line of the job list unless a later one is there. Lost at a power cut at worst, and then listed as stale.
    async fn put_summary(&self, summary: JobSummary) -> Result<(), StoreError>;

    /// Lines of the job list, at most [`crate::PAGE_ROWS_MAX`]. A store that was opened for reading has no list.
    async fn summaries(&self, filter: &SummaryFilter, limit: usize) -> Result<Vec<JobSummary>, StoreError>;

    /// Jobs whose line is missing or older than their last entry, oldest first, at most [`crate::PAGE_ROWS_MAX`].
    /// Looks only at jobs with an entry beyond `after_seq`; at 0 that is all of them, which takes long if there are many.
    async fn stale_summaries(&self, after_seq: u64, limit: usize) -> Result<Vec<JobId>, StoreError>;

    /// Lines of jobs with this VIN or this plate and a smaller number, newest number first, at most
    /// [`crate::PAGE_ROWS_MAX`]. Case and separators do not matter; an empty text finds nothing.
    async fn summaries_of_vehicle(
        &self,
        vehicle: (&str, &str),
        before: JobNumber,
        limit: usize,
    ) -> Result<Vec<JobSummary>, StoreError>;

    /// The account of every job that has a line, in the order of their numbers. A store that was opened for reading has
    /// no list.
    async fn accounts(&self) -> Result<Vec<(JobId, String)>, StoreError>;

    /// What an edition of the reading made of a photo; `None` if it was not kept.
    async fn photo_extract(&self, digest: &str, edition: &str) -> Result<Option<String>, StoreError>;

    /// Keeps what an edition of the reading made of a photo. Lost at a power cut at worst, and then computed again.
    async fn put_photo_extract(&self, digest: &str, edition: &str, extract: &str) -> Result<(), StoreError>;

    /// A setting.
    async fn setting(&self, key: &str) -> Result<Option<String>, StoreError>;

    /// Sets a setting.
    async fn put_setting(&self, key: &str, value: &str) -> Result<(), StoreError>;
}

/// Folded forms of a text or of a summary, so that every store searches alike.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SearchKeys {
    /// Number as `26-0042`.
    pub number: String,
    /// Plate without separators, in lower case.
    pub plate: String,
    /// VIN likewise.
    pub vin: String,
    /// Title in lower case with single spaces.
    pub title: String,
}

/// Fewest letters and digits that are looked for in telephones; fewer would find nearly everybody.
const TELEPHONE_PART_LEAST: usize = 4;

/// Signs that stand for an apostrophe: the curly ones, the turned comma of a letter, grave and acute accent, prime.
const APOSTROPHES: [char; 6] = ['\u{2019}', '\u{2018}', '\u{2bc}', '`', '\u{b4}', '\u{2032}'];

/// Folded forms of a customer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct CustomerKeys {
    /// Name in lower case with single spaces.
    pub name: String,
    /// Telephone without separators.
    pub telephone: String,
}

impl CustomerKeys {
    /// Keys of a customer.
    pub(crate) fn of(customer: &Customer) -> Self {
        Self { name: plain(&customer.name), telephone: bare(&customer.telephone) }
    }

    /// Keys of a text to look for.
    pub(crate) fn of_text(text: &str) -> Self {
        let telephone = Some(bare(text)).filter(|bare| bare.chars().count() >= TELEPHONE_PART_LEAST);
        Self { name: plain(text), telephone: telephone.unwrap_or_default() }
    }

    /// Whether a customer with these keys is wanted by a text with `wanted` keys.
    pub(crate) fn matches(&self, wanted: &Self) -> bool {
        let has = |key: &str, part: &str| !part.is_empty() && key.contains(part);
        has(&self.name, &wanted.name) || has(&self.telephone, &wanted.telephone)
    }
}

impl SearchKeys {
    /// Keys of a stored line.
    pub(crate) fn of_summary(summary: &JobSummary) -> Self {
        Self {
            number: summary.number.to_string(),
            plate: bare(&summary.plate),
            vin: bare(&summary.vin),
            title: plain(&summary.title),
        }
    }

    /// Keys of a text to look for.
    pub(crate) fn of_text(text: &str) -> Self {
        Self { number: plain(text), plate: bare(text), vin: bare(text), title: plain(text) }
    }

    /// Whether a line with these keys is wanted by a text with `wanted` keys.
    pub(crate) fn matches(&self, wanted: &Self) -> bool {
        let Self { number, plate, vin, title } = self;
        KeyParts { number, plate, vin, title }.matches(wanted)
    }
}

/// The keys of a line, wherever they are kept.
#[derive(Debug, Clone, Copy)]
pub(crate) struct KeyParts<'a> {
    pub number: &'a str,
    pub plate: &'a str,
    pub vin: &'a str,
    pub title: &'a str,
}

impl KeyParts<'_> {
    /// Whether a line with these keys is wanted by a text with `wanted` keys.
    pub(crate) fn matches(&self, wanted: &SearchKeys) -> bool {
        let has = |key: &str, part: &str| !part.is_empty() && key.contains(part);
        has(self.number, &wanted.number)
            || wanted.number.ends_with(self.number)
            || has(self.plate, &wanted.plate)
            || (!wanted.vin.is_empty() && self.vin.ends_with(&wanted.vin))
            || has(self.title, &wanted.title)
    }
}

/// Letters and digits only, in lower case.
pub(crate) fn bare(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// Lower case, words separated by single spaces, every apostrophe straight: people type the one and paste the other.
pub(crate) fn plain(text: &str) -> String {
    let straight = |letter: char| if APOSTROPHES.contains(&letter) { '\'' } else { letter };
    text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase().chars().map(straight).collect()
}
