//! The shop server as a station calls it: addresses, the token on every call, deadlines, and what a failed call means.
//! Never here: what is kept and when it is sent.

use crate::error::ClientError;
use crate::folder::state::Joined;
use crate::station::StationOptions;
use bytes::Bytes;
use prost::Message as _;
use standpipe_proto::dial::{Connector, DialError, Pin, ServerAddress, Trouble, read_pem, write_pem};
use standpipe_proto::join::{AUTHORITY_BYTES, RENEWAL_DUE};
use standpipe_proto::limits::door::SIGN_OF_LIFE_SECONDS;
use standpipe_proto::limits::{BLOB_PART_BYTES_MAX, MESSAGE_BYTES_MAX, PAGE_SIZE_MAX, RECORD_BYTES_MAX};
use standpipe_proto::v1;
use std::net::IpAddr;
use std::pin::Pin as Pinning;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};
use std::time::Duration;
use tonic::body::Body;
use tonic::codegen::http;
use tonic::metadata::{Ascii, MetadataValue};
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::{Channel, Endpoint, Uri};
use tonic::{Code, Request, Status, Streaming};
use tonic_types::StatusExt as _;

/// How long to wait for the shop server.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Deadlines {
    /// For a connection.
    pub connect: Duration,
    /// For the answer to one call, or to one entry of a stream.
    pub call: Duration,
    /// After which a silent connection is asked for a sign of life, and for that sign.
    pub sign_of_life: Duration,
}

impl Default for Deadlines {
    fn default() -> Self {
        Self {
            connect: Duration::from_secs(2),
            call: Duration::from_secs(10),
            sign_of_life: Duration::from_secs(SIGN_OF_LIFE_SECONDS),
        }
    }
}

/// Pages that are read at most in answer to one question.
const PAGES_MAX: usize = 100;

/// Puts the token on every call, if there is one.
#[derive(Clone)]
pub(crate) struct Bearer(Option<MetadataValue<Ascii>>);

impl Interceptor for Bearer {
    fn call(&mut self, mut request: Request<()>) -> Result<Request<()>, Status> {
        if let Some(token) = &self.0 {
            request.metadata_mut().insert("authorization", token.clone());
        }
        Ok(request)
    }
}

/// Whether the server said that the station should renew its token.
#[derive(Debug, Clone, Default)]
pub(crate) struct Renewal(Arc<AtomicBool>);

impl Renewal {
    /// Whether it is due.
    pub(crate) fn is_due(&self) -> bool {
        self.0.load(Ordering::SeqCst)
    }

    /// The same; asked once.
    pub(crate) fn take(&self) -> bool {
        self.0.swap(false, Ordering::SeqCst)
    }
}

/// Hears what the server says beside its answers.
#[derive(Clone)]
pub(crate) struct Hearing {
    channel: Channel,
    renewal: Renewal,
}

impl tower::Service<http::Request<Body>> for Hearing {
    type Response = http::Response<Body>;
    type Error = tonic::transport::Error;
    type Future = Pinning<Box<dyn Future<Output = Result<Self::Response, Self::Error>> + Send>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), Self::Error>> {
        self.channel.poll_ready(context)
    }

    fn call(&mut self, request: http::Request<Body>) -> Self::Future {
        let (answer, renewal) = (self.channel.call(request), self.renewal.clone());
        Box::pin(async move {
            let answer = answer.await?;
            if answer.headers().contains_key(RENEWAL_DUE) {
                renewal.0.store(true, Ordering::SeqCst);
            }
            Ok(answer)
        })
    }
}

type Calls = InterceptedService<Hearing, Bearer>;

/// One shop server, with a token.
#[derive(Clone)]
pub(crate) struct Remote {
    calls: Calls,
    address: String,
    deadlines: Deadlines,
    /// What makes the connections, where they are encrypted.
    connector: Option<Connector>,
    /// Whether the server is met for the first time.
    joining: bool,
}

/// Brings an address into the form `http://HOST:PORT`. Only addresses of this machine are taken, since without TLS
/// anybody on the way could read the token.
pub(crate) fn loopback(address: &str) -> Result<String, ClientError> {
    let wrong = || ClientError::NotHere { address: address.to_owned() };
    let text = address.trim();
    let text = text.strip_prefix("http://").unwrap_or(text).trim_end_matches('/');
    let (host, port) = text.rsplit_once(':').ok_or_else(wrong)?;
    let port: u16 = port.parse().map_err(|_| wrong())?;
    let bare = host.strip_prefix('[').and_then(|host| host.strip_suffix(']')).unwrap_or(host);
    let here = host == "localhost" || bare.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback());
    if port == 0 || !here || (bare.contains(':') && bare == host) {
        return Err(wrong());
    }
    Ok(format!("http://{host}:{port}"))
}

