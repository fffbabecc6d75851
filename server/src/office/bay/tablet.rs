//! A tablet that is a station by its cookie: the token, and the key of its page.
//!
//! The token is drawn by the server and never stands in a page, so that no script of a page can tell it. It is renewed
//! when a page is loaded and a third of its life is over. Never here: what a station may, which is as at any call.

use super::super::Office;
use super::super::frame::Frame;
use super::super::guard::cookie;
use super::super::session::{is_key, random_key};
use super::super::trouble::Trouble;
use super::refused::Refused;
use crate::access::{Role, Who, station_of};
use crate::door::Peer;
use crate::error::ServerError;
use crate::joining::{self, day_us};
use crate::office::language::{piece, say, with_pieces};
use crate::status::Cause;
use crate::token::Token;
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::response::{IntoResponse as _, Response};
use maud::html;
use std::net::IpAddr;
use std::sync::Arc;

/// Name of the cookie.
const COOKIE: &str = "standpipe-station";
/// Roles that a tablet can have.
pub(in super::super) const ROLES: [Role; 2] = [Role::Bay, Role::Office];

/// A joined tablet.
#[derive(Clone)]
pub(in super::super) struct Tablet {
    /// Its station.
    pub(super) who: Arc<Who>,
    /// What its page sends with each answer.
    pub(super) form_key: String,
}

/// The tablet of a request's cookie, if its token is good and its role is one of a tablet.
pub(in super::super) async fn of(
    office: &Office,
    (method, headers): (&Method, &HeaderMap),
    peer: Option<&Peer>,
) -> Result<Option<Tablet>, Response> {
    let found = found(office, headers, peer).await;
    // A page is shown to people; whatever else is asked by its script, which shows the sentence.
    found.map_err(|cause| match *method {
        Method::GET => Trouble::from(cause).into_response(),
        _ => Refused::from(cause).into_response(),
    })
}

async fn found(office: &Office, headers: &HeaderMap, peer: Option<&Peer>) -> Result<Option<Tablet>, Cause> {
    let Some((token, form_key)) = cookie(headers, COOKIE).and_then(read) else { return Ok(None) };
    match station_of(&office.workshop, Some(&token), peer).await {
        Ok(who) if ROLES.contains(&who.role) => Ok(Some(Tablet { who, form_key: form_key.to_owned() })),
        Ok(_) | Err(Cause::Unauthenticated) => Ok(None),
        Err(cause) => Err(cause),
    }
}

/// Lets an answer carry a renewed token, if it is time. One that cannot be renewed now is good until its end.
pub(in super::super) async fn renew(
    office: &Office,
    tablet: &Tablet,
    from: Option<IpAddr>,
    answer: &mut Response,
) {
    if !office.workshop.should_renew(&tablet.who) {
        return;
    }
    let renewed = async {
        // Made of the one before, so that two pages that are loaded at the same time are given the same.
        let token = Token::after(tablet.who.token, &office.renewal_secret);
        joining::renew(&office.workshop, &tablet.who, from, &token.to_string()).await?;
        put(answer, &token, &tablet.form_key, office.workshop.token_days)
    };
    if let Err(cause) = renewed.await {
        tracing::debug!(%cause, station = tablet.who.station_id, "a tablet's token was not renewed");
    }
}

/// A token for whoever joins by the page.
pub(in super::super) fn drawn(office: &Office) -> Result<Token, Cause> {
    Token::draw(&*office.entropy).map_err(no_randomness)
}

/// Makes a browser the station by its cookie.
pub(in super::super) fn joined(office: &Office, answer: &mut Response, token: &Token) -> Result<(), Cause> {
    let form_key = random_key(&*office.entropy).map_err(no_randomness)?;
    put(answer, token, &form_key, office.workshop.token_days)
}

fn put(answer: &mut Response, token: &Token, form_key: &str, days: u32) -> Result<(), Cause> {
    let seconds = day_us(days) / 1_000_000;
    let cookie = format!("{COOKIE}={token}.{form_key}; HttpOnly; SameSite=Strict; Path=/; Max-Age={seconds}");
    let value =
        HeaderValue::from_str(&cookie).map_err(|error| Cause::internal("setting a cookie", &error))?;
    answer.headers_mut().append(header::SET_COOKIE, value);
    Ok(())
}

/// Token and key of a cookie.
fn read(cookie: &str) -> Option<(Token, &str)> {
    let (token, form_key) = cookie.split_once('.')?;
    Some((Token::read(token)?, Some(form_key).filter(|key| is_key(key))?))
}

fn no_randomness(error: ServerError) -> Cause {
    Cause::internal("drawing a token", &error)
}

/// What a browser is shown that is no station and where nobody is signed in.
pub(super) fn how_to_join(office: &Office) -> Response {
    let title = say!(page_join_not_joined_title);
    let frame =
        Frame { workshop: &office.workshop.site_name, title: &title, person: None, owner: false, live: None };
    let command = html! { code { "standpipe-server station code NAME" } };
    let station = html! { a href="/join" { (say!(page_join_station_link)) } };
    let sign_in = html! { a href="/login" { (say!(page_sign_in)) } };
    let page = frame.around(html! {
        h1 { (say!(page_join_not_joined)) }
        p { (say!(page_join_right_ended)) }
        p { (with_pieces(&say!(page_join_open_link, piece(0), piece(1)), &[command, station])) }
        p { (with_pieces(&say!(page_join_or_sign_in, piece(0)), &[sign_in])) }
    });
    (StatusCode::UNAUTHORIZED, page).into_response()
}
