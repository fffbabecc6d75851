//! Who may call what: the one access table, and the layer that holds every call against it.
//!
//! A method of ours without a row fails the build. Whatever has no row is refused. A station shows its token in the
//! metadata as `authorization: Bearer <token>`; the handlers find who it is among the extensions of the request.
//! What a station may is bounded here too: how often it may send a single entry, how many of its long answers are
//! computed at once, and how long a call may take.
//! Health answers without a token, so that watchdogs need none; reflection needs any good token.
//! Never here: which job a bay may see, which depends on the job and is asked in [`crate::workshop`].

mod table;

pub use table::{Rule, TABLE, rule};

use crate::audit::{Deed, Event};
use crate::door::{Counted, Peer, network};
use crate::status::{Cause, Overload};
use crate::token::Token;
use crate::workshop::Workshop;
use serde::{Deserialize, Serialize};
use standpipe_proto::check::Violation;
use standpipe_proto::join::RENEWAL_DUE;
use standpipe_proto::limits::{CALL_SECONDS_MAX, MESSAGE_BYTES_MAX};
use standpipe_proto::v1;
use standpipe_store::TokenDigest;
use std::future::Future;
use std::pin::{Pin, pin};
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::time::sleep;
use tonic::Status;
use tonic::body::Body;
use tower::{Layer, Service};

/// What a station may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Posts and reads the jobs of its site.
    Bay,
    /// Reads all jobs, prints records.
    Office,
    /// Everything at the site.
    Admin,
    /// Reads jobs, records and tallies; states nothing and sees no customer.
    Owner,
    /// Brings the journal of the one site that it was enrolled for, gets its entries and catalogue revisions back, and sees
    /// nothing else.
    Forwarder,
}

impl Role {
    /// All roles.
    pub const ALL: [Self; 5] = [Self::Bay, Self::Office, Self::Admin, Self::Owner, Self::Forwarder];

    /// The role's word.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Bay => "bay",
            Self::Office => "office",
            Self::Admin => "admin",
            Self::Owner => "owner",
            Self::Forwarder => "forwarder",
        }
    }

    /// Whether it sees whom a job is for.
    #[must_use]
    pub fn sees_customers(self) -> bool {
        matches!(self, Self::Office | Self::Admin)
    }

    /// The role of a word.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.name() == name)
    }
}

impl From<Role> for v1::Role {
    fn from(role: Role) -> Self {
        match role {
            Role::Bay => Self::Bay,
            Role::Office => Self::Office,
            Role::Admin => Self::Admin,
            Role::Owner => Self::Owner,
            Role::Forwarder => Self::Forwarder,
        }
    }
}

/// Bytes before each message of gRPC (PROTOCOL-HTTP2 of gRPC).
const FRAME_HEAD_BYTES: usize = 5;
/// What a person does at a station, with the kind of fact that comes of it: an instrument, which states a few kinds by
/// itself, has no person.
const BY_PERSONS: [(&str, &str); 2] = [
    ("/standpipe.v1.RecordService/Issue", "record_issued"),
    ("/standpipe.v1.StationService/Sign", "signature"),
];

/// Most characters of an asked path in an answer.
const PATH_SHOWN_MAX: usize = 128;

const APPEND: &str = "/standpipe.v1.JournalService/Append";
/// Methods whose answer takes long to compute; see [`crate::door::Turns`].
const LONG_ANSWERS: [&str; 6] = [
    "/standpipe.v1.JobService/Plan",
    "/standpipe.v1.RecordService/Render",
    "/standpipe.v1.RecordService/Issue",
    "/standpipe.v1.RecordService/BaySheet",
    "/standpipe.v1.RecordService/PhotoSheet",
    "/standpipe.v1.TallyService/PrintTally",
];

/// The station behind a call.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Who {
    /// Its identity.
    pub station_id: String,
    /// What people call it.
    pub name: String,
    /// What it may do.
    pub role: Role,
    /// Kinds of facts that it may state; empty: all that its role may.
    pub(crate) kinds: Vec<String>,
    /// When it was enrolled, in microseconds since 1970, UTC.
    pub(crate) created_us: i64,
    /// SHA-256 of the token that it showed.
    pub(crate) token: TokenDigest,
    /// When that token was made.
    pub(crate) token_created_us: i64,
    /// When that token ends, if it does.
    pub(crate) token_ends_us: Option<i64>,
    /// Tokens taken back at the site since the server started, when this station's was found good.
    pub(crate) taken_back_before: u64,
}

