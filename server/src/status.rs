//! The one map from what can go wrong within a call to what leaves the machine (AIP-193).
//!
//! [`Cause::row`] is the map: status code and reason of every cause. Each answer carries one `ErrorInfo` with the
//! reason, our domain and every variable of the sentence; a message outside its bounds also carries the violations
//! by field. What is not meant for the other side goes to the log under an id, and only the id leaves. Nothing else
//! in the crate makes a `tonic::Status`.

mod forwarding;
mod from;
mod overload;
mod store;

pub use forwarding::Forwarding;
pub use overload::Overload;

use standpipe_engine::site::tally::TallyError;
use standpipe_proto::ERROR_DOMAIN;
use standpipe_proto::check::Violation;
use standpipe_proto::limits;
use standpipe_proto::v1::{Reason, Refusal};
use standpipe_store::StoreError;
use std::collections::HashMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;
use store::{public_words, store_metadata, store_row, store_wait};
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, FieldViolation, StatusExt as _};

/// What went wrong within a call.
#[derive(Debug, Clone, thiserror::Error)]
pub enum Cause {
    /// Something is outside its bounds.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    OutsideBounds(Vec<Violation>),
    /// The bytes are no entry.
    #[error("the entry cannot be read: {0}; send it as the station sealed it")]
    EntryUnreadable(String),
    /// The entry is too large.
    #[error("the entry has {bytes} bytes; the greatest size is {greatest} bytes")]
    EntryTooLarge {
        /// Its size.
        bytes: usize,
        /// The greatest size.
        greatest: usize,
    },
    /// The request is too large to be read at all.
    #[error("the request is larger than {greatest} bytes, which is the greatest size; send less at once")]
    MessageTooLarge {
        /// The greatest size.
        greatest: usize,
    },
    /// The page token was not made by this server for this question.
    #[error(
        "page_token is not the next_page_token of an answer to the same question; start again without it"
    )]
    PageToken,
    /// There is no such gate.
    #[error("gate '{gate}' is not known; the gates are {known}")]
    GateUnknown {
        /// As asked.
        gate: String,
        /// Those there are.
        known: String,
    },
    /// There is no such job.
    #[error("job '{job}' is not known here; write its number as printed, such as {example}, or its identity")]
    JobUnknown {
        /// As asked.
        job: String,
        /// A number as this site prints them.
        example: String,
    },
    /// There is no such revision.
    #[error("catalogue revision '{revision}' was never adopted here; leave it out for the current one")]
    RevisionUnknown {
        /// As asked.
        revision: String,
    },
    /// No revision was ever adopted.
    #[error(
        "no catalogue was adopted here yet; import one on the shop server with: standpipe-server catalogue import DIR"
    )]
    NoCatalogue,
    /// No token, an unknown one, or one that was taken back: always the same words.
    #[error(
        "the station's token is missing or not good here; enrol the station on the shop server and join again"
    )]
    Unauthenticated,
    /// The role may not call this method.
    #[error("a station with the role {role} may not call {method}; use a station that may")]
    NotPermitted {
        /// Role of the station.
        role: &'static str,
        /// Path of the method.
        method: String,
    },
    /// The entry names another station than the token.
    #[error(
        "header.station_id is '{named}', but the token belongs to station '{station}'; each station sends its own entries"
    )]
    StationMismatch {
        /// As in the entry.
        named: String,
        /// The token's.
        station: String,
    },
    /// The entry belongs to another site.
    #[error("header.site_id is '{named}', but this is the site '{site}'; send the entry to its own site")]
    SiteMismatch {
        /// As in the entry.
        named: String,
        /// This one.
        site: String,
    },
    /// Facts of this kind are stated at the shop server only.
    #[error(
        "a fact of the kind {kind} is stated on the shop server itself, with the verbs of standpipe-server"
    )]
    KindNotPermitted {
        /// The kind.
        kind: &'static str,
    },
    /// The station may state facts of some kinds only.
    #[error(
        "station '{station}' may not state a fact of the kind {kind}; it may state {kinds}: use a bay for it"
    )]
    KindNotOfStation {
        /// The kind.
        kind: String,
        /// Name of the station.
        station: String,
        /// Those it may.
        kinds: String,
    },
    /// Person code and PIN do not belong together; never why.
    #[error(
        "person code and PIN do not belong together, or the person has no PIN; type both again, or set a PIN on the shop server with: standpipe-server person pin CODE"
    )]
    PinNotGood,
    /// It is too early to renew the token.
    #[error(
        "the token of this station is good for long and was not renewed; go on with it until an answer carries standpipe-token-renewal-due"
    )]
    TokenNotDue,
    /// The PIN was wrong too often.
    #[error("the PIN of this person code was wrong too often; wait {seconds} seconds and type it again")]
    PinTriedTooOften {
        /// How long to wait.
        seconds: u32,
    },
    /// Too many PINs are looked at.
    #[error("too many people type a PIN at the same time; wait a moment and send it again")]
    PinsBusy,
    /// The entry is not there, is not the person's, or needs no signature; never which.
    #[error(
        "entry '{entry_id}' is not there to be signed by this person; name an entry that waits for this person, or none for all of them"
    )]
    EntryNotToSign {
        /// As named.
        entry_id: String,
    },
    /// A bay asks for a job that was closed long ago.
    #[error(
        "job {job} was closed more than {days} days ago and is no longer shown in the bay; ask the office"
    )]
    ClosedLongAgo {
        /// Printed number.
        job: String,
        /// So many days it is shown.
        days: i64,
    },
    /// A bay asks for an edition that names the customer.
    #[error(
        "the record of job {job} names the customer, whom a bay does not see; issue or print it in the office"
    )]
    RecordNamesCustomer {
        /// Printed number.
        job: String,
    },
    /// There is no such edition.
    #[error(
        "job {job} has no edition {edition} of its record; the last one is {last}, and 0 prints it as it stands"
    )]
    EditionUnknown {
        /// Printed number.
        job: String,
        /// As asked.
        edition: i32,
        /// The last one; 0 if none was issued.
        last: i32,
    },
    /// The record of a job that is not closed is not issued.
    #[error("job {job} is not closed; close it, then issue its record (a draft can be printed at any time)")]
    JobNotClosed {
        /// Printed number.
        job: String,
    },
    /// The next edition would say what the last one says.
    #[error(
        "job {job} has not changed since edition {edition} of its record; print edition {edition} again, or correct what is wrong and issue then"
    )]
    RecordUnchanged {
        /// Printed number.
        job: String,
        /// The last edition.
        edition: i32,
    },
    /// The record is too large to be sent.
    #[error(
        "the record has {bytes} bytes; the greatest size is {greatest} bytes: print it without the annex, or with fewer photos"
    )]
    RecordTooLarge {
        /// Its size.
        bytes: usize,
        /// The greatest size.
        greatest: usize,
    },
    /// The file is not here.
    #[error(
        "the file {digest} has not arrived here; the station that made it sends it with its next entries"
    )]
    BlobUnknown {
        /// Its digest.
        digest: String,
    },
    /// The file was erased.
    #[error("the file {digest} was erased and is not taken or given again")]
    BlobErased {
        /// Its digest.
        digest: String,
    },
    /// A file on the disk is not what its name says.
    #[error(
        "the file {digest} is damaged or missing on the server; put it back from a backup, or send it again"
    )]
    BlobDamaged {
        /// Its digest.
        digest: String,
    },
    /// The parts do not make the file that was named.
    #[error("blob_digest is {named}, but the file or another part has {found}; send the whole file again")]
    BlobDigest {
        /// As named first.
        named: String,
        /// As found.
        found: String,
    },
    /// The file is too large.
    #[error("the file is larger than {greatest} bytes, which is the greatest size; make the photo smaller")]
    BlobTooLarge {
        /// The greatest size.
        greatest: usize,
    },
    /// The file is of no kind that is taken.
    #[error("the file is not taken: {what}")]
    BlobRefused {
        /// What is wrong with it.
        what: String,
    },
    /// The station watches too many jobs at once.
    #[error(
        "station '{station}' watches {most} jobs at once already, which is the most; end one of them first"
    )]
    TooManyWatches {
        /// Name of the station.
        station: String,
        /// So many it may.
        most: usize,
    },
    /// A code to join is not good; never why.
    #[error(
        "the code is not good any more or never was: it is good once, for {} minutes, and for few tries; ask for a new one at the shop server: standpipe-server station code NAME",
        limits::JOIN_CODE_SECONDS / 60
    )]
    JoinCodeNotGood,
    /// Too many wrong codes to join came from an address.
    #[error(
        "too many wrong codes to join came from this address; wait {seconds} s, then ask for a new code at the shop server"
    )]
    TooManyGuesses {
        /// Until the next one is looked at.
        seconds: u64,
    },
    /// There is no answer to what was asked of a tally.
    #[error("{}", .0)]
    Tally(TallyError),
    /// A tally over all workshops, asked of the server of one.
    #[error(
        "tally '{name}' is about all workshops of an owner, and this is no owner's server; ask that one, or name a tally of this workshop, such as month"
    )]
    TallyOfOwner {
        /// As asked.
        name: String,
    },
    /// The jobs of the site were not all read yet.
    #[error("the list of jobs is being put together; ask again in a moment")]
    ListIncomplete,
    /// There is too much of something.
    #[error(transparent)]
    Overload(#[from] Overload),
    /// A journal of another workshop, or a revision, was not taken or not given.
    #[error(transparent)]
    Forwarding(#[from] Forwarding),
    /// The server is stopping.
    #[error("the server is stopping; send again when it is back")]
    Stopping,
    /// The store's answer.
    #[error("{}", public_words(.0))]
    Store(StoreError),
    /// A mistake of ours; the words are for the log.
    #[error("the server made a mistake; its log says which, under the id {log_id}")]
    Internal {
        /// Where to find it in the log.
        log_id: String,
    },
    /// The other side's stream broke; passed on as it came.
    #[error("{}", .0.message())]
    Stream(Box<Status>),
}

// A status travels in the trailers, which are bounded like all metadata: the sentence twice, once with up to three
// bytes for each, and once more with the violations in base 64.
const SENTENCE_BYTES_MAX: usize = 2048;
const WORDS_BYTES_MAX: usize = 160;
const VIOLATIONS_TOLD_MAX: usize = 16;
const _: () = assert!(
    3 * SENTENCE_BYTES_MAX + (SENTENCE_BYTES_MAX + VIOLATIONS_TOLD_MAX * (WORDS_BYTES_MAX + 80)) * 4 / 3
        < limits::METADATA_BYTES_MAX as usize
);

/// Waits that are told where nothing says how long it takes: for work that is under way, for a server that comes back, and
/// for somebody who has to look at its disk.
const A_MOMENT: Duration = Duration::from_secs(1);
const A_RESTART: Duration = Duration::from_secs(5);
const A_REPAIR: Duration = Duration::from_secs(60);

/// How the network part marks a message that is too large; no handler of ours gives this code.
const TOO_LARGE_TO_READ: Code = Code::OutOfRange;
/// The same of one that was packed; handlers of ours give this code too, but always with details.
const TOO_LARGE_UNPACKED: Code = Code::ResourceExhausted;

/// Status code and reason of a cause.
pub(crate) type Row = (Code, Reason);

/// A reason as it leaves in the error details.
pub(crate) fn reason_word(reason: Reason) -> &'static str {
    let name = reason.as_str_name();
    name.strip_prefix("REASON_").unwrap_or(name)
}

