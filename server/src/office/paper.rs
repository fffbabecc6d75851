//! Record and bay sheet as PDF in the browser, issuing an edition, and handing it over.

use super::Office;
use super::guard::{SignedForm, SignedIn};
use super::language::say;
use super::station::{OfficeStation, new_id};
use super::trouble::Trouble;
use crate::record::{self, Printed, Reader, Standing, Wanted};
use crate::workshop::{Computed, Workshop};
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect};
use maud::{Markup, html};
use standpipe_engine::text::sentence;
use standpipe_engine::view::JobView;
use standpipe_proto::v1::RecordIssued;
use standpipe_store::EntryId;
use std::sync::Arc;

/// The record as it stands.
pub(super) async fn draft(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path(job): Path<String>,
) -> Result<impl IntoResponse, Trouble> {
    let row = office.workshop.find(&job).await?;
    let _turn = office.workshop.turns.take(person.session_name()).await?;
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
    person: SignedIn,
    Path(job): Path<String>,
) -> Result<impl IntoResponse, Trouble> {
    let row = office.workshop.find(&job).await?;
    let _turn = office.workshop.turns.take(person.session_name()).await?;
    Ok(inline(record::bay_sheet(&office.workshop, &row).await?))
}

/// The reference sheet for photos of fluid.
pub(super) async fn photo_sheet(
    State(office): State<Arc<Office>>,
    person: SignedIn,
) -> Result<impl IntoResponse, Trouble> {
    let _turn = office.workshop.turns.take(person.session_name()).await?;
    let pdf = record::photo_sheet(&office.workshop).await?;
    let file_name = record::PHOTO_SHEET_NAME.to_owned();
    Ok(inline(Printed { pdf, file_name, check_value: String::new(), warnings: Vec::new() }))
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

/// States that the vehicle and an edition were handed over.
pub(super) async fn hand_over(
    State(office): State<Arc<Office>>,
    Path(job): Path<String>,
    SignedForm(person, filled): SignedForm,
) -> Result<Redirect, Trouble> {
    let row = office.workshop.find(&job).await?;
    let edition = filled.text("edition").parse().map_err(|_| Trouble::ForeignForm)?;
    OfficeStation::hand_over(&office, &row, &person.code, edition).await?;
    Ok(Redirect::to(&format!("/job/{}", office.workshop.printed(&row))))
}

/// What was printed for good and what can be done with it.
pub(super) struct Shelf {
    editions: Vec<RecordIssued>,
    standing: Standing,
    handed_over: bool,
}

impl Shelf {
    /// That of a job.
    pub(super) async fn of(
        workshop: &Workshop,
        computed: &Computed,
        customer: bool,
    ) -> Result<Self, Trouble> {
        let entries = workshop.journal.read_job(computed.row.job_id).await?;
        let last = record::last_issued(&entries);
        Ok(Self {
            standing: Standing::of(&computed.view, last.as_ref(), customer),
            handed_over: !waits_for_handover(&computed.view),
            editions: entries.iter().filter_map(record::issued).collect(),
        })
    }

    /// What can be printed, issued and handed over. A request has an identity, so that sending it twice issues one.
    pub(super) fn ways(&self, office: &Office, person: &SignedIn, number: &str) -> Result<Markup, Trouble> {
        let request = new_id(office.now_us(), &*office.entropy)?;
        let last = self.editions.iter().map(|issued| issued.edition).max();
        let to_hand_over = last.filter(|_| self.standing != Standing::NotClosed && !self.handed_over);
        Ok(html! {
            div.ways #ways {
                a href={ "/job/" (number) "/record.pdf" } { (say!(page_print_the_record_as_it_stands)) }
                a href={ "/job/" (number) "/sheet.pdf" } { (say!(page_bay_sheet)) }
                a href="/photo-sheet.pdf" { (say!(page_photo_sheet)) }
                @if self.standing == Standing::ToIssue {
                    form method="post" action={ "/job/" (number) "/issue" } {
                        (person.key_box())
                        input type="hidden" name="request" value=(request);
                        button.plain type="submit" { (say!(page_issue_the_record)) }
                    }
                }
                @for RecordIssued { edition, .. } in &self.editions {
                    a href={ "/job/" (number) "/edition/" (edition) } { (say!(page_edition_again, edition.to_string())) }
                }
                @if let Some(edition) = to_hand_over {
                    form method="post" action={ "/job/" (number) "/handover" } {
                        (person.key_box())
                        input type="hidden" name="edition" value=(edition);
                        button.plain type="submit" { (say!(page_handed_over)) }
                    }
                }
            }
        })
    }
}

/// Whether a closed job is still to be handed over, or another edition of its record than the one that was.
pub(super) fn waits_for_handover(view: &JobView) -> bool {
    let keys = [sentence::open_handover().key(), sentence::open_handover_again("", "").key()];
    view.open_points.iter().any(|point| keys.contains(&point.text.key()))
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
