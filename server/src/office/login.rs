//! Signing in with person code and PIN, and out again.
//!
//! The answer to a wrong code, a person without a PIN and a wrong PIN is the same, after the same work. The form is
//! tied to the browser by a key of its own, since there is no session yet.

use super::Office;
use super::frame::{Frame, TextBox};
use super::guard::{Filled, SESSION_COOKIE, SignedForm, SignedIn, cookie, key_box};
use super::language::say;
use super::session::{SESSION_SECONDS, is_key, random_key};
use super::trouble::Trouble;
use crate::audit::{Deed, Event};
use crate::door::Peer;
use crate::pin::{Looked, Origin};
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, html};
use standpipe_store::Person;
use std::sync::Arc;

/// Where people sign in.
pub(super) const PATH: &str = "/login";
/// Cookie with the key of the login form.
const FORM_COOKIE: &str = "standpipe-login";
const FORM_SECONDS: i64 = 60 * 60;
/// Most bytes of a person code that is looked for; codes have at most eight characters.
const PERSON_CODE_BYTES_MAX: usize = 40;

/// Shows the form.
pub(super) async fn ask(
    State(office): State<Arc<Office>>,
    person: Option<axum::Extension<SignedIn>>,
    headers: HeaderMap,
) -> Result<Response, Trouble> {
    match person {
        Some(_) => Ok(Redirect::to("/").into_response()),
        None => {
            // A second window keeps the key of the first, so that either form is good.
            let key = match cookie(&headers, FORM_COOKIE).filter(|key| is_key(key)) {
                Some(key) => key.to_owned(),
                None => random_key(&*office.entropy)?,
            };
            form(&office, &key, StatusCode::OK, "", None).await
        }
    }
}

/// Takes code and PIN.
pub(super) async fn enter(
    State(office): State<Arc<Office>>,
    address: Option<axum::Extension<Peer>>,
    headers: HeaderMap,
    filled: Filled,
) -> Result<Response, Trouble> {
    let key = cookie(&headers, FORM_COOKIE).filter(|key| filled.has_key(key)).ok_or(Trouble::ForeignForm)?;
    // What is longer than any code is nobody's, and is not remembered at its length.
    let typed =
        Some(filled.text("person")).filter(|code| code.len() <= PERSON_CODE_BYTES_MAX).unwrap_or_default();
    let persons = office.workshop.beside.persons().await?;
    let known = listed_as(typed, &persons);
    let code = known.unwrap_or(typed);
    let address = address.map(|axum::Extension(peer)| peer.address.ip());
    let event = Event { person: known.unwrap_or_default(), address, ..Event::refused(Deed::SignIn) };
    let pin = filled.text("pin").to_owned();
    let (workshop, origin) = (&office.workshop, Origin::Page(address));
    let kept = match workshop
        .pins
        .look(&*workshop.beside, (code, origin), known.is_some(), pin, office.now_us())
        .await?
    {
        Looked::Right { kept } => kept,
        Looked::Wrong => {
            workshop.audit.note(event).await;
            let wrong = say!(page_person_code_and_pin_do_not);
            return form(&office, key, StatusCode::FORBIDDEN, typed, Some(&wrong)).await;
        }
        Looked::TooOften { wait_seconds } => {
            workshop.audit.note(event).await;
            let wait = say!(page_the_pin_of_this_person_code, wait_seconds.to_string());
            return form(&office, key, StatusCode::TOO_MANY_REQUESTS, typed, Some(&wait)).await;
        }
        Looked::TooManyHere => {
            workshop.audit.note(event).await;
            let wait = say!(page_too_many_pins_were_typed_from);
            return form(&office, key, StatusCode::TOO_MANY_REQUESTS, typed, Some(&wait)).await;
        }
        Looked::Busy => {
            let busy = say!(page_too_many_people_sign_in_at);
            return form(&office, key, StatusCode::SERVICE_UNAVAILABLE, typed, Some(&busy)).await;
        }
    };
    workshop.audit.note(Event { allowed: true, ..event }).await;
    let session = office.sessions.begin(code, &kept, office.now_us(), &*office.entropy)?;
    let mut answer = Redirect::to("/").into_response();
    set_cookie(&mut answer, SESSION_COOKIE, &session, SESSION_SECONDS)?;
    set_cookie(&mut answer, FORM_COOKIE, "", 0)?;
    Ok(answer)
}

/// The listed code that is meant: the one typed, or the only one that differs from it by case alone.
fn listed_as<'a>(typed: &str, persons: &'a [Person]) -> Option<&'a str> {
    let listed: Vec<&str> = persons
        .iter()
        .filter(|person| person.erased_us.is_none())
        .map(|person| person.code.as_str())
        .collect();
    if let Some(code) = listed.iter().find(|code| **code == typed) {
        return Some(code);
    }
    let folded = typed.to_lowercase();
    match *listed.into_iter().filter(|code| code.to_lowercase() == folded).collect::<Vec<_>>() {
        [code] => Some(code),
        _ => None,
    }
}

/// Ends the session.
pub(super) async fn leave(
    State(office): State<Arc<Office>>,
    headers: HeaderMap,
    SignedForm(..): SignedForm,
) -> Result<Response, Trouble> {
    if let Some(key) = cookie(&headers, SESSION_COOKIE) {
        office.sessions.end(key);
    }
    let mut answer = Redirect::to(PATH).into_response();
    set_cookie(&mut answer, SESSION_COOKIE, "", 0)?;
    Ok(answer)
}

async fn form(
    office: &Office,
    key: &str,
    status: StatusCode,
    code: &str,
    wrong: Option<&str>,
) -> Result<Response, Trouble> {
    let content = if office.workshop.beside.any_person_pin().await? {
        boxes(key, code, wrong)
    } else {
        html! {
            h1 { (say!(page_sign_in)) }
            p { (say!(page_nobody_has_a_pin_yet_on)) }
            pre {
                "standpipe-server person add B --name 'office B' --dir DIR\n"
                "standpipe-server person pin B --dir DIR"
            }
            p { (say!(page_dir_is_the_folder_of_the)) }
        }
    };
    let frame = Frame {
        workshop: &office.workshop.site_name,
        title: &say!(page_sign_in),
        person: None,
        owner: false,
        live: None,
    };
    let mut answer = (status, frame.around(content)).into_response();
    set_cookie(&mut answer, FORM_COOKIE, key, FORM_SECONDS)?;
    Ok(answer)
}

fn boxes(key: &str, code: &str, wrong: Option<&str>) -> Markup {
    let person = TextBox {
        name: "person",
        label: &say!(page_person_code),
        value: code,
        length: 40,
        first: code.is_empty(),
        ..TextBox::PLAIN
    };
    let pin = TextBox {
        name: "pin",
        label: &say!(page_pin),
        kind: "password",
        length: 12,
        first: !code.is_empty(),
        wrong,
        ..TextBox::PLAIN
    };
    html! {
        h1 { (say!(page_sign_in)) }
        form method="post" action=(PATH) {
            (key_box(key))
            (person.show())
            (pin.show())
            button type="submit" { (say!(page_sign_in)) }
        }
    }
}

fn set_cookie(answer: &mut Response, name: &str, value: &str, seconds: i64) -> Result<(), Trouble> {
    let cookie = format!("{name}={value}; HttpOnly; SameSite=Strict; Path=/; Max-Age={seconds}");
    let value = HeaderValue::from_str(&cookie)
        .map_err(|error| crate::status::Cause::internal("setting a cookie", &error))?;
    answer.headers_mut().append(header::SET_COOKIE, value);
    Ok(())
}