/// Variables of the sentence about an owner's months.
fn of_period(period: &str, most: u16) -> Vec<(&'static str, String)> {
    vec![("period", period.to_owned()), ("most", most.to_string())]
}

impl Cause {
    /// A mistake of ours: written to the log under a new id.
    pub(crate) fn internal(doing: &str, cause: &dyn std::fmt::Display) -> Self {
        static NEXT: AtomicU64 = AtomicU64::new(1);
        let log_id = format!("{}-{}", std::process::id(), NEXT.fetch_add(1, Ordering::Relaxed));
        tracing::error!(log_id, doing, %cause, "internal error");
        Self::Internal { log_id }
    }

    /// What the reader of a stream said when it broke.
    pub(crate) fn of_stream(status: Status) -> Self {
        let unpacks = status.code() == TOO_LARGE_UNPACKED && status.details().is_empty();
        match status.code() == TOO_LARGE_TO_READ || unpacks {
            true => Self::too_large(),
            false => Self::Stream(Box::new(status)),
        }
    }

    /// What the network part said of a request before a handler saw it, if it can be said better.
    pub(crate) fn of_unread(answer: &http::HeaderMap) -> Option<Self> {
        let code = answer.get("grpc-status")?.to_str().ok()?.parse().ok()?;
        let code = Code::from_i32(code);
        let unpacks = code == TOO_LARGE_UNPACKED && !answer.contains_key("grpc-status-details-bin");
        (code == TOO_LARGE_TO_READ || unpacks).then(Self::too_large)
    }

