//! The stream that tells the page of a bay that its job has changed. It ends with the tablet's right, or with the
//! session of whoever is signed in; see [`super::super::live`].

use super::super::Office;
use super::super::guard::{SESSION_COOKIE, SignedIn, cookie};
use super::super::live::{self, Asked};
use super::super::trouble::Trouble;
use super::Bay;
use super::refused::Refused;
use crate::access::Who;
use crate::workshop::Workshop;
use axum::extract::{Path, State};
use axum::http::request::Parts;
use axum::response::Response;
use std::sync::Arc;

/// Who looks at a page that is kept up to date.
pub(in super::super) enum Viewer {
    /// Somebody who is signed in: name of the session, and its key as in the cookie.
    Session {
        /// What tells it from others.
        name: String,
        /// Its key.
        key: String,
    },
    /// A tablet.
    Tablet(Arc<Who>),
}

impl Viewer {
    /// The session behind a request.
    pub(super) fn of_session(parts: &Parts, person: &SignedIn) -> Result<Self, Refused> {
        let key = cookie(&parts.headers, SESSION_COOKIE).ok_or(Refused::NotJoined)?.to_owned();
        Ok(Self::Session { name: person.session_name().to_owned(), key })
    }

    /// Waits until a tablet's token is replaced, revoked or at its end; for ever at a session.
    pub(in super::super) async fn until_token_ends(&self, workshop: &Workshop) {
        match self {
            Self::Session { .. } => std::future::pending().await,
            Self::Tablet(who) => workshop.until_token_ends(who).await,
        }
    }

    /// By what its streams are counted.
    pub(in super::super) fn name(&self) -> &str {
        match self {
            Self::Session { name, .. } => name,
            Self::Tablet(who) => &who.station_id,
        }
    }
}

/// Where the stream of a job is, whose page shows these lines of what changes what the bay does next.
pub(super) fn path(number: &str, seq: u64, now: &[String]) -> String {
    format!("/bay{}", live::job_path(number, seq, now).trim_start_matches("/job"))
}

/// Tells of one job.
pub(super) async fn job(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
    asked: Asked,
) -> Result<Response, Trouble> {
    let row = office.workshop.find_for(&bay.who, &job).await?;
    live::stream(office, bay.viewer, asked, Some(row.job_id)).await
}