impl Remote {
    /// Prepares calls; the connection is made with the first of them.
    pub(crate) fn new(
        joined: &Joined,
        options: &StationOptions,
        renewal: Renewal,
    ) -> Result<Self, ClientError> {
        let deadlines = options.deadlines;
        let token = format!("Bearer {}", joined.token);
        let token = MetadataValue::try_from(token).map_err(|_| {
            ClientError::Usage(
                "the token has characters that no token has; copy it again as it was printed".into(),
            )
        })?;
        let Some(authority) = &joined.authority else {
            let address = loopback(&joined.address)?;
            let channel = endpoint(&address, deadlines)?.connect_lazy();
            let calls = InterceptedService::new(Hearing { channel, renewal }, Bearer(Some(token)));
            return Ok(Self { calls, address, deadlines, connector: None, joining: false });
        };
        let authority = read_pem(authority).ok_or_else(|| {
            ClientError::Usage(
                "what this station knows the shop server by is damaged; ask at the shop server for a new code \
                 (standpipe-server station code NAME) and join again"
                    .into(),
            )
        })?;
        let address = ServerAddress::read(&joined.address)?;
        Self::encrypted(address, Pin::Authority(authority), Bearer(Some(token)), options, renewal)
    }

    /// Prepares joining at a server that is known by the digest of its authority only.
    pub(crate) fn joining(
        address: ServerAddress,
        authority: [u8; AUTHORITY_BYTES],
        options: &StationOptions,
    ) -> Result<Self, ClientError> {
        let pin = Pin::Digest(authority);
        let remote = Self::encrypted(address, pin, Bearer(None), options, Renewal::default())?;
        Ok(Self { joining: true, ..remote })
    }

    fn encrypted(
        address: ServerAddress,
        pin: Pin,
        bearer: Bearer,
        options: &StationOptions,
        renewal: Renewal,
    ) -> Result<Self, ClientError> {
        let deadlines = options.deadlines;
        let connector = {
            let clock = Arc::clone(&options.clock);
            Connector::new(address.clone(), pin, Arc::new(move || clock.now_microseconds()))?
        };
        // What the transport calls plain is what the connector encrypts; the peer is told what it is.
        let origin: Uri = format!("https://{address}").parse().map_err(|_| wrong(&address))?;
        let channel = endpoint(&format!("http://{address}"), deadlines)?
            .origin(origin)
            .connect_with_connector_lazy(connector.clone());
        let calls = InterceptedService::new(Hearing { channel, renewal }, bearer);
        let address = address.to_string();
        Ok(Self { calls, address, deadlines, connector: Some(connector), joining: false })
    }

    /// Shows a code, and the token that shall be good from now on.
    pub(crate) async fn join(&self, request: v1::JoinRequest) -> Result<v1::JoinResponse, ClientError> {
        let mut client = v1::station_service_client::StationServiceClient::new(self.calls.clone());
        self.within(client.join(self.request(request))).await
    }

    /// Asks for a new token beside the one that is shown.
    pub(crate) async fn renew_token(&self, token: String) -> Result<v1::RenewTokenResponse, ClientError> {
        let mut client = v1::station_service_client::StationServiceClient::new(self.calls.clone());
        self.within(client.renew_token(self.request(v1::RenewTokenRequest { token }))).await
    }

    /// Signs entries by a person's PIN.
    pub(crate) async fn sign(&self, request: v1::SignRequest) -> Result<v1::SignResponse, ClientError> {
        let mut client = v1::station_service_client::StationServiceClient::new(self.calls.clone());
        self.within(client.sign(self.request(request))).await
    }

    /// Whether what answered last time was another server than this station joined.
    pub(crate) fn met_stranger(&self) -> bool {
        let trouble = self.connector.as_ref().and_then(Connector::trouble);
        matches!(trouble, Some(Trouble::Stranger { .. }))
    }

    /// The authority of the server that was met, as a station keeps it.
    pub(crate) fn authority(&self) -> Option<String> {
        let authority = self.connector.as_ref()?.authority()?;
        Some(write_pem(&authority))
    }