    fn too_large() -> Self {
        Self::MessageTooLarge { greatest: limits::MESSAGE_BYTES_MAX }
    }

    /// The map.
    pub(crate) fn row(&self) -> Row {
        match self {
            Self::OutsideBounds(_) => (Code::InvalidArgument, Reason::OutsideBounds),
            Self::EntryUnreadable(_) => (Code::InvalidArgument, Reason::EntryUnreadable),
            Self::EntryTooLarge { .. } => (Code::InvalidArgument, Reason::EntryTooLarge),
            Self::MessageTooLarge { .. } => (Code::InvalidArgument, Reason::MessageTooLarge),
            Self::PageToken => (Code::InvalidArgument, Reason::PageTokenInvalid),
            Self::GateUnknown { .. } => (Code::InvalidArgument, Reason::GateUnknown),
            Self::JobUnknown { .. } => (Code::NotFound, Reason::JobUnknown),
            Self::RevisionUnknown { .. } => (Code::NotFound, Reason::RevisionUnknown),
            Self::NoCatalogue => (Code::NotFound, Reason::NoCatalogue),
            Self::Unauthenticated => (Code::Unauthenticated, Reason::TokenNotGood),
            Self::JoinCodeNotGood => (Code::Unauthenticated, Reason::JoinCodeNotGood),
            Self::TooManyGuesses { .. } => (Code::ResourceExhausted, Reason::TooManyFailures),
            Self::NotPermitted { .. } => (Code::PermissionDenied, Reason::RoleNotPermitted),
            Self::StationMismatch { .. } => (Code::PermissionDenied, Reason::StationMismatch),
            Self::SiteMismatch { .. } => (Code::PermissionDenied, Reason::SiteMismatch),
            Self::KindNotPermitted { .. } | Self::KindNotOfStation { .. } => {
                (Code::PermissionDenied, Reason::KindNotPermitted)
            }
            Self::TokenNotDue => (Code::FailedPrecondition, Reason::TokenNotDue),
            Self::PinNotGood => (Code::PermissionDenied, Reason::PinNotGood),
            Self::PinTriedTooOften { .. } => (Code::ResourceExhausted, Reason::PinTriedTooOften),
            Self::PinsBusy => (Code::Unavailable, Reason::ServerBusy),
            Self::EntryNotToSign { .. } => (Code::FailedPrecondition, Reason::EntryNotToSign),
            Self::ClosedLongAgo { .. } => (Code::PermissionDenied, Reason::ClosedLongAgo),
            Self::RecordNamesCustomer { .. } => (Code::PermissionDenied, Reason::RecordNamesCustomer),
            Self::EditionUnknown { .. } => (Code::NotFound, Reason::EditionUnknown),
            Self::JobNotClosed { .. } => (Code::FailedPrecondition, Reason::JobNotClosed),
            Self::RecordUnchanged { .. } => (Code::FailedPrecondition, Reason::RecordUnchanged),
            Self::RecordTooLarge { .. } => (Code::FailedPrecondition, Reason::RecordTooLarge),
            Self::BlobUnknown { .. } => (Code::NotFound, Reason::BlobUnknown),
            Self::BlobErased { .. } => (Code::FailedPrecondition, Reason::BlobErased),
            Self::BlobDamaged { .. } => (Code::DataLoss, Reason::BlobDamaged),
            Self::BlobDigest { .. } => (Code::InvalidArgument, Reason::BlobDigestDiffers),
            Self::BlobTooLarge { .. } => (Code::InvalidArgument, Reason::BlobTooLarge),
            Self::BlobRefused { .. } => (Code::InvalidArgument, Reason::BlobRefused),
            Self::TooManyWatches { .. } => (Code::ResourceExhausted, Reason::TooManyWatches),
            Self::TallyOfOwner { .. } => (Code::NotFound, Reason::TallyUnknown),
            Self::Tally(TallyError::Unknown { .. }) => (Code::NotFound, Reason::TallyUnknown),
            Self::Tally(TallyError::AboutNothing { .. }) => {
                (Code::InvalidArgument, Reason::TallyAboutNothing)
            }
            Self::Tally(TallyError::NoPeriod { .. }) => (Code::InvalidArgument, Reason::TallyNoPeriod),
            Self::Tally(TallyError::Period { .. } | TallyError::OwnerPeriod { .. }) => {
                (Code::InvalidArgument, Reason::TallyPeriod)
            }
            Self::ListIncomplete => (Code::Unavailable, Reason::ListIncomplete),
            Self::Overload(overload) => overload.row(),
            Self::Forwarding(forwarding) => forwarding.row(),
            Self::Stopping => (Code::Unavailable, Reason::ServerStopping),
            Self::Store(error) => store_row(error),
            Self::Internal { .. } => (Code::Internal, Reason::Internal),
            Self::Stream(status) => (status.code(), Reason::StreamBroken),
        }
    }

