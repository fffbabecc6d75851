//! The owner's server as a shop server calls it: one connection, encrypted, the token on every call, deadlines, and what a
//! failed call means.
//!
//! Called by [`super::link`], [`super::joined`] and [`super::recover`]. Never here: what is sent and when.

use super::standing::{Point, Standing};
use crate::catalogue::{self, Files};
use crate::clock::Clock;
use crate::convert::signed;
use crate::error::ServerError;
use rustls_pki_types::CertificateDer;
use standpipe_proto::dial::{Connector, Pin, ServerAddress, Trouble, write_pem};
use standpipe_proto::join::RENEWAL_DUE;
use standpipe_proto::limits::door::SIGN_OF_LIFE_SECONDS;
use standpipe_proto::limits::{
    CALL_SECONDS_MAX, CATALOGUE_BYTES_MAX, CATALOGUE_FILES_MAX, FORWARD_MESSAGE_BYTES_MAX, JOIN_CODE_SECONDS,
    REVISIONS_OF_SITE_MAX,
};
use standpipe_proto::v1::forwarding_service_client::ForwardingServiceClient;
use standpipe_proto::v1::station_service_client::StationServiceClient;
use standpipe_proto::v1::{self, JournalStanding};
use standpipe_store::tree::Hash;
use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::time::timeout;
use tonic::codec::CompressionEncoding;
use tonic::metadata::{Ascii, MetadataValue};
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::{Channel, Endpoint, Uri};
use tonic::{Request, Response, Status};
use tonic_types::StatusExt as _;

/// For a connection.
const CONNECT_WITHIN: Duration = Duration::from_secs(10);
/// For an answer. A batch of a megabyte is packed to a fifth or so; at 100 kbit/s that takes 17 s. The other side ends a call
/// after [`CALL_SECONDS_MAX`]; this side gives up before that, and sends less at once.
const ANSWER_WITHIN: Duration = Duration::from_secs(CALL_SECONDS_MAX - 5);
/// Revisions that are listened to: those of the site, and as many that the owner offers.
const REVISIONS_MAX: usize = 2 * REVISIONS_OF_SITE_MAX;
/// Reason of a server that keeps the token before.
const TOKEN_NOT_DUE: &str = "TOKEN_NOT_DUE";
/// Reason of a server whose copy of the journal went on differently.
const JOURNAL_FORKED: &str = "JOURNAL_FORKED";
/// Reason of a server that keeps another workshop's journal under this identity.
const SITE_OF_ANOTHER: &str = "SITE_OF_ANOTHER";
/// Reason of a server that does not know the code.
const JOIN_CODE_NOT_GOOD: &str = "JOIN_CODE_NOT_GOOD";
/// Reason of a server at which the station brings another site's journal; it says which.
const SITE_NOT_OF_STATION: &str = "SITE_NOT_OF_STATION";
/// Reason of a server that knows the journal of no such site.
const SITE_UNKNOWN: &str = "SITE_UNKNOWN";
/// Reason of a server that does not know the token.
const TOKEN_NOT_GOOD: &str = "TOKEN_NOT_GOOD";
/// What stands for a reason where another server answers than the right one.
const STRANGER: &str = "STRANGER";

/// Why a call brought nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Unanswered {
    /// In a sentence.
    pub(crate) sentence: String,
    /// The server's reason; empty if it was not reached.
    reason: String,
    /// What it says beside.
    said: HashMap<String, String>,
    /// How long it says to wait.
    pub(crate) wait: Option<Duration>,
    /// Whether the server was not reached, or the call broke; that may pass.
    pub(crate) away: bool,
}

impl Unanswered {
    /// A mistake in what came, such as it cannot be.
    pub(crate) fn nonsense(what: &str) -> Self {
        let sentence = format!("the owner's server answered what cannot be ({what}); look at its version");
        Self { sentence, reason: String::new(), said: HashMap::new(), wait: None, away: false }
    }

    /// Whether the journals went on differently.
    pub(crate) fn is_fork(&self) -> bool {
        self.reason == JOURNAL_FORKED
    }

    /// Whether another workshop's journal is kept there under this identity.
    pub(crate) fn is_of_another(&self) -> bool {
        self.reason == SITE_OF_ANOTHER
    }

    /// Whether the token is not good there.
    pub(crate) fn is_not_let_in(&self) -> bool {
        self.reason == TOKEN_NOT_GOOD
    }

    /// Whether it is too early for another token.
    pub(crate) fn is_not_due(&self) -> bool {
        self.reason == TOKEN_NOT_DUE
    }

