//! What every request to the office pages passes: it comes from this server's own pages, by somebody signed in.
//!
//! The pages answer under a loopback name only, over TLS also under the names and addresses of the server's certificate,
//! so that no foreign name can be pointed at them. A form is taken only
//! from a page of the same origin and with the key of its session. Every answer forbids what the pages never do:
//! scripts within a page, foreign sources, being framed, being kept. Never here: what a page shows.

use super::bay::tablet::{self, Tablet};
use super::session::{Session, same_key};
use super::trouble::Trouble;
use super::{Office, bay, cookies, frame, join, login};
use crate::authority::names::Names;
use crate::door::Peer;
use axum::Form;
use axum::extract::{FromRequest, FromRequestParts, Request, State};
use axum::http::header::{self, HeaderName, HeaderValue};
use axum::http::request::Parts;
use axum::http::{HeaderMap, Method, StatusCode, Uri};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, html};
use std::sync::Arc;

/// Name of the cookie with the session's key.
pub(super) const SESSION_COOKIE: &str = "standpipe-session";
/// Name of the box with the key of the session's forms.
const KEY_BOX: &str = "form_key";
/// What a page may load and do.
const PAGE_POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self'; form-action 'self'; \
     base-uri 'none'; frame-ancestors 'none'";

/// Who is signed in; a handler that takes it is reached by nobody else.
#[derive(Debug, Clone)]
pub(super) struct SignedIn {
    /// Code of the person.
    pub(super) code: String,
    /// Name of the person, or the code if there is none.
    pub(super) name: String,
    session: Session,
}

impl SignedIn {
    /// What tells the session from others; it is none of its keys to come in.
    pub(super) fn session_name(&self) -> &str {
        &self.session.form_key
    }

    /// What every form of the session carries.
    pub(super) fn form_key(&self) -> &str {
        &self.session.form_key
    }

    /// The hidden box that every form carries.
    pub(super) fn key_box(&self) -> Markup {
        key_box(&self.session.form_key)
    }
}

/// The hidden box with the key of a form.
pub(super) fn key_box(key: &str) -> Markup {
    html! { input type="hidden" name=(KEY_BOX) value=(key); }
}

/// The boxes of a form as they were filled in.
#[derive(Debug, Clone, Default)]
pub(super) struct Filled(Vec<(String, String)>);

impl Filled {
    /// The boxes as they are filled in before anybody types.
    pub(super) fn beforehand(boxes: Vec<(String, String)>) -> Self {
        Self(boxes)
    }

    /// A form that is filled in so.
    #[cfg(test)]
    pub(super) fn of(boxes: &[(&str, &str)]) -> Self {
        Self(boxes.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect())
    }

    /// What stands in a box, without spaces around it; empty if there is no such box.
    pub(super) fn text(&self, name: &str) -> &str {
        self.0.iter().find(|(key, _)| key == name).map_or("", |(_, value)| value.trim())
    }

    /// What is ticked under a name.
    pub(super) fn ticked(&self, name: &str) -> Vec<&str> {
        self.0.iter().filter(|(key, _)| key == name).map(|(_, value)| value.as_str()).collect()
    }

    /// Whether the form carries this key.
    pub(super) fn has_key(&self, key: &str) -> bool {
        same_key(self.text(KEY_BOX), key)
    }
}

/// A form of the person who is signed in, with the key of the session.
pub(super) struct SignedForm(pub(super) SignedIn, pub(super) Filled);

impl<S: Send + Sync> FromRequestParts<S> for SignedIn {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, _state: &S) -> Result<Self, Response> {
        parts.extensions.get::<Self>().cloned().ok_or_else(|| Redirect::to("/login").into_response())
    }
}

impl<S: Send + Sync> FromRequest<S> for Filled {
    type Rejection = Response;

    async fn from_request(request: Request, state: &S) -> Result<Self, Response> {
        let Form(boxes) = Form::<Vec<(String, String)>>::from_request(request, state).await.map_err(
            |refused| match refused.status() {
                StatusCode::PAYLOAD_TOO_LARGE => Trouble::FormTooLarge.into_response(),
                _ => Trouble::ForeignForm.into_response(),
            },
        )?;
        Ok(Self(boxes))
    }
}

impl<S: Send + Sync> FromRequest<S> for SignedForm {
    type Rejection = Response;

    async fn from_request(request: Request, state: &S) -> Result<Self, Response> {
        let (mut parts, body) = request.into_parts();
        let person = SignedIn::from_request_parts(&mut parts, state).await?;
        let filled = Filled::from_request(Request::from_parts(parts, body), state).await?;
        if filled.has_key(&person.session.form_key) {
            Ok(Self(person, filled))
        } else {
            Err(Trouble::ForeignForm.into_response())
        }
    }
}

