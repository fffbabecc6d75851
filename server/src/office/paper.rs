//! Record and bay sheet as PDF in the browser, and issuing an edition.

use super::Office;
use super::guard::{SignedForm, SignedIn};
use super::station::new_id;
use super::trouble::Trouble;
use crate::record::{self, Printed, Reader, Wanted};
use crate::workshop::Workshop;
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect};
use maud::{Markup, html};
use standpipe_store::{EntryId, JobRow};
use std::sync::Arc;

/// The record as it stands.
pub(super) async fn draft(
    State(office): State<Arc<Office>>,
    _person: SignedIn,
    Path(job): Path<String>,
) -> Result<impl IntoResponse, Trouble> {
    let row = office.workshop.find(&job).await?;
    let wanted = Wanted { customer: true, annex: false };
    Ok(inline(record::draft(&office.workshop, &row, wanted).await?))
}

/// An issued edition, byte for byte.
pub(super) async fn edition(
    State(office): State<Arc<Office>>,
    _person: SignedIn,
    Path((job, edition)): Path<(String, i32)>,
) -> Result<impl IntoResponse, Trouble> {
    let row = office.workshop.find(&job).await?;
    Ok(inline(record::edition(&office.workshop, &row, edition, Reader::Office).await?))
}

/// The work sheet.
pub(super) async fn sheet(
    State(office): State<Arc<Office>>,
    _person: SignedIn,
    Path(job): Path<String>,
) -> Result<impl IntoResponse, Trouble> {
    let row = office.workshop.find(&job).await?;
    Ok(inline(record::bay_sheet(&office.workshop, &row).await?))
}

/// Issues the next edition and shows it.
pub(super) async fn issue(
    State(office): State<Arc<Office>>,
    Path(job): Path<String>,
    SignedForm(person, filled): SignedForm,
) -> Result<Redirect, Trouble> {
    let row = office.workshop.find(&job).await?;
    let request = uuid::Uuid::try_parse(filled.text("request")).map_err(|_| Trouble::ForeignForm)?;
    let request = EntryId(request.into_bytes());
    let issued = record::issue(&office.workshop, &row, request, &person.code, Reader::Office).await?;
    Ok(Redirect::to(&format!("/job/{}/edition/{}", office.workshop.printed(&row), issued.edition)))
}

/// The button that issues the next edition. Its request has an identity, so that sending it twice issues one.
pub(super) fn issue_form(office: &Office, person: &SignedIn, number: &str) -> Result<Markup, Trouble> {
    let request = new_id(office.now_us(), &*office.entropy)?;
    Ok(html! {
        form method="post" action={ "/job/" (number) "/issue" } {
            (person.key_box())
            input type="hidden" name="request" value=(request);
            button.plain type="submit" { "Issue the record" }
        }
    })
}

/// Numbers of the issued editions.
pub(super) async fn editions(workshop: &Workshop, row: &JobRow) -> Result<Vec<i32>, Trouble> {
    let entries = workshop.journal.read_job(row.job_id).await?;
    Ok(entries.iter().filter_map(record::issued).map(|issued| issued.edition).collect())
}

fn inline(printed: Printed) -> impl IntoResponse {
    // The name is a job's number with an ending of ours; whatever else a prefix may hold is left out.
    let plain = |letter: &char| letter.is_ascii_alphanumeric() || "-._".contains(*letter);
    let name: String = printed.file_name.chars().filter(plain).collect();
    let shown = [
        (CONTENT_TYPE, "application/pdf".to_owned()),
        (CONTENT_DISPOSITION, format!("inline; filename=\"{name}\"")),
    ];
    (shown, printed.pdf)
}