    /// Whether the journal of the site was never heard there.
    pub(crate) fn is_unheard(&self) -> bool {
        self.reason == SITE_UNKNOWN
    }

    /// The site whose journal the station brings, where another one was named.
    pub(crate) fn other_site(&self) -> Option<&str> {
        let site = self.said.get("site").filter(|_| self.reason == SITE_NOT_OF_STATION)?;
        Some(site.as_str())
    }
}

impl From<Unanswered> for ServerError {
    fn from(unanswered: Unanswered) -> Self {
        let Unanswered { sentence, reason, .. } = unanswered;
        match reason.is_empty() {
            true => Self::OwnerAway { sentence },
            false => Self::OwnerRefused { sentence },
        }
    }
}

/// Puts the token on every call, if there is one.
#[derive(Clone)]
struct Bearer(Option<MetadataValue<Ascii>>);

impl Interceptor for Bearer {
    fn call(&mut self, mut request: Request<()>) -> Result<Request<()>, Status> {
        if let Some(token) = &self.0 {
            request.metadata_mut().insert("authorization", token.clone());
        }
        Ok(request)
    }
}

/// Entries that were given back.
pub(crate) struct Returned {
    /// How far the journal is known there.
    pub(crate) there: Point,
    /// The entries.
    pub(crate) entries: Vec<v1::ForwardedEntry>,
    /// How the site is called there; empty if an older owner's server does not say it.
    pub(crate) site_name: String,
}

/// The owner's server.
#[derive(Clone)]
pub(crate) struct Outward {
    calls: InterceptedService<Channel, Bearer>,
    connector: Connector,
    address: ServerAddress,
    renewal_due: Arc<AtomicBool>,
}

impl Outward {
    /// Prepares calls; the connection is made with the first of them.
    ///
    /// # Errors
    /// When TLS cannot be set up, or the token is none.
    pub(crate) fn to(
        address: ServerAddress,
        pin: Pin,
        token: Option<&str>,
        clock: Arc<dyn Clock>,
    ) -> Result<Self, ServerError> {
        let failed = |cause: String| ServerError::Network { cause };
        let connector = Connector::new(address.clone(), pin, Arc::new(move || clock.now_us()))
            .map_err(|error| failed(error.to_string()))?;
        let uri = |scheme: &str| format!("{scheme}://{address}").parse::<Uri>();
        // What the transport calls plain is what the connector encrypts; the peer is told what it is.
        let (http, https) = (uri("http"), uri("https"));
        let (http, https) =
            (http.map_err(|e| failed(e.to_string()))?, https.map_err(|e| failed(e.to_string()))?);
        let sign_of_life = Duration::from_secs(SIGN_OF_LIFE_SECONDS);
        let channel = Endpoint::from(http)
            .connect_timeout(CONNECT_WITHIN)
            .http2_keep_alive_interval(sign_of_life)
            .keep_alive_timeout(sign_of_life)
            .origin(https)
            .connect_with_connector_lazy(connector.clone());
        let token = token.map(|token| MetadataValue::try_from(format!("Bearer {token}"))).transpose();
        let token = token.map_err(|error| failed(error.to_string()))?;
        let calls = InterceptedService::new(channel, Bearer(token));
        Ok(Self { calls, connector, address, renewal_due: Arc::default() })
    }

    /// Whether the server said that another token is due; asked once.
    pub(crate) fn take_renewal_due(&self) -> bool {
        self.renewal_due.swap(false, Ordering::SeqCst)
    }