impl Who {
    /// The refusal of a kind that is none of those the station may state.
    pub(crate) fn may_not_state(&self, kind: &str) -> Cause {
        let (station, kinds) = (self.name.clone(), self.kinds.join(", "));
        Cause::KindNotOfStation { kind: kind.to_owned(), station, kinds }
    }
}

/// Puts the access table in front of all services.
#[derive(Clone)]
pub(crate) struct AccessLayer {
    workshop: Arc<Workshop>,
    pages: axum::Router,
}

impl AccessLayer {
    /// The pages answer whatever is no call; they have a guard of their own.
    pub(crate) fn new(workshop: Arc<Workshop>, pages: axum::Router) -> Self {
        Self { workshop, pages }
    }
}

impl<S> Layer<S> for AccessLayer {
    type Service = Access<S>;

    fn layer(&self, inner: S) -> Access<S> {
        Access { workshop: Arc::clone(&self.workshop), pages: self.pages.clone(), inner }
    }
}

/// All services behind the access table.
#[derive(Clone)]
pub(crate) struct Access<S> {
    workshop: Arc<Workshop>,
    pages: axum::Router,
    inner: S,
}

impl<S> Service<http::Request<Body>> for Access<S>
where
    S: Service<http::Request<Body>, Response = http::Response<Body>> + Clone + Send + 'static,
    S::Future: Send + 'static,
    S::Error: Send + 'static,
{
    type Response = http::Response<Body>;
    type Error = S::Error;
    type Future = Pin<Box<dyn Future<Output = Result<Self::Response, S::Error>> + Send>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: http::Request<Body>) -> Self::Future {
        let underway = request.extensions().get::<Peer>().map(Peer::begin);
        let (asked, within) = (kind_of(&request), within(request.headers()));
        // Made before the network part makes its own of the same length, so that ours ends first and is told.
        let late = sleep(within);
        let is_call = matches!(asked, Asked::Call);
        let answer: Answering<S::Error> = match asked {
            Asked::Call => {
                // The service that was made ready is the one to call; its clone takes its place.
                let waiting = self.inner.clone();
                let inner = std::mem::replace(&mut self.inner, waiting);
                Box::pin(answer(Arc::clone(&self.workshop), inner, request))
            }
            Asked::Refused(status) => Box::pin(async move { Ok(empty(status)) }),
            Asked::Page => {
                let answer = self.pages.call(request);
                Box::pin(async move {
                    match answer.await {
                        Ok(answer) => Ok(answer.map(Body::new)),
                        Err(never) => match never {},
                    }
                })
            }
        };
        Box::pin(async move {
            let mut late = pin!(late);
            let answer = tokio::select! {
                biased;
                answer = answer => answer?,
                () = &mut late => match is_call {
                    true => refused(Overload::TooLate { within }.into()),
                    false => empty(http::StatusCode::SERVICE_UNAVAILABLE),
                },
            };
            Ok(answer.map(|body| Body::new(Counted::new(body, underway))))
        })
    }
}

type Answering<E> = Pin<Box<dyn Future<Output = Result<http::Response<Body>, E>> + Send>>;

/// Answers a call that may be made.
async fn answer<S>(
    workshop: Arc<Workshop>,
    mut inner: S,
    mut request: http::Request<Body>,
) -> Result<http::Response<Body>, S::Error>
where
    S: Service<http::Request<Body>, Response = http::Response<Body>> + Send + 'static,
    S::Future: Send + 'static,
    S::Error: Send + 'static,
{
    let peer = request.extensions().get::<Peer>().cloned();
    let admitted = admit(&workshop, request.uri().clone(), shown_token(&request), peer.as_ref()).await;
    let who = match admitted {
        Ok(who) => who,
        Err(cause) => {
            tracing::debug!(
                method = request.uri().path(),
                reason = crate::status::reason_word(cause.row().1),
                "call refused"
            );
            return Ok(refused(cause));
        }
    };
    let owner = who.as_ref().filter(|_| LONG_ANSWERS.contains(&request.uri().path()));
    let owner = owner.map(|who| who.station_id.clone());
    let renewal_due = who.as_ref().is_some_and(|who| workshop.should_renew(who));
    if let Some(who) = who {
        request.extensions_mut().insert(who);
    }
    let mut answer = match owner {
        None => inner.call(request).await?,
        Some(owner) => {
            // Whoever sends a request slowly holds no turn meanwhile.
            let request = match whole(request).await {
                Ok(request) => request,
                Err(cause) => return Ok(refused(cause)),
            };
            let turn = match workshop.turns.take(&owner).await {
                Ok(turn) => turn,
                Err(cause) => return Ok(refused(cause)),
            };
            // A caller who goes away does not stop the computation, so the turn lasts until its end.
            let computing = tokio::spawn(async move {
                let _turn = turn;
                inner.call(request).await
            });
            match computing.await {
                Ok(answer) => answer?,
                Err(error) => return Ok(refused(Cause::internal("computing a long answer", &error))),
            }
        }
    };
    if renewal_due {
        answer.headers_mut().insert(RENEWAL_DUE, http::HeaderValue::from_static("yes"));
    }
    Ok(Cause::of_unread(answer.headers()).map_or(answer, refused))
}