/// Lets a request through, or answers it.
pub(super) async fn pass(State(office): State<Arc<Office>>, mut request: Request, next: Next) -> Response {
    let tls = is_tls(&request);
    if tls {
        cookies::taken_in(request.headers_mut());
    }
    let peer = request.extensions().get::<Peer>().cloned();
    let from = peer.as_ref().map(|peer| peer.address.ip());
    let mut answer = match admit(&office, &mut request, peer.as_ref()).await {
        Ok(()) => {
            let tablet = request.extensions().get::<Tablet>().cloned();
            let is_page = request.method() == Method::GET;
            let mut answer = next.run(request).await;
            if let Some(tablet) = tablet.filter(|_| is_page) {
                tablet::renew(&office, &tablet, from, &mut answer).await;
            }
            answer
        }
        Err(refused) => refused,
    };
    let headers = answer.headers_mut();
    if tls {
        cookies::sent_out(headers);
    }
    let is_pdf = headers.get(header::CONTENT_TYPE).is_some_and(|kind| kind == "application/pdf");
    // A browser shows a PDF by a page of its own, which the page policy would keep from being drawn.
    if !is_pdf {
        headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(PAGE_POLICY));
    }
    for (name, value) in [
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "same-origin"),
        (header::CACHE_CONTROL, "no-store"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    answer
}

async fn admit(office: &Office, request: &mut Request, peer: Option<&Peer>) -> Result<(), Response> {
    let names = is_tls(request).then(|| office.workshop.identity.names());
    let is_own_name =
        |host: &&str| is_loopback(host) || names.as_ref().is_some_and(|names| is_one(host, names));
    let host = host(request.uri(), request.headers()).filter(is_own_name);
    let host = host.ok_or_else(|| Trouble::ForeignName.into_response())?.to_owned();
    if request.method() != Method::GET
        && request.method() != Method::HEAD
        && !is_own(request.headers(), &host, is_tls(request))
    {
        return Err(Trouble::ForeignForm.into_response());
    }
    // At the page of the bay a tablet is a station, whoever is signed in there besides.
    let is_of_bay = bay::is_of_bay(request.uri().path());
    if is_of_bay && let Some(tablet) = tablet::of(office, (request.method(), request.headers()), peer).await?
    {
        request.extensions_mut().insert(tablet);
        return Ok(());
    }
    if let Some(person) = signed_in(office, cookie(request.headers(), SESSION_COOKIE))
        .await
        .map_err(|trouble| trouble.into_response())?
    {
        if let Some(peer) = request.extensions().get::<Peer>() {
            peer.know();
        }
        request.extensions_mut().insert(person);
        return Ok(());
    }
    let path = request.uri().path();
    // Who stands at no page of the bay is told there how to join.
    let is_open =
        is_of_bay || [join::PATH, join::SCRIPT, join::AUTHORITY, bay::STYLE, bay::SCRIPT].contains(&path);
    if is_open || [login::PATH, frame::STYLE, frame::SCRIPT, frame::ICON].contains(&path) {
        return Ok(());
    }
    Err(if request.method() == Method::GET {
        Redirect::to(login::PATH).into_response()
    } else {
        (StatusCode::FORBIDDEN, Trouble::SignedOut).into_response()
    })
}

/// Who is signed in with a session's key, if it has not ended.
pub(super) async fn signed_in(office: &Office, key: Option<&str>) -> Result<Option<SignedIn>, Trouble> {
    let Some(key) = key else { return Ok(None) };
    let Some(session) = office.sessions.find(key, office.workshop.clock.now_us()) else { return Ok(None) };
    // A person who was taken off the list, or whose PIN was set anew, is signed out with it; so is whoever had the code
    // before somebody else was given it.
    let kept = office.workshop.beside.person_pin(&session.person_code).await?;
    if !kept.is_some_and(|kept| session.has_pin(&kept)) {
        return Ok(None);
    }
    let persons = office.workshop.beside.persons().await?;
    let person = persons.into_iter().find(|it| it.code == session.person_code && it.erased_us.is_none());
    Ok(person.map(|person| SignedIn {
        name: person.name.filter(|name| !name.is_empty()).unwrap_or_else(|| person.code.clone()),
        code: person.code,
        session,
    }))
}

