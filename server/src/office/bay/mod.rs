//! The page of the bay: one question, one number, one curve, on a tablet beside the lift.
//!
//! [`tablet`] knows who stands there; [`state`], [`back`] and [`photo`] make entries of what the page sends and let the
//! journal answer, as the handlers of the network do for other stations. What the page shows is [`page`]'s. Never here: a
//! rule of the trade. Mounted by [`super::pages`].

mod answers;
mod back;
mod bounds;
mod cautions;
mod curve;
pub(super) mod envelope;
mod jobs;
mod live;
mod page;
mod photo;
mod refused;
mod state;
mod steps;
pub(super) mod tablet;

use super::Office;
use super::guard::SignedIn;
use super::session::same_key;
use crate::access::Who;
use axum::Router;
use axum::extract::FromRequestParts;
use axum::http::Method;
use axum::http::request::Parts;
use axum::response::{IntoResponse as _, Response};
use axum::routing::{get, post};
pub(super) use live::Viewer;
use refused::Refused;
use standpipe_proto::words::WordsError;
use standpipe_proto::words::descriptor::KindWords;
use std::sync::Arc;

/// Where the page begins.
pub(super) const PATH: &str = "/bay";
/// Where its style is.
pub(super) const STYLE: &str = "/bay.css";
/// Where its script is.
pub(super) const SCRIPT: &str = "/bay.js";
/// Header with the key of the page.
const FORM_KEY: &str = "x-form-key";

/// All addresses of the page.
pub(super) fn routes() -> Router<Arc<Office>> {
    Router::new()
        .route(PATH, get(page::jobs))
        .route("/bay/{job}", get(page::job))
        .route("/bay/{job}/part", get(page::part))
        .route("/bay/{job}/live", get(live::job))
        .route("/bay/{job}/answers", get(answers::all))
        .route("/bay/{job}/answers/{entry}", get(answers::one))
        .route("/bay/{job}/state", post(state::state))
        .route("/bay/{job}/correct", post(back::correct))
        .route("/bay/{job}/sign", post(back::sign))
        .route("/bay/{job}/photo", post(photo::take))
        .route(STYLE, get(page::style))
        .route(SCRIPT, get(page::script))
}

/// Whether an address is one of the page's, which a joined tablet may see.
pub(super) fn is_of_bay(path: &str) -> bool {
    path == PATH || path.strip_prefix(PATH).is_some_and(|rest| rest.starts_with('/'))
}

/// Who stands at the page; a handler that takes it is reached by nobody else, and whatever states something only with the
/// key of the page.
pub(super) struct Bay {
    /// The station that states what is answered: the tablet's own, or that of the office pages.
    pub(super) who: Arc<Who>,
    /// Code and name of the person, where one is signed in; else the person is chosen on the page.
    pub(super) person: Option<(String, String)>,
    /// Codes and names of the persons to choose from; the code where there is no name.
    pub(super) persons: Vec<(String, String)>,
    /// What the page sends with each answer, in the header `X-Form-Key`.
    pub(super) form_key: String,
    /// Who is told when the job changes.
    viewer: live::Viewer,
}

impl FromRequestParts<Arc<Office>> for Bay {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, office: &Arc<Office>) -> Result<Self, Response> {
        let bay = match Self::of(parts, office).await {
            Ok(bay) => bay,
            // A page that was asked for says how to join; whatever else is the page's script, which shows the sentence.
            Err(Refused::NotJoined) if parts.method == Method::GET && is_page(parts.uri.path()) => {
                return Err(tablet::how_to_join(office));
            }
            Err(refused) => return Err(refused.into_response()),
        };
        if parts.method != Method::GET && parts.method != Method::HEAD {
            let key = parts.headers.get(FORM_KEY).and_then(|key| key.to_str().ok()).unwrap_or_default();
            if !same_key(key, &bay.form_key) {
                return Err(Refused::ForeignPage.into_response());
            }
        }
        Ok(bay)
    }
}

impl Bay {
    async fn of(parts: &Parts, office: &Office) -> Result<Self, Refused> {
        if let Some(tablet) = parts.extensions.get::<tablet::Tablet>() {
            return Ok(Self {
                who: Arc::clone(&tablet.who),
                person: None,
                persons: persons(office).await?,
                form_key: tablet.form_key.clone(),
                viewer: live::Viewer::Tablet(Arc::clone(&tablet.who)),
            });
        }
        let person = parts.extensions.get::<SignedIn>().ok_or(Refused::NotJoined)?;
        let named = (person.code.clone(), person.name.clone());
        Ok(Self {
            who: office.station.who(),
            person: Some(named.clone()),
            persons: vec![named],
            form_key: person.form_key().to_owned(),
            viewer: live::Viewer::of_session(parts, person)?,
        })
    }
}

/// Persons who can be chosen, by code.
async fn persons(office: &Office) -> Result<Vec<(String, String)>, Refused> {
    let persons = office.workshop.beside.persons().await?.into_iter();
    let listed = persons.filter(|person| person.erased_us.is_none());
    let named = listed.map(|person| {
        let name = person.name.filter(|name| !name.is_empty()).unwrap_or_else(|| person.code.clone());
        (person.code, name)
    });
    Ok(named.collect())
}

/// Which field makes no fact, and why; no field where it is none alone.
pub(super) fn unfit(error: &WordsError, kind: &KindWords, fields: &[(&str, &str)]) -> (String, String) {
    match envelope::unfit(error, Some(kind), fields) {
        Refused::Unfit { field, sentence } => (field, sentence),
        other => (String::new(), other.to_string()),
    }
}

/// Whether an address is that of a whole page.
fn is_page(path: &str) -> bool {
    path == PATH || path.strip_prefix("/bay/").is_some_and(|job| !job.contains('/'))
}