    /// Every variable of the sentence.
    fn metadata(&self) -> HashMap<String, String> {
        let pairs: Vec<(&str, String)> = match self {
            Self::EntryTooLarge { bytes, greatest } => {
                vec![("bytes", bytes.to_string()), ("greatest", greatest.to_string())]
            }
            Self::MessageTooLarge { greatest } => vec![("greatest", greatest.to_string())],
            Self::GateUnknown { gate, known } => vec![("gate", gate.clone()), ("known", known.clone())],
            Self::JobUnknown { job, example } => vec![("job", job.clone()), ("example", example.clone())],
            Self::RevisionUnknown { revision } => vec![("revision", revision.clone())],
            Self::NotPermitted { role, method } => {
                vec![("role", (*role).to_owned()), ("method", method.clone())]
            }
            Self::StationMismatch { named, station } => {
                vec![("named", named.clone()), ("station", station.clone())]
            }
            Self::SiteMismatch { named, site } => vec![("named", named.clone()), ("site", site.clone())],
            Self::KindNotPermitted { kind } => vec![("kind", (*kind).to_owned())],
            Self::KindNotOfStation { kind, station, kinds } => {
                vec![("kind", kind.clone()), ("station", station.clone()), ("kinds", kinds.clone())]
            }
            Self::PinTriedTooOften { seconds } => vec![("seconds", seconds.to_string())],
            Self::EntryNotToSign { entry_id } => vec![("entry_id", entry_id.clone())],
            Self::ClosedLongAgo { job, days } => vec![("job", job.clone()), ("days", days.to_string())],
            Self::RecordNamesCustomer { job } | Self::JobNotClosed { job } => vec![("job", job.clone())],
            Self::RecordUnchanged { job, edition } => {
                vec![("job", job.clone()), ("edition", edition.to_string())]
            }
            Self::EditionUnknown { job, edition, last } => {
                vec![("job", job.clone()), ("edition", edition.to_string()), ("last", last.to_string())]
            }
            Self::RecordTooLarge { bytes, greatest } => {
                vec![("bytes", bytes.to_string()), ("greatest", greatest.to_string())]
            }
            Self::BlobUnknown { digest } | Self::BlobErased { digest } | Self::BlobDamaged { digest } => {
                vec![("digest", digest.clone())]
            }
            Self::BlobDigest { named, found } => vec![("named", named.clone()), ("found", found.clone())],
            Self::TallyOfOwner { name } => vec![("name", name.clone())],
            Self::Tally(TallyError::Unknown { name, known }) => {
                vec![("name", name.clone()), ("known", known.clone())]
            }
            Self::Tally(TallyError::AboutNothing { name, what }) => {
                vec![("name", (*name).to_owned()), ("what", (*what).to_owned())]
            }
            Self::Tally(TallyError::NoPeriod { name }) => vec![("tally", (*name).to_owned())],
            Self::Tally(TallyError::OwnerPeriod { period, most }) => of_period(period, *most),
            Self::Tally(TallyError::Period { period }) => vec![("period", period.clone())],
            Self::BlobTooLarge { greatest } => vec![("greatest", greatest.to_string())],
            Self::BlobRefused { what } => vec![("what", what.clone())],
            Self::TooManyWatches { station, most } => {
                vec![("station", station.clone()), ("most", most.to_string())]
            }
            Self::TooManyGuesses { seconds } => vec![("seconds", seconds.to_string())],
            Self::Internal { log_id } => vec![("log_id", log_id.clone())],
            Self::EntryUnreadable(what) => vec![("what", what.clone())],
            Self::Store(error) => store_metadata(error),
            Self::Overload(overload) => overload.metadata(),
            Self::Forwarding(forwarding) => forwarding.metadata(),
            Self::OutsideBounds(_)
            | Self::PageToken
            | Self::NoCatalogue
            | Self::Unauthenticated
            | Self::JoinCodeNotGood
            | Self::TokenNotDue
            | Self::PinNotGood
            | Self::PinsBusy
            | Self::ListIncomplete
            | Self::Stopping
            | Self::Stream(_) => Vec::new(),
        };
        pairs.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
    }

