//! Whom to call about a recall: the customers of the jobs that the tally names, and what came of the call.
//!
//! Names and telephones stand beside the journal and are shown on this page only. That somebody was told, and what was
//! found, are facts of the job, stated by the person who is signed in.

use super::super::Office;
use super::super::fact::entry_id;
use super::super::guard::{SignedForm, SignedIn};
use super::super::station::{OfficeStation, StatedOnce, Statement, new_id};
use super::super::trouble::Trouble;
use crate::office::language::{Words, say, word};
use axum::extract::{Path, State};
use axum::response::Redirect;
use maud::{Markup, html};
use standpipe_engine::sheet::Sheet;
use standpipe_engine::text::sentence;
use standpipe_proto::v1::fact::Kind;
use standpipe_proto::v1::{
    CustomerAnswer, CustomerSaid, CustomerTopic, InspectedPart, Inspection, InspectionFound, header::Subject,
};
use std::sync::Arc;

/// What can be stated of a job, and the words of the button.
const ANSWERS: [(&str, Words); 4] = [
    ("told", sentence::page_told_informed),
    ("declined", sentence::page_told_declines),
    ("in-order", sentence::page_looked_at_in_order),
    ("put-right", sentence::page_looked_at_put_right),
];

/// One customer to call.
struct Call {
    number: String,
    plate: String,
    name: String,
    telephone: String,
    /// Identity of what each button states.
    requests: Vec<String>,
}

/// The customers of the jobs of a sheet, each with what can be stated.
pub(super) async fn customers(office: &Office, person: &SignedIn, sheet: &Sheet) -> Result<Markup, Trouble> {
    let mut jobs: Vec<&str> = Vec::new();
    for job in sheet.tables.iter().flat_map(|table| &table.rows).filter_map(|row| row.job.as_deref()) {
        if !jobs.contains(&job) {
            jobs.push(job);
        }
    }
    let mut calls = Vec::with_capacity(jobs.len());
    for job in jobs {
        calls.push(call(office, job).await?);
    }
    Ok(html! {
        @if !calls.is_empty() {
            h2 { (say!(page_whom_to_call)) }
            table.stack {
                thead {
                    tr {
                        th scope="col" { (say!(page_job)) } th scope="col" { (say!(page_plate)) } th scope="col" { (say!(page_customer)) }
                        th scope="col" { (say!(page_telephone)) } th.only-screen scope="col" { (say!(page_what_came_of_it)) }
                    }
                }
                tbody { @for call in &calls { (call.row(person)) } }
            }
        }
    })
}

async fn call(office: &Office, job: &str) -> Result<Call, Trouble> {
    let workshop = &*office.workshop;
    let row = workshop.find(job).await?;
    let label = workshop.label(row.job_id).await?;
    let customer = workshop.beside.customer(row.job_id).await?;
    let (name, telephone) =
        customer.map_or_else(Default::default, |customer| (customer.name, customer.telephone));
    let mut requests = Vec::with_capacity(ANSWERS.len());
    for _ in ANSWERS {
        requests.push(new_id(office.now_us(), &*office.entropy)?.to_string());
    }
    Ok(Call { number: label.number.clone(), plate: label.plate.clone(), name, telephone, requests })
}

impl Call {
    fn row(&self, person: &SignedIn) -> Markup {
        html! {
            tr {
                th.number scope="row" { a href={ "/job/" (self.number) } { (self.number) } }
                td.plate { (self.plate) }
                td { @if self.name.is_empty() { (say!(page_not_known)) } @else { (self.name) } }
                td.plate { @if self.telephone.is_empty() { (say!(page_not_known)) } @else { (self.telephone) } }
                td.only-screen {
                    div.ways {
                        @for ((answer, words), request) in ANSWERS.iter().zip(&self.requests) {
                            @let words = word(*words);
                            form method="post" action={ "/job/" (self.number) "/recall" } {
                                (person.key_box())
                                input type="hidden" name="request" value=(request);
                                button.plain type="submit" name="answer" value=(answer)
                                    aria-label=(say!(page_recall_answer_of_job, &words, &self.number)) { (words) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// States what came of a call.
pub(in crate::office) async fn answer(
    State(office): State<Arc<Office>>,
    Path(job): Path<String>,
    SignedForm(person, filled): SignedForm,
) -> Result<Redirect, Trouble> {
    let row = office.workshop.find(&job).await?;
    let looked_at = |found: InspectionFound| {
        Kind::Inspection(Inspection { part: InspectedPart::RecalledWork.into(), found: found.into() })
    };
    let told = |said: CustomerSaid| {
        Kind::CustomerAnswer(CustomerAnswer { topic: CustomerTopic::Recall.into(), said: said.into() })
    };
    let kind = match filled.text("answer") {
        "told" => told(CustomerSaid::Informed),
        "declined" => told(CustomerSaid::Declines),
        "in-order" => looked_at(InspectionFound::InOrder),
        "put-right" => looked_at(InspectionFound::PutRight),
        _ => return Err(Trouble::ForeignForm),
    };
    let (subject, entry_id) = (Subject::JobId(row.job_id.to_string()), entry_id(&filled)?);
    let statement = Statement { subject, entry_id, kind, as_typed: Vec::new() };
    if OfficeStation::state_once(&office, &person.code, statement).await? == StatedOnce::IdentityUsed {
        return Err(Trouble::SentBefore);
    }
    Ok(Redirect::to("/recall"))
}
