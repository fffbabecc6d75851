//! How to join, for whoever opens the link of a code: on a tablet, or before there is anything to sign in with.
//!
//! The code stands behind the number sign of the link and never reaches the server by it; a small script shows it in the
//! command and fills it into the box, from where the browser sends it to become the station itself. The page tells nothing
//! that an unknown neighbour may not know. Never here: whether a code is good, which is [`crate::joining`]'s.

use super::Office;
use super::bay::tablet;
use super::frame::{Frame, TextBox};
use super::guard::Filled;
use super::language::{piece, say, with_pieces};
use super::trouble::{Trouble, capital};
use crate::access::Role;
use crate::authority;
use crate::clock::hex;
use crate::door::Peer;
use crate::joining::{self, Joined};
use crate::status::Cause;
use crate::workshop::off_the_network;
use axum::extract::State;
use axum::http::header::{self, HeaderMap};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use sha2::{Digest as _, Sha256};
use standpipe_proto::join::JoinCode;
use standpipe_proto::limits::JOIN_CODE_SECONDS;
use standpipe_store::Station;
use std::sync::Arc;
use tokio_rustls::rustls::pki_types::CertificateDer;

/// Where the page is.
pub(super) const PATH: &str = "/join";
/// Where its script is.
pub(super) const SCRIPT: &str = "/join.js";
/// Where the certificate of the site's authority is.
pub(super) const AUTHORITY: &str = "/authority.pem";
/// Most characters of a typed code that are looked at: one has 28, with hyphens 34.
const CODE_LENGTH_MAX: usize = 60;
/// Digits of a digest that are shown together.
const DIGITS_TOGETHER: usize = 2;
/// Most characters of the host that are shown; the guard has compared it with the server's own names.
const HOST_LENGTH_MAX: usize = 280;

/// Shows how to join: by this browser, or by the command.
pub(super) async fn show(
    State(office): State<Arc<Office>>,
    request: axum::extract::Request,
) -> Result<Markup, Trouble> {
    let host = host(request.uri(), request.headers());
    page(&office, &host, "", None).await
}

/// Makes the browser the station of a code: the token is drawn here and stands in its cookie only.
pub(super) async fn become_station(
    State(office): State<Arc<Office>>,
    peer: Option<axum::Extension<Peer>>,
    uri: Uri,
    headers: HeaderMap,
    filled: Filled,
) -> Result<Response, Trouble> {
    let host = host(&uri, &headers);
    // The door puts it there; without it nobody knows whom the guesses are counted against.
    let address = peer.map(|axum::Extension(peer)| peer.address.ip()).ok_or(Cause::JoinCodeNotGood)?;
    let typed: String = filled.text("code").chars().take(CODE_LENGTH_MAX).collect();
    let code = match JoinCode::read(&typed) {
        Ok(code) => code,
        Err(why) => return again((&office, &host, &typed), StatusCode::UNPROCESSABLE_ENTITY, &why).await,
    };
    let folder = office.workshop.folder.clone();
    if code.authority() != off_the_network(move || authority::digest_of(folder.path())).await?? {
        let why = say!(page_join_foreign_code);
        return again((&office, &host, &typed), StatusCode::UNPROCESSABLE_ENTITY, &why).await;
    }
    let token = tablet::drawn(&office)?;
    let may = |station: &Station, _: Option<&str>| {
        Role::from_name(&station.role).is_some_and(|role| tablet::ROLES.contains(&role))
    };
    let shown = (code.secret(), token.to_string());
    match joining::join_where(&office.workshop, address, (shown.0, &shown.1), (may, None)).await {
        Ok(Joined::As(..)) => {}
        Ok(Joined::NotSo(station, _)) => {
            let why = say!(page_join_foreign_role, &station.name, &station.role);
            return again((&office, &host, &typed), StatusCode::FORBIDDEN, &why).await;
        }
        Ok(Joined::OfAnother(cause)) => return Err(Cause::from(cause).into()),
        Err(cause @ Cause::JoinCodeNotGood) => {
            return again((&office, &host, &typed), StatusCode::FORBIDDEN, &cause).await;
        }
        Err(cause @ Cause::TooManyGuesses { .. }) => {
            return again((&office, &host, &typed), StatusCode::TOO_MANY_REQUESTS, &cause).await;
        }
        Err(cause) => return Err(cause.into()),
    }
    let mut answer = Redirect::to(super::bay::PATH).into_response();
    tablet::joined(&office, &mut answer, &token)?;
    Ok(answer)
}