    /// Whether the same entry can never be taken. What is not permanent ends a stream, so that the station
    /// keeps its entries and sends them again in their order.
    pub(crate) fn is_permanent(&self) -> bool {
        match self {
            Self::Store(error) => error.is_permanent(),
            Self::Stopping
            | Self::ListIncomplete
            | Self::PinsBusy
            | Self::PinTriedTooOften { .. }
            | Self::Overload(_)
            | Self::TooManyWatches { .. }
            | Self::TooManyGuesses { .. }
            | Self::Internal { .. }
            | Self::Stream(_) => false,
            _ => true,
        }
    }

    /// How long to wait before the same is asked again, where that can help.
    fn wait(&self) -> Option<Duration> {
        match self {
            Self::Overload(overload) => Some(overload.wait()),
            Self::ListIncomplete | Self::PinsBusy => Some(A_MOMENT),
            Self::Stopping | Self::TooManyWatches { .. } => Some(A_RESTART),
            Self::Store(error) => store_wait(error),
            Self::PinTriedTooOften { seconds } => Some(Duration::from_secs(u64::from(*seconds))),
            Self::TooManyGuesses { seconds } => Some(Duration::from_secs(*seconds)),
            _ => None,
        }
    }

    /// The answer to one entry of a stream.
    pub(crate) fn refusal(&self, entry_id: String) -> Refusal {
        let (code, reason) = self.row();
        Refusal {
            entry_id,
            code: code.into(),
            reason: reason_word(reason).to_owned(),
            message: self.to_string(),
        }
    }
}

impl From<Cause> for Status {
    fn from(cause: Cause) -> Self {
        if let Cause::Stream(status) = cause {
            return *status;
        }
        let (code, reason) = cause.row();
        let mut details = ErrorDetails::with_error_info(reason_word(reason), ERROR_DOMAIN, cause.metadata());
        if let Some(wait) = cause.wait() {
            details.set_retry_info(Some(wait));
        }
        if let Cause::OutsideBounds(violations) = &cause {
            let told = violations.iter().take(VIOLATIONS_TOLD_MAX);
            let fields: Vec<_> = told
                .map(|Violation { field, what }| {
                    FieldViolation::new(field.as_str(), cut(what, WORDS_BYTES_MAX))
                })
                .collect();
            details.set_bad_request(fields);
        }
        Self::with_error_details(code, cut(&cause.to_string(), SENTENCE_BYTES_MAX), details)
    }
}

/// The beginning of a text, at most so many bytes.
fn cut(text: &str, greatest: usize) -> &str {
    text.get(..text.floor_char_boundary(greatest)).unwrap_or_default()
}

#[cfg(test)]
mod tests;