/// A request with its body, which is small, read to the end.
async fn whole(request: http::Request<Body>) -> Result<http::Request<Body>, Cause> {
    let (parts, body) = request.into_parts();
    let most = MESSAGE_BYTES_MAX + FRAME_HEAD_BYTES;
    let body = axum::body::to_bytes(axum::body::Body::new(body), most).await.map_err(|_| {
        let what =
            format!("is longer than {MESSAGE_BYTES_MAX} bytes or was cut short; send it whole and shorter");
        Cause::OutsideBounds(vec![Violation { field: "request".to_owned(), what }])
    })?;
    Ok(http::Request::from_parts(parts, Body::new(axum::body::Body::from(body))))
}

fn refused(cause: Cause) -> http::Response<Body> {
    Status::from(cause).into_http()
}

fn empty(status: http::StatusCode) -> http::Response<Body> {
    let mut answer = http::Response::new(Body::empty());
    *answer.status_mut() = status;
    answer
}

/// How long the answer may take: as long as the caller wants to wait (`grpc-timeout`, PROTOCOL-HTTP2 of gRPC), but never
/// longer than a call may.
fn within(headers: &http::HeaderMap) -> Duration {
    let most = Duration::from_secs(CALL_SECONDS_MAX);
    let wanted = headers.get("grpc-timeout").and_then(|value| value.to_str().ok()).and_then(read_timeout);
    wanted.map_or(most, |wanted| wanted.min(most))
}