/// The page again, with what was typed and why it was not taken.
async fn again(
    (office, host, typed): (&Office, &str, &str),
    status: StatusCode,
    why: &impl std::fmt::Display,
) -> Result<Response, Trouble> {
    let wrong = capital(&format!("{why}."));
    Ok((status, page(office, host, typed, Some(&wrong)).await?).into_response())
}

async fn page(office: &Office, host: &str, typed: &str, wrong: Option<&str>) -> Result<Markup, Trouble> {
    let (_, certificate) = certificate(office).await?;
    let digest = hex(&Sha256::digest(&certificate));
    let code = TextBox {
        name: "code",
        label: &say!(page_code),
        hint: &say!(page_join_code_hint),
        value: typed,
        wrong,
        length: CODE_LENGTH_MAX,
        ..TextBox::PLAIN
    };
    let title = say!(page_join_title);
    let frame =
        Frame { workshop: &office.workshop.site_name, title: &title, person: None, owner: false, live: None };
    Ok(frame.around(html! {
        h1 { (title) }
        h2 { (say!(page_join_tablet)) }
        form method="post" action=(PATH) {
            (code.show())
            button type="submit" { (say!(page_join_make_tablet)) }
        }
        p {
            (with_pieces(&say!(page_join_lost, piece(0)), &[html! { code { "standpipe-server station revoke NAME" } }]))
        }
        h2 { (say!(page_join_another)) }
        p { (say!(page_join_type)) }
        p { code { "standpipe join " (host) " " span id="shown-code" { "CODE" } } }
        p {
            (with_pieces(
                &say!(page_join_code_good, piece(0), (JOIN_CODE_SECONDS / 60).to_string()),
                &[html! { code { "standpipe-server station code NAME" } }],
            ))
        }
        h2 { (say!(page_join_known)) }
        p { (with_pieces(&say!(page_join_install, piece(0)), &[html! { a href=(AUTHORITY) { "authority.pem" } }])) }
        p { code { (apart(&digest)) } }
        p {
            (with_pieces(
                &say!(page_join_compare, piece(0)),
                &[html! { code { "openssl x509 -noout -fingerprint -sha256 -in DIR/tls/authority.pem" } }],
            ))
        }
        script src=(SCRIPT) defer {}
    }))
}

/// The certificate of the site's authority as a file.
pub(super) async fn authority(State(office): State<Arc<Office>>) -> Result<impl IntoResponse, Trouble> {
    let (pem, _) = certificate(&office).await?;
    Ok(([(header::CONTENT_TYPE, "application/x-pem-file")], pem))
}

/// The certificate as a file and its bytes.
async fn certificate(office: &Office) -> Result<(String, CertificateDer<'static>), Trouble> {
    let folder = office.workshop.folder.clone();
    Ok(off_the_network(move || authority::certificate_of(folder.path())).await??)
}

/// The script.
pub(super) async fn script() -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "text/javascript; charset=utf-8")], include_str!("join.js"))
}

/// Name and port under which the page was asked for, as the new station will reach the server.
fn host(uri: &Uri, headers: &HeaderMap) -> String {
    let named = || headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let host = uri.authority().map_or_else(named, |authority| authority.as_str());
    host.chars().take(HOST_LENGTH_MAX).collect()
}

/// Digits as other programs write a digest, so that the two can be compared by eye: `AA:BB:…`.
fn apart(digits: &str) -> String {
    let digits: Vec<char> = digits.to_ascii_uppercase().chars().collect();
    digits.chunks(DIGITS_TOGETHER).map(|group| group.iter().collect::<String>()).collect::<Vec<_>>().join(":")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_digest_is_shown_as_other_programs_write_it() {
        assert_eq!(apart("00ab22"), "00:AB:22");
    }
}
