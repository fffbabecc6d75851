//! What the page of the bay shows. Never here: who stands there, or what becomes of an answer.

use super::super::Office;
use super::super::frame::Frame;
use super::super::trouble::Trouble;
use super::Bay;
use axum::extract::{Path, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use maud::{Markup, html};
use std::sync::Arc;

/// The open jobs.
pub(super) async fn jobs(State(office): State<Arc<Office>>, bay: Bay) -> Result<Markup, Trouble> {
    let frame = Frame { workshop: &office.workshop.site_name, title: "Bay", person: None, live: None };
    Ok(frame.around(html! { h1 { (bay.who.name) } }))
}

/// One job.
pub(super) async fn job(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
) -> Result<Markup, Trouble> {
    let content = content(&office, &bay, &job).await?;
    let frame = Frame { workshop: &office.workshop.site_name, title: &job, person: None, live: None };
    Ok(frame.around(content))
}

/// The content of the same page alone.
pub(super) async fn part(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
) -> Result<Markup, Trouble> {
    content(&office, &bay, &job).await
}

async fn content(office: &Office, bay: &Bay, job: &str) -> Result<Markup, Trouble> {
    let row = office.workshop.find_for(&bay.who, job).await?;
    Ok(html! { h1 { (office.workshop.printed(&row)) } })
}

/// The style sheet.
pub(super) async fn style() -> impl IntoResponse {
    ([(CONTENT_TYPE, "text/css; charset=utf-8")], "")
}

/// The script.
pub(super) async fn script() -> impl IntoResponse {
    ([(CONTENT_TYPE, "text/javascript; charset=utf-8")], "")
}