fn read_timeout(text: &str) -> Option<Duration> {
    let (digits, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    if !(1..=8).contains(&digits.len()) || !digits.bytes().all(|digit| digit.is_ascii_digit()) {
        return None;
    }
    let count: u64 = digits.parse().ok()?;
    match unit {
        "H" => Some(Duration::from_secs(count * 3_600)),
        "M" => Some(Duration::from_secs(count * 60)),
        "S" => Some(Duration::from_secs(count)),
        "m" => Some(Duration::from_millis(count)),
        "u" => Some(Duration::from_micros(count)),
        "n" => Some(Duration::from_nanos(count)),
        _ => None,
    }
}

/// What a request asks for.
enum Asked {
    /// A call of gRPC.
    Call,
    /// An office page.
    Page,
    /// Neither, with the HTTP status that says so.
    Refused(http::StatusCode),
}

/// A call of gRPC says so by its type of content and is a POST; its forms for browsers are not served. Whatever names
/// no such type is for the office pages, unless it names a method: no page stands there, so it was meant as a call.
fn kind_of(request: &http::Request<Body>) -> Asked {
    let content = request.headers().get(http::header::CONTENT_TYPE).and_then(|content| content.to_str().ok());
    let Some(encoding) = content.and_then(|content| content.strip_prefix("application/grpc")) else {
        return match rule(request.uri().path()) {
            Some(_) => Asked::Refused(http::StatusCode::UNSUPPORTED_MEDIA_TYPE),
            None => Asked::Page,
        };
    };
    if !(encoding.is_empty() || encoding.starts_with(['+', ';'])) {
        Asked::Refused(http::StatusCode::UNSUPPORTED_MEDIA_TYPE)
    } else if request.method() != http::Method::POST {
        Asked::Refused(http::StatusCode::METHOD_NOT_ALLOWED)
    } else {
        Asked::Call
    }
}

fn shown_token(request: &http::Request<Body>) -> Option<Token> {
    let shown = request.headers().get(http::header::AUTHORIZATION)?.to_str().ok()?;
    shown.strip_prefix("Bearer ").and_then(Token::read)
}

async fn admit(
    workshop: &Workshop,
    uri: http::Uri,
    token: Option<Token>,
    peer: Option<&Peer>,
) -> Result<Option<Arc<Who>>, Cause> {
    let path = uri.path();
    let rule = rule(path);
    if rule == Some(Rule::Anybody) {
        return Ok(None);
    }
    let from = peer.map(|peer| peer.address.ip());
    let who = station_of(workshop, token.as_ref(), peer).await?;
    match rule {
        Some(Rule::Stations(roles)) if roles.contains(&who.role) => {}
        _ => {
            let method: String = path.chars().take(PATH_SHOWN_MAX).collect();
            // A path of no method may be anything that somebody wrote.
            let about = rule.map_or("", |_| method.as_str());
            let refused = Event::refused(Deed::Method);
            let event = Event { station: &who.station_id, address: from, about, ..refused };
            workshop.audit.note(event).await;
            return Err(Cause::NotPermitted { role: who.role.name(), method });
        }
    }
    if let Some((_, kind)) = BY_PERSONS.iter().find(|(by, _)| *by == path && !who.kinds.is_empty()) {
        let refused = Event::refused(Deed::Kind);
        let event = Event { station: &who.station_id, address: from, about: kind, ..refused };
        workshop.audit.note(event).await;
        return Err(who.may_not_state(kind));
    }
    if path == APPEND {
        workshop.appends.take(&who.station_id).map_err(|wait| Overload::TooManyCalls {
            station: who.name.clone(),
            per_second: workshop.limits.appends.0,
            wait,
        })?;
    }
    Ok(Some(who))
}

/// The station of a shown token. Tokens that are not good are counted by where they come from; a good one is found
/// however many others came from there, so that a station suffers from no neighbour behind the same address.
pub(crate) async fn station_of(
    workshop: &Workshop,
    token: Option<&Token>,
    peer: Option<&Peer>,
) -> Result<Arc<Who>, Cause> {
    let who = workshop.station_of(token).await;
    let from = peer.map(|peer| peer.address.ip());
    if let (Ok(_), Some(peer)) = (&who, peer) {
        peer.know();
    }
    // If the store could not be asked, nothing is known of the token.
    if matches!(who, Err(Cause::Unauthenticated)) {
        if let Some(from) = from {
            let counted = workshop.failed_tokens.take(&network(from));
            counted.map_err(|wait| Overload::TooManyFailures { wait })?;
        }
        workshop.audit.note(Event { address: from, ..Event::refused(Deed::Token) }).await;
    }
    who
}

/// Who called; the layer has put it there.
pub(crate) fn who(extensions: &tonic::Extensions) -> Result<Arc<Who>, Cause> {
    extensions.get::<Arc<Who>>().cloned().ok_or(Cause::Unauthenticated)
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_proto::METHODS;
    use std::collections::BTreeSet;

    #[test]
    fn the_table_names_our_methods_health_and_reflection_and_nothing_twice() {
        let rows: BTreeSet<_> = TABLE.iter().map(|(path, _)| *path).collect();
        assert_eq!(rows.len(), TABLE.len());
        let ours: BTreeSet<_> = rows.iter().filter(|path| path.starts_with("/standpipe.")).copied().collect();
        assert_eq!(ours, METHODS.iter().copied().collect());
    }

    #[test]
    fn only_health_and_joining_answer_without_a_token() {
        for (path, rule) in TABLE {
            let open = path.starts_with("/grpc.health.") || *path == "/standpipe.v1.StationService/Join";
            assert_eq!(*rule == Rule::Anybody, open, "{path}");
        }
    }

    #[test]
    fn what_has_no_row_has_no_rule() {
        assert_eq!(rule("/standpipe.v1.JournalService/Delete"), None);
        assert_eq!(rule("/"), None);
    }

    #[test]
    fn a_call_may_take_as_long_as_its_caller_waits_and_never_longer_than_a_minute() {
        let wanted = |text: &str| {
            let mut headers = http::HeaderMap::new();
            headers.insert("grpc-timeout", text.parse().unwrap());
            within(&headers)
        };
        let most = Duration::from_secs(CALL_SECONDS_MAX);
        assert_eq!(within(&http::HeaderMap::new()), most);
        for (text, within) in [
            ("250m", Duration::from_millis(250)),
            ("2S", Duration::from_secs(2)),
            ("99999999n", Duration::from_nanos(99_999_999)),
            ("7u", Duration::from_micros(7)),
            ("1M", most),
            ("99999999H", most),
            // What is no time is passed over, as if it were not there.
            ("", most),
            ("S", most),
            ("123456789n", most),
            ("-1S", most),
            ("1ä", most),
        ] {
            assert_eq!(wanted(text), within, "{text}");
        }
    }

    #[test]
    fn long_answers_and_the_call_of_an_entry_are_methods() {
        assert!(LONG_ANSWERS.iter().chain([&APPEND]).all(|path| METHODS.contains(path)));
    }

    #[test]
    fn a_role_is_read_back_from_its_word() {
        for role in Role::ALL {
            assert_eq!(Role::from_name(role.name()), Some(role));
        }
        assert_eq!(Role::from_name("customer"), None);
    }
}
