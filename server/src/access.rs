//! Who may call what: the one access table, and the layer that holds every call against it.
//!
//! A method of ours without a row fails the build. Whatever has no row is refused. A station shows its token in the
//! metadata as `authorization: Bearer <token>`; the handlers find who it is among the extensions of the request.
//! Health answers without a token, so that watchdogs need none; reflection needs any good token.
//! Never here: which job a bay may see, which depends on the job and is asked in [`crate::workshop`].

use crate::audit::{self, Deed, Event};
use crate::status::Cause;
use crate::token::Token;
use crate::workshop::Workshop;
use serde::{Deserialize, Serialize};
use standpipe_proto::join::RENEWAL_DUE;
use standpipe_proto::{METHODS, v1};
use standpipe_store::TokenDigest;
use std::future::Future;
use std::net::IpAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
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
}

impl Role {
    /// All roles.
    pub const ALL: [Self; 3] = [Self::Bay, Self::Office, Self::Admin];

    /// The role's word.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Bay => "bay",
            Self::Office => "office",
            Self::Admin => "admin",
        }
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
        }
    }
}

/// Who may call a method.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// Anybody, without a token.
    Anybody,
    /// A station with one of these roles.
    Stations(&'static [Role]),
}

const EVERY_STATION: Rule = Rule::Stations(&[Role::Bay, Role::Office, Role::Admin]);
const NOT_THE_BAY: Rule = Rule::Stations(&[Role::Office, Role::Admin]);

/// Most characters of an asked path in an answer.
const PATH_SHOWN_MAX: usize = 128;

/// The table.
pub const TABLE: &[(&str, Rule)] = &[
    ("/standpipe.v1.JournalService/Append", EVERY_STATION),
    ("/standpipe.v1.JournalService/AppendStream", EVERY_STATION),
    ("/standpipe.v1.JournalService/Read", EVERY_STATION),
    ("/standpipe.v1.JobService/List", EVERY_STATION),
    ("/standpipe.v1.JobService/Get", EVERY_STATION),
    ("/standpipe.v1.JobService/May", EVERY_STATION),
    ("/standpipe.v1.JobService/Next", EVERY_STATION),
    ("/standpipe.v1.JobService/Plan", EVERY_STATION),
    ("/standpipe.v1.JobService/Watch", EVERY_STATION),
    ("/standpipe.v1.RecordService/Render", EVERY_STATION),
    ("/standpipe.v1.RecordService/Issue", EVERY_STATION),
    ("/standpipe.v1.RecordService/BaySheet", EVERY_STATION),
    ("/standpipe.v1.BlobService/PutBlob", EVERY_STATION),
    ("/standpipe.v1.BlobService/GetBlob", EVERY_STATION),
    ("/standpipe.v1.CustomerService/PutCustomer", NOT_THE_BAY),
    ("/standpipe.v1.CustomerService/GetCustomer", NOT_THE_BAY),
    ("/standpipe.v1.CustomerService/EraseCustomer", NOT_THE_BAY),
    ("/standpipe.v1.StationService/Describe", EVERY_STATION),
    ("/standpipe.v1.StationService/ListStations", NOT_THE_BAY),
    ("/standpipe.v1.StationService/ListPersons", EVERY_STATION),
    // Who has no token yet shows a code instead.
    ("/standpipe.v1.StationService/Join", Rule::Anybody),
    ("/standpipe.v1.StationService/RenewToken", EVERY_STATION),
    ("/standpipe.v1.StationService/Sign", EVERY_STATION),
    ("/standpipe.v1.CatalogueService/ListVariants", EVERY_STATION),
    ("/standpipe.v1.CatalogueService/GetRevision", EVERY_STATION),
    ("/standpipe.v1.TallyService/GetTally", EVERY_STATION),
    ("/standpipe.v1.TallyService/PrintTally", NOT_THE_BAY),
    ("/standpipe.v1.TallyService/FindCode", EVERY_STATION),
    ("/grpc.health.v1.Health/Check", Rule::Anybody),
    ("/grpc.health.v1.Health/Watch", Rule::Anybody),
    ("/grpc.reflection.v1.ServerReflection/ServerReflectionInfo", EVERY_STATION),
    ("/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo", EVERY_STATION),
];

const _: () =
    assert!(every_method_has_one_row(), "a method of standpipe.v1 has no row, or two, in access::TABLE");

const fn every_method_has_one_row() -> bool {
    let mut rest = METHODS;
    while let [method, others @ ..] = rest {
        if rows_of(method) != 1 {
            return false;
        }
        rest = others;
    }
    true
}