    pub(crate) fn deadlines(&self) -> Deadlines {
        self.deadlines
    }

    pub(crate) fn journal(&self) -> v1::journal_service_client::JournalServiceClient<Calls> {
        v1::journal_service_client::JournalServiceClient::new(self.calls.clone())
            .max_decoding_message_size(MESSAGE_BYTES_MAX)
    }

    fn job(&self) -> v1::job_service_client::JobServiceClient<Calls> {
        v1::job_service_client::JobServiceClient::new(self.calls.clone())
            .max_decoding_message_size(RECORD_BYTES_MAX)
    }

    pub(crate) async fn describe(&self) -> Result<v1::DescribeResponse, ClientError> {
        let mut client = v1::station_service_client::StationServiceClient::new(self.calls.clone());
        self.within(client.describe(self.request(v1::DescribeRequest {}))).await
    }

    /// Everybody who is listed at the site.
    pub(crate) async fn persons(&self) -> Result<Vec<v1::Person>, ClientError> {
        let mut client = v1::station_service_client::StationServiceClient::new(self.calls.clone());
        let (mut persons, mut page_token) = (Vec::new(), String::new());
        for _ in 0..PAGES_MAX {
            let request = v1::ListPersonsRequest { page_size: 0, page_token };
            let answer = self.within(client.list_persons(self.request(request))).await?;
            persons.extend(answer.persons);
            page_token = answer.next_page_token;
            if page_token.is_empty() {
                return Ok(persons);
            }
        }
        Err(self.lacks("an end of the persons"))
    }

    pub(crate) async fn append(&self, entry: Bytes) -> Result<v1::AppendResponse, Status> {
        let mut client = self.journal();
        let call = client.append(self.request(v1::AppendRequest { entry }));
        self.answer(call).await
    }

    /// The entries of a job, or of the site by its identity, in the order of the journal.
    pub(crate) async fn entries(&self, job: &str) -> Result<Vec<v1::Entry>, ClientError> {
        Ok(self.recorded(job).await?.into_iter().map(|(_, entry)| entry).collect())
    }

    /// The same with their places.
    pub(crate) async fn recorded(&self, job: &str) -> Result<Vec<(i64, v1::Entry)>, ClientError> {
        let mut client = self.journal();
        let (mut entries, mut page_token) = (Vec::new(), String::new());
        for _ in 0..PAGES_MAX {
            let request = v1::ReadRequest { job: job.to_owned(), page_size: 0, page_token };
            let answer = self.within(client.read(self.request(request))).await?;
            for recorded in answer.entries {
                let entry = v1::Entry::decode(recorded.entry).map_err(|_| self.lacks("a whole entry"))?;
                entries.push((recorded.seq, entry));
            }
            page_token = answer.next_page_token;
            if page_token.is_empty() {
                return Ok(entries);
            }
        }
        Err(self.lacks("an end of the job"))
    }

    /// A tally of the site.
    pub(crate) async fn tally(&self, request: v1::GetTallyRequest) -> Result<v1::Sheet, ClientError> {
        let answer = self.within(self.tallies().get_tally(self.request(request))).await?;
        answer.sheet.ok_or_else(|| self.lacks("the tally"))
    }

    /// A tally of the site as the bytes of a PDF file.
    pub(crate) async fn printed_tally(&self, request: v1::PrintTallyRequest) -> Result<Vec<u8>, ClientError> {
        Ok(self.within(self.tallies().print_tally(self.request(request))).await?.pdf)
    }

    /// A page of jobs of all workshops.
    pub(crate) async fn tally_jobs(
        &self,
        request: v1::ListTallyJobsRequest,
    ) -> Result<v1::ListTallyJobsResponse, ClientError> {
        self.within(self.tallies().list_tally_jobs(self.request(request))).await
    }

    /// What a code belongs to.
    pub(crate) async fn find_code(
        &self,
        request: v1::FindCodeRequest,
    ) -> Result<Vec<v1::FoundCode>, ClientError> {
        Ok(self.within(self.tallies().find_code(self.request(request))).await?.found)
    }

    fn tallies(&self) -> v1::tally_service_client::TallyServiceClient<Calls> {
        v1::tally_service_client::TallyServiceClient::new(self.calls.clone())
            .max_decoding_message_size(RECORD_BYTES_MAX + 4096)
    }

