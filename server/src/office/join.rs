//! How to join, for whoever opens the link of a code: on a tablet, or before there is anything to sign in with.
//!
//! The code stands behind the number sign of the link and never reaches the server by it; a small script shows it in the
//! command. The page tells nothing that an unknown neighbour may not know. Never here: who joins.

use super::Office;
use super::frame::Frame;
use super::trouble::Trouble;
use crate::authority;
use crate::clock::hex;
use crate::workshop::off_the_network;
use axum::extract::State;
use axum::http::header::{self, HeaderMap};
use axum::response::IntoResponse;
use maud::{Markup, html};
use sha2::{Digest as _, Sha256};
use standpipe_proto::limits::JOIN_CODE_SECONDS;
use std::sync::Arc;
use tokio_rustls::rustls::pki_types::CertificateDer;

/// Where the page is.
pub(super) const PATH: &str = "/join";
/// Where its script is.
pub(super) const SCRIPT: &str = "/join.js";
/// Where the certificate of the site's authority is.
pub(super) const AUTHORITY: &str = "/authority.pem";
/// Digits of a digest that are shown together.
const DIGITS_TOGETHER: usize = 2;
/// Most characters of the host that are shown; the guard has compared it with the server's own names.
const HOST_LENGTH_MAX: usize = 280;

/// Shows the command, and the certificate for other programs.
pub(super) async fn show(
    State(office): State<Arc<Office>>,
    request: axum::extract::Request,
) -> Result<Markup, Trouble> {
    let host = host(request.uri(), request.headers());
    let (_, certificate) = certificate(&office).await?;
    let digest = hex(&Sha256::digest(&certificate));
    let frame =
        Frame { workshop: &office.workshop.site_name, title: "A new station", person: None, live: None };
    Ok(frame.around(html! {
        h1 { "A new station" }
        p { "Type this at the machine that becomes the station:" }
        p { code { "standpipe join " (host) " " span id="code" { "CODE" } } }
        p {
            "The code is good once and for " (JOIN_CODE_SECONDS / 60) " minutes. It stands in the address of this page behind "
            "the number sign, and at the shop server, where "
            code { "standpipe-server station code NAME" } " prints a new one."
        }
        h2 { "For browsers and other programs" }
        p {
            "They know this shop server by the certificate of the workshop's own authority: "
            a href=(AUTHORITY) { "authority.pem" } ". Its SHA-256 is"
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
fn host(uri: &axum::http::Uri, headers: &HeaderMap) -> String {
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