const fn rows_of(method: &str) -> usize {
    let mut rows = 0;
    let mut rest = TABLE;
    while let [(path, _), others @ ..] = rest {
        if same(path.as_bytes(), method.as_bytes()) {
            rows += 1;
        }
        rest = others;
    }
    rows
}

const fn same(mut one: &[u8], mut other: &[u8]) -> bool {
    while let ([a, rest @ ..], [b, others @ ..]) = (one, other) {
        if *a != *b {
            return false;
        }
        one = rest;
        other = others;
    }
    one.is_empty() && other.is_empty()
}

/// The rule of a method by its path; nothing means that nobody may.
#[must_use]
pub fn rule(path: &str) -> Option<Rule> {
    TABLE.iter().find(|(method, _)| *method == path).map(|(_, rule)| *rule)
}

/// The station behind a call.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Who {
    /// Its identity.
    pub station_id: String,
    /// What people call it.
    pub name: String,
    /// What it may do.
    pub role: Role,
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
    S::Future: Send,
    S::Error: Send,
{
    type Response = http::Response<Body>;
    type Error = S::Error;
    type Future = Pin<Box<dyn Future<Output = Result<Self::Response, S::Error>> + Send>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, mut request: http::Request<Body>) -> Self::Future {
        match kind_of(&request) {
            Asked::Call => {}
            Asked::Refused(status) => {
                let mut answer = http::Response::new(Body::empty());
                *answer.status_mut() = status;
                return Box::pin(async { Ok(answer) });
            }
            Asked::Page => {
                let answer = self.pages.call(request);
                return Box::pin(async move {
                    match answer.await {
                        Ok(answer) => Ok(answer.map(Body::new)),
                        Err(never) => match never {},
                    }
                });
            }
        }
        // The service that was made ready is the one to call; its clone takes its place.
        let waiting = self.inner.clone();
        let mut inner = std::mem::replace(&mut self.inner, waiting);
        let workshop = Arc::clone(&self.workshop);
        let token = shown_token(&request);
        Box::pin(async move {
            match admit(&workshop, request.uri().clone(), token, audit::address(request.extensions())).await {
                Ok(who) => {
                    let renewal_due = who.as_ref().is_some_and(|who| workshop.should_renew(who));
                    if let Some(who) = who {
                        request.extensions_mut().insert(who);
                    }
                    let mut answer = inner.call(request).await?;
                    if renewal_due {
                        answer.headers_mut().insert(RENEWAL_DUE, http::HeaderValue::from_static("yes"));
                    }
                    match Cause::of_unread(answer.headers()) {
                        Some(cause) => Ok(Status::from(cause).into_http()),
                        None => Ok(answer),
                    }
                }
                Err(cause) => {
                    tracing::debug!(
                        method = request.uri().path(),
                        reason = crate::status::reason_word(cause.row().1),
                        "call refused"
                    );
                    Ok(Status::from(cause).into_http())
                }
            }
        })
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
    address: Option<IpAddr>,
) -> Result<Option<Arc<Who>>, Cause> {
    let rule = rule(uri.path());
    if rule == Some(Rule::Anybody) {
        return Ok(None);
    }
    let who = match workshop.station_of(token.as_ref()).await {
        Ok(who) => who,
        Err(cause) => {
            if matches!(cause, Cause::Unauthenticated) {
                workshop.audit.note(Event { address, ..Event::refused(Deed::Token) }).await;
            }
            return Err(cause);
        }
    };
    match rule {
        Some(Rule::Stations(roles)) if roles.contains(&who.role) => Ok(Some(who)),
        _ => {
            let method: String = uri.path().chars().take(PATH_SHOWN_MAX).collect();
            // A path of no method may be anything that somebody wrote.
            let about = rule.map_or("", |_| method.as_str());
            let event = Event { station: &who.station_id, address, about, ..Event::refused(Deed::Method) };
            workshop.audit.note(event).await;
            Err(Cause::NotPermitted { role: who.role.name(), method })
        }
    }
}

/// Who called; the layer has put it there.
pub(crate) fn who(extensions: &tonic::Extensions) -> Result<Arc<Who>, Cause> {
    extensions.get::<Arc<Who>>().cloned().ok_or(Cause::Unauthenticated)
}

#[cfg(test)]
mod tests {
    use super::*;
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
    fn a_role_is_read_back_from_its_word() {
        for role in Role::ALL {
            assert_eq!(Role::from_name(role.name()), Some(role));
        }
        assert_eq!(Role::from_name("owner"), None);
    }
}