    pub(crate) async fn get(&self, job: &str) -> Result<v1::Job, ClientError> {
        let mut client = self.job();
        let answer = self.within(client.get(self.request(v1::GetRequest { job: job.to_owned() }))).await?;
        answer.job.ok_or_else(|| self.lacks("the job"))
    }

    pub(crate) async fn may(&self, job: &str, gate: &str) -> Result<v1::MayResponse, ClientError> {
        let mut client = self.job();
        let request = v1::MayRequest { job: job.to_owned(), gate: gate.to_owned() };
        self.within(client.may(self.request(request))).await
    }

    pub(crate) async fn jobs(
        &self,
        search: &str,
        open_only: bool,
    ) -> Result<Vec<v1::JobSummary>, ClientError> {
        let mut client = self.job();
        let (mut jobs, mut page_token) = (Vec::new(), String::new());
        let page_size = i32::try_from(PAGE_SIZE_MAX).unwrap_or(i32::MAX);
        for _ in 0..PAGES_MAX {
            let request = v1::ListRequest { search: search.to_owned(), open_only, page_size, page_token };
            let answer = self.within(client.list(self.request(request))).await?;
            jobs.extend(answer.jobs);
            page_token = answer.next_page_token;
            if page_token.is_empty() {
                return Ok(jobs);
            }
        }
        Err(ClientError::Usage(format!("there are more than {} jobs; narrow them with --search", jobs.len())))
    }

    pub(crate) async fn next(&self, job: &str) -> Result<v1::NextResponse, ClientError> {
        let mut client = self.job();
        self.within(client.next(self.request(v1::NextRequest { job: job.to_owned() }))).await
    }

    pub(crate) async fn plan(&self, request: v1::PlanRequest) -> Result<v1::PlanResponse, ClientError> {
        let mut client = self.job();
        self.within(client.plan(self.request(request))).await
    }

    /// The states of a job as they come. Only the first answer is waited for with a deadline.
    pub(crate) async fn watch(&self, job: &str) -> Result<Streaming<v1::WatchResponse>, ClientError> {
        let mut client = self.job();
        self.within(client.watch(Request::new(v1::WatchRequest { job: job.to_owned(), after_seq: 0 }))).await
    }

    pub(crate) async fn record(
        &self,
        job: &str,
        edition: i32,
        annex: bool,
    ) -> Result<v1::RenderResponse, ClientError> {
        let request = v1::RenderRequest { job: job.to_owned(), edition, annex };
        self.within(self.printer().render(self.request(request))).await
    }

    pub(crate) async fn issue(&self, request: v1::IssueRequest) -> Result<v1::IssueResponse, ClientError> {
        self.within(self.printer().issue(self.request(request))).await
    }

    pub(crate) async fn bay_sheet(&self, job: &str) -> Result<v1::BaySheetResponse, ClientError> {
        let request = v1::BaySheetRequest { job: job.to_owned() };
        self.within(self.printer().bay_sheet(self.request(request))).await
    }

    pub(crate) async fn photo_sheet(&self) -> Result<v1::PhotoSheetResponse, ClientError> {
        self.within(self.printer().photo_sheet(self.request(v1::PhotoSheetRequest {}))).await
    }

    /// Sends one file in parts.
    pub(crate) async fn put_blob(&self, digest: &str, bytes: &[u8]) -> Result<v1::PutBlobResponse, Status> {
        let mut client = v1::blob_service_client::BlobServiceClient::new(self.calls.clone());
        let parts: Vec<_> = bytes
            .chunks(BLOB_PART_BYTES_MAX)
            .map(|part| v1::PutBlobRequest { blob_digest: digest.to_owned(), part: part.to_vec() })
            .collect();
        let call = client.put_blob(self.request(tokio_stream::iter(parts)));
        self.answer(call).await
    }

    fn printer(&self) -> v1::record_service_client::RecordServiceClient<Calls> {
        v1::record_service_client::RecordServiceClient::new(self.calls.clone())
            .max_decoding_message_size(RECORD_BYTES_MAX + 4096)
    }

    fn request<T>(&self, message: T) -> Request<T> {
        let mut request = Request::new(message);
        request.set_timeout(self.deadlines.call);
        request
    }

    async fn within<T>(
        &self,
        call: impl Future<Output = Result<tonic::Response<T>, Status>>,
    ) -> Result<T, ClientError> {
        self.answer(call).await.map_err(|status| self.failure(&status))
    }

