//! How to join, for whoever opens the link of a code: on a tablet, or before there is anything to sign in with.
//!
//! The code stands behind the number sign of the link and never reaches the server by it; a small script shows it in the
//! command and fills it into the box, from where the browser sends it to become the station itself. The page tells nothing
//! that an unknown neighbour may not know. Never here: whether a code is good, which is [`crate::joining`]'s.

use super::Office;
use super::bay::tablet;
use super::frame::{Frame, TextBox};
use super::guard::Filled;
use super::trouble::{Trouble, capital};
use crate::access::Role;
use crate::authority;
use crate::clock::hex;
use crate::door::Peer;
use crate::joining;
use crate::status::Cause;
use axum::extract::State;
use axum::http::header::{self, HeaderMap};
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use sha2::{Digest as _, Sha256};
use standpipe_proto::join::JoinCode;
use standpipe_proto::limits::JOIN_CODE_SECONDS;
use std::sync::Arc;

/// Where the page is.
pub(super) const PATH: &str = "/join";
/// Where its script is.
pub(super) const SCRIPT: &str = "/join.js";
/// Where the certificate of the site's authority is.
pub(super) const AUTHORITY: &str = "/authority.pem";
/// Most characters of a typed code that are looked at: one has 28, with hyphens 34.
const CODE_LENGTH_MAX: usize = 60;
/// Digits of a digest that are shown together.
const DIGITS_TOGETHER: usize = 8;
/// Most characters of the host that are shown; the guard has compared it with the server's own names.
const HOST_LENGTH_MAX: usize = 280;

/// Shows how to join: by this browser, or by the command.
pub(super) async fn show(
    State(office): State<Arc<Office>>,
    request: axum::extract::Request,
) -> Result<Markup, Trouble> {
    let host = host(request.uri(), request.headers());
    page(&office, &host, "", None)
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
    let again = |status: StatusCode, why: &str| {
        let wrong = capital(&format!("{why}."));
        Ok::<_, Trouble>((status, page(&office, &host, &typed, Some(&wrong))?).into_response())
    };
    let code = match JoinCode::read(&typed) {
        Ok(code) => code,
        Err(why) => return again(StatusCode::UNPROCESSABLE_ENTITY, &why.to_string()),
    };
    if code.authority() != authority::digest_of(office.workshop.folder.path())? {
        let why = "the code is from another shop server; open the link that this one prints";
        return again(StatusCode::UNPROCESSABLE_ENTITY, why);
    }
    let token = tablet::drawn(&office)?;
    let station = match joining::join(&office.workshop, address, code.secret(), &token.to_string()).await {
        Ok((_, station)) => station,
        Err(cause @ Cause::JoinCodeNotGood) => return again(StatusCode::FORBIDDEN, &cause.to_string()),
        Err(cause @ Cause::TooManyGuesses { .. }) => {
            return again(StatusCode::TOO_MANY_REQUESTS, &cause.to_string());
        }
        Err(cause) => return Err(cause.into()),
    };
    if !Role::from_name(&station.role).is_some_and(|role| tablet::ROLES.contains(&role)) {
        let (name, role) = (&station.name, &station.role);
        let why = format!(
            "'{name}' has the role {role}, and a browser becomes a bay or an office; join it with the command"
        );
        return again(StatusCode::FORBIDDEN, &why);
    }
    let mut answer = Redirect::to(super::bay::PATH).into_response();
    tablet::joined(&office, &mut answer, &token)?;
    Ok(answer)
}

fn page(office: &Office, host: &str, typed: &str, wrong: Option<&str>) -> Result<Markup, Trouble> {
    let (_, certificate) = authority::certificate_of(office.workshop.folder.path())?;
    let digest = hex(&Sha256::digest(&certificate));
    let code = TextBox {
        name: "code",
        label: "Code",
        hint: "As the shop server printed it; the link of its picture fills it in.",
        value: typed,
        wrong,
        length: CODE_LENGTH_MAX,
        ..TextBox::PLAIN
    };
    let frame =
        Frame { workshop: &office.workshop.site_name, title: "A new station", person: None, live: None };
    Ok(frame.around(html! {
        h1 { "A new station" }
        h2 { "This tablet" }
        form method="post" action=(PATH) {
            (code.show())
            button type="submit" { "Make this tablet the station" }
        }
        p {
            "The browser of this tablet keeps what lets it in; whoever takes the tablet takes that along. Lost? "
            code { "standpipe-server station revoke NAME" } " at the shop server ends it at once."
        }
        h2 { "Another machine" }
        p { "Type this at the machine that becomes the station:" }
        p { code { "standpipe join " (host) " " span id="shown-code" { "CODE" } } }
        p {
            "The code is good once and for " (JOIN_CODE_SECONDS / 60) " minutes. It stands in the address of this page behind "
            "the number sign, and at the shop server, where "
            code { "standpipe-server station code NAME" } " prints a new one."
        }
        h2 { "So that the browser knows this shop server" }
        p {
            "Browsers and other programs know it by the certificate of the workshop's own authority: "
            a href=(AUTHORITY) { "authority.pem" } ". Until it is installed a browser warns of this page. Open the file on the tablet "
            "and install it as a certificate authority in the settings, then load this page again. Its SHA-256 is"
        }
        p { code { (apart(&digest)) } }
        p {
            "Compare it before you trust it, since this page could come from somebody in between. At the shop server itself it "
            "is shown by " code { "openssl x509 -noout -fingerprint -sha256 -in DIR/tls/authority.pem" }
            ", where DIR is the site's folder."
        }
        script src=(SCRIPT) defer {}
    }))
}

/// The certificate of the site's authority as a file.
pub(super) async fn authority(State(office): State<Arc<Office>>) -> Result<impl IntoResponse, Trouble> {
    let (pem, _) = authority::certificate_of(office.workshop.folder.path())?;
    Ok(([(header::CONTENT_TYPE, "application/x-pem-file")], pem))
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

/// Digits in groups that can be compared by eye.
fn apart(digits: &str) -> String {
    let digits: Vec<char> = digits.to_ascii_uppercase().chars().collect();
    digits.chunks(DIGITS_TOGETHER).map(|group| group.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_digest_is_shown_in_groups() {
        assert_eq!(apart("0011223344556677"), "00112233 44556677");
    }
}