    /// The authority of the server that was met, as it is kept.
    pub(crate) fn authority(&self) -> Option<String> {
        self.connector.authority().map(|authority: CertificateDer<'static>| write_pem(&authority))
    }

    /// Shows a code, and the token that shall be good from now on.
    ///
    /// * `brings` – the site whose journal is brought, empty while nobody here knows it, and the root over its first entry
    pub(crate) async fn join(
        &self,
        (secret, token): (&str, &str),
        (site, founding): (&str, Option<Hash>),
    ) -> Result<v1::JoinResponse, Unanswered> {
        let (secret, token, site_id) = (secret.to_owned(), token.to_owned(), site.to_owned());
        let founding = founding.map_or_else(Vec::new, |root| root.to_vec());
        let request = v1::JoinRequest { secret, token, brings_journal: true, site_id, founding };
        self.answer(self.station().join(request)).await.map_err(|mut why| {
            // The server's sentence is for stations, whose server is the shop's.
            if why.reason == JOIN_CODE_NOT_GOOD {
                why.sentence = format!(
                    "the code is not good any more or never was: it is good once, for {} minutes, and for few tries; ask for \
                     a new one at the owner's server: standpipe-server station code NAME",
                    JOIN_CODE_SECONDS / 60
                );
            }
            why
        })
    }

    /// Asks for another token beside the one that is shown.
    pub(crate) async fn renew(&self, token: &str) -> Result<(), Unanswered> {
        let request = v1::RenewTokenRequest { token: token.to_owned() };
        self.answer(self.station().renew_token(request)).await.map(drop)
    }

    /// Asks how the journals stand.
    pub(crate) async fn compare(
        &self,
        request: v1::CompareJournalRequest,
    ) -> Result<(Point, Standing, String), Unanswered> {
        let answer = self.answer(self.forwarding().compare_journal(request)).await?;
        let standing = match answer.standing() {
            JournalStanding::Same => Standing::Same,
            JournalStanding::Ahead => Standing::Ahead,
            JournalStanding::ProofWanted => Standing::ProofWanted,
            JournalStanding::Behind => Standing::Behind,
            JournalStanding::Fork => Standing::Fork,
            JournalStanding::Another => Standing::Another,
            JournalStanding::Unspecified => return Err(Unanswered::nonsense("no standing")),
        };
        Ok((read_point(answer.there)?, standing, answer.sentence))
    }

    /// Brings entries; gives how far the journal is kept there.
    pub(crate) async fn forward(&self, request: v1::ForwardEntriesRequest) -> Result<Point, Unanswered> {
        read_point(self.answer(self.forwarding().forward_entries(request)).await?.there)
    }

    /// Asks entries back.
    pub(crate) async fn returned(&self, site_id: &str, first_seq: u64) -> Result<Returned, Unanswered> {
        let request = v1::ReturnEntriesRequest { site_id: site_id.to_owned(), first_seq: signed(first_seq) };
        let answer = self.answer(self.forwarding().return_entries(request)).await?;
        Ok(Returned {
            there: read_point(answer.there)?,
            entries: answer.entries,
            site_name: answer.site_name,
        })
    }

    /// Every revision there, up to a bound: its identity, and whether it is offered. What is no identity is passed over.
    pub(crate) async fn revisions(&self) -> Result<Vec<(String, bool)>, Unanswered> {
        let (mut revisions, mut told, mut page_token) = (Vec::new(), 0_usize, String::new());
        loop {
            let request = v1::ListSharedRevisionsRequest { page_size: 0, page_token };
            let answer = self.answer(self.forwarding().list_shared_revisions(request)).await?;
            let more = !answer.revisions.is_empty();
            told = told.saturating_add(answer.revisions.len());
            let good = answer.revisions.into_iter().filter(|it| catalogue::is_identity(&it.revision_id));
            revisions.extend(good.map(|it| (it.revision_id, it.offered)));
            page_token = answer.next_page_token;
            if page_token.is_empty() || !more || told >= REVISIONS_MAX {
                revisions.truncate(REVISIONS_MAX);
                return Ok(revisions);
            }
        }
    }

    /// The files of a revision.
    pub(crate) async fn revision(&self, revision_id: &str) -> Result<Files, Unanswered> {
        let (mut files, mut bytes, mut page_token) = (Files::new(), 0_u64, String::new());
        loop {
            let revision_id = revision_id.to_owned();
            let request = v1::GetSharedRevisionRequest { revision_id, page_size: 0, page_token };
            let answer = self.answer(self.forwarding().get_shared_revision(request)).await?;
            let more = !answer.files.is_empty();
            for file in &answer.files {
                bytes = bytes.saturating_add(file.content.len() as u64);
                if !catalogue::is_file_name(&file.name) {
                    return Err(Unanswered::nonsense("a file of a revision has a name that is none"));
                }
            }
            if bytes > CATALOGUE_BYTES_MAX || files.len() + answer.files.len() > CATALOGUE_FILES_MAX {
                return Err(Unanswered::nonsense("a revision is larger than one may be"));
            }
            files.extend(answer.files.into_iter().map(|file| (file.name, file.content)));
            page_token = answer.next_page_token;
            if page_token.is_empty() || !more {
                return Ok(files);
            }
        }
    }

    /// Brings the files of a revision.
    pub(crate) async fn put_revision(
        &self,
        site_id: &str,
        revision_id: &str,
        files: Files,
    ) -> Result<(), Unanswered> {
        let (site_id, revision_id) = (site_id.to_owned(), revision_id.to_owned());
        let requests = files.into_iter().map(move |(name, content)| v1::PutSharedRevisionRequest {
            site_id: site_id.clone(),
            revision_id: revision_id.clone(),
            files: vec![v1::RevisionFile { name, content }],
        });
        self.answer(self.forwarding().put_shared_revision(tokio_stream::iter(requests))).await.map(drop)
    }

    fn station(&self) -> StationServiceClient<InterceptedService<Channel, Bearer>> {
        StationServiceClient::new(self.calls.clone())
    }

    fn forwarding(&self) -> ForwardingServiceClient<InterceptedService<Channel, Bearer>> {
        ForwardingServiceClient::new(self.calls.clone())
            .send_compressed(CompressionEncoding::Gzip)
            .accept_compressed(CompressionEncoding::Gzip)
            .max_decoding_message_size(FORWARD_MESSAGE_BYTES_MAX)
    }

    async fn answer<T>(
        &self,
        call: impl Future<Output = Result<Response<T>, Status>>,
    ) -> Result<T, Unanswered> {
        let silent = Trouble::Silent { address: self.address.clone(), cause: "no answer in time".to_owned() };
        match timeout(ANSWER_WITHIN, call).await {
            Ok(Ok(answer)) => {
                if answer.metadata().contains_key(RENEWAL_DUE) {
                    self.renewal_due.store(true, Ordering::SeqCst);
                }
                Ok(answer.into_inner())
            }
            Ok(Err(status)) => Err(self.unanswered(&status)),
            Err(_) => Err(unreached(&silent)),
        }
    }

    fn unanswered(&self, status: &Status) -> Unanswered {
        let details = status.get_error_details();
        if let Some(info) = details.error_info() {
            return Unanswered {
                sentence: status.message().to_owned(),
                reason: info.reason.clone(),
                said: info.metadata.clone(),
                wait: details.retry_info().and_then(|info| info.retry_delay),
                away: false,
            };
        }
        // What has no reason of ours was said by the transport, or by something else that listens there.
        match self.connector.trouble() {
            Some(trouble) => unreached(&trouble),
            None => {
                let (address, cause) = (self.address.clone(), format!("the call broke, {}", status.code()));
                unreached(&Trouble::Silent { address, cause })
            }
        }
    }
}

/// What a connection that was not made means here.
fn unreached(trouble: &Trouble) -> Unanswered {
    let sentence = match trouble {
        Trouble::NameUnknown { host } => {
            format!(
                "no machine is called '{host}' here; look at the name of the owner's server, and at the network"
            )
        }
        Trouble::Refused { address } => {
            format!(
                "nothing listens at {address}; see that the owner's server runs and that the address is right"
            )
        }
        Trouble::Silent { address, cause } => {
            format!(
                "the owner's server at {address} does not answer ({cause}); see that the network is up and it runs"
            )
        }
        Trouble::NoTls { address } => {
            format!(
                "what listens at {address} is no server with TLS; look at the address of the owner's server"
            )
        }
        Trouble::Stranger { address } => format!(
            "the server at {address} is not the owner's server that the code is from or that this site joined; nothing \
             was sent: ask at the owner's server for its address and a new code"
        ),
    };
    // Another server is no trouble of the way, which might pass.
    let away = !matches!(trouble, Trouble::Stranger { .. });
    let reason = if away { "" } else { STRANGER };
    Unanswered { sentence, reason: reason.to_owned(), said: HashMap::new(), wait: None, away }
}

fn read_point(point: Option<v1::JournalPoint>) -> Result<Point, Unanswered> {
    let read = || {
        let v1::JournalPoint { epoch, size, root } = point?;
        let (epoch, root) = (epoch.try_into().ok()?, root.try_into().ok()?);
        Some(Point { epoch, size: u64::try_from(size).ok()?, root })
    };
    read().ok_or_else(|| Unanswered::nonsense("how far it knows the journal cannot be read"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forwarding_reads_how_far_a_journal_reaches_only_if_it_can_be() {
        let point = |epoch: usize, size: i64, root: usize| {
            read_point(Some(v1::JournalPoint { epoch: vec![1; epoch], size, root: vec![2; root] }))
        };
        let whole = Point { epoch: [1; 16], size: 7, root: [2; 32] };
        assert_eq!(point(16, 7, 32), Ok(whole));
        for wrong in [point(15, 7, 32), point(16, -1, 32), point(16, 7, 31), read_point(None)] {
            let told = wrong.unwrap_err();
            assert!(told.reason.is_empty() && told.sentence.contains("cannot be"), "{told:?}");
        }
    }
}