    /// The server's own deadline comes back as a status; this one holds when nothing comes back at all.
    async fn answer<T>(
        &self,
        call: impl Future<Output = Result<tonic::Response<T>, Status>>,
    ) -> Result<T, Status> {
        match tokio::time::timeout(self.deadlines.call, call).await {
            Ok(answer) => answer.map(tonic::Response::into_inner),
            Err(_) => Err(Status::deadline_exceeded("no answer in time")),
        }
    }

    /// What a failed call means for who asked.
    pub(crate) fn failure(&self, status: &Status) -> ClientError {
        let info = status.get_details_error_info();
        // Without details the status was not made by the shop server but on the way to it.
        let message = status.message().to_owned();
        let trouble = self.connector.as_ref().and_then(Connector::trouble);
        if let Some(trouble) = trouble.filter(|_| info.is_none()) {
            return self.unconnected(&trouble);
        }
        match status.code() {
            Code::Unauthenticated | Code::PermissionDenied => ClientError::NotPermitted(message),
            Code::Unavailable | Code::ResourceExhausted | Code::Aborted | Code::DataLoss | Code::Internal
                if info.is_some() =>
            {
                ClientError::Away(message)
            }
            Code::Unavailable
            | Code::DeadlineExceeded
            | Code::Cancelled
            | Code::Unknown
            | Code::ResourceExhausted
            | Code::Aborted
            | Code::DataLoss
            | Code::Internal => ClientError::Away(format!(
                "the shop server at {} does not answer ({}); see that it runs",
                self.address,
                if message.is_empty() { status.code().description() } else { &message }
            )),
            Code::Unimplemented => ClientError::Refused {
                reason: String::new(),
                sentence: format!(
                    "the shop server at {} cannot do this; it may be an older version",
                    self.address
                ),
            },
            _ => ClientError::Refused {
                reason: info.map(|info| info.reason).unwrap_or_default(),
                sentence: message,
            },
        }
    }

    /// What it means that no connection was made.
    fn unconnected(&self, trouble: &Trouble) -> ClientError {
        match (trouble, self.joining) {
            (Trouble::Stranger { address }, true) => ClientError::Untrusted(format!(
                "the server at {address} is not the one that the code is from; nothing was sent to it. Do not go on: \
                 somebody may stand between. Look at the address, and ask for a new code at the shop server itself"
            )),
            (Trouble::Stranger { address }, false) => ClientError::Away(format!(
                "the server at {address} is not the one that this station joined; nothing was sent to it. Look at the \
                 address; if the shop server was set up anew, move station.toml out of this station's folder, ask there \
                 for a code and join again: what waits unsent stays"
            )),
            (other, _) => ClientError::Away(other.to_string()),
        }
    }

    fn lacks(&self, what: &str) -> ClientError {
        ClientError::Away(format!(
            "the answer of the shop server at {} lacks {what}; say it again",
            self.address
        ))
    }
}

fn endpoint(address: &str, deadlines: Deadlines) -> Result<Endpoint, ClientError> {
    let uri: Uri = address.parse().map_err(|_| wrong(&address))?;
    Ok(Endpoint::from(uri)
        .connect_timeout(deadlines.connect)
        .http2_keep_alive_interval(deadlines.sign_of_life)
        .keep_alive_timeout(deadlines.sign_of_life))
}

fn wrong(address: &dyn std::fmt::Display) -> ClientError {
    DialError::Address { address: address.to_string() }.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_addresses_of_this_machine_are_taken() {
        for (typed, taken) in [
            ("127.0.0.1:7000", "http://127.0.0.1:7000"),
            ("http://127.0.0.1:7000/", "http://127.0.0.1:7000"),
            (" [::1]:7000 ", "http://[::1]:7000"),
            ("localhost:7000", "http://localhost:7000"),
        ] {
            assert_eq!(loopback(typed).unwrap(), taken);
        }
        for typed in [
            "",
            "127.0.0.1",
            "127.0.0.1:0",
            "127.0.0.1:70000",
            "192.168.0.1:7000",
            "0.0.0.0:7000",
            "::1:7000",
            "example.org:7000",
            "https://127.0.0.1:7000",
            "localhost.example.org:7000",
            "127.0.0.1:7000/path",
            "user@127.0.0.1:7000",
        ] {
            let sentence = loopback(typed).unwrap_err().to_string();
            assert!(sentence.contains("standpipe-server station code NAME"), "{typed}");
        }
    }
}