/// The value of a cookie.
pub(super) fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let all = headers.get_all(header::COOKIE).into_iter().filter_map(|line| line.to_str().ok());
    let mut pairs = all.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.find(|(key, _)| *key == name).map(|(_, value)| value)
}

/// Name and port that the request was sent to.
fn host<'a>(uri: &'a Uri, headers: &'a HeaderMap) -> Option<&'a str> {
    match uri.authority() {
        Some(authority) => Some(authority.as_str()),
        None => headers.get(header::HOST)?.to_str().ok(),
    }
}

/// Whether a request was sent to this machine under a name of its own that nobody outside can give it.
pub(crate) fn is_asked_here(uri: &Uri, headers: &HeaderMap) -> bool {
    host(uri, headers).is_some_and(is_loopback)
}

fn is_loopback(host: &str) -> bool {
    let name = without_port(host);
    name.eq_ignore_ascii_case("localhost")
        || name.parse::<std::net::IpAddr>().is_ok_and(|address| address.is_loopback())
}

/// Whether a request was sent to one of the server's own names.
fn is_one(host: &str, names: &Names) -> bool {
    names.contains(without_port(host))
}

/// A host without its port, an address of version 6 without brackets.
fn without_port(host: &str) -> &str {
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|digit| digit.is_ascii_digit()) => name,
        _ => host,
    };
    name.trim_start_matches('[').trim_end_matches(']')
}

fn is_tls(request: &Request) -> bool {
    request.extensions().get::<Peer>().is_some_and(|peer| peer.tls)
}

/// Whether a form comes from a page of this server. A browser says so; a program that says nothing has no foreign
/// page behind it.
fn is_own(headers: &HeaderMap, host: &str, tls: bool) -> bool {
    let scheme = if tls { "https://" } else { "http://" };
    let text = |name: HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or_default());
    let origin = text(header::ORIGIN).is_none_or(|origin| origin.strip_prefix(scheme) == Some(host));
    let site = text(HeaderName::from_static("sec-fetch-site"));
    origin && site.is_none_or(|site| site == "same-origin" || site == "none")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs
            .iter()
            .map(|(key, value)| (HeaderName::from_static(key), HeaderValue::from_static(value)))
            .collect()
    }

    #[test]
    fn only_loopback_names_are_answered() {
        for own in
            ["localhost", "localhost:50551", "127.0.0.1:50551", "127.1.2.3", "[::1]:50551", "LOCALHOST:1"]
        {
            assert!(is_loopback(own), "{own}");
        }
        for foreign in
            ["example.org", "example.org:50551", "127.0.0.1.example.org", "10.0.0.1", "", "localhost.x"]
        {
            assert!(!is_loopback(foreign), "{foreign}");
        }
    }

    #[test]
    fn over_tls_the_names_of_the_certificate_are_answered_too_and_no_others() {
        let names = Names::of_machine(&["shop.lane".to_owned(), "10.0.0.7".to_owned(), "fd00::7".to_owned()]);
        for own in ["shop.lane", "SHOP.lane:50551", "10.0.0.7:50551", "[fd00::7]:50551", "standpipe.internal"]
        {
            assert!(is_one(own, &names), "{own}");
        }
        for foreign in ["example.org", "shop.lane.example.org", "10.0.0.8", "10.0.0.7.example.org:50551", ""]
        {
            assert!(!is_one(foreign, &names), "{foreign}");
        }
    }

    #[test]
    fn a_form_of_another_origin_is_not_our_own() {
        let host = "localhost:50551";
        let (plain, encrypted) = ("http://localhost:50551", "https://localhost:50551");
        for (own, other, tls) in [(plain, encrypted, false), (encrypted, plain, true)] {
            assert!(is_own(&headers(&[]), host, tls));
            assert!(is_own(&headers(&[("origin", own)]), host, tls));
            assert!(is_own(&headers(&[("sec-fetch-site", "same-origin")]), host, tls));
            assert!(!is_own(&headers(&[("origin", other)]), host, tls), "{other}");
        }
        for foreign in [
            ("origin", "http://example.org"),
            ("origin", "http://localhost:50552"),
            ("origin", "null"),
            ("sec-fetch-site", "cross-site"),
            ("sec-fetch-site", "same-site"),
        ] {
            assert!(!is_own(&headers(&[foreign]), host, false), "{foreign:?}");
        }
    }

    #[test]
    fn a_cookie_is_found_among_others() {
        let sent = headers(&[("cookie", "a=1; standpipe-session=k3y; b=2")]);
        assert_eq!(cookie(&sent, SESSION_COOKIE), Some("k3y"));
        assert_eq!(cookie(&sent, "session"), None);
    }
}
